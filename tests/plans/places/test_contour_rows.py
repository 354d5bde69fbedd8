"""Rows along the contour: level, evenly apart, as many as there is room for, and words where there can be none."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from farmmap.farm.heights import Heights
from farmmap.figures.areas import polygons_only
from farmmap.plans.planting.places.contour_rows import FOLLOWS_DEG, contour_runs
from farmmap.plans.planting.places.rows import points_along
from farmmap.plans.planting.places.spacing import kept_apart

CELL = 3.0


def _heights(of, size: int = 140) -> Heights:
    middle = (np.arange(size) + 0.5) * CELL
    east, north = np.meshgrid(middle, middle[::-1])
    return Heights(of(east, north), 0.0, size * CELL, CELL, CELL)


def _slope(east, north):
    return 50 + 0.1 * north


def _hills(east, north):
    return 100 - 0.02 * east + 0.08 * np.abs(north - 200) + 1.5 * np.sin(east / 40) * np.cos(north / 55)


def _steepening(east, north):
    return 10 + (north / 60) ** 2.5


def _cone(east, north):
    return 100 - 0.2 * np.hypot(east + 150, north - 220)


def _saddle(east, north):
    return 100 + 0.001 * ((east - 205) ** 2 - (north - 222) ** 2)


GROUND = shapely.box(80, 205, 330, 240)


def test_on_an_even_slope_rows_run_straight_across_it():
    runs, why = contour_runs(_heights(_slope), shapely.box(60, 60, 260, 100), 4.0)
    assert why == ""
    north = [shapely.get_coordinates(run)[:, 1] for run in runs.lines]
    assert max(np.ptp(one) for one in north) < 1e-6
    levels = np.array([one[0] for one in north])[np.argsort(runs.row)]
    assert np.abs(np.diff(levels)) == pytest.approx(4.0)
    assert shapely.length(runs.lines) == pytest.approx(np.full(len(runs), 200.0))
    assert len(runs) == 10


def test_round_a_cone_rows_are_arcs_about_its_top():
    runs, _ = contour_runs(_heights(_cone), GROUND, 2.5)
    far = [
        shapely.distance(shapely.points(shapely.get_coordinates(run)), shapely.Point(-150, 220)) for run in runs.lines
    ]
    assert max(np.ptp(one) for one in far) < 0.5
    rows = np.sort([one.mean() for one in far])
    steps = np.diff(rows)[np.diff(rows) > 0.5]
    assert steps == pytest.approx(2.5, abs=0.1)


@pytest.mark.parametrize("shape", [_slope, _hills, _steepening, _cone])
@pytest.mark.parametrize("between", [2.0, 3.1])
def test_as_many_plants_as_area_and_spacing_say(shape, between):
    askew = affinity.rotate(GROUND, 20)  # so that no edge runs along a row
    inner = shapely.buffer(askew, -between)
    count = shapely.contains_xy(inner, *_planted(_heights(shape), askew, between)).sum()
    assert count == pytest.approx(inner.area / (between * 1.5), rel=0.03)


def test_a_saddle_loses_a_few_plants_at_the_joins_and_no_more():
    inner = shapely.buffer(GROUND, -2.0)
    count = shapely.contains_xy(inner, *_planted(_heights(_saddle), GROUND, 2.0)).sum()
    assert 0.93 <= count / (inner.area / 3.0) <= 1.02


def _planted(heights, ground, between):
    """Places 1.5 m apart along the rows, kept apart as a plan does it."""
    runs, why = contour_runs(heights, ground, between)
    assert why == ""
    x, y, _ = points_along(runs.lines, 1.5)
    keep = kept_apart(x, y, 1.5)
    return x[keep], y[keep]


@pytest.mark.parametrize("shape", [_slope, _hills, _steepening, _cone])
@pytest.mark.parametrize("between", [2.0, 5.0])
def test_rows_lie_on_the_ground_and_leave_no_gap(shape, between):
    runs, _ = contour_runs(_heights(shape), GROUND, between)
    covered = shapely.union_all(shapely.buffer(runs.lines, between * 1.01))
    assert shapely.difference(shapely.buffer(GROUND, -between), covered).area < 0.002 * GROUND.area
    assert shapely.difference(shapely.union_all(runs.lines), shapely.buffer(GROUND, 1e-6)).length < 1e-6


@pytest.mark.parametrize("shape", [_slope, _hills, _cone])
def test_rows_follow_the_contour(shape):
    heights = _heights(shape)
    runs, _ = contour_runs(heights, GROUND, 3.0)
    at = [
        shapely.get_coordinates(shapely.line_interpolate_point(run, np.arange(0, run.length, 1.0)))
        for run in runs.lines
    ]
    step = np.concatenate([np.diff(one, axis=0) for one in at])
    x, y = np.concatenate([(one[1:] + one[:-1]) / 2 for one in at]).T
    up = np.column_stack(
        [heights.at(x + CELL, y) - heights.at(x - CELL, y), heights.at(x, y + CELL) - heights.at(x, y - CELL)]
    )
    sine = np.abs((step * up).sum(axis=1)) / np.hypot(*step.T) / np.maximum(np.hypot(*up.T), 1e-12)
    off = np.degrees(np.arcsin(np.minimum(sine, 1.0)))
    assert np.quantile(off, 0.8) < 1.5 * FOLLOWS_DEG


@given(
    seed=st.integers(0, 100_000),
    rough=st.floats(0.0, 8.0),
    tilt=st.floats(0.0, 0.4),
    between=st.floats(0.8, 12.0),
    holes=st.integers(0, 12),
)
@settings(max_examples=60)
def test_any_relief_and_any_ground(seed, rough, tilt, between, holes):
    """Rows lie on the ground, their plants are as many as the ground may hold and no more, and the answer stays."""
    random = np.random.default_rng(seed)
    values = random.normal(0, rough, (60, 60)).cumsum(axis=int(random.integers(2)))
    values[random.random(values.shape) < 0.01] = np.nan
    heights = Heights(values + tilt * CELL * np.arange(60), 0.0, 180.0, CELL, CELL)
    corners = random.uniform(10, 170, (int(random.integers(3, 14)), 2))
    gaps = shapely.buffer(shapely.points(random.uniform(0, 180, (holes, 2))), random.uniform(0.1, 15, holes))
    ground = polygons_only(shapely.difference(shapely.make_valid(shapely.Polygon(corners)), shapely.union_all(gaps)))
    runs, why = contour_runs(heights, ground, between)
    if runs is None:
        assert why
        return
    assert len(runs.lines) == len(runs.row)
    assert runs.row.min() == 0
    assert shapely.distance(shapely.points(shapely.get_coordinates(runs.lines)), ground).max() < 1e-6
    assert runs.lines[0].is_valid
    total = shapely.length(runs.lines).sum() * between
    assert total <= 1.1 * ground.area + 3 * between * ground.length
    assert total >= 0.9 * ground.area - 3 * between * ground.length
    again, _ = contour_runs(heights, ground, between)
    assert all(shapely.equals_exact(runs.lines, again.lines))


def test_the_same_ground_gives_the_same_rows():
    ground = shapely.box(80, 205, 330, 240)
    first, again = (contour_runs(_heights(_hills), ground, 3.0)[0] for _ in range(2))
    assert len(first) == len(again)
    assert all(shapely.equals_exact(first.lines, again.lines))


@pytest.mark.parametrize(
    ("heights", "words"),
    [
        (None, "no elevation grid"),
        (_heights(lambda east, north: 0 * east + 12.0), "flat"),
        (_heights(lambda east, north: 12 + 0.001 * north), "flat"),
        (_heights(lambda east, north: np.full_like(east, np.nan)), "does not reach"),
    ],
)
def test_where_there_is_no_contour_to_follow(heights, words):
    runs, why = contour_runs(heights, shapely.box(60, 60, 260, 100), 4.0)
    assert runs is None
    assert words in why


def test_ground_beside_the_elevation_grid():
    runs, why = contour_runs(_heights(_slope), shapely.box(5000, 60, 5200, 100), 4.0)
    assert runs is None
    assert "does not reach" in why
