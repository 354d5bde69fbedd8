"""Area that discs cover together inside a polygon, exactly and without drawing them as polygons.

By Green's theorem the area of a shape is ½∮(x·dy − y·dx) along its edge. The
edge of what the discs cover inside the polygon is made of two kinds of pieces:
arcs of circles that lie inside no other disc and inside the polygon, and
stretches of the polygon's sides that lie inside a disc. Both are found by
counting, along each circle and each side, how many discs cover it; no disc is
ever counted twice, and the answer carries rounding errors only.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

TURN = 2 * np.pi
MOST_PAIRS = 2_000_000
"""Pairs of touching discs looked at in one go, so that a dense stand does not fill the memory."""

UNEVEN = 0.5 * (np.sqrt(5) - 1)
"""Where along an arc it is looked at: not the middle, which may be where a circle touches a side of a neat outline."""

BY_A_HAIR = 1e-9
"""Part of a side by which a crossing may miss its end and still count as one."""


def covered_area(x: ArrayLike, y: ArrayLike, radius: ArrayLike, region: shapely.Geometry) -> float:
    """Area of a region that lies under discs, each spot counted once.

    Parameters
    ----------
    x, y, radius : array_like, shape (n,)
        Middles and radii of the discs; those without a radius cover nothing. [m]
    region : shapely Polygon or MultiPolygon
        Valid.

    Returns
    -------
    float
        Between 0 and the region's area. [m²]
    """
    corners = shapely.get_coordinates(region)
    if not len(corners):
        return 0.0
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    discs = np.column_stack([np.ravel(x) - middle[0], np.ravel(y) - middle[1], np.ravel(radius)]).astype(np.float64)
    discs = discs[np.isfinite(discs).all(axis=1) & (discs[:, 2] > 0)]
    if not len(discs):
        return 0.0
    moved = shapely.transform(region, lambda points: points - middle)
    begins, ends = _sides(moved)
    tree = shapely.STRtree(_boxes(discs))
    side, disc = tree.query(_lines(begins, ends))
    first, last, real = _chord(begins[side], ends[side], discs[disc])
    side, disc, first, last = side[real], disc[real], first[real], last[real]
    area = _sides_part(begins, ends, side, np.clip(first, 0, 1), np.clip(last, 0, 1))
    crossing = _crossings(begins, ends, discs, (side, disc, first, last))
    area += _arcs_part(discs, tree, moved, crossing)
    return float(min(max(area, 0.0), region.area))


def _sides(region: shapely.Geometry) -> tuple[Floats, Floats]:
    """Sides of the polygon with its ground on their left: begins and ends, shape (m, 2)."""
    parts = shapely.orient_polygons(shapely.get_parts(region))
    corners, ring = shapely.get_coordinates(shapely.get_rings(parts), return_index=True)
    same = ring[1:] == ring[:-1]
    begins, ends = corners[:-1][same], corners[1:][same]
    long_enough = (begins != ends).any(axis=1)
    return begins[long_enough], ends[long_enough]


def _chord(begins: Floats, ends: Floats, discs: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Where the line through each side enters and leaves each disc, as parts of the side, and whether it meets it."""
    step = ends - begins
    length = np.hypot(step[:, 0], step[:, 1])
    away = discs[:, :2] - begins
    along = (away * step).sum(axis=1) / length
    off = (step[:, 0] * away[:, 1] - step[:, 1] * away[:, 0]) / length
    half = np.sqrt(np.maximum(discs[:, 2] ** 2 - off**2, 0.0))
    first, last = (along - half) / length, (along + half) / length
    return first, last, (half > 0) & (last >= -BY_A_HAIR) & (first <= 1 + BY_A_HAIR)


def _sides_part(begins: Floats, ends: Floats, side: Places, first: Floats, last: Floats) -> float:
    """½∮(x·dy − y·dx) along the covered stretches of the sides."""
    row, from_, to, free = _stretches(len(begins), side, first, last, 1.0)
    covered = np.bincount(row[~free], (to - from_)[~free], minlength=len(begins))
    cross = begins[:, 0] * ends[:, 1] - begins[:, 1] * ends[:, 0]
    return float((cross * covered).sum() / 2)


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


