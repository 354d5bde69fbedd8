"""Plants in squares and triangles, and straight lines across ground."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

SHIFTS = 6
"""The pattern is tried at so many shifts across its rows, and as many along them."""


@dataclass(frozen=True)
class Lie:
    """How a pattern lies on the grid: where it begins, and which way its rows run.

    Attributes
    ----------
    x, y : float
        Its beginning. [grid m]
    turned : float
        Its rows' direction, anticlockwise from east. [radians]
    """

    x: float
    y: float
    turned: float

    def laid(self, shape: shapely.Geometry) -> shapely.Geometry:
        """Return a shape as seen from the pattern, its rows running along x."""
        cos, sin = math.cos(self.turned), math.sin(self.turned)
        back = np.array([[cos, -sin], [sin, cos]])
        return shapely.transform(shape, lambda corners: (corners - np.array([self.x, self.y])) @ back)

    def back(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Places seen from the pattern, on the grid."""
        cos, sin = math.cos(self.turned), math.sin(self.turned)
        along, across = np.asarray(x, np.float64), np.asarray(y, np.float64)
        return self.x + cos * along - sin * across, self.y + sin * along + cos * across


def general_run(line: shapely.Geometry) -> float:
    """Direction in which most of a line runs, anticlockwise from east: its principal axis, in radians.

    Source: the first principal component of its points, each piece counting by its length (H. Hotelling 1933,
    Analysis of a complex of statistical variables into principal components).
    """
    parts = shapely.get_parts(line)
    corners, part = shapely.get_coordinates(parts, return_index=True)
    same = part[1:] == part[:-1]
    begins, ends = corners[:-1][same], corners[1:][same]
    length = np.hypot(*(ends - begins).T)
    total = float(length.sum())
    if total <= 0:
        return 0.0
    middle = ((begins + ends) / 2 * length[:, None]).sum(axis=0) / total
    begins, ends = begins - middle, ends - middle
    centre = (begins + ends) / 2
    weights = length[:, None]
    spread = ((begins.T @ (begins * weights)) + (ends.T @ (ends * weights)) + 4 * (centre.T @ (centre * weights))) / 6
    return 0.5 * math.atan2(2 * spread[0, 1], spread[0, 0] - spread[1, 1])


def lattice(clear: shapely.Geometry, apart: float, turned: float, *, triangle: bool) -> tuple[Floats, Floats, Ints]:
    """Places in squares or triangles of one side over ground.

    Of all shifts tried the one counts whose number of plants is nearest to what the area holds on average, so that
    plants neither crowd both edges of a strip nor leave one bare; of equals that with more plants; of equals again
    the one that lies most evenly about the middle of the ground.

    Parameters
    ----------
    clear : shapely Polygon or MultiPolygon
        Ground to plant. [grid m]
    apart : float
        Side of a square or triangle. [grid m]
    turned : float
        Direction of the rows, anticlockwise from east. [radians]
    triangle : bool
        Every other row shifted by half, and rows nearer to each other by √3/2.

    Returns
    -------
    x, y : ndarray, shape (n,)
        Row by row.
    row : ndarray of int, shape (n,)
        Row of each, from 0.
    """
    middle = shapely.get_coordinates(shapely.centroid(clear))[0]
    lie = Lie(float(middle[0]), float(middle[1]), turned)
    there = lie.laid(clear)
    between = apart * math.sqrt(0.75) if triangle else apart
    # rows at all shifts across at once, a shift's rows being every `SHIFTS`-th
    fine, first, last = spans(there, between / SHIFTS, 0.0)
    up, row = fine * (between / SHIFTS), fine // SHIFTS
    shift = np.arange(SHIFTS)[:, None] / SHIFTS + (np.where(row % 2 == 1, 0.5, 0.0) if triangle else 0.0)
    nth = np.ceil(first / apart - shift)
    begin = np.maximum((nth + shift) * apart, first)
    count = np.maximum(np.floor(last / apart - shift) - nth + 1, 0)
    across, along = _best_shift(
        fine % SHIFTS, count, count * (begin + (count - 1) * (apart / 2)), count * up, there.area / (apart * between)
    )
    chosen = fine % SHIFTS == across
    many = count[along, chosen].astype(np.intp)
    of = np.repeat(np.flatnonzero(chosen), many)
    further = np.arange(len(of)) - np.repeat(np.cumsum(many) - many, many)
    east, north = lie.back(np.minimum(begin[along][of] + further * apart, last[of]), up[of])
    return east, north, row[of] - row[of].min() if len(of) else row[of]


