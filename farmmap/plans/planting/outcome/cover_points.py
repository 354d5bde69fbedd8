"""Places spread evenly over strips of ground, the same for the same ground; and which plants stand near each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.tree_index import spread

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

CROSSINGS = 1.0
"""Rows are laid so close that they cross the outlines about so many times for each place."""

MOST_ROWS = 1 << 20

STRIDE = 0x9E3779B1
"""Rows of cells are this many slots of the table apart: odd and large, so that few cells share a slot."""

LEAST_CELL_M = 0.1


def points_inside(outlines: Sequence[shapely.Geometry], many: int, least: int) -> tuple[Floats, Floats, Places]:
    """Return places inside strips of ground, one at random in each of as many equal parts of a strip.

    Rows run east and west over the strips, at a random height within equal
    steps; the places are laid along what of the rows lies inside. Where strips
    run east and west rows lie close together, so that they do not keep step
    with rows of plants.

    Parameters
    ----------
    outlines : sequence of shapely Polygon or MultiPolygon
        Valid; they may be empty.
    many : int
        Places in all, about, shared out by area.
    least : int
        At least so many in each strip.

    Returns
    -------
    x, y : ndarray of float, shape (n,)
        The places, strip by strip.
    ends : ndarray of int, shape (strips + 1,)
        Where those of each strip begin and end.
    """
    area = shapely.area(np.asarray(outlines, object))
    counts = np.where(area > 0, np.maximum(np.ceil(many * area / (area.sum() or 1.0)), least), 0.0).astype(np.intp)
    strip, row, enter, leave, height = _inside(np.asarray(outlines, object), int(counts.sum() * CROSSINGS))
    length = np.concatenate([[0.0], np.cumsum(leave - enter)])
    edges = length[np.searchsorted(strip, np.arange(len(counts) + 1))]
    counts = np.where(np.diff(edges) > 0, counts, 0)
    ends = np.concatenate([[0], np.cumsum(counts)])
    owner, number = spread(counts)
    random = np.random.default_rng(1)
    along = edges[owner] + np.diff(edges)[owner] * (number + random.random(len(owner))) / counts[owner]
    at = np.clip(np.searchsorted(length, along, side="right") - 1, 0, max(len(enter) - 1, 0))
    return enter[at] + along - length[at], height[row[at]], ends


def _inside(outlines: NDArray[np.object_], crossings: int) -> tuple[Places, Places, Floats, Floats, Floats]:
    """Return what of rows lies inside the outlines: strip, row, where it enters and leaves; and each row's height."""
    parts, strip_of_part = shapely.get_parts(outlines, return_index=True)
    rings, part_of_ring = shapely.get_rings(parts, return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    x, y = corners.T
    rise = np.where(ring[1:] == ring[:-1], np.diff(y), 0.0)
    total = float(np.abs(rise).sum())
    none = np.empty(0)
    if total <= 0:
        return none.astype(np.intp), none.astype(np.intp), none, none, none
    south, tall = float(y.min()), float(y.max() - y.min())
    rows = int(np.clip(np.ceil(tall * crossings / total), 1, MOST_ROWS))
    height = south + (np.arange(rows) + np.random.default_rng(2).random(rows)) * (tall / rows)
    step = np.minimum(((y - south) * (rows / tall)).astype(np.intp), rows - 1)
    below = step + (height[step] < y)
    crossed = np.where(rise != 0, np.abs(np.diff(below)), 0)
    crossing = np.flatnonzero(crossed)
    place, number = spread(crossed[crossing])
    side = crossing[place]
    row = np.minimum(below[side], below[side + 1]) + number
    at = x[side] + (height[row] - y[side]) / rise[side] * (x[side + 1] - x[side])
    strip = strip_of_part[part_of_ring[ring[side]]]
    west, wide = float(at.min()), 2 * float(np.ptp(at)) + 1
    order = np.argsort((strip * rows + row) * wide + (at - west))
    into, out = order[::2], order[1::2]
    return strip[into], row[into], at[into], at[out], height


def near_pairs(x: Floats, y: Floats, plants: tuple[Floats, Floats], reach_m: float) -> tuple[Places, Places]:
    """Return pairs of places and the plants that may stand within reach of them; some further away are among them.

    Plants are sorted by square cells as wide as the reach, which are kept in
    a table no larger than their number asks for, however far apart they lie.

    Parameters
    ----------
    x, y : ndarray of float, shape (k,)
        The places. [m]
    plants : tuple of ndarray, each of shape (n,)
        Where the plants stand. [m]
    reach_m : float
        Above 0. [m]

    Returns
    -------
    place, plant : ndarray of int, shape (p,)
        Each pair once or, seldom, twice.
    """
    if not len(x) or not len(plants[0]):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    cell_m = max(reach_m, LEAST_CELL_M)
    slots = 1 << int(4 * len(plants[0])).bit_length()
    west, south = float(plants[0].min()), float(plants[1].min())

    def cells(at_x: Floats, at_y: Floats) -> tuple[Places, Places]:
        return (
            np.floor((at_x - west) / cell_m).astype(np.intp),
            np.floor((at_y - south) / cell_m).astype(np.intp),
        )

    column, row = cells(*plants)
    slot = (column + row * STRIDE) & (slots - 1)
    order = np.argsort(slot)
    starts = np.concatenate([[0], np.cumsum(np.bincount(slot, minlength=slots))])
    order = np.concatenate([order, order[: starts[2]]])
    starts = np.concatenate([starts, starts[1:3] + starts[-1]])
    column, row = cells(x, y)
    first = (column - 1 + (row + np.array([[-1], [0], [1]])) * STRIDE & (slots - 1)).ravel()
    begin = starts[first]
    lookup, number = spread(starts[first + 3] - begin)
    return lookup % len(x), order[begin[lookup] + number]
