"""The mix of kinds: exact to a plant, and how each kind lies, set beside chance in two ways.

Random labelling: the same plants, kinds dealt out at random. Complete spatial
randomness: as many points strewn over the same ground, so that its edge acts
on both alike. Clark and Evans (1954, Ecology 35: 445-453) compare mean
distances to the nearest neighbour, R above 1 for a scatter more even than
chance, below 1 for clumps; Ripley (1977, Journal of the Royal Statistical
Society B 39: 172-212) counts pairs within a distance.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from farmmap.errors import BadInput
from farmmap.plans.planting.places.mixing import curve_order, exact_counts, mixed

SPACING = 2.0
SPRUCES = Path(__file__).parents[2] / "outside" / "data" / "spruces.csv"


def square(side=40):
    x, y = np.meshgrid(np.arange(side) * SPACING, np.arange(side) * SPACING)
    return x.ravel(), y.ravel()


def triangle(side=40):
    x, y = np.meshgrid(np.arange(side) * SPACING, np.arange(side) * SPACING * np.sqrt(0.75))
    x = x + (np.arange(side) % 2)[:, None] * SPACING / 2
    return x.ravel(), y.ravel()


def scattered(count=1500, side=100.0):
    """Points strewn at random, none nearer than the spacing to one before."""
    random = np.random.default_rng(5)
    points = random.uniform(0, side, (20 * count, 2))
    keep = np.ones(len(points), bool)
    for first, second in cKDTree(points).query_pairs(SPACING, output_type="ndarray").tolist():
        keep[second] &= not keep[first]
    points = points[keep][:count]
    return points[:, 0], points[:, 1]


def winding(rows, length_m):
    """Rows along a creek that winds, as plants of a narrow margin stand."""
    along = np.arange(0, length_m, SPACING)
    middle = np.array([0.7 * along, 60 * np.sin(along / 60)])
    step = np.gradient(middle, axis=1)
    off = np.array([-step[1], step[0]]) / np.hypot(*step)
    x, y = np.concatenate([middle + off * row * SPACING for row in range(rows)], axis=1)
    return x, y


PLANTS = {
    "square": square(),
    "triangle": triangle(),
    "scattered": scattered(),
    "three rows along a creek": winding(3, 1000),
    "one row along a creek": winding(1, 2500),
    "twelve rows along a creek": winding(12, 240),
}
MIXES = ([0.5, 0.5], [0.5, 0.3, 0.15, 0.05], [0.25] * 4, [0.4, 0.3, 0.2, 0.06, 0.02, 0.02], [0.1] * 10)


def mean_nearest_m(points):
    return cKDTree(points).query(points, k=2)[0][:, 1].mean()


def pairs_within(points, distances_m):
    tree = cKDTree(points)
    return (tree.count_neighbors(tree, distances_m) - len(points)) / 2


def strewn(ground, count, random):
    west, south, east, north = ground.bounds
    kept = np.empty((0, 2))
    while len(kept) < count:
        points = random.uniform((west, south), (east, north), (4 * count, 2))
        kept = np.concatenate([kept, points[shapely.contains_xy(ground, points)]])
    return kept[:count]


def test_the_statistics_of_the_test_equal_those_of_a_general_library():
    """pointpats 2.5.5: PointPattern.mean_nnd, and distance_statistics.k over the box around the points."""
    spruces = pd.read_csv(SPRUCES)[["x", "y"]].to_numpy()
    assert mean_nearest_m(spruces) == pytest.approx(2.5636697987869197, rel=1e-12)
    area, count = np.prod(np.ptp(spruces, axis=0)), len(spruces)
    k = 2 * pairs_within(spruces, np.array([1.53, 2.53, 3.53, 4.53, 5.53])) * area / count**2
    assert k == pytest.approx([1.070517, 8.564135, 22.052646, 44.5335, 69.583593], abs=1e-6)


@pytest.mark.parametrize("shares", MIXES, ids=str)
@pytest.mark.parametrize("where", PLANTS)
def test_no_kind_is_clumped_beside_random_labelling(where, shares):
    """R above the middle of random labellings, and at no distance more pairs than in their upper quarter.

    R says nothing of a kind that is half of all plants: nearly each has one of its own beside it, by chance or not.
    """
    points, random = np.column_stack(PLANTS[where]), np.random.default_rng(3)
    kinds = mixed(*PLANTS[where], shares)
    apart = SPACING * np.array([1.05, 1.5, 2.1, 3.1, 5.1, 8.1])
    for kind, share in enumerate(shares):
        own = points[kinds == kind]
        dealt = [points[random.permutation(kinds) == kind] for _ in range(39)]
        pairs = np.array([pairs_within(some, apart) for some in dealt])
        assert (pairs_within(own, apart) <= np.quantile(pairs, 0.75, axis=0)).all()
        assert pairs_within(own, apart)[2] < pairs[:, 2].mean()
        if share < 0.5:
            assert mean_nearest_m(own) > np.median([mean_nearest_m(some) for some in dealt])


@pytest.mark.parametrize("where", PLANTS)
def test_no_kind_is_clumped_beside_complete_spatial_randomness(where):
    points = np.column_stack(PLANTS[where])
    kinds = mixed(*PLANTS[where], [0.5, 0.3, 0.15, 0.05])
    ground = shapely.union_all(shapely.buffer(shapely.points(points), SPACING))
    random = np.random.default_rng(4)
    for kind in range(4):
        own = points[kinds == kind]
        chance = np.array([mean_nearest_m(strewn(ground, len(own), random)) for _ in range(39)])
        assert mean_nearest_m(own) > np.quantile(chance, 0.9)


def test_every_patch_of_the_ground_has_the_mix():
    """Counts in patches of 16 plants vary less than half as much as by chance (hypergeometric)."""
    x, y = PLANTS["square"]
    kinds = mixed(x, y, [0.5, 0.3, 0.2])
    patch = (x // (4 * SPACING)).astype(int) * 10 + (y // (4 * SPACING)).astype(int)
    counts = np.array([np.bincount(kinds[patch == one], minlength=3) for one in range(100)])
    by_chance = 16 * np.array([0.25, 0.21, 0.16]) * (1600 - 16) / (1600 - 1)
    assert (counts.var(axis=0, ddof=1) < 0.5 * by_chance).all()


@pytest.mark.parametrize("where", ["square", "scattered", "three rows along a creek", "twelve rows along a creek"])
@pytest.mark.parametrize("groups_of", [4, 9])
def test_groups_are_of_that_size_compact_and_clumped(where, groups_of):
    points = np.column_stack(PLANTS[where])
    kinds = mixed(*PLANTS[where], [0.04, 0.08, 0.88], groups_of)
    spacing = np.median(cKDTree(points).query(points, k=5)[0][:, 4])
    random = np.random.default_rng(6)
    for kind in (0, 1):
        own = points[kinds == kind]
        chance = [mean_nearest_m(points[random.permutation(kinds) == kind]) for _ in range(39)]
        assert mean_nearest_m(own) < min(chance)
        near = cKDTree(own).query_pairs(1.5 * spacing, output_type="ndarray")
        joined = coo_array((np.ones(len(near)), near.T), (len(own), len(own)))
        number, group = connected_components(joined, directed=False)
        sizes = np.bincount(group)
        assert np.mean(np.abs(sizes - groups_of) <= 1) > 0.8  # two groups may by chance lie side by side
        assert number == pytest.approx(len(own) / groups_of, rel=0.25)
        widest = [np.ptp(own[group == one], axis=0).max() for one in range(number) if sizes[one] <= groups_of + 1]
        assert max(widest) <= 2.5 * SPACING * groups_of**0.5


def test_the_same_input_gives_the_same_mix_and_another_seed_another():
    x, y = PLANTS["scattered"]
    first = mixed(x, y, [0.5, 0.3, 0.2], seed=7)
    assert (first == mixed(x.copy(), y.copy(), [0.5, 0.3, 0.2], seed=7)).all()
    other = mixed(x, y, [0.5, 0.3, 0.2], seed=8)
    assert 0.2 < np.mean(first != other) < 0.8
    assert (np.bincount(first) == np.bincount(other)).all()


coordinates = st.floats(-1e7, 1e7, allow_nan=False, width=32)
parts = st.lists(st.integers(0, 1000), min_size=1, max_size=8).filter(any)


@given(st.lists(st.tuples(coordinates, coordinates), max_size=60), parts, st.integers(1, 7), st.integers(0, 2**31 - 1))
def test_the_mix_is_exact_wherever_plants_stand(places, shares, groups_of, seed):
    x, y = np.array(places, float).reshape(-1, 2).T
    kinds = mixed(x, y, shares, groups_of, seed)
    assert np.bincount(kinds, minlength=len(shares)).tolist() == exact_counts(len(places), shares)


@given(st.integers(0, 10**6), parts)
def test_counts_keep_their_quota(total, shares):
    """Hamilton's method: each gets its quota rounded down or up, and the larger share never the fewer."""
    counts = exact_counts(total, shares)
    assert sum(counts) == total
    for count, share in zip(counts, shares, strict=True):
        quota = Fraction(total * share, sum(shares))
        assert quota - 1 < count < quota + 1
    for a, b in zip(counts, shares, strict=True):
        assert all(a >= c for c, d in zip(counts, shares, strict=True) if b > d)


