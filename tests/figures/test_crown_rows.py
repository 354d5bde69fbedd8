"""Cover counted along rows beside the exact one."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from farmmap.figures.canopy import covered_area
from farmmap.figures.crown_rows import covered_by_rows, row_distance_m

REGIONS = (
    box(2, 3, 58, 37),
    Polygon(box(1, 1, 59, 39).exterior.coords, [box(5, 5, 20, 30).exterior.coords]),
    MultiPolygon([box(0, 0, 5, 40), Polygon([(12, 2), (58, 19), (12, 36)])]),
)


@pytest.mark.parametrize("region", REGIONS)
@pytest.mark.parametrize("number", [300, 3000])
@given(seed=st.integers(0, 2**32 - 1))
def test_within_a_thousandth_of_the_exact_cover(region, number: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    x, y = random.uniform(-3, 63, number), random.uniform(-3, 43, number)
    radius = random.uniform(0.2, 1.0, number) * (3 if number < 1000 else 1)
    assert covered_by_rows(x, y, radius, region) == pytest.approx(covered_area(x, y, radius, region), rel=1e-3)


def test_far_from_the_corner_of_the_grid_too() -> None:
    random = np.random.default_rng(2)
    x, y, radius = random.uniform(0, 60, 500), random.uniform(0, 40, 500), random.uniform(1, 2, 500)
    off = shapely.transform(REGIONS[1], lambda c: c + np.array([1.8e6, 5.4e6]))
    here, there = covered_by_rows(x, y, radius, REGIONS[1]), covered_by_rows(x + 1.8e6, y + 5.4e6, radius, off)
    assert there == pytest.approx(here, rel=1e-6)


def test_what_is_not_known_covers_nothing() -> None:
    assert covered_by_rows([], [], [], REGIONS[0]) == 0
    assert covered_by_rows([5, np.nan], [5, 5], [np.nan, 2], REGIONS[0]) == 0
    assert covered_by_rows([500], [5], [2], REGIONS[0]) == 0
    assert covered_by_rows([5], [5], [2], Polygon()) == 0


def test_a_region_wholly_under_a_crown_is_covered() -> None:
    assert covered_by_rows([30], [20], [100], REGIONS[0]) == pytest.approx(REGIONS[0].area, rel=1e-6)


def test_rows_are_closer_for_fewer_and_smaller_crowns() -> None:
    assert row_distance_m([]) == row_distance_m(np.full(100_000, 3.0)) == 0.5
    assert row_distance_m(np.full(10, 3.0)) < row_distance_m(np.full(1000, 3.0)) < 0.5
    assert row_distance_m(np.full(10, 1.0)) < row_distance_m(np.full(10, 3.0))
