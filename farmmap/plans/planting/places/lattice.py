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

BESIDE = 1e-7
"""A line so near to a square counts as passing through it, so that rounding loses none. [sides of a square]"""


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
    fine, x, leaves = _crossings(there, between / SHIFTS, 0.0)
    row = fine // SHIFTS
    half: Floats = np.where(row & 1, 0.5 if triangle else 0.0, 0.0)
    steps = _Steps(fine, fine - row * SHIFTS, x / apart - half, leaves, half, between / (SHIFTS * apart))
    across, along = _best_shift(steps, there.area / (apart * between))
    chosen = steps.across == across
    fine, first, last = _paired(fine[chosen], x[chosen])
    up, row = fine * (between / SHIFTS), fine // SHIFTS
    shift = along / SHIFTS + ((row & 1) * 0.5 if triangle else 0.0)
    nth = np.ceil(first / apart - shift)
    begin = np.maximum((nth + shift) * apart, first)
    many = np.maximum(np.floor(last / apart - shift) - nth + 1, 0).astype(np.intp)
    of = np.repeat(np.arange(len(many)), many)
    further = np.arange(len(of)) - np.repeat(np.cumsum(many) - many, many)
    east, north = lie.back(np.minimum(begin[of] + further * apart, last[of]), up[of])
    return east, north, row[of] - row[of].min() if len(of) else row[of]


@dataclass(frozen=True, eq=False)
class _Steps:
    """Where lines across ground cross its outline.

    Attributes
    ----------
    line, across : ndarray of int, shape (k,)
        Line that crosses, and the shift across that it belongs to: every `SHIFTS`-th one to the same.
    at : ndarray, shape (k,)
        How far along the line, from where its own row begins. [spacings]
    leaves : ndarray of bool, shape (k,)
        Whether ground lies before the crossing, and not after it.
    half : ndarray, shape (k,)
        How far on the line's own row begins. [spacings]
    up : float
        From line to line. [spacings]
    """

    line: Ints
    across: Ints
    at: Floats
    leaves: NDArray[np.bool_]
    half: Floats
    up: float


def _best_shift(steps: _Steps, wanted: float) -> tuple[int, int]:
    """Shift across and along the rows at which a pattern fills ground best.

    The plants on a line are those before each place at which it leaves the ground, less those before each place at
    which it comes upon it, so that nothing need be put in order.

    Parameters
    ----------
    steps : _Steps
        Where lines come upon the ground and leave it.
    wanted : float
        How many plants the ground holds on average.
    """
    before = np.where(steps.leaves, np.floor(steps.at), np.ceil(steps.at) - 1)  # number of the last plant before it
    rest = (steps.at - before) * SHIFTS
    fewer_from = np.where(steps.leaves, np.floor(rest) + 1, np.ceil(rest)).astype(np.intp)  # shift that puts it past
    sign = np.where(steps.leaves, 1.0, -1.0)
    fewer = np.bincount(steps.across * (SHIFTS + 2) + fewer_from, sign, SHIFTS * (SHIFTS + 2)).reshape(
        SHIFTS, SHIFTS + 2
    )
    total = np.bincount(steps.across, sign * before, SHIFTS)[:, None] - np.cumsum(fewer[:, :SHIFTS], axis=1)
    off = np.abs(total - wanted)
    best = np.argwhere((off == off.min()) & (total == total[off == off.min()].max()))
    if len(best) > 1:
        aside = [_off_middle(steps, before, fewer_from, sign, *pair) for pair in best]
        best = best[np.argsort(np.round(aside, 6), kind="stable")]
    return int(best[0, 0]), int(best[0, 1])


def _off_middle(steps: _Steps, before: Floats, fewer_from: Ints, sign: Floats, across: int, along: int) -> float:
    """How far the middle of a pattern's plants lies from that of the ground, in spacings."""
    own = steps.across == across
    number = before[own] - (fewer_from[own] <= along)
    many = sign[own] * number
    east = (many * ((number + 1) / 2 + along / SHIFTS + steps.half[own])).sum()
    return math.hypot(east, (many * steps.line[own]).sum() * steps.up) / max(many.sum(), 1)


