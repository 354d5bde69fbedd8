"""Chainage along creeks that fork, part, run round in rings, lie in pieces or are drawn by their banks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.ops
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Point

from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.figures.creek_lines import creeks_of
from farmmap.plans.planting.ground.stretch import Stretch, chainage_m, creek_length_m, find_part, piece_of, place_at
from tests.conftest import small_farm
from tests.place import EAST, NORTH
from tests.plans.meanders import creek_farm, sine_generated_creek, wandering_creek

NAME = "Sedge Creek"
BOTH = ("left", "right")


def line(*corners: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in corners])


def along(farm, *chainages: float) -> list[tuple[float, float]]:
    return [tuple(np.round(place_at(farm, NAME, at), 6) + 0.0) for at in chainages]


def test_straight_creek() -> None:
    farm = creek_farm(line((0, 0), (300, 0)), local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(300)
    assert along(farm, 0, 120, 300) == [(0, 0), (120, 0), (300, 0)]
    assert chainage_m(farm, NAME, 120, 7) == pytest.approx((120, 7))
    assert chainage_m(farm, NAME, -30, 40) == pytest.approx((0, 50))
    part = find_part(farm, Stretch(NAME, ("right", "left"), 50, 80))
    assert part.stretch == Stretch(NAME, BOTH, 50, 80)
    assert part.line.equals(MultiLineString([[(50, 0), (80, 0)]]))
    assert part.starts_m == (50,)


def test_flow_against_the_way_it_was_drawn_counts_from_the_other_end() -> None:
    farm = creek_farm(line((0, 0), (300, 0)), local=True, flows=["against"])
    assert along(farm, 0, 100) == [(300, 0), (200, 0)]
    part = find_part(farm, Stretch(NAME, BOTH, 0, 100))
    assert shapely.get_coordinates(part.reaches[0].line).tolist() == [[300, 0], [200, 0]]


def test_metres_are_of_ground() -> None:
    farm = creek_farm(line((0, 0), (1000, 0)))
    scale = find_part(farm, Stretch(NAME, BOTH)).creek.scale
    assert abs(scale - 1) > 1e-5
    assert creek_length_m(farm, NAME) == pytest.approx(1000 / scale)
    part = find_part(farm, Stretch(NAME, BOTH, 100, 400))
    assert part.line.length == pytest.approx(300 * scale)


def test_fork_is_measured_from_the_farthest_top_and_the_side_stream_by_its_mouth() -> None:
    rows = [line((0, 0), (300, 0)), line((300, 0), (600, 0)), line((300, 1000), (300, 0))]
    farm = creek_farm(rows, [2.0, 3.0, 2.0], local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(1300)
    assert along(farm, 0, 1000, 1100) == [(300, 1000), (300, 0), (400, 0)]
    assert chainage_m(farm, NAME, 0, 0) == pytest.approx((700, 0))
    part = find_part(farm, Stretch(NAME, BOTH, 900, 1100))
    wanted = MultiLineString([[(200, 0), (300, 0)], [(300, 100), (300, 0)], [(300, 0), (400, 0)]])
    assert part.line.equals(wanted)
    assert part.starts_m == pytest.approx((900, 900, 1000))
    assert [reach.half for reach in part.reaches] == [1.0, 1.0, 1.5]


def test_side_stream_that_ends_at_the_bank_in_the_midst_of_a_stretch() -> None:
    farm = creek_farm([line((0, 0), (400, 0)), line((100, 50), (100, 1.5))], [4.0, 1.0], local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(400)
    assert chainage_m(farm, NAME, 100, 50)[0] == pytest.approx(100 - 48.5)


def test_side_stream_longer_than_the_creek_above_it_is_the_top() -> None:
    farm = creek_farm([line((0, 0), (400, 0)), line((100, 500), (100, 0))], 2.0, local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(800)
    assert along(farm, 0, 500, 600) == [(100, 500), (100, 0), (200, 0)]
    assert chainage_m(farm, NAME, 0, 0) == pytest.approx((400, 0))


def test_island_counts_its_longer_arm_and_both_end_together() -> None:
    arms = [line((100, 0), (150, 50), (200, 0)), line((100, 0), (200, 0))]
    farm = creek_farm([line((0, 0), (100, 0)), *arms, line((200, 0), (300, 0))], 2.0, local=True)
    longer = 100 * 2**0.5
    assert creek_length_m(farm, NAME) == pytest.approx(200 + longer)
    assert along(farm, 100 + longer / 2) == [(150, 50)]
    assert chainage_m(farm, NAME, 199, 0) == pytest.approx((100 + longer - 1, 0))
    part = find_part(farm, Stretch(NAME, BOTH, 150, 220))
    assert len(part.reaches) == 2


def test_arm_that_leaves_for_good_is_measured_from_where_it_leaves() -> None:
    farm = creek_farm([line((0, 0), (400, 0)), line((100, 0), (100, -80))], 2.0, local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(400)
    assert chainage_m(farm, NAME, 100, -80)[0] == pytest.approx(180)


def test_ring_is_measured_once_round() -> None:
    ring = LineString(Point(EAST, NORTH).buffer(50).exterior.coords)
    farm = creek_farm(ring, local=True)
    assert creek_length_m(farm, NAME) == pytest.approx(ring.length)
    part = find_part(farm, Stretch(NAME, ("left",), 10, 60))
    assert part.line.length == pytest.approx(50)


def test_rows_that_lead_into_each_other_for_ever() -> None:
    rows = [line((0, 0), (100, 0)), line((100, 0), (100, 100)), line((100, 100), (0, 0)), line((100, 0), (200, -50))]
    farm = creek_farm(rows, [1.0, 2.0, 3.0, 4.0], local=True)
    assert 100 < creek_length_m(farm, NAME) < 460
    assert find_part(farm, Stretch(NAME, BOTH)).line.length == pytest.approx(sum(row.length for row in rows))


def test_pieces_follow_each_other_whatever_their_order_on_the_farm() -> None:
    pieces = [line((400, 0), (500, 0)), line((0, 0), (100, 0)), line((200, 0), (300, 0))]
    for rows in (pieces, [MultiLineString(pieces)]):
        farm = creek_farm(rows, 2.0, local=True)
        assert creek_length_m(farm, NAME) == pytest.approx(300)
        assert along(farm, 50, 150, 250) == [(50, 0), (250, 0), (450, 0)]
        assert find_part(farm, Stretch(NAME, BOTH, 50, 250)).starts_m == pytest.approx((50, 100, 200))


def test_creek_drawn_by_both_banks_is_measured_along_the_longer() -> None:
    rows = [line((0, 0), (100, 0)), line((5, -10), (95, -10))]
    farm = creek_farm(rows, 2.0, local=True, drawn_as=["left bank", "right bank"])
    assert creek_length_m(farm, NAME) == pytest.approx(100)
    part = find_part(farm, Stretch(NAME, BOTH, 20, 40))
    assert part.line.equals(MultiLineString([[(20, 0), (40, 0)], [(20, -10), (40, -10)]]))
    assert [reach.widths for reach in part.reaches] == [(1, 0), (0, 1)]
    assert find_part(farm, Stretch(NAME, BOTH)).line.length == pytest.approx(190)


def test_names_in_any_case_and_farm_widths_of_no_account() -> None:
    farm = creek_farm(line((0, 0), (300, 0)), local=True, left_margin_m=[0.0], right_margin_m=[4.0])
    part = find_part(farm, Stretch(" sedge CREEK", BOTH))
    assert part.stretch.creek == NAME
    assert part.reaches[0].widths == (1, 1)


@pytest.mark.parametrize(
    ("stretch", "words"),
    [
        (Stretch("Reed Creek", BOTH), "there is no creek 'Reed Creek' on the farm; there are: Sedge Creek"),
        (Stretch(NAME, ()), "name one or both"),
        (Stretch(NAME, ("north",)), "a bank is left or right, looking downstream, not 'north'"),
        (Stretch(NAME, BOTH, 200, 100), "runs from 200.0 m to 100.0 m; chainage counts downstream"),
        (Stretch(NAME, BOTH, 100, 100), "the first must be the smaller"),
        (Stretch(NAME, BOTH, 100, 100.01), "too short to plant"),
        (Stretch(NAME, BOTH, -5, 100), "the beginning of the stretch, -5.0 m, does not lie along Sedge Creek"),
        (Stretch(NAME, BOTH, 0, 301), "301.0 m, does not lie along Sedge Creek, which runs from 0 to 300.0 m"),
        (Stretch(NAME, BOTH, float("nan")), "is not a number of metres"),
    ],
)
def test_what_cannot_be_is_told(stretch: Stretch, words: str) -> None:
    with pytest.raises(BadInput) as told:
        find_part(creek_farm(line((0, 0), (300, 0)), local=True), stretch)
    assert words in str(told.value)


def test_whole_metres_may_be_rounded_up_beyond_the_end() -> None:
    farm = creek_farm(line((0, 0), (299.7, 0)), local=True)
    assert find_part(farm, Stretch(NAME, BOTH, 0, 300)).stretch.to_m == pytest.approx(299.7)


def test_more_that_cannot_be() -> None:
    with pytest.raises(BadInput, match="the farm has no creeks yet"):
        creek_length_m(new_farm("Empty Pipit", "EPSG:2193"), NAME)
    planned = creek_farm(line((0, 0), (300, 0)), local=True, stage=["planned"])
    with pytest.raises(BadInput, match="only planned so far"):
        find_part(planned, Stretch(NAME, BOTH))
    one_bank = creek_farm(line((0, 0), (300, 0)), local=True, drawn_as=["left bank"])
    with pytest.raises(BadInput, match="right bank of Sedge Creek is not drawn, only its left bank"):
        find_part(one_bank, Stretch(NAME, BOTH))
    assert find_part(one_bank, Stretch(NAME, ("left",))).line.length == pytest.approx(300)
    with pytest.raises(BadInput, match="does not lie along"):
        place_at(one_bank, NAME, 400)
    with pytest.raises(BadInput, match="not on the map"):
        chainage_m(one_bank, NAME, float("nan"), 0)


def test_bank_not_drawn_on_this_stretch() -> None:
    rows = [line((0, 0), (100, 0)), line((100, 0), (200, 0))]
    farm = creek_farm(rows, 2.0, local=True, drawn_as=["centre line", "left bank"])
    with pytest.raises(BadInput, match="right bank of Sedge Creek is not drawn between 120 m and 180 m"):
        find_part(farm, Stretch(NAME, BOTH, 120, 180))


def test_same_part_until_the_creeks_change() -> None:
    farm = small_farm()
    part = find_part(farm, Stretch(NAME, BOTH))
    assert find_part(farm.with_tables(fences=farm.fences.copy()), Stretch(NAME, BOTH)) is part
    assert find_part(farm.with_tables(creeks=farm.creeks.copy()), Stretch(NAME, BOTH)) is not part


@given(st.integers(0, 5000), st.integers(2, 30), st.floats(0, 1), st.floats(0, 1))
def test_place_and_chainage_answer_each_other(seed: int, corners: int, share: float, other: float) -> None:
    farm = creek_farm(wandering_creek(seed, corners, 20.0, 20.0))
    length = creek_length_m(farm, NAME)
    found, off = chainage_m(farm, NAME, *place_at(farm, NAME, share * length))
    assert off == pytest.approx(0, abs=1e-6)
    assert np.hypot(*(np.array(place_at(farm, NAME, found)) - place_at(farm, NAME, share * length))) < 1e-6
    begin, end = sorted((share * length, other * length))
    if end - begin > 0.2:
        part = find_part(farm, Stretch(NAME, BOTH, begin, end))
        assert part.line.length == pytest.approx((end - begin) * part.creek.scale, abs=1e-3)
        assert part.line.geoms[0].coords[0] == pytest.approx(place_at(farm, NAME, begin), abs=2e-3)
        assert part.line.geoms[-1].coords[-1] == pytest.approx(place_at(farm, NAME, end), abs=2e-3)


def test_piece_of_a_line_is_what_shapely_cuts() -> None:
    whole = sine_generated_creek(500, 77, 80)
    for begin, end in ((0, 500), (12.3, 400.1), (250, 250.5), (0, 3)):
        wanted = shapely.remove_repeated_points(shapely.ops.substring(whole, begin, end), 1e-3)
        assert piece_of(whole, begin, end).equals_exact(wanted, 1e-6)
    assert piece_of(whole, 300, 300) is None


def test_a_creek_drawn_as_an_area_is_refused_in_words() -> None:
    farm = creek_farm(shapely.box(EAST, NORTH, EAST + 100, NORTH + 6))
    with pytest.raises(BadInput, match="drawn as an area, and a planting needs its line"):
        find_part(farm, Stretch("Sedge Creek", ("left",)))
    assert creeks_of(farm) == []
