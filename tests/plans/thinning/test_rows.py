"""Planted rows found from where the trees stand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.thinning.rows import planted_rows


def turned(x, y, degrees):
    angle = np.radians(degrees)
    return x * np.cos(angle) + y * np.sin(angle), -x * np.sin(angle) + y * np.cos(angle)


@given(
    st.floats(0, 180),
    st.sampled_from([(4.0, 2.5), (3.0, 3.0), (5.0, 3.0), (6.0, 2.0)]),
    st.integers(0, 1000),
    st.floats(0.0, 0.35),
)
def test_direction_distance_and_rows_are_found(degrees, apart, seed, gaps) -> None:
    draw = np.random.default_rng(seed)
    across, along = np.meshgrid(np.arange(14.0), np.arange(25.0), indexing="ij")
    row, stays = across.ravel().astype(int), draw.random(across.size) >= gaps
    x = across.ravel() * apart[0] + draw.normal(0, 0.15, across.size)
    y = along.ravel() * apart[1] + draw.normal(0, 0.15, across.size)
    east, north = turned(x[stays], y[stays], degrees)
    found = planted_rows(east, north)
    assert found is not None
    assert found.apart_m == pytest.approx(apart[0], rel=0.01)
    if apart[0] != apart[1]:
        off = (found.bearing_deg - degrees + 90) % 180 - 90
        assert abs(off) < 1.0
        order = row[stays] - row[stays].min() + 1
        assert (found.row == order).all() or (found.row == found.count + 1 - order).all()


@given(st.integers(0, 300), st.integers(0, 300))
def test_scattered_trees_show_no_rows(seed, count) -> None:
    draw = np.random.default_rng(seed)
    assert planted_rows(*draw.random((2, count)) * 100) is None


def test_rows_are_numbered_from_the_west_and_from_the_south() -> None:
    across, along = np.meshgrid(np.arange(6.0) * 5, np.arange(20.0) * 2, indexing="ij")
    upright = planted_rows(across.ravel(), along.ravel())
    assert (upright.row == np.repeat(np.arange(1, 7), 20)).all()
    level = planted_rows(along.ravel(), across.ravel())
    assert (level.row == np.repeat(np.arange(1, 7), 20)).all()


def test_trees_at_one_place_show_no_rows() -> None:
    assert planted_rows(np.zeros(40), np.zeros(40)) is None
