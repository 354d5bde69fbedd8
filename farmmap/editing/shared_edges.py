"""Edges that neighbouring blocks share: the same corners on both sides."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.block_rows import Box
from farmmap.editing.parts import gathered, rings_of, shape_of, simple_parts
from farmmap.editing.sound import TOUCH_M, without_repeats

Floats = NDArray[np.float64]

OVERLAP_M2 = 0.01
"""Two blocks may share this much ground before one is cut back, as corners are rounded. [m²]"""

_MOST_PAIRS = 1_000_000
_FEW_PAIRS = 10_000


def with_corners_at(shape: shapely.Geometry, points: Floats) -> shapely.Geometry:
    """Give a shape a corner at every point that lies on one of its edges; the very same shape if there is none.

    So is a shape returned that the corners would make unsound, being as narrow as they are off its edge.

    Parameters
    ----------
    shape : geometry
        Polygons or lines. [m]
    points : ndarray, shape (n, 2)
        Those within 1 mm of an edge, but not of its ends, become corners.
    """
    west, south, east, north = shape.bounds
    x, y = points[:, 0], points[:, 1]
    inside = (x >= west - TOUCH_M) & (x <= east + TOUCH_M) & (y >= south - TOUCH_M) & (y <= north + TOUCH_M)
    points = points[inside]
    if len(points):
        points = points[~_are_among(points, shapely.get_coordinates(shape))]
    if not len(points):
        return shape
    rings, kinds = rings_of(shape)
    found = False
    for part, kind in zip(rings, kinds, strict=True):
        for place, ring in enumerate(part):
            if kind == shapely.GeometryType.POINT:
                continue
            part[place] = _ring_with(ring, points, closed=kind == shapely.GeometryType.POLYGON)
            found |= len(part[place]) != len(ring)
    if not found:
        return shape
    given = shape_of(rings, kinds)
    return given if given.is_valid or not shape.is_valid else shape


def snapped_to(shape: shapely.Geometry, points: Floats) -> shapely.Geometry:
    """Move corners of a shape that lie within 1 mm of a point onto it; the very same shape if none does."""
    if not len(points):
        return shape
    corners = shapely.get_coordinates(shape)
    nearest = _nearest(corners, points)
    moved = (nearest >= 0) & (corners != points[nearest]).any(axis=1)
    if not moved.any():
        return shape
    new = np.where(moved[:, None], points[nearest], corners)
    rings, kinds = rings_of(shapely.set_coordinates(shapely.force_2d(shape), new))
    closed = [kind == shapely.GeometryType.POLYGON for kind in kinds]
    rings = [[without_repeats(ring, closed=shut) for ring in part] for part, shut in zip(rings, closed, strict=True)]
    least = [{shapely.GeometryType.POINT: 1, shapely.GeometryType.POLYGON: 3}.get(kind, 2) for kind in kinds]
    if any(len(ring) < few for part, few in zip(rings, least, strict=True) for ring in part):
        return shape
    tidy = shape_of(rings, kinds)
    return tidy if tidy.is_valid or not shape.is_valid else shape


def without_hairlines(shape: shapely.Geometry) -> shapely.Geometry:
    """Return the areas of a shape without holes no wider than corners are apart, as edges between blocks leave them."""
    parts = []
    for part in simple_parts(shape):
        if part.geom_type == "Polygon":
            rings = shapely.get_rings(part)
            holes = shapely.polygons(rings[1:])
            wide = shapely.area(holes) > np.maximum(OVERLAP_M2, TOUCH_M * shapely.length(holes))
            parts.append(part if wide.all() else shapely.Polygon(rings[0], rings[1:][wide]))
    return gathered(parts)


def corners_within(shapes: Iterable[shapely.Geometry]) -> Floats:
    """Return the corners of all shapes, shape (n, 2)."""
    return shapely.get_coordinates(np.array(list(shapes), object)).reshape(-1, 2)


def corners_in(region: Box, shapes: Iterable[shapely.Geometry]) -> Floats:
    """Return the corners of all shapes that lie in a rectangle or within 1 mm of it, shape (n, 2)."""
    at = corners_within(shapes)
    west, south, east, north = region
    inside = (at[:, 0] >= west - TOUCH_M) & (at[:, 0] <= east + TOUCH_M)
    return at[inside & (at[:, 1] >= south - TOUCH_M) & (at[:, 1] <= north + TOUCH_M)]


def changed_ground(before: shapely.Geometry, after: shapely.Geometry) -> Box | None:
    """Return the rectangle around the edges in which two outlines differ, None if they do not.

    Returns
    -------
    tuple of float or None
        x and y of its south-west and north-east corners. [m]
    """
    old, new = shapely.get_coordinates(before), shapely.get_coordinates(after)
    ends = [_ends_of_edges_off(one, other) for one, other in ((old, new), (new, old))]
    at = np.concatenate(ends)
    return box_around(at) if len(at) else None


def box_around(points: Floats) -> Box:
    """Return the rectangle around points of shape (n, 2)."""
    (west, south), (east, north) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return west, south, east, north


def _are_among(points: Floats, others: Floats) -> NDArray[np.bool_]:
    """Which points are also, exactly, among others; bool, shape (n,)."""
    if len(points) * len(others) > _FEW_PAIRS:
        return np.isin(points[:, 0] + 1j * points[:, 1], others[:, 0] + 1j * others[:, 1])
    return ((points[:, None, 0] == others[:, 0]) & (points[:, None, 1] == others[:, 1])).any(axis=1)


def _ends_of_edges_off(one: Floats, other: Floats) -> Floats:
    """Corners that another outline does not have, and those before and after them."""
    off = ~_are_among(one, other)
    near = off.copy()
    near[1:] |= off[:-1]
    near[:-1] |= off[1:]
    if off[0] or off[-1]:  # a ring is said from its first corner to its first corner
        near[[0, -1]] = near[[1, -2]] = True
    return one[near]


def _nearest(corners: Floats, points: Floats) -> NDArray[np.intp]:
    """Place of the nearest point within 1 mm of each corner, -1 where there is none, shape (n,)."""
    out = np.full(len(corners), -1, np.intp)
    tree = shapely.STRtree(shapely.points(points))
    places = tree.query_nearest(shapely.points(corners), max_distance=TOUCH_M, all_matches=False)
    out[places[0]] = places[1]
    return out


def _ring_with(ring: Floats, points: Floats, *, closed: bool) -> Floats:
    ends = np.roll(ring, -1, axis=0) if closed else ring[1:]
    starts = ring if closed else ring[:-1]
    sides, at = [], []
    step = max(1, _MOST_PAIRS // max(len(starts), 1))
    for first in range(0, len(points), step):
        side, point = _on_sides(starts, ends, points[first : first + step])
        sides.append(side)
        at.append(point + first)
    side, point = np.concatenate(sides), np.concatenate(at)
    if not len(side):
        return ring
    along = np.hypot(*(points[point] - starts[side]).T)
    order = np.lexsort((along, side))
    side, point = side[order], point[order]
    return without_repeats(np.insert(ring, side + 1, points[point], axis=0), closed=closed)


def _on_sides(starts: Floats, ends: Floats, points: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Sides and points that lie on them, away from the ends."""
    run = ends - starts
    length = np.hypot(*run.T)
    length = np.where(length > 0, length, 1.0)
    dx, dy = points[:, :1] - starts[:, 0], points[:, 1:] - starts[:, 1]
    along = (dx * run[:, 0] + dy * run[:, 1]) / length
    off = np.abs(dx * run[:, 1] - dy * run[:, 0]) / length
    on = (off <= TOUCH_M) & (along > TOUCH_M) & (along < length - TOUCH_M)
    point, side = np.nonzero(on)
    return side, point