def _best_shift(across: Ints, count: Floats, x: Floats, y: Floats, wanted: float) -> tuple[int, int]:
    """Shift across and along the rows at which a pattern fills ground best.

    Parameters
    ----------
    across : ndarray of int, shape (k,)
        Shift across that each stretch of a row belongs to.
    count, x, y : ndarray, shape (shifts along, k)
        Plants on each stretch, and the sums of their places from the middle of the ground. [m]
    wanted : float
        How many plants the ground holds on average.
    """
    of = np.eye(SHIFTS)[across]
    total, east, north = count @ of, x @ of, y @ of
    off = np.hypot(east, north) / np.maximum(total, 1)
    order = np.lexsort((np.round(off, 6).T.ravel(), -total.T.ravel(), np.abs(total - wanted).T.ravel()))
    best_across, best_along = divmod(int(order[0]), SHIFTS)
    return best_across, best_along


def spans(ground: shapely.Geometry, between: float, shift: float) -> tuple[Ints, Floats, Floats]:
    """Where parallel lines along x lie on ground: the line y = row·between + shift.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Valid.
    between : float
        From line to line. [m]
    shift : float
        Of the line of row 0. [m]

    Returns
    -------
    row : ndarray of int, shape (k,)
        Row of each stretch, increasing.
    first, last : ndarray, shape (k,)
        Where it begins and ends. [m]
    """
    rings = shapely.get_rings(shapely.get_parts(ground))
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    (x_1, y_1), (x_2, y_2) = corners[:-1][same].T, corners[1:][same].T
    up_1, up_2 = (y_1 - shift) / between, (y_2 - shift) / between
    # a side is crossed by the lines from its lower end, counted in, to its upper end, left out
    low, high = np.ceil(np.minimum(up_1, up_2)), np.ceil(np.maximum(up_1, up_2))
    count = (high - low).astype(np.intp)
    side = np.repeat(np.arange(len(count)), count)
    nth = np.arange(len(side)) - np.repeat(np.cumsum(count) - count, count)
    row = low[side] + nth
    share = (row - up_1[side]) / (up_2[side] - up_1[side])
    x = x_1[side] + share * (x_2[side] - x_1[side])
    if not len(x):
        return row.astype(np.intp), x, x
    west = x.min()
    order = np.argsort(row * (x.max() - west + 1) + (x - west))
    x, row = x[order], row[order].astype(np.intp)
    return row[::2], x[::2], x[1::2]


def cells_of(ground: shapely.Geometry, size: float) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Squares that ground reaches into, and some beside its edge.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Valid.
    size : float
        Side of a square; they are counted from the grid's beginning. [m]

    Returns
    -------
    row, column : ndarray of int, shape (k,)
        Of each square.
    whole : ndarray of bool, shape (k,)
        Whether all of it lies on the ground for certain.
    """
    west, south, east, _ = np.floor(np.array(ground.bounds) / size).astype(np.int64)
    wide = int(east - west) + 3  # a number for each square, those just beside all of them counted in
    edge = np.floor(shapely.get_coordinates(shapely.segmentize(shapely.boundary(ground), size / 2)) / size)
    on = _distinct((edge[:, 1].astype(np.int64) - south + 1) * wide + edge[:, 0].astype(np.int64) - west + 1)
    around = np.array([row * wide + column for row in (-1, 0, 1) for column in (-1, 0, 1)])
    on = _distinct((on[:, None] + around).ravel())
    row, first, last = spans(ground, size, size / 2)
    low, high = np.ceil(first / size - 0.5).astype(np.int64), np.floor(last / size - 0.5).astype(np.int64)
    count = np.maximum(high - low + 1, 0)
    begun = np.repeat((row - south + 1) * wide + low - west + 1 - (np.cumsum(count) - count), count)
    inner = begun + np.arange(count.sum())
    inner = inner[on[np.minimum(np.searchsorted(on, inner), len(on) - 1)] != inner]
    squares = np.concatenate([on, inner])
    return squares // wide + south - 1, squares % wide + west - 1, np.arange(len(squares)) >= len(on)


def _distinct(values: NDArray[np.int64]) -> NDArray[np.int64]:
    """Values in order, each once."""
    values = np.sort(values)
    return values[np.concatenate([[True], values[1:] != values[:-1]])]
