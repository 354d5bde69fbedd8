"""Troughs along a fence: where stock that no longer come to the creek are given water."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach

Floats = NDArray[np.float64]

_SHIFTS = (0.0, 0.125, -0.125, 0.25, -0.25, 0.375, -0.375)
"""Where along its own share of the fence a trough is tried, from the middle."""


def troughs(
    line: shapely.LineString,
    every: float,
    off: float,
    planted: Sequence[shapely.Geometry],
    creeks: Sequence[Reach],
    boundary: shapely.Geometry | None,
) -> tuple[Floats, int]:
    """Return where troughs stand outside a fence, and how many found no place.

    The fence is shared out evenly, a trough to each share of at most ``every``, at its middle if it can.

    Parameters
    ----------
    line : LineString
        The fence, with the planting to its left. [grid m]
    every, off : float
        Longest share of a trough, and how far outside the fence it stands. [grid m]
    planted : sequence of shapely geometry
        Ground of the planting.
    creeks : sequence of Reach
        All creeks of the farm with their margins, where none may stand.
    boundary : shapely geometry or None
        The farm, within which it must stand.

    Returns
    -------
    places : ndarray, shape (n, 2)
        On the grid.
    without : int
        Shares of the fence without a trough.
    """
    corners = shapely.get_coordinates(line)
    steps = np.diff(corners, axis=0)
    starts = np.append(0.0, np.cumsum(np.hypot(*steps.T)))
    count = int(np.ceil(starts[-1] / every - 1e-9)) if every > 0 else 0
    if not count:
        return np.zeros((0, 2)), 0
    share = starts[-1] / count
    along = ((np.arange(count) + 0.5)[:, None] + np.array(_SHIFTS)) * share
    piece = np.clip(np.searchsorted(starts, along, side="right") - 1, 0, len(steps) - 1)
    way = steps[piece] / np.hypot(steps[piece][..., 0], steps[piece][..., 1])[..., None]
    at = corners[piece] + (along - starts[piece])[..., None] * way
    places = at + off * np.stack([way[..., 1], -way[..., 0]], axis=-1)
    good = _free(places.reshape(-1, 2), line, off, planted, creeks, boundary).reshape(along.shape)
    found = good.any(axis=1)
    return places[np.flatnonzero(found), good[found].argmax(axis=1)], int((~found).sum())


def _free(
    places: Floats,
    line: shapely.LineString,
    off: float,
    planted: Sequence[shapely.Geometry],
    creeks: Sequence[Reach],
    boundary: shapely.Geometry | None,
) -> NDArray[np.bool_]:
    points = shapely.points(places)
    near = off - 0.01
    free = np.ones(len(points), bool)
    if near > 0:
        shapely.prepare([line, *planted])
        for shape in (line, *planted):
            free &= ~shapely.dwithin(shape, points, near)
    if boundary is not None:
        shapely.prepare(boundary)
        free &= shapely.contains_properly(boundary, points)
    if creeks:
        tree = shapely.STRtree([reach.line for reach in creeks])
        reach_m = np.array([reach.half + max(reach.widths) for reach in creeks])
        for kept in np.unique(reach_m):
            point, reach = tree.query(points, predicate="dwithin", distance=kept)
            free[point[reach_m[reach] >= kept]] = False
    return free
