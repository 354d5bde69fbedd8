"""Area that discs cover together inside a polygon, counted along rows: quick, for while something moves.

Rows run east and west at a small distance. Along each the discs leave
stretches, which are joined where they meet and cut to the polygon; their
length times the distance of the rows is the area. Each disc's own error is as
likely too much as too little, so that it shrinks with the number of discs; the
distance is chosen so that about two parts in ten thousand are left.
`farmmap.figures.canopy` gives the exact area.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.tree_index import spread

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WIDEST_ROW_M = 0.5
NARROWEST_ROW_M = 0.01

ERROR = 2e-4
"""Part of the area by which the count may be off, about."""

OF_ONE_DISC = 0.3
"""A disc of radius r counted in rows h apart is off by about this times (h/r)^1.5 of its area, by trial."""

MOST_ROWS = 1 << 18

BITS = 22
"""Places along a row are kept in this many bits; a row of 4 km is divided into millimetres."""


def row_distance_m(radius: ArrayLike) -> float:
    """Return the distance of rows that is close enough for discs of these radii, in m."""
    known = np.asarray(radius, np.float64)
    known = known[np.isfinite(known) & (known > 0)]
    if not len(known):
        return WIDEST_ROW_M
    part = (ERROR * np.sqrt(len(known)) / OF_ONE_DISC) ** (2 / 3)
    return float(np.clip(part * known.mean(), NARROWEST_ROW_M, WIDEST_ROW_M))


def covered_by_rows(
    x: ArrayLike, y: ArrayLike, radius: ArrayLike, region: shapely.Geometry, row_m: float | None = None
) -> float:
    """Area of a region that lies under discs, each spot counted once, to about 0.05 %.

    Parameters
    ----------
    x, y, radius : array_like, shape (n,)
        Middles and radii of the discs; those without a radius cover nothing. [m]
    region : shapely Polygon or MultiPolygon
        Valid.
    row_m : float or None
        Distance of the rows; None for `row_distance_m`. [m]

    Returns
    -------
    float
        Between 0 and the region's area. [m²]
    """
    if region.is_empty:
        return 0.0
    east, north, r = (np.ravel(np.asarray(values, np.float64)) for values in (x, y, radius))
    west, south, far_east, far_north = region.bounds
    real = np.flatnonzero(np.isfinite(east) & np.isfinite(north) & (r > 0))
    if not len(real):
        return 0.0
    east, north, r = east[real] - west, north[real] - south, r[real]
    step = row_m or row_distance_m(r)
    rows = min(max(int(np.ceil((far_north - south) / step)), 1), MOST_ROWS)
    step = (far_north - south) / rows
    fine = (2**BITS - 1) / (far_east - west)
    begin, end = _joined(*_of_discs(east, north, r, rows, step), fine)
    inside = _of_region(region, (west, south), rows, step, fine)
    lengths = np.concatenate([[0], np.cumsum(end - begin)])

    def before(place: Ints) -> Ints:
        at = np.searchsorted(begin, place, side="right")
        own = np.clip(place - begin[np.maximum(at - 1, 0)], 0, (end - begin)[np.maximum(at - 1, 0)])
        return np.where(at > 0, lengths[np.maximum(at - 1, 0)] + own, 0)

    counted = int((before(inside[1::2]) - before(inside[::2])).sum()) if len(begin) else 0
    return float(min(counted / fine * step, region.area))


def _of_discs(x: Floats, y: Floats, r: Floats, rows: int, step: float) -> tuple[Ints, Floats, Floats]:
    """Stretches of rows under each disc: the row, and where it begins and ends."""
    first = np.clip(np.ceil((y - r) / step - 0.5), 0, rows).astype(np.int64)
    last = np.clip(np.floor((y + r) / step - 0.5), -1, rows - 1).astype(np.int64)
    disc, down = spread(np.maximum(last - first + 1, 0))
    row = first[disc] + down
    off = (row + 0.5) * step - y[disc]
    half = np.sqrt(np.maximum((r * r)[disc] - off * off, 0.0))
    at = x[disc]
    return row, at - half, at + half


def _joined(row: Ints, begin: Floats, end: Floats, fine: float) -> tuple[Ints, Ints]:
    """Stretches of each row joined where they meet, as places along all rows one after the other."""
    top = (1 << BITS) - 1
    left = np.clip(begin * fine + 0.5, 0, top).astype(np.int64)
    right = np.clip(end * fine + 0.5, 0, top).astype(np.int64)
    packed = (row << (2 * BITS)) | (left << BITS) | (right - left)
    packed.sort()
    length = packed & top
    begins = packed >> BITS
    ends = begins + length
    if not len(ends):
        return begins, ends
    reach = np.maximum.accumulate(ends)
    starts = np.flatnonzero(np.append(True, begins[1:] > reach[:-1]))
    return begins[starts], reach[np.append(starts[1:] - 1, len(ends) - 1)]


def _of_region(region: shapely.Geometry, corner: tuple[float, float], rows: int, step: float, fine: float) -> Ints:
    """Where rows enter and leave the region, in turn, as places along all rows one after the other."""
    corners, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(region)), return_index=True)
    corners = corners - np.array(corner)
    same = ring[1:] == ring[:-1]
    begins, ends = corners[:-1][same], corners[1:][same]
    low, high = np.minimum(begins[:, 1], ends[:, 1]), np.maximum(begins[:, 1], ends[:, 1])
    first = np.clip(np.ceil(low / step - 0.5), 0, rows).astype(np.int64)
    past = np.clip(np.ceil(high / step - 0.5), 0, rows).astype(np.int64)
    side, down = spread(past - first)
    row = first[side] + down
    rise = ends[side, 1] - begins[side, 1]
    part = ((row + 0.5) * step - begins[side, 1]) / rise
    at = begins[side, 0] + part * (ends[side, 0] - begins[side, 0])
    out = (row << BITS) | np.clip(at * fine + 0.5, 0, (1 << BITS) - 1).astype(np.int64)
    out.sort()
    return out
