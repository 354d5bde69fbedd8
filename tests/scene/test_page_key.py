import datetime as dt
from itertools import product

import pytest

from farmmap.scene.build import build_scene
from farmmap.scene.page_items import Text
from farmmap.scene.page_key import key_box, key_height
from farmmap.scene.paper import paper_of
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import theme
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)


def measure(text, style):
    return len(text) * style.size_mm * 0.52


@pytest.fixture(scope="module")
def entries():
    return build_scene(made_farm(), ON, theme="paper").key


def of_trees(entries):
    return tuple(one for one in entries if one.layer.startswith("species:"))


@pytest.mark.parametrize("name", ["A4", "A0"])
def test_the_height_of_a_key_is_told_without_setting_it(entries, name):
    type_ = page_type(paper_of(name, landscape=True), theme("paper"), measure)
    trees = of_trees(entries)
    heights = set()
    for kinds in (entries, trees, tuple(one for one in entries if one not in trees), ()):
        for width, height, metres, many in product((30.0, 62.0, 150.0), (0.0, 40.0, 1e6), (0.2, 2.0, 10.0), (4, 8)):
            box = key_box(kinds, type_, width, height, metres, many=many)
            assert key_height(kinds, type_, width, height, metres, many=many) == box.height
            heights.add(box.height)
    assert len(heights) > 10


def test_species_of_fewest_trees_give_way_and_are_counted(entries):
    type_ = page_type(paper_of("A4", landscape=True), theme("paper"), measure)
    written = [item.text for item in key_box(of_trees(entries), type_, 60.0, 0.0, 2.0).items if isinstance(item, Text)]
    by_count = sorted(of_trees(entries), key=lambda one: -one.count)
    assert f"and {len(by_count) - 3} more species" in written
    assert {one.words for one in by_count[:3]} <= set(written)
    assert {one.words for one in by_count[3:]}.isdisjoint(written)
