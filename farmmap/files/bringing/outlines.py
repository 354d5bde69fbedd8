"""Shapes as they come to shapes as a farm keeps them: outlines closed and mended, lines cleaned."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from farmmap.farm.schema import Geometry
from farmmap.files.sources.source import shapes_array

GAP_M = 20.0
"""A walk that ends this near to its start was meant to close. [m]"""
GAP_SHARE = 0.05
"""So was one whose gap is no more than this share of its length."""

KINDS = {Geometry.POLYGON: "an outline", Geometry.LINE: "a line", Geometry.POINT: "a point", Geometry.ANY: "a shape"}


class OddShapeError(ValueError):
    """A shape that cannot be kept, with the reason in words."""


def fitted(shape: BaseGeometry | None, kind: Geometry, say: Callable[[str], None]) -> BaseGeometry:
    """Return a shape of the kind that a table keeps.

    Parameters
    ----------
    shape : geometry or None
        On the farm's grid. [m]
    kind : Geometry
        What the table keeps.
    say : callable
        Is told what was done to it.

    Raises
    ------
    OddShapeError
        It cannot be made into one.
    """
    if shape is None or shape.is_empty:
        raise OddShapeError("has no shape")
    shape = shapely.force_2d(shape)
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        raise OddShapeError("has coordinates that are no numbers")
    match kind:
        case Geometry.POLYGON:
            return _outline(shape, say)
        case Geometry.LINE:
            return _line(shape)
        case _:
            return _any(shape, say)


def _outline(shape: BaseGeometry, say: Callable[[str], None]) -> BaseGeometry:
    parts = [part for part in _parts(shape) if part.geom_type in {"Polygon", "LineString", "LinearRing"}]
    if not parts:
        raise OddShapeError("is a point, where an outline is needed")
    rings = [part for part in parts if part.geom_type != "Polygon"]
    polygons = [part for part in parts if part.geom_type == "Polygon"]
    if rings:
        polygons += _closed(rings, say)
    return _mended(polygons, say)


def _closed(lines: list[BaseGeometry], say: Callable[[str], None]) -> list[BaseGeometry]:
    """Close a walk: pieces that are closed by themselves are outlines each, the others are joined in their order."""
    corners = [shapely.get_coordinates(line) for line in lines]
    whole = [c for c in corners if len(c) > 3 and (c[0] == c[-1]).all()]
    if len(whole) == len(corners):
        return [shapely.Polygon(c) for c in whole]
    if len(corners) > 1:
        say(f"its {len(corners)} pieces were joined in their order")
    walk = np.concatenate(corners)
    if len(np.unique(walk, axis=0)) < 3:
        raise OddShapeError("has fewer than three corners, where an outline is needed")
    gap = float(np.hypot(*(walk[0] - walk[-1])))
    if gap > 0:
        length = float(shapely.length(shapely.LineString(walk)))
        meant = gap < GAP_M or gap < GAP_SHARE * length
        wide = "" if meant else "; that is a wide gap, so look whether a part of the walk is missing"
        say(f"it did not close, and was closed over a gap of {gap:.1f} m{wide}")
    return [shapely.Polygon(walk)]


def _mended(polygons: list[BaseGeometry], say: Callable[[str], None]) -> BaseGeometry:
    shape = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(_flat(polygons))
    if not shapely.is_valid(shape):
        mended = [part for part in _parts(shapely.make_valid(shape)) if part.geom_type == "Polygon"]
        if not mended:
            raise OddShapeError("encloses no ground")
        say("it crossed itself, and was mended")
        shape = mended[0] if len(mended) == 1 else shapely.MultiPolygon(_flat(mended))
    if not shapely.area(shape) > 0:
        raise OddShapeError("encloses no ground")
    return shape


def _line(shape: BaseGeometry) -> BaseGeometry:
    lines: list[BaseGeometry] = []
    for part in _parts(shape):
        if part.geom_type == "Polygon":
            lines += [shapely.LineString(shapely.get_coordinates(ring)) for ring in shapely.get_rings(part)]
        elif part.geom_type in {"LineString", "LinearRing"}:
            lines.append(shapely.LineString(shapely.get_coordinates(part)))
    if not lines:
        raise OddShapeError("is a point, where a line is needed")
    kept = [line for line in (_without_repeats(line) for line in lines) if line is not None]
    if not kept:
        raise OddShapeError("has fewer than two points that differ")
    return kept[0] if len(kept) == 1 else shapely.MultiLineString([shapely.get_coordinates(line) for line in kept])


def _without_repeats(line: BaseGeometry) -> BaseGeometry | None:
    corners = shapely.get_coordinates(line)
    keep = np.concatenate([[True], (np.diff(corners, axis=0) != 0).any(axis=1)])
    return shapely.LineString(corners[keep]) if keep.sum() > 1 else None


def _any(shape: BaseGeometry, say: Callable[[str], None]) -> BaseGeometry:
    parts = _parts(shape)
    kinds = {part.geom_type for part in parts}
    if kinds == {"Polygon"}:
        return _mended(parts, say)
    if kinds <= {"LineString", "LinearRing"}:
        return _line(shape)
    return parts[0] if len(parts) == 1 else shape


def _parts(shape: BaseGeometry) -> list[BaseGeometry]:
    waiting, parts = [shape], []
    while waiting:
        part = waiting.pop()
        if part.geom_type.startswith("Multi") or part.geom_type == "GeometryCollection":
            waiting.extend(reversed([p for p in shapely.get_parts(part) if not p.is_empty]))
        elif not part.is_empty:
            parts.append(part)
    return parts


def _flat(polygons: list[BaseGeometry]) -> list[shapely.Polygon]:
    return [part for part in polygons if isinstance(part, shapely.Polygon)]


def joined(xy: np.ndarray, groups: np.ndarray, kind: Geometry) -> np.ndarray:
    """Join points in their order, a line or outline for each group.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        Points. [m]
    groups : ndarray of int, shape (n,)
        Which shape each point belongs to, numbered from 0 in order of first appearance.
    kind : Geometry
        Outline or line.

    Returns
    -------
    ndarray of object, shape (groups,)
        None where there are too few points.
    """
    shapes: list[BaseGeometry | None] = []
    needed = 3 if kind is Geometry.POLYGON else 2
    order = np.argsort(groups, kind="stable")
    for points in np.split(xy[order], np.flatnonzero(np.diff(groups[order])) + 1):
        enough = len(np.unique(points, axis=0)) >= needed
        shapes.append(shapely.LineString(points) if enough else None)
    return shapes_array(shapes)
