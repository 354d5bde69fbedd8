"""Blocks around a piece of ground, shared edges, and blocks fitted to their neighbours."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from farmmap.editing.block_rows import block_rows, is_existing, neighbours
from farmmap.editing.settling import settled
from farmmap.editing.shared_edges import (
    box_around,
    changed_ground,
    snapped_to,
    with_corners_at,
    without_hairlines,
)
from farmmap.editing.trees import trees_moved
from farmmap.errors import BadInput
from tests.editing.made_farms import area, at, line, put
from tests.place import EAST, NORTH


def test_blocks_are_laid_out_once_for_a_table(farm):
    rows = block_rows(farm)
    moved = trees_moved(farm, [1], 5, 5).edit.apply(farm)
    assert block_rows(moved) is rows
    assert block_rows(farm.with_tables(blocks=farm.blocks.copy())) is not rows


def test_neighbours_are_existing_sound_blocks_within_reach(farm):
    bow_tie = area((0, 0), (50, 50), (50, 0), (0, 50))
    farm = put(
        farm,
        blocks={
            "name": ["A", "B", "C", "D"],
            "stage": ["existing", "existing", "planned", "existing"],
            "geometry": [
                area((0, 0), (50, 0), (50, 50)),
                area((80, 0), (90, 0), (90, 9)),
                area((0, 0), (9, 0), (9, 9)),
                bow_tie,
            ],
        },
    )
    around = neighbours(farm, area((-5, -5), (50, -5), (50, 5), (-5, 5)).bounds)
    assert list(around) == [1]
    assert list(neighbours(farm, farm.blocks.total_bounds, leave_out=[1])) == [2]
    assert is_existing(farm, 1)
    assert not is_existing(farm, 3)
    assert not is_existing(farm, 99)


def test_the_ground_that_changed_is_around_the_edges_that_differ():
    before = area((0, 0), (100, 0), (100, 100), (50, 100), (0, 100))
    after = area((0, 0), (100, 0), (100, 100), (50, 110), (0, 100))
    assert changed_ground(before, after) == (EAST, NORTH + 100, EAST + 100, NORTH + 110)
    first = area((-9, 0), (100, 0), (100, 100), (50, 100), (0, 100))
    assert changed_ground(before, first) == (EAST - 9, NORTH, EAST + 100, NORTH + 100)
    assert changed_ground(before, before) is None
    assert box_around(at((3, 4), (1, 9))) == (EAST + 1, NORTH + 4, EAST + 3, NORTH + 9)


def test_corners_within_a_millimetre_are_laid_onto_each_other():
    square = area((0, 0), (10, 0), (10, 10), (0, 10))
    snapped = snapped_to(square, at((10.0006, 9.9995), (5, 5)))
    assert at((10.0006, 9.9995))[0].tolist() in shapely.get_coordinates(snapped).tolist()
    assert snapped_to(square, at((5, 5))) is square
    assert snapped_to(square, at()) is square


def test_two_corners_laid_onto_one_become_one():
    shape = area((0, 0), (10, 0), (10, 10), (9.9995, 10.0005), (0, 10))
    assert len(shapely.get_coordinates(snapped_to(shape, at((9.9998, 10.0002))))) == 5


def test_lines_get_corners_but_keep_their_ends():
    given = with_corners_at(line((0, 0), (10, 0)), at((4, 0.0004), (10.0004, 0), (12, 0)))
    assert (shapely.get_coordinates(given) - [EAST, NORTH]).round(4).tolist() == [[0, 0], [4, 0.0004], [10, 0]]


def test_a_shape_that_corners_would_make_unsound_is_left_as_it_is():
    narrow = area((0, 0), (10, 0), (10, 0.0008), (0, 0.0008))
    given = with_corners_at(narrow, at((5, -0.0005)))
    assert given.is_valid


def test_hairline_holes_are_closed_and_others_kept():
    outline = area((0, 0), (50, 0), (50, 50), (0, 50)).exterior
    hairline, pond = area((5, 5), (25, 5.0005), (5, 5.0005)), area((30, 30), (40, 30), (40, 40))
    closed = without_hairlines(shapely.Polygon(outline, [hairline.exterior, pond.exterior]))
    assert closed.area == pytest.approx(2500 - 50)
    whole = shapely.Polygon(outline, [pond.exterior])
    assert without_hairlines(whole).equals(whole)


def test_the_first_of_several_changed_blocks_keeps_its_ground(farm):
    one, other = area((0, 200), (60, 200), (60, 260), (0, 260)), area((40, 210), (90, 210), (90, 250), (40, 250))
    found = settled(farm, {7: one, 8: other}, {7: "One", 8: "Other"})
    assert found.shapes[7].area == pytest.approx(3600)
    assert found.shapes[8].area == pytest.approx(30 * 40)
    assert "over One" in found.notes[0]
    assert list(found.shapes) == [7, 8]


def test_a_block_of_several_parts_keeps_them(farm):
    parts = shapely.MultiPolygon(
        [area((150, 50), (250, 50), (250, 80), (150, 80)), area((300, 0), (350, 0), (350, 50))]
    )
    found = settled(farm, {9: parts}, {9: "Parts"})
    assert len(found.shapes[9].geoms) == 2
    assert found.shapes[9].area == pytest.approx(50 * 30 + 1250)
    with pytest.raises(BadInput, match="Parts would fall into pieces"):
        settled(farm, {9: shapely.union(parts, area((-50, 20), (250, 20), (250, 30), (-50, 30)))}, {9: "Parts"})


def test_what_was_not_touched_is_not_cut(farm):
    overlapping = put(
        farm,
        blocks={
            "name": ["A", "B"],
            "geometry": [
                area((0, 0), (50, 0), (50, 50), (25, 60), (0, 50)),
                area((40, 0), (90, 0), (90, 9), (40, 9)),
            ],
        },
    )
    moved = area((0, 0), (50, 0), (50, 50), (25, 70), (0, 50))
    found = settled(overlapping, {1: moved})
    assert found.shapes[1].area == moved.area
    assert found.notes == []
    assert np.array_equal(list(found.shapes), [1])