def _arcs_part(
    discs: Floats, tree: shapely.STRtree, region: shapely.Geometry, crossing: tuple[Places, Floats]
) -> float:
    """½∮(x·dy − y·dx) along the arcs that lie inside no other disc and inside the polygon."""
    shapely.prepare(region)
    owner, angle = crossing
    order = np.argsort(owner, kind="stable")
    owner, angle = owner[order], angle[order]
    area, size = 0.0, _batch(discs, tree)
    for begin in range(0, len(discs), size):
        end = min(begin + size, len(discs))
        disc, low, high, whole = _covered_arcs(discs, np.arange(begin, end), tree)
        seen = np.ones(end - begin, bool)
        seen[whole - begin] = False
        here = slice(*np.searchsorted(owner, [begin, end]))
        row, from_, to, free = _stretches(
            end - begin, disc - begin, low, high, TURN, (owner[here] - begin, angle[here])
        )
        keep = free & seen[row] & (to > from_)
        area += _arc_area(discs[begin + row[keep]], from_[keep], to[keep], region)
    return area


def _arc_area(discs: Floats, from_: Floats, to: Floats, region: shapely.Geometry) -> float:
    x, y, r = discs.T
    within = from_ + UNEVEN * (to - from_)
    inside = shapely.contains_xy(region, x + r * np.cos(within), y + r * np.sin(within))
    each = r * r * (to - from_) + r * x * (np.sin(to) - np.sin(from_)) - r * y * (np.cos(to) - np.cos(from_))
    return float(each[inside].sum() / 2)


def _covered_arcs(discs: Floats, chosen: Places, tree: shapely.STRtree) -> tuple[Places, Floats, Floats, Places]:
    """Arcs of the chosen circles that lie inside another disc, and circles that lie inside one as a whole.

    Returns
    -------
    disc, low, high : ndarray, shape (k,)
        The circle and the angles between which it is covered, 0 ≤ low ≤ high ≤ 2π.
    whole : ndarray
        Circles that are covered all round; of equal ones all but the first.
    """
    row, other = tree.query(_boxes(discs[chosen]))
    disc = chosen[row]
    apart = disc != other
    disc, other = disc[apart], other[apart]
    dx, dy = discs[other, 0] - discs[disc, 0], discs[other, 1] - discs[disc, 1]
    r, s, d = discs[disc, 2], discs[other, 2], np.hypot(dx, dy)
    whole = disc[(d <= s - r) & ((s > r) | (other < disc))]
    partly = (d < r + s) & (d > np.abs(s - r))
    disc, dx, dy, r, s, d = disc[partly], dx[partly], dy[partly], r[partly], s[partly], d[partly]
    half = np.arccos(np.clip((r * r + d * d - s * s) / (2 * r * d), -1, 1))
    low = (np.arctan2(dy, dx) - half) % TURN
    high = low + 2 * half
    over = high > TURN
    return (
        np.concatenate([disc, disc[over]]),
        np.concatenate([low, np.zeros(int(over.sum()))]),
        np.concatenate([np.minimum(high, TURN), high[over] - TURN]),
        whole,
    )


def _stretches(
    rows: int, row: Places, low: Floats, high: Floats, top: float, cuts: tuple[Places, Floats] | None = None
) -> tuple[Places, Floats, Floats, NDArray[np.bool_]]:
    """Cut 0 to ``top`` of each row where coverings begin and end, and at ``cuts``.

    Returns
    -------
    row, from_, to : ndarray, shape (k,)
        Row and ends of each stretch.
    free : ndarray of bool, shape (k,)
        Whether nothing covers it.
    """
    extra_row, extra = cuts if cuts is not None else (np.empty(0, np.intp), np.empty(0))
    everyone = np.arange(rows)
    owner = np.concatenate([everyone, row, row, extra_row, everyone])
    at = np.concatenate([np.zeros(rows), low, high, extra, np.full(rows, top)])
    weight = np.concatenate(
        [np.zeros(rows), np.ones(len(row)), -np.ones(len(row)), np.zeros(len(extra)), np.zeros(rows)]
    )
    order = np.argsort(owner * (2 * top) + at)
    owner, at = owner[order], at[order]
    covers = np.cumsum(weight[order])
    same = owner[1:] == owner[:-1]
    return owner[:-1][same], at[:-1][same], at[1:][same], covers[:-1][same] < 0.5


def _batch(discs: Floats, tree: shapely.STRtree) -> int:
    """How many circles to look at in one go."""
    if len(discs) ** 2 <= MOST_PAIRS:
        return len(discs)
    sample = discs[:: max(1, len(discs) // 256)]
    each = tree.query(_boxes(sample)).shape[1] / len(sample)
    return int(np.clip(MOST_PAIRS / each, 32, 500_000))


def _boxes(discs: Floats) -> NDArray[np.object_]:
    x, y, r = discs.T
    return shapely.box(x - r, y - r, x + r, y + r)


def _lines(begins: Floats, ends: Floats) -> NDArray[np.object_]:
    return shapely.linestrings(np.stack([begins, ends], axis=1))