def test_counts_by_hand():
    """Of 10, quotas of 4.21, 3.42 and 2.37: the one left goes to the second, whose rest is the largest."""
    assert exact_counts(10, [0.421, 0.342, 0.237]) == [4, 4, 2]
    assert exact_counts(10, [1, 1, 1]) == [4, 3, 3]  # equal rests: the first listed
    assert exact_counts(3, [0.1, 0.1, 0.1, 0.7]) == [1, 0, 0, 2]
    assert exact_counts(100, [0.07, 0.93]) == [7, 93]  # 100 * 0.07 is 7.000000000000001 in floating point
    assert exact_counts(0, [0.0]) == [0]
    assert exact_counts(7, [0, 5, 0]) == [0, 7, 0]


@pytest.mark.parametrize("shares", [[], [0.0, 0.0], [-0.1, 1.1], [float("nan"), 1.0], [float("inf")]])
def test_shares_that_are_none(shares):
    with pytest.raises(BadInput, match="mix"):
        exact_counts(5, shares)


def test_few_plants():
    assert mixed([], [], [0.5, 0.5]).tolist() == []
    assert mixed([1.0], [2.0], [0.4, 0.6]).tolist() == [1]
    assert mixed([1.0, 1.0], [2.0, 2.0], [0.5, 0.5]).tolist() in ([0, 1], [1, 0])
    assert mixed([1.0, 2.0], [2.0, 2.0], [1.0], groups_of=5).tolist() == [0, 0]


def test_the_curve_goes_from_neighbour_to_neighbour_and_passes_all():
    x, y = np.meshgrid(np.arange(64.0), np.arange(64.0))
    x, y = x.ravel(), y.ravel()
    order = curve_order(x, y)
    assert sorted(order) == list(range(len(x)))
    assert (np.abs(np.diff(x[order])) + np.abs(np.diff(y[order])) == 1).all()
