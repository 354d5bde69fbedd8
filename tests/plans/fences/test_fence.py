"""The fence along a planting: a hand-worked example, the corridor it keeps to, gates, crossings, floods and water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.heights import Heights
from farmmap.farm.schema import TABLES
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.fences.fence import Fencing, fencing, least_strain_m
from farmmap.plans.planting.fences.gates import APART_M, HUNG_M
from farmmap.plans.planting.ground.stretch import CreekPart, Stretch, find_part
from farmmap.plans.planting.ground.strips import margin_ground
from farmmap.plans.planting.ground.widths import steady
from farmmap.plans.planting.recipes.recipe import FenceWish
from tests.plans.meanders import creek_farm, seine_creek, sine_generated_creek, wandering_creek

STRAIGHT = LineString([(1_812_000, 5_478_000), (1_812_200, 5_478_000)])
WISH = FenceWish()
NEAR = 1e-6


def along(line: shapely.Geometry, width_m: float = 10.0, channel_m: float = 2.0, sides: tuple[int, ...] = (0, 1)):
    """Return a farm with a creek measured from a corner post, the creek, and the ground along its banks."""
    farm = creek_farm(line, channel_m, local=True)
    part = find_part(farm, Stretch("Sedge Creek", tuple(SIDES[side] for side in sides)))
    return farm, part, {side: margin_ground(farm, part, side, steady(part, width_m)) for side in sides}


def fenced(line: shapely.Geometry, wish: FenceWish = WISH, **more) -> Fencing:
    farm, part, grounds = along(line, **more)
    return fencing(farm, part, grounds, wish, None, 1.0)


def with_rows(farm: Farm, table: str, **values) -> Farm:
    count = len(values["geometry"])
    return farm.with_tables(**{table: shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)})


def apart(grounds: dict[int, shapely.Geometry], shapes: object) -> np.ndarray:
    """How far shapes lie from the nearer ground; a union of both would now and then lose a part (GEOS 3.14)."""
    return np.min([shapely.distance(ground, shapes) for ground in grounds.values()], axis=0)


def check(found: Fencing, grounds: dict[int, shapely.Geometry], wish: FenceWish, part: CreekPart) -> None:
    """Every fence keeps to its corridor, its strains add up, and it is told from end to end."""
    far = wish.set_back_m + max(wish.give_m, 0.1)
    for fence in found.lines:
        assert fence.line.length > 0
        places = shapely.points(shapely.get_coordinates(shapely.segmentize(fence.line, 0.5)))
        assert apart(grounds, fence.line) >= wish.set_back_m - NEAR
        assert apart(grounds, places).max() <= far + NEAR
        assert len(fence.strains_m) == shapely.get_num_coordinates(fence.line) - 1 == len(fence.angles_deg) - 1
        assert fence.length_m == pytest.approx(fence.line.length)
        assert fence.strains_m.sum() == pytest.approx(fence.length_m)
        assert fence.strains_m.max() <= wish.strain_most_m + NEAR
        assert ((fence.angles_deg >= 0) & (fence.angles_deg <= 180)).all()
        assert fence.wire_m == pytest.approx(wish.wires * (fence.length_m - len(fence.gates) * wish.gate_m))
        assert (shapely.distance(fence.line, shapely.points(fence.gates)) < NEAR).all()
        if part.line.is_simple:
            assert not fence.line.intersects(part.line)


def test_a_straight_fence_worked_by_hand():
    """200 m, 7 wires, 3 battens, posts every 4 m, strains of 80 m at most, a gate of 4 m at each end.

    Strains: the gates hang on the end posts, 192 / 80 is more than 2, so 3 of 64 m between them: 6 strainers.
    Posts: 64 m need 16 - 1 = 15: 45. Bays 3 x 16 = 48, battens 144. Wire: 7 x (200 - 8) = 1344 m.
    """
    wish = FenceWish(ends=False, strain_most_m=80.0, battens=3)
    (fence,) = fenced(STRAIGHT, wish, sides=(0,)).lines
    assert fence.side == 0
    assert fence.length_m == pytest.approx(200.0, abs=1e-6)
    assert fence.strains_m == pytest.approx([4.0, 64.0, 64.0, 64.0, 4.0], abs=1e-6)
    assert fence.angles_deg == pytest.approx(np.zeros(6), abs=1e-6)
    assert (fence.posts, fence.battens, len(fence.gates)) == (45, 144, 2)
    assert fence.wire_m == pytest.approx(1344.0, abs=1e-5)
    assert fence.gates[:, 0] == pytest.approx([198.0, 2.0], abs=1e-6)  # the planting lies to the left of the fence


def test_it_comes_back_to_the_bank_at_both_ends():
    """A margin of 10 m, 1 m set back: two corners, the returns at least 11 m and at most 13 m, each at the very bank."""
    left, right = fenced(STRAIGHT, FenceWish(gate_m=0.0)).lines
    assert (left.side, right.side) == (0, 1)
    for fence, bank in ((left, 1.0), (right, -1.0)):
        corners = shapely.get_coordinates(fence.line)
        assert len(corners) == 4 + 1  # 202 m and more are two strains of at most 200 m
        assert np.abs(corners[[0, -1], 1]) == pytest.approx([1.0, 1.0], abs=0.1)
        assert np.sign(corners[[0, -1], 1]).tolist() == [np.sign(bank)] * 2
        assert 11 <= fence.strains_m[0] <= 13
        assert 11 <= fence.strains_m[-1] <= 13
        assert 202 <= fence.strains_m[1:3].sum() <= 206
        assert fence.angles_deg[1] == pytest.approx(90, abs=12)
        assert fence.angles_deg[2] == pytest.approx(0, abs=1e-6)


def test_one_bank_only_and_none():
    (fence,) = fenced(STRAIGHT, sides=(1,)).lines
    assert fence.side == 1
    assert shapely.get_coordinates(fence.line)[:, 1].max() <= 0
    farm, part, grounds = along(STRAIGHT)
    assert fencing(farm, part, grounds, FenceWish(wanted=False), None, 1.0).lines == ()
    assert fencing(farm, part, {0: Polygon(), 1: MultiPolygon()}, WISH, None, 1.0).lines == ()
    assert fencing(farm, part, {}, WISH, None, 1.0).lines == ()


def drawn_on(part: CreekPart) -> shapely.Geometry:
    """Return the creek with all its reaches drawn 5 m on at both ends."""
    lines = []
    for reach in part.reaches:
        at = shapely.get_coordinates(reach.line)
        first, last = at[0] - at[1], at[-1] - at[-2]
        at = np.vstack([at[0] + 5 * first / np.hypot(*first), at, at[-1] + 5 * last / np.hypot(*last)])
        lines.append(LineString(at))
    return shapely.MultiLineString(lines)


@pytest.mark.parametrize("ends", [True, False])
@pytest.mark.parametrize(
    "line",
    [
        sine_generated_creek(600, 301, 60),
        sine_generated_creek(500, 251, 105),
        seine_creek(1, 0.002),
        seine_creek(3, 0.01),
        shapely.MultiLineString(
            [
                [(1_812_000, 5_478_000), (1_812_100, 5_478_040)],
                [(1_812_000, 5_478_090), (1_812_100, 5_478_040)],
                [(1_812_100, 5_478_040), (1_812_260, 5_478_045)],
            ]
        ),
    ],
    ids=["meander", "close necks", "river", "river 3", "fork"],
)
def test_creeks_of_all_kinds(line, ends):
    farm, part, grounds = along(line)
    wish = FenceWish(ends=ends, gates_every_m=150.0)
    found = fencing(farm, part, grounds, wish, None, 1.0)
    assert found.lines
    check(found, grounds, wish, part)
    if ends:
        for fence in found.lines:
            tips = shapely.points(shapely.get_coordinates(fence.line)[[0, -1]])
            assert shapely.distance(drawn_on(part), tips) == pytest.approx([1.0, 1.0], abs=0.1)


def test_an_island_and_a_pond_are_fenced_all_round():
    ring = Point(1_812_000, 5_478_000).buffer(60).exterior
    farm, part, grounds = along(LineString(ring.coords))
    wish = FenceWish(set_back_m=1.0)
    found = fencing(farm, part, grounds, wish, None, 1.0)
    assert all(fence.line.is_closed for fence in found.lines)
    assert sorted(fence.side for fence in found.lines) == [0, 1]
    inside, outside = (next(f for f in found.lines if f.side == side) for side in (0, 1))  # drawn anticlockwise or not
    longer, shorter = sorted((inside.length_m, outside.length_m), reverse=True)
    assert 2 * np.pi * 72 * 0.98 < longer < 2 * np.pi * 74
    assert 2 * np.pi * 46 * 0.98 < shorter < 2 * np.pi * 48
    check(found, grounds, wish, part)
    assert all(len(fence.gates) == 1 for fence in found.lines)


def test_only_grass_large_enough_to_be_grazed_is_fenced_within_a_planting():
    farm, part, _ = along(STRAIGHT, sides=(0,))
    ground = box(20, 1, 180, 120).difference(box(30, 20, 50, 40)).difference(box(80, 20, 140, 80))
    wish = FenceWish(gate_m=0.0)
    found = fencing(farm, part, {0: ground}, wish, None, 1.0)
    outer, inner = sorted(found.lines, key=lambda fence: -fence.length_m)
    assert inner.line.is_closed
    assert 4 * 54 * 0.9 < inner.length_m < 4 * 58
    assert box(80, 20, 140, 80).contains(inner.line)
    assert outer.length_m > 4 * 100
    crumbs = shapely.union_all(
        [ground, box(200, 50, 200.5, 50.2), box(300, 1, 340, 30).difference(box(310, 5, 320, 15))]
    )
    assert len(fencing(farm, part, {0: crumbs}, wish, None, 1.0).lines) >= 3


def test_fewer_strainers_where_there_is_more_give():
    line = sine_generated_creek(800, 401, 60)
    counts = [
        sum(len(f.angles_deg) for f in fenced(line, FenceWish(give_m=give, gate_m=0.0)).lines) for give in (0.5, 2, 6)
    ]
    assert counts[0] > counts[1] > counts[2]
    assert counts[2] < 60


def test_gates_stand_within_strains_and_at_tracks():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    track = LineString([(120, -50), (120, 50)])
    farm = with_rows(farm, "tracks", name=["Ford"], width_m=[4.0], geometry=[track])
    wish = FenceWish(gates_every_m=70.0, ends=False)
    (fence,) = fencing(farm, part, grounds, wish, None, 1.0).lines
    assert np.sort(fence.gates[:, 0]) == pytest.approx([2.0, 60.0, 120.0, 198.0], abs=1e-6)  # not 130
    corners = shapely.get_coordinates(fence.line)
    for gate in fence.gates:
        assert np.sort(np.hypot(*(corners - gate).T))[:2] == pytest.approx([2.0, 2.0])


def test_a_creek_that_comes_in_is_crossed_by_a_floodgate():
    farm, part, _ = along(STRAIGHT)
    brook = LineString([(90, 80), (95, 0)])
    creeks = [part.reaches[0].line, brook]
    farm = with_rows(farm, "creeks", name=["Sedge Creek", "Alder Brook"], channel_m=[2.0, 3.0], geometry=creeks)
    part = find_part(farm, Stretch("Sedge Creek", ("left",)))
    grounds = {0: margin_ground(farm, part, 0, steady(part, 10.0))}
    assert len(shapely.get_parts(grounds[0])) == 2
    found = fencing(farm, part, grounds, WISH, None, 1.0)
    (fence,) = found.lines
    assert fence.floodgates == pytest.approx(np.array([[94.2, 13.0]]), abs=1.5)
    assert any("floodgate" in note and "once" in note for note in found.notes)


def test_a_fence_that_stands_is_not_built_again():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    stands = LineString([(-20, 12.5), (120, 12.5)])
    across = LineString([(160, -40), (160, 40)])
    farm = with_rows(farm, "fences", name=["Creek fence", "Cross fence"], geometry=[stands, across])
    wish = FenceWish(ends=False, gate_m=0.0)
    found = fencing(farm, part, grounds, wish, None, 1.0)
    (fence,) = found.lines
    assert fence.length_m == pytest.approx(80, abs=4)
    assert shapely.get_coordinates(fence.line)[:, 0].min() > 115
    assert any("have a fence already" in note for note in found.notes)
    planned = with_rows(farm, "fences", name=["Creek fence"], stage=["planned"], geometry=[stands])
    assert fencing(planned, part, grounds, wish, None, 1.0).lines[0].length_m == pytest.approx(200)


@pytest.mark.parametrize(("gap_m", "gates"), [(3.0, 1), (12.0, 0), (80.0, 2)])
def test_gaps_between_fences_that_stand(gap_m, gates):
    """A gap no wider than a gate is the gate; a short one is closed without, a long one has its two."""
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    stand = [LineString([(-20, 12.0), (60, 12.0)]), LineString([(60 + gap_m, 12.0), (220, 12.0)])]
    farm = with_rows(farm, "fences", name=["Up", "Down"], geometry=stand)
    wish = FenceWish(ends=False)
    (fence,) = fencing(farm, part, grounds, wish, None, 1.0).lines
    assert fence.length_m == pytest.approx(gap_m, abs=0.1)
    assert len(fence.gates) == gates
    assert fence.wire_m == pytest.approx(0.0 if gap_m < wish.gate_m else 7 * (gap_m - 4 * gates), abs=1)
    assert fence.strains_m.min() > 2


@pytest.mark.parametrize(("creek_m", "gates"), [(15.0, 1), (200.0, 7)])
def test_a_short_fence_has_one_gate(creek_m, gates):
    short = LineString([(1_812_000, 5_478_000), (1_812_000 + creek_m, 5_478_000)])
    (fence,) = fenced(short, FenceWish(ends=False, gates_every_m=10.0), sides=(0,)).lines
    assert len(fence.gates) == gates
    if gates > 1:
        assert -np.diff(fence.gates[:, 0]).max() >= APART_M - NEAR
    (fence,) = fenced(STRAIGHT, FenceWish(gates_every_m=50.0), sides=(0,)).lines
    shut = fence.strains_m[np.abs(fence.strains_m - 4) > NEAR]
    assert shut.min() >= HUNG_M - NEAR  # the gates hang on the corners


def test_a_straight_fence_has_no_needless_strainers():
    line = LineString([(1_812_000, 5_478_000), (1_812_400, 5_478_000)])
    (fence,) = fenced(line, FenceWish(gates_every_m=150.0, ends=False), sides=(0,)).lines
    assert fence.strains_m == pytest.approx([4, 144, 4, 146, 4, 94, 4], abs=0.01)


@pytest.mark.parametrize("channel_m", [0.0, 3.0])
def test_one_ring_round_both_banks(channel_m):
    """Where the creek has no width, or is longer than the stretch, the ring crosses it twice: two floodgates."""
    farm = creek_farm(STRAIGHT, channel_m, local=True)
    from_to = (None, None) if channel_m == 0 else (95.0, 97.0)
    part = find_part(farm, Stretch("Sedge Creek", SIDES, *from_to))
    grounds = {side: margin_ground(farm, part, side, steady(part, 10.0)) for side in (0, 1)}
    if channel_m > 0:  # the banks' plantings are joined by hand, as a bend would join them
        grounds[0] = grounds[0].union(box(93, -1.6, 95.5, 11)).union(box(96.5, -1.6, 99, 11))
    (fence,) = (found := fencing(farm, part, grounds, WISH, None, 1.0)).lines
    assert fence.line.is_closed
    assert len(fence.gates) == 1
    assert len(fence.floodgates) == 2
    assert np.abs(fence.floodgates[:, 1]).max() < 0.01
    said = " ".join(found.notes)
    assert "round both banks of Sedge Creek in one ring" in said
    assert "crosses Sedge Creek itself twice" in said
    assert len(found.notes) == len({note.split(" at ")[0] for note in found.notes})  # each thing is said once


def test_the_fence_ends_at_the_boundary():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    farm = with_rows(farm, "boundary", name=[""], geometry=[box(50, -100, 300, 100)])
    grounds = {0: grounds[0].intersection(box(50, -100, 300, 100))}
    found = fencing(farm, part, grounds, FenceWish(gate_m=0.0), None, 1.0)
    (fence,) = found.lines
    assert shapely.get_coordinates(fence.line)[:, 0].min() == pytest.approx(50.0, abs=0.01)
    assert any("boundary" in note for note in found.notes)


def ground_that_rises(from_m: float) -> Heights:
    """Ground level beside the creek up to so far east, 10 m higher beyond."""
    values = np.where(np.arange(200) * 2.0 < from_m + 50, 3.0, 13.0)
    return Heights(np.tile(values, (100, 1)), -50.0, 100.0, 2.0, 2.0)


def test_flood_spans():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    wish = FenceWish(flood_m=1.0, ends=False, gate_m=0.0)
    found = fencing(farm, part, grounds, wish, ground_that_rises(100.0), 1.0)
    (fence,) = found.lines
    assert fence.flooded_m == pytest.approx(200, abs=1e-6)  # beyond 100 m the creek itself lies 10 m higher
    slanting = Heights(ground_that_rises(0).values * 0 + np.linspace(20, 0, 100)[:, None], -50.0, 100.0, 2.0, 2.0)
    found = fencing(farm, part, grounds, wish, slanting, 1.0)
    assert found.lines[0].flooded_m == 0  # the fence stands 12 m up the slope of 1 in 10: 1.2 m
    assert found.lines[0].flooded.is_empty
    step = ground_that_rises(0).values.copy()
    step[:, :] = 3.0
    step[:45, 75:] = 9.0  # from 100 m east on the land beside the creek lies 6 m over it
    found = fencing(farm, part, grounds, wish, Heights(step, -50.0, 100.0, 2.0, 2.0), 1.0)
    assert found.lines[0].flooded_m == pytest.approx(100, abs=5)
    assert found.lines[0].flooded.bounds[2] == pytest.approx(100, abs=5)
    assert any("less than 1 m above the creek" in note for note in found.notes)
    assert "no elevation grid" in " ".join(fencing(farm, part, grounds, wish, None, 1.0).notes)


def test_runs_back_to_the_bank_are_not_called_low():
    """Across a slope the fence itself stands 1.2 m up; only where it goes back to the creek is it lower than 1 m."""
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    slanting = Heights(np.tile(np.linspace(20, 0, 100)[:, None], (1, 200)), -50.0, 100.0, 2.0, 2.0)
    for flood_m, low_m in ((1.0, 0.0), (3.0, 204.0)):
        found = fencing(farm, part, grounds, FenceWish(flood_m=flood_m), slanting, 1.0)
        assert found.lines[0].flooded_m == pytest.approx(low_m, abs=2)
    assert any("the runs back to the bank left out" in note for note in found.notes)


def test_flood_spans_where_heights_end():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    half = Heights(np.full((100, 75), 3.0), -50.0, 100.0, 2.0, 2.0)
    found = fencing(farm, part, grounds, FenceWish(flood_m=1.0, ends=False), half, 1.0)
    assert found.lines[0].flooded_m == pytest.approx(100, abs=5)
    (said,) = [note for note in found.notes if note.startswith("No heights")]
    assert int(said.split("under ")[1].split(" m")[0]) == pytest.approx(100, abs=5)
    back = fencing(farm, part, grounds, FenceWish(flood_m=1.0), half, 1.0)
    (said,) = [note for note in back.notes if note.startswith("No heights")]
    assert int(said.split("under ")[1].split(" m")[0]) == pytest.approx(100, abs=5), "runs back are not looked at"


def test_troughs():
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    wish = FenceWish(water_every_m=60.0, water_off_m=30.0, ends=False)
    (fence,) = fencing(farm, part, grounds, wish, None, 1.0).lines
    assert len(fence.troughs) == 4
    assert np.sort(fence.troughs[:, 0]) == pytest.approx([25, 75, 125, 175], abs=0.01)
    assert shapely.distance(fence.line, shapely.points(fence.troughs)) == pytest.approx(np.full(4, 30.0), abs=1e-6)
    other = with_rows(
        farm,
        "creeks",
        name=["Sedge Creek", "Alder Brook"],
        channel_m=[2.0, 2.0],
        left_margin_m=[10.0, 10.0],
        right_margin_m=[10.0, 10.0],
        geometry=[part.reaches[0].line, LineString([(60, 45), (90, 41)])],
    )
    farm = with_rows(other, "boundary", name=[""], geometry=[box(-50, -50, 150, 100)])
    found = fencing(farm, part, grounds, wish, None, 1.0)
    brook = farm.creeks.geometry.iloc[1]
    troughs = np.vstack([fence.troughs for fence in found.lines])
    assert (shapely.distance(brook, shapely.points(troughs)) > 11).all()
    assert troughs[:, 0].max() < 150


def test_set_back_from_the_bank():
    wish = FenceWish(set_back_m=15.0, from_bank=True, ends=False, gate_m=0.0)
    farm, part, grounds = along(STRAIGHT, width_m=6.0)
    for fence in fencing(farm, part, grounds, wish, None, 1.0).lines:
        off = np.abs(shapely.get_coordinates(fence.line)[:, 1])
        assert off.min() >= 16 - 0.01
        assert off.max() <= 18
        assert fence.length_m == pytest.approx(200, abs=0.5)


def test_the_scale_of_the_grid_counts():
    """On a grid that draws everything a tenth larger, the fence is as long on the ground and needs as many posts."""
    small = fenced(STRAIGHT, FenceWish(ends=False)).lines
    farm = creek_farm(shapely.transform(STRAIGHT, lambda at: (at - at[0]) * 1.1), 2.2, local=True)
    farm = with_rows(farm, "creeks", name=["Sedge Creek"], channel_m=[2.2], geometry=[LineString([(0, 0), (220, 0)])])
    part = find_part(farm, Stretch("Sedge Creek", SIDES))
    grounds = {side: margin_ground(farm, part, side, steady(part, 11.0)) for side in (0, 1)}
    large = fencing(farm, part, grounds, FenceWish(ends=False), None, 1.1).lines
    assert [f.length_m for f in large] == pytest.approx([f.length_m for f in small])
    assert [f.posts for f in large] == [f.posts for f in small]


def test_sharp_turns_are_spoken_of():
    notes = fenced(STRAIGHT).notes
    assert any("turns by more than 30° at 4 of its strainers" in note for note in notes)


def test_a_fence_longer_than_nothing_is_told_with_odd_wishes():
    """No wires, no battens, no set-back, posts further apart than the fence is long: whole figures, nothing below 0."""
    wish = FenceWish(set_back_m=0.0, wires=0, post_m=500.0, strain_most_m=1000.0, gate_m=0.0, ends=False)
    (fence,) = fenced(STRAIGHT, wish, sides=(0,)).lines
    assert (fence.posts, fence.battens, fence.wire_m, len(fence.gates)) == (0, 0, 0.0, 0)
    assert fence.strains_m == pytest.approx([200.0])
    (gates,) = fenced(STRAIGHT, replace(wish, gate_m=300.0, gates_every_m=1.0), sides=(0,)).lines
    assert len(gates.gates) == 0  # no run is long enough for one


def test_a_stretch_of_three_metres():
    short = LineString([(1_812_000, 5_478_000), (1_812_003, 5_478_000)])
    for fence in fenced(short).lines:
        assert fence.length_m > 0
        assert fence.posts >= 0


def runs_of(fence) -> np.ndarray:
    """Length of each straight run of an open fence, through all posts at which it does not turn."""
    turned = np.append(np.flatnonzero(fence.angles_deg[:-1] > 1e-3), len(fence.strains_m))
    starts = np.append(0.0, np.cumsum(fence.strains_m))
    return np.diff(np.append(0.0, starts[turned]))


WISHES = st.builds(
    FenceWish,
    set_back_m=st.floats(0.0, 8.0),
    give_m=st.floats(0.0, 6.0),
    strain_most_m=st.floats(20.0, 300.0),
    gates_every_m=st.sampled_from([0.0, 60.0, 200.0]),
    water_every_m=st.sampled_from([0.0, 150.0]),
    ends=st.booleans(),
)


@given(
    st.integers(0, 10_000),
    st.integers(3, 30),
    st.floats(0.5, 40),
    st.floats(0.5, 8),
    WISHES,
    st.sampled_from([(0,), (1,), (0, 1)]),
)
def test_any_creek(seed, corners, width_m, channel_m, wish, sides):
    farm, part, grounds = along(wandering_creek(seed, corners), width_m, channel_m, sides)
    found = fencing(farm, part, grounds, wish, None, 1.0)
    for fence in found.lines:
        assert apart(grounds, fence.line) >= wish.set_back_m - NEAR
        places = shapely.points(shapely.get_coordinates(shapely.segmentize(fence.line, 1.0)))
        assert apart(grounds, places).max() <= wish.set_back_m + max(wish.give_m, 0.1) + NEAR
    again = fencing(farm, part, {side: shapely.force_2d(ground) for side, ground in grounds.items()}, wish, None, 1.0)
    assert [f.line.wkb for f in again.lines] == [f.line.wkb for f in found.lines]


@given(
    st.integers(0, 10_000), st.integers(3, 30), st.floats(0.5, 40), st.floats(0.5, 6), st.sampled_from([3.0, 4.0, 12.0])
)
def test_no_short_strain_beside_a_gate_along_any_creek(seed, corners, width_m, give_m, post_m):
    """Only where no straight run is long enough for a gate and such a strain."""
    wish = FenceWish(give_m=give_m, post_m=post_m, gates_every_m=60.0, strain_most_m=1000.0)
    farm, part, grounds = along(wandering_creek(seed, corners), width_m, 2.0)
    for fence in fencing(farm, part, grounds, wish, None, 1.0).lines:
        if not len(fence.gates) or fence.line.is_closed or runs_of(fence).max() < 4.0 + least_strain_m(wish) + NEAR:
            continue
        middles = shapely.get_coordinates(
            shapely.line_interpolate_point(fence.line, np.cumsum(fence.strains_m) - fence.strains_m / 2)
        )
        gate = (np.hypot(*(middles[:, None] - fence.gates).transpose(2, 0, 1)) < 1e-3).any(axis=1)
        straight = fence.angles_deg[1:-1] < 1e-3
        beside = np.zeros(len(gate), bool)
        beside[1:] |= straight & gate[:-1]
        beside[:-1] |= straight & gate[1:]
        assert (fence.strains_m[beside & ~gate] >= least_strain_m(wish) - NEAR).all()


@given(
    st.lists(
        st.tuples(st.floats(0, 120), st.floats(0, 120), st.floats(1e-4, 60), st.floats(1e-4, 60), st.booleans()),
        min_size=1,
        max_size=6,
    ),
    WISHES,
    st.booleans(),
)
def test_any_ground(shapes, wish, from_bank):
    """Many parts, holes, slivers, crumbs: never an error, never into the planting."""
    farm, part, _ = along(STRAIGHT, sides=(0,))
    ground = Polygon()
    for x, y, wide, high, hole in shapes:
        piece = box(x, y, x + wide, y + high)
        ground = ground.difference(piece) if hole else ground.union(piece)
    wish = replace(wish, from_bank=from_bank)
    found = fencing(farm, part, {0: ground}, wish, None, 1.0)
    for fence in found.lines:
        assert shapely.distance(ground, fence.line) >= (-1 if from_bank else wish.set_back_m - NEAR)
        assert not fence.line.crosses(ground)
