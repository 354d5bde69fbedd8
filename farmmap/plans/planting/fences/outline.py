"""The outline of a planting piece by piece: what is bank, what end of the stretch, and what lies towards the land."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

BANK_M = 0.05
"""How near the edge of the channel a corner of the planting is the bank itself. [grid m]"""

PASSES = 4
"""How often every other corner of an outline is looked at, whether it can go."""

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

    @cached_property
    def middles(self) -> Floats:
        """Middle of each piece."""
        return (self.begins + self.ends) / 2

    @cached_property
    def halves(self) -> Floats:
        """Half the length of each piece."""
        return np.hypot(*(self.ends - self.begins).T) / 2


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
    for _ in range(PASSES):
        starts = np.searchsorted(ring, ring)
        count = np.bincount(ring)[ring]
        place = np.arange(len(ring)) - starts
        every_other = np.flatnonzero((place % 2 == 1) & (place < count - 1) & (count > MOST_PLAIN))
        behind, before = corners[every_other + 1], corners[every_other - 1]
        straight = distance_each(corners[every_other], before, behind) <= fine / PASSES
        if not straight.any():
            break
        kept = np.ones(len(corners), bool)
        kept[every_other[straight]] = False
        corners, ring = corners[kept], ring[kept]
    if not len(rings):
        return parts
    thin = shapely.linearrings(corners, indices=ring)
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


def _at_bank(corners: Floats, reaches: Sequence[Reach]) -> NDArray[np.bool_]:
    """Which corners lie on the edge of the channel: found by points along its middle, as far apart as it is wide."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    wet = np.zeros(len(corners), bool)
    for half in {reach.half for reach in reaches}:
        step = max(2 * half, 1.0)
        lines = np.array([reach.line for reach in reaches if reach.half == half], object)
        begins, ends, _ = _pieces(lines)
        count = np.ceil(np.hypot(*(ends - begins).T) / step).astype(np.intp)
        piece = np.repeat(np.arange(len(count)), count)
        share = (np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)) / count[piece]
        points = np.vstack([begins[piece] + share[:, None] * (ends - begins)[piece], ends])
        off = np.sqrt((half + BANK_M) ** 2 + (step / 2) ** 2)
        distance, near = cKDTree(points).query(corners, distance_upper_bound=off)
        close = np.flatnonzero(np.isfinite(distance))
        piece = np.append(piece, np.arange(len(count)))[near[close]]
        wet[close[_distances(corners[close], begins, ends, piece) <= half + BANK_M]] = True
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
    share = np.clip((off_x * along_x + off_y * along_y) / length, 0.0, 1.0)
    return np.hypot(off_x - share * along_x, off_y - share * along_y)


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
