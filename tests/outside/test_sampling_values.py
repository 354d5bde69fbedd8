"""Sampling against handbook examples and figures that follow from the formulas by hand.

T. E. Avery and H. E. Burkhart, Forest Measurements; W. Bitterlich (1984), The
Relascope Idea; F. Freese (1962), Elementary Forest Sampling, USDA Agriculture
Handbook 232; W. G. Cochran (1977), Sampling Techniques. The formulas are cited
from memory; the numbers of the point-sampling examples were read in course
slides on point sampling, the other ones worked out by hand from the formula.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from shapely import box

from farmmap.figures.sampling.estimators import plots_needed, simple, stratified
from farmmap.figures.sampling.tally import exact_weights, shares_inside, tally, walkthrough_weights
from farmmap.figures.sampling.zones import (
    PlotShape,
    along_slope_m,
    circle_radius_m,
    counted_stem_per_ha,
    gauge_angle_deg,
    limiting_distance_m,
    per_ha_of,
    slope_radius_m,
)
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.student import t_quantile

FREESE = [7, 10, 7, 4, 7, 8, 8, 8, 7, 5, 2, 6, 9, 7, 8, 6, 7, 11, 8, 8, 7, 3, 8, 7, 7]
"""Cords on 25 quarter-acre plots of 1,000: Freese 1962, simple random sampling (data from memory)."""

TEN = [182, 240, 205, 167, 228, 210, 195, 251, 178, 220]
CM_A_FOOT, M2_HA_A_FT2_ACRE = 30.48, 0.3048**2 / 0.40468564224


def test_limiting_distance_and_gauge_angle():
    assert limiting_distance_m(30.0, [1, 2, 4, 9]) == pytest.approx([15.0, 10.6066, 7.5, 5.0], abs=1e-4)
    assert [gauge_angle_deg(factor) for factor in (1, 2, 4)] == pytest.approx([1.145935, 1.620623, 2.291984], abs=1e-5)
    assert pytest.approx(limiting_distance_m(30.0, 4.0) * 100) == 30 * 25  # 25 diameters away at factor 4


def test_limiting_distance_in_feet():
    for factor, feet_an_inch in ((5, 3.89), (10, 2.75), (20, 1.944)):
        metres = limiting_distance_m(2.54, factor * M2_HA_A_FT2_ACRE)
        assert float(metres) / 0.3048 == pytest.approx(feet_an_inch, abs=0.005)
    of_foot = [float(limiting_distance_m(CM_A_FOOT, f * M2_HA_A_FT2_ACRE)) / 0.3048 for f in (10, 20)]
    assert of_foot == pytest.approx([33.0, 23.3], abs=0.05)
    an_acre = float(counted_stem_per_ha(CM_A_FOOT, 20 * M2_HA_A_FT2_ACRE)) * 0.40468564224
    assert an_acre == pytest.approx(25.479, rel=1e-3)  # the example works with the radius rounded to 1.944 ft an inch
    assert 1 / an_acre == pytest.approx(0.039248, rel=1e-3)


def test_stems_of_one_sweep():
    dbh = np.array([22.0, 30, 35, 41, 48])
    each = counted_stem_per_ha(dbh, 2.0)
    assert each == pytest.approx([52.6132, 28.2942, 20.7876, 15.1486, 11.0524], abs=1e-4)
    assert each.sum() == pytest.approx(127.8960, abs=1e-4)
    assert (each * basal_area_m2(dbh)).sum() == pytest.approx(10.0)
    assert np.sqrt(40_000 / np.pi * 10.0 / each.sum()) == pytest.approx(31.551974, abs=1e-5)


def test_mean_of_angle_counts():
    found = simple(2.0 * np.array([16, 14.5, 18, 12, 15, 17]))
    assert found.mean == pytest.approx(30.8333, abs=1e-4)
    assert found.se == pytest.approx(1.720788, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((26.40991, 35.25676), abs=1e-4)
    assert found.error_percent == pytest.approx(14.346, abs=1e-3)


def test_slopes():
    assert along_slope_m(1.0, 20.0) == pytest.approx(1.064178, abs=1e-6)
    assert along_slope_m(1.0, np.degrees(np.arctan(0.25))) == pytest.approx(1.030776, abs=1e-6)
    assert along_slope_m(limiting_distance_m(30.0, 2.0), 20.0) == pytest.approx(11.287310, abs=1e-6)
    assert along_slope_m(11.793101, 18.0) == pytest.approx(12.4, abs=1e-6)


def test_circles():
    areas = [100, 200, 400, 500, 1000]
    level = [circle_radius_m(area) for area in areas]
    assert level == pytest.approx([5.641896, 7.978846, 11.283792, 12.615663, 17.841241], abs=1e-6)
    assert per_ha_of(areas).tolist() == [100, 50, 25, 20, 10]
    on_slope = [5.820123, 8.230897, 11.640246, 13.014190, 18.404845]
    assert slope_radius_m(level, 20.0) == pytest.approx(on_slope, abs=1e-6)
    round_on_slope = PlotShape("circle", radius_m=level[2], slope_deg=20.0, uphill_deg=75.0)
    assert round_on_slope.ground([0.0], [0.0], [np.nan])[0].area == pytest.approx(400.0, rel=1e-3)


def test_a_circle_cut_by_a_straight_edge():
    shape, tract = PlotShape("circle", radius_m=circle_radius_m(400.0)), box(0, -100, 100, 100)
    middles = np.array([(0.0, 0), (3, 0), (6, 0), (9, 0)])
    inside = shares_inside(middles, shape, tract)
    assert inside * 400 == pytest.approx([200.0, 266.8965, 328.7222, 378.8154], rel=1e-4)
    factor = exact_weights(middles, np.full(4, np.nan), shape, tract)
    assert factor == pytest.approx([2.0, 1.498708, 1.216833, 1.055923], rel=1e-4)


def test_walkthrough():
    tract, point = box(0, -100, 100, 100), np.array([[5.0, 0], [5, 0]])
    assert walkthrough_weights(point, np.array([[2.0, 0], [4, 0]]), tract).tolist() == [2.0, 1.0]


def test_simple_random_sample_from_a_list_of_plots():
    found = simple(FREESE, population=1000)
    assert sum(FREESE) == 175
    assert np.var(FREESE, ddof=1) == pytest.approx(3.833333, abs=1e-6)
    assert found.se == pytest.approx(0.386652, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((6.20199, 7.79801), abs=1e-5)


def test_ten_plots_with_and_without_the_finite_population():
    found = simple(TEN)
    assert (found.mean, found.se) == pytest.approx((207.6, 8.726970), abs=1e-5)
    assert (found.low, found.high) == pytest.approx((187.85822, 227.34178), abs=1e-5)
    assert found.error_percent == pytest.approx(9.5095, abs=1e-4)
    finite = simple(TEN, population=60)
    assert finite.se == pytest.approx(7.966597, abs=1e-5)
    assert (finite.low, finite.high) == pytest.approx((189.57831, 225.62169), abs=1e-5)
    assert finite.error_percent == pytest.approx(8.680970, abs=1e-4)


@pytest.fixture(scope="module")
def spruces() -> tuple[np.ndarray, np.ndarray]:
    """Norway spruce, Saxony, on 56 by 38 m: Stoyan, Kendall and Mecke 1987; places in m and diameters in cm."""
    table = pd.read_csv(Path(__file__).parent / "data" / "spruces.csv")
    return table[["x", "y"]].to_numpy(), table["marks"].to_numpy() * 100


@pytest.mark.parametrize(("factor", "counted"), [(1, 30), (2, 13), (4, 7)])
def test_angle_count_among_the_spruces(spruces, factor, counted):
    """From the middle of the map; worked out from distances and diameters alone."""
    trees, dbh = spruces
    found = tally([[28.0, 19.0]], trees, dbh, PlotShape("angle count", baf_m2=factor))
    assert len(found.tree) == counted
    sweep = (counted_stem_per_ha(dbh[found.tree], factor) * basal_area_m2(dbh[found.tree])).sum()
    assert sweep == pytest.approx(factor * counted)


def test_a_circle_among_the_spruces(spruces):
    """500 m² about the middle of the map: 32 trees, 31.945 m²/ha."""
    trees, dbh = spruces
    shape = PlotShape("circle", radius_m=circle_radius_m(500.0))
    found = tally([[28.0, 19.0]], trees, dbh, shape)
    assert len(found.tree) == 32
    assert (basal_area_m2(dbh[found.tree]) * per_ha_of(500.0)).sum() == pytest.approx(31.945285, abs=1e-6)


def test_plots_needed_by_trying():
    found = simple(TEN)
    assert plots_needed(float(found.mean), float(found.se), 10, error=0.05) == 30
    cv = 13.293401
    assert (float(t_quantile(29)) * cv / 5) ** 2 == pytest.approx(29.568, abs=1e-3)


def test_stratified():
    plots = [180, 210, 195, 205, 120, 150, 135, 240, 260, 225, 255, 270]
    found = stratified(plots, np.repeat([0, 1, 2], [4, 3, 5]), [4.0, 2.5, 6.0])
    assert (found.mean, found.se) == pytest.approx((210.2, 4.677606), abs=1e-5)
    assert found.mean * 12.5 == pytest.approx(2627.5)
    assert found.df == pytest.approx(7.5953, abs=1e-4)


@pytest.mark.parametrize("cv", [0.5, 3.0, 13.3, 40.0, 120.0, 400.0])
@pytest.mark.parametrize("strata", [1, 4])
def test_the_plots_needed_are_just_enough(cv, strata):
    n = plots_needed(100.0, cv / np.sqrt(20), 20, strata)
    assert n == 2 * strata or (t_quantile(n - 1 - strata) * cv / 10) ** 2 > n - 1
    assert (t_quantile(n - strata) * cv / 10) ** 2 <= n
    assert plots_needed(100.0, np.nan, 20) is None
    assert plots_needed(0.0, 1.0, 20) is None
    assert plots_needed(1.0, 1e6, 20) is None
