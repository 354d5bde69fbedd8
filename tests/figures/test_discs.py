"""Ground under discs: hand-worked, and against a union of finely drawn discs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from farmmap.figures import discs
from farmmap.figures.discs import covered_area

WIDE = box(-100, -100, 100, 100)
neat = st.sampled_from(np.arange(0, 20.5, 0.5).tolist())
rough = st.floats(0, 20)
disc_lists = st.lists(
    st.one_of(st.tuples(neat, neat, st.sampled_from([0.5, 1.0, 2.0, 5.0])), st.tuples(rough, rough, st.floats(0.1, 8))),
    min_size=1,
    max_size=25,
)
REGIONS = (
    box(2, 3, 18, 17),
    Polygon([(0, 0), (20, 1), (18, 19), (10, 8), (1, 20)]),
    Polygon(
        box(1, 1, 19, 19).exterior.coords, [box(5, 5, 10, 10).exterior.coords, box(12, 12, 13, 17).exterior.coords]
    ),
    MultiPolygon([box(0, 0, 5, 20), box(8, 2, 9, 18), Polygon([(12, 2), (19, 9), (12, 16)])]),
)


def _drawn(x, y, radius, region) -> float:
    around = shapely.buffer(shapely.points(x, y), radius, quad_segs=100)
    return shapely.union_all(around).intersection(region).area


@pytest.mark.parametrize("region", REGIONS)
@given(found=disc_lists)
def test_agrees_with_finely_drawn_discs(region, found) -> None:
    x, y, radius = np.array(found).T
    expected = _drawn(x, y, radius, region)
    assert covered_area(x, y, radius, region) == pytest.approx(expected, rel=1e-4, abs=5e-3)


@given(disc_lists, st.floats(0, 2 * np.pi), st.floats(-1e6, 1e6))
def test_moving_and_turning_everything_changes_nothing(found, turn: float, off: float) -> None:
    x, y, radius = np.array(found).T
    region = REGIONS[2]
    cos, sin = np.cos(turn), np.sin(turn)
    moved = shapely.transform(region, lambda c: c @ np.array([[cos, sin], [-sin, cos]]) + [off, -off])
    before = covered_area(x, y, radius, region)
    after = covered_area(cos * x - sin * y + off, sin * x + cos * y - off, radius, moved)
    assert after == pytest.approx(before, rel=1e-5, abs=1e-4)


def test_one_disc_and_its_parts() -> None:
    assert covered_area(0, 0, 3, WIDE) == pytest.approx(9 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 3, box(0, -50, 50, 50)) == pytest.approx(4.5 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 3, box(0, 0, 50, 50)) == pytest.approx(2.25 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 200, WIDE) == pytest.approx(40_000, rel=1e-14)
    assert covered_area(500, 0, 3, WIDE) == 0


def test_two_equal_discs_a_radius_apart() -> None:
    lens = 2 * np.pi / 3 - np.sqrt(3) / 2
    assert covered_area([0, 1], [0, 0], [1, 1], WIDE) == pytest.approx(2 * np.pi - lens, rel=1e-13)


def test_equal_touching_and_nested_discs_count_once() -> None:
    assert covered_area([0, 0, 0], [0, 0, 0], [2, 2, 2], WIDE) == pytest.approx(4 * np.pi, rel=1e-13)
    assert covered_area([0, 4], [0, 0], [2, 2], WIDE) == pytest.approx(8 * np.pi, rel=1e-13)
    assert covered_area([0, 1, 0.5], [0, 0, 0], [3, 2, 0.5], WIDE) == pytest.approx(9 * np.pi, rel=1e-13)


def test_a_disc_that_touches_the_sides_from_within_is_whole() -> None:
    assert covered_area(5, 5, 5, box(0, 0, 10, 10)) == pytest.approx(25 * np.pi, rel=1e-12)
    assert covered_area(5, 15, 5, box(0, 0, 10, 10)) == pytest.approx(0, abs=1e-9)


def test_what_is_not_known_covers_nothing() -> None:
    assert covered_area([], [], [], WIDE) == 0
    assert covered_area([0, 5], [0, 5], [np.nan, 0], WIDE) == 0
    assert covered_area(0, 0, 1, Polygon()) == 0


def test_a_crowd_in_small_batches_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(4)
    x, y, radius = random.uniform(0, 30, 400), random.uniform(0, 30, 400), random.uniform(0.5, 3, 400)
    at_once = covered_area(x, y, radius, REGIONS[2])
    monkeypatch.setattr(discs, "MOST_PAIRS", 500)
    assert covered_area(x, y, radius, REGIONS[2]) == pytest.approx(at_once, rel=1e-12)
