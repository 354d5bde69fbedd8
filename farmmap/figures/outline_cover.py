"""Where discs and the outline of a polygon meet, and how much of each side lies under discs.

What is found is kept with the polygon, so that after one of its corners moved
only the sides and discs near it are looked at again; the same steps work out
a polygon that was never asked about.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.discs import TURN
from farmmap.figures.prepared import prepared
from farmmap.figures.tree_index import TreeIndex, spread

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

GIANT_M = 100.0
"""Discs of sizes beyond this radius belong to no tile. No crown is so wide: such a figure is mistyped. [m]"""

UNEVEN = 0.5 * (np.sqrt(5) - 1)
"""Where along an arc it is looked at: not the middle, which may be where a circle touches a side of a neat outline."""

BY_A_HAIR = 1e-9
"""Part of a side by which a crossing may miss its end and still count as one."""

SIDE_KEY = np.array([1.0, np.pi, np.e, 1 / np.sqrt(2)])
"""Sides are looked up by the sum of their coordinates times these, and then compared."""

FEW_PAIRS = 5_000
"""So few pairs of sides and discs are looked at one by one."""


@dataclass(frozen=True, eq=False)
class Felt:
    """How discs and a polygon meet, kept so that after a corner moved only what is near it is looked at again.

    Attributes
    ----------
    region : shapely Polygon or MultiPolygon
        The polygon.
    tiles : tuple of int
        Numbers of the tiles whose discs were looked at, n discs together.
    sides : tuple of ndarray, shape (sides, 2)
        Where its sides begin and end.
    middle : ndarray, shape (2,)
        What the arcs' parts are measured from. [m]
    covered : ndarray, shape (sides,)
        Share of each side of the polygon that lies under discs.
    arcs : ndarray, shape (n,)
        ∮(x·dy − y·dx) along the free arcs of each disc that crosses a side, as far as they lie inside. [m²]
    within, met, crossed : ndarray of bool, shape (n,)
        Whether the middle of each disc lies inside, whether it reaches over the polygon, whether it crosses a side.
    """

    region: shapely.Geometry
    tiles: tuple[int, ...]
    sides: tuple[Floats, Floats]
    middle: Floats
    covered: Floats
    arcs: Floats
    within: Bools
    met: Bools
    crossed: Bools


def felt_of(
    of: tuple[shapely.Geometry, Floats, Floats],
    near: tuple[Floats, Places, Floats],
    where: tuple[tuple[int, ...], Floats],
    known: Felt | None,
) -> Felt:
    """Find how discs and a polygon meet.

    Parameters
    ----------
    of : tuple
        The polygon, and where its sides begin and end.
    near : tuple
        The discs, the owners of their free arcs, and the arcs.
    where : tuple
        Numbers of the discs' tiles, and the middle.
    known : Felt or None
        The same discs and another polygon with mostly the same sides.
    """
    (region, begins, ends), (discs, owner, arcs), (_, middle) = of, near, where
    felt, again, box = _carried((region, begins, ends), len(discs), where, known)
    if box is None:
        return felt
    covered, parts, within, met, crossed = felt.covered, felt.arcs, felt.within, felt.met, felt.crossed
    x, y, r = discs[:, 0], discs[:, 1], discs[:, 2]
    some = np.flatnonzero((x + r >= box[0]) & (x - r <= box[2]) & (y + r >= box[1]) & (y - r <= box[3]))
    chosen = discs[some, :3]
    side_near = np.arange(len(begins))
    if known is not None and len(some):
        at, wide = chosen[:, :2], float(chosen[:, 2].max())
        inside = np.minimum(begins, ends) <= at.max(axis=0) + wide
        inside &= np.maximum(begins, ends) >= at.min(axis=0) - wide
        side_near = np.flatnonzero(inside.all(axis=1))
    side, disc = _beside(begins[side_near], ends[side_near], chosen)
    within[some] = shapely.contains_xy(prepared(region), chosen[:, 0], chosen[:, 1])
    met[some] = within[some]
    met[some[disc]] = True
    chosen[:, :2] -= middle
    begins, ends = begins[side_near] - middle, ends[side_near] - middle
    first, last, real = _chord(begins[side], ends[side], chosen[disc])
    side, disc, first, last = side[real], disc[real], first[real], last[real]
    newly = np.zeros(len(covered), bool)
    newly[again] = True
    newly = newly[side_near]
    covered[side_near[newly]] = _covered(len(begins), side, np.clip(first, 0, 1), np.clip(last, 0, 1))[newly]
    crossing = np.zeros(len(some), bool)
    crossing[disc] = True
    crossed[some] = crossing
    number = np.full(len(discs), -1)
    number[some[crossing]] = np.flatnonzero(crossing)
    cut = number[owner]
    on_side = np.flatnonzero(cut >= 0)
    cuts = _crossings(begins, ends, chosen, (side, disc, first, last))
    parts[some] = _cut_arcs_parts(chosen, cut[on_side], arcs[on_side], cuts, (region, middle))
    return felt


def middle_of(region: shapely.Geometry) -> Floats:
    """Place near the middle of a polygon that stays where it is while a corner moves a little."""
    west, south, east, north = region.bounds
    step = 2.0 ** np.ceil(np.log2(max(east - west, north - south, 1.0)) - 4)
    return np.floor(np.array([west + east, south + north]) / 2 / step + 0.5) * step


def _carried(
    of: tuple[shapely.Geometry, Floats, Floats], discs: int, where: tuple[tuple[int, ...], Floats], known: Felt | None
) -> tuple[Felt, Places, Floats | None]:
    """Return what is known already, the sides that are not known, and a rectangle around what to look at, if any."""
    (region, begins, ends), (tiles, middle) = of, where
    if known is None:
        flags = [np.zeros(discs, bool) for _ in range(3)]
        felt = Felt(region, tiles, (begins, ends), middle, np.zeros(len(begins)), np.zeros(discs), *flags)
        return felt, np.arange(len(begins)), np.array(region.bounds)
    place, left = _same_sides(known.sides, (begins, ends))
    again = np.flatnonzero(place < 0)
    covered = np.where(place < 0, 0.0, known.covered[place])
    flags = [one.copy() for one in (known.within, known.met, known.crossed)]
    felt = Felt(region, tiles, (begins, ends), middle, covered, known.arcs.copy(), *flags)
    corners = np.concatenate([left, begins[again], ends[again]])
    return felt, again, np.concatenate([corners.min(axis=0), corners.max(axis=0)]) if len(corners) else None


def _same_sides(old: tuple[Floats, Floats], new: tuple[Floats, Floats]) -> tuple[Ints, Floats]:
    """Place among the old sides of each new one, -1 where it was not there; and the ends of old ones that are gone."""
    was, now = np.concatenate(old, axis=1), np.concatenate(new, axis=1)
    key, other = was @ SIDE_KEY, now @ SIDE_KEY
    order = np.argsort(key)
    at = order[np.minimum(np.searchsorted(key, other, sorter=order), len(key) - 1)]
    place = np.where((was[at] == now).all(axis=1), at, -1)
    gone = np.ones(len(was), bool)
    gone[place[place >= 0]] = False
    return place, was[gone].reshape(-1, 2)


def sides_of(region: shapely.Geometry) -> tuple[Floats, Floats]:
    """Sides of the polygon with its ground on their left: begins and ends, shape (m, 2)."""
    parts = shapely.orient_polygons(shapely.get_parts(region))
    corners, ring = shapely.get_coordinates(shapely.get_rings(parts), return_index=True)
    same = ring[1:] == ring[:-1]
    begins, ends = corners[:-1][same], corners[1:][same]
    long_enough = (begins != ends).any(axis=1)
    return begins[long_enough], ends[long_enough]


def _beside(begins: Floats, ends: Floats, discs: Floats) -> tuple[Places, Places]:
    """Pairs of sides and discs that touch."""
    giant = discs[:, 2] > GIANT_M
    if not giant.any():
        return _beside_some(begins, ends, discs)
    found = []
    for places in (np.flatnonzero(~giant), np.flatnonzero(giant)):
        side, disc = _beside_some(begins, ends, discs[places])
        found.append((side, places[disc]))
    side, disc = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return side, disc


def _beside_some(begins: Floats, ends: Floats, discs: Floats) -> tuple[Places, Places]:
    """Pairs of sides and discs that touch, quick for discs of about one size.

    Sides one after the other are looked at together first, as an outline that
    was drawn around a width has many short ones.
    """
    widest = float(discs[:, 2].max(initial=0.0))
    if not len(begins) or not len(discs):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    if len(begins) * len(discs) <= FEW_PAIRS:
        side = np.repeat(np.arange(len(begins)), len(discs))
        return _touching(begins, ends, discs, side, np.tile(np.arange(len(discs)), len(begins)))
    index = TreeIndex(discs[:, 0], discs[:, 1], widest / 2)
    first, boxes = _runs(begins, ends, widest / 2)
    run, at = index.near_boxes(boxes + np.array([-widest, -widest, widest, widest]))
    x, y, radius, box = index.x[at], index.y[at], discs[index.order[at], 2], boxes[run]
    off_x = np.maximum(np.maximum(box[:, 0] - x, x - box[:, 2]), 0.0)
    off_y = np.maximum(np.maximum(box[:, 1] - y, y - box[:, 3]), 0.0)
    near = np.flatnonzero(off_x * off_x + off_y * off_y <= radius * radius)
    run, at = run[near], at[near]
    pair, step = spread(np.diff(first, append=len(begins))[run])
    return _touching(begins, ends, discs, first[run[pair]] + step, index.order[at[pair]])


def _touching(begins: Floats, ends: Floats, discs: Floats, side: Places, disc: Places) -> tuple[Places, Places]:
    """Pairs of sides and discs, of those given, that touch."""
    along_x, along_y = (ends - begins)[side].T
    away_x, away_y = (discs[disc, :2] - begins[side]).T
    along = (away_x * along_x + away_y * along_y) / (along_x * along_x + along_y * along_y)
    along = np.minimum(np.maximum(along, 0.0), 1.0)
    off_x, off_y = away_x - along * along_x, away_y - along * along_y
    near = np.flatnonzero(off_x * off_x + off_y * off_y <= discs[disc, 2] ** 2)
    return side[near], disc[near]


def _runs(begins: Floats, ends: Floats, long_m: float) -> tuple[Places, Floats]:
    """Stretches of sides that follow each other: the first side of each, and a rectangle around it."""
    length = np.abs(ends - begins).sum(axis=1)
    number = np.floor((np.cumsum(length) - length) / long_m)
    breaks = (number[1:] != number[:-1]) | (begins[1:] != ends[:-1]).any(axis=1)
    first = np.concatenate([[0], np.flatnonzero(breaks) + 1])
    low = np.minimum.reduceat(np.minimum(begins, ends), first, axis=0)
    high = np.maximum.reduceat(np.maximum(begins, ends), first, axis=0)
    return first, np.concatenate([low, high], axis=1)


def _chord(begins: Floats, ends: Floats, discs: Floats) -> tuple[Floats, Floats, Bools]:
    """Where the line through each side enters and leaves each disc, as parts of the side, and whether it meets it."""
    step = ends - begins
    length = np.hypot(step[:, 0], step[:, 1])
    away = discs[:, :2] - begins
    along = (away * step).sum(axis=1) / length
    off = (step[:, 0] * away[:, 1] - step[:, 1] * away[:, 0]) / length
    half = np.sqrt(np.maximum(discs[:, 2] ** 2 - off**2, 0.0))
    first, last = (along - half) / length, (along + half) / length
    return first, last, (half > 0) & (last >= -BY_A_HAIR) & (first <= 1 + BY_A_HAIR)


def _covered(count: int, side: Places, first: Floats, last: Floats) -> Floats:
    """Share of each of ``count`` sides that lies under discs."""
    row, from_, to, covers = _stretches(side, np.column_stack([first, last]), (np.empty(0, np.intp), np.empty(0)), 2.0)
    under = covers > 0.5
    return np.asarray(np.bincount(row[under], (to - from_)[under], minlength=count), np.float64)


def _crossings(
    begins: Floats, ends: Floats, discs: Floats, met: tuple[Places, Places, Floats, Floats]
) -> tuple[Places, Floats]:
    """Where circles cross sides: the disc, and the angle on its circle."""
    side, disc, first, last = met
    owners, angles = [], []
    for part in (first, last):
        on_side = (part >= -BY_A_HAIR) & (part <= 1 + BY_A_HAIR)
        at, of = side[on_side], disc[on_side]
        point = begins[at] + part[on_side][:, None] * (ends[at] - begins[at]) - discs[of, :2]
        owners.append(of)
        angles.append(np.arctan2(point[:, 1], point[:, 0]) % TURN)
    return np.concatenate(owners), np.concatenate(angles)


def _cut_arcs_parts(
    discs: Floats, owner: Places, arcs: Floats, cuts: tuple[Places, Floats], region: tuple[shapely.Geometry, Floats]
) -> Floats:
    """∮(x·dy − y·dx) along the parts inside the polygon of free arcs of circles that cross its sides, by disc."""
    row, from_, to, covers = _stretches(owner, arcs, cuts, 8.0)
    free = np.flatnonzero((covers > 0.5) & (to > from_))
    row, from_, to = row[free], from_[free], to[free]
    x, y, r = discs[row, 0], discs[row, 1], discs[row, 2]
    within, (shape, middle) = from_ + UNEVEN * (to - from_), region
    inside = shapely.contains_xy(
        prepared(shape), x + r * np.cos(within) + middle[0], y + r * np.sin(within) + middle[1]
    )
    each = r * r * (to - from_) + r * x * (np.sin(to) - np.sin(from_)) - r * y * (np.cos(to) - np.cos(from_))
    return np.asarray(np.bincount(row[inside], each[inside], len(discs)), np.float64)


def _stretches(
    row: Places, spans: Floats, cuts: tuple[Places, Floats], apart: float
) -> tuple[Places, Floats, Floats, Floats]:
    """Cut each row where spans begin and end, and at ``cuts``.

    Parameters
    ----------
    row, spans : ndarray, shape (n,) and (n, 2)
        Row of each span, and its ends.
    cuts : tuple of ndarray, shape (m,)
        Row and place of each cut.
    apart : float
        More than the greatest end; a power of 2.

    Returns
    -------
    row, from_, to, covers : ndarray, shape (k,)
        Row and ends of each stretch, and how many spans cover it.
    """
    owner = np.concatenate([row, row, cuts[0]])
    at = np.concatenate([spans[:, 0], spans[:, 1], cuts[1]])
    weight = np.concatenate([np.ones(len(row)), -np.ones(len(row)), np.zeros(len(cuts[0]))])
    order = np.argsort(owner * apart + at)
    owner, at = owner[order], at[order]
    covers = np.cumsum(weight[order])
    same = owner[1:] == owner[:-1]
    return owner[:-1][same], at[:-1][same], at[1:][same], covers[:-1][same]
