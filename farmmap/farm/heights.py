"""Heights of the ground as a grid of cells on the farm's own grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights of the ground, a cell each, north first.

    Attributes
    ----------
    values : ndarray of float64, shape (rows, columns)
        Height of the middle of each cell; nan where none is known. [m]
    west, north : float
        Outer corner of the first cell, on the farm's grid. [m]
    across_m, down_m : float
        Width and height of a cell, in grid metres. [m]
    """

    values: Floats
    west: float
    north: float
    across_m: float
    down_m: float

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """South-west and north-east corner: x, y, x, y. [m]."""
        rows, columns = self.values.shape
        return self.west, self.north - rows * self.down_m, self.west + columns * self.across_m, self.north

    def at(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Heights at points, straight between the middles of the cells around them.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            On the farm's grid. [m]

        Returns
        -------
        ndarray, shape (n,)
            nan outside the grid, and where one of the cells around has no height; within half a cell of the edge
            the slope of the last two cells goes on. [m]
        """
        column = (np.asarray(x, np.float64) - self.west) / self.across_m
        row = (self.north - np.asarray(y, np.float64)) / self.down_m
        rows, columns = self.values.shape
        outside = ~((column >= 0) & (column <= columns) & (row >= 0) & (row <= rows))
        column, row = np.where(outside, 0.0, column) - 0.5, np.where(outside, 0.0, row) - 0.5
        left, right = _neighbours(column, columns)
        above, below = _neighbours(row, rows)
        over, under = column - left, row - above
        upper = _between(self.values[above, left], self.values[above, right], over)
        lower = _between(self.values[below, left], self.values[below, right], over)
        return np.where(outside, np.nan, _between(upper, lower, under))


def _neighbours(place: Floats, count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Cells before and after a place along one direction."""
    before = np.clip(np.floor(place).astype(np.int64), 0, max(count - 2, 0))
    return before, np.minimum(before + 1, count - 1)


def _between(first: Floats, second: Floats, share: Floats) -> Floats:
    """Value between two, one of which does not count where it has no weight."""
    return np.where(share == 0, first, np.where(share == 1, second, first * (1 - share) + second * share))
