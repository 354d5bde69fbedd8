"""Field sheets for measuring: every tree on the list and on the map, boxes to write in, the map on the back."""

import datetime as dt
import itertools

import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.errors import BadInput
from farmmap.files.farm_file import write_farm
from farmmap.scene.page_items import Shape, Text
from farmmap.scene.page_measuring import COLUMNS, EMPTY_LINES, LINE_MM
from farmmap.sheets.measuring_sheet import compose_measuring, write_measuring_sheet
from farmmap.sheets.page import SheetOptions
from tests.plans.pruning.prunable import prunable

ON = dt.date(2020, 5, 1)
OPTIONS = SheetOptions(printed_on=ON)
MANY = 90


def stand(many=MANY, **more):
    trees = [
        {"tag": f"T{n + 1}", "mark": "crop" if n % 10 == 0 else "", "stems": 2 if n == 3 else 1} for n in range(many)
    ]
    return prunable(trees, [{"tree": n + 1, "dbh_cm": 8.0 + n / 10} for n in range(many // 2)], **more)


@pytest.fixture(scope="module")
def farm():
    return stand(line=True)


@pytest.fixture(scope="module")
def sheet(farm):
    return compose_measuring(farm, 1, OPTIONS)


def words_of(boxes):
    return [item.text for box in boxes for item in box.items if isinstance(item, Text)]


def upright_strokes(box):
    strokes = [item.points for item in box.items if isinstance(item, Shape) and not item.closed]
    return sorted({round(start[0], 3) for start, end in strokes if start[0] == end[0]})


def level_strokes(box):
    strokes = [item.points for item in box.items if isinstance(item, Shape) and not item.closed]
    return sorted({round(start[1], 3) for start, end in strokes if start[1] == end[1]})


def test_every_tree_is_listed_once_with_its_last_readings(sheet):
    words = words_of(itertools.chain(*sheet.more_pages))
    tags = [word for word in words if word[:1] == "T" and word[1:].isdecimal()]
    assert sorted(tags, key=lambda tag: int(tag[1:])) == [f"T{n + 1}" for n in range(MANY)]
    assert words.count("8.0") == 1
    assert words.count("05/20") == MANY // 2
    assert words.count("2 stems") == 1
    assert any("several stems" in word for word in words)


def test_boxes_are_large_enough_to_write_in(sheet):
    assert sum(column.share for column in COLUMNS) == pytest.approx(1.0)
    for boxes in sheet.more_pages:
        (listed,) = [box for box in boxes if box.name == "list"]
        lines = level_strokes(listed)
        assert min(after - before for before, after in itertools.pairwise(lines)) >= 6.0
        for column, left in zip(COLUMNS, itertools.accumulate((c.share for c in COLUMNS), initial=0.0), strict=False):
            if column.to_fill:
                assert column.share * listed.width >= 12.0
                assert any(abs(edge - listed.x - left * listed.width) < 0.01 for edge in upright_strokes(listed))
        assert listed.y + listed.height <= sheet.plan.paper.height_mm - 9.9


def test_empty_lines_for_trees_found_besides_fill_the_last_page(sheet):
    (listed,) = [box for box in sheet.more_pages[-1] if box.name == "list"]
    trees = sum(word[:1] == "T" and word[1:].isdecimal() for word in words_of([listed]))
    empty = len(level_strokes(listed)) - 2 - trees + 1
    assert empty >= EMPTY_LINES
    assert sheet.plan.paper.height_mm - 10 - (listed.y + listed.height) < LINE_MM
    assert len(upright_strokes(listed)) > len(upright_strokes(next(box for box in sheet.second if box.name == "list")))


def test_the_map_is_the_second_page_and_shows_the_numbers_of_the_list(sheet):
    pages = sheet.pages
    assert [bool(page.maps) for page in pages] == [False, True, *[False] * (len(pages) - 2)]
    assert len(pages) == 1 + len(sheet.more_pages) >= 4
    heads = [words_of(page.boxes)[0] for page in pages]
    assert [head.rpartition(" ")[2] for head in heads if "list, page" in head] == ["1", "3", "4"][: len(pages) - 1]
    numbers = {item.text for item in sheet.plan.over_map if isinstance(item, Text) and item.text.isdecimal()}
    assert len(numbers) > MANY / 2
    said = " ".join(words_of(sheet.plan.boxes))
    for wanted in (
        "page before it",
        "Bold numbers are crop trees",
        "What there is to measure",
        "Power line on this map",
    ):
        assert wanted in said


def test_crop_trees_alone_and_nothing_to_measure(farm):
    words = words_of(itertools.chain(*compose_measuring(farm, 1, OPTIONS, crop_only=True).more_pages))
    assert sum(word[:1] == "T" and word[1:].isdecimal() for word in words) == MANY // 10
    with pytest.raises(BadInput, match="no living crop tree in North to measure; mark crop trees first"):
        compose_measuring(prunable([{}], []), 1, OPTIONS, crop_only=True)


def test_trees_without_a_tag_are_clicked_at_home(sheet):
    clicked = "A tree without a tag is clicked on the map there."
    assert clicked not in " ".join(words_of(sheet.plan.boxes))
    some = compose_measuring(prunable([{"tag": "T1"}, {"tag": ""}], []), 1, OPTIONS)
    assert clicked in " ".join(words_of(some.plan.boxes))


def test_it_stands_upright_unless_asked_and_small_paper_is_refused_in_words():
    few = stand(5)
    assert not compose_measuring(few, 1, OPTIONS).plan.paper.is_landscape
    assert compose_measuring(few, 1, SheetOptions("A5", printed_on=ON)).plan.paper.is_landscape
    with pytest.raises(BadInput, match=r"A5 upright is too narrow .* lay it across"):
        compose_measuring(few, 1, SheetOptions("A5", landscape=False))
    with pytest.raises(BadInput, match=r"A6 is too small .* take A5 or larger"):
        compose_measuring(few, 1, SheetOptions("A6"))


def test_it_is_written_by_the_command(tmp_path):
    farm_file, out = tmp_path / "a.gpkg", tmp_path / "sheet.pdf"
    write_farm(stand(12), farm_file)
    done = CliRunner().invoke(main, ["measuring", str(farm_file), "--block", "north", "--out", str(out), "--compass"])
    assert done.exit_code == 0, done.output
    with pdfplumber.open(out) as pdf:
        assert len(pdf.pages) == 2
        assert "Diameter cm" in pdf.pages[0].extract_text()
        assert "A compass needle points" in pdf.pages[1].extract_text()
    no = CliRunner().invoke(main, ["measuring", str(farm_file), "--block", "north", "--out", str(tmp_path / "a.csv")])
    assert "ends in none of .pdf, .png" in no.output
    assert "no block" in str(
        CliRunner().invoke(main, ["measuring", str(farm_file), "--block", "x", "--out", str(out)]).output
    )
    with pytest.raises(BadInput):
        write_measuring_sheet(stand(2), 1, tmp_path / "sheet.doc", OPTIONS)
