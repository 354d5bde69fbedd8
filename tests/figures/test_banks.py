"""Ground beside banks: left and right never overlap, and nothing in reach is lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString

from farmmap.figures.bank_walk import walk
from farmmap.figures.banks import Reach, bank_line, channel, downstream, side_ground

RIVERS = pd.read_csv(Path(__file__).parents[1] / "outside" / "data" / "seine_lines.csv")


def _both(reaches: list[Reach]):
    return side_ground(reaches, 0), side_ground(reaches, 1)


def _reach(corners, half=1.0, width=10.0) -> Reach:
    return Reach(LineString(corners), half, (width, width))


@pytest.mark.parametrize("name", [1, 2, 3])
@pytest.mark.parametrize("width", [10.0, 500.0, 3000.0])
def test_real_rivers_that_wind(name: int, width: float) -> None:
    line = LineString(RIVERS[RIVERS["line"] == name][["x", "y"]].to_numpy())
    reaches = [Reach(line, 50.0, (width, width))]
    left, right = _both(reaches)
    band = shapely.buffer(line, 50 + width, cap_style="flat", quad_segs=32)
    assert left.intersection(right).area == pytest.approx(0, abs=1e-3)
    assert band.symmetric_difference(left.union(right)).area == pytest.approx(0, abs=1e-2)
    for side, ground in enumerate((left, right)):
        bank = bank_line(reaches, side, ground)
        assert bank.length == pytest.approx(line.length, rel=0.01)
        assert bank.distance(line) == pytest.approx(50, rel=1e-3)
        walked = walk(
            shapely.intersection(bank, shapely.buffer(line.interpolate(0.5, normalized=True), 8000)), reaches, side
        )
        beside = shapely.points(walked.at + walked.outward * min(width, 100.0) / 2)
        assert shapely.dwithin(ground, beside, 1e-6).mean() > 0.99


corner = st.tuples(st.integers(-40, 40), st.integers(-40, 40))


@given(st.lists(corner, min_size=2, max_size=9), st.sampled_from([0.0, 0.5, 3.0]), st.floats(1, 25))
def test_any_line_at_all(corners, half: float, width: float) -> None:
    lines = downstream(LineString(corners), against=False)
    assume(lines)
    reaches = [Reach(line, half, (width, width)) for line in lines]
    left, right = _both(reaches)
    band = shapely.buffer(lines[0], half + width, cap_style="flat", quad_segs=32)
    assert left.intersection(right).area == pytest.approx(0, abs=1e-4)
    lost = band.difference(left.union(right)).area
    assert lost <= 1e-3 + 0.02 * band.area
    assert lines[0].is_closed or left.union(right).difference(band).area == pytest.approx(0, abs=1e-4)
    for side, ground in enumerate((left, right)):
        walked = walk(bank_line(reaches, side, ground), reaches, side)
        assert np.allclose(np.hypot(*walked.outward.T), 1)


@given(st.lists(corner, min_size=2, max_size=6), st.floats(0, 6), st.floats(-1000, 1000))
def test_turning_and_moving_a_creek_changes_no_area(corners, turn: float, off: float) -> None:
    line = LineString(corners)
    assume(line.length > 1)
    assume(line.is_simple)
    cos, sin = np.cos(turn), np.sin(turn)
    moved = shapely.transform(line, lambda c: c @ np.array([[cos, sin], [-sin, cos]]) + off)
    one, other = _both([Reach(line, 1, (8, 5))]), _both([Reach(moved, 1, (8, 5))])
    assert [g.area for g in other] == pytest.approx([g.area for g in one], rel=2e-3, abs=0.5)


def test_turning_the_line_round_swaps_the_sides() -> None:
    line = LineString([(0, 0), (100, 0), (150, 80)])
    left, right = _both([Reach(line, 2, (10, 10))])
    back_left, back_right = _both([Reach(line.reverse(), 2, (10, 10))])
    assert left.equals_exact(back_right, 1e-6, normalize=True) or left.symmetric_difference(back_right).area < 1e-6
    assert right.symmetric_difference(back_left).area < 1e-6


def test_a_ring_of_water_has_an_inside_and_an_outside() -> None:
    ring = _reach([(0, 0), (100, 0), (100, 100), (0, 100), (0, 0)], 1, 10)
    left, right = _both([ring])
    bare = channel([ring])
    assert left.difference(bare).area == pytest.approx(98**2 - 78**2, rel=1e-6)
    assert right.difference(bare).area == pytest.approx(4 * 100 * 10 + np.pi * (11**2 - 1), rel=1e-3)


def test_repeated_corners_and_two_corner_lines() -> None:
    found = downstream(LineString([(0, 0), (0, 0), (50, 0), (50, 0), (100, 0)]), against=False)
    left, right = _both([Reach(found[0], 1, (10, 10))])
    assert (left.area, right.area) == pytest.approx((1100, 1100))
    assert downstream(LineString([(3, 3), (3, 3)]), against=False) == []


def test_a_fork_of_one_creek_shares_the_ground_between() -> None:
    arms = [_reach([(0, 0), (100, 0)], 0, 20), _reach([(60, 80), (60, 0)], 0, 20)]
    left, right = _both(arms)
    assert left.intersection(right).area == pytest.approx(0, abs=1e-6)
    everything = left.union(right)
    assert everything.area == pytest.approx(100 * 40 + 60 * 40, rel=1e-6)
    upstream_corner = shapely.box(40, 0, 60, 20)
    assert left.intersection(upstream_corner).area == pytest.approx(200, rel=0.02)
    assert right.intersection(upstream_corner).area == pytest.approx(200, rel=0.02)


def test_stretches_that_meet_leave_no_notch() -> None:
    bent = [_reach([(0, 0), (100, 0)], 2, 10), Reach(LineString([(100, 0), (100, 100)]), 2, (10, 10.0))]
    whole = [_reach([(0, 0), (100, 0), (100, 100)], 2, 10)]
    for side in (0, 1):
        assert side_ground(bent, side).area == pytest.approx(side_ground(whole, side).area, rel=1e-3)


def test_a_side_without_width_has_no_ground() -> None:
    reaches = [Reach(LineString([(0, 0), (100, 0)]), 0, (10, 0))]
    assert side_ground(reaches, 1).is_empty
    assert side_ground(reaches, 0).area == pytest.approx(1000)
