"""Walking along a bank: how much of it is fenced, and the longest stretch without a crown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import BESIDE_M, Reach, normals, pieces, square_ends
from farmmap.figures.prepared import prepared

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP_M = 1.0
"""Longest step along the bank, in grid m."""

MOST_STEPS = 50_000
ON_THE_LINE_M = 1e-6


@dataclass(frozen=True, eq=False)
class BankWalk:
    """Steps along a bank, each looked at from its middle, square to the bank.

    Attributes
    ----------
    at : ndarray, shape (n, 2)
        Middle of each step. [grid m]
    outward : ndarray, shape (n, 2)
        Direction away from the channel, of length 1.
    length : ndarray, shape (n,)
        Length of each step. [grid m]
    run : ndarray of int, shape (n,)
        The unbroken stretch of bank that it belongs to.
    closed : ndarray of bool, shape (runs,)
        Whether the stretch runs back to its beginning.
    width : ndarray, shape (n,)
        Width of the margin that was asked for at each step, that of its own stretch of creek. [grid m]
    """

    at: Floats
    outward: Floats
    length: Floats
    run: NDArray[np.intp]
    closed: Bools
    width: Floats

    @cached_property
    def total(self) -> float:
        """Length of the bank, in grid m."""
        return float(self.length.sum())

    def clear(self, ground: shapely.Geometry, water: shapely.Geometry, far: Floats) -> Floats:
        """How far each step sees outwards before it leaves some ground or meets water.

        Parameters
        ----------
        ground : shapely Polygon or MultiPolygon
            Where it may look.
        water : shapely geometry
            Lines that it may not look across, such as creeks without a known channel.
        far : ndarray, shape (n,)
            How far each step looks at most. [grid m]

        Returns
        -------
        ndarray, shape (n,)
            At most ``far``; 0 where a step has no such ground in front of it. [grid m]
        """
        if not len(self.at) or ground.is_empty:
            return np.zeros(len(self.at))
        starts = self.at + self.outward * BESIDE_M
        out = np.where(shapely.contains_xy(prepared(ground), starts[:, 0], starts[:, 1]), far, 0.0)
        walls = shapely.get_parts([*shapely.get_parts(shapely.get_rings(shapely.get_parts(ground))), water])
        begins, ends, _ = pieces(walls)
        looks = shapely.linestrings(np.stack([starts, self.at + self.outward * far[:, None]], axis=1))
        step, wall = shapely.STRtree(shapely.linestrings(np.stack([begins, ends], axis=1))).query(looks, "intersects")
        np.minimum.at(out, step, _meeting(self.at[step], self.outward[step], begins[wall], ends[wall]))
        return out

    def looks(self, far: Floats) -> NDArray[np.object_]:
        """Lines from the middle of each step outwards, as far as each looks in grid m, shape (n,)."""
        return shapely.linestrings(np.stack([self.at, self.at + self.outward * far[:, None]], axis=1))

    def share_meeting(self, lines: NDArray[np.object_], far: Floats) -> float:
        """Share of the bank from which a line is seen, each step looking as far as ``far``, from 0 to 1."""
        seeing = np.flatnonzero(far > 0)
        if not len(seeing) or not len(lines):
            return 0.0
        _, step = shapely.STRtree(self.looks(far)[seeing]).query(lines, predicate="intersects")
        return float(self.length[seeing[np.unique(step)]].sum()) / self.total

    def under_crowns(self, x: Floats, y: Floats, radius: Floats, far: Floats) -> Bools:
        """Which steps see a crown, each looking as far as ``far``, shape (n,). All in grid metres."""
        met = np.zeros(len(self.at), bool)
        seeing = np.flatnonzero(far > 0)
        if len(seeing) and len(x):
            tree = shapely.STRtree(self.looks(far)[seeing])
            met[seeing[tree.query(shapely.points(x, y), "dwithin", distance=radius)[1]]] = True
        return met

    def longest_run(self, of: Bools) -> float:
        """Length of the longest unbroken run of steps for which ``of`` is true, in grid m."""
        longest = 0.0
        for run, closed in enumerate(self.closed):
            here = self.run == run
            longest = max(longest, _longest(of[here], self.length[here], bool(closed)))
        return longest


def walk(bank: shapely.Geometry, reaches: Sequence[Reach], side: int) -> BankWalk:
    """Return the steps along a bank.

    Parameters
    ----------
    bank : shapely LineString or MultiLineString
        The bank, on the grid.
    reaches : sequence of Reach
        Stretches of its creek.
    side : int
        0 for the left bank, 1 for the right.
    """
    lines = np.array([line for line in shapely.get_parts(bank) if line.length > 0], object)
    if not len(lines):
        none = np.empty((0, 2))
        return BankWalk(none, none, np.empty(0), np.empty(0, np.intp), np.empty(0, bool), np.empty(0))
    begins, ends, run = pieces(lines)
    along = ~across_the_flow(begins, ends, reaches)
    begins, ends, run = begins[along], ends[along], run[along]
    lengths = np.hypot(*(ends - begins).T)
    step = max(STEP_M, float(lengths.sum()) / MOST_STEPS)
    numbers = np.ceil(lengths / step).astype(int)
    piece = np.repeat(np.arange(len(numbers)), numbers)
    part = (np.arange(len(piece)) - np.repeat(np.cumsum(numbers) - numbers, numbers) + 0.5) / numbers[piece]
    at = begins[piece] + part[:, None] * (ends - begins)[piece]
    outward, width = _outward(at, reaches, side)
    return BankWalk(at, outward, (lengths / numbers)[piece], run[piece], shapely.is_closed(lines), width)


def across_the_flow(begins: Floats, ends: Floats, reaches: Sequence[Reach]) -> Bools:
    """Which straight pieces of a bank are the step between two stretches of unlike width, shape (n,)."""
    steps = prepared(square_ends(reaches))
    near = [shapely.dwithin(steps, shapely.points(corners), ON_THE_LINE_M) for corners in (begins, ends)]
    return np.asarray(near[0] & near[1], bool)


def _meeting(at: Floats, outward: Floats, begins: Floats, ends: Floats) -> Floats:
    """How far along each look it first touches a straight wall that it is known to meet, shape (n,)."""
    wall, away = ends - begins, begins - at
    turn = outward[:, 0] * wall[:, 1] - outward[:, 1] * wall[:, 0]
    crossed = away[:, 0] * wall[:, 1] - away[:, 1] * wall[:, 0]
    nearer_end = np.minimum((away * outward).sum(axis=1), ((ends - at) * outward).sum(axis=1))
    level = np.abs(turn) <= 1e-9 * np.hypot(*wall.T)
    return np.maximum(np.where(level, nearer_end, crossed / np.where(level, 1.0, turn)), 0.0)


def _outward(at: Floats, reaches: Sequence[Reach], side: int) -> tuple[Floats, Floats]:
    """Directions away from the nearest piece of the creek's lines, and the width asked for there.

    Points on the line itself look square to it.
    """
    having = [r for r in reaches if r.reach(side) > 0]
    points = shapely.points(at)
    begins, ends, owner = pieces(np.array([r.line for r in having], object))
    segments = shapely.linestrings(np.stack([begins, ends], axis=1))
    _, nearest = shapely.STRtree(segments).query_nearest(points, all_matches=False)
    steps = (ends - begins)[nearest]
    along = steps / np.hypot(*steps.T)[:, None]
    begun = at - begins[nearest]
    share = np.clip((begun * steps).sum(axis=1) / (steps**2).sum(axis=1), 0.0, 1.0)
    away = begun - share[:, None] * steps
    distance = np.hypot(*away.T)
    square = normals(along, side)
    far = distance > ON_THE_LINE_M
    width = np.array([r.widths[side] for r in having])[owner[nearest]]
    return np.where(far[:, None], away / np.where(far, distance, 1.0)[:, None], square), width


def _longest(of: Bools, length: Floats, closed: bool) -> float:
    if of.all():
        return float(length.sum())
    if closed:
        turn = int(np.flatnonzero(~of)[0])
        of, length = np.roll(of, -turn), np.roll(length, -turn)
    total = np.concatenate([[0.0], np.cumsum(length)])
    edge = np.diff(np.concatenate([[0], of.astype(np.int8), [0]]))
    begins, ends = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    return float((total[ends] - total[begins]).max()) if len(begins) else 0.0
