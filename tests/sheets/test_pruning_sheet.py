"""Field sheets of a pruning: every tree that is due on the map and on the list, once, with boxes to fill in."""

from __future__ import annotations

import datetime as dt
import itertools
import json

import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.errors import BadInput
from farmmap.files.farm_file import write_farm
from farmmap.plans.pruning.cautions import LADDERS
from farmmap.plans.pruning.visit import visit
from farmmap.scene.page_items import Shape, Text
from farmmap.scene.page_pruning import COLUMNS
from farmmap.scene.scene import TreeLayer
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.pruning_sheet import compose_pruning, write_pruning_sheet
from tests.plans.pruning.prunable import prunable

ON = dt.date(2020, 5, 1)
OPTIONS = SheetOptions(printed_on=ON)


def due_farm(many, **more):
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 8.0} for n in range(many)]
    return prunable([{"tag": f"T{n + 1}"} for n in range(many)], readings, **more)


@pytest.fixture(scope="module")
def farm():
    return due_farm(150, line=True)


@pytest.fixture(scope="module")
def sheet(farm):
    return compose_pruning(farm, 1, ON, None, OPTIONS)


def words_of(boxes):
    return [item.text for box in boxes for item in box.items if isinstance(item, Text)]


def test_every_tree_that_is_due_is_listed_once_over_as_many_pages_as_it_takes(farm, sheet):
    boxes = list(itertools.chain(*sheet.more_pages))
    assert len(sheet.more_pages) >= 3
    words = words_of(boxes)
    assert [word for word in words if word[:1] == "T" and word[1:].isdecimal()] == visit(farm, 1, ON).tag.tolist()
    for box in boxes:
        assert box.x >= 9.99
        assert box.x + box.width <= sheet.plan.paper.width_mm - 9.99
        assert box.y + box.height <= sheet.plan.paper.height_mm - 9.9
    assert sum("Over stubs: the largest" in word for word in words) == 1


def test_each_row_has_boxes_for_the_tape_the_day_and_who(sheet):
    fills = [column.words for column in COLUMNS if column.to_fill]
    assert fills == ["Over stubs cm", "Day", "Who"]
    assert sum(column.share for column in COLUMNS) == pytest.approx(1.0)
    listed = next(box for box in sheet.second if box.name == "list")
    assert {*fills, "Ladder m"} <= set(words_of([listed]))
    strokes = [item.points for item in listed.items if isinstance(item, Shape) and not item.closed]
    upright = {start[0] for start, end in strokes if start[0] == end[0]}
    assert len(upright) == 4
    assert max(upright) == pytest.approx(listed.x + listed.width)


def test_the_map_marks_the_trees_and_the_page_says_what_to_mind(farm, sheet):
    (trees,) = [layer for layer in sheet.scene.layers if isinstance(layer, TreeLayer)]
    assert len(trees.marked) == 150
    said = " ".join(words_of(sheet.plan.boxes))
    assert sheet.title == "Pruning of North, 2020"
    assert "to be pruned by the end of 2020" in said
    assert "crop tree" not in said
    assert "150 trees due by the end of 2020" in said
    for words in (
        LADDERS,
        "This map is no survey",
        "Power line on this map",
        "Power line: ",
        "Bold numbers stand near",
    ):
        assert words[:40] in said
    assert "What there is to prune" in said
    far = " ".join(words_of(compose_pruning(due_farm(3), 1, ON, None, OPTIONS).plan.boxes))
    assert "Power line" not in far
    assert "Bold numbers" not in far
    assert "Diameters are those last read, 1 May 2020." in far


def test_numbers_stand_on_the_map(sheet):
    numbers = [item for item in sheet.plan.over_map if isinstance(item, Text) and item.text.isdecimal()]
    left, top, wide, high = sheet.plan.frame
    assert len({item.text for item in numbers}) == len(numbers) > 40
    assert all(left <= item.x <= left + wide and top <= item.y <= top + high for item in numbers)
    missing = 150 - len(numbers)
    assert missing == 0 or f"{missing} of 150 numbers" in sheet.words


def test_it_is_written(tmp_path):
    path = tmp_path / "sheet.pdf"
    sheet = write_pruning_sheet(due_farm(5), 1, path, ON, options=OPTIONS)
    with pdfplumber.open(path) as pdf:
        assert len(pdf.pages) == 1 + len(sheet.more_pages) == 2
        assert "Pruning of North" in pdf.pages[0].extract_text()


def test_where_no_tree_is_due_it_says_so():
    young = prunable([{}], [{"tree": 1, "height_m": 3.0, "dbh_cm": 2.0}])
    with pytest.raises(BadInput, match=r"no tree of North is due for pruning by the end of 2020\."):
        compose_pruning(young, 1, ON)
    with pytest.raises(BadInput, match="1 tree is too thick for the next lift"):
        compose_pruning(prunable([{}], [{"tree": 1, "height_m": 8.0, "dbh_cm": 25.0}]), 1, ON)


def test_the_command_prints_it_beside_its_table(tmp_path):
    path, out = tmp_path / "prune hill.gpkg", tmp_path / "sheet.pdf"
    write_farm(due_farm(5), path)
    words = ["pruning", str(path), "--block", "north", "--out", str(out)]
    done = CliRunner().invoke(main, [*words, "--paper", "a3", "--compass", "--format", "json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)
    assert "sheet.pdf: A3" in done.stderr
    with pdfplumber.open(out) as pdf:
        assert "A compass needle points" in pdf.pages[0].extract_text()
    assert "not for 1990" in CliRunner().invoke(main, [*words, "--year", "1990"]).output
