"""Snapping: corners before crossings, trees and edges; indexes are kept while a table is the same."""

from __future__ import annotations

import pytest
import shapely

from farmmap.editing import corners as corners_module
from farmmap.editing.snapping import Snapper
from farmmap.editing.trees import trees_moved
from tests.editing.made_farms import at, line, put
from tests.place import EAST, NORTH


def snap(farm, x, y, within_m=2.0, **options):
    start = options.pop("start", None)
    return Snapper(farm, **options).at(EAST + x, NORTH + y, within_m, start)


def told(found):
    return None if found is None else (found.kind, round(found.x - EAST, 6), round(found.y - NORTH, 6), found.words)


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        ((100.5, 0.3), ("corner", 100, 0, "corner of North Terrace")),
        ((50, 0.4), ("edge", 50, 0, "edge of North Terrace")),
        ((150.4, 94.5), ("crossing", 150, 95, "crossing of Ridge track and Line")),
        ((10.1, 10.2), ("tree", 10, 10, "tree 1")),
        ((50, 50), None),
        ((-19.5, -18.5), ("corner", -20, -18, "corner of Creek fence")),
        ((5.2, 5.2), ("corner", 5, 5, "corner of Soft ground")),
    ],
)
def test_the_pointer_is_drawn_to_what_is_near(farm, place, expected):
    assert told(snap(farm, *place)) == expected


def test_corners_come_before_what_is_nearer(farm):
    assert told(snap(farm, 98.6, 0.0))[0] == "corner"
    assert told(snap(farm, 148.4, 98.9, 4.5))[:3] == ("crossing", 150, 100)


def test_only_tables_asked_for(farm):
    assert snap(farm, 10.1, 10.2, tables=["blocks"]) is None
    assert told(snap(farm, 10.1, 10.2, tables=["trees"]))[0] == "tree"
    assert snap(farm, 100, 0, tables=["measurements", "fences"]) is None


def test_what_is_moved_draws_nothing_to_itself(farm):
    assert told(snap(farm, 0.2, 0.2, leave_out=("blocks", 1))) is None
    assert told(snap(farm, 100.2, 0.2, leave_out=("blocks", 1)))[3] == "corner of Far Slope"
    assert snap(farm, 10.1, 10.2, leave_out=("trees", 1)) is None


def test_what_is_being_drawn_draws_too(farm):
    extra = line((300, 0), (320, 20), (330, 20))
    assert told(snap(farm, 320.5, 20.5, extra=extra)) == ("corner", 320, 20, "corner of what is being drawn")
    assert told(snap(farm, 310.5, 9.5, extra=extra))[:3] == ("edge", 310, 10)
    assert told(snap(farm, 300.5, 0.5, extra=shapely.Point(at((300, 0))[0])))[0] == "corner"
    assert snap(farm, 300.5, 0.5, extra=shapely.LineString()) is None


def test_an_edge_is_met_squarely_from_the_last_corner(farm):
    found = snap(farm, 50.8, 0.5, start=(EAST + 50, NORTH + 40))
    assert told(found) == ("edge", 50, 0, "square onto North Terrace")
    assert told(snap(farm, 70, 0.5, start=(EAST + 50, NORTH + 40)))[3] == "edge of North Terrace"


def test_odd_places_draw_nothing(farm):
    assert snap(farm, float("nan"), 0) is None
    assert snap(farm, 100, 0, 0.0) is None


def test_a_crossing_of_an_outline_with_itself(farm):
    farm = put(farm, fences={"name": ["Loop"], "geometry": [line((300, 0), (320, 20), (320, 0), (300, 20))]})
    assert told(snap(farm, 310.3, 10.2)) == ("crossing", 310, 10, "crossing of Loop")


def test_indexes_are_made_once_for_a_table(farm, monkeypatch):
    made = []
    real = shapely.STRtree
    monkeypatch.setattr(corners_module.shapely, "STRtree", lambda shapes: made.append(1) or real(shapes))
    fresh = farm.with_tables(blocks=farm.blocks.copy(), fences=farm.fences.copy())
    Snapper(fresh).at(EAST, NORTH, 1)
    once = len(made)
    assert once >= 2
    Snapper(fresh).at(EAST, NORTH, 1)
    moved = trees_moved(fresh, [1], 5, 5).edit.apply(fresh)
    Snapper(moved).at(EAST, NORTH, 1)
    assert len(made) == once
