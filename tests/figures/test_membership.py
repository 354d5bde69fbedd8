"""Which block a tree stands in."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from farmmap.figures import tree_index
from farmmap.figures.grounds import polygons_of
from farmmap.figures.membership import EDGE_M, NO_BLOCK, block_of_points, block_of_trees, trees_placed_again
from farmmap.figures.tree_index import TreeIndex

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


@pytest.mark.parametrize("count", [2, 500])
def test_a_place_that_is_not_known_leaves_the_others_in_their_blocks(count: int) -> None:
    x = np.array([np.nan, *[5.0] * count])
    assert block_of_points([1, 2], [LEFT, RIGHT], x, np.full(count + 1, 5.0)).tolist() == [NO_BLOCK, *[1] * count]


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


SEVERAL = MultiPolygon([box(3, 4, 37, 41), box(50, 50, 83, 77).difference(box(60, 55, 71, 70)), box(90, 1, 91, 99)])
BOW = Polygon([(0, 0), (100, 60), (100, 0), (0, 60)])


@pytest.mark.parametrize("shape", [SEVERAL, box(1, 1, 99, 99).difference(SEVERAL), BOW])
@pytest.mark.parametrize("count", [40, 300, 20_000])
def test_blocks_of_several_parts_and_with_holes(shape: shapely.Geometry, count: int) -> None:
    x, y = np.random.default_rng(5).uniform(0, 100, (2, count))
    shapes = polygons_of(np.array([shape, box(20, 20, 70, 90)], object))
    expected = np.full(count, NO_BLOCK)
    for off in (EDGE_M, 0):
        for block in (2, 1):
            expected[shapely.dwithin(shapes[block - 1], shapely.points(x, y), off)] = block
    assert block_of_trees(TreeIndex(x, y), [1, 2], shapes).tolist() == expected.tolist()
    assert block_of_points([1, 2], shapes, x, y).tolist() == expected.tolist()


ROWS = {
    "east to west": (np.arange(40) * 3.0, np.full(40, 20.0)),
    "south to north": (np.full(40, 20.0), np.arange(40) * 3.0),
    "aslant": (np.arange(40) * 3.0, np.arange(40) * 3.0),
    "a hair apart": (np.array([5.0, 5.0]), np.array([5.0, 5.005])),
    "nearly one row": (np.arange(1000) * 3.0, np.arange(1000) % 3 * 0.001),
    "many in one row": (np.arange(5000) * 0.3, np.zeros(5000)),
    "far apart": (np.array([5.0, 4e5, 4e5]), np.array([5.0, 5.0, 5.01])),
}


@pytest.mark.parametrize("row", list(ROWS))
def test_trees_in_a_row_and_large_blocks_take_few_cells_and_steps(row: str, monkeypatch: pytest.MonkeyPatch) -> None:
    x, y = ROWS[row]
    shapes = np.array([box(300 * i, -10, 300 * i + 300, 290) for i in range(50)], object)
    index, steps = TreeIndex(x, y), []
    spread = tree_index.spread
    monkeypatch.setattr(tree_index, "spread", lambda lengths: steps.append(int(lengths.sum())) or spread(lengths))
    found = block_of_trees(index, np.arange(1, 51), shapes)
    assert len(index.starts) <= len(x) + 4
    assert max(steps) <= 8 * len(shapes) + 2 * len(x)
    assert found.tolist() == block_of_points(np.arange(1, 51), shapes, x, y).tolist()


def test_an_index_with_small_cells_of_points_in_a_row_stays_small() -> None:
    index = TreeIndex(np.arange(40) * 100.0, np.zeros(40), 0.001)
    assert len(index.starts) <= 4 * 40 + 1002
    assert index.in_box(150, -1, 350, 1).tolist() == [2, 3]


@given(
    st.lists(st.tuples(st.floats(-5, 25), st.floats(-5, 15)), min_size=1, max_size=40),
    st.lists(st.tuples(st.floats(-9, 30), st.floats(-9, 20)), min_size=3, max_size=8),
    st.sampled_from([0.7, 3.0, None]),
)
def test_cells_along_a_line_hold_every_place_on_it(points, corners, cell_m: float | None) -> None:
    index, line = TreeIndex(*np.array(points).T, cell_m), np.array(corners)
    marked = index.cells_along(line[:-1], line[1:], 0.002)
    part = np.linspace(0, 1, 301)[:, None, None]
    on_line = (line[:-1] + part * np.diff(line, axis=0)).reshape(-1, 2)
    for off in ((0, 0), (0.001, 0), (-0.001, 0), (0, 0.001), (0, -0.001)):
        assert marked[index.cell_of(*(on_line + off).T)].all()


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
    for ids, shapes in (([1, 2], [moved, RIGHT]), ([2], [RIGHT])):
        after = before.copy()
        for ground in (LEFT.bounds, moved.bounds):
            west, south, east, north = ground
            wider = west - EDGE_M, south - EDGE_M, east + EDGE_M, north + EDGE_M
            places, found = trees_placed_again(
                index, np.array(ids), np.array(shapes, object), shapely.bounds(shapes), wider
            )
            after[places] = found
        assert after.tolist() == block_of_trees(index, ids, shapes).tolist()


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


def test_one_tree_on_the_other_side_of_the_world_makes_no_cell_wider_and_no_tree_lose_its_block() -> None:
    random = np.random.default_rng(4)
    x, y = random.uniform(0, 900, (2, 20_000))
    shapes = [box(300 * i, 300 * j, 300 * i + 300, 300 * j + 300) for j in range(3) for i in range(3)]
    near = TreeIndex(x, y)
    far = TreeIndex(np.append(x, -1.8e6), np.append(y, -5.4e6))
    assert far.cell_m < 2 * near.cell_m
    assert len(far.starts) < 2 * len(near.starts)
    ids = np.arange(1, 10)
    assert block_of_trees(far, ids, shapes).tolist() == [*block_of_trees(near, ids, shapes).tolist(), NO_BLOCK]
    for corners in ((10, 20, 60, 90), (-50, -50, 30, 30)):
        assert sorted(far.in_box(*corners)) == sorted(near.in_box(*corners))
        boxes = np.array([corners], float)
        assert len(far.near_boxes(boxes)[0]) < 4 * len(near.near_boxes(boxes)[0]) + 100
    assert far.in_box(-2e6, -6e6, -1e6, -5e6).tolist() == [20_000]


def test_two_parcels_far_apart_are_both_looked_at() -> None:
    random = np.random.default_rng(4)
    x, y = random.uniform(0, 100, (2, 400))
    x[::2] += 50_000
    found = block_of_trees(TreeIndex(x, y), [1, 2], [box(0, 0, 100, 100), box(50_000, 0, 50_100, 100)])
    assert found.tolist() == [2, 1] * 200
