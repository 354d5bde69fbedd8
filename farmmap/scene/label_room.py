"""Room on a picture for names: which of its small cells are taken already."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from farmmap.scene.view import Floats

CELL_MM = 0.5
"""Side of a cell. A name takes every cell that it touches. [mm]"""

EDGE_MM = 1.0
"""Kept free along the edges of the picture. [mm]"""

_REACH_MM = CELL_MM * math.sqrt(0.5)
"""From the middle of a cell to its corners. [mm]"""


Cells = list[list[int]]
"""Cells of upright rectangles: where the first row of each begins and the row after the last, counted in cells row by
row from the upper left corner; its first columns and the ones after the last. One outside the picture has no rows."""


class LabelRoom:
    """The cells of a picture, and which of them names have taken.

    A cell belongs to one name at most, so that what one gives back nobody else has.

    Parameters
    ----------
    width_mm, height_mm : float
        Size of the picture. [mm]
    """

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self._width, self._height = width_mm, height_mm
        rows, self._columns = int(height_mm / CELL_MM) + 2, int(width_mm / CELL_MM) + 2
        self._bytes = bytearray(rows * self._columns)  # the cells once more, as this is quicker to search
        self._cells = np.frombuffer(self._bytes, np.bool_)
        self._taken = self._cells.reshape(rows, self._columns)

    def block(self, left: float, top: float, right: float, bottom: float) -> None:
        """Take all cells of an upright rectangle, whether they are free or not. [mm]."""
        rows = slice(max(math.floor(top / CELL_MM), 0), max(math.floor(bottom / CELL_MM) + 1, 0))
        columns = slice(max(math.floor(left / CELL_MM), 0), max(math.floor(right / CELL_MM) + 1, 0))
        self._taken[rows, columns] = True

    def hold(self, boxes: Floats) -> NDArray[np.bool_]:
        """Whether upright rectangles, shape (n, 4), lie inside the picture and clear of its edges. [mm]."""
        most = self._width - EDGE_MM, self._height - EDGE_MM
        return np.asarray((boxes[:, :2] >= EDGE_MM).all(axis=1) & (boxes[:, 2:] <= most).all(axis=1))

    def take(self, x: float, y: float, width: float, height: float, angle_deg: float = 0.0) -> bool:
        """Take the room of a rectangle if it is free and inside the picture.

        Parameters
        ----------
        x, y : float
            Its middle. [mm]
        width, height : float
            Its size. [mm]
        angle_deg : float
            Turn clockwise about the middle. [degrees]
        """
        if angle_deg:
            return self.take_all(np.array([[x, y, width, height, angle_deg]]))
        left, top, right, bottom = x - width / 2, y - height / 2, x + width / 2, y + height / 2
        if left < EDGE_MM or top < EDGE_MM or right > self._width - EDGE_MM or bottom > self._height - EDGE_MM:
            return False
        above, below = int(top / CELL_MM), int(bottom / CELL_MM) + 1
        first, last = int(left / CELL_MM), int(right / CELL_MM) + 1
        return self.take_first([[above * self._columns], [below * self._columns], [first], [last]]) is not None

    def cells_of(self, x: Floats, y: Floats, width: Floats, height: Floats) -> NDArray[np.int64]:
        """Return the `Cells` of upright rectangles, shape (n, 4, m); arguments as for `take`, shape (n, m)."""
        left, top, right, bottom = x - width / 2, y - height / 2, x + width / 2, y + height / 2
        inside = (left >= EDGE_MM) & (top >= EDGE_MM)
        inside &= (right <= self._width - EDGE_MM) & (bottom <= self._height - EDGE_MM)
        found = np.stack([top, bottom, left, right], axis=1) / CELL_MM
        cells = np.where(inside[:, None], found, 0.0).astype(np.int64)
        cells[:, 1::2] += inside[:, None]
        cells[:, :2] *= self._columns
        return cells

    def take_first(self, cells: Cells) -> int | None:
        """Take the first of some rectangles that is free and inside the picture; return its number, or None."""
        find, columns = self._bytes.find, self._columns
        for number, (above, below, first, last) in enumerate(zip(*cells, strict=True)):
            for row in range(above, below, columns):
                if find(1, row + first, row + last) >= 0:
                    break
            else:
                if above < below:
                    self._taken[above // columns : below // columns, first:last] = True
                    return number
        return None

    def give_back(self, x: float, y: float, width: float, height: float, angle_deg: float = 0.0) -> None:
        """Free the room that `take` took for the same rectangle."""
        if angle_deg:
            self.give_all_back(np.array([[x, y, width, height, angle_deg]]))
            return
        rows = slice(int((y - height / 2) / CELL_MM), int((y + height / 2) / CELL_MM) + 1)
        self._taken[rows, int((x - width / 2) / CELL_MM) : int((x + width / 2) / CELL_MM) + 1] = False

    def take_all(self, boxes: Floats) -> bool:
        """Take the room of turned rectangles which belong together, if all of it is free and inside the picture.

        Parameters
        ----------
        boxes : ndarray, shape (n, 5)
            x and y of the middle, width, height [mm] and turn clockwise [degrees]. They may overlap.
        """
        x, y, width, height, angle = boxes.T
        cos, sin = np.abs(np.cos(np.radians(angle))), np.abs(np.sin(np.radians(angle)))
        wide, high = (width * cos + height * sin) / 2, (width * sin + height * cos) / 2
        if (x - wide).min() < EDGE_MM or (y - high).min() < EDGE_MM:
            return False
        if (x + wide).max() > self._width - EDGE_MM or (y + high).max() > self._height - EDGE_MM:
            return False
        middles = (y / CELL_MM).astype(np.int64) * self._columns + (x / CELL_MM).astype(np.int64)
        if self._cells[middles].any():
            return False
        touched = self._touched(boxes)
        if self._cells[touched].any():
            return False
        self._cells[touched] = True
        return True

    def give_all_back(self, boxes: Floats) -> None:
        """Free the room that `take_all` took for the same rectangles."""
        self._cells[self._touched(boxes)] = False

    def _touched(self, boxes: Floats) -> NDArray[np.int64]:
        """Places of the cells that turned rectangles touch, row by row."""
        x, y, width, height, angle = boxes.T[:, :, None]
        cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        cos, sin = np.copysign(np.maximum(np.abs(cos), 1e-9), cos), np.copysign(np.maximum(np.abs(sin), 1e-9), sin)
        wide = (width * np.abs(cos) + height * np.abs(sin) + CELL_MM) / 2  # to the middle of the last cell touched
        high = (width * np.abs(sin) + height * np.abs(cos)) / 2
        ends, sides = (width / 2 + _REACH_MM) / np.abs(cos), (height / 2 + _REACH_MM) / np.abs(sin)
        top, bottom = ((y - high) / CELL_MM).astype(np.int64), ((y + high) / CELL_MM).astype(np.int64)
        rows = top + np.arange(int((bottom - top).max()) + 1)
        down = (rows + 0.5) * CELL_MM - y
        across_ends, across_sides = down * (-sin / cos), down * (cos / sin)
        low = np.maximum(np.maximum(across_ends - ends, across_sides - sides), -wide)
        most = np.minimum(np.minimum(across_ends + ends, across_sides + sides), wide)
        starts = ((x + low) / CELL_MM + 0.5).astype(np.int64)
        stops = ((x + most) / CELL_MM + 0.5).astype(np.int64)
        many = np.where(rows <= bottom, np.maximum(stops - starts, 0), 0).ravel()
        until = np.cumsum(many)
        first = (rows * self._columns + starts).ravel() - until + many
        return np.asarray(np.repeat(first, many) + np.arange(until[-1]))
