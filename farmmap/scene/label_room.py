"""Room on a picture for names: which of its small cells are taken already."""

from __future__ import annotations

import math

import numpy as np

from farmmap.scene.view import Floats

CELL_MM = 0.5
"""Side of a cell. A name takes every cell that it touches. [mm]"""

EDGE_MM = 1.0
"""Kept free along the edges of the picture. [mm]"""


class LabelRoom:
    """The cells of a picture, and which of them names have taken.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the picture. [mm]
    """

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self._width, self._height = width_mm, height_mm
        rows, self._columns = int(height_mm / CELL_MM) + 2, int(width_mm / CELL_MM) + 2
        self._bytes = bytearray(rows * self._columns)  # the cells once more, as this is quicker to search
        self._taken = np.frombuffer(self._bytes, np.bool_).reshape(rows, self._columns)

    def block(self, left: float, top: float, right: float, bottom: float) -> None:
        """Take all cells of an upright rectangle, whether they are free or not. [mm]."""
        rows, columns = self._cells(left, top, right, bottom)
        self._taken[rows, columns] = True

    def take(self, corners: Floats, *, upright: bool) -> bool:
        """Take the room of a rectangle if it is free and inside the picture.

        Parameters
        ----------
        corners : ndarray, shape (4, 2)
            The rectangle. [mm]
        upright : bool
            Whether its sides are level; then only its first and third corner are read.
        """
        if upright:
            return self.take_upright(*corners[0].tolist(), *corners[2].tolist())
        (left, top), (right, bottom) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        if not self._inside(left, top, right, bottom):
            return False
        middle = corners.mean(axis=0)
        if self._taken[int(middle[1] / CELL_MM), int(middle[0] / CELL_MM)]:
            return False
        rows, columns = self._cells(left, top, right, bottom)
        part = self._taken[rows, columns]
        mine = _touched(corners, middle, rows.start, columns.start, part.shape)
        if (part & mine).any():
            return False
        part |= mine
        return True

    def take_upright(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Take the room of an upright rectangle if it is free and inside the picture. [mm]."""
        if not self._inside(left, top, right, bottom):
            return False
        first, last = int(left / CELL_MM), int(right / CELL_MM) + 1
        rows = range(int(top / CELL_MM), int(bottom / CELL_MM) + 1)
        for row in rows:
            start = row * self._columns
            if self._bytes.find(1, start + first, start + last) >= 0:
                return False
        self._taken[rows.start : rows.stop, first:last] = True
        return True

    def _inside(self, left: float, top: float, right: float, bottom: float) -> bool:
        return (
            left >= EDGE_MM and top >= EDGE_MM and right <= self._width - EDGE_MM and bottom <= self._height - EDGE_MM
        )

    def _cells(self, left: float, top: float, right: float, bottom: float) -> tuple[slice, slice]:
        rows = slice(max(math.floor(top / CELL_MM), 0), max(math.floor(bottom / CELL_MM) + 1, 0))
        return rows, slice(max(math.floor(left / CELL_MM), 0), max(math.floor(right / CELL_MM) + 1, 0))


def _touched(corners: Floats, middle: Floats, row: int, column: int, shape: tuple[int, ...]) -> np.ndarray:
    """Cells from a first row and column on that a rectangle touches."""
    y = (np.arange(shape[0]) + row + 0.5)[:, None] * CELL_MM - middle[1]
    x = (np.arange(shape[1]) + column + 0.5) * CELL_MM - middle[0]
    out = np.ones(shape, np.bool_)
    for side in (corners[1] - corners[0], corners[3] - corners[0]):
        length = float(np.hypot(*side))
        across = side / max(length, 1e-9)
        out &= np.abs(x * across[0] + y * across[1]) <= length / 2 + CELL_MM * math.sqrt(0.5)
    return out
