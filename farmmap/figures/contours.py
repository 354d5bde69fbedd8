"""Contours of a grid of heights.

Marching squares, written here in NumPy: every square between four neighbouring
heights is looked at for all levels that cross it at once, so there is no loop
over cells; the pieces are joined by GEOS. A library of contours would bring a
dependency for forty lines.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.heights import Heights

Floats = NDArray[np.float64]

INTERVALS_M = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
MOST_LEVELS = 30
"""The interval is the smallest round one that gives no more contours than this from lowest to highest ground."""

INDEX_EVERY = 5
"""Every fifth contour is drawn heavier and is labelled, by custom of topographic maps."""


def suiting_interval_m(heights: Heights) -> float:
    """Height from one contour to the next that suits the ground. [m]."""
    known = heights.values[np.isfinite(heights.values)]
    range_m = float(np.ptp(known)) if len(known) else 0.0
    return next((step for step in INTERVALS_M if range_m / step <= MOST_LEVELS), INTERVALS_M[-1])


def contours(heights: Heights, interval_m: float) -> tuple[Floats, NDArray[np.object_]]:
    """Lines of equal height.

    Parameters
    ----------
    heights : Heights
        The ground; no line crosses a square of which a corner has no height.
    interval_m : float
        From one level to the next; levels are whole multiples of it. [m]

    Returns
    -------
    levels : ndarray, shape (n,)
        Height of each line. [m]
    lines : ndarray of shapely LineString, shape (n,)
        On the farm's grid.
    """
    levels: list[float] = []
    lines: list[NDArray[np.object_]] = []
    known = heights.values[np.isfinite(heights.values)]
    if min(heights.values.shape) < 2 or not len(known):
        return np.empty(0), np.empty(0, object)
    first, last = math.ceil(float(known.min()) / interval_m), math.floor(float(known.max()) / interval_m)
    squares = _Squares(heights)
    for number in range(first, last + 1):
        level = number * interval_m
        pieces = squares.pieces(level)
        if len(pieces):
            joined = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(shapely.linestrings(pieces))))
            lines.append(joined)
            levels += [level] * len(joined)
    return np.array(levels, np.float64), np.concatenate([np.empty(0, object), *lines])


class _Squares:
    """Squares between the middles of four cells."""

    def __init__(self, heights: Heights) -> None:
        self._heights = heights
        z = heights.values
        corners = np.stack([z[:-1, :-1], z[:-1, 1:], z[1:, 1:], z[1:, :-1]])  # clockwise from the north-west
        self._lowest, self._highest = corners.min(axis=0), corners.max(axis=0)  # nan where one is not known
        self._corners = corners.reshape(4, -1)
        self._columns = z.shape[1] - 1

    def pieces(self, level: float) -> Floats:
        """Pieces of the contour, shape (n, 2, 2): ends, x and y."""
        with np.errstate(invalid="ignore"):
            crossed = np.flatnonzero(((self._lowest < level) & (self._highest >= level)).ravel())
        z = self._corners[:, crossed]
        above = z >= level
        row, column = crossed // self._columns, crossed % self._columns
        crossings = self._crossings(z, level, row, column)
        # a side is crossed where its ends differ; two sides make a piece, and at a saddle all four make two
        sides = above != np.roll(above, -1, axis=0)
        saddle = sides.all(axis=0)
        plain = np.flatnonzero(~saddle)
        order = np.argsort(~sides[:, plain], axis=0, kind="stable")[:2]
        made = [crossings[order.T, plain[:, None]]]
        places = np.flatnonzero(saddle)
        # the corner cut off lies on the other side of the level than the middle of the square
        middle_above = z[:, places].mean(axis=0) >= level
        cut = np.where(above[0, places] == middle_above, 1, 0)
        made += [
            np.stack([crossings[(corner - 1) % 4, places], crossings[corner % 4, places]], axis=1)
            for corner in (cut, cut + 2)
        ]
        pieces = np.concatenate(made)
        return pieces[(pieces[:, 0] != pieces[:, 1]).any(axis=1)]

    def _crossings(self, z: Floats, level: float, row: NDArray[np.intp], column: NDArray[np.intp]) -> Floats:
        """Where the level crosses each side, shape (4, n, 2); side k runs from corner k to the next.

        Sides are walked from north or west, so that both squares of a side find the very same point.
        """
        heights = self._heights
        west = heights.west + (column + 0.5) * heights.across_m
        east = heights.west + (column + 1.5) * heights.across_m
        north = heights.north - (row + 0.5) * heights.down_m
        south = heights.north - (row + 1.5) * heights.down_m
        out = np.empty((4, len(row), 2))
        for side, (start, end, along) in enumerate(((0, 1, "x"), (1, 2, "y"), (3, 2, "x"), (0, 3, "y"))):
            rise = z[end] - z[start]
            share = (level - z[start]) / np.where(rise == 0, 1.0, rise)  # a level side is not crossed, nor looked at
            if along == "x":
                out[side] = np.column_stack([west * (1 - share) + east * share, north if side == 0 else south])
            else:
                out[side] = np.column_stack([east if side == 1 else west, north * (1 - share) + south * share])
        return out
