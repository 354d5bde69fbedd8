"""Measures along the ground between places on the map: on the ellipsoid, or on the plane of a local grid."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike

from farmmap.editing.guard import guarded
from farmmap.editing.words import FARTHEST_M
from farmmap.farm.farm import Farm
from farmmap.figures.areas import areas_m2, lengths_m


@guarded
def length_m(farm: Farm, points: ArrayLike) -> float:
    """Return the length along points, level ground.

    Parameters
    ----------
    farm : Farm
        The farm, whose grid the points are on.
    points : array_like, shape (n, 2)
        In their order. [m]

    Returns
    -------
    float
        0 for fewer than two points. [m]
    """
    at = _on_earth(points)
    return float(lengths_m(shapely.LineString(at), farm.grid)[0]) if len(at) > 1 else 0.0


@guarded
def area_m2(farm: Farm, points: ArrayLike) -> float:
    """Return the level ground within points, the last joined to the first; nan if the outline crosses itself.

    Parameters
    ----------
    farm : Farm
        The farm, whose grid the points are on.
    points : array_like, shape (n, 2)
        In their order. [m]

    Returns
    -------
    float
        0 for fewer than three points. [m²]
    """
    at = _on_earth(points)
    if len(at) < 3:
        return 0.0
    outline = shapely.Polygon(at)
    if not outline.is_valid:
        return 0.0 if outline.area == 0 and len(np.unique(at, axis=0)) < 3 else float("nan")
    return float(areas_m2(outline, farm.grid)[0])


@guarded
def bearing_deg(farm: Farm, a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the true bearing from one place to another, along the ground.

    Parameters
    ----------
    farm : Farm
        The farm, whose grid the places are on.
    a, b : tuple of float
        From where and to where. [m]

    Returns
    -------
    float
        0 to 360 degrees from true north, clockwise: the azimuth at ``a`` of the shortest line on the ellipsoid
        (Karney 2013, through `pyproj.Geod`). On a local grid, whose north is not known, from the grid's north.
        nan if the places are the same. [degrees]
    """
    if tuple(a) == tuple(b):
        return float("nan")
    if farm.grid.local:
        return grid_bearing_deg(a, b)
    lon, lat = farm.grid.lon_lat([a[0], b[0]], [a[1], b[1]])
    azimuth, _, _ = farm.grid.geod.inv(lon[0], lat[0], lon[1], lat[1])
    return float(azimuth) % 360.0


def grid_bearing_deg(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Return the bearing on the grid, 0 to 360 degrees from grid north, clockwise; nan if the places are the same."""
    if tuple(a) == tuple(b):
        return float("nan")
    return math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) % 360.0


def _on_earth(points: ArrayLike) -> np.ndarray:
    at = np.asarray(points, np.float64).reshape(-1, 2)
    return at[(np.abs(at) <= FARTHEST_M).all(axis=1)]
