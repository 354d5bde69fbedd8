"""Shapes as lists of corners, and back: parts, and in each its rings, without the corner that closes a ring."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rings = list[list[Floats]]
"""For each part its rings: the outline first, then its holes; one ring for a line or a point."""

_AREA = shapely.GeometryType.POLYGON


def rings_of(shape: shapely.Geometry) -> tuple[Rings, list[int]]:
    """Take a shape apart.

    Returns
    -------
    rings : list of list of ndarray, shape (n, 2)
        Corners of each ring of each part; a ring's first corner is not said again at its end.
    kinds : list of int
        Kind of each part, a `shapely.GeometryType`.
    """
    rings: Rings = []
    kinds: list[int] = []
    for part in simple_parts(shape):
        kind = int(shapely.get_type_id(part))
        kinds.append(kind)
        if kind == _AREA:
            rings.append([shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(part)])
        else:
            rings.append([shapely.get_coordinates(part)])
    return rings, kinds


def shape_of(rings: Rings, kinds: list[int]) -> shapely.Geometry:
    """Put a shape together from what `rings_of` gives."""
    return gathered([_part(part, kind) for part, kind in zip(rings, kinds, strict=True)])


def _part(rings: list[Floats], kind: int) -> shapely.Geometry:
    match kind:
        case shapely.GeometryType.POLYGON:
            return shapely.Polygon(rings[0], rings[1:])
        case shapely.GeometryType.POINT:
            return shapely.Point(rings[0][0])
        case _:
            return shapely.LineString(rings[0])


def gathered(parts: list[shapely.Geometry]) -> shapely.Geometry:
    """Return parts as one shape: itself if there is one, else a collection of the narrowest kind."""
    if len(parts) == 1:
        return parts[0]
    kinds = {part.geom_type for part in parts}
    if kinds == {"Polygon"}:
        return shapely.MultiPolygon(parts)
    if kinds == {"LineString"}:
        return shapely.MultiLineString(parts)
    if kinds == {"Point"}:
        return shapely.MultiPoint(parts)
    return shapely.GeometryCollection(parts)


def simple_parts(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """Return the points, lines and polygons that a shape is made of; a ring by itself is a line."""
    waiting, parts = [shapely.force_2d(shape)], []
    while waiting:
        part = waiting.pop()
        if part.is_empty:
            continue
        if part.geom_type == "LinearRing":
            parts.append(shapely.LineString(part))
        elif part.geom_type.startswith("Multi") or part.geom_type == "GeometryCollection":
            waiting.extend(shapely.get_parts(part)[::-1])
        else:
            parts.append(part)
    return parts
