"""Shade of a creek: the sun's place against known values, shadows against hand-worked cases and a ray traced through."""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from farmmap.farm.grids import farm_grid
from farmmap.figures.banks import Reach
from farmmap.plans.planting.outcome.shade import (
    ENOUGH_PERCENT,
    LOWEST_SUN_DEG,
    Crowns,
    Sun,
    declination_deg,
    midsummer,
    shade_share,
    shaded,
    sun_through_day,
    water_of,
)
from tests.place import EAST, NORTH

SOLSTICE = 23.44
latitudes = st.floats(-60, 60)


def one_moment(azimuth_deg: float, altitude_deg: float) -> Sun:
    return Sun(np.array([np.radians(azimuth_deg)]), np.array([1 / np.tan(np.radians(altitude_deg))]), np.ones(1))


def creek(angle_deg: float, width: float, half_length: float = 30.0) -> Reach:
    """Return a straight creek through the origin; 0 runs east, 90 north."""
    step = half_length * np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    return Reach(LineString([-step, step]), width / 2, (1.0, 1.0))


def wall(angle_deg: float, off: float, radius: float, height: float, half_length: float = 400.0) -> Crowns:
    """Return a dense row of one size beside such a creek, its stems ``off`` to the left of the middle line."""
    along = np.arange(-half_length, half_length, radius / 5)
    step = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    x, y = (along[:, None] * step + off * np.array([-step[1], step[0]])).T
    return Crowns(x, y, np.full(len(x), radius), np.full(len(x), height))


def together(*rows: Crowns) -> Crowns:
    return Crowns(*(np.concatenate([getattr(row, name) for row in rows]) for name in ("x", "y", "radius", "height")))


@pytest.mark.parametrize(
    ("day", "expected", "off"),
    [
        (dt.date(2024, 6, 21), 23.44, 0.01),
        (dt.date(2024, 12, 21), -23.44, 0.01),
        (dt.date(1992, 10, 13), -7.78507 - 0.5 * 0.374, 0.01),  # Meeus, example 25.a, for midnight; half a day on
        (dt.date(2024, 3, 20), 0.0, 0.2),
        (dt.date(2024, 9, 22), 0.0, 0.2),
    ],
)
def test_declination(day: dt.date, expected: float, off: float) -> None:
    assert declination_deg(day) == pytest.approx(expected, abs=off)


@given(latitude=latitudes, declination=st.floats(-23, 23))
def test_noon_stands_as_high_as_known_and_the_day_is_even(latitude: float, declination: float) -> None:
    sun = sun_through_day(latitude, declination, moments=9600)
    noon = 90 - abs(latitude - declination)
    if noon < LOWEST_SUN_DEG + 0.1:
        return
    highest = np.degrees(np.arctan2(1, sun.cot_altitude.min()))
    assert highest == pytest.approx(noon, abs=0.05)
    assert sun.weight.sum() == pytest.approx(1)
    assert (np.diff(sun.azimuth_rad) >= 0).all()
    assert float(sun.weight @ np.sin(sun.azimuth_rad)) == pytest.approx(0, abs=1e-9)
    assert np.degrees(np.arctan2(1, sun.cot_altitude.max())) >= LOWEST_SUN_DEG - 1e-9


def test_the_sun_is_in_the_south_at_noon_in_the_north_and_the_other_way_round() -> None:
    for latitude, expected in ((50, 180), (-40, 0)):
        sun = sun_through_day(latitude, 0.0)
        noon = np.degrees(sun.azimuth_rad[np.argmin(sun.cot_altitude)])
        assert min(abs(noon - expected), 360 - abs(noon - expected)) < 6
    assert midsummer(-40).month == 12
    assert midsummer(50).month == 6


def test_no_sun_in_a_winter_near_the_pole() -> None:
    sun = sun_through_day(65, -SOLSTICE)
    assert not len(sun.weight)
    assert np.isnan(shade_share(water_of([creek(0, 4)]), wall(0, 4, 1, 5), sun))


def test_grid_north_is_turned_to_true_north() -> None:
    grid = farm_grid("EPSG:2193")
    east = EAST + 200_000
    lon, lat = grid.lon_lat(east, NORTH)
    x, y = [], []
    for latitude in (lat, lat + 1e-4):
        there = grid._datum_epsg_transformer.transform(lon, latitude, direction="INVERSE")
        x.append(there[0])
        y.append(there[1])
    true_north_on_grid = np.arctan2(x[1] - x[0], y[1] - y[0])
    convergence = grid.convergence_deg(east, NORTH)
    assert abs(convergence) > 1
    plain, turned = (sun_through_day(float(lat), -20.0, turn) for turn in (0.0, convergence))
    noons = [float(sun.azimuth_rad[np.argmax(sun.weight)]) for sun in (plain, turned)]
    assert (noons[1] - noons[0]) % (2 * np.pi) == pytest.approx(true_north_on_grid % (2 * np.pi), abs=1e-4)


