"""Field sheets of a thinning: every marked tree on the map and on the list, once."""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest
from shapely import LineString

from farmmap.errors import BadInput
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.plans.thinning.marking_list import marking_list
from farmmap.plans.thinning.rule import CropRule, ThinningRule
from farmmap.plans.thinning.thinning import thinning
from farmmap.scene.page_items import Text
from farmmap.sheets.marking_sheet import compose_marking, write_marking_sheet
from farmmap.sheets.page import SheetOptions
from tests.place import EAST, NORTH
from tests.plans.thinning.stands import planted, stand_farm

DAY = dt.date(2021, 1, 1)


@pytest.fixture(scope="module")
def farm():
    return stand_farm(*planted(14, 20))


@pytest.fixture(scope="module")
def made(farm):
    return thinning(farm, 1, ThinningRule("release-contact"), DAY, CropRule(target_cm=40))


def words_of(items):
    return [item.text for item in items if isinstance(item, Text)]


def test_every_marked_tree_is_listed_once_with_a_box_to_tick(farm, made) -> None:
    sheet = compose_marking(farm, made, SheetOptions(paper="A3"))
    listed = marking_list(farm, made)
    boxes = list(itertools.chain(*sheet.more_pages))
    words = [text for box in boxes for text in words_of(box.items)]
    tags = [word for word in words if word[:1] == "T" and word[1:].isdecimal()]
    assert sorted(tags) == sorted(listed.tag.tolist())
    for box in boxes:
        assert box.x >= 0
        assert box.x + box.width <= sheet.plan.paper.width_mm
        assert box.y + box.height <= sheet.plan.paper.height_mm


def test_numbers_stand_on_the_map_and_not_on_each_other(farm, made) -> None:
    sheet = compose_marking(farm, made, SheetOptions(paper="A3"))
    numbers = [item for item in sheet.plan.over_map if isinstance(item, Text) and item.text.isdecimal()]
    assert len({item.text for item in numbers}) == len(numbers)
    missing = len(marking_list(farm, made)) - len(numbers)
    assert missing == 0 or f"{missing} of " in sheet.words
    left, top, wide, high = sheet.plan.frame
    spans = []
    for item in numbers:
        assert left <= item.x <= left + wide
        assert top <= item.y <= top + high
        spans.append((item.x, item.y - 0.7 * item.style.size_mm, item.x + 1.0, item.y))
    for one, other in itertools.combinations(spans, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_it_is_written(farm, made, tmp_path) -> None:
    import pdfplumber

    path = tmp_path / "sheet.pdf"
    sheet = write_marking_sheet(farm, made, path, SheetOptions(declination=True))
    with pdfplumber.open(path) as pdf:
        assert len(pdf.pages) == 1 + len(sheet.more_pages)
        text = pdf.pages[0].extract_text()
    assert "Thinning of Stand" in text
    assert "From a bearing of the map to that of the compass: take off" in text
    assert "Caution" in text


def test_only_what_the_map_shows_is_told_of(farm, made) -> None:
    def beside(away_m):
        line = LineString([(EAST + away_m, NORTH), (EAST + away_m, NORTH + 50)])
        plots = shaped(TABLES["plots"], {"name": ["P1"], "kind": ["circle"], "radius_m": [8.0], "x": [EAST + away_m],
                                         "y": [NORTH + 20.0]}, np.array([1]), farm.grid)  # fmt: skip
        hazards = shaped(TABLES["hazards"], {"name": ["line"], "kind": ["power line"], "geometry": [line]},
                         np.array([1]), farm.grid)  # fmt: skip
        sheet = compose_marking(farm.with_tables(plots=plots, hazards=hazards), made, SheetOptions(paper="A4"))
        return " ".join(word for box in sheet.plan.boxes for word in words_of(box.items)), sheet.scene.key

    near, key = beside(30.0)
    assert "Power line on this map" in near
    assert any("sample plot" in entry.words for entry in key)
    far, key = beside(5000.0)
    assert "Power line on this map" not in far
    assert not any("sample plot" in entry.words for entry in key)
    assert "true north" in far


def test_nothing_marked_has_no_sheet(farm) -> None:
    with pytest.raises(BadInput, match="no tree of Stand is marked"):
        compose_marking(farm, thinning(farm, 1, ThinningRule("none"), DAY))
