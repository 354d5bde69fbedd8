"""Trees put into square cells of ground, so that those in a view are found at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.scene.view import Bounds, Floats

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class CellIndex:
    """Square cells of ground, row by row from the south-west.

    Attributes
    ----------
    west, south : float
        Corner of the first cell. [m]
    size_m : float
        Side of a cell. [m]
    columns, rows : int
        How many cells there are each way.
    starts : ndarray of int64, shape (columns * rows + 1,)
        Place of each cell's first tree.
    spills : bool
        Whether cells at the edge hold trees from beyond it.
    """

    west: float
    south: float
    size_m: float
    columns: int
    rows: int
    starts: Ints
    spills: bool = False

    def cell_of(self, x: Floats, y: Floats) -> Ints:
        """Return which cell each point lies in, shape (n,); points beyond the edge count to the cell there."""
        column = np.clip((x - self.west) / self.size_m, 0, self.columns - 1).astype(np.int32)
        row = np.clip((y - self.south) / self.size_m, 0, self.rows - 1).astype(np.int32)
        return row.astype(np.int64) * self.columns + column

    def slices(self, bounds: Bounds) -> list[tuple[int, int]]:
        """First and last-plus-one places of the runs of trees that may lie in ``bounds``, one run a row of cells."""
        west, south, east, north = bounds
        left = max(int((west - self.west) // self.size_m), 0)
        right = min(int((east - self.west) // self.size_m), self.columns - 1)
        low = max(int((south - self.south) // self.size_m), 0)
        high = min(int((north - self.south) // self.size_m), self.rows - 1)
        if self.spills:
            left, right = min(left, self.columns - 1), max(right, 0)
            low, high = min(low, self.rows - 1), max(high, 0)
        if left > right or low > high:
            return []
        if left == 0 and right == self.columns - 1:
            return [(int(self.starts[low * self.columns]), int(self.starts[(high + 1) * self.columns]))]
        row = np.arange(low, high + 1) * self.columns
        first, last = self.starts[row + left], self.starts[row + right + 1]
        return [(int(a), int(b)) for a, b in zip(first, last, strict=True) if b > a]
