"""Scattered plants: apart, evenly dense, no seam, the same for the same seed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from farmmap.plans.planting.places.scatter import SCATTER_DENSITY, TILE, scattered, tile
from tests.plans.creek_strips import nearest, outside_m


def test_the_tile_holds_as_many_as_are_said_and_none_nearer_across_its_seam():
    places = tile()
    assert len(places) / TILE**2 == pytest.approx(SCATTER_DENSITY, abs=5e-5)
    assert ((places >= 0) & (places < TILE)).all()
    assert cKDTree(places, boxsize=TILE).query(places, k=2)[0][:, 1].min() >= 1.0


def test_hardly_any_room_is_left_on_the_tile():
    thrown = np.random.default_rng(5).uniform(0, TILE, (100_000, 2))
    far = cKDTree(tile(), boxsize=TILE).query(thrown)[0]
    assert (far >= 1.0).mean() < 2e-4
    assert far.max() < 1.1


@given(st.integers(0, 1000), st.floats(0.5, 30.0), st.integers(3, 12))
def test_apart_inside_and_dense_whatever_the_ground(seed, apart, corners):
    random = np.random.default_rng(seed)
    turn = np.sort(random.uniform(0, 2 * np.pi, corners))
    far = random.uniform(0.3, 1.0, corners) * 60 * apart
    ground = shapely.make_valid(shapely.Polygon(np.column_stack([far * np.cos(turn), far * np.sin(turn)]) + 5e6))
    ground = shapely.union_all([part for part in shapely.get_parts(ground) if part.area > 0])
    if ground.is_empty:
        return
    x, y = scattered(ground, apart, seed)
    assert nearest(x, y) >= apart * (1 - 1e-6)
    assert outside_m(ground, x, y) == 0.0
    inner = shapely.buffer(ground, -apart)
    if inner.area > 3000 * apart**2:
        count = int(shapely.contains_xy(inner, x, y).sum())
        assert count == pytest.approx(SCATTER_DENSITY * inner.area / apart**2, rel=0.03)


def test_the_same_seed_gives_the_same_and_another_one_another():
    ground = shapely.box(0, 0, 100, 40).difference(shapely.box(20, 10, 40, 30))
    first, again, other = (scattered(ground, 2.0, seed) for seed in (1, 1, 2))
    assert (first[0] == again[0]).all()
    assert (first[1] == again[1]).all()
    assert len(first[0]) != len(other[0]) or (first[0] != other[0]).any()
    assert shapely.contains_xy(shapely.box(20, 10, 40, 30), *first).sum() == 0


def test_what_every_place_of_the_ground_gets_does_not_depend_on_cells():
    """All places of the repeated tile that lie on the ground are there: looked up one by one over its rectangle."""
    ground = shapely.Polygon([(0, 0), (90, 10), (100, 60), (50, 40), (10, 80)])
    x, y = scattered(ground, 1.5, 3)
    taken = cKDTree(np.column_stack([x, y]))
    random = np.random.default_rng(1)
    thrown = random.uniform(0, 100, (20_000, 2))
    inside = thrown[shapely.contains_xy(shapely.buffer(ground, -1.5), thrown[:, 0], thrown[:, 1])]
    assert taken.query(inside)[0].max() < 1.1 * 1.5


def test_slivers_and_spacings_wider_than_the_ground():
    assert len(scattered(shapely.box(0, 0, 1, 1), 1000.0, 1)[0]) <= 1
    x, y = scattered(shapely.box(0, 0, 400, 0.01), 2.0, 1)
    assert outside_m(shapely.box(0, 0, 400, 0.01), x, y) == 0.0
