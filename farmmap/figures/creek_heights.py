"""How far places lie above the nearest creek."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights

Floats = NDArray[np.float64]


class CreekHeights:
    """The existing creeks of a farm as straight stretches, found by nearness."""

    def __init__(self, farm: Farm, heights: Heights) -> None:
        rows = farm.creeks[farm.creeks["stage"] == "existing"]
        parts = shapely.get_parts(rows.geometry.to_numpy())
        points, part = shapely.get_coordinates(parts, return_index=True)
        same = part[1:] == part[:-1]
        self._starts, self._ends = points[:-1][same], points[1:][same]
        self._tree = shapely.STRtree(shapely.linestrings(np.stack([self._starts, self._ends], axis=1)))
        self._heights = heights

    def __len__(self) -> int:
        return len(self._starts)

    def above(self, x: ArrayLike, y: ArrayLike, height_m: ArrayLike) -> Floats:
        """Height of places over the ground of the nearest creek.

        The creek's height is that of the ground where its line comes nearest
        to the place on the map, so a place across a ridge from its creek is
        still measured against the nearest one.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            On the farm's grid. [m]
        height_m : array_like, shape (n,)
            Of the ground there. [m]

        Returns
        -------
        ndarray, shape (n,)
            nan where the ground at the creek is not known. [m]
        """
        at = np.column_stack([np.asarray(x, np.float64), np.asarray(y, np.float64)])
        if not len(self) or not len(at):
            return np.full(len(at), np.nan)
        nearest = self._tree.nearest(shapely.points(at))
        start, along = self._starts[nearest], self._ends[nearest] - self._starts[nearest]
        length_2 = np.maximum((along**2).sum(axis=1), 1e-12)
        share = np.clip(((at - start) * along).sum(axis=1) / length_2, 0.0, 1.0)
        foot = start + share[:, None] * along
        return np.asarray(height_m, np.float64) - self._heights.at(foot[:, 0], foot[:, 1])
