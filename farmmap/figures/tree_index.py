"""Points sorted by cells of ground, so that those near a place or inside a polygon are found quickly."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.splice import Moves, spliced
from farmmap.figures.prepared import prepared

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]
Placed = tuple[Places, Floats, Floats]
Bounds = tuple[float, float, float, float]

TREES_A_CELL = 16
"""Trees in a cell of the index, on average."""

MOST_CELLS = 4_000_000

NO_BOUNDS = (np.inf, np.inf, -np.inf, -np.inf)

SAMPLE = 4_096
"""From so many points it is told where nearly all of them lie."""

STRAYS = 50
"""One point of so many, on each side, may lie far away without making all cells wider."""

LEAST_CELL_M = 0.5
"""Side of the smallest cell, unless a smaller one is asked for. [m]"""

FEW = 8
"""So many numbers are looked for one by one."""

PLACE_BITS = 40
"""A cell and the place of a tree are kept in one whole number while they are sorted; this many bits hold the place."""


class TreeIndex:
    """Points sorted by cells of ground.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand. [m]
    cell_m : float or None
        Side of a cell; None for one that holds a handful of trees. [m]

    Attributes
    ----------
    order : ndarray of int, shape (m,)
        Places of the points that have a position, sorted by cell, then by place.
    x, y : ndarray, shape (m,)
        Their coordinates in that order. [m]
    cell_m : float
        Side of a cell. [m]
    bounds : tuple of float
        West, south, east and north of a rectangle that holds all points, `NO_BOUNDS` if there are none; it may stay
        wider after an edit. [m]
    """

    def __init__(self, x: ArrayLike, y: ArrayLike, cell_m: float | None = None) -> None:
        east, north = np.asarray(x, np.float64), np.asarray(y, np.float64)
        self._count = len(east)
        known = np.isfinite(east) & np.isfinite(north)
        places = None if known.all() else np.flatnonzero(known)
        if places is not None:
            east, north = east[places], north[places]
        self.bounds = _around(NO_BOUNDS, east, north)
        self._west, self._south, right, top = heart(east, north, self.bounds)
        wide, high = right - self._west, top - self._south
        self.cell_m = _cell_size(wide, high, len(east), cell_m)
        self._columns = int(wide / self.cell_m) + 1
        self._rows = int(high / self.cell_m) + 1
        cell = self.cell_of(east, north)
        packed = (cell << PLACE_BITS) | np.arange(len(cell))
        packed.sort()
        order = packed & ((1 << PLACE_BITS) - 1)
        self.order: Places = order if places is None else places[order]
        self.x, self.y = east[order], north[order]
        counts = np.bincount(cell, minlength=self._rows * self._columns)
        self._starts = np.concatenate([[0], np.cumsum(counts)])

    def __len__(self) -> int:
        return self._count

    @property
    def starts(self) -> Ints:
        """First place in `order` of each cell, and the end of the last one."""
        return self._starts

    def cell_of(self, x: Floats, y: Floats) -> Ints:
        """Return the cell of points; points outside belong to the nearest cell. Shape (n,)."""
        return self._row(y) * self._columns + self._column(x)

    def in_box(self, west: float, south: float, east: float, north: float) -> Places:
        """Places of the points inside a rectangle or on its edge, in no particular order, in m."""
        at = self.sorted_in_box(west, south, east, north)
        return self.order[at]

    def sorted_in_box(self, west: float, south: float, east: float, north: float) -> Places:
        """Places in `order` of the points inside a rectangle or on its edge, increasing, in m."""
        if not len(self.order) or not (west <= east and south <= north):
            return np.empty(0, np.intp)
        first, last = (self._cell_along(x - self._west, self._columns) for x in (west, east))
        bottom, top = (self._cell_along(y - self._south, self._rows) for y in (south, north))
        starts = self._starts
        stretches = [
            (int(starts[row * self._columns + first]), int(starts[row * self._columns + last + 1]))
            for row in range(bottom, top + 1)
        ]
        near = np.concatenate([np.arange(begin, end) for begin, end in stretches])
        x, y = self.x[near], self.y[near]
        return near[(x >= west) & (x <= east) & (y >= south) & (y <= north)]

    def _cell_along(self, off: float, many: int) -> int:
        return int(min(max(off / self.cell_m, 0), many - 1))

    def inside(self, polygon: shapely.Geometry | None) -> Places:
        """Places of the points inside a polygon or on its boundary, increasing; None and an empty one hold nothing."""
        if polygon is None or polygon.is_empty:
            return np.empty(0, np.intp)
        _, near = self.near_boxes(np.array([polygon.bounds]))
        own = prepared(polygon)
        return np.sort(self.order[near[shapely.intersects_xy(own, self.x[near], self.y[near])]])

    def near_boxes(self, boxes: Floats, starts: Ints | None = None) -> tuple[Places, Places]:
        """Points in the cells that rectangles touch.

        Parameters
        ----------
        boxes : ndarray, shape (k, 4)
            West, south, east and north of each; none of them nan. [m]
        starts : ndarray, optional
            Another list of first places to be used in place of `starts`.

        Returns
        -------
        box : ndarray of int, shape (p,)
            The rectangle, increasing.
        at : ndarray of int, shape (p,)
            Places in `order`.
        """
        begins_at = self._starts if starts is None else starts
        first, last = self._column(boxes[:, 0]), self._column(boxes[:, 2])
        bottom, top = self._row(boxes[:, 1]), self._row(boxes[:, 3])
        box, step = spread(np.maximum(top - bottom + 1, 0))
        row = (bottom[box] + step) * self._columns
        begins, ends = begins_at[row + first[box]], begins_at[row + last[box] + 1]
        part, offset = spread(np.maximum(ends - begins, 0))
        return box[part], begins[part] + offset

    def cells_along(self, begins: Floats, ends: Floats, off_m: float) -> NDArray[np.bool_]:
        """Which cells straight lines run through, or pass within a distance; a few more may be marked.

        Cells on the edge of the index reach outwards without end, as they hold
        what lies there. A line takes a step for each row of cells that it
        crosses, however long it is.

        Parameters
        ----------
        begins, ends : ndarray, shape (k, 2)
            Ends of the lines. [m]
        off_m : float
            The distance. [m]

        Returns
        -------
        ndarray of bool, shape (cells,)
        """
        low, high = np.minimum(begins[:, 1], ends[:, 1]), np.maximum(begins[:, 1], ends[:, 1])
        first = self._row(low - off_m)
        line, up = spread(self._row(high + off_m) - first + 1)
        row = first[line] + up
        floor = np.where(row > 0, self._south + row * self.cell_m, -np.inf) - off_m
        roof = np.where(row < self._rows - 1, self._south + (row + 1) * self.cell_m, np.inf) + off_m
        x, y, across, rise = begins[line, 0], begins[line, 1], (ends - begins)[line, 0], (ends - begins)[line, 1]
        level = np.abs(rise) <= off_m
        over = np.where(level, 1.0, rise)
        part = [np.clip(np.where(level, whole, (side - y) / over), 0, 1) for side, whole in ((floor, 0), (roof, 1))]
        at = [x + across * one for one in part]
        cells = len(self._starts) - 1
        begin = row * self._columns + self._column(np.minimum(*at) - off_m)
        past = row * self._columns + self._column(np.maximum(*at) + off_m) + 1
        steps = np.bincount(begin, minlength=cells + 1) - np.bincount(past, minlength=cells + 1)
        return np.asarray(np.cumsum(steps)[:cells] > 0)

    def after(self, moves: Moves, old: Placed, new: Placed, count: int) -> TreeIndex | None:
        """Return the index of points after some of them changed, or None if a new one has to be made.

        Parameters
        ----------
        moves : Moves
            How the places of all points change.
        old, new : tuple of ndarray, each of shape (k,)
            Places and coordinates before of the points that are to be taken out, and places and coordinates after of
            those to be put in; those without coordinates are in no index. [m]
        count : int
            How many points there are after.
        """
        gone, put_in = _known(old), _known(new)
        if len(gone[0]) + len(put_in[0]) > max(len(self.order) // 8, 64):
            return None
        out_at = self._found(*gone)
        if out_at is None:
            return None
        if not len(out_at) + len(put_in[0]):
            return self._with_order(moves.places(self.order) if moves else self.order, count)
        out = object.__new__(TreeIndex)
        out._count, out.cell_m = count, self.cell_m
        out._west, out._south, out._columns, out._rows = self._west, self._south, self._columns, self._rows
        out.bounds = _around(self.bounds, put_in[1], put_in[2])
        cell = self.cell_of(put_in[1], put_in[2])
        by_cell = np.argsort(cell, kind="stable")
        cell, places, x, y = cell[by_cell], *(values[by_cell] for values in put_in)
        put_at = self._starts[cell + 1]
        out.order = spliced(moves.places(self.order) if moves else self.order, out_at, put_at, places)
        out.x = spliced(self.x, out_at, put_at, x)
        out.y = spliced(self.y, out_at, put_at, y)
        gone_from = np.searchsorted(self._starts, out_at, side="right") - 1
        out._starts = _starts_after(self._starts, gone_from, cell)
        return out

    def _with_order(self, order: Places, count: int) -> TreeIndex:
        """Return the same index of points that have other places."""
        if order is self.order and count == self._count:
            return self
        out = object.__new__(TreeIndex)
        out.__dict__.update(self.__dict__)
        out.order, out._count = order, count
        return out

    def _found(self, places: Places, x: Floats, y: Floats) -> Places | None:
        """Where in `order` some points are, increasing; None if one is missing."""
        cell = self.cell_of(x, y)
        point, at = spread(self._starts[cell + 1] - self._starts[cell])
        at = self._starts[cell][point] + at
        found = at[self.order[at] == places[point]]
        return np.sort(found) if len(found) == len(places) else None

    def _column(self, x: Floats) -> Ints:
        return np.clip((x - self._west) / self.cell_m, 0, self._columns - 1).astype(np.int64)

    def _row(self, y: Floats) -> Ints:
        return np.clip((y - self._south) / self.cell_m, 0, self._rows - 1).astype(np.int64)


def _starts_after(starts: Ints, gone: Places, put: Places) -> Ints:
    """First places of cells after a point was taken out of each of some cells, and one put into each of others."""
    if len(gone) + len(put) > FEW:
        counts = np.diff(starts)
        np.subtract.at(counts, gone, 1)
        np.add.at(counts, put, 1)
        return np.concatenate([[0], np.cumsum(counts)])
    steps = sorted([*((cell, -1) for cell in gone.tolist()), *((cell, 1) for cell in put.tolist())])
    stops = [*(cell + 1 for cell, _ in steps), len(starts)]
    out, more = starts, 0
    for (_, step), begin, end in zip(steps, stops[:-1], stops[1:], strict=True):
        more += step
        if more and begin < end:
            out = out.copy() if out is starts else out
            out[begin:end] += more
    return out


def _known(points: Placed) -> Placed:
    places, x, y = points
    known = np.isfinite(x) & np.isfinite(y)
    return places[known], x[known], y[known]


def _around(bounds: Bounds, x: Floats, y: Floats) -> Bounds:
    """Return a rectangle grown around points."""
    west, south, east, north = bounds
    return (
        float(x.min(initial=west)),
        float(y.min(initial=south)),
        float(x.max(initial=east)),
        float(y.max(initial=north)),
    )


def heart(x: Floats, y: Floats, bounds: Bounds) -> Bounds:
    """Return the rectangle on which nearly all of some points lie, so that a few far away do not make it huge.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        The points. [m]
    bounds : tuple of float
        A rectangle around all of them, `NO_BOUNDS` if there are none. [m]

    Returns
    -------
    tuple of float
        West, south, east and north: all zero without points. [m]
    """
    if not len(x):
        return 0.0, 0.0, 0.0, 0.0
    west, south, east, north = bounds
    (west, east), (south, north) = _most_of(x, west, east), _most_of(y, south, north)
    return west, south, east, north


def _most_of(values: Floats, least: float, most: float) -> tuple[float, float]:
    """Return the ends of where nearly all values lie, with half as much again on either side if there are any."""
    some = np.sort(values[:: max(len(values) // SAMPLE, 1)])
    few = len(some) // STRAYS
    low, high = float(some[few]), float(some[-1 - few])
    if low == high:
        return least, most
    room = (high - low) / 2
    return max(least, low - room), min(most, high + room)


def spread(lengths: Ints) -> tuple[Places, Ints]:
    """Spread rows of these lengths out: the row of each item, and its number within the row, from 0."""
    row = np.repeat(np.arange(len(lengths)), lengths)
    before = np.cumsum(lengths) - lengths
    return row, np.arange(len(row)) - before[row]


def any_of(values: Ints, wanted: Ints) -> NDArray[np.bool_]:
    """Which of many whole numbers are among a few wanted ones, shape (n,)."""
    if len(wanted) > FEW:
        return np.isin(values, wanted)
    out = np.zeros(len(values), bool)
    for one in wanted:
        out |= values == one
    return out


def places_among(ids: Ints, wanted: Ints) -> Places:
    """Places in increasing ids of those wanted ones (increasing too) that are there."""
    if not len(ids):
        return np.empty(0, np.intp)
    places = np.minimum(np.searchsorted(ids, wanted), len(ids) - 1)
    return places[ids[places] == wanted]


def _cell_size(wide: float, high: float, count: int, asked: float | None) -> float:
    """Side of a cell. Points in a row take no more cells than points all over a square do."""
    if not count or wide + high == 0:
        return asked or 1.0
    cells = min(4 * count + 1_000 if asked else max(count / TREES_A_CELL, 1.0), MOST_CELLS)
    return max(asked or LEAST_CELL_M, (wide * high / cells) ** 0.5, max(wide, high) / cells)
