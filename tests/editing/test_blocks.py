"""Blocks split, merged and with holes; gaps filled with edges exactly shared."""

from __future__ import annotations

import pytest
import shapely

from farmmap.editing.blocks import gap_filled, hole_cut, merged, split
from farmmap.errors import BadInput
from tests.editing.made_farms import area, carried_out, line, overlaps_m2, put, unshared_corners
from tests.place import EAST, NORTH


def blocks_of(farm, *shapes, **values):
    names = [chr(ord("A") + n) for n in range(len(shapes))]
    return put(farm, blocks={"name": names, "geometry": list(shapes)} | values)


def local(shape):
    return {(round(x - EAST, 6), round(y - NORTH, 6)) for x, y in shapely.get_coordinates(shape).tolist()}


# --- split ---


def test_a_block_split_across_keeps_its_id_on_the_larger_piece(farm):
    proposed = split(farm, 1, line((-5, 60), (150, 60)))
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Split North Terrace"
    assert after.blocks["name"].tolist() == ["North Terrace", "Far Slope", "North Terrace 2"]
    assert after.blocks.geometry.area.tolist() == pytest.approx([6000, 10_000, 4000])
    assert after.blocks["planted"].tolist() == ["2004", "2010-07-15", "2004"]
    assert (100, 60) in local(after.blocks.geometry.loc[2])
    assert not unshared_corners(after)
    assert "2 blocks now: North Terrace (0.60 ha) and North Terrace 2 (0.40 ha)" in proposed.notes


def test_a_line_may_cross_several_times(farm):
    proposed = split(farm, 2, line((120, -10), (130, 110), (150, 110), (160, -10)))
    after = carried_out(farm, proposed)
    assert len(after.blocks) == 4
    assert after.blocks["name"].tolist()[2:] == ["Far Slope 2", "Far Slope 3"]
    assert after.blocks.geometry.loc[[2, 3, 4]].area.sum() == pytest.approx(10_000)
    assert overlaps_m2(after) == pytest.approx(0, abs=1e-6)


def test_a_line_that_starts_and_ends_on_the_outline_will_do(farm):
    after = carried_out(farm, split(farm, 1, line((0, 30), (50, 35.123456), (100, 41.7))))
    assert len(after.blocks) == 3
    assert not unshared_corners(after)
    from_corner = carried_out(farm, split(farm, 1, line((0, 0), (100, 100))))
    assert from_corner.blocks.geometry.loc[[1, 3]].area.tolist() == pytest.approx([5000, 5000])


def test_names_count_on(farm):
    once = carried_out(farm, split(farm, 1, line((-5, 60), (150, 60))))
    twice = carried_out(once, split(once, 3, line((50, -5), (50, 150))))
    assert twice.blocks["name"].tolist()[2:] == ["North Terrace 2", "North Terrace 3"]


@pytest.mark.parametrize(
    ("names", "part"), [(["Block 15", "Block 16"], "Block 17"), (["Pines 2004", "Pines"], "Pines 2004 2")]
)
def test_a_block_with_a_number_is_followed_by_the_next_unless_it_is_a_year(farm, names, part):
    rows = farm.blocks.copy()
    rows["name"] = names
    parted = split(farm.with_tables(blocks=rows), 1, line((-5, 60), (150, 60)))
    assert carried_out(farm.with_tables(blocks=rows), parted).blocks["name"].tolist() == [*names, part]


def test_a_part_that_is_not_crossed_stays_with_the_first(farm):
    shape = shapely.MultiPolygon([area((0, 0), (50, 0), (50, 50), (0, 50)), area((80, 0), (99, 0), (99, 9))])
    farm = blocks_of(farm, shape)
    after = carried_out(farm, split(farm, 1, line((-5, 20), (60, 20))))
    assert after.blocks.geometry.loc[1].geom_type == "MultiPolygon"
    assert after.blocks.geometry.loc[1].area == pytest.approx(50 * 30 + shape.geoms[1].area)


def test_a_hole_may_be_crossed(farm):
    ring = shapely.Polygon(
        area((0, 0), (90, 0), (90, 90), (0, 90)).exterior, [area((30, 30), (60, 30), (60, 60), (30, 60)).exterior]
    )
    farm = blocks_of(farm, ring)
    after = carried_out(farm, split(farm, 1, line((-5, 45), (100, 45))))
    assert after.blocks.geometry.area.tolist() == pytest.approx([ring.area / 2] * 2)
    with pytest.raises(BadInput, match="runs into a hole and not on from it"):
        split(farm, 1, line((-5, 45), (45, 45)))


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(300, 0), (300, 50)], "the line does not reach it"),
        ([(0, 100), (100, 100)], "the line only touches its edge"),
        ([(-5, 50), (50, 50)], "the line ends inside it, at E 1 812 050 N 5 478 050"),
        ([(50, 50), (50, 150)], "the line starts inside it"),
        ([(20, 20), (80, 80)], "the line starts inside it"),
        ([(-1, 98.9), (1.0, 101)], "a piece of only"),
        ([(5, 5), (5, 5)], "has no length"),
    ],
)
def test_why_a_line_does_not_split_is_said(farm, corners, words):
    with pytest.raises(BadInput, match=words):
        split(farm, 1, line(*corners))


