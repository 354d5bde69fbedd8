"""Plants kept apart: no pair too near, few dropped, the later ones go, and what a spacing means in plants."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from farmmap.plans.planting.places.scatter import SCATTER_DENSITY
from farmmap.plans.planting.places.spacing import GIVE, kept_apart, least_apart_m, pairs_within, plants_per_m2, too_near
from farmmap.plans.planting.recipes.recipe import Pattern, Zone
from tests.plans.creek_strips import nearest


def _zone(pattern: Pattern, between: float = 3.0, within: float = 2.0) -> Zone:
    return Zone("z", pattern=pattern, between_m=between, within_m=within)


def _bad_pairs(x, y, apart) -> set[tuple[int, int]]:
    """Every pair looked at, as slow as can be."""
    return {
        (i, j)
        for i in range(len(x))
        for j in range(i)
        if math.hypot(x[i] - x[j], y[i] - y[j]) < min(apart[i], apart[j]) * (1 - GIVE)
    }


@given(st.integers(0, 10_000), st.integers(0, 60), st.sampled_from([1, 2, 3, 9]))
def test_what_stays_is_apart_and_nothing_goes_without_need(seed, count, kinds):
    random = np.random.default_rng(seed)
    x, y = random.uniform(0, 8, (2, count))
    apart = random.choice(np.linspace(0.5, 2.5, kinds), count)
    keep = kept_apart(x, y, apart)
    assert not _bad_pairs(x[keep], y[keep], apart[keep])
    bad = _bad_pairs(x, y, apart)
    assert {tuple(sorted(pair, reverse=True)) for pair in too_near(x, y, apart).tolist()} == bad
    touched = {place for pair in bad for place in pair}
    assert all(place in touched for place in np.flatnonzero(~keep))
    assert (kept_apart(x, y, apart) == keep).all()


@given(st.integers(0, 10_000), st.integers(2, 60), st.sampled_from([1, 3, 9]), st.sampled_from([1, 3, 12, 50]))
def test_only_pairs_of_different_patches_are_looked_for(seed, count, kinds, patches):
    random = np.random.default_rng(seed)
    x, y = random.uniform(0, 8, (2, count)) + np.array([[1.8e6], [5.4e6]])
    apart = random.choice(np.linspace(0.5, 2.5, kinds), count)
    patch = random.integers(-1 if seed % 2 else 0, patches, count)
    bad = {(i, j) for i, j in _bad_pairs(x, y, apart) if patch[i] != patch[j] or patch[i] < 0}
    assert {tuple(sorted(pair, reverse=True)) for pair in too_near(x, y, apart, patch).tolist()} == bad
    keep = kept_apart(x, y, apart, patch)
    left = np.flatnonzero(keep)
    assert not {(i, j) for i, j in bad if i in left and j in left}


def test_of_two_the_later_goes_and_the_one_in_the_midst_of_many_goes_first():
    assert kept_apart(np.array([0.0, 0.5]), np.zeros(2), 1.0).tolist() == [True, False]
    # one stands too near four others that are apart from one another: it alone goes, though it comes first
    x, y = np.array([0.0, 0.9, -0.9, 0.0, 0.0]), np.array([0.0, 0.0, 0.0, 0.9, -0.9])
    assert kept_apart(x, y, 1.0).tolist() == [False, True, True, True, True]


def test_two_plants_need_the_smaller_of_their_spacings():
    x, y = np.array([0.0, 1.5]), np.zeros(2)
    assert kept_apart(x, y, np.array([1.5, 4.0])).all()
    assert kept_apart(x, y, np.array([4.0, 4.0])).tolist() == [True, False]


def test_one_per_cent_is_given():
    assert kept_apart(np.array([0.0, 0.9901]), np.zeros(2), 1.0).all()
    assert kept_apart(np.array([0.0, 0.9899]), np.zeros(2), 1.0).sum() == 1


def test_no_plants_one_plant_and_all_at_one_place():
    assert len(kept_apart(np.empty(0), np.empty(0), np.empty(0))) == 0
    assert kept_apart(np.zeros(1), np.zeros(1), 5.0).all()
    assert kept_apart(np.zeros(7), np.zeros(7), 5.0).tolist() == [True] + [False] * 6
    assert kept_apart(np.zeros(3), np.zeros(3), np.zeros(3)).all()


def test_what_happens_at_one_place_does_not_depend_on_plants_elsewhere():
    random = np.random.default_rng(4)
    x, y = random.uniform(0, 30, (2, 300))
    alone = kept_apart(x, y, 1.5)
    both = kept_apart(np.concatenate([x, x + 1000]), np.concatenate([y, y]), 1.5)
    assert (both[:300] == alone).all()
    assert (both[300:] == alone).all()


@pytest.mark.parametrize(
    ("pattern", "per_ha", "least"),
    [
        (Pattern.ROWS, 10_000 / 6, 2.0),
        (Pattern.CONTOUR, 10_000 / 6, 2.0),
        (Pattern.SQUARE, 10_000 / 9, 3.0),
        (Pattern.TRIANGLE, 11_547.005 / 9, 3.0),
        (Pattern.SCATTERED, SCATTER_DENSITY * 10_000 / 9, 3.0),
        (Pattern.NONE, 0.0, 0.0),
    ],
)
def test_plants_per_hectare_by_the_handbook(pattern, per_ha, least):
    assert plants_per_m2(_zone(pattern)) * 10_000 == pytest.approx(per_ha, rel=1e-6)
    assert least_apart_m(_zone(pattern)) == least


def test_handbook_figures():
    # 3 x 3 m, 2.5 x 2.5 m and 2 x 2 m
    for side, per_ha in ((3.0, 1111.11), (2.5, 1600.0), (2.0, 2500.0)):
        assert plants_per_m2(_zone(Pattern.SQUARE, side)) * 10_000 == pytest.approx(per_ha, rel=1e-5)
    assert plants_per_m2(Zone("z")) == 0.0


def test_many_plants_in_close_order_are_thinned_to_their_spacing():
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(60) * 0.5, np.arange(60) * 0.5))
    keep = kept_apart(x, y, 1.0)
    assert nearest(x[keep], y[keep]) >= 0.99
    assert keep.sum() > 500  # of 900 that would have room


@given(st.integers(0, 10_000), st.integers(0, 150), st.floats(0.01, 60.0), st.sampled_from([0.0, 1.8e6]))
def test_pairs_within_a_reach_are_those_that_a_tree_of_places_finds(seed, count, reach, off):
    at = np.random.default_rng(seed).uniform(0, 40, (count, 2)) * [1.0, 0.3] + off
    pairs, apart = pairs_within(at[:, 0], at[:, 1], reach)
    wanted = cKDTree(at).query_pairs(reach, output_type="ndarray") if count else np.empty((0, 2), int)
    assert sorted(map(tuple, pairs.tolist())) == sorted(map(tuple, wanted.tolist()))
    assert (apart < reach).all()
    assert apart == pytest.approx(np.hypot(*(at[pairs[:, 0]] - at[pairs[:, 1]]).T))
