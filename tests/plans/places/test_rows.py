"""Rows along a creek: equally far from the bank, cut to the ground, bends a machine can drive, plants in equal steps."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from farmmap.plans.planting.places.rows import creek_runs, points_along, row_distances
from farmmap.plans.planting.recipes.recipe import Zone
from tests.place import EAST, NORTH
from tests.plans.creek_strips import strips_along
from tests.plans.meanders import sine_generated_creek, wandering_creek


def _lines(*corners: list[tuple[float, float]]) -> np.ndarray:
    return np.array([LineString(line) for line in corners], object)


def _creek(*corners: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in corners])


def _steps(x, y) -> np.ndarray:
    return np.hypot(np.diff(x), np.diff(y))


@pytest.mark.parametrize(
    ("least", "most", "between", "expected"),
    [
        (0.0, 6.0, 2.0, [1.0, 3.0, 5.0]),
        (4.0, 9.0, 2.0, [5.5, 7.5]),
        (0.0, 1.0, 2.0, [0.5]),
        (10.0, 18.0, 4.0, [12.0, 16.0]),
        (3.0, 3.0, 1.0, [3.0]),
        (0.3, 0.9, 0.2, [0.4, 0.6, 0.8]),
    ],
)
def test_row_distances_by_hand(least, most, between, expected):
    assert row_distances(least, most, between) == pytest.approx(expected)


def test_rows_of_a_straight_creek():
    _, part, strips = strips_along(_creek((0, 0), (300, 0)), 6.0, (Zone("z", share=1.0),))
    for side, _, ground, _ in strips:
        runs = creek_runs(part, ground, np.array([1.0, 3.0, 5.0]), 0.0)
        assert runs.row.tolist() == [0, 1, 2]
        assert shapely.length(runs.lines) == pytest.approx(np.full(3, 300.0))
        sign = 1 if side == 0 else -1
        line_y = shapely.get_coordinates(part.line)[0, 1]
        assert shapely.get_coordinates(runs.lines)[:, 1] - line_y == pytest.approx(sign * np.repeat([2.0, 4.0, 6.0], 2))


@given(st.integers(0, 1000), st.floats(20, 100), st.floats(0.5, 3.0))
def test_rows_keep_their_distance_from_the_bank_and_from_one_another(seed, angle, between):
    line = wandering_creek(seed, 40) if seed % 2 else sine_generated_creek(300, 150, angle, 90.0)
    _, part, strips = strips_along(line, 5 * between, (Zone("z", share=1.0),))
    distances = row_distances(0.0, 5 * between, between)
    for _, _, ground, _ in strips:
        runs = creek_runs(part, ground, distances, 0.0)
        corners, of = shapely.get_coordinates(runs.lines, return_index=True)
        off = shapely.distance(part.line, shapely.points(corners)) - 1.0
        wanted = distances[runs.row[of]]
        assert (off > wanted * 0.985 - 0.02).all()
        assert (off < wanted * 1.015 + 0.02).all()
        for one in range(4):
            these, next_ = runs.lines[runs.row == one], runs.lines[runs.row == one + 1]
            if len(these) and len(next_):
                assert shapely.distance(shapely.union_all(these), shapely.union_all(next_)) >= between * 0.99


def _tightest(line: LineString, over: float) -> float:
    """Least radius of a line, from its turn over stretches of about ``over`` metres."""
    at = np.linspace(0, line.length, max(int(line.length / over), 3))
    steps = np.diff(shapely.get_coordinates(shapely.line_interpolate_point(line, at)), axis=0)
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)
    return float((np.hypot(*steps.T)[1:] / np.maximum(turn, 1e-9)).min())


def test_a_machine_can_drive_round_the_bends():
    line = _creek((0, 0), (60, 0), (60, 60), (120, 60), (120, 0), (200, 0))
    _, part, strips = strips_along(line, 16.0, (Zone("z", share=1.0),))
    distances = row_distances(0.0, 16.0, 4.0)
    for _, _, ground, _ in strips:
        sharp = creek_runs(part, ground, distances, 0.0)
        driven = creek_runs(part, ground, distances, 6.0)
        assert min(_tightest(run, 1.0) for run in sharp.lines if run.length > 30) < 3.0
        assert min(_tightest(run, 1.0) for run in driven.lines if run.length > 30) > 6.0 * 0.85
        assert shapely.length(driven.lines).sum() > 0.9 * shapely.length(sharp.lines).sum()
        assert shapely.difference(shapely.union_all(driven.lines), shapely.buffer(ground, 1e-6)).length < 1e-6
        for one in range(3):
            pair = [shapely.union_all(driven.lines[driven.row == row]) for row in (one, one + 1)]
            assert shapely.distance(*pair) >= 4.0 * 0.97


def test_a_line_holds_its_length_over_the_spacing():
    x, y, line = points_along(
        _lines([(0, 0), (100, 0)], [(0, 5), (7, 5)], [(0, 9), (0.9, 9)], [(0, 12), (1.1, 12)]), 2.0
    )
    assert np.bincount(line, minlength=4).tolist() == [50, 4, 0, 1]
    assert x[:3] == pytest.approx([1.0, 3.0, 5.0])
    assert x[line == 1] == pytest.approx([0.5, 2.5, 4.5, 6.5])
    assert (y[line == 3] == 12).all()


def test_headland_is_left_free():
    x, _, line = points_along(_lines([(0, 0), (100, 0)], [(0, 5), (11.9, 5)], [(0, 8), (12.1, 8)]), 3.0, 6.0)
    assert np.bincount(line, minlength=3).tolist() == [30, 0, 1]
    assert x[line == 0].min() == pytest.approx(6.5)
    assert x[line == 0].max() == pytest.approx(93.5)
    assert x[line == 2] == pytest.approx([6.05])


@given(st.floats(1.0, 40.0), st.floats(0.5, 6.0))
def test_a_ring_closes_without_a_pair_too_near(radius, within):
    ring = shapely.get_exterior_ring(shapely.buffer(shapely.Point(5, 5), radius, quad_segs=32))
    x, y, _ = points_along(np.array([ring], object), within)
    steps = _steps(np.append(x, x[:1]), np.append(y, y[:1]))
    if len(x) > 2:
        assert steps.min() >= within * 0.99
    if radius > 3 * within:
        assert len(x) == int(ring.length / within) or len(x) == int(ring.length / within) - 1


@given(st.integers(0, 10_000), st.floats(0.2, 1.0), st.floats(0.0, 1.2))
def test_neighbours_are_apart_however_the_line_bends(seed, step, turn):
    """Random walks with bends of up to 70 degrees; where plants stand must not depend on luck with the corners."""
    random = np.random.default_rng(seed)
    direction = np.cumsum(random.uniform(-turn, turn, 80) * (random.uniform(size=80) < 0.4))
    walked = np.cumsum(np.column_stack([np.cos(direction), np.sin(direction)]) * step * 3, axis=0)
    x, y, _ = points_along(np.array([LineString(walked)], object), 2.0)
    steps = _steps(x, y)
    assert steps.min(initial=9.0) >= 2.0 * 0.97  # the little that is lacking in such a tangle `kept_apart` sees to
    assert len(x) >= 0.45 * LineString(walked).length / 2.0


def test_gentle_bends_cost_no_plants():
    line = sine_generated_creek(2000, 2001, 40, 150)
    x, y, _ = points_along(np.array([line], object), 2.0)
    assert len(x) == pytest.approx(1000, abs=2)
    assert _steps(x, y).min() > 1.98


def test_square_corners_set_plants_on_just_enough():
    """A square corner is passed by a pair up to 2·√2 along the line apart; over all beginnings none is too near."""
    for begin in np.linspace(0, 2, 37):
        x, y, _ = points_along(_lines([(begin, 0), (40, 0), (40, 40)]), 2.0)
        steps = _steps(x, y)
        assert steps.min() >= 1.98
        assert len(x) >= (80 - begin) / 2 - 1.6


def test_many_lines_at_once_are_as_each_by_itself():
    lines = np.array([wandering_creek(seed, 30, 3.0) for seed in range(12)], object)
    x, y, line = points_along(lines, 1.7, 0.5)
    for place in range(12):
        alone = points_along(lines[place : place + 1], 1.7, 0.5)
        assert abs(len(alone[0]) - (line == place).sum()) <= 1
        assert _steps(x[line == place], y[line == place]).min() >= 1.7 * 0.99


def test_no_lines():
    x, y, line = points_along(np.empty(0, object), 2.0)
    assert len(x) == len(y) == len(line) == 0
