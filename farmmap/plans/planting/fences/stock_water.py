"""Troughs along a fence: where stock that no longer come to the creek are given water."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach

Floats = NDArray[np.float64]

_SHIFTS = (0.0, 0.125, -0.125, 0.25, -0.25, 0.375, -0.375)
"""Where along its own share of the fence a trough is tried, from the middle."""

NEARER_M = 0.01
"""Rounding may bring a trough so much nearer. [grid m]"""

_CORNERS = 32
"""Long lines are looked at in stretches of so many corners."""


@dataclass(frozen=True, eq=False)
class Kept:
    """Lines from which troughs keep away.

    Attributes
    ----------
    tree : STRtree
        The lines in stretches.
    off : ndarray of float
        How far to keep from each stretch. [grid m]
    """

    tree: shapely.STRtree
    off: NDArray[np.float64]

    def met_by(self, points: NDArray[np.object_]) -> NDArray[np.bool_]:
        """Return which points are too near."""
        met = np.zeros(len(points), bool)
        for off in np.unique(self.off).tolist():
            point, line = self.tree.query(points, predicate="dwithin", distance=off)
            met[point[self.off[line] >= off]] = True
        return met


def kept_from(lines: Iterable[shapely.Geometry], off: Iterable[float]) -> Kept:
    """Return lines to be kept away from, by so much each."""
    stretches, owner = _stretches(np.array(list(lines), object))
    return Kept(shapely.STRtree(stretches), np.array(list(off), np.float64)[owner])


def kept_from_grounds(grounds: Iterable[shapely.Geometry], off: float) -> Kept:
    """Return the outlines of a planting, kept away from as far as a trough stands off its fence."""
    rings = shapely.get_rings(np.array(list(grounds), object))
    return kept_from(rings, np.full(len(rings), off - NEARER_M))


def kept_from_creeks(reaches: Sequence[Reach]) -> Kept:
    """Return the creeks of a farm, kept away from by the widths of their margins."""
    return kept_from([reach.line for reach in reaches], [reach.half + max(reach.widths) for reach in reaches])


def _stretches(lines: NDArray[np.object_]) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Lines in stretches of few corners, and the line of each."""
    corners, line = shapely.get_coordinates(lines, return_index=True)
    counts = np.bincount(line, minlength=len(lines))
    place = np.arange(len(line)) - np.repeat(np.cumsum(counts) - counts, counts)
    last = place == np.repeat(counts, counts) - 1
    begins = (place % _CORNERS == 0) & ~last
    both = begins & (place > 0)  # it ends one stretch and begins the next
    stretch = np.repeat(np.cumsum(begins) - 1, 1 + both)
    stretch[np.flatnonzero(both) + np.arange(int(both.sum()))] -= 1
    return shapely.linestrings(np.repeat(corners, 1 + both, axis=0), indices=stretch), line[begins].astype(np.intp)


def troughs(
    line: shapely.LineString,
    every: float,
    off: float,
    planted: Kept,
    creeks: Kept,
    boundary: shapely.Geometry | None,
) -> tuple[Floats, int]:
    """Return where troughs stand outside a fence, and how many found no place.

    The fence is shared out evenly, a trough to each share of at most ``every``, at its middle if it can.

    Parameters
    ----------
    line : LineString
        The fence, with the planting to its left. [grid m]
    every, off : float
        Longest share of a trough, and how far outside the fence it stands. [grid m]
    planted : Kept
        Outlines of the planting; none may lie between a trough and the fence.
    creeks : Kept
        All creeks of the farm with their margins, where none may stand.
    boundary : shapely geometry or None
        The farm, within which it must stand.

    Returns
    -------
    places : ndarray, shape (n, 2)
        On the grid.
    without : int
        Shares of the fence without a trough.
    """
    corners = shapely.get_coordinates(line)
    steps = np.diff(corners, axis=0)
    starts = np.append(0.0, np.cumsum(np.hypot(*steps.T)))
    count = int(np.ceil(starts[-1] / every - 1e-9)) if every > 0 else 0
    if not count:
        return np.zeros((0, 2)), 0
    share = starts[-1] / count
    along = ((np.arange(count) + 0.5)[:, None] + np.array(_SHIFTS)) * share
    piece = np.clip(np.searchsorted(starts, along, side="right") - 1, 0, len(steps) - 1)
    way = steps[piece] / np.hypot(steps[piece][..., 0], steps[piece][..., 1])[..., None]
    at = corners[piece] + (along - starts[piece])[..., None] * way
    places = at + off * np.stack([way[..., 1], -way[..., 0]], axis=-1)
    fence = kept_from([line], [off - NEARER_M])
    found, sought = np.zeros((count, 2)), np.arange(count)
    for shift in range(len(_SHIFTS)):
        here = places[sought, shift]
        points = shapely.points(here)
        free = ~creeks.met_by(points)
        if off > NEARER_M:
            free &= ~fence.met_by(points) & ~planted.met_by(points)
            free[planted.tree.query(shapely.linestrings(np.stack([at[sought, shift], here], 1)), "intersects")[0]] = (
                False
            )
        if boundary is not None:
            free &= shapely.contains_properly(boundary, points)
        found[sought[free]], sought = here[free], sought[~free]
        if not len(sought):
            break
    return np.delete(found, sought, axis=0), len(sought)
