"""Estimates over 2,000 draws on invented forests: no bias, and intervals that hold the truth as often as they say."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from farmmap.figures.sampling.estimators import qmd_estimate, ratio, simple, stratified
from farmmap.figures.sampling.tally import shares_inside, tally
from farmmap.figures.sampling.zones import PlotShape
from farmmap.plans.sampling.drawing import grid_points, slices, uniform_points
from tests.figures.sampling.forests import DRAWS, draws, forest, values

SHAPES = {
    "circle": PlotShape("circle", radius_m=10.0),
    "circle on a slope": PlotShape("circle", radius_m=10.0, slope_deg=30.0, uphill_deg=20.0),
    "strip": PlotShape("strip", length_m=30.0, width_m=10.0, bearing_deg=33.0),
    "angle count": PlotShape("angle count", baf_m2=4.0),
}


def bias(estimate, truth):
    """Return bias in standard errors of the mean of the draws, and in per cent of the truth."""
    off = float(estimate.mean.mean()) - truth
    return off / (float(estimate.mean.std()) / np.sqrt(len(estimate.mean))), 100 * off / truth


def held(estimate, truth):
    """Return how often the interval holds the truth, in per cent."""
    return 100 * float(np.mean((estimate.low <= truth) & (truth <= estimate.high)))


@pytest.mark.parametrize(
    ("kind", "ground", "shape", "plots"),
    [
        ("clustered", "neck", "circle", 25),
        ("regular", "long", "circle", 10),
        ("graded", "square", "circle", 10),
        ("clustered", "square", "circle on a slope", 25),
        ("regular", "neck", "circle on a slope", 15),
        ("clustered", "long", "strip", 15),
        ("regular", "square", "strip", 10),
        ("clustered", "neck", "angle count", 25),
        ("regular", "long", "angle count", 10),
        ("graded", "neck", "angle count", 15),
    ],
)
def test_with_known_places_nothing_is_biased_and_intervals_hold(kind, ground, shape, plots):
    there = forest(kind, ground)
    stems, basal = draws(there, SHAPES[shape], plots, "exact")
    for value, truth in ((stems, there.stems), (basal, there.basal_area)):
        found = simple(value)
        assert abs(bias(found, truth)[0]) < 3.3
        assert 93 <= held(found, truth) <= 97


@pytest.mark.parametrize(
    ("kind", "ground", "shape"),
    [
        ("clustered", "square", "circle"),
        ("graded", "long", "circle on a slope"),
        ("regular", "long", "angle count"),
        ("clustered", "neck", "strip"),
    ],
)
def test_the_walkthrough_rule_takes_the_bias_of_edges_away(kind, ground, shape):
    there = forest(kind, ground)
    _, without = draws(there, SHAPES[shape], 25, "none")
    stems, basal = draws(there, SHAPES[shape], 25, "walkthrough")
    assert bias(simple(without), there.basal_area)[1] < -5
    for value, truth in ((stems, there.stems), (basal, there.basal_area)):
        found = simple(value)
        assert abs(bias(found, truth)[1]) < 1.0  # corners and necks leave a little
        assert 93 <= held(found, truth) <= 97


def test_shifting_plots_inwards_would_bias_where_not_shifting_does_not():
    there, shape = forest("regular", "long"), SHAPES["circle"]
    inner = there.region.buffer(-shape.radius_m)
    middles = uniform_points(inner, DRAWS * 10, np.random.default_rng(2))
    count = tally(middles, there.trees, there.dbh_cm, shape)
    _, basal = values(there, shape, count, len(middles))
    assert bias(simple(basal.reshape(DRAWS, 10)), there.basal_area)[1] < -2  # thick trees stand at the edge


def test_parts_of_a_graded_forest_give_a_narrower_interval_that_holds_as_well():
    there, shape, each = forest("graded", "square"), SHAPES["circle"], 5
    parts = slices(there.region, 4, 90.0)
    random = np.random.default_rng(3)
    middles = np.stack([uniform_points(part, DRAWS * each, random).reshape(DRAWS, each, 2) for part in parts], axis=1)
    middles = middles.reshape(DRAWS, 4 * each, 2)
    count = tally(middles, there.trees, there.dbh_cm, shape, region=there.region, edge="exact")
    stems, _ = values(there, shape, count, middles.shape[0] * middles.shape[1])
    found = stratified(stems.reshape(DRAWS, -1), np.repeat(np.arange(4), each), [part.area for part in parts])
    assert abs(bias(found, there.stems)[0]) < 3.3
    assert 93 <= held(found, there.stems) <= 97
    assert found.df.min() >= each - 1
    assert found.df.max() <= 4 * (each - 1)
    plain = simple(draws(there, shape, 4 * each, "exact")[0])
    assert np.mean(found.high - found.low) < 0.75 * np.mean(plain.high - plain.low)


def test_unequal_parts_count_by_their_area():
    there, shape = forest("graded", "neck"), SHAPES["circle"]
    west, east = (there.region.intersection(half) for half in _halves(there.region, 100.0))
    random = np.random.default_rng(4)
    middles = np.concatenate(
        [uniform_points(part, DRAWS * n, random).reshape(DRAWS, n, 2) for part, n in ((west, 6), (east, 14))], axis=1
    )
    count = tally(middles, there.trees, there.dbh_cm, shape, region=there.region, edge="exact")
    stems, _ = values(there, shape, count, DRAWS * 20)
    found = stratified(stems.reshape(DRAWS, 20), np.repeat([0, 1], [6, 14]), [west.area, east.area])
    assert abs(bias(found, there.stems)[0]) < 3.3
    assert 93 <= held(found, there.stems) <= 97


def _halves(region, cut):
    west, south, east, north = region.bounds
    return box(west, south, cut, north), box(cut, south, east, north)


def test_plots_cut_by_the_edge_count_by_the_ground_inside():
    there, shape = forest("regular", "neck"), SHAPES["circle"]
    middles = uniform_points(there.region, DRAWS * 20, np.random.default_rng(5))
    count = tally(middles, there.trees, there.dbh_cm, shape)
    stems, _ = values(there, shape, count, len(middles))
    inside = shares_inside(middles, shape, there.region)
    assert inside.min() < 0.6
    found = ratio(stems.reshape(DRAWS, 20), inside.reshape(DRAWS, 20))
    assert abs(bias(found, there.stems)[1]) < 0.5  # a ratio of means has a bias of the order of 1/n
    assert 93 <= held(found, there.stems) <= 97


def test_the_quadratic_mean_diameter_of_plots_holds_that_of_the_forest():
    there = forest("clustered", "square")
    stems, basal = draws(there, SHAPES["angle count"], 20, "exact")
    truth = float(np.sqrt(np.mean(there.dbh_cm**2)))
    found = qmd_estimate(stems, basal)
    assert abs(bias(found, truth)[1]) < 0.5
    assert 93 <= held(found, truth) <= 97


def test_a_grid_is_unbiased_and_its_interval_is_too_wide_where_the_forest_changes_along_it():
    there, shape = forest("graded", "square"), SHAPES["circle"]
    random = np.random.default_rng(6)
    grids = [grid_points(there.region, 45.0, 25.0, random) for _ in range(DRAWS)]
    each = np.array([len(grid) for grid in grids])
    middles = np.concatenate(grids)
    count = tally(middles, there.trees, there.dbh_cm, shape, region=there.region, edge="exact")
    stems, _ = values(there, shape, count, len(middles))
    owner = np.repeat(np.arange(DRAWS), each)
    total = np.bincount(owner, stems) * 45.0**2 / there.region.area  # the sum over a grid is unbiased by design
    assert abs(total.mean() - there.stems) / (total.std() / np.sqrt(DRAWS)) < 3.3
    mean = np.bincount(owner, stems) / each
    assert abs(mean.mean() / there.stems - 1) < 0.01
    spread = np.sqrt(np.bincount(owner, (stems - mean[owner]) ** 2) / (each - 1) / each)
    assert np.mean(spread) > 1.3 * mean.std()  # treated as random, it claims less than it knows
