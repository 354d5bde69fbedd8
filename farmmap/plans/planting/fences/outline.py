"""The outline of a planting piece by piece: what is bank, what end of the stretch, and what lies towards the land."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach
from farmmap.figures.remembered import Remembered

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

BANK_M = 0.05
"""How near the edge of the channel a corner of the planting is the bank itself. [grid m]"""

PASSES = (0.05, 0.1, 0.25, 0.6)
"""Every other corner of an outline is looked at so often, whether it can go: shares of what may be lost in all.

Leaving out every other corner of a curve loses four times as much as the time before.
"""

MOST_PLAIN = 8
"""Outlines of so few corners are left as they are."""

BANK, END, OUTER = 0, 1, 2


@dataclass(frozen=True, eq=False)
class FreeEnd:
    """An end of the stretch: the creek's middle there, the way on out of the stretch, left and right bank."""

    tip: Floats
    way: Floats
    half: float
    banks: Floats


@dataclass(frozen=True, eq=False)
class Edges:
    """Straight pieces of the planting's outline: where each begins and ends, what it is, beside which bank."""

    begins: Floats
    ends: Floats
    kind: Ints
    side: Ints
    ring: Ints
    free: list[FreeEnd]

    def near(self, points: Floats, within: float) -> Ints:
        """Pieces some of which may lie within so much of one of some points; all of them if none lies so near one."""
        at_x, at_y, half = self._spread
        close = np.zeros(len(half), bool)
        for x, y in points.tolist():
            around = np.maximum(np.abs(at_x - x), np.abs(at_y - y)) - half <= within
            if not around.any():
                return np.arange(len(half))
            close |= around
        return np.flatnonzero(close)

    @cached_property
    def _spread(self) -> tuple[Floats, Floats, Floats]:
        """Middle of each piece, x and y, and half its length."""
        step_x, step_y = (self.ends - self.begins).T
        at_x, at_y = (self.begins + self.ends).T / 2
        return at_x.copy(), at_y.copy(), np.sqrt(step_x * step_x + step_y * step_y) / 2


def plain_parts(grounds: Mapping[int, shapely.Geometry], fine: float) -> tuple[NDArray[np.object_], Ints]:
    """Polygons of the ground without more corners than are needed, and the side of each."""
    parts, owner = shapely.get_parts(np.array([grounds[side] for side in sorted(grounds)], object), return_index=True)
    flat = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > fine * fine)
    parts, side = parts[flat], np.array(sorted(grounds), np.intp)[owner[flat]]
    plain = _thinned(shapely.orient_polygons(parts), fine)
    sound = shapely.is_valid(plain)
    return np.where(sound, plain, shapely.orient_polygons(parts)) if not sound.all() else plain, side


