"""Which block each tree stands in."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

TREES_A_CELL = 32
"""Trees in a cell of the index, on average."""

MOST_CELLS = 4_000_000

EDGE_M = 0.001
"""A tree this close outside every block still counts in, in m."""

NO_BLOCK = -1


class TreeIndex:
    """Points sorted by cells of ground, so that those inside a polygon are found quickly.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand. [m]
    """

    def __init__(self, x: ArrayLike, y: ArrayLike) -> None:
        east, north = np.asarray(x, np.float64), np.asarray(y, np.float64)
        self._count = len(east)
        known = np.flatnonzero(np.isfinite(east) & np.isfinite(north))
        east, north = east[known], north[known]
        self._west, self._south = (float(east.min()), float(north.min())) if len(known) else (0.0, 0.0)
        wide, high = (float(np.ptp(east)), float(np.ptp(north))) if len(known) else (0.0, 0.0)
        self._cell = _cell_size(wide, high, len(known))
        self._columns = int(wide / self._cell) + 1
        self._rows = int(high / self._cell) + 1
        cell = self._row(north) * self._columns + self._column(east)
        order = np.argsort(cell, kind="stable")
        self._order = known[order]
        self._x, self._y = east[order], north[order]
        counts = np.bincount(cell, minlength=self._rows * self._columns)
        self._starts = np.concatenate([[0], np.cumsum(counts)])

    def __len__(self) -> int:
        return self._count

    def in_box(self, west: float, south: float, east: float, north: float) -> Places:
        """Places of the points inside a rectangle or on its edge, in no particular order, in m."""
        near = self._near(west, south, east, north)
        x, y = self._x[near], self._y[near]
        return self._order[near[(x >= west) & (x <= east) & (y >= south) & (y <= north)]]

    def inside(self, polygon: shapely.Geometry | None, among: NDArray[np.bool_] | None = None) -> Places:
        """Places of the points inside a polygon or on its boundary, increasing.

        Parameters
        ----------
        polygon : shapely geometry or None
            None and an empty one hold nothing.
        among : ndarray of bool, shape (n,), optional
            Look only at these points.
        """
        if polygon is None or polygon.is_empty:
            return np.empty(0, np.intp)
        near = self._near(*polygon.bounds)
        if among is not None:
            near = near[among[self._order[near]]]
        shapely.prepare(polygon)
        return np.sort(self._order[near[shapely.intersects_xy(polygon, self._x[near], self._y[near])]])

    def _near(self, west: float, south: float, east: float, north: float) -> Places:
        """Places in sorted order of all points in cells that a rectangle touches."""
        if east < self._west or north < self._south or not len(self._order):
            return np.empty(0, np.intp)
        corners = np.array([west, east]), np.array([south, north])
        (first, last), (bottom, top) = self._column(corners[0]), self._row(corners[1])
        rows = np.arange(bottom, top + 1) * self._columns
        begins, ends = self._starts[rows + first], self._starts[rows + last + 1]
        lengths = ends - begins
        before = np.cumsum(lengths) - lengths
        return np.repeat(begins - before, lengths) + np.arange(int(lengths.sum()))

    def _column(self, x: Floats) -> Ints:
        return np.clip((x - self._west) / self._cell, 0, self._columns - 1).astype(np.int64)

    def _row(self, y: Floats) -> Ints:
        return np.clip((y - self._south) / self._cell, 0, self._rows - 1).astype(np.int64)


def block_of_trees(index: TreeIndex, ids: ArrayLike, polygons: ArrayLike) -> Ints:
    """Block that each tree stands in.

    The boundary belongs to a block. A tree on an edge that two blocks share,
    or on ground that several blocks claim, belongs to the one with the lowest
    id. A tree up to 1 mm outside every block counts in.

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
    return _placed(index, np.asarray(ids, np.int64), np.asarray(polygons, object), np.ones(len(index), bool))


def block_of_trees_after(
    before: Ints, index: TreeIndex, ids: ArrayLike, polygons: ArrayLike, ground: ArrayLike
) -> Ints:
    """`block_of_trees` after an edit of blocks, looking only at the ground that it touched.

    Parameters
    ----------
    before : ndarray of int64, shape (n,)
        The answer before the edit.
    index : TreeIndex
        The trees, the same ones.
    ids, polygons : array_like, shape (m,)
        All blocks after the edit.
    ground : array_like, shape (k, 4)
        Rectangles touched, as `farmmap.farm.edits.Edit.ground` gives them. [m]
    """
    boxes = np.asarray(ground, np.float64).reshape(-1, 4)
    wider = boxes + np.array([-EDGE_M, -EDGE_M, EDGE_M, EDGE_M])
    again = np.zeros(len(index), bool)
    for box in wider:
        again[index.in_box(*map(float, box))] = True
    shapes = np.asarray(polygons, object)
    outlines = shapely.bounds(shapes).reshape(-1, 4) + np.array([-EDGE_M, -EDGE_M, EDGE_M, EDGE_M])
    meets = np.zeros(len(shapes), bool)
    for west, south, east, north in wider:
        across = (outlines[:, 0] <= east) & (outlines[:, 2] >= west)
        meets |= across & (outlines[:, 1] <= north) & (outlines[:, 3] >= south)
    placed = _placed(index, np.asarray(ids, np.int64)[meets], shapes[meets], again)
    return np.where(again, placed, before)


def blocks_overlap_m2(polygons: ArrayLike) -> float:
    """Ground that several blocks claim; slivers along shared edges below 1 m² in all count as none, in grid m²."""
    shapes = np.asarray(polygons, object)
    if len(shapes) < 2:
        return 0.0
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="intersects")
    pairs = first < second
    shared = float(shapely.area(shapely.intersection(shapes[first[pairs]], shapes[second[pairs]])).sum())
    return shared if shared >= 1.0 else 0.0


def _placed(index: TreeIndex, ids: Ints, polygons: NDArray[np.object_], among: NDArray[np.bool_]) -> Ints:
    out = np.full(len(index), NO_BLOCK, np.int64)
    highest_first = np.argsort(-ids, kind="stable")
    for place in highest_first:
        out[index.inside(polygons[place], among)] = ids[place]
    left = among & (out == NO_BLOCK)
    if left.any():
        for place in highest_first:
            polygon = polygons[place]
            if polygon is not None:
                out[index.inside(shapely.buffer(polygon, EDGE_M, quad_segs=8), left)] = ids[place]
    return out


def _cell_size(wide: float, high: float, count: int) -> float:
    if not count or wide + high == 0:
        return 1.0
    area = max(wide, 1e-9) * max(high, 1e-9)
    size = max((area * TREES_A_CELL / count) ** 0.5, (wide + high) / MOST_CELLS, 1e-6)
    return max(size, (area / MOST_CELLS) ** 0.5)
