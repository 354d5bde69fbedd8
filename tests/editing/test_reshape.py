"""Reshaping: corners that neighbours share move together, and edges stay shared."""

from __future__ import annotations

import pytest
import shapely

from farmmap.editing.corners import corner_near, corners_of, edge_near
from farmmap.editing.reshape import corner_added, corner_moved, corner_removed, rows_removed, shape_moved
from farmmap.errors import BadInput
from tests.editing.made_farms import area, carried_out, line, overlaps_m2, put, unshared_corners
from tests.place import EAST, NORTH


def corner(farm, x, y, table="blocks", row=None):
    return corner_near(farm, EAST + x, NORTH + y, 0.5, [table], None if row is None else (table, row))


def local(shape):
    return {(round(x - EAST, 6), round(y - NORTH, 6)) for x, y in shapely.get_coordinates(shape).tolist()}


def test_a_shared_corner_moves_in_both_blocks(farm):
    proposed = corner_moved(farm, corner(farm, 100, 100), EAST + 110, NORTH + 105)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Move corner of North Terrace"
    assert (110, 105) in local(after.blocks.geometry.loc[1])
    assert (110, 105) in local(after.blocks.geometry.loc[2])
    assert overlaps_m2(after) == 0
    assert not unshared_corners(after)
    assert proposed.notes == ()


def test_corners_a_hair_apart_are_shared(farm):
    apart = put(
        farm,
        blocks={
            "name": ["A", "B"],
            "geometry": [
                area((0, 0), (100, 0), (100, 100), (0, 100)),
                area((100.0006, 0), (200, 0), (200, 100), (100, 100.0005)),
            ],
        },
    )
    after = carried_out(apart, corner_moved(apart, corner(apart, 100, 100, row=1), EAST + 110, NORTH + 105))
    assert (110, 105) in local(after.blocks.geometry.loc[1])
    assert (110, 105) in local(after.blocks.geometry.loc[2])
    assert not unshared_corners(after)


def test_a_corner_on_a_neighbours_edge_takes_the_edge_along(farm):
    farm = put(
        farm,
        blocks={
            "name": ["Top left", "Top right", "Bottom"],
            "geometry": [
                area((0, 0), (50, 0), (50, 40), (0, 40)),
                area((50, 0), (100, 0), (100, 40), (50, 40)),
                area((0, -40), (100, -40), (100, 0), (0, 0)),
            ],
        },
    )
    after = carried_out(farm, corner_moved(farm, corner(farm, 50, 0), EAST + 52, NORTH - 8))
    assert all((52, -8) in local(shape) for shape in after.blocks.geometry)
    assert overlaps_m2(after) == 0
    assert after.blocks.geometry.union_all().area == pytest.approx(100 * 80)


def test_a_neighbours_corner_in_the_middle_of_an_edge_holds_it(farm):
    farm = put(
        farm,
        blocks={
            "name": ["Top", "Left", "Right"],
            "geometry": [
                area((0, 0), (100, 0), (100, 40), (0, 40)),
                area((0, -40), (50, -40), (50, 0), (0, 0)),
                area((50, -40), (100, -40), (100, 0), (50, 0)),
            ],
        },
    )
    after = carried_out(farm, corner_moved(farm, corner(farm, 100, 0, row=1), EAST + 110, NORTH + 10))
    assert (50, 0) in local(after.blocks.geometry.loc[1])
    assert overlaps_m2(after) == 0
    assert not unshared_corners(after)


def test_a_corner_may_move_without_its_neighbours(farm):
    proposed = corner_moved(farm, corner(farm, 100, 100), EAST + 110, NORTH + 105, neighbours=False)
    after = carried_out(farm, proposed)
    assert "lay over Far Slope" in proposed.notes[0]
    assert farm.blocks.geometry.loc[2].symmetric_difference(after.blocks.geometry.loc[2]).area == 0
    assert overlaps_m2(after) == 0
    inwards = corner_moved(farm, corner(farm, 100, 100), EAST + 90, NORTH + 100, neighbours=False)
    assert carried_out(farm, inwards).blocks.geometry.loc[2].equals(farm.blocks.geometry.loc[2])


def test_a_corner_moved_over_a_third_block_is_cut_back(farm):
    farm = put(
        farm,
        blocks={
            "name": ["A", "B"],
            "geometry": [area((0, 0), (50, 0), (50, 50), (0, 50)), area((80, 0), (130, 0), (130, 50), (80, 50))],
        },
    )
    proposed = corner_moved(farm, corner(farm, 50, 50), EAST + 100, NORTH + 25)
    after = carried_out(farm, proposed)
    assert "lay over B" in proposed.notes[0]
    assert overlaps_m2(after) == 0
    assert not unshared_corners(after)


