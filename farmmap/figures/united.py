"""Ground put together from pieces that may touch and overlap, without losing any of it.

Putting valid polygons together went wrong with GEOS 3.14.1: where one touches
another in a point that lies a rounding of numbers off its side, a whole piece
may be left out (``shapely.union_all`` and, in one order of the two,
``shapely.union``). So what comes out is held against the sum of the pieces,
which it equals where none overlap, and else against the same ground worked out
by another way: what the outlines of the pieces wind round. Where the two are
not the same, or what came out is no sound shape, it is worked out a third time
on a grid hardly coarser than the numbers' own rounding; that takes three times
as long and is sound by its making.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.areas import polygons_only

Shapes = NDArray[np.object_]

GRID_M = 2.0**-29
"""Grid of the third way, two millionths of a millimetre: whole bits, so that going to the middle of the pieces and back
rounds nothing up to 16,000 km from where a farm's grid begins. [grid m]"""

SAME_M = 1e-8
"""Ground is the same if its area differs by no more than a strip so wide along all outlines. [grid m]"""

TOGETHER = 16
"""Pieces, side by side, whose outlines are wound round at once; many at once take longer than group by group."""


def united(shapes: shapely.Geometry | Iterable[shapely.Geometry]) -> shapely.Geometry:
    """Return the ground that shapes cover together.

    Parameters
    ----------
    shapes : shapely Geometry, or iterable of them
        Valid polygons and multipolygons; lines and points among them are left out.

    Returns
    -------
    shapely Polygon or MultiPolygon
        Empty if there are none. A piece that stands alone is returned as it is.
    """
    whole = np.atleast_1d(np.asarray(shapes if isinstance(shapes, shapely.Geometry) else list(shapes), object))
    pieces = shapely.get_parts(polygons_only(shapely.geometrycollections(shapely.get_parts(whole))))
    if len(pieces) < 2:
        return pieces[0] if len(pieces) else shapely.Polygon()
    try:
        ground = polygons_only(shapely.disjoint_subset_union_all(pieces))
    except shapely.GEOSException:
        return _on_a_grid(pieces)
    off = SAME_M * float(shapely.length(pieces).sum())
    same = abs(shapely.area(pieces).sum() - ground.area) <= off or abs(_wound_round_m2(pieces) - ground.area) <= off
    return ground if same and ground.is_valid else _on_a_grid(pieces)


def without_on_a_grid(ground: shapely.Geometry, taken: shapely.Geometry) -> shapely.Geometry:
    """Return ground less other ground, both polygons: slow and sound, for where ``shapely.difference`` loses some."""
    shapes = np.array([ground, taken], object)
    middle = _middle(shapes)
    left = shapely.difference(*_from(shapes, middle), grid_size=GRID_M)
    return polygons_only(shapely.transform(left, lambda corners: corners + middle))


def _wound_round_m2(pieces: Shapes) -> float:
    """Area of all that the outlines of pieces wind round, worked out group by group of pieces side by side."""
    pieces = _from(pieces, _middle(pieces))
    while len(pieces) > 1:
        order, group = _side_by_side(pieces)
        parts, owner = shapely.get_parts(pieces[order], return_index=True)
        pieces = shapely.buffer(shapely.multipolygons(parts, indices=group[owner]), 0.0)
    return float(pieces[0].area)


def _side_by_side(pieces: Shapes) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the order of pieces by columns and within them from south to north, and the group of each so ordered."""
    west, south, east, north = shapely.bounds(pieces).T
    number = len(pieces)
    columns = max(round((number / TOGETHER) ** 0.5), 1)
    column = np.empty(number, np.intp)
    column[np.argsort(west + east, kind="stable")] = np.arange(number) * columns // number
    return np.lexsort((south + north, column)), np.arange(number) // TOGETHER


def _on_a_grid(pieces: Shapes) -> shapely.Geometry:
    middle = _middle(pieces)
    ground = shapely.union_all(_from(pieces, middle), grid_size=GRID_M)
    return polygons_only(shapely.transform(ground, lambda corners: corners + middle))


def _middle(pieces: Shapes) -> NDArray[np.float64]:
    bounds = shapely.total_bounds(pieces)
    return np.round((bounds[:2] + bounds[2:]) / 2)


def _from(pieces: Shapes, middle: NDArray[np.float64]) -> Shapes:
    return np.asarray(shapely.transform(pieces, lambda corners: corners - middle), object)