def test_sun_overhead_shades_only_what_lies_under_crowns() -> None:
    water = water_of([creek(20, 4)])
    crowns = wall(20, 2.0, 1.0, 30.0)
    found = shade_share(water, crowns, Sun(np.zeros(1), np.zeros(1), np.ones(1)))
    under = (np.hypot(water.x[:, None] - crowns.x, water.y[:, None] - crowns.y) <= 1).any(axis=1)
    assert found == pytest.approx(under.mean())
    assert found == pytest.approx(0.25, abs=0.02)


@pytest.mark.parametrize("latitude", [-45.0, 30.0, 52.0])
def test_a_creek_from_east_to_west_at_the_equinox_has_the_same_shade_all_day(latitude: float) -> None:
    """The sun's height square to the creek is 90° − |φ| from morning to evening, so that a wall shades h·tan|φ|."""
    side, height, radius, width = (1 if latitude < 0 else -1), 4.0, 0.3, 12.0
    sun = sun_through_day(latitude, 0.0)
    water = water_of([creek(0, width, 10)])
    found = shaded(water.x, water.y, wall(0, side * (width / 2 + 0.5), radius, height, 100), sun)
    reach = np.hypot(radius, height * np.tan(np.radians(abs(latitude)))) - 0.5
    expected = width / 2 - side * water.y < reach
    sure = np.abs(width / 2 - side * water.y - reach) > 0.05
    assert 0.1 < expected.mean() < 0.9
    np.testing.assert_array_equal(found[sure], np.repeat(expected[sure, None], len(sun.weight), axis=1))
    other = shade_share(water, wall(0, -side * (width / 2 + 0.5), radius, height, 100), sun)
    assert other == 0.0  # the bank away from the sun shades nothing


@given(angle=st.floats(0, 180), azimuth=st.floats(0, 360), altitude=st.floats(15, 85), height=st.floats(0.5, 8))
def test_an_endless_wall_shades_as_far_as_its_hand_worked_reach(
    angle: float, azimuth: float, altitude: float, height: float
) -> None:
    """Square to the wall the sun stands at tan β = tan a / |sin δ|, and domes reach √(c² + h² cot² β)."""
    radius, width = 0.8, 10.0
    sun, water = one_moment(azimuth, altitude), water_of([creek(angle, width, 10)])
    found = shaded(water.x, water.y, wall(angle, width / 2 + 1, radius, height, 80), sun)[:, 0]
    outward = np.array([-np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    toward_sun = np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))]) @ outward
    across = width / 2 + 1 - np.column_stack([water.x, water.y]) @ outward
    reach = np.hypot(radius, height / np.tan(np.radians(altitude)) * toward_sun) if toward_sun > 0 else radius
    sure = np.abs(across - reach) > 0.03 * max(reach, 1.0)
    np.testing.assert_array_equal(found[sure], (across < reach)[sure])


@given(seed=st.integers(0, 100_000), azimuth=st.floats(0, 359.9), altitude=st.floats(11, 89))
def test_shade_is_where_a_line_to_the_sun_meets_a_dome(seed: int, azimuth: float, altitude: float) -> None:
    random = np.random.default_rng(seed)
    east, north = random.uniform(-15, 15, (2, 12))
    crowns = Crowns(east, north, random.uniform(0.1, 4, 12), random.uniform(0, 15, 12))
    x, y = random.uniform(-20, 20, (2, 60))
    found = shaded(x, y, crowns, one_moment(azimuth, altitude))[:, 0]
    a, az = np.radians(altitude), np.radians(azimuth)
    ray = np.array([np.cos(a) * np.sin(az), np.cos(a) * np.cos(az), np.sin(a)])
    size = np.column_stack([crowns.radius, crowns.radius, np.maximum(crowns.height, 1e-9)])
    start = np.stack([x[:, None] - crowns.x, y[:, None] - crowns.y, np.zeros((60, 12))], axis=-1) / size
    way = ray / size
    p, q, r = (way * way).sum(axis=-1), (start * way).sum(axis=-1), (start * start).sum(axis=-1) - 1
    room = q * q - p * r
    met = (r <= 0) | ((room >= 0) & (-q + np.sqrt(np.maximum(room, 0)) > 0))
    sure = (np.abs(room) > 1e-6 * (1 + q * q)).all(axis=1)
    np.testing.assert_array_equal(found[sure], met.any(axis=1)[sure])