def _thinned(parts: NDArray[np.object_], fine: float) -> NDArray[np.object_]:
    """Polygons without corners that lie all but straight between their neighbours, off by ``fine`` at most."""
    rings, part = shapely.get_rings(parts, return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    if not len(rings):
        return parts
    counts = np.bincount(ring)
    for part_of in PASSES:
        stops = np.cumsum(counts)
        starts = stops - counts
        long = counts > MOST_PLAIN
        every_other = np.concatenate(
            [np.arange(start + 1, stop - 1, 2) for start, stop in zip(starts[long], stops[long], strict=True)]
            or [np.zeros(0, np.intp)]
        )
        behind, before = corners[every_other + 1], corners[every_other - 1]
        straight = distance_each(corners[every_other], before, behind) <= fine * part_of
        kept = np.ones(len(corners), bool)
        kept[every_other[straight]] = False
        corners, counts = corners[kept], np.add.reduceat(kept, starts, dtype=np.intp)
    thin = shapely.linearrings(corners, indices=np.repeat(np.arange(len(counts)), counts))
    first = np.append(True, np.diff(part) != 0)
    holes = np.flatnonzero(~first)
    plain: NDArray[np.object_] = shapely.polygons(thin[first])
    for at in np.unique(part[holes]):
        plain[at] = shapely.polygons(thin[first][at], list(thin[holes[part[holes] == at]]))
    return plain


def edges_of(parts: NDArray[np.object_], side: Ints, reaches: Sequence[Reach]) -> Edges:
    """Return the straight pieces of the outlines of polygons, those of each ring in their order."""
    rings, part = shapely.get_rings(parts, return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    kept = moved_on(corners) | np.append(True, ring[1:] != ring[:-1])
    corners, ring = corners[kept], ring[kept].astype(np.intp)
    same = ring[1:] == ring[:-1]
    wet = _at_bank(corners, reaches)
    begins, ends = corners[:-1][same], corners[1:][same]
    kind = np.where(wet[:-1][same] & wet[1:][same], BANK, OUTER)
    free = free_ends(reaches)
    kind[(kind == OUTER) & _at_ends(begins, ends, free)] = END
    owner = ring[1:][same]
    return Edges(begins, ends, kind, side[part[owner]], owner, free)


@dataclass(frozen=True, eq=False)
class _Middle:
    """Straight pieces of the middle of a channel of one width, found by points along it as far apart as it is wide."""

    half: float
    begins: Floats
    ends: Floats
    piece: Ints
    points: cKDTree
    off: float


_MIDDLES: Remembered[list[_Middle]] = Remembered(4)


def _middles(reaches: Sequence[Reach]) -> list[_Middle]:
    from scipy.spatial import cKDTree  # noqa: PLC0415

    found: list[_Middle] = []
    for half in sorted({reach.half for reach in reaches}):
        step = max(2 * half, 1.0)
        lines = np.array([reach.line for reach in reaches if reach.half == half], object)
        begins, ends, _ = _pieces(lines)
        count = np.ceil(np.hypot(*(ends - begins).T) / step).astype(np.intp)
        piece = np.repeat(np.arange(len(count)), count)
        share = (np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)) / count[piece]
        points = np.vstack([begins[piece] + share[:, None] * (ends - begins)[piece], ends])
        off = math.hypot(half + BANK_M, step / 2)
        found.append(_Middle(half, begins, ends, np.append(piece, np.arange(len(count))), cKDTree(points), off))
    return found


def _at_bank(corners: Floats, reaches: Sequence[Reach]) -> NDArray[np.bool_]:
    """Which corners lie on the edge of the channel."""
    wet = np.zeros(len(corners), bool)
    for middle in _MIDDLES.get((reaches,), (), lambda: _middles(reaches)):
        distance, near = middle.points.query(corners, distance_upper_bound=middle.off)
        close = np.flatnonzero(np.isfinite(distance))
        off = _distances(corners[close], middle.begins, middle.ends, middle.piece[near[close]])
        wet[close[off <= middle.half + BANK_M]] = True
    return wet


def _distances(points: Floats, begins: Floats, ends: Floats, piece: Ints) -> Floats:
    """Distance of points from the piece given for each, or from the one before or behind it if that is nearer."""
    out = np.full(len(points), np.inf)
    for off in (-1, 0, 1):
        at = np.clip(piece + off, 0, len(begins) - 1)
        out = np.minimum(out, distance_each(points, begins[at], ends[at]))
    return out


def distance_each(points: Floats, begins: Floats, ends: Floats) -> Floats:
    """Distance of points from pieces, one by one."""
    along_x, along_y = ends[..., 0] - begins[..., 0], ends[..., 1] - begins[..., 1]
    off_x, off_y = points[..., 0] - begins[..., 0], points[..., 1] - begins[..., 1]
    length = np.maximum(along_x * along_x + along_y * along_y, 1e-18)
    share = np.minimum(np.maximum((off_x * along_x + off_y * along_y) / length, 0.0), 1.0)
    off_x, off_y = off_x - share * along_x, off_y - share * along_y
    distance: Floats = np.sqrt(off_x * off_x + off_y * off_y)
    return distance


def lengths_each(corners: Floats) -> Floats:
    """Length from each corner to the next."""
    step_x, step_y = np.diff(corners[:, 0]), np.diff(corners[:, 1])
    lengths: Floats = np.sqrt(step_x * step_x + step_y * step_y)
    return lengths


def lengths_along(corners: Floats) -> Floats:
    """Length from the first corner to each, along all between."""
    return np.append(0.0, np.cumsum(lengths_each(corners)))


def moved_on(corners: Floats) -> NDArray[np.bool_]:
    """Which corners are not where the one before them is; the first is not."""
    return np.append(True, (corners[1:, 0] != corners[:-1, 0]) | (corners[1:, 1] != corners[:-1, 1]))


def _pieces(lines: NDArray[np.object_]) -> tuple[Floats, Floats, Ints]:
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    same = (owner[1:] == owner[:-1]) & moved_on(corners)[1:]
    return corners[:-1][same], corners[1:][same], owner[1:][same].astype(np.intp)


def free_ends(reaches: Sequence[Reach]) -> list[FreeEnd]:
    """Return the ends of reaches at which no other one goes on."""
    corners = [shapely.get_coordinates(reach.line) for reach in reaches]
    tips = np.array([tip for line in corners for tip in (line[0], line[-1])])
    out: list[FreeEnd] = []
    for place, tip in enumerate(tips):
        if (np.hypot(*(tips - tip).T) <= BANK_M).sum() > 1:
            continue
        line, first = corners[place // 2], place % 2 == 0
        way = tip - (line[1] if first else line[-2])
        way = way / np.hypot(*way)
        left = np.array([way[1], -way[0]]) if first else np.array([-way[1], way[0]])
        half = reaches[place // 2].half
        out.append(FreeEnd(tip, way, half, np.array([tip + half * left, tip - half * left])))
    return out


def _at_ends(begins: Floats, ends: Floats, free: Sequence[FreeEnd]) -> NDArray[np.bool_]:
    """Which pieces lie square to the creek at one of the free ends of the stretch."""
    flat = np.zeros(len(begins), bool)
    for end in free:
        flat |= (np.abs((begins - end.tip) @ end.way) <= BANK_M) & (np.abs((ends - end.tip) @ end.way) <= BANK_M)
    return flat


def bands_beside(edges: Edges, width: float) -> list[shapely.Geometry]:
    """Ground within so much of the bank."""
    wet = edges.kind == BANK
    if width <= 0 or not wet.any():
        return []
    lines = shapely.linestrings(np.stack([edges.begins[wet], edges.ends[wet]], axis=1))
    bank = shapely.line_merge(shapely.multilinestrings(lines))
    return [shapely.buffer(bank, width, cap_style="flat", quad_segs=16)]