def test_a_corner_moved_across_its_own_outline_is_refused_with_the_place(farm):
    shape = area((0, 0), (100, 0), (100, 100), (50, 100), (0, 100))
    farm = put(farm, blocks={"name": ["A"], "geometry": [shape]})
    with pytest.raises(BadInput, match=r"A: its outline would cross itself at E 1 812 .* N 5 478 000"):
        corner_moved(farm, corner(farm, 50, 100), EAST + 50, NORTH - 20)


def test_a_neighbour_that_would_cross_itself_is_named(farm):
    farm = put(
        farm,
        blocks={
            "name": ["A", "Thin"],
            "geometry": [
                area((0, 0), (100, 0), (100, 50), (100, 100), (0, 100)),
                area((100, 0), (110, 0), (110, 100), (100, 100), (100, 50)),
            ],
        },
    )
    with pytest.raises(BadInput, match="Thin: its outline would cross itself"):
        corner_moved(farm, corner(farm, 100, 50), EAST + 120, NORTH + 50)


def test_a_corner_moved_onto_the_next_becomes_one_with_it(farm):
    shape = area((0, 0), (100, 0), (100, 100), (50, 100), (0, 100))
    farm = put(farm, blocks={"name": ["A"], "geometry": [shape]})
    after = carried_out(farm, corner_moved(farm, corner(farm, 50, 100), EAST + 100, NORTH + 100))
    assert len(corners_of(after, "blocks", 1)) == 4


def test_a_corner_that_is_not_there_any_more_is_refused(farm):
    found = corner(farm, 100, 100)
    moved = carried_out(farm, corner_moved(farm, found, EAST + 110, NORTH + 105))
    with pytest.raises(BadInput, match="has changed since; choose the corner again"):
        corner_moved(moved, found, EAST + 120, NORTH + 105)


def test_a_move_to_the_same_place_is_refused(farm):
    with pytest.raises(BadInput, match="nothing changes"):
        corner_moved(farm, corner(farm, 100, 100), EAST + 100, NORTH + 100)


def test_lines_that_meet_in_a_corner_move_together(farm):
    farm = put(
        farm,
        creeks={"name": ["Main", "Branch"], "geometry": [line((0, 0), (50, 0), (90, 9)), line((50, 0), (50, 40))]},
    )
    after = carried_out(farm, corner_moved(farm, corner(farm, 50, 0, "creeks"), EAST + 55, NORTH + 5))
    assert (55, 5) in local(after.creeks.geometry.loc[1])
    assert (55, 5) in local(after.creeks.geometry.loc[2])


def test_the_closing_corner_of_a_ring_moves_whole(farm):
    first = corners_of(farm, "blocks", 1)[0]
    after = carried_out(farm, corner_moved(farm, first, first.x + 3, first.y - 4))
    ring = shapely.get_coordinates(after.blocks.geometry.loc[1])
    assert (ring[0] == ring[-1]).all()
    assert [first.x + 3, first.y - 4] in ring.tolist()


def test_a_new_corner_on_a_shared_edge_bends_both_blocks(farm):
    edge = edge_near(farm, EAST + 100, NORTH + 50, 1, ["blocks"])
    proposed = corner_added(farm, edge, EAST + 90, NORTH + 50)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Put in corner of North Terrace"
    assert (90, 50) in local(after.blocks.geometry.loc[1]) & local(after.blocks.geometry.loc[2])
    assert after.blocks.geometry.union_all().area == pytest.approx(20_000)
    assert overlaps_m2(after) == 0


def test_a_new_corner_at_a_corner_is_refused(farm):
    edge = edge_near(farm, EAST + 100, NORTH + 100, 1, ["blocks"])
    with pytest.raises(BadInput, match="has a corner at that place already"):
        corner_added(farm, edge, EAST + 100, NORTH + 100)


def test_a_new_corner_on_a_fence(farm):
    edge = edge_near(farm, EAST + 40, NORTH - 18, 1, ["fences"])
    after = carried_out(farm, corner_added(farm, edge, EAST + 40, NORTH - 20))
    assert len(corners_of(after, "fences", 1)) == 3


def test_a_corner_taken_out_goes_from_both_blocks(farm):
    edge = edge_near(farm, EAST + 100, NORTH + 50, 1, ["blocks"])
    bent = carried_out(farm, corner_added(farm, edge, EAST + 90, NORTH + 50))
    proposed = corner_removed(bent, corner(bent, 90, 50))
    after = carried_out(bent, proposed)
    assert proposed.edit.name == "Take away corner of North Terrace"
    assert after.blocks.geometry.area.tolist() == pytest.approx([10_000, 10_000])
    assert "Far Slope" in proposed.notes[0]