def test_a_planned_block_is_split_without_its_neighbours(farm):
    blocks = farm.blocks.copy()
    blocks["stage"] = ["planned", "existing"]
    farm = farm.with_tables(blocks=blocks)
    after = carried_out(farm, split(farm, 1, line((-5, 60), (150, 60))))
    assert after.blocks["stage"].tolist() == ["planned", "existing", "planned"]
    assert (100, 60) not in local(after.blocks.geometry.loc[2])


# --- merge ---


def test_blocks_that_share_an_edge_are_merged_into_the_largest(farm):
    farm = blocks_of(
        farm,
        area((0, 0), (50, 0), (50, 50), (0, 50)),
        area((50, 0), (150, 0), (150, 50), (50, 50)),
        planted=["2001", "2002"],
        note=["wet", "dry"],
    )
    proposed = merged(farm, [1, 2])
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Join B and A"
    assert after.blocks.index.tolist() == [2]
    assert after.blocks.loc[2, ["name", "planted", "note"]].tolist() == ["B", "2002", "dry; wet"]
    assert after.blocks.geometry.loc[2].area == pytest.approx(7500)
    assert proposed.notes == ("planted differed (2001); B keeps 2002",)


def test_edges_a_hair_apart_leave_no_hole(farm):
    one = area((0, 0), (50, 0), (50, 20), (50.0004, 35), (50, 50), (0, 50))
    other = area((50, 0), (90, 0), (90, 50), (50, 50))
    farm = blocks_of(farm, one, other)
    whole = carried_out(farm, merged(farm, [1, 2])).blocks.geometry.loc[1]
    assert whole.geom_type == "Polygon"
    assert not whole.interiors


def test_blocks_around_a_yard_keep_the_hole(farm):
    left = area((0, 0), (90, 0), (90, 30), (30, 30), (30, 60), (90, 60), (90, 90), (0, 90))
    right = area((90, 0), (120, 0), (120, 90), (90, 90), (90, 60), (90, 30))
    farm = blocks_of(farm, left, right)
    whole = carried_out(farm, merged(farm, [1, 2])).blocks.geometry.loc[1]
    assert len(whole.interiors) == 1
    assert shapely.Polygon(whole.interiors[0]).area == pytest.approx(60 * 30)


def test_what_cannot_be_merged_is_said(farm):
    far = blocks_of(farm, area((0, 0), (50, 0), (50, 50)), area((60, 0), (99, 0), (99, 9)))
    with pytest.raises(BadInput, match="B shares no edge with A, so they cannot be one block; fill the gap"):
        merged(far, [1, 2])
    corner_only = blocks_of(
        farm, area((0, 0), (50, 0), (50, 50), (0, 50)), area((50, 50), (99, 50), (99, 99), (50, 99))
    )
    with pytest.raises(BadInput, match="B shares no edge with A"):
        merged(corner_only, [1, 2])
    with pytest.raises(BadInput, match="choose two or more"):
        merged(farm, [1, 1])
    planned = blocks_of(
        farm,
        area((0, 0), (50, 0), (50, 50)),
        area((50, 0), (99, 0), (99, 50), (50, 50)),
        stage=["existing", "planned"],
    )
    with pytest.raises(BadInput, match="one of these blocks stands and another is only planned"):
        merged(planned, [1, 2])


def test_split_and_merged_again_is_the_same_ground(farm):
    once = carried_out(farm, split(farm, 1, line((-5, 61), (150, 43))))
    again = carried_out(once, merged(once, [1, 3]))
    assert again.blocks.geometry.loc[1].symmetric_difference(farm.blocks.geometry.loc[1]).area < 1e-6
    assert not unshared_corners(again)


# --- holes ---


def test_a_hole_is_cut(farm):
    proposed = hole_cut(farm, 1, area((20, 20), (40, 20), (40, 40), (20, 40)))
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Cut hole in North Terrace"
    assert after.blocks.geometry.loc[1].area == pytest.approx(9600)
    assert len(after.blocks.geometry.loc[1].interiors) == 1
    assert proposed.notes == ()


