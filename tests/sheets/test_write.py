import datetime as dt
import re

import numpy as np
import pdfplumber
import pikepdf
import pytest
from PySide6.QtGui import QImage

from farmmap.errors import BadInput
from farmmap.scene.paper import PAPERS
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import page_picture, write_sheet
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
MM = 25.4 / 72
ALL = [(name, landscape) for name in PAPERS for landscape in (False, True)]


@pytest.fixture(scope="module")
def farm():
    return made_farm(12, 120)


@pytest.fixture(scope="module", params=ALL, ids=lambda one: f"{one[0]}-{'landscape' if one[1] else 'portrait'}")
def printed(request, farm, tmp_path_factory):
    name, landscape = request.param
    sheet = compose(farm, ON, SheetOptions(name, landscape, title="Sedge Creek works"))
    path = tmp_path_factory.mktemp("sheet") / "map.pdf"
    write_sheet(sheet, path)
    return sheet, path


def strokes(page):
    """Every straight stroke of a page: ends in mm from the upper left corner."""
    found = []
    for line in page.lines:
        (x0, y0), (x1, y1) = line["pts"][0], line["pts"][-1]
        found.append((x0 * MM, y0 * MM, x1 * MM, y1 * MM))
    return np.array(found)


def test_the_page_is_exactly_as_large_as_the_paper(printed):
    sheet, path = printed
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 1
        for box in ("mediabox", "cropbox", "trimbox"):
            x0, y0, x1, y1 = (float(v) for v in getattr(pdf.pages[0], box))
            assert (x0, y0) == (0, 0)
            assert abs(x1 * MM - sheet.plan.paper.width_mm) < 0.01
            assert abs(y1 * MM - sheet.plan.paper.height_mm) < 0.01
        assert str(pdf.docinfo["/Title"]) == "Sedge Creek works"
        assert str(pdf.docinfo["/Creator"]) == "farmmap"


def test_fonts_are_embedded_and_text_is_text(printed):
    _, path = printed
    with pikepdf.open(path) as pdf:
        fonts = list(pdf.pages[0].resources.Font.values())
        assert fonts
        for font in fonts:
            inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            assert "/FontFile2" in inner.FontDescriptor or "/FontFile3" in inner.FontDescriptor
            assert "SourceSansPro" in str(inner.BaseFont).replace("-", "").replace(" ", "")
        assert not [x for x in pdf.pages[0].resources.get("/XObject", {}).values() if x.Subtype == "/Image"]
    with pdfplumber.open(path) as pdf:
        said = pdf.pages[0].extract_text()
    for wanted in ("Sedge Creek works", "Grid north", "EPSG:2193", "Creek margins", "no survey", "diameters at 1.4 m"):
        assert wanted in said


def test_a_hundred_metres_of_the_bar_measure_a_hundred_metres(printed):
    sheet, path = printed
    with pdfplumber.open(path) as pdf:
        page = pdf.pages[0]
        box = next(box for box in sheet.plan.boxes if box.name == "scale bar")
        inside = [
            rect
            for rect in page.rects + page.curves
            if box.x - 0.5 <= rect["x0"] * MM and rect["x1"] * MM <= box.x + box.width + 0.5
            and box.y - 0.5 <= rect["top"] * MM and rect["bottom"] * MM <= box.y + box.height + 0.5
        ]  # fmt: skip
        edges = sorted({round(edge * MM, 2) for rect in inside for edge in (rect["x0"], rect["x1"])})
        ends = [edges[0]]
        ends += [edge for edge in edges if edge - ends[-1] > 1.0]
        area = (box.x - 1, box.y, box.x + box.width + 1, box.y + box.height + 1)
        words = page.crop([side / MM for side in area], strict=False).extract_words(x_tolerance=1.5)
    said = " ".join(word["text"] for word in words)
    last = re.search(r"(\d+)\s*(k?m)\s*$", said)
    metres = float(last[1]) * (1000 if last[2] == "km" else 1)
    measured = (ends[-1] - ends[0]) / metres * 100
    assert abs(measured - 100 / sheet.plan.scale * 1000) < 0.2
    for place, end in enumerate(ends):
        assert abs(end - ends[0] - place * (ends[-1] - ends[0]) / (len(ends) - 1)) < 0.1


def test_grid_ticks_stand_where_their_coordinates_say(printed):
    sheet, path = printed
    plan = sheet.plan
    left, top, wide, high = plan.frame
    with pdfplumber.open(path) as pdf:
        page = pdf.pages[0]
        lines = strokes(page)
        lower = lines[
            (np.abs(lines[:, [1, 3]].max(axis=1) - top - high) < 0.1) & (np.abs(lines[:, 0] - lines[:, 2]) < 0.01)
        ]
        words = page.extract_words(keep_blank_chars=True, x_tolerance=2, use_text_flow=True)
        east = {}
        for word in words:
            found = re.fullmatch(r"E\s?(\d[\d\s]*\d)", word["text"].strip())
            if found and word["top"] * MM > top + high:
                east[float(re.sub(r"\s", "", found[1]))] = (word["x0"] + word["x1"]) / 2 * MM
    assert east
    for metres, middle in east.items():
        stroke = lower[np.abs(lower[:, 0] - middle).argmin(), 0]
        assert abs(stroke - middle) < 0.6
        ground = plan.view.centre_x + (stroke - left - wide / 2) * plan.scale / 1000
        assert abs(ground - metres) / plan.scale * 1000 < 0.2


def test_known_block_corners_are_where_they_must_be(printed, farm):
    sheet, path = printed
    plan = sheet.plan
    left, top, wide, high = plan.frame
    with pdfplumber.open(path) as pdf:
        points = np.array([p for shape in pdf.pages[0].curves + pdf.pages[0].rects for p in shape["pts"]]) * MM
    for shape in farm.blocks.geometry:
        for x, y in list(shape.exterior.coords)[:-1]:
            across = left + wide / 2 + (x - plan.view.centre_x) / plan.scale * 1000
            down = top + high / 2 - (y - plan.view.centre_y) / plan.scale * 1000
            assert np.hypot(*(points - (across, down)).T).min() < 0.2


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
    with pytest.raises(BadInput, match=r"\.pdf or \.png"):
        write_sheet(sheet, tmp_path / "map.svg")
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
