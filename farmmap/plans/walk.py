"""The order in which trees of a list are walked to, up one lane and down the next, and the way between them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.grids import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LANES = (0.6, 0.8, 1.0, 1.3, 1.7, 2.2)
"""Widths of lanes that are tried, in parts of the mean spacing of the trees."""

WAYS = 12
"""Directions of lanes that are tried."""


def walk_order(east_m: Floats, north_m: Floats) -> Ints:
    """Return places of trees in walking order; of several ways to lay lanes the one with the shortest walk.

    Parameters
    ----------
    east_m, north_m : ndarray, shape (n,)
        Where the trees stand. [m]
    """
    count = len(east_m)
    if count < 3:
        return np.lexsort((east_m, -north_m))
    at = np.column_stack([east_m, north_m])
    span = np.ptp(at, axis=0)
    spacing = np.sqrt(max(float(np.prod(span)), float(span.max() ** 2) / count, 1e-9) / count)
    best, least = np.arange(count), np.inf
    for way in np.arange(WAYS) * np.pi / WAYS:
        along, across = at @ np.array([np.cos(way), np.sin(way)]), at @ np.array([np.sin(way), -np.cos(way)])
        for wide in LANES:
            lane = np.floor((across - across.min()) / (wide * spacing)).astype(np.int64)
            lane = np.unique(lane, return_inverse=True)[1]
            order = np.lexsort((np.where(lane % 2 == 1, -along, along), lane))
            length = float(np.hypot(*np.diff(at[order], axis=0).T).sum())
            if length < least:
                best, least = order, length
    first, last = at[best[0]], at[best[-1]]
    return best if (first[1], -first[0]) >= (last[1], -last[0]) else best[::-1]  # it begins in the north


def bearings_from(grid: Grid) -> str:
    """Return from where bearings on the ground are given, in words."""
    return "the north of the map" if grid.local else "true north"


def to_next(grid: Grid, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return level distance and bearing from each place to the next, nan for the last; no bearing to the same place.

    Parameters
    ----------
    grid : Grid
        The farm's grid.
    x, y : ndarray, shape (n,)
        Places in walking order. [grid m]

    Returns
    -------
    tuple of ndarray, shape (n,)
        Distance, and bearing from true north, or from the grid's north on a local grid. [ground m, degrees]
    """
    away, bearing = np.full(len(x), np.nan), np.full(len(x), np.nan)
    if len(x) < 2:
        return away, bearing
    if grid.local:
        east, north = np.diff(x), np.diff(y)
        away[:-1], bearing[:-1] = np.hypot(east, north), np.degrees(np.arctan2(east, north)) % 360.0
    else:
        lon, lat = grid.lon_lat(x, y)
        azimuth, _, length = grid.geod.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
        away[:-1], bearing[:-1] = length, np.asarray(azimuth) % 360.0
    bearing[away == 0] = np.nan
    return away, bearing
