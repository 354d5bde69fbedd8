"""Areas and lengths on the ground, and how grid metres and ground metres compare.

A side of an outline is straight on the grid, while on the ellipsoid the
shortest line between its ends bends away from it by a few parts in a million
of the area at most. The corners are carried to longitude and latitude on the
grid's own datum and the polygon between them is measured with its sides as
shortest lines, so that the area is the one `pyproj.Geod` gives for them.
Coordinates measured from a corner post (a local grid) are measured on the plane.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.grids import Grid

Floats = NDArray[np.float64]
M2_PER_HA = 10_000.0


def areas_m2(polygons: ArrayLike, grid: Grid) -> Floats:
    """Area of polygons on the ellipsoid, holes taken out.

    Symbol A, unit m². Source: C. F. F. Karney (2013), Algorithms for
    geodesics, Journal of Geodesy 87, 43-55, through `pyproj.Geod`.

    Parameters
    ----------
    polygons : array_like of shapely Polygon or MultiPolygon, shape (n,)
        On the grid; parts that are no polygons measure nothing. Either
        direction of the rings will do.
    grid : Grid
        The grid they are on.

    Returns
    -------
    ndarray of float64, shape (n,)
        Never negative; 0 for an empty polygon. [m²]
    """
    return _measured(polygons, grid)[0]


def perimeters_m(polygons: ArrayLike, grid: Grid) -> Floats:
    """Length of the outlines of polygons on the ellipsoid, holes not counted, shape (n,), in m."""
    return _measured(polygons, grid)[1]


def lengths_m(lines: ArrayLike, grid: Grid) -> Floats:
    """Length of lines on the ellipsoid.

    Symbol L, unit m: the sum of the shortest lines between corners. Source as
    for `areas_m2`.

    Parameters
    ----------
    lines : array_like of shapely LineString or MultiLineString, shape (n,)
        On the grid.
    grid : Grid
        The grid they are on.

    Returns
    -------
    ndarray of float64, shape (n,)
        0 for an empty line. [m]
    """
    shapes = np.atleast_1d(np.asarray(lines, object))
    parts, owner = shapely.get_parts(shapes, return_index=True)
    corners, part = shapely.get_coordinates(parts, return_index=True)
    out = np.zeros(len(shapes))
    if len(corners) > 1 and grid.local:
        np.add.at(out, owner, shapely.length(parts))
    elif len(corners) > 1:
        lon, lat = grid.lon_lat(corners[:, 0], corners[:, 1])
        same = part[1:] == part[:-1]
        _, _, steps = grid.geod.inv(lon[:-1][same], lat[:-1][same], lon[1:][same], lat[1:][same])
        np.add.at(out, owner[part[1:][same]], np.asarray(steps, float))
    return out


def planar_areas_m2(polygons: ArrayLike) -> Floats:
    """Area as the grid's own coordinates give it, shape (n,). It depends on the grid's scale, in grid m²."""
    return np.asarray(shapely.area(np.atleast_1d(np.asarray(polygons, object))), float)


def polygons_only(shape: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a shape as one Polygon or MultiPolygon; points and lines are dropped."""
    if isinstance(shape, shapely.Polygon) and not shape.is_empty:
        return shape
    parts = shapely.get_parts(shape)
    if isinstance(shape, shapely.MultiPolygon) and len(parts) > 1 and not shapely.is_empty(parts).any():
        return shape
    parts = shapely.get_parts(parts[shapely.get_type_id(parts) != shapely.GeometryType.LINESTRING])
    flat = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    flat = flat[~shapely.is_empty(flat)]
    return flat[0] if len(flat) == 1 else shapely.multipolygons(flat)


def ground_scale(shape: shapely.Geometry | None, grid: Grid) -> float:
    """Grid metres for one metre of ground at the middle of a shape.

    Widths given in metres of ground (tracks, channels, margins, crowns) are
    multiplied by it before they are drawn on the grid, so that figures do not
    depend on the grid. Each block and each creek takes the scale at its own
    middle, so what happens elsewhere on the farm does not change it.

    Returns
    -------
    float
        1 for no shape or an empty one.
    """
    if shape is None or shape.is_empty:
        return 1.0
    west, south, east, north = shape.bounds
    scale = grid.scale((west + east) / 2, (south + north) / 2)
    return scale if np.isfinite(scale) and scale > 0 else 1.0


def _measured(polygons: ArrayLike, grid: Grid) -> tuple[Floats, Floats]:
    shapes = np.atleast_1d(np.asarray(polygons, object))
    parts, owner = shapely.get_parts(shapes, return_index=True)
    flat = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    parts, owner = parts[flat], owner[flat]
    rings, part = shapely.get_rings(parts, return_index=True)
    area, perimeter = np.zeros(len(shapes)), np.zeros(len(shapes))
    if not len(rings):
        return area, perimeter
    if grid.local:
        np.add.at(area, owner, shapely.area(parts))
        np.add.at(perimeter, owner, shapely.length(shapely.get_exterior_ring(parts)))
        return area, perimeter
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    lon, lat = grid.lon_lat(corners[:, 0], corners[:, 1])
    ends = np.searchsorted(ring, np.arange(len(rings) + 1))
    is_outer = np.append(True, part[1:] != part[:-1])
    measure = grid.geod.polygon_area_perimeter
    for place in range(len(rings)):
        inside = slice(ends[place], ends[place + 1])
        ring_area, ring_length = measure(lon[inside], lat[inside])
        area[owner[part[place]]] += abs(ring_area) if is_outer[place] else -abs(ring_area)
        perimeter[owner[part[place]]] += ring_length if is_outer[place] else 0.0
    return area, perimeter
