"""Shapes of shapely as flat arrays of corners, as layers keep them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike

from farmmap.scene.scene import AreaLayer, Ints, LineLayer, MarkLayer
from farmmap.scene.styles import AreaStyle, LineStyle, MarkStyle


def area_layer(name: str, style: AreaStyle, ids: ArrayLike, shapes: ArrayLike) -> AreaLayer | None:
    """Return a layer of the polygons among shapes, None if there are none.

    Parameters
    ----------
    name : str
        Name of the layer.
    style : AreaStyle
        How it is drawn.
    ids : array_like of int, shape (n,)
        Row that each shape comes from.
    shapes : array_like of shapely geometry, shape (n,)
        Shapes of any kind, None and empty ones among them.
    """
    owners, parts = _parts(ids, shapes, shapely.GeometryType.POLYGON)
    if not len(parts):
        return None
    return AreaLayer(name, style, owners, parts, shapely.bounds(parts))


def line_layer(
    name: str, style: LineStyle, ids: ArrayLike, shapes: ArrayLike, widths_m: ArrayLike | None = None
) -> LineLayer | None:
    """Return a layer of the lines among shapes, None if there are none.

    Parameters
    ----------
    name, style, ids, shapes
        As for `area_layer`.
    widths_m : array_like, shape (n,), optional
        True widths of the lines. [m]
    """
    shapes = np.asarray(shapes, object)
    widths = np.zeros(len(shapes)) if widths_m is None else np.asarray(widths_m, np.float64)
    places, parts = _parts(np.arange(len(shapes)), shapes, shapely.GeometryType.LINESTRING)
    if not len(parts):
        return None
    owners = np.asarray(ids, np.int64)[places]
    return LineLayer(name, style, owners, parts, shapely.bounds(parts), np.nan_to_num(widths[places]))


def mark_layer(name: str, style: MarkStyle, ids: ArrayLike, shapes: ArrayLike) -> MarkLayer | None:
    """Return a layer of the points among shapes, None if there are none."""
    owners, parts = _parts(ids, shapes, shapely.GeometryType.POINT)
    if not len(parts):
        return None
    return MarkLayer(name, style, owners, shapely.get_x(parts), shapely.get_y(parts))


def _parts(ids: ArrayLike, shapes: ArrayLike, kind: shapely.GeometryType) -> tuple[Ints, np.ndarray]:
    """Single parts of one kind, and the id that each belongs to."""
    given = np.asarray(shapes, object)
    if (shapely.get_type_id(given) == kind).all() and not (shapely.is_empty(given) | shapely.has_z(given)).any():
        return np.asarray(ids, np.int64), given
    parts, places = shapely.get_parts(given, return_index=True)
    for _ in range(2):  # a collection may hold shapes of several parts
        parts, inner = shapely.get_parts(parts, return_index=True)
        places = places[inner]
    wanted = (shapely.get_type_id(parts) == kind) & ~shapely.is_empty(parts)
    return np.asarray(ids, np.int64)[places[wanted]], shapely.force_2d(parts[wanted])