def test_the_last_three_corners_stay(farm):
    farm = put(farm, blocks={"name": ["A"], "geometry": [area((0, 0), (9, 0), (9, 9))]})
    with pytest.raises(BadInput, match="keeps at least three corners; remove A"):
        corner_removed(farm, corner(farm, 9, 9))
    with pytest.raises(BadInput, match="keeps at least two corners; remove Creek fence"):
        corner_removed(farm, corner(farm, 100, -18, "fences"))


def test_a_block_that_is_moved_over_another_is_cut_back(farm):
    proposed = shape_moved(farm, "blocks", 1, 10, 0)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Move block North Terrace"
    assert after.blocks.geometry.loc[1].area == pytest.approx(9000)
    assert "1000 m² lay over Far Slope" in proposed.notes[0].replace("0.10 ha", "1000 m²")
    assert not unshared_corners(after)


def test_a_creek_is_moved_as_a_whole(farm):
    after = carried_out(farm, shape_moved(farm, "creeks", 1, 5, -7))
    assert after.creeks.geometry.loc[1].equals(line((-15, -37), (225, -37)))
    with pytest.raises(BadInput, match="does not lie on the farm's grid"):
        shape_moved(farm, "creeks", 1, -4_000_000, 0)


def test_a_hole_and_parts_move_too(farm):
    ring = shapely.Polygon(
        area((0, 0), (90, 0), (90, 90), (0, 90)).exterior, [area((30, 30), (50, 30), (50, 50)).exterior]
    )
    shape = shapely.MultiPolygon([ring, area((200, 0), (290, 0), (290, 90))])
    farm = put(farm, blocks={"name": ["A"], "geometry": [shape]})
    hole = next(c for c in corners_of(farm, "blocks", 1) if c.ring == 1)
    after = carried_out(farm, corner_moved(farm, hole, hole.x - 1, hole.y - 1)).blocks.geometry.loc[1]
    assert after.is_valid
    assert after.geoms[0].interiors[0].length > ring.interiors[0].length
    assert len(after.geoms) == 2
    with pytest.raises(BadInput, match="A: its outline would cross or touch itself at E 1 812 008 N 5 478 000"):
        corner_moved(farm, hole, EAST - 20, NORTH - 20)


def test_removed_trees_take_their_measurements_along(farm):
    proposed = rows_removed(farm, "trees", [1, 2])
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Take away 2 trees"
    assert proposed.notes == ("3 measurements go with 2 trees",)
    assert after.measurements["tree"].tolist() == [3, 4, 6]
    assert after.trees.index.tolist() == [3, 4, 5, 6]


def test_removed_rows_are_named(farm):
    assert rows_removed(farm, "blocks", [1]).edit.name == "Take away block North Terrace"
    assert rows_removed(farm, "trees", [3]).edit.name == "Take away tree 3"
    assert rows_removed(farm, "notes", [1]).edit.name == "Take away note Soft ground"


def test_what_cannot_be_removed_is_said(farm):
    with pytest.raises(BadInput, match="3 trees are of species TOTA; change their species first"):
        rows_removed(farm, "species", [1])
    with pytest.raises(BadInput, match="nothing is chosen"):
        rows_removed(farm, "trees", [])
    with pytest.raises(BadInput, match="not there any more"):
        rows_removed(farm, "trees", [77])


def test_planned_blocks_are_reshaped_freely(farm):
    blocks = farm.blocks.copy()
    blocks["stage"] = ["existing", "planned"]
    farm = farm.with_tables(blocks=blocks)
    found = corner(farm, 100, 100, row=2)
    proposed = corner_moved(farm, found, EAST + 50, NORTH + 100)
    assert proposed.notes == ()
    assert set(proposed.edit.changes["blocks"].after.index) == {2}


def test_a_single_place_is_moved_as_its_one_corner(farm):
    farm = put(farm, hazards={"name": ["Well"], "geometry": [shapely.Point(EAST, NORTH)]})
    found = corners_of(farm, "hazards", 1)[0]
    after = carried_out(farm, corner_moved(farm, found, EAST + 4, NORTH + 3))
    assert after.hazards.geometry.loc[1].equals(shapely.Point(EAST + 4, NORTH + 3))
    with pytest.raises(BadInput, match="remove Well as a whole instead"):
        corner_removed(after, corners_of(after, "hazards", 1)[0])


def test_blocks_that_lay_over_each_other_before_may_still_be_reshaped(farm):
    farm = put(
        farm,
        blocks={
            "name": ["A", "B"],
            "geometry": [area((0, 0), (50, 0), (50, 50), (0, 50)), area((40, 10), (90, 10), (90, 40), (40, 40))],
        },
    )
    proposed = corner_moved(farm, corner(farm, 50, 50), EAST + 52, NORTH + 52)
    after = carried_out(farm, proposed)
    assert "lay over B" in proposed.notes[0]
    assert overlaps_m2(after) == 0
    assert not unshared_corners(after)
