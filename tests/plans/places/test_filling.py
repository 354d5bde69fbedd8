"""Rows planted full: nothing lies bare where two legs of a row meet, and no plant is too near another for it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely import LineString, box

from farmmap.plans.planting.places.filling import row_plants
from farmmap.plans.planting.places.rows import Runs, Way, creek_runs, points_along, row_distances
from farmmap.plans.planting.places.spacing import kept_apart
from farmmap.plans.planting.recipes.recipe import Zone
from tests.plans.creek_strips import strips_along
from tests.plans.meanders import sine_generated_creek, wandering_creek


def _runs(*lines: list[tuple[float, float]]) -> Runs:
    return Runs(np.array([LineString(line) for line in lines], object), np.arange(len(lines)))


WIDE = box(-200, -200, 200, 200)


def _nearest(x: np.ndarray, y: np.ndarray) -> float:
    return float(cKDTree(np.column_stack([x, y])).query(np.column_stack([x, y]), k=2)[0][:, 1].min())


def test_tips_of_an_open_line_and_of_a_ring_by_hand():
    vee = [(-30.0, 40.0), (0.0, 0.0), (30.0, 40.0)]
    ring = [(100.0, 0.0), (140.0, 30.0), (140.0, -30.0), (100.0, 0.0)]
    tips = Way(_runs(vee, [(0, 60), (50, 60), (100, 70)], ring).lines, 2.0).tips()
    assert tips.x == pytest.approx([0.0, 100.0, 140.0, 140.0])
    assert tips.y == pytest.approx([0.0, 0.0, 30.0, -30.0])
    assert tips.sine[:2] == pytest.approx([0.6, 0.6])
    assert (tips.east[:2], tips.north[:2]) == (pytest.approx([0.0, -1.0]), pytest.approx([-1.0, 0.0]))


def test_straight_rows_are_planted_as_they_are():
    runs = _runs([(0, 0), (100, 0)], [(0, 2.5), (99, 2.5)])
    for one, two in zip(row_plants(runs, WIDE, 2.5, 2.0, 3.0), points_along(runs.lines, 2.0, 3.0), strict=True):
        np.testing.assert_array_equal(one, two)


def test_a_row_is_drawn_out_beyond_its_tip_as_far_as_the_next_rows_allow():
    runs = _runs([(-30, 120), (0, 0), (30, 120)])
    x, y, line = row_plants(runs, WIDE, 2.5, 2.0)
    sine = 30 / np.hypot(30, 120)
    beyond = y[y < -1e-9]
    assert len(beyond)
    assert x[y < -1e-9] == pytest.approx(np.zeros(len(beyond)))
    assert beyond.min() >= -0.5 / sine - 1e-6  # 2.5 m from row to row, 2 m at the least
    assert (line == 0).all()
    assert _nearest(x, y) >= 2.0 * 0.99
    near_ground = row_plants(runs, box(-200, -1.5, 200, 200), 2.5, 2.0)
    assert near_ground[1].min() >= -0.5 - 1e-6  # half a spacing inside the ground's edge


def test_close_plants_along_wide_rows_are_not_drawn_out():
    assert row_plants(_runs([(-30, 120), (0, 0), (30, 120)]), WIDE, 3.0, 1.0)[1].min() >= 0.0


@given(st.integers(0, 1000), st.floats(60, 110), st.floats(1.0, 3.0), st.floats(1.0, 3.0), st.sampled_from([0.0, 3.0]))
def test_rows_hold_no_fewer_plants_and_none_too_near(seed, angle, between, within, headland):
    line = wandering_creek(seed, 40) if seed % 2 else sine_generated_creek(300, 150, angle, 90.0)
    _, part, strips = strips_along(line, 15.0, (Zone("z", share=1.0),))
    least = min(between, within)
    for _, _, ground, _ in strips:
        runs = creek_runs(part, ground, row_distances(0.0, 15.0, between), 0.0)
        x, y, of = row_plants(runs, ground, between, within, headland)
        again = row_plants(runs, ground, between, within, headland)
        np.testing.assert_array_equal(x, again[0])
        plain_x, plain_y, _ = points_along(runs.lines, within, headland)
        assert len(x) >= 0.99 * kept_apart(plain_x, plain_y, least).sum() - 2
        if len(x) > 1:
            assert _nearest(x, y) >= least * 0.99
        points = shapely.points(x, y)
        assert shapely.distance(points, ground).max(initial=0.0) <= 1e-6
        off = shapely.distance(points, runs.lines[of])
        assert off.max(initial=0.0) <= 3.0 * within + 1e-6


def test_no_rows():
    assert [len(one) for one in row_plants(Runs(np.empty(0, object), np.empty(0, np.intp)), WIDE, 2.0, 2.0)] == [0] * 3
