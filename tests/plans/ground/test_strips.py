"""Ground of margins and zones: hand-worked creeks to the centimetre, and what must hold of any creek at all."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import Phase, assume, example, given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Polygon

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.margins import margins
from farmmap.figures.united import united
from farmmap.plans.planting.ground.stretch import CreekPart, Stretch, find_part
from farmmap.plans.planting.ground.strips import bands, bank_of, margin_ground, zone_reach
from farmmap.plans.planting.ground.widths import BankWidths, steady
from farmmap.plans.planting.recipes.recipe import Zone
from tests.place import EAST, NORTH
from tests.plans.any_creek import any_creeks, islanded, meanders, wanderings
from tests.plans.beside import beside, spots
from tests.plans.meanders import RIVER_LINES, creek_farm, seine_creek, sine_generated_creek, wandering_creek

NAME = "Sedge Creek"
BOTH = ("left", "right")
THREE = (Zone("water's edge", share=0.2), Zone("bank", share=0.5), Zone("upper bank", share=0.3))
HALF = 1.0


def at(*corners: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in corners])


def same(shape: shapely.Geometry, wanted: shapely.Geometry) -> bool:
    """Whether two shapes are the same to a thousandth of a millimetre, whatever corners lie along their sides."""
    near = shape.hausdorff_distance(wanted) <= 1e-6
    return near and shape.area == pytest.approx(wanted.area, abs=1e-3) and shape.length == pytest.approx(wanted.length)


def whole(farm: Farm, from_m: float | None = None, to_m: float | None = None) -> CreekPart:
    banks = tuple(
        bank for side, bank in enumerate(BOTH) if set(farm.creeks["drawn_as"]) & {"centre line", f"{BOTH[side]} bank"}
    )
    return find_part(farm, Stretch(NAME, banks, from_m, to_m))


def by_hand(part: CreekPart, *given: tuple[float, ...]) -> BankWidths:
    """Widths given at even steps from the beginning to the end of each stretch."""
    places = [
        start + np.linspace(0, reach.line.length / part.creek.scale, len(widths))
        for start, reach, widths in zip(part.starts_m, part.reaches, given, strict=True)
    ]
    return BankWidths(tuple(places), tuple(np.array(widths, float) for widths in given))


def sizes(farm: Farm, part: CreekPart, width: BankWidths) -> list[float]:
    return [margin_ground(farm, part, side, width).area for side in (0, 1)]


# Worked by hand


def test_straight_creek_is_two_rectangles() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0, local=True)
    part = whole(farm)
    left, right = (margin_ground(farm, part, side, steady(part, 12.0)) for side in (0, 1))
    assert same(left, shapely.box(0, 1, 100, 13))
    assert same(right, shapely.box(0, -13, 100, -1))
    zones = bands(farm, part, 0, steady(part, 12.0), THREE)
    assert [zone.area for zone in zones] == pytest.approx([240, 600, 360], abs=1e-6)
    assert np.array([zone.bounds[1::2] for zone in zones]) == pytest.approx(np.array([(1, 3.4), (3.4, 9.4), (9.4, 13)]))
    assert same(bank_of(farm, part, 0), LineString([(0, 1), (100, 1)]))
    assert np.array(zone_reach(steady(part, 12.0), THREE)) == pytest.approx(np.array([(0, 2.4), (2.4, 8.4), (8.4, 12)]))


@pytest.mark.parametrize("turn_deg", [10, 30, 60, 90, 120])
def test_bend_is_a_sector_outside_and_a_mitre_inside(turn_deg: float) -> None:
    turn = math.radians(turn_deg)
    line = at((0, 0), (100, 0), (100 + 100 * math.cos(turn), 100 * math.sin(turn)))
    farm = creek_farm(line, 2 * HALF, local=True)
    part = whole(farm)
    left, right = sizes(farm, part, steady(part, 10.0))
    out, near = HALF + 10.0, HALF
    assert right == pytest.approx(200 * 10 + turn / 2 * (out**2 - near**2), abs=0.01)
    assert left == pytest.approx(200 * 10 - math.tan(turn / 2) * (out**2 - near**2), abs=0.01)
    assert bank_of(farm, part, 0).length == pytest.approx(200 - 2 * HALF * math.tan(turn / 2), abs=0.001)
    assert bank_of(farm, part, 1).length == pytest.approx(200 + HALF * turn, abs=0.001)


def test_width_that_changes_evenly_is_a_trapezium() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0, local=True)
    part = whole(farm)
    width = by_hand(part, (5.0, 15.0))
    ground = margin_ground(farm, part, 0, width)
    assert same(ground, Polygon([(0, 1), (100, 1), (100, 16), (0, 6)]))
    zones = bands(farm, part, 0, width, THREE)
    assert [zone.area for zone in zones] == pytest.approx([200, 500, 300], abs=1e-6)
    assert np.array(zone_reach(width, THREE)) == pytest.approx(np.array([(0, 3), (1, 10.5), (3.5, 15)]))


def test_zones_of_fixed_width_are_cut_off_where_the_margin_is_narrow() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0, local=True)
    part = whole(farm)
    width = by_hand(part, (0.0, 10.0))
    zones = bands(farm, part, 0, width, (Zone("edge", width_m=4.0), Zone("rest", width_m=6.0)))
    assert [zone.area for zone in zones] == pytest.approx([40 * 4 / 2 + 60 * 4, 60 * 6 / 2], abs=1e-6)


def test_varying_width_round_a_bend() -> None:
    farm = creek_farm(at((0, 0), (100, 0), (100, 100)), 2.0, local=True)
    part = whole(farm)
    right = margin_ground(farm, part, 1, by_hand(part, (4.0, 10.0, 4.0)))
    assert right.area == pytest.approx(2 * 100 * 7 + math.pi / 4 * (11**2 - 1), abs=0.01)


def test_ends_are_flat_and_square_also_where_a_stretch_is_cut_out() -> None:
    farm = creek_farm(at((0, 0), (100, 0), (100, 100)), 2.0, local=True)
    part = whole(farm, 20, 70)
    for side, ground in enumerate(margin_ground(farm, part, side, steady(part, 8.0)) for side in (0, 1)):
        low, high = ((1, 9), (-9, -1))[side]
        assert same(ground, shapely.box(20, low, 70, high))
        assert bank_of(farm, part, side).length == pytest.approx(50, abs=1e-6)
    corner = whole(farm, 50, 100)
    assert same(margin_ground(farm, corner, 1, steady(corner, 8.0)), shapely.box(50, -9, 100, -1))


def test_fork_is_shared_at_the_middle_of_its_angle() -> None:
    main, arm = at((-100, 0), (0, 0), (100, 0)), at((-100, 100), (0, 0))
    farm = creek_farm([main, arm], 0.0, local=True)
    part = whole(farm)
    left, right = (margin_ground(farm, part, side, steady(part, 10.0)) for side in (0, 1))
    assert left.intersection(right).area == pytest.approx(0, abs=1e-6)
    above = math.tan(math.radians(45 / 2))
    between = Polygon([(0, 0), (-60, 0), (-60, 60 * above)])
    assert between.intersection(left).area == pytest.approx(between.intersection(left.union(right)).area, rel=0.01)
    both = shapely.union_all(farm.creeks.geometry.to_numpy()).buffer(10, quad_segs=256)
    ends = [shapely.box(-120, -20, -100, 20), shapely.box(100, -20, 120, 20)]
    assert left.union(right).difference(both).area < 0.02
    assert left.area + right.area == pytest.approx(left.union(right).area, abs=1e-6)
    middle = shapely.box(-60, -30, 60, 40)
    want = both.difference(shapely.union_all(ends)).intersection(middle).area
    assert left.union(right).intersection(middle).area == pytest.approx(want, abs=0.05)


def test_island_belongs_to_the_nearer_arm() -> None:
    arms = [at((0, 0), (50, 30), (100, 0)), at((0, 0), (50, -30), (100, 0))]
    farm = creek_farm([at((-50, 0), (0, 0)), *arms, at((100, 0), (150, 0))], 2.0, local=True)
    part = whole(farm)
    left, right = (margin_ground(farm, part, side, steady(part, 40.0)) for side in (0, 1))
    island = Polygon([(0, 0), (50, 30), (100, 0), (50, -30)])
    dry = island.difference(shapely.union_all(farm.creeks.geometry.to_numpy()).buffer(1.0, quad_segs=64))
    inside = [dry.intersection(ground) for ground in (left, right)]
    assert sum(ground.area for ground in inside) == pytest.approx(dry.area, abs=0.01)
    assert inside[0].area == pytest.approx(inside[1].area, rel=0.01)
    assert inside[0].centroid.y < 0 < inside[1].centroid.y  # left bank of the southern arm looks north-east


def test_channels_that_widen_run_on_without_a_notch() -> None:
    farm = creek_farm([at((0, 0), (100, 0)), at((100, 0), (200, 0))], [2.0, 6.0], local=True)
    part = whole(farm)
    ground = margin_ground(farm, part, 0, steady(part, 10.0))
    assert same(ground, shapely.union(shapely.box(0, 1, 100, 11), shapely.box(100, 3, 200, 13)))
    assert bank_of(farm, part, 0).length == pytest.approx(200, abs=1e-6)


def test_bank_drawn_by_itself_has_ground_on_its_own_side_only() -> None:
    line = at((0, 0), (40, 10), (100, 0))
    farm = creek_farm(line, 2.0, local=True, drawn_as=["left bank"])
    part = whole(farm)
    ground = margin_ground(farm, part, 0, steady(part, 10.0))
    turn = math.atan2(10, 40) + math.atan2(10, 60)
    assert ground.area == pytest.approx(10 * line.length + turn / 2 * 100, abs=0.01)
    assert same(bank_of(farm, part, 0), shapely.transform(line, lambda c: c - [EAST, NORTH]))
    assert margin_ground(farm, part, 1, steady(part, 10.0)).is_empty


def test_other_creeks_and_the_boundary_are_left_out() -> None:
    lines = [at((0, 0), (100, 0)), at((50, 50), (50, 0))]
    boundary = shapely.box(EAST - 10, NORTH - 5, EAST + 80, NORTH + 60)
    farm = creek_farm(lines, [2.0, 4.0], name="", local=True, boundary=boundary, flows=["as drawn"] * 2)
    farm = farm.with_tables(creeks=farm.creeks.assign(name=[NAME, "Side Creek"]))
    part = whole(farm)
    left, right = sizes(farm, part, steady(part, 10.0))
    assert left == pytest.approx(80 * 10 - 4 * 10, abs=1e-6)
    assert right == pytest.approx(80 * 4, abs=1e-6)
    assert bank_of(farm, part, 0).length == pytest.approx(80 - 4, abs=1e-6)


def test_widths_are_metres_of_ground_on_a_grid_with_a_scale() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0)
    part = whole(farm)
    assert part.creek.scale != 1
    assert sizes(farm, part, steady(part, 10.0))[0] == pytest.approx(1000 * part.creek.scale, abs=1e-6)


def test_zones_wider_than_the_margin_are_refused_with_their_line() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0, local=True)
    part = whole(farm)
    zones = (Zone("edge", width_m=4.0), Zone("timber", width_m=7.0))
    with pytest.raises(BadInput, match=r"line 31: with zone 'timber' the zones are 11.00 m wide, but .* only 10.00 m"):
        bands(farm, part, 0, steady(part, 10.0), zones, {"zones.0": 20, "zones.1": 30, "zones.1.width_m": 31})
    with pytest.raises(BadInput, match="timber"):
        zone_reach(steady(part, 10.0), zones)
    assert [band.is_empty for band in bands(farm, part, 0, steady(part, 10.0), zones[:1])] == [False]


def test_margin_without_width_is_no_ground() -> None:
    farm = creek_farm(at((0, 0), (100, 0)), 2.0, local=True)
    part = whole(farm)
    assert sizes(farm, part, steady(part, 0.0)) == [0, 0]
    assert all(band.is_empty for band in bands(farm, part, 0, steady(part, 0.0), THREE))


def test_same_ground_as_the_table_of_margins() -> None:
    farm = creek_farm(sine_generated_creek(600, 200, 50), 3.0, left_margin_m=[7.0], right_margin_m=[7.0])
    part = whole(farm)
    for side, margin in enumerate(margins(farm)):
        ground = margin_ground(farm, part, side, steady(part, 7.0))
        assert ground.area == pytest.approx(margin.polygon.area, rel=0.01)
        assert bank_of(farm, part, side).length == pytest.approx(margin.line.length, rel=0.01)


# What must hold of any creek


def holds(farm: Farm, part: CreekPart, width: BankWidths, zones: tuple[Zone, ...]) -> list[shapely.Geometry]:
    """Look at what must hold of the ground of both sides; return it."""
    grounds = []
    for side in (0, 1):
        ground = margin_ground(farm, part, side, width)
        own = bands(farm, part, side, width, zones)
        assert shapely.is_valid([ground, *own]).all()
        assert {shape.geom_type for shape in [ground, *own]} <= {"Polygon", "MultiPolygon"}
        small = 1e-5 * (1 + ground.length)
        assert sum(zone.area for zone in own) == pytest.approx(ground.area, abs=small)
        assert united(own).area == pytest.approx(ground.area, abs=small)
        assert all(shapely.difference(zone, ground).area <= small for zone in own)
        grounds.append(ground)
    assert shapely.intersection(*grounds).area <= 1e-5 * (1 + grounds[0].length)
    return grounds


@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])
@given(any_creeks, st.floats(0.0, 6.0), st.floats(0.5, 45.0), st.floats(0.0, 0.9), st.floats(0.1, 1.0))
def test_any_creek_at_all(lines: list[LineString], channel: float, width: float, begin: float, share: float) -> None:
    assume(all(line.length > 1 for line in lines))
    farm = creek_farm(lines, channel)
    part = whole(farm)
    length = part.stretch.to_m
    part = whole(farm, begin * length, (begin + (1 - begin) * share) * length)
    holds(farm, part, steady(part, width), THREE)


@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])
@given(any_creeks, st.lists(st.floats(0.0, 25.0), min_size=2, max_size=12), st.floats(0.0, 4.0))
@example(islanded(wandering_creek(385, 37, 21.523702313023644, 8.0)), [22.4, 0.0, 10.0, 6.394976747566885, 1e-4], 1e-7)
def test_any_creek_of_any_varying_width(lines: list[LineString], given_m: list[float], channel: float) -> None:
    assume(all(line.length > 1 for line in lines))
    farm = creek_farm(lines, channel)
    part = whole(farm)
    width = by_hand(part, *[tuple(given_m)] * len(part.reaches))
    assume(width.greatest_m > 0.1)
    holds(farm, part, width, THREE)


def spikes(ground: shapely.Geometry) -> list[np.ndarray]:
    """Corners at which an outline turns straight back."""
    found = []
    for ring in shapely.get_rings(shapely.get_parts(ground)):
        corners = shapely.get_coordinates(ring)[:-1]
        corners = corners[np.hypot(*(corners - np.roll(corners, 1, axis=0)).T) > 1e-6]
        back, ahead = np.roll(corners, 1, axis=0) - corners, np.roll(corners, -1, axis=0) - corners
        angle = np.arctan2(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0], (back * ahead).sum(axis=1))
        found += list(corners[np.abs(angle) < 1e-5])
    return found


open_creeks = st.one_of(
    st.builds(wandering_creek, st.integers(0, 10_000), st.integers(2, 12), st.floats(10.0, 30.0), st.floats(5.0, 15.0)),
    st.builds(sine_generated_creek, st.floats(60.0, 400.0), st.integers(20, 200), st.floats(0.0, 40.0), st.just(140.0)),
)


@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])
@given(open_creeks, st.sampled_from([0.0, 2.0]), st.floats(2.0, 10.0), st.floats(0.0, 0.9), st.floats(0.2, 1.0))
@example(
    sine_generated_creek(233.551368746072, 92, 24.131647890516867, 140.0), 0.0, 3.4, 0.3305568729326965,
    0.27779840025804925,
)  # fmt: skip
def test_flat_ends_have_no_spikes(line: LineString, channel: float, width: float, begin: float, share: float) -> None:
    farm = creek_farm(line, channel)
    length = whole(farm).stretch.to_m
    for part in (whole(farm), whole(farm, begin * length, (begin + (1 - begin) * share) * length)):
        for side in (0, 1):
            ground = margin_ground(farm, part, side, steady(part, width))
            for shape in (ground, *bands(farm, part, side, steady(part, width), THREE)):
                assert not spikes(shape)


simple = st.one_of(wanderings, meanders).filter(lambda line: line.is_simple)


@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])
@given(simple, st.sampled_from([0.0, 1.0, 3.0]), st.floats(2.0, 35.0), st.integers(0, 1))
def test_every_place_is_at_the_right_distance(line: LineString, channel: float, width: float, side: int) -> None:
    """Within a centimetre; places that are nearer to the other bank or to an end are another matter."""
    farm = creek_farm(line, channel, local=True)
    part = whole(farm)
    ends = [(0.0, 0.2 * width), (0.2 * width, 0.7 * width), (0.7 * width, width)]
    assert np.array(zone_reach(steady(part, width), THREE)) == pytest.approx(np.array(ends))
    for (inner, outer), band in zip(ends, bands(farm, part, side, steady(part, width), THREE), strict=True):
        places = spots(shapely.buffer(band, -1e-4))
        off = beside(part, side, places)
        assert (off <= outer + 0.01).all(), off.max() - outer
        own = off <= beside(part, 1 - side, places)
        own &= off <= shapely.distance(part.line, shapely.points(places)) - channel / 2 + 1e-6
        assert (off[own] >= inner - 0.01).all(), inner - off[own].min()


@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])
@given(simple, st.sampled_from([0.0, 1.0, 3.0]), st.floats(2.0, 35.0), st.integers(0, 1))
def test_no_place_within_reach_is_left_out(line: LineString, channel: float, width: float, side: int) -> None:
    farm = creek_farm(line, channel, local=True)
    part = whole(farm)
    ground = margin_ground(farm, part, side, steady(part, width))
    places = spots(part.line.buffer(width + channel), 200)
    off = beside(part, side, places)
    nearest = off <= shapely.distance(part.line, shapely.points(places)) - channel / 2 + 1e-6
    tips = np.min(
        [np.hypot(*(places - tip).T) for tip in (part.line.geoms[0].coords[0], part.line.geoms[-1].coords[-1])], axis=0
    )
    wanted = nearest & (off >= 0.01) & (off <= width - 0.01) & (off + 1 < beside(part, 1 - side, places))
    wanted &= (shapely.distance(bank_of(farm, part, side), shapely.points(places)) > 1e-6) & (tips > 1)
    missed = shapely.distance(ground, shapely.points(places[wanted]))
    assert (missed <= 0.01).all(), missed.max()


@pytest.mark.parametrize("line", RIVER_LINES)
@pytest.mark.parametrize("width", [5.0, 40.0])
def test_real_rivers_made_small(line: int, width: float) -> None:
    farm = creek_farm(seine_creek(line, 0.01), 4.0)
    part = whole(farm)
    grounds = holds(farm, part, steady(part, width), THREE)
    for side, ground in enumerate(grounds):
        bank = bank_of(farm, part, side)
        assert bank.length == pytest.approx(part.line.length, rel=0.02)
        assert ground.area <= width * part.creek.scale * bank.length * 1.5
    part = whole(farm, 0.3 * part.stretch.to_m, 0.6 * part.stretch.to_m)
    holds(farm, part, by_hand(part, (width, 1.0, width / 2)), THREE)


@pytest.mark.parametrize(("angle", "width"), [(60.0, 12.0), (110.0, 10.0), (110.0, 45.0)])
def test_meanders_of_thousands_of_corners(angle: float, width: float) -> None:
    """Thirty meanders and a half: turned round by half a circle the creek is itself, its left bank its right."""
    farm = creek_farm(sine_generated_creek(3050.0, 3050, angle), 2.0)
    part = whole(farm)
    grounds = holds(farm, part, steady(part, width), THREE)
    for side, ground in enumerate(grounds):
        places = spots(ground, 200)
        off = beside(part, side, places) / part.creek.scale
        assert (off <= width + 0.01).all()
    assert grounds[0].area == pytest.approx(grounds[1].area, rel=1e-8)


@pytest.mark.parametrize(("angle", "width"), [(20.0, 5.0), (30.0, 12.0), (60.0, 12.0), (80.0, 8.0)])
def test_meanders_wide_enough_not_to_fold_are_sectors_and_mitres(angle: float, width: float) -> None:
    """By hand, however unlike both sides are: the length times the width, and what each corner adds or takes away."""
    line = sine_generated_creek(2000.0, 700, angle, 140.0)
    farm = creek_farm(line, 2 * HALF, local=True)
    steps = np.diff(shapely.get_coordinates(line), axis=0)
    turn = (np.diff(np.arctan2(steps[:, 1], steps[:, 0])) + np.pi) % (2 * np.pi) - np.pi
    turn = turn[np.abs(turn) > 1e-9]
    for side, ground in enumerate(sizes(farm, whole(farm), steady(whole(farm), width))):
        inward = turn if side == 0 else -turn
        corners = np.where(inward > 0, -np.tan(inward / 2), -inward / 2).sum()
        wanted = line.length * width + corners * ((HALF + width) ** 2 - HALF**2)
        assert ground == pytest.approx(wanted, rel=2e-5)


def test_many_pieces_and_one_object_for_the_same_part() -> None:
    lines = MultiLineString([at((60 * i, 0), (60 * i + 40, 5)) for i in range(30)])
    farm = creek_farm(lines, 2.0)
    part = whole(farm)
    assert find_part(farm, part.stretch) is find_part(farm, part.stretch)
    grounds = holds(farm, part, steady(part, 6.0), THREE)
    assert [len(shapely.get_parts(ground)) for ground in grounds] == [30, 30]


def test_a_side_creek_s_margin_ends_at_the_creek_that_it_joins() -> None:
    """The side creek's line is drawn to the middle of the other's channel: nothing is planted beyond that channel."""
    main = LineString([(EAST, NORTH), (EAST + 200, NORTH)])
    side = LineString([(EAST + 100, NORTH + 80), (EAST + 100, NORTH)])
    farm = creek_farm([main, side], [4.0, 2.0], name=["Sedge Creek", "Rush Gully"])
    part = find_part(farm, Stretch("Rush Gully", ("left", "right")))
    for bank in (0, 1):
        ground = margin_ground(farm, part, bank, steady(part, 10.0))
        assert shapely.bounds(ground)[1] == pytest.approx(NORTH + 2.0, abs=0.01)
        assert ground.area == pytest.approx(10.0 * 78.0 * part.creek.scale**2, rel=0.001)
