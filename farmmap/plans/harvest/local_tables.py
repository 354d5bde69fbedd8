"""A grower's own volume table, read between its lines but never beyond them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_ON_A_LINE = 1e-9


@dataclass(frozen=True, eq=False)
class LocalTable:
    """Volumes by diameter, or by diameter and height. All arrays have shape (n,).

    Attributes
    ----------
    dbh_cm : ndarray
        Diameter of each line. [cm]
    height_m : ndarray
        Height of each line; all nan for a table by diameter alone. [m]
    volume_m3 : ndarray
        Volume of each line, over bark. [m³]
    """

    dbh_cm: Floats
    height_m: Floats
    volume_m3: Floats

    @property
    def by_height(self) -> bool:
        """Whether the table goes by height as well."""
        return bool(np.isfinite(self.height_m).any())

    def at(self, dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
        """Volumes read off between the lines, evenly in diameter and in height; nan outside the table, in m³.

        Inside a cell of the table all four of its corners must be given.
        """
        dbh, height = np.asarray(dbh_cm, float), np.asarray(height_m, float)
        if not self.by_height:
            column = self._grid[:, 0]
            place, part = _between(self._diameters, dbh)
            return _mixed(column[place], _next(column, place), part)
        row, down = _between(self._diameters, dbh)
        column_place, across = _between(self._heights, height)
        upper = _mixed(self._grid[row, column_place], _beside(self._grid, row, column_place), across)
        lower_row = np.minimum(row + 1, len(self._diameters) - 1)
        lower = _mixed(self._grid[lower_row, column_place], _beside(self._grid, lower_row, column_place), across)
        return _mixed(upper, lower, down)

    @cached_property
    def _diameters(self) -> Floats:
        return np.unique(self.dbh_cm)

    @cached_property
    def _heights(self) -> Floats:
        return np.unique(self.height_m) if self.by_height else np.zeros(1)

    @cached_property
    def _grid(self) -> Floats:
        grid = np.full((len(self._diameters), len(self._heights)), np.nan)
        rows = np.searchsorted(self._diameters, self.dbh_cm)
        columns = np.searchsorted(self._heights, self.height_m) if self.by_height else np.zeros(len(rows), np.intp)
        grid[rows, columns] = self.volume_m3
        return grid


def _between(lines: Floats, values: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Line below each value and how far it is on to the next, from 0 to 1; nan outside the lines."""
    place = np.clip(np.searchsorted(lines, values, side="right") - 1, 0, max(len(lines) - 2, 0))
    step = lines[np.minimum(place + 1, len(lines) - 1)] - lines[place]
    part = (values - lines[place]) / np.where(step > 0, step, 1.0)
    return place, np.where(
        (part >= -_ON_A_LINE) & (part <= 1.0 + _ON_A_LINE) & ((step > 0) | (part == 0)), part, np.nan
    )


def _mixed(low: Floats, high: Floats, part: Floats) -> Floats:
    """Mean of two values by weight; one that has no weight need not be known."""
    first = np.where(part >= 1.0 - _ON_A_LINE, 0.0, (1.0 - part) * low)
    second = np.where(part <= _ON_A_LINE, 0.0, part * high)
    return first + second


def _next(column: Floats, place: NDArray[np.intp]) -> Floats:
    return column[np.minimum(place + 1, len(column) - 1)]


def _beside(grid: Floats, row: NDArray[np.intp], column: NDArray[np.intp]) -> Floats:
    return grid[row, np.minimum(column + 1, grid.shape[1] - 1)]
