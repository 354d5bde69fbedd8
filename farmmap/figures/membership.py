"""Which block each tree stands in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.prepared import prepared
from farmmap.figures.tree_index import Bounds, TreeIndex, spread

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]
Shapes = NDArray[np.object_]
Pairing = Callable[[Floats, Floats, Floats], tuple[Places, Places]]

EDGE_M = 0.001
"""A tree this close outside every block still counts in, in m."""

NO_BLOCK = -1

FEW_PAIRS = 2_000
"""So few pairs of a block and a tree are looked at all together, as a call takes longer than they do."""

FEW = 200
"""So many places are compared with every block near any of them."""

FEWEST = 8
"""So few places are asked about sooner than outlines are prepared for them."""


def block_of_trees(index: TreeIndex, ids: ArrayLike, polygons: ArrayLike) -> Ints:
    """Block that each tree stands in.

    The boundary belongs to a block. A tree on an edge that two blocks share,
    or on ground that several blocks claim, belongs to the one with the lowest
    id. A tree up to 1 mm outside every block counts in.

    Cells of the index that no outline runs through lie wholly inside or
    outside of every block, so one of their trees answers for all.

    Parameters
    ----------
    index : TreeIndex
        The trees.
    ids : array_like of int, shape (m,)
        Ids of the blocks.
    polygons : array_like of shapely geometry, shape (m,)
        Their outlines.

    Returns
    -------
    ndarray of int64, shape (n,)
        Id of the block, `NO_BLOCK` where there is none.
    """
    names, shapes = _highest_first(ids, polygons)
    out = np.full(len(index), NO_BLOCK, np.int64)
    if not len(shapes) or not len(index.order):
        return out
    on_edge = _cells_on_edges(index, shapes)
    counts = np.diff(index.starts)
    looked_at = np.where(on_edge, counts, np.minimum(counts, 1))
    starts = np.concatenate([[0], np.cumsum(looked_at)])
    cell, step = spread(looked_at)
    tree = index.starts[cell] + step
    found = _placed(names, shapes, index.x[tree], index.y[tree], _NearCells(index, starts))
    out[index.order] = np.repeat(found, np.where(on_edge[cell], 1, counts[cell]))
    return out


def block_of_points(ids: ArrayLike, polygons: ArrayLike, x: Floats, y: Floats) -> Ints:
    """`block_of_trees` for places that no index is at hand for, quickest for a few. Shape (k,)."""
    if len(x) > FEW or not (np.isfinite(x) & np.isfinite(y)).all():
        return block_of_trees(TreeIndex(x, y), ids, polygons)
    names, shapes = _highest_first(ids, polygons)
    if not len(shapes) or not len(x):
        return np.full(len(x), NO_BLOCK, np.int64)
    return _placed(names, shapes, x, y, _all_of_each)


def trees_placed_again(
    index: TreeIndex, ids: Ints, polygons: Shapes, bounds: Floats, box: Bounds
) -> tuple[Places, Ints]:
    """Look again at the trees in a rectangle: their places, and the block that each of them stands in.

    After an edit of blocks only the ground that it touched has to be looked at.

    Parameters
    ----------
    index : TreeIndex
        The trees.
    ids, polygons : ndarray, shape (m,)
        All blocks, their ids increasing.
    bounds : ndarray, shape (m, 4)
        West, south, east and north of each of them. [m]
    box : tuple of float
        West, south, east and north. [m]
    """
    west, south, east, north = box
    at = index.sorted_in_box(west, south, east, north)
    if not len(at):
        return at, np.empty(0, np.int64)
    out = np.full(len(at), NO_BLOCK, np.int64)
    x, y = index.x[at], index.y[at]
    left, low, right, top = bounds.T
    meets = (left <= east + EDGE_M) & (right >= west - EDGE_M) & (low <= north + EDGE_M) & (top >= south - EDGE_M)
    near = meets.nonzero()[0][::-1]
    shapes, names = polygons[near], ids[near].tolist()
    if len(at) > FEWEST:
        shapes = prepared(shapes)
    if len(names) * len(at) <= FEW_PAIRS:
        for name, here in zip(names, shapely.intersects_xy(shapes[:, None], x, y), strict=True):
            out[here] = name
    else:
        for name, shape, (west, south, east, north) in zip(names, shapes, bounds[near].tolist(), strict=True):
            here = ((x >= west) & (x <= east) & (y >= south) & (y <= north)).nonzero()[0]
            out[here[shapely.intersects_xy(shape, x[here], y[here])]] = name
    out_of_all = (out == NO_BLOCK).nonzero()[0]
    if len(out_of_all) and names:
        points = shapely.points(np.array([x[out_of_all], y[out_of_all]]).T)
        for name, hair in zip(names, shapely.dwithin(shapes[:, None], points, EDGE_M), strict=True):
            out[out_of_all[hair]] = name
    return index.order[at], out


class _NearCells:
    """Pairs of blocks and points, by the cells of an index."""

    def __init__(self, index: TreeIndex, starts: Ints) -> None:
        self._index, self._starts = index, starts

    def __call__(self, boxes: Floats, x: Floats, y: Floats) -> tuple[Places, Places]:
        near = _meeting(boxes, *self._index.bounds)
        box, point = self._index.near_boxes(boxes[near], self._starts)
        return _really_inside(boxes, x, y, near[box], point)


def _all_of_each(boxes: Floats, x: Floats, y: Floats) -> tuple[Places, Places]:
    near = _meeting(boxes, x.min(), y.min(), x.max(), y.max())
    block, point = np.repeat(near, len(x)), np.tile(np.arange(len(x)), len(near))
    return _really_inside(boxes, x, y, block, point)


def _meeting(boxes: Floats, west: float, south: float, east: float, north: float) -> Places:
    """Places of the rectangles that meet another."""
    meets = (boxes[:, 0] <= east) & (boxes[:, 2] >= west) & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    return np.flatnonzero(meets)


def _really_inside(boxes: Floats, x: Floats, y: Floats, box: Places, point: Places) -> tuple[Places, Places]:
    west, south, east, north = boxes.T
    px, py = x[point], y[point]
    kept = np.flatnonzero((px >= west[box]) & (px <= east[box]) & (py >= south[box]) & (py <= north[box]))
    return box[kept], point[kept]


def _highest_first(ids: ArrayLike, polygons: ArrayLike) -> tuple[Ints, Shapes]:
    """Blocks that have any ground, the one with the highest id first, so that the lowest has the last word."""
    names, shapes = np.asarray(ids, np.int64), np.asarray(polygons, object)
    order = np.flatnonzero(~(shapely.is_missing(shapes) | shapely.is_empty(shapes)))
    order = order[np.argsort(-names[order], kind="stable")]
    return names[order], shapes[order]


def _placed(names: Ints, shapes: Shapes, x: Floats, y: Floats, pairs: Pairing) -> Ints:
    boxes = shapely.bounds(shapes) + np.array([-EDGE_M, -EDGE_M, EDGE_M, EDGE_M])
    shapes = prepared(shapes)
    block, point = pairs(boxes, x, y)
    inside = shapely.intersects_xy(shapes[block], x[point], y[point])
    out = np.full(len(x), NO_BLOCK, np.int64)
    out[point[inside]] = names[block[inside]]
    left = np.flatnonzero(out[point] == NO_BLOCK)
    if len(left):
        block, point = block[left], point[left]
        hair = shapely.dwithin(shapes[block], shapely.points(x[point], y[point]), EDGE_M)
        out[point[hair]] = names[block[hair]]
    return out


def _cells_on_edges(index: TreeIndex, shapes: Shapes) -> NDArray[np.bool_]:
    """Which cells an outline runs through, or passes within 1 mm; a few more may be marked. Shape (cells,)."""
    corners, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shapes)), return_index=True)
    joined = np.flatnonzero(ring[1:] == ring[:-1])
    return index.cells_along(corners[joined], corners[joined + 1], 2 * EDGE_M)