def _crossings(ground: shapely.Geometry, between: float, shift: float) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Where parallel lines along x cross the outline of ground: number of the line, x, and whether it leaves there."""
    rings, part = shapely.get_rings(shapely.get_parts(ground), return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    is_hole = np.append(False, part[1:] == part[:-1])
    lies_left = shapely.is_ccw(rings) != is_hole  # of the way along a ring, the ground
    same = ring[1:] == ring[:-1]
    x, up = corners[:, 0], (corners[:, 1] - shift) / between
    x_1, up_1, x_2, up_2 = x[:-1][same], up[:-1][same], x[1:][same], up[1:][same]
    # a side is crossed by the lines from its lower end, counted in, to its upper end, left out
    low, high = np.ceil(np.minimum(up_1, up_2)), np.ceil(np.maximum(up_1, up_2))
    count = (high - low).astype(np.intp)
    line = np.repeat(low - (np.cumsum(count) - count), count) + np.arange(count.sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (x_2 - x_1) / (up_2 - up_1)
    at = np.repeat(x_1, count) + (line - np.repeat(up_1, count)) * np.repeat(slope, count)
    return line.astype(np.intp), at, np.repeat((up_2 > up_1) == lies_left[ring[1:][same]], count)


def _paired(line: Ints, x: Floats) -> tuple[Ints, Floats, Floats]:
    """Return stretches between crossings of the same line: its number, increasing, their beginnings and ends."""
    if not len(x):
        return line, x, x
    west = x.min()
    order = np.argsort(line * (x.max() - west + 1) + (x - west))
    x, line = x[order], line[order]
    return line[::2], x[::2], x[1::2]


def spans(ground: shapely.Geometry, between: float, shift: float) -> tuple[Ints, Floats, Floats]:
    """Where parallel lines along x lie on ground: the line y = row·between + shift.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Valid.
    between : float
        From line to line. [grid m]
    shift : float
        Of the line of row 0. [grid m]

    Returns
    -------
    row : ndarray of int, shape (k,)
        Row of each stretch, increasing.
    first, last : ndarray, shape (k,)
        Where it begins and ends. [grid m]
    """
    line, x, _ = _crossings(ground, between, shift)
    return _paired(line, x)


def cells_of(ground: shapely.Geometry, size: float) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Squares that ground reaches into.

    Parameters
    ----------
    ground : shapely Polygon or MultiPolygon
        Valid.
    size : float
        Side of a square; they are counted from the grid's beginning. [grid m]

    Returns
    -------
    row, column : ndarray of int, shape (k,)
        Of each square.
    whole : ndarray of bool, shape (k,)
        Whether all of it lies on the ground: its outline does not pass there.
    """
    west, south, east, _ = np.floor(np.array(ground.bounds) / size).astype(np.int64)
    wide = int(east - west) + 3  # a number for each square, those just beside all of them counted in
    row, column = _passed(shapely.boundary(ground), size)
    on = _distinct((row - south + 1) * wide + column - west + 1)
    row, first, last = spans(ground, size, size / 2)
    low, high = np.ceil(first / size - 0.5).astype(np.int64), np.floor(last / size - 0.5).astype(np.int64)
    count = np.maximum(high - low + 1, 0)
    begun = np.repeat((row - south + 1) * wide + low - west + 1 - (np.cumsum(count) - count), count)
    inner = begun + np.arange(count.sum())
    inner = inner[on[np.minimum(np.searchsorted(on, inner), len(on) - 1)] != inner]
    squares = np.concatenate([on, inner])
    return squares // wide + south - 1, squares % wide + west - 1, np.arange(len(squares)) >= len(on)


def _passed(lines: shapely.Geometry, size: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of squares that lines pass through or just beside, some more than once."""
    corners, line = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    same = line[1:] == line[:-1]
    one, other = corners[:-1][same] / size, corners[1:][same] / size
    falls = one[:, 1] > other[:, 1]
    low, high = np.where(falls[:, None], other, one), np.where(falls[:, None], one, other)
    rise = high[:, 1] - low[:, 1]
    row, side = _all_between(low[:, 1], high[:, 1])
    # what share of a side has been passed where it enters a row of squares, and where it leaves it
    share = np.clip((row + np.array([[0.0], [1.0]]) - low[side, 1]) / np.maximum(rise, BESIDE)[side], 0.0, 1.0)
    share[:, rise[side] < BESIDE] = np.array([[0.0], [1.0]])
    ends = low[side, 0] + share * (high[:, 0] - low[:, 0])[side]
    column, piece = _all_between(ends.min(axis=0), ends.max(axis=0))
    return row[piece], column


def _all_between(low: Floats, high: Floats) -> tuple[NDArray[np.int64], Ints]:
    """Whole numbers of the squares from one place to another, for each of some pairs, and the number of its pair."""
    first = np.floor(low - BESIDE).astype(np.int64)
    count = np.floor(high + BESIDE).astype(np.int64) - first + 1
    pair = np.repeat(np.arange(len(first)), count)
    return np.repeat(first - (np.cumsum(count) - count), count) + np.arange(len(pair)), pair


def _distinct(values: NDArray[np.int64]) -> NDArray[np.int64]:
    """Values in order, each once."""
    values = np.sort(values)
    return values[np.concatenate([[True], values[1:] != values[:-1]])]
