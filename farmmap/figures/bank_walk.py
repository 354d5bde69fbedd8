"""Walking along a bank: how much of it is fenced, and the longest stretch without a crown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach, normals, pieces

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
    """

    at: Floats
    outward: Floats
    length: Floats
    run: NDArray[np.intp]
    closed: Bools

    @cached_property
    def total(self) -> float:
        """Length of the bank, in grid m."""
        return float(self.length.sum())

    def looks(self, width: float) -> NDArray[np.object_]:
        """Lines of that length from the middle of each step outwards, shape (n,)."""
        return shapely.linestrings(np.stack([self.at, self.at + self.outward * width], axis=1))

    def share_meeting(self, lines: NDArray[np.object_], width: float) -> float:
        """Share of the bank that meets any of the lines within a width, from 0 to 1."""
        if not len(self.at) or not len(lines):
            return 0.0
        _, step = shapely.STRtree(self.looks(width)).query(lines, predicate="intersects")
        return float(self.length[np.unique(step)].sum()) / self.total

    def under_crowns(self, x: Floats, y: Floats, radius: Floats, width: float) -> Bools:
        """Which steps meet a crown within a width, shape (n,). All in grid metres."""
        met = np.zeros(len(self.at), bool)
        if len(self.at) and len(x):
            found = shapely.STRtree(self.looks(width)).query(shapely.points(x, y), "dwithin", distance=radius)
            met[found[1]] = True
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
    lines = [line for line in shapely.get_parts(bank) if line.length > 0]
    if not lines:
        none = np.empty((0, 2))
        return BankWalk(none, none, np.empty(0), np.empty(0, np.intp), np.empty(0, bool))
    step = max(STEP_M, sum(line.length for line in lines) / MOST_STEPS)
    numbers = [int(np.ceil(line.length / step)) for line in lines]
    lengths = np.concatenate([np.full(n, line.length / n) for line, n in zip(lines, numbers, strict=True)])
    run = np.repeat(np.arange(len(lines)), numbers)
    part = np.concatenate([(np.arange(n) + 0.5) / n for n in numbers])
    points = shapely.line_interpolate_point(np.array(lines, object)[run], part, normalized=True)
    at = shapely.get_coordinates(points)
    closed = np.array([line.is_closed for line in lines])
    return BankWalk(at, _outward(at, points, reaches, side), lengths, run, closed)


def _outward(at: Floats, points: NDArray[np.object_], reaches: Sequence[Reach], side: int) -> Floats:
    """Directions away from the nearest piece of the creek's lines; square to it for points on the line itself."""
    having = [r for r in reaches if r.reach(side) > 0]
    begins, ends, _ = pieces(np.array([r.line for r in having], object))
    segments = shapely.linestrings(np.stack([begins, ends], axis=1))
    _, nearest = shapely.STRtree(segments).query_nearest(points, all_matches=False)
    steps = (ends - begins)[nearest]
    along = steps / np.hypot(*steps.T)[:, None]
    on_line = shapely.line_interpolate_point(segments[nearest], shapely.line_locate_point(segments[nearest], points))
    away = at - shapely.get_coordinates(on_line)
    distance = np.hypot(*away.T)
    square = normals(along, side)
    far = distance > ON_THE_LINE_M
    return np.where(far[:, None], away / np.where(far, distance, 1.0)[:, None], square)


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
