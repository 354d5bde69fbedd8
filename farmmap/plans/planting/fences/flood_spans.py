"""Stretches of a fence that lie so low over the creek that a flood may reach them."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.creek_heights import CreekHeights
from farmmap.figures.remembered import Remembered

Floats = NDArray[np.float64]

STEP_M = 5.0
"""The ground is looked at every so far along a fence, or once a cell of a coarser elevation grid. [grid m]"""

_HAIR = 1e-6

_CREEKS: Remembered[CreekHeights] = Remembered(2)


def flood_spans(
    farm: Farm, heights: Heights, line: shapely.LineString, flood_m: float, back: tuple[float, float]
) -> tuple[shapely.Geometry, float]:
    """Return the spans of a fence lower than a height above the nearest creek.

    Parameters
    ----------
    farm : Farm
        The farm.
    heights : Heights
        Ground under it.
    line : LineString
        The fence, on the grid.
    flood_m : float
        Ground lower than this above the creek is taken to be flood-prone. [m]
    back : tuple of float
        Length of the runs back to the bank at its beginning and its end: always low, so they are left out. [grid m]

    Returns
    -------
    spans : MultiLineString
        Corners of the fence within a span are kept; empty if none.
    unknown : float
        Share of what was looked at under which the elevation grid has no heights, 0 to 1.
    """
    corners = shapely.get_coordinates(line)
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    first, last = back[0], float(starts[-1]) - back[1]
    length = last - first
    if length <= _HAIR:
        return shapely.MultiLineString(), 0.0
    creeks = _CREEKS.get((farm.creeks, heights), (), lambda: CreekHeights(farm, heights))
    step = max(STEP_M, heights.across_m, heights.down_m)
    count = math.ceil(length / step)
    edges = np.linspace(first, last, count + 1)
    x, y = (np.interp((edges[:-1] + edges[1:]) / 2, starts, corners[:, axis]) for axis in (0, 1))
    above = creeks.above(x, y, heights.at(x, y))
    low = above < flood_m  # nan is not low
    change = np.flatnonzero(np.diff(np.concatenate([[False], low, [False]]).astype(np.int8)))
    spans = [
        _span(corners, starts, edges[begin], edges[end]) for begin, end in zip(change[::2], change[1::2], strict=True)
    ]
    return shapely.MultiLineString(spans), float(np.isnan(above).mean())


def _span(corners: Floats, starts: Floats, begin: float, end: float) -> Floats:
    inside = (starts > begin) & (starts < end)
    along = np.concatenate([[begin], starts[inside], [end]])
    return np.column_stack([np.interp(along, starts, corners[:, axis]) for axis in (0, 1)])