def test_a_bite_out_of_the_edge_is_noted(farm):
    proposed = hole_cut(farm, 1, area((-10, 20), (40, 20), (40, 40), (-10, 40)))
    after = carried_out(farm, proposed)
    assert after.blocks.geometry.loc[1].area == pytest.approx(9200)
    assert "200 m² of the hole lay outside North Terrace" in proposed.notes[0]


def test_a_hole_at_a_shared_edge_gives_the_neighbour_its_corners(farm):
    after = carried_out(farm, hole_cut(farm, 1, area((80, 20), (100, 20), (100, 40), (80, 40))))
    assert {(100, 20), (100, 40)} <= local(after.blocks.geometry.loc[2])
    assert not unshared_corners(after)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(300, 0), (310, 0), (310, 10)], "does not lie in North Terrace"),
        ([(-1, -1), (101, -1), (101, 101), (-1, 101)], "covers all of North Terrace"),
        ([(-1, 20), (101, 20), (101, 30), (-1, 30)], "into 2 pieces; split the block"),
        ([(20, 20), (40, 40), (40, 20), (20, 40)], "cross itself"),
    ],
)
def test_a_hole_that_cannot_be_cut_is_refused(farm, corners, words):
    with pytest.raises(BadInput, match=words):
        hole_cut(farm, 1, area(*corners))


# --- gaps ---


def test_a_sliver_between_two_blocks_is_filled(farm):
    farm = blocks_of(
        farm,
        area((0, 0), (100, 0), (100.5, 40), (100, 100), (0, 100)),
        area((102, -5), (200, 0), (200, 100), (101, 104), (101.7, 50)),
    )
    for into in (None, 1, 2):
        proposed = gap_filled(farm, EAST + 101, NORTH + 50, into)
        after = carried_out(farm, proposed)
        assert overlaps_m2(after) < 1e-6
        assert not unshared_corners(after)
        whole = after.blocks.geometry.union_all()
        assert whole.geom_type == "Polygon"
        assert not whole.interiors
        before = farm.blocks.geometry.area.sum()
        assert after.blocks.geometry.area.sum() == pytest.approx(before + 1.3 * 100, abs=25)
        taker = into or 1
        assert proposed.edit.name in {f"Fill gap beside {'AB'[n - 1]}" for n in ([taker] if into else [1, 2])}


def test_a_wedge_that_closes_is_filled_to_its_point(farm):
    farm = blocks_of(
        farm,
        area((0, 0), (100, 0), (100, 100), (0, 100)),
        area((100, 0), (200, 0), (200, 100), (103, 100)),
    )
    after = carried_out(farm, gap_filled(farm, EAST + 101, NORTH + 60))
    assert after.blocks.geometry.union_all().area == pytest.approx(20_000, abs=1e-3)
    assert not unshared_corners(after)


def test_ground_enclosed_by_blocks_is_filled_whatever_its_size(farm):
    around = [
        area((0, 0), (90, 0), (90, 30), (0, 30)),
        area((0, 30), (30, 30), (30, 90), (0, 90)),
        area((60, 30), (90, 30), (90, 90), (60, 90)),
        area((30, 60), (60, 60), (60, 90), (30, 90)),
    ]
    farm = blocks_of(farm, *around)
    proposed = gap_filled(farm, EAST + 45, NORTH + 45, 4)
    after = carried_out(farm, proposed)
    assert after.blocks.geometry.loc[4].area == pytest.approx(1800)
    assert "900 m² went to D" in proposed.notes[0]
    assert not unshared_corners(after)


def test_a_hole_in_one_block_is_filled_again(farm):
    holed = carried_out(farm, hole_cut(farm, 1, area((20, 20), (40, 20), (40, 40), (20, 40))))
    after = carried_out(holed, gap_filled(holed, EAST + 30, NORTH + 30))
    assert not after.blocks.geometry.loc[1].interiors


def test_where_there_is_no_gap_is_said(farm):
    with pytest.raises(BadInput, match="it lies in North Terrace"):
        gap_filled(farm, EAST + 50, NORTH + 50)
    with pytest.raises(BadInput, match="neither enclosed by blocks nor a strip of up to 5 m"):
        gap_filled(farm, EAST + 50, NORTH + 150)
    wide = blocks_of(farm, area((0, 0), (50, 0), (50, 50), (0, 50)), area((58, 0), (99, 0), (99, 50), (58, 50)))
    with pytest.raises(BadInput, match="neither enclosed"):
        gap_filled(wide, EAST + 54, NORTH + 25)


def test_a_block_that_does_not_border_the_gap_cannot_have_it(farm):
    holed = carried_out(farm, hole_cut(farm, 1, area((20, 20), (40, 20), (40, 40), (20, 40))))
    with pytest.raises(BadInput, match="Far Slope does not border the gap"):
        gap_filled(holed, EAST + 30, NORTH + 30, 2)
