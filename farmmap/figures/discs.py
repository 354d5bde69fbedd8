"""Discs on the ground: which touch which, and the arcs of their circles that lie inside no other disc."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.splice import Moves
from farmmap.figures.tree_index import TreeIndex

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

TURN = 2 * np.pi
STEP = 8.0
"""Rows are told apart by this much while angles are sorted: more than a turn, and a power of 2 so that it is exact."""

MOST_PAIRS = 500_000
"""Pairs of near discs looked at in one go, so that a dense stand does not fill the memory."""

CROWDED = 60
"""So many near discs on average make it worth while to look at few of them first."""

SMALLEST_M = 1.0
"""Radius up to which discs are of the first size. [m]"""


@dataclass(frozen=True, eq=False)
class Level:
    """Discs of about one size.

    Attributes
    ----------
    largest : float
        None of them has a greater radius. [m]
    index : TreeIndex
        Their middles.
    """

    largest: float
    index: TreeIndex


class Discs:
    """Discs sorted by size and by cells of ground, so that those near a place are found quickly.

    Parameters
    ----------
    x, y, radius : ndarray, shape (n,)
        Middles and radii; those without a radius are no discs. [m]
    levels : mapping of int to Level, optional
        Indexes by size, if they are at hand.
    scale : float
        What all radii are multiplied by.
    """

    def __init__(
        self, x: Floats, y: Floats, radius: Floats, levels: dict[int, Level] | None = None, scale: float = 1.0
    ) -> None:
        self.x, self.y, self.radius, self.scale = x, y, radius, scale
        self.levels = self._sorted() if levels is None else levels

    def _sorted(self) -> dict[int, Level]:
        size = self.size_of(self.radius)
        out = {}
        for one in np.unique(size[size >= 0]).tolist():
            x = np.where(size == one, self.x, np.nan)
            largest = SMALLEST_M * 2.0**one
            out[one] = Level(largest, TreeIndex(x, self.y, largest))
        return out

    @staticmethod
    def size_of(radius: Floats) -> Ints:
        """Size of discs: 0 up to 1 m, 1 up to 2 m, 2 up to 4 m and so on; -1 for no disc. Shape (n,)."""
        real = np.isfinite(radius) & (radius > 0)
        step = np.ceil(np.log2(np.where(real, radius, 1.0) / SMALLEST_M))
        return np.where(real, np.maximum(step, 0.0), -1).astype(np.int64)

    def after(self, moves: Moves, old: Places, new: Places, of: tuple[Floats, Floats, Floats]) -> Discs | None:
        """Return the discs after some of them changed, or None if they have to be sorted anew.

        Parameters
        ----------
        moves : Moves
            How the places of all discs change.
        old, new : ndarray of int
            Places before and after of the discs that changed, were taken out or put in.
        of : tuple of ndarray, each of shape (n,)
            Middles and radii of all discs after. [m]
        """
        x, y, radius = of
        was, now = self.size_of(self.radius[old]), self.size_of(radius[new])
        if not moves and np.array_equal(old, new):  # those that stay where they are and of one size are sorted already
            other = (was != now) | (self.x[old] != x[new]) | (self.y[old] != y[new])
            old, new, was, now = old[other], new[other], was[other], now[other]
        if set(now.tolist()) - {-1} - set(self.levels):
            return None
        levels = {}
        for size, level in self.levels.items():
            out, put = old[was == size], new[now == size]
            gone, put_in = (out, self.x[out], self.y[out]), (put, x[put], y[put])
            index = level.index.after(moves, gone, put_in, len(x))
            if index is None:
                return None
            levels[size] = Level(level.largest, index)
        return Discs(x, y, radius, levels)

    def near(self, x: Floats, y: Floats, reach: Floats) -> tuple[Places, Places]:
        """Pairs of some places and the discs that may lie within reach of them.

        Parameters
        ----------
        x, y, reach : ndarray, shape (k,)
            The places, and how far a disc's edge may be off. [m]

        Returns
        -------
        at, disc : ndarray of int, shape (p,)
            The place and the disc; discs somewhat further away are among them.
        """
        found = []
        for level in self.levels.values():
            wide = reach + level.largest
            at, place = level.index.near_boxes(np.stack([x - wide, y - wide, x + wide, y + wide], axis=1))
            found.append((at, level.index.order[place]))
        if len(found) == 1:
            return found[0]
        none = np.empty(0, np.intp)
        return np.concatenate([none, *(f[0] for f in found)]), np.concatenate([none, *(f[1] for f in found)])

    def scaled(self, scale: float) -> Discs:
        """Return the discs with all radii multiplied."""
        levels = {size: Level(level.largest * scale, level.index) for size, level in self.levels.items()}
        return Discs(self.x, self.y, self.radius, levels, scale)

    def radius_of(self, places: Places) -> Floats:
        """Radii of some discs, in m."""
        return self.radius[places] * self.scale

    def in_box(self, west: float, south: float, east: float, north: float) -> Places:
        """Discs whose rectangles meet a rectangle, in no particular order; a few further away may be among them."""
        boxes = np.array([[west, south, east, north]])
        wide = np.array([-1.0, -1.0, 1.0, 1.0])
        found = [
            level.index.order[level.index.near_boxes(boxes + wide * level.largest)[1]] for level in self.levels.values()
        ]
        return np.concatenate([np.empty(0, np.intp), *found])

    def _few_around(self, chosen: Places) -> Discs:
        """Return the largest disc of each small cell around some; where discs are crowded they cover about the same."""
        x, y, r = self._of(chosen)
        places = self.in_box(float((x - r).min()), float((y - r).min()), float((x + r).max()), float((y + r).max()))
        size = self.size_of(self.radius[places])
        levels = {}
        for one in np.unique(size).tolist():
            here = places[size == one]
            largest = float(self.radius_of(here).max())
            cell = np.floor(np.column_stack([self.x[here], self.y[here]]) / (largest / 2)).astype(np.int64)
            order = np.lexsort((here, -self.radius[here], cell[:, 1], cell[:, 0]))
            cell, here = cell[order], here[order]
            here = here[np.append(True, (cell[1:] != cell[:-1]).any(axis=1))]
            index = TreeIndex(self.x[here], self.y[here], largest)
            index.order = here[index.order]
            levels[one] = Level(largest, index)
        return Discs(self.x, self.y, self.radius, levels, self.scale)

    def free_arcs(self, chosen: Places) -> tuple[Places, Floats, Floats]:
        """Arcs of some circles that lie inside no other disc.

        Returns
        -------
        row : ndarray of int, shape (k,)
            Number of the circle in ``chosen``, increasing.
        from_, to : ndarray, shape (k,)
            Angles between which it is free, 0 ≤ from_ < to ≤ 2π. Of equal discs the first has arcs only.
        """
        sample = chosen[:: max(1, len(chosen) // 64)]
        each = len(self.near(*self._of(sample))[0]) / max(len(sample), 1)
        rows = np.arange(len(chosen))
        if each > CROWDED and len(chosen) > 1:
            few = self._few_around(chosen)
            met = len(few.near(*self._of(sample))[0]) / len(sample)
            if met < each / 2:
                rows = np.unique(self._in_parts(few, chosen, met)[0])
        row, from_, to = self._in_parts(self, chosen[rows], each)
        return rows[row], from_, to

    def _of(self, places: Places) -> tuple[Floats, Floats, Floats]:
        return self.x[places], self.y[places], self.radius_of(places)

    def _in_parts(self, others: Discs, chosen: Places, each: float) -> tuple[Places, Floats, Floats]:
        size = int(np.clip(MOST_PAIRS / max(each, 1.0), 1, 4_096))
        parts = [(np.empty(0, np.intp), np.empty(0), np.empty(0))]
        for begin in range(0, len(chosen), size):
            row, from_, to = self._free(others, chosen[begin : begin + size])
            parts.append((row + begin, from_, to))
        return (
            np.concatenate([part[0] for part in parts]),
            np.concatenate([part[1] for part in parts]),
            np.concatenate([part[2] for part in parts]),
        )

    def _free(self, others: Discs, chosen: Places) -> tuple[Places, Floats, Floats]:
        row, other = others.near(*self._of(chosen))
        disc = chosen[row]
        dx, dy = self.x[other] - self.x[disc], self.y[other] - self.y[disc]
        square, together = dx * dx + dy * dy, self.radius_of(disc) + self.radius_of(other)
        touching = np.flatnonzero((square < together * together) & (disc != other))
        row, disc, other = row[touching], disc[touching], other[touching]
        dx, dy, d = dx[touching], dy[touching], np.sqrt(square[touching])
        r, s = self.radius_of(disc), self.radius_of(other)
        hidden = np.zeros(len(chosen), bool)
        hidden[row[(d <= s - r) & ((s > r) | (other < disc))]] = True
        partly = np.flatnonzero((d > np.abs(s - r)) & ~hidden[row])
        row, dx, dy, d, r, s = row[partly], dx[partly], dy[partly], d[partly], r[partly], s[partly]
        half = np.arccos(np.clip((r * r + d * d - s * s) / (2 * r * d), -1, 1))
        low = (np.arctan2(dy, dx) - half) % TURN
        high = low + 2 * half
        over = np.flatnonzero(high > TURN)
        row, from_, to = _gaps(
            len(chosen),
            np.concatenate([row, row[over]]),
            np.concatenate([low, np.zeros(len(over))]),
            np.concatenate([np.minimum(high, TURN), high[over] - TURN]),
        )
        seen = np.flatnonzero(~hidden[row])
        return row[seen], from_[seen], to[seen]


def _gaps(rows: int, row: Places, low: Floats, high: Floats) -> tuple[Places, Floats, Floats]:
    """Return what the stretches from ``low`` to ``high`` of each row leave free between 0 and 2π, in order of row."""
    all_rows = np.arange(rows)
    owner = np.concatenate([all_rows, row, all_rows])
    begin = np.concatenate([np.zeros(rows), low, np.full(rows, TURN)])
    end = np.concatenate([np.zeros(rows), high, np.full(rows, TURN)])
    order = np.argsort(owner * STEP + begin)
    owner, begin, end = owner[order], begin[order], end[order]
    reach = owner * STEP + end
    furthest = np.maximum.accumulate(np.where(reach >= np.maximum.accumulate(reach), np.arange(len(reach)), 0))
    so_far = end[furthest]
    free = np.flatnonzero((begin[1:] > so_far[:-1]) & (owner[1:] == owner[:-1]))
    return owner[free], so_far[free], begin[free + 1]
