import datetime as dt
import re

import pdfplumber
import pikepdf
import pytest
from PySide6.QtGui import QImage

from farmmap.errors import BadInput
from farmmap.scene.paper import paper_of
from farmmap.scene.styles import theme
from farmmap.sheets.page import Bookmark, Document, Page
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import page_picture, write_document, write_sheet
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
WORDS = ("Sedge Creek works", "Grid north", "EPSG:2193", "Creek margins", "no survey", "diameters at 1.4 m")


@pytest.fixture(scope="module")
def farm():
    return made_farm(12, 120)


@pytest.fixture(scope="module")
def printed(farm, tmp_path_factory):
    sheet = compose(farm, ON, SheetOptions("A3", True, title="Sedge Creek works"))
    path = tmp_path_factory.mktemp("sheet") / "map.pdf"
    write_sheet(sheet, path)
    return sheet, path


def test_fonts_are_embedded_and_only_in_part(printed):
    with pikepdf.open(printed[1]) as pdf:
        fonts = list(pdf.pages[0].resources.Font.values())
        assert fonts
        for font in fonts:
            inner = font.DescendantFonts[0]
            assert len(inner.FontDescriptor.FontFile2.read_bytes()) < 40_000
            assert re.fullmatch(r"/[A-Z]{6}\+SourceSansPro-\w+", str(font.BaseFont))
            assert inner.BaseFont == inner.FontDescriptor.FontName == font.BaseFont
            assert b"beginbfrange" in font.ToUnicode.read_bytes()


def test_text_is_text_and_nothing_is_a_picture(printed):
    with pdfplumber.open(printed[1]) as pdf:
        said = pdf.pages[0].extract_text()
        assert not pdf.pages[0].images
    for wanted in WORDS:
        assert wanted in said


def test_the_file_says_what_it_is(farm, printed, tmp_path):
    with pikepdf.open(printed[1]) as pdf:
        assert pdf.Root.Lang == "en"
        assert pdf.pdf_version >= "1.7"
        assert str(pdf.docinfo["/Title"]) == "Sedge Creek works"
        assert str(pdf.docinfo["/Author"]) == "Pipit Downs"
        assert str(pdf.docinfo["/Creator"]).startswith("farmmap ")
        assert "1:" in str(pdf.docinfo["/Subject"])
        assert pdf.docinfo["/CreationDate"]
    page = Page(paper_of("A5", landscape=False), theme("paper"), (), ())
    document = Document("Wairoa – mānuka", "Two pages", farm, (page, page), ("riparian", "planting"), "A. Grower")
    write_document(document, tmp_path / "pages.pdf")
    with pikepdf.open(tmp_path / "pages.pdf") as pdf, pdf.open_metadata() as said:
        assert said["dc:title"] == "Wairoa – mānuka"
        assert said["dc:creator"] == ["A. Grower"]
        assert set(said["dc:subject"]) == {"riparian", "planting"}
        assert said["dc:language"] == {"en"}
        assert str(pdf.docinfo["/Keywords"]) == "riparian, planting"


def test_bookmarks_lead_to_their_places(farm, tmp_path):
    paper = paper_of("A4", landscape=False)
    marks = (Bookmark("Works", 1, 10.0), Bookmark("Fence", 2, 100.0), Bookmark("Water", 2, 200.0))
    pages = (
        Page(paper, theme("paper"), (), (), (Bookmark("Summary"),)),
        Page(paper, theme("paper"), (), (), marks),
        Page(paper, theme("paper"), (), (), (Bookmark("Troughs", 3, 50.0), Bookmark("Costs"))),
    )
    write_document(Document("Application", "", farm, pages), tmp_path / "pack.pdf")
    with pikepdf.open(tmp_path / "pack.pdf") as pdf:
        found = []

        def follow(items, level):
            for item in items:
                place = [page.obj.objgen for page in pdf.pages].index(item.destination[0].objgen)
                found.append((item.title, level, place, float(item.destination[3]) * 25.4 / 72))
                follow(item.children, level + 1)

        with pdf.open_outline() as outline:
            follow(outline.root, 1)
    assert [one[:3] for one in found] == [
        ("Summary", 1, 0),
        ("Works", 1, 1),
        ("Fence", 2, 1),
        ("Water", 2, 1),
        ("Troughs", 3, 2),
        ("Costs", 1, 2),
    ]
    assert [one[3] for one in found] == pytest.approx([297, 287, 197, 97, 247, 297], abs=0.01)


def test_pages_of_other_sizes_stand_in_one_file(farm, printed, tmp_path):
    small = Page(paper_of("A5", landscape=True), theme("paper"), (), ())
    document = Document("Both", "", farm, (small, *printed[0].pages[:1], small))
    write_document(document, tmp_path / "both.pdf")
    with pikepdf.open(tmp_path / "both.pdf") as pdf:
        sizes = [[round(float(side) * 25.4 / 72, 2) for side in page.mediabox[2:]] for page in pdf.pages]
    assert sizes == [[210, 148], [420, 297], [210, 148]]


def test_a_picture_has_two_hundred_dots_to_the_inch(farm, tmp_path):
    sheet = compose(farm, ON, SheetOptions("A4", True))
    write_sheet(sheet, tmp_path / "map.png")
    image = QImage(str(tmp_path / "map.png"))
    assert (image.width(), image.height()) == (round(297 / 25.4 * 200), round(210 / 25.4 * 200))
    assert round(image.dotsPerMeterX() * 0.0254) == 200
    assert image.pixelColor(2, 2).name() == "#ffffff"
    assert [path.name for path in tmp_path.iterdir()] == ["map.png"]


def test_a_very_large_picture_stays_within_memory(farm):
    image = page_picture(compose(farm, ON, SheetOptions("A0")).pages[0], 600)
    assert image.width() * image.height() <= 120_500_000


def test_what_cannot_be_written_is_said(farm, tmp_path):
    sheet = compose(farm, ON, SheetOptions("A4"))
    with pytest.raises(BadInput, match=r"\.pdf, \.png or \.svg"):
        write_sheet(sheet, tmp_path / "map.jpg")
    with pytest.raises(BadInput, match="no folder"):
        write_sheet(sheet, tmp_path / "missing" / "map.pdf")
    (tmp_path / "map.pdf").mkdir()
    with pytest.raises(BadInput, match="could not be written"):
        write_sheet(sheet, tmp_path / "map.pdf")
    assert [path.name for path in tmp_path.iterdir()] == ["map.pdf"]


def test_writing_again_replaces_the_file(farm, tmp_path):
    path = tmp_path / "map.pdf"
    path.write_text("old")
    write_sheet(compose(farm, ON, SheetOptions("A4")), path)
    assert path.read_bytes().startswith(b"%PDF")
