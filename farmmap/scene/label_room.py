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
        self._taken = np.frombuffer(self._bytes, np.bool_).reshape(rows, self._columns)

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
            return self._take_turned(x, y, width, height, angle_deg)
        left, top, right, bottom = x - width / 2, y - height / 2, x + width / 2, y + height / 2
        if left < EDGE_MM or top < EDGE_MM or right > self._width - EDGE_MM or bottom > self._height - EDGE_MM:
            return False
        first, last = int(left / CELL_MM), int(right / CELL_MM) + 1
        rows = range(int(top / CELL_MM), int(bottom / CELL_MM) + 1)
        find, columns = self._bytes.find, self._columns
        for row in rows:
            if find(1, row * columns + first, row * columns + last) >= 0:
                return False
        self._taken[rows.start : rows.stop, first:last] = True
        return True

    def give_back(self, x: float, y: float, width: float, height: float, angle_deg: float = 0.0) -> None:
        """Free the room that `take` took for the same rectangle."""
        if angle_deg:
            for start, end in self._runs(x, y, width, height, angle_deg):
                self._bytes[start:end] = bytes(end - start)
            return
        rows = slice(int((y - height / 2) / CELL_MM), int((y + height / 2) / CELL_MM) + 1)
        self._taken[rows, int((x - width / 2) / CELL_MM) : int((x + width / 2) / CELL_MM) + 1] = False

    def _take_turned(self, x: float, y: float, width: float, height: float, angle_deg: float) -> bool:
        wide, high = _half_box(width, height, angle_deg)
        if x - wide < EDGE_MM or y - high < EDGE_MM:
            return False
        if x + wide > self._width - EDGE_MM or y + high > self._height - EDGE_MM:
            return False
        if self._bytes[int(y / CELL_MM) * self._columns + int(x / CELL_MM)]:
            return False
        runs = self._runs(x, y, width, height, angle_deg)
        if any(self._bytes.find(1, start, end) >= 0 for start, end in runs):
            return False
        for start, end in runs:
            self._bytes[start:end] = b"\1" * (end - start)
        return True

    def _runs(self, x: float, y: float, width: float, height: float, angle_deg: float) -> list[tuple[int, int]]:
        """First and last-plus-one places of the cells that a turned rectangle touches, row by row."""
        cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        cos, sin = math.copysign(max(abs(cos), 1e-9), cos), math.copysign(max(abs(sin), 1e-9), sin)
        wide, high = _half_box(width, height, angle_deg)
        ends, sides = (width / 2 + _REACH_MM) / abs(cos), (height / 2 + _REACH_MM) / abs(sin)
        rows = np.arange(int((y - high) / CELL_MM), int((y + high) / CELL_MM) + 1)
        down = (rows + 0.5) * CELL_MM - y
        across_ends, across_sides = down * (-sin / cos), down * (cos / sin)
        low = np.maximum(np.maximum(across_ends - ends, across_sides - sides), -wide)
        most = np.minimum(np.minimum(across_ends + ends, across_sides + sides), wide)
        starts = ((x + low) / CELL_MM + 0.5).astype(np.int64)
        stops = ((x + most) / CELL_MM + 0.5).astype(np.int64)
        touched = starts < stops
        begin = rows * self._columns
        return list(zip((begin + starts)[touched].tolist(), (begin + stops)[touched].tolist(), strict=True))


def _half_box(width: float, height: float, angle_deg: float) -> tuple[float, float]:
    """Half the width and height of the upright rectangle around a turned one. [mm]."""
    cos, sin = abs(math.cos(math.radians(angle_deg))), abs(math.sin(math.radians(angle_deg)))
    return (width * cos + height * sin) / 2, (width * sin + height * cos) / 2
