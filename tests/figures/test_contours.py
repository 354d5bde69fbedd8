"""Contours of surfaces whose contours are known."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from farmmap.farm.heights import Heights
from farmmap.figures.contours import contours, suiting_interval_m


def heights(rise, rows=40, columns=50, cell=10.0):
    x, y = np.meshgrid((np.arange(columns) + 0.5) * cell, (rows - np.arange(rows) - 0.5) * cell)
    return Heights(rise(x, y), 0.0, rows * cell, cell, cell)


def test_a_planes_contours_are_straight_and_equally_spaced():
    levels, lines = contours(heights(lambda x, y: 100 + 0.2 * x - 0.1 * y), 5.0)
    assert (np.diff(levels) == 5).all()
    assert levels[0] >= 100 - 40
    for level, line in zip(levels, lines, strict=True):
        x, y = shapely.get_coordinates(line).T
        np.testing.assert_allclose(100 + 0.2 * x - 0.1 * y, level, atol=1e-9)
        ends = shapely.LineString(np.column_stack([x, y])[[0, -1]])
        assert line.length == pytest.approx(ends.length, rel=1e-12)
    apart = [shapely.distance(lines[n], lines[n + 1]) for n in range(8, 16)]
    assert apart == pytest.approx([5 / np.hypot(0.2, 0.1)] * 8)


def test_a_cones_contours_are_rings():
    levels, lines = contours(heights(lambda x, y: np.hypot(x - 250, y - 200)), 20.0)
    for level, line in zip(levels, lines, strict=True):
        if level <= 180:
            assert line.is_ring
            assert line.length == pytest.approx(2 * np.pi * level, rel=0.02)
            assert np.hypot(*(shapely.get_coordinates(line) - [250, 200]).T) == pytest.approx(level, rel=0.07)


def test_nothing_crosses_unknown_ground():
    ground = heights(lambda x, y: 0.1 * x + 0 * y)
    ground.values[15:25, 20:30] = np.nan
    west, south, east, north = 205, 155, 295, 245
    _, lines = contours(ground, 1.0)
    assert not shapely.intersects(shapely.box(west + 1, south + 1, east - 1, north - 1), lines).any()
    assert len(lines) > 49


def test_flat_empty_and_tiny_grids_have_none():
    for values in (np.full((5, 5), 10.0), np.full((5, 5), np.nan), np.zeros((1, 9)), np.zeros((0, 0))):
        assert len(contours(Heights(values, 0, 0, 1, 1), 5.0)[1]) == 0


@given(hnp.arrays(np.float64, (5, 6), elements=st.integers(-6, 6).map(lambda n: n / 2)))
def test_every_crossed_side_is_crossed_once_whatever_the_ground(values):
    """Saddles, level ground and heights on a level: a contour ends only at the edge, and never crosses another."""
    ground = Heights(values, 0.0, 5.0, 1.0, 1.0)
    levels, lines = contours(ground, 1.0)
    above = values[None] >= np.unique(levels)[:, None, None]
    crossed = (above[:, 1:] != above[:, :-1]).sum() + (above[:, :, 1:] != above[:, :, :-1]).sum()
    points = shapely.get_coordinates(lines)
    assert (len(points) > 0) == (crossed > 0) or len(points) == 0
    inside = (points > [0.5, 0.5]).all(axis=1) & (points < [5.5, 4.5]).all(axis=1)
    assert ground.at(points[:, 0], points[:, 1]) == pytest.approx(np.repeat(levels, shapely.get_num_coordinates(lines)))
    for level in np.unique(levels):
        ends = np.concatenate(
            [shapely.get_coordinates(line)[[0, -1]] for line in lines[levels == level] if not line.is_ring]
            or [np.empty((0, 2))]
        )
        free = ends[((ends > [0.5, 0.5]) & (ends < [5.5, 4.5])).all(axis=1)]
        _, times = np.unique(free, axis=0, return_counts=True)
        assert (times % 2 == 0).all()
    assert inside.sum() <= len(points)


@pytest.mark.parametrize(
    ("range_m", "interval"), [(0.0, 0.25), (7, 0.25), (20, 1.0), (150, 5.0), (900, 50.0), (9e3, 100.0)]
)
def test_the_interval_suits_the_ground(range_m, interval):
    assert suiting_interval_m(Heights(np.linspace(0, range_m, 25).reshape(5, 5), 0, 0, 1, 1)) == interval
