"""How much of each cell of a grid lies inside a shape, exactly.

Every side of the outline is cut where it crosses the grid's lines. A cut piece
adds to its cell the area between itself and the cell's east side, and to all
cells further east its whole height; added up from the west this is the
polygon's area within each cell (Green's theorem, cell by cell).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.heights import Heights

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Cells:
    """The part of a grid that a shape touches.

    Attributes
    ----------
    rows, columns : slice
        Where it lies in the grid.
    shares : ndarray, shape (rows, columns)
        How much of each cell lies inside the shape, 0 to 1.
    """

    rows: slice
    columns: slice
    shares: Floats


def cells_inside(shape: shapely.Geometry, heights: Heights) -> Cells:
    """Return how much of each cell lies inside a polygon.

    Parameters
    ----------
    shape : shapely Polygon or MultiPolygon
        On the farm's grid; what lies off the grid of heights is left out.
    heights : Heights
        The grid.
    """
    parts = shapely.get_parts(shapely.clip_by_rect(shape, *heights.bounds))
    parts = parts[(shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(parts)]
    if not len(parts):
        return Cells(slice(0, 0), slice(0, 0), np.empty((0, 0)))
    rings = shapely.get_rings(shapely.orient_polygons(parts))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    across = (points[:, 0] - heights.west) / heights.across_m
    down = (heights.north - points[:, 1]) / heights.down_m
    left, top = int(np.floor(across.min())), int(np.floor(down.min()))
    columns = min(int(np.ceil(across.max())), heights.values.shape[1]) - left
    rows = min(int(np.ceil(down.max())), heights.values.shape[0]) - top
    same = ring[1:] == ring[:-1]
    starts = np.column_stack([across - left, down - top])[:-1][same]
    ends = np.column_stack([across - left, down - top])[1:][same]
    shares = _accumulated(*_cut(starts, ends), rows, columns)
    return Cells(slice(top, top + rows), slice(left, left + columns), shares)


def _cut(starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Sides cut where they cross whole numbers, so that each piece lies within one cell."""
    owners = [np.arange(len(starts)), np.arange(len(starts))]
    shares = [np.zeros(len(starts)), np.ones(len(starts))]
    for axis in (0, 1):
        low = np.minimum(starts[:, axis], ends[:, axis])
        high = np.maximum(starts[:, axis], ends[:, axis])
        first = np.floor(low).astype(np.int64) + 1
        count = np.maximum(np.ceil(high).astype(np.int64) - first, 0)
        owner = np.repeat(np.arange(len(starts)), count)
        line = first[owner] + np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
        owners.append(owner)
        shares.append((line - starts[owner, axis]) / (ends[owner, axis] - starts[owner, axis]))
    owner, share = np.concatenate(owners), np.concatenate(shares)
    order = np.lexsort((share, owner))
    owner, share = owner[order], share[order]
    places = starts[owner] * (1 - share[:, None]) + ends[owner] * share[:, None]
    same = owner[1:] == owner[:-1]
    return places[:-1][same], places[1:][same]


def _accumulated(starts: Floats, ends: Floats, rows: int, columns: int) -> Floats:
    middle = (starts + ends) / 2
    column = np.clip(np.floor(middle[:, 0]).astype(np.int64), 0, columns - 1)
    row = np.clip(np.floor(middle[:, 1]).astype(np.int64), 0, rows - 1)
    rise = starts[:, 1] - ends[:, 1]  # rows count downwards: a side that runs north closes what lies west of it
    beyond = middle[:, 0] - column
    flat = row * (columns + 1) + column
    size = rows * (columns + 1)
    sums = np.bincount(flat, rise * (1 - beyond), size) + np.bincount(flat + 1, rise * beyond, size)
    return np.clip(np.abs(np.cumsum(sums.reshape(rows, columns + 1), axis=1)[:, :columns]), 0.0, 1.0)
