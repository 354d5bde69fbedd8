"""Corners and edges, and finding the nearest."""

from __future__ import annotations

import pytest
import shapely

from farmmap.editing.corners import corner_near, corners_of, edge_near
from farmmap.errors import BadInput
from tests.editing.made_farms import area, line, put
from tests.place import EAST, NORTH


def test_corners_of_a_block_are_counted_without_the_closing_one(farm):
    corners = corners_of(farm, "blocks", 2)
    assert [c.place for c in corners] == [0, 1, 2, 3]
    assert {(c.x - EAST, c.y - NORTH) for c in corners} == {(100, 0), (200, 0), (200, 100), (100, 100)}


def test_corners_of_holes_and_parts_are_told_apart(farm):
    with_hole = shapely.Polygon(area((0, 0), (9, 0), (9, 9), (0, 9)).exterior, [area((3, 3), (5, 3), (5, 5)).exterior])
    shape = shapely.MultiPolygon([with_hole, area((20, 0), (29, 0), (29, 9))])
    farm = put(farm, blocks={"name": ["A"], "geometry": [shape]})
    found = [(c.part, c.ring, c.place) for c in corners_of(farm, "blocks", 1)]
    assert found == [(0, 0, n) for n in range(4)] + [(0, 1, n) for n in range(3)] + [(1, 0, n) for n in range(3)]


def test_lines_and_points_have_one_ring(farm):
    assert [(c.ring, c.place) for c in corners_of(farm, "fences", 1)] == [(0, 0), (0, 1)]
    points = put(farm, notes={"heading": ["x"], "geometry": [shapely.Point(EAST, NORTH)]})
    assert [(c.ring, c.place) for c in corners_of(points, "notes", 1)] == [(0, 0)]


def test_a_row_that_is_not_there_is_refused(farm):
    with pytest.raises(BadInput, match="row 99 is not there any more"):
        corners_of(farm, "blocks", 99)


def test_the_nearest_corner_within_reach_is_found(farm):
    found = corner_near(farm, EAST + 199, NORTH + 101, 5, ["blocks", "fences"])
    assert (found.table, found.id, found.x, found.y) == ("blocks", 2, EAST + 200, NORTH + 100)
    assert corner_near(farm, EAST + 150, NORTH + 50, 5, ["blocks"]) is None
    assert corner_near(farm, EAST + 98, NORTH - 17, 5, ["blocks", "fences"]).table == "fences"
    assert corner_near(farm, EAST + 98, NORTH - 17, 5, ["trees", "measurements"]) is None


def test_only_one_row_may_be_looked_at(farm):
    assert corner_near(farm, EAST + 100, NORTH, 5, ["blocks"]).id == 1
    assert corner_near(farm, EAST + 100, NORTH, 5, ["blocks"], only=("blocks", 2)).id == 2


def test_the_nearest_place_on_an_edge_is_found(farm):
    found = edge_near(farm, EAST + 150, NORTH + 98.5, 5, ["blocks", "creeks"])
    assert (found.id, found.x, found.y) == (2, EAST + 150, NORTH + 100)
    corners = corners_of(farm, "blocks", 2)
    ends = {(corners[found.place].x - EAST), corners[(found.place + 1) % 4].x - EAST}
    assert ends == {100, 200}
    assert edge_near(farm, EAST + 150, NORTH + 50, 5, ["blocks"]) is None
    points = put(farm, notes={"heading": ["x"], "geometry": [shapely.Point(EAST, NORTH)]})
    assert edge_near(points, EAST, NORTH, 5, ["notes"]) is None


def test_an_edge_of_a_line_is_found_up_to_its_end(farm):
    farm = put(farm, fences={"name": ["f"], "geometry": [line((0, 0), (10, 0), (10, 10))]})
    found = edge_near(farm, EAST + 11, NORTH + 12, 5, ["fences"])
    assert (found.place, found.x, found.y) == (1, EAST + 10, NORTH + 10)
