"""Drawing: free names, outlines mended or refused with the place, and blocks cut back to their neighbours."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from farmmap.editing.draw import drawn, shape_from_corners
from farmmap.editing.shared_edges import with_corners_at
from farmmap.editing.words import begins_with, with_kind
from farmmap.errors import BadInput
from tests.editing.made_farms import area, at, carried_out, line, put, unshared_corners
from tests.place import EAST, NORTH


def block(farm, shape, **values):
    return drawn(farm, "blocks", shape, values)


def test_a_block_away_from_others_is_kept_as_drawn(farm):
    shape = area((300, 0), (400, 0), (400, 100), (300, 100))
    proposed = block(farm, shape, name="Hill", planted=2011)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Draw block Hill"
    assert proposed.notes == ()
    assert after.blocks.loc[3, ["name", "planted", "stage"]].tolist() == ["Hill", "2011", "existing"]
    assert after.blocks.geometry.loc[3].equals(shape)
    assert list(proposed.edit.changes["blocks"].added) == [3]


@pytest.mark.parametrize(
    ("table", "shape", "name"),
    [
        ("blocks", area((300, 0), (400, 0), (400, 9)), "Draw Block 3"),
        ("creeks", line((0, 0), (5, 5)), "Draw Creek 2"),
        ("fences", line((0, 0), (5, 5)), "Draw Fence 2"),
        ("tracks", line((0, 0), (5, 5)), "Draw Track 2"),
        ("hazards", line((0, 0), (5, 5)), "Draw Hazard 2"),
        ("hazards", area((0, 0), (5, 5), (0, 5)), "Draw Hazard 2"),
        ("hazards", shapely.Point(EAST, NORTH), "Draw Hazard 2"),
        ("boundary", area((0, 0), (5, 5), (0, 5)), "Draw Boundary 2"),
        ("notes", shapely.Point(EAST, NORTH), "Write Note 2"),
    ],
)
def test_everything_that_is_drawn_gets_a_free_name(farm, table, shape, name):
    proposed = drawn(farm, table, shape)
    carried_out(farm, proposed)
    assert proposed.edit.name == name
    assert set(proposed.edit.changes) == {table}


def test_a_hazard_is_named_by_its_kind(farm):
    proposed = drawn(farm, "hazards", line((0, 0), (5, 5)), {"kind": "power line"})
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Draw Power line 2"
    assert after.hazards["name"].iloc[-1] == "Power line 2"
    assert with_kind(after, "hazards", 2) == "Power line 2"
    assert with_kind(after, "hazards", 1) == "hazard Line"


def test_the_kind_is_not_said_twice(farm):
    farm = carried_out(farm, block(farm, area((300, 0), (400, 0), (400, 9))))
    assert with_kind(farm, "blocks", 3) == "Block 3"
    assert with_kind(farm, "blocks", 1) == "block North Terrace"
    assert begins_with("BLOCK", "block")
    assert not begins_with("Blockhouse", "block")


def test_a_free_name_is_counted_on_past_those_in_use(farm):
    farm = put(farm, fences={"name": ["Fence 3", "fence 4"], "geometry": [line((0, 0), (1, 1))] * 2})
    assert drawn(farm, "fences", line((0, 0), (5, 5))).edit.name == "Draw Fence 5"


def test_a_block_over_its_neighbour_is_cut_back_and_shares_its_edge_exactly(farm):
    proposed = block(farm, area((150, 50), (300, 50), (300, 150), (150, 150)))
    after = carried_out(farm, proposed)
    assert "0.25 ha lay over Far Slope" in proposed.notes[0]
    new, far = after.blocks.geometry.loc[[3, 2]]
    assert new.area == pytest.approx(150 * 100 - 50 * 50)
    assert new.intersection(far).area == 0
    for corner in at((150, 100), (200, 50), (200, 100)):
        for shape in (new, far):
            assert (shapely.get_coordinates(shape) == corner).all(axis=1).any()
    assert not unshared_corners(after)


def test_an_edge_drawn_a_hair_off_is_laid_onto_the_neighbours_corners(farm):
    proposed = block(farm, area((200.0004, -0.0003), (300, 0), (300, 100), (199.9996, 100.0002)))
    after = carried_out(farm, proposed)
    assert proposed.notes == ()
    assert not unshared_corners(after)
    assert {(200.0, 0.0), (200.0, 100.0)} <= {
        tuple(c) for c in (shapely.get_coordinates(after.blocks.geometry.loc[3]) - [EAST, NORTH]).tolist()
    }


def test_a_neighbours_corners_are_put_into_a_long_edge(farm):
    proposed = block(farm, area((0, 100), (200, 100), (200, 200), (0, 200)))
    after = carried_out(farm, proposed)
    corners = shapely.get_coordinates(after.blocks.geometry.loc[3]) - [EAST, NORTH]
    assert [100.0, 100.0] in corners.tolist()
    assert proposed.notes == ()
    assert not unshared_corners(after)


def test_a_block_around_another_gets_a_hole(farm):
    after = carried_out(farm, block(farm, area((-50, -50), (250, -50), (250, 150), (-50, 150))))
    new = after.blocks.geometry.loc[3]
    assert len(new.interiors) == 1
    assert new.area == pytest.approx(300 * 200 - 200 * 100)


def test_a_block_wholly_on_another_is_refused(farm):
    with pytest.raises(BadInput, match="wholly on Far Slope, and nothing would be left"):
        block(farm, area((120, 20), (180, 20), (180, 80)))


def test_a_block_that_would_fall_into_pieces_is_refused_with_their_sizes(farm):
    with pytest.raises(BadInput, match=r"fall into pieces of 0.60 ha and 0.30 ha, with North Terrace and Far Slope"):
        block(farm, area((-50, 20), (300, 20), (300, 80), (-50, 80)))


def test_a_crumb_beyond_a_neighbour_is_left_out_and_not_worth_a_word(farm):
    proposed = block(farm, area((199.5, 50), (300, 50), (300, 150), (199.5, 150)))
    assert "was cut back" in " ".join(proposed.notes)
    thin = block(farm, area((-0.5, 99.5), (0.4, 99.5), (0.4, 200), (-0.5, 200)))
    assert not any("left out" in note for note in thin.notes)
    carried_out(farm, thin)


@pytest.mark.parametrize(("bars", "words"), [(1, None), (3, "3 slivers, together 1.8 m² beyond North Terrace")])
def test_slivers_beyond_a_neighbour_are_told_of_in_one_line_when_they_come_to_something(farm, bars, words):
    fingers = [corner for bar in range(bars) for corner in
               ((20 + 30 * bar, 80), (20 + 30 * bar, -2), (20.3 + 30 * bar, -2), (20.3 + 30 * bar, 80))]  # fmt: skip
    proposed = block(farm, area((0, 80), *fingers, (199, 80), (199, 160), (0, 160)))
    said = [note for note in proposed.notes if "left out" in note]
    assert len(said) == (words is not None)
    assert words is None or words in said[0]


def test_a_planned_block_may_lie_over_others(farm):
    shape = area((50, 20), (150, 20), (150, 80), (50, 80))
    proposed = block(farm, shape, stage="planned")
    assert carried_out(farm, proposed).blocks.geometry.loc[3].equals(shape)
    assert proposed.notes == ()


def test_a_bow_tie_is_refused_with_the_place_of_the_crossing(farm):
    with pytest.raises(BadInput, match=r"cross itself at E 1 812 350 N 5 478 050, where the side from corner 1 to 2"):
        block(farm, area((300, 0), (400, 100), (400, 0), (300, 100)))


def test_a_tiny_loop_is_mended_and_said(farm):
    proposed = block(farm, area((300, 0), (400, 0), (399.9, 100.3), (400.2, 100.1), (300, 100)))
    assert "crossed itself at E 1 812 400 N 5 478 100" in proposed.notes[0]
    shape = carried_out(farm, proposed).blocks.geometry.loc[3]
    assert shape.is_valid
    assert shape.area == pytest.approx(10_000, abs=2)


def test_a_short_spike_is_mended_and_said(farm):
    proposed = block(farm, area((300, 0), (400, 0), (401, 0), (400, 0), (400, 100), (300, 100)))
    assert "went 1 m out and back" in proposed.notes[0]
    assert carried_out(farm, proposed).blocks.geometry.loc[3].area == pytest.approx(10_000)


def test_a_long_spike_is_refused(farm):
    with pytest.raises(BadInput, match="goes 50 m out and back on one line"):
        block(farm, area((300, 0), (400, 0), (450, 0), (400, 0), (400, 100), (300, 100)))


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([(0, 0), (1, 1)], "at least three corners in different places, not 2"),
        ([(0, 0), (0, 0), (5, 5), (5, 5)], "at least three corners in different places, not 2"),
        ([], "at least three corners"),
        ([(0, 0), (float("nan"), 1), (2, 2)], "no numbers"),
    ],
)
def test_too_few_corners_are_refused(corners, words):
    with pytest.raises(BadInput, match=words):
        shape_from_corners("blocks", at(*corners) if corners else [], as_area=True)


def test_corners_at_one_place_count_once():
    shape = shape_from_corners("blocks", at((0, 0), (0, 0.0005), (10, 0), (10, 10), (0, 0)), as_area=False)
    assert shape.geom_type == "Polygon"
    assert len(shape.exterior.coords) == 4


@pytest.mark.parametrize(
    ("table", "corners", "as_area", "kind"),
    [
        ("creeks", [(0, 0), (1, 1)], True, "LineString"),
        ("hazards", [(0, 0)], False, "Point"),
        ("hazards", [(0, 0), (1, 1)], False, "LineString"),
        ("hazards", [(0, 0), (1, 1), (0, 1)], True, "Polygon"),
        ("notes", [(0, 0)], False, "Point"),
    ],
)
def test_corners_make_the_kind_of_shape_that_a_table_keeps(table, corners, as_area, kind):
    assert shape_from_corners(table, at(*corners), as_area=as_area).geom_type == kind


def test_a_line_without_length_is_refused(farm):
    with pytest.raises(BadInput, match="at least two corners"):
        shape_from_corners("creeks", at((0, 0), (0, 0)), as_area=False)
    with pytest.raises(BadInput, match="has no length"):
        drawn(farm, "creeks", shapely.LineString(at((0, 0), (0, 0))))


def test_corners_on_one_line_enclose_no_ground(farm):
    with pytest.raises(BadInput, match="encloses no ground"):
        block(farm, area((300, 0), (350, 0), (400, 0)))


def test_the_wrong_kind_of_shape_is_refused(farm):
    with pytest.raises(BadInput, match="drawn as an area"):
        block(farm, line((0, 0), (1, 1)))
    with pytest.raises(BadInput, match="not as an area"):
        drawn(farm, "fences", area((0, 0), (1, 1), (1, 0)))
    with pytest.raises(BadInput, match="trees are not drawn"):
        drawn(farm, "trees", shapely.Point(EAST, NORTH))
    with pytest.raises(BadInput, match="no table called ponds"):
        drawn(farm, "ponds", shapely.Point(EAST, NORTH))


def test_coordinates_off_the_grid_are_refused(farm):
    with pytest.raises(BadInput, match="does not lie on the farm's grid"):
        block(farm, shapely.box(NORTH, EAST, NORTH + 10, EAST + 10))
    with pytest.raises(BadInput, match="no numbers"):
        drawn(farm, "notes", shapely.Point(np.nan, NORTH))


def test_what_lies_far_from_the_farm_is_noted(farm):
    proposed = block(farm, shapely.box(EAST + 30_000, NORTH, EAST + 30_100, NORTH + 100))
    assert "30 km from the rest of the farm" in proposed.notes[0]


def test_a_second_block_of_one_name_is_noted(farm):
    proposed = block(farm, area((300, 0), (400, 0), (400, 9)), name="Far Slope")
    assert "There is a block called Far Slope already" in proposed.notes[0]


def test_values_are_checked(farm):
    with pytest.raises(BadInput, match="no field called colour"):
        block(farm, area((300, 0), (400, 0), (400, 9)), colour="red")
    with pytest.raises(BadInput, match="channel width of a creek is 900; 0 to 500 m"):
        drawn(farm, "creeks", line((0, 0), (9, 9)), {"channel_m": "900"})


def test_a_corner_is_put_in_where_a_point_lies_on_an_edge():
    square = area((0, 0), (10, 0), (10, 10), (0, 10))
    given = with_corners_at(square, at((5, 0), (10, 10), (7, 7), (2, 0.0005)))
    assert (shapely.get_coordinates(given)[:-1] - [EAST, NORTH]).round(4).tolist() == [
        [0, 0],
        [2, 0.0005],
        [5, 0],
        [10, 0],
        [10, 10],
        [0, 10],
    ]
    assert with_corners_at(square, at((7, 7), (20, 20))) is square


def test_a_farm_measured_from_a_corner_post_stays_so(farm):
    local = put(
        farm.with_tables(**{t: farm.tables[t].iloc[:0] for t in farm.tables}),
        blocks={"name": ["A"], "geometry": [shapely.box(0, 0, 50, 50)]},
    )
    assert local.grid.local
    with pytest.raises(BadInput, match="measured from a corner post"):
        block(local, area((300, 0), (400, 0), (400, 9)))
    assert carried_out(local, block(local, shapely.box(50, 0, 90, 50))).blocks.geometry.loc[2].area == pytest.approx(
        2000
    )
