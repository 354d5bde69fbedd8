"""Which block a tree stands in."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box

from farmmap.figures.membership import NO_BLOCK, TreeIndex, block_of_trees, block_of_trees_after, blocks_overlap_m2

LEFT, RIGHT = box(0, 0, 10, 10), box(10, 0, 20, 10)


def _placed(points, ids, shapes) -> list[int]:
    x, y = np.array(points, float).T
    return block_of_trees(TreeIndex(x, y), ids, shapes).tolist()


def test_edges_corners_and_outside() -> None:
    points = [(5, 5), (0, 5), (0, 0), (10, 5), (15, 5), (20, 10), (25, 5)]
    assert _placed(points, [7, 3], [LEFT, RIGHT]) == [7, 7, 7, 3, 3, 3, NO_BLOCK]


def test_a_tree_a_hair_outside_every_block_counts_in() -> None:
    points = [(-0.0009, 5), (-0.0011, 5), (5, 10.0009), (10.0005, 5)]
    assert _placed(points, [1, 2], [LEFT, RIGHT]) == [1, NO_BLOCK, 1, 2]


def test_the_lowest_id_wins_where_blocks_overlap() -> None:
    assert _placed([(9.5, 5), (5, 5)], [4, 2], [LEFT, box(9, 0, 20, 10)]) == [2, 4]


def test_holes_are_outside_but_their_edge_is_not() -> None:
    ring = Polygon(LEFT.exterior.coords, [box(4, 4, 6, 6).exterior.coords])
    assert _placed([(5, 5), (4, 5), (2, 2)], [1], [ring]) == [NO_BLOCK, 1, 1]


def test_trees_without_a_place_and_blocks_without_ground() -> None:
    assert _placed([(np.nan, 5), (5, 5)], [1, 2], [Polygon(), LEFT]) == [NO_BLOCK, 2]
    assert block_of_trees(TreeIndex([], []), [1], [LEFT]).tolist() == []
    assert _placed([(5, 5)], [], []) == [NO_BLOCK]
    assert _placed([(5, 5), (5, 5), (5, 5)], [1], [LEFT]) == [1, 1, 1]


def test_agrees_with_a_test_of_every_pair() -> None:
    random = np.random.default_rng(11)
    x, y = random.uniform(0, 500, 5000), random.uniform(0, 300, 5000)
    angles = np.linspace(0, 2 * np.pi, 23, endpoint=False)
    shapes = [
        Polygon(
            random.uniform([0, 0], [500, 300])
            + random.uniform(20, 60) * np.column_stack([np.cos(angles), np.sin(angles)])
        )
        for _ in range(30)
    ]
    expected = np.full(5000, NO_BLOCK)
    for place in reversed(range(30)):
        expected[shapely.intersects_xy(shapes[place], x, y)] = place + 1
    assert block_of_trees(TreeIndex(x, y), np.arange(1, 31), shapes).tolist() == expected.tolist()


@given(
    st.lists(st.tuples(st.floats(-5, 25), st.floats(-5, 15)), min_size=1, max_size=80),
    st.floats(-6, 6),
    st.floats(-6, 6),
)
def test_after_an_edit_only_the_touched_ground_is_looked_at(points, dx: float, dy: float) -> None:
    x, y = np.array(points).T
    index = TreeIndex(x, y)
    before = block_of_trees(index, [1, 2], [LEFT, RIGHT])
    moved = shapely.transform(LEFT, lambda c: c + np.array([dx, dy]))
    ground = [LEFT.bounds, moved.bounds]
    after = block_of_trees_after(before, index, [1, 2], [moved, RIGHT], ground)
    assert after.tolist() == block_of_trees(index, [1, 2], [moved, RIGHT]).tolist()
    gone = block_of_trees_after(before, index, [2], [RIGHT], [LEFT.bounds])
    assert gone.tolist() == block_of_trees(index, [2], [RIGHT]).tolist()


def test_index_finds_boxes_and_polygons() -> None:
    x, y = np.meshgrid(np.arange(50.0), np.arange(40.0))
    index = TreeIndex(x.ravel(), y.ravel())
    assert len(index) == 2000
    found = index.in_box(10, 10, 12, 11)
    assert sorted(zip(x.ravel()[found], y.ravel()[found], strict=True)) == [
        (a, b) for a in (10, 11, 12) for b in (10, 11)
    ]
    assert len(index.in_box(1000, 1000, 1001, 1001)) == 0
    assert len(index.inside(box(-5, -5, 100, 100))) == 2000
    assert len(index.inside(None)) == 0


@pytest.mark.parametrize(("shapes", "shared"), [([LEFT, RIGHT], 0), ([LEFT, box(5, 0, 15, 10)], 50), ([LEFT], 0)])
def test_overlap(shapes, shared: float) -> None:
    assert blocks_overlap_m2(shapes) == pytest.approx(shared)