@given(latitude=latitudes, declination=st.floats(-23, 23), seed=st.integers(0, 1000))
def test_north_and_south_mirror_each_other(latitude: float, declination: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    x, y, radius, height = *random.uniform(-20, 20, (2, 30)), random.uniform(0.5, 3, 30), random.uniform(1, 12, 30)
    spots = random.uniform(-10, 10, (2, 80))
    means = []
    for turn in (1, -1):
        sun = sun_through_day(turn * latitude, turn * declination)
        means.append(shaded(spots[0], turn * spots[1], Crowns(x, turn * y, radius, height), sun) @ sun.weight)
    np.testing.assert_allclose(means[0], means[1], atol=1e-3)


@given(seed=st.integers(0, 1000), more=st.floats(1, 3), latitude=latitudes)
def test_higher_and_wider_plants_never_shade_less(seed: int, more: float, latitude: float) -> None:
    random = np.random.default_rng(seed)
    x, y, radius, height = *random.uniform(-20, 20, (2, 30)), random.uniform(0.5, 3, 30), random.uniform(1, 12, 30)
    water, sun = water_of([creek(30, 5)]), sun_through_day(latitude, 10.0)
    plain, higher, wider = (
        shaded(water.x, water.y, Crowns(x, y, radius * wide, height * tall), sun)
        for wide, tall in ((1, 1), (1, more), (more, 1))
    )
    assert not (plain & ~higher).any()
    assert not (plain & ~wider).any()


@pytest.mark.parametrize("angle", [0, 45, 90])
def test_wider_channels_are_shaded_less(angle: float) -> None:
    sun = sun_through_day(-40, -SOLSTICE)
    shares = []
    for width in (1.0, 2.0, 4.0, 8.0, 16.0):
        rows = together(*(wall(angle, turn * (width / 2 + 1), 1.2, 5.0, 60) for turn in (1, -1)))
        shares.append(shade_share(water_of([creek(angle, width)]), rows, sun))
    assert all(wide <= narrow + 0.01 for narrow, wide in itertools.pairwise(shares))
    assert shares[0] > 0.8
    assert shares[-1] < 0.5


@pytest.mark.parametrize("latitude", [-36.0, -41.0, -46.0])
def test_height_to_width_for_enough_shade_is_as_published(latitude: float) -> None:
    """The trade guide's NZ15 (N. Z. J. Mar. Freshw. Res. 2021): 70 % at H/W 1.0 to 2.6, E-W up to 34 % less than N-S."""
    sun, width = sun_through_day(latitude, -SOLSTICE), 4.0
    found = {}
    for angle in (0, 90):
        for ratio in (0.9, 1.0, 1.5, 2.6):
            height = ratio * width
            radius = 0.35 * height
            rows = together(*(wall(angle, turn * (width / 2 + radius / 2), radius, height, 80) for turn in (1, -1)))
            found[angle, ratio] = 100 * shade_share(water_of([creek(angle, width, 15)]), rows, sun)
    assert found[90, 0.9] < ENOUGH_PERCENT + 1
    assert found[0, 1.0] < ENOUGH_PERCENT < min(found[0, 2.6], found[90, 2.6])
    assert 0 < found[90, 1.0] - found[0, 1.0] < 34


def test_spots_lie_on_the_water_and_stand_for_all_of_it() -> None:
    line = LineString([(0, 0), (100, 0), (100, 50)])
    water = water_of([Reach(line, 2.0, (1.0, 1.0)), Reach(LineString([(0, 20), (40, 20)]), 1.0, (1.0, 1.0))])
    assert water.area.sum() == pytest.approx(150 * 4 + 40 * 2, rel=0.02)
    off = np.minimum(np.abs(water.y), np.abs(water.y - 20))[water.x < 95]
    assert off.max() <= 2
    bare = water_of([Reach(line, 0.0, (1.0, 0.0))])
    assert bare.area.sum() == pytest.approx(150)
    assert len(water_of([]).x) == 0


def test_nothing_shades_where_nothing_grows() -> None:
    sun, water = sun_through_day(-40, -20), water_of([creek(0, 4)])
    none = Crowns(*np.empty((4, 0)))
    assert shade_share(water, none, sun) == 0
    bare = Crowns(np.zeros(3), np.zeros(3), np.array([0, np.nan, 0.5]), np.array([9, 9, np.nan]))
    assert 0 < shade_share(water, bare, sun) < 0.02
    assert np.isnan(shade_share(water_of([]), none, sun))
