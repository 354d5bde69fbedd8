"""Growing space: adds up to the ground, shared at one place, the same for one tree as for all."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.room.space import growing_space, space_of_one

GROUND = shapely.Polygon(
    [(0, 0), (80, 0), (80, 50), (45, 50), (40, 20), (35, 50), (0, 50)], [[(60, 10), (70, 10), (65, 18)]]
)


def test_few_trees() -> None:
    square = shapely.box(0, 0, 10, 10)
    assert growing_space([], [], square).tolist() == []
    assert growing_space([3], [4], square) == pytest.approx([100])
    assert growing_space([2, 6], [5, 5], square) == pytest.approx([40, 60])
    assert growing_space([1, 5, 9], [5, 5, 5], square) == pytest.approx([30, 40, 30])  # all in one line
    assert growing_space([2, np.nan], [5, 5], square) == pytest.approx([100, 0])
    assert growing_space([2, 3], [5, 5], shapely.Polygon()).tolist() == [0, 0]


def test_trees_at_one_place_share_its_cell() -> None:
    square = shapely.box(0, 0, 10, 10)
    assert growing_space([2, 2, 6], [5, 5, 5], square) == pytest.approx([20, 20, 60])
    assert growing_space([2, 2 + 1e-10, 6], [5, 5, 5], square).sum() == pytest.approx(100)


@given(st.integers(0, 10_000), st.integers(1, 120))
def test_it_adds_up_to_the_ground_and_one_tree_alone_agrees(seed: int, many: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(-5, 85, many) + 1.8e6, rng.uniform(-5, 55, many) + 5.4e6
    far = shapely.transform(GROUND, lambda at: at + np.array([1.8e6, 5.4e6]))
    space = growing_space(x, y, far)
    assert space.sum() == pytest.approx(far.area, rel=1e-6)
    tree = int(rng.integers(many))
    assert space_of_one(x, y, tree, far) == pytest.approx(space[tree], rel=1e-5, abs=1e-5)


def test_a_cell_is_what_lies_nearest() -> None:
    rng = np.random.default_rng(2)
    x, y = rng.uniform(0, 80, 40), rng.uniform(0, 50, 40)
    px, py = rng.uniform(0, 80, 40_000), rng.uniform(0, 50, 40_000)
    on = shapely.contains_xy(GROUND, px, py)
    nearest = np.argmin(np.hypot(px[on, None] - x, py[on, None] - y), axis=1)
    counted = np.bincount(nearest, minlength=40) / on.sum() * GROUND.area
    assert growing_space(x, y, GROUND) == pytest.approx(counted, abs=12)


def test_a_hundred_thousand_trees() -> None:
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, 1000, (2, 100_000))
    assert growing_space(x, y, shapely.box(0, 0, 1000, 1000)).sum() == pytest.approx(1e6, rel=1e-9)
