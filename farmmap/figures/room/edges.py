"""Edge correction: neighbours beyond the edge of the mapped ground are stood for by those that are mapped."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.prepared import prepared
from farmmap.figures.tree_index import spread

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

TURN = 2 * np.pi

LEAST_SHARE = 0.01
"""A neighbour never stands for more than a hundred, as is usual where circles hardly touch the ground."""


LOOKED_AT = 0.381966
"""Part of an arc at which it is looked at: not the middle, where a circle may just touch a straight edge."""


def arc_share(x: Floats, y: Floats, radius_m: Floats, ground: shapely.Geometry) -> Floats:
    """Share of circles' outlines that lies on the ground, from 0 to 1.

    Each circle is cut where it crosses an edge of the ground, and the arcs
    between are looked at one by one, so the answer carries rounding errors
    only, on ground of any shape and with holes.

    Parameters
    ----------
    x, y, radius_m : ndarray, shape (n,)
        Middles of the circles, which lie on the ground, and their radii. [m]
    ground : shapely Polygon or MultiPolygon
        Valid and not empty.
    """
    out = np.ones(len(x))
    begins, ends = _sides(ground)
    place, which = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True)
    which = which.reshape(-1)
    widest = np.zeros(len(place))
    np.maximum.at(widest, which, radius_m)
    lines = shapely.linestrings(np.stack([begins, ends], axis=1))
    near, side = shapely.STRtree(lines).query(shapely.points(place), predicate="dwithin", distance=widest * (1 + 1e-9))
    order = np.argsort(near, kind="stable")
    side, starts = side[order], np.searchsorted(near[order], np.arange(len(place) + 1))
    many = np.diff(starts)[which]
    circle, number = spread(many)
    side = side[starts[which[circle]] + number]
    cut, angle = _crossings(np.column_stack([x, y])[circle], radius_m[circle], begins[side], ends[side])
    some = np.flatnonzero(many > 0)
    out[some] = _inside((x[some], y[some], radius_m[some]), np.searchsorted(some, circle[cut]), angle, ground)
    return out


def edge_distance(x: Floats, y: Floats, ground: shapely.Geometry) -> Floats:
    """Distance of places to the nearest edge of the ground; nan for those without coordinates, in m. Shape (n,)."""
    out = np.full(len(x), np.nan)
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    lines = shapely.linestrings(np.stack(_sides(ground), axis=1))
    if len(lines) and len(known):
        (place, _), off = shapely.STRtree(lines).query_nearest(
            shapely.points(x[known], y[known]), return_distance=True, all_matches=False
        )
        out[known[place]] = off
    return out


def edge_weight(share: Floats) -> Floats:
    """How many trees a neighbour stands for: 1 ÷ share of the circle through it that lies on the ground.

    Source: B. D. Ripley (1977), Modelling spatial patterns, J. R. Stat. Soc.
    B 39, 172–212 (isotropic correction; from memory). Sums over neighbours
    within a distance are then free of bias where trees stand alike on either
    side of the edge, whatever is summed.
    """
    return 1.0 / np.maximum(share, LEAST_SHARE)


def _sides(ground: shapely.Geometry) -> tuple[Floats, Floats]:
    """Return the ends of the sides of all rings, each of shape (k, 2)."""
    rings = shapely.get_rings(shapely.get_parts(ground))
    at, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return at[:-1][same], at[1:][same]


def _crossings(middle: Floats, radius: Floats, begins: Floats, ends: Floats) -> tuple[Places, Floats]:
    """Where circles cross sides: the row of each crossing, and its angle at the circle's middle."""
    along, off = ends - begins, begins - middle
    a = (along * along).sum(axis=1)
    b = (along * off).sum(axis=1)
    c = (off * off).sum(axis=1) - radius * radius
    root = b * b - a * c
    real = np.flatnonzero((root > 0) & (a > 0))
    step = np.sqrt(root[real]) / a[real]
    rows, angles = [], []
    for sign in (-1.0, 1.0):
        part = -b[real] / a[real] + sign * step
        on = (part >= 0) & (part < 1)
        row = real[on]
        at = off[row] + along[row] * part[on][:, None]
        rows.append(row)
        angles.append(np.arctan2(at[:, 1], at[:, 0]) % TURN)
    return np.concatenate(rows), np.concatenate(angles)


def _inside(circles: tuple[Floats, Floats, Floats], row: Places, angle: Floats, ground: shapely.Geometry) -> Floats:
    """Share of each circle on the ground, from the angles at which it crosses an edge."""
    x, y, radius = circles
    every = np.arange(len(x))
    owner, start = np.concatenate([every, row]), np.concatenate([np.zeros(len(x)), angle])
    order = np.lexsort((start, owner))
    owner, start = owner[order], start[order]
    last = np.append(owner[1:] != owner[:-1], True)
    long = np.where(last, TURN, np.append(start[1:], TURN)) - start
    within = start + long * LOOKED_AT
    there = shapely.contains_xy(
        prepared(ground), x[owner] + radius[owner] * np.cos(within), y[owner] + radius[owner] * np.sin(within)
    )
    return np.bincount(owner, np.where(there, long, 0.0), len(x)) / TURN
