"""Places typed while drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.editing.exact import place_from_words
from farmmap.editing.ground import area_m2, bearing_deg, grid_bearing_deg, length_m
from farmmap.errors import BadInput
from farmmap.farm.grids import Grid
from tests.place import EAST, NORTH

GRID = Grid(2193)
LOCAL = Grid(2193, local=True)
START = (EAST, NORTH)


@pytest.mark.parametrize(
    ("text", "east", "north"),
    [
        ("25 @ 90", 25, 0),
        ("25@0", 0, 25),
        ("25 m @ 180°", 0, -25),
        ("25 m 90°", 25, 0),
        ("25 m at 90", 25, 0),
        ("25m 270 deg", -25, 0),
        ("12,5 @ 90", 12.5, 0),
        ("0.2 km @ 360", 0, 200),
        ("100 ft @ 90", 30.48, 0),
        ("10 @ 30", 5, 10 * math.cos(math.pi / 6)),
        ("+12 -5", 12, -5),
        ("-12.5 +5,5", -12.5, 5.5),
        ("+12, -5", 12, -5),
        ("−3 +4", -3, 4),
        ("25", 0, 25),
        ("25 m", 0, 25),
    ],
)
def test_lengths_and_steps_from_the_last_corner_are_metres_of_ground(text, east, north):
    x, y = place_from_words(text, START, GRID, toward=(EAST, NORTH + 3))
    scale = GRID.scale(*START)
    assert x - EAST == pytest.approx(east * scale, abs=2e-5)
    assert y - NORTH == pytest.approx(north * scale, abs=2e-5)
    assert place_from_words(text, (0, 0), LOCAL, toward=(0, 3)) == pytest.approx((east, north))


@pytest.mark.parametrize(
    "text",
    [
        "E 1812000 N 5478000",
        "e1812000 n5478000",
        "E: 1812000, N: 5478000",
        "N 5478000 E 1812000",
        "East 1 812 000 North 5 478 000",
        "1812000E 5478000N",
        "1812000 m E 5478000 m N",
        "1812000 5478000",
        "1812000, 5478000",
        "1812000;5478000",
        "1 812 000 5 478 000",
        "1 812 000, 5 478 000",
        "1,812,000 5,478,000",
        "1812000.0 5478000.0",
    ],
)
def test_coordinates_are_read_however_they_are_written(text):
    assert place_from_words(text, None, GRID) == START


def test_decimals_of_coordinates_are_kept():
    assert place_from_words("1 812 340.25 5 478 020.5", None, GRID) == (1_812_340.25, 5_478_020.5)
    assert place_from_words("E 12,5 N 7,25", None, LOCAL) == (12.5, 7.25)


@pytest.mark.parametrize(
    ("text", "start", "words"),
    [
        ("", START, "nothing is written"),
        ("over there", START, "cannot be read as a place; write a length and a grid bearing"),
        ("25 @ 400", START, "a bearing is 0 to 360 degrees"),
        ("25 @ -10", START, "a bearing is 0 to 360 degrees"),
        ("0 @ 90", START, "a length is more than 0 m"),
        ("25 chains @ 90", START, "chains is no unit of length here"),
        ("25 @ 90", None, "there is no corner yet to measure '25 @ 90' from"),
        ("+3 -4", None, "there is no corner yet"),
        ("+0 -0", START, "lead nowhere"),
        ("25 90", START, "does not lie on the farm's grid"),
        ("5478000 1812000", START, "does not lie on the farm's grid"),
        ("E 5 E 6", START, "cannot be read"),
        ("1 2 3", START, "cannot be read"),
    ],
)
def test_what_cannot_be_read_is_said(text, start, words):
    with pytest.raises(BadInput, match=words):
        place_from_words(text, start, GRID)


def test_a_length_alone_needs_a_direction():
    for toward in (None, START):
        with pytest.raises(BadInput, match="is a length alone; point which way"):
            place_from_words("25", START, GRID, toward)


@given(length=st.floats(0.1, 5000), bearing=st.floats(0, 359.99))
def test_what_is_typed_is_what_is_measured_on_the_ground(small, length, bearing):
    end = place_from_words(f"{length:.4f} @ {bearing:.4f}", START, GRID)
    assert length_m(small, [START, end]) == pytest.approx(float(f"{length:.4f}"), rel=1e-6, abs=1e-6)
    turned = (grid_bearing_deg(START, end) - float(f"{bearing:.4f}") + 180) % 360 - 180
    assert turned == pytest.approx(0, abs=1e-3)


@pytest.fixture(scope="module")
def small():
    from tests.conftest import small_farm

    return small_farm()


def test_bearings_along_the_ground_are_from_true_north(farm):
    true = bearing_deg(farm, START, (EAST, NORTH + 100))
    assert (true + 180) % 360 - 180 == pytest.approx(farm.grid.convergence_deg(*START), abs=1e-4)
    assert math.isnan(bearing_deg(farm, START, START))
    assert math.isnan(grid_bearing_deg(START, START))
    assert grid_bearing_deg((0, 0), (-1, 0)) == 270


def test_lengths_and_areas_along_the_ground(farm):
    square = np.array([(0, 0), (100, 0), (100, 100), (0, 100)]) + np.array(START)
    scale = farm.grid.scale(EAST + 50, NORTH + 50)
    assert area_m2(farm, square) == pytest.approx(10_000 / scale**2, rel=1e-7)
    assert area_m2(farm, square[::-1]) == pytest.approx(10_000 / scale**2, rel=1e-7)
    assert length_m(farm, square) == pytest.approx(300 / scale, rel=1e-7)
    assert length_m(farm, square[:1]) == length_m(farm, []) == area_m2(farm, square[:2]) == 0
    assert math.isnan(area_m2(farm, square[[0, 2, 1, 3]]))


def test_on_a_local_grid_the_plane_is_the_ground(farm):
    import shapely

    from tests.editing.made_farms import put

    bare = farm.with_tables(**{table: farm.tables[table].iloc[:0] for table in farm.tables})
    local = put(bare, blocks={"name": ["A"], "geometry": [shapely.box(0, 0, 50, 50)]})
    assert length_m(local, [(0, 0), (30, 40)]) == 50
    assert bearing_deg(local, (0, 0), (10, 10)) == pytest.approx(45)
