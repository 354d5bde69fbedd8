"""Rows planted full: plants along rows, and in the ground that is left bare where rows run into one another.

On the inside of a bend and in a neck the two legs of a row meet at a sharp tip. Short of it they are too near each
other for plants on both, and before it, where the next row's legs open, ground lies bare that no row reaches. So
where two legs meet they run together into one row, which is drawn out beyond the tip for as long as the next row
leaves it room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.prepared import prepared
from farmmap.plans.planting.places.rows import FURTHEST, Runs, Tips, Way
from farmmap.plans.planting.places.spacing import by_others, kept_apart, pairs_within

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

ROOM = 0.8
"""Rows drawn out beyond a tip keep this share of a row's distance from the rows beside, so that these can be driven."""

SPOTS = 8
"""Bare places are looked for so many times a spacing."""

TOUCH = 1e-4
"""Plants put in bare ground may stand this share of the spacing nearer, so that rounding does not keep them out."""


@dataclass(frozen=True, eq=False)
class _Spots:
    """Places where a plant may fit: where they are, on which line, and on which leg of it, shape (n,) each."""

    x: Floats
    y: Floats
    line: Ints
    leg: Ints


def row_plants(
    runs: Runs, ground: shapely.Geometry, between: float, within: float, headland: float = 0.0
) -> tuple[Floats, Floats, Ints]:
    """Places of plants along rows, none too near another, and no room left for one where rows run together.

    Plants of one leg of a row keep the spacing within rows; others the smaller one of the two.

    Parameters
    ----------
    runs : Runs
        Rows cut to the ground.
    ground : shapely Polygon or MultiPolygon
        Ground to plant.
    between, within : float
        From row to row, and from plant to plant along them. [grid m]
    headland : float
        Left free where rows end. [grid m]

    Returns
    -------
    x, y : ndarray, shape (k,)
        [grid m]
    line : ndarray of int, shape (k,)
        Stretch of row that each belongs to, by its place in ``runs``.
    """
    none = np.empty(0, np.intp)
    if not len(runs):
        return np.empty(0), np.empty(0), none
    way = Way(runs.lines, within, tips_too=False)
    at, line = way.planted(headland)
    x, y = way.places(at)
    least = min(between, within)
    keep = kept_apart(x, y, least)
    tips = way.tips()
    spare = (1 - ROOM) * between if within > between / 2 else 0.0  # legs that near make up for what lies bare
    spots = _spots(way, tips, ground, at[~keep], (spare, headland))
    x, y, line = x[keep], y[keep], line[keep]
    leg = np.searchsorted(tips.at, at[keep])
    got = _fitting(_Spots(x, y, line, leg), spots, least, within)
    return np.append(x, spots.x[got]), np.append(y, spots.y[got]), np.append(line, spots.line[got])


def _spots(way: Way, tips: Tips, ground: shapely.Geometry, dropped: Floats, room: tuple[float, float]) -> _Spots:
    """Places to look at: on the rows around their tips and where plants were left out, and beyond the tips.

    ``room`` is how much nearer than a row's distance rows drawn out may lie to others, and the headland. [grid m]
    """
    spare, headland = room
    step = way.within / SPOTS
    # on the rows
    around = step * np.arange(-int(FURTHEST * SPOTS), int(FURTHEST * SPOTS) + 1)
    close = step * np.arange(-SPOTS, SPOTS + 1)
    home = np.concatenate([np.repeat(tips.at, len(around)), np.repeat(dropped, len(close))])
    at = home + np.concatenate([np.tile(around, len(tips.at)), np.tile(close, len(dropped))])
    line = way.line_at(home)
    free = np.where(way.closed[line], 0.0, headland)
    real = (at >= way.begins[line] + free) & (at <= way.ends[line] - free)
    at, line = at[real], line[real]
    x, y = way.places(at)
    leg = np.searchsorted(tips.at, at)
    # beyond their tips
    long = np.minimum(spare / np.maximum(tips.sine, spare / (FURTHEST * way.within) + 1e-9), FURTHEST * way.within)
    count = np.where(long > 0, np.ceil(long / step), 0).astype(np.intp)
    tip = np.repeat(np.arange(len(count)), count)
    nth = np.arange(len(tip)) - np.repeat(np.cumsum(count) - count, count)
    off = np.minimum((nth + 1) * step, long[tip])
    east, north = tips.x[tip] + off * tips.east[tip], tips.y[tip] + off * tips.north[tip]
    edge = prepared(ground.boundary)
    ground = prepared(ground)
    inside = shapely.contains_xy(ground, east, north)
    inside &= ~shapely.dwithin(edge, shapely.points(east, north), max(headland, way.within / 2))
    tip = tip[inside]
    return _Spots(
        np.append(x, east[inside]),
        np.append(y, north[inside]),
        np.append(line, way.line_at(tips.at[tip])),
        np.append(leg, -1 - tip),
    )


def _fitting(laid: _Spots, spots: _Spots, least: float, within: float) -> Ints:
    """Which spots are planted beside what is laid, those first that fit in most closely; shape (k,)."""
    if not len(spots.x):
        return np.empty(0, np.intp)
    new = np.repeat([0, 1], [len(laid.x), len(spots.x)])
    x, y = np.append(laid.x, spots.x), np.append(laid.y, spots.y)
    leg = np.append(laid.leg, spots.leg)
    near = np.flatnonzero(by_others(x, y, 2 * within, new) | (new == 1))
    pairs, off = pairs_within(x[near], y[near], 2 * within)
    pairs = near[pairs]
    apart = np.where(leg[pairs[:, 0]] == leg[pairs[:, 1]], within, least) * (1 - TOUCH)
    first = len(laid.x)
    one, other = pairs[:, 0] - first, pairs[:, 1] - first  # the first one of a pair is the earlier one
    beside = (one < 0) & (other >= 0)
    room = np.full(len(spots.x), np.inf)
    np.minimum.at(room, other[beside], (off - apart)[beside])
    among = (one >= 0) & (off < apart)
    rivals = np.column_stack([one[among], other[among]])
    rank = np.empty(len(room), np.intp)
    rank[np.argsort(room, kind="stable")] = np.arange(len(room))
    free, planted = room >= 0, np.zeros(len(room), bool)
    while free.any():
        rivals = rivals[free[rivals].all(axis=1)]
        before = np.zeros(len(room), bool)  # spots beside a better one
        before[rivals[np.arange(len(rivals)), np.argmax(rank[rivals], axis=1)]] = True
        taken = free & ~before
        planted |= taken
        free &= ~taken
        beaten = taken[rivals]
        free[rivals[beaten[:, 1], 0]] = False
        free[rivals[beaten[:, 0], 1]] = False
    return np.flatnonzero(planted)
