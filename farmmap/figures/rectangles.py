"""Which rectangles of ground meet."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEW = 20
"""So many rectangles are compared one by one."""


def bounds_met(bounds: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Which rectangles meet any of some others, shape (n,); those that hold a nan meet none.

    Parameters
    ----------
    bounds, boxes : ndarray, shape (n, 4) and (k, 4)
        West, south, east and north. [m]
    """
    hit = np.zeros(len(bounds), bool)
    if len(boxes) > FEW:
        real = np.flatnonzero(np.isfinite(bounds).all(axis=1))
        others = shapely.box(*boxes[np.isfinite(boxes).all(axis=1)].T)
        hit[real[shapely.STRtree(shapely.box(*bounds[real].T)).query(others)[1]]] = True
        return hit
    west, south, east, north = bounds.T
    for box in boxes:
        hit |= (west <= box[2]) & (east >= box[0]) & (south <= box[3]) & (north >= box[1])
    return hit
