"""Squares and triangles over ground, straight lines across it, and the general run of a creek."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.planting.places.lattice import cells_of, general_run, lattice, spans
from tests.plans.creek_strips import nearest, outside_m


def _ground(seed: int, corners: int, size: float) -> shapely.Geometry:
    random = np.random.default_rng(seed)
    turn = np.sort(random.uniform(0, 2 * np.pi, corners))
    far = random.uniform(0.3, 1.0, corners) * size
    rough = shapely.make_valid(shapely.Polygon(np.column_stack([far * np.cos(turn), far * np.sin(turn)]) + 1e6))
    hole = shapely.box(1e6 + 0.123, 1e6 + 0.123, 1e6 + size / 5, 1e6 + size / 7)
    return shapely.union_all([part for part in shapely.get_parts(rough.difference(hole)) if part.area > 0])


@given(st.integers(0, 1000), st.integers(3, 15), st.floats(0.3, 40.0), st.floats(-4, 4), st.booleans())
def test_inside_apart_and_as_many_as_the_area_holds(seed, corners, apart, turned, triangle):
    ground = _ground(seed, corners, 50 * apart)
    if ground.is_empty:
        return
    x, y, row = lattice(ground, apart, turned, triangle=triangle)
    assert nearest(x, y) >= apart * (1 - 1e-6)
    assert outside_m(ground, x, y) < 1e-6
    assert (np.diff(row) >= 0).all()
    density = (2 / math.sqrt(3) if triangle else 1.0) / apart**2
    if ground.area > 1000 * apart**2:
        assert len(x) == pytest.approx(ground.area * density, rel=0.03)


@pytest.mark.parametrize("triangle", [False, True])
def test_a_strip_as_wide_as_some_rows_holds_just_those_and_half_a_row_stays_free_at_its_edges(triangle):
    between = 2.0 * (math.sqrt(0.75) if triangle else 1.0)
    strip = shapely.box(0, 0, 200, 3 * between)
    x, y, row = lattice(strip, 2.0, 0.0, triangle=triangle)
    assert np.bincount(row).tolist() == [100, 100, 100]
    assert y.min() == pytest.approx(between / 2, abs=between / 8)
    assert 3 * between - y.max() == pytest.approx(between / 2, abs=between / 8)
    assert len(x) == 300


def test_triangles_have_equal_sides():
    x, y, row = lattice(shapely.box(0, 0, 30, 30), 2.0, 0.4, triangle=True)
    middle = np.argmin((x - 15) ** 2 + (y - 15) ** 2)
    off = np.sort(np.hypot(x - x[middle], y - y[middle]))[1:7]
    assert off == pytest.approx(np.full(6, 2.0))
    assert row.min() == 0


def test_nothing_fits_between_the_lines():
    assert len(lattice(shapely.box(0, 0, 0.5, 0.5), 50.0, 0.0, triangle=False)[0]) <= 1


@given(st.integers(0, 500), st.integers(3, 12), st.floats(0.5, 5.0), st.floats(-1, 1))
def test_spans_are_what_a_line_cut_to_the_ground_is(seed, corners, between, shift):
    ground = _ground(seed, corners, 20.0)
    if ground.is_empty:
        return
    row, first, last = spans(ground, between, shift)
    west, _, east, _ = ground.bounds
    for one in np.unique(row)[::7]:
        y = one * between + shift
        cut = shapely.intersection(shapely.LineString([(west - 1, y), (east + 1, y)]), ground)
        assert (last - first)[row == one].sum() == pytest.approx(cut.length, abs=1e-6)


@given(st.integers(0, 300), st.integers(3, 12), st.sampled_from([1.5, 7.0, 40.0]))
def test_cells_hold_all_of_the_ground_and_no_others(seed, corners, size):
    _assert_cells(_ground(seed, corners, 20.0), size)


@pytest.mark.parametrize("low", [0.0, 3.0, 3.0 - 1e-9, 3.0 + 1e-9, 1.1])
def test_cells_of_ground_whose_sides_lie_along_theirs(low):
    _assert_cells(shapely.box(1e6 + low, low, 1e6 + 12.0, 9.0), 1.5)
    _assert_cells(shapely.Polygon([(0.0, low), (3.0, low), (6.0, low + 6.0), (0.0, 6.0)]), 1.5)


def _assert_cells(ground: shapely.Geometry, size: float) -> None:
    row, column, whole = cells_of(ground, size)
    cells = shapely.box(column * size, row * size, column * size + size, row * size + size)
    assert shapely.difference(ground, shapely.union_all(cells)).area < 1e-9
    assert shapely.difference(shapely.union_all(cells[whole]), ground).area < 1e-6
    assert shapely.distance(cells, ground).max() < 1e-5
    assert len(np.unique(np.column_stack([row, column]), axis=0)) == len(row)


def test_general_run_follows_the_long_way():
    line = shapely.LineString([(0, 0), (10, 6), (20, 4), (30, 15), (40, 20)])
    turned = general_run(line)
    assert 0.3 < turned < 0.6
    for angle in (0.5, 1.2, 2.0):
        turned_line = shapely.affinity.rotate(line, angle, origin=(0, 0), use_radians=True)
        assert math.sin(general_run(turned_line) - turned - angle) == pytest.approx(0.0, abs=1e-9)
    # corners close together do not count for more than their length
    dense = shapely.segmentize(shapely.LineString([(0, 0), (100, 0)]), 0.1)
    assert general_run(shapely.union_all([dense, shapely.LineString([(0, 5), (0, 30)])])) == pytest.approx(
        general_run(shapely.MultiLineString([[(0, 0), (100, 0)], [(0, 5), (0, 30)]]))
    )
    assert general_run(shapely.LineString([(3, 3), (3, 3)])) == 0.0
