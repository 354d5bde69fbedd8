"""Stations along a bank, and what is seen from them square to it: slope of the ground, and the fence."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.banks import Reach, normals, pieces
from farmmap.figures.relief import gradients, slope_deg
from farmmap.plans.planting.ground.stretch import CreekPart

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

STEP_M = 2.0
"""From station to station at most, corners of the line are stations besides. [ground m]"""

MOST_STATIONS = 10_000
"""Of longer banks the steps are longer."""

JUST_OFF_M = 1e-3
"""How far from the bank looks begin, in grid m."""

JOINT_PLACES = 3
MOST_ROUNDS = 50
"""Times that widths are handed on from stretch to stretch at most."""


@dataclass(frozen=True, eq=False)
class Stations:
    """Stations along the bank of a side, stretch by stretch, downstream.

    Looks go square to the line from both ends of each straight piece and from
    between, so a corner has two looks.

    Attributes
    ----------
    reaches : tuple of Reach
        All stretches of the part; those that do not draw the bank have no stations.
    scale : float
        Grid metres for a metre of ground.
    reach : ndarray of int, shape (n,)
        Stretch of each station.
    along : ndarray, shape (n,)
        How far along its stretch it is. [grid m]
    first : ndarray of int, shape (n,)
        Its first look.
    starts, outward : ndarray, shape (looks, 2)
        Where each look begins, on the bank, and its direction, of length 1.
    """

    reaches: tuple[Reach, ...]
    scale: float
    reach: Ints
    along: Floats
    first: Ints
    starts: Floats
    outward: Floats

    def __len__(self) -> int:
        return len(self.reach)

    def each(self, value: Callable[[Reach], float]) -> Floats:
        """Return a value of each station's stretch, shape (n,)."""
        return np.array([value(reach) for reach in self.reaches], np.float64)[self.reach]

    @cached_property
    def weight_m(self) -> Floats:
        """Length of bank that each station stands for, shape (n,). [ground m]."""
        gaps = np.where(np.diff(self.reach) == 0, np.diff(self.along), 0.0) / self.scale
        return (np.append(gaps, 0.0) + np.append(0.0, gaps)) / 2

    def by_reach(self, values: Floats) -> list[tuple[Floats, Floats]]:
        """Lengths along each stretch [grid m] and the values there."""
        ends = np.searchsorted(self.reach, np.arange(len(self.reaches) + 1))
        return [
            (self.along[ends[place] : ends[place + 1]], values[ends[place] : ends[place + 1]])
            for place in range(len(self.reaches))
        ]

    def nearest_of(self, known: NDArray[np.bool_]) -> Ints:
        """For each station the nearest known one along the bank, on its own stretch before others, shape (n,)."""
        places = np.flatnonzero(known)
        far = 1e9 * self.reach + self.along
        after = np.clip(np.searchsorted(far[places], far), 0, len(places) - 1)
        before = np.maximum(after - 1, 0)
        nearer = np.abs(far[places[before]] - far) < np.abs(far[places[after]] - far)
        return places[np.where(nearer, before, after)]

    def spread(self, values: Floats, change: float) -> Floats:
        """Values lowered so far that they change along the bank by no more than ``change`` for a metre of ground.

        None is lowered more than that takes; ends of stretches that meet have the same.
        """
        at = self.along / self.scale * change
        out = values.astype(np.float64)
        spans = [slice(*span) for span in self.spans if span[1] > span[0]]
        for _ in range(MOST_ROUNDS):
            for span in spans:
                falling = np.minimum.accumulate(out[span] - at[span]) + at[span]
                rising = np.minimum.accumulate((out[span] + at[span])[::-1])[::-1] - at[span]
                out[span] = np.minimum(falling, rising)
            changed = False
            for meeting in self._meeting:
                lowest = out[meeting].min()
                changed |= bool((out[meeting] > lowest).any())
                out[meeting] = lowest
            if not changed:
                break
        return out

    @cached_property
    def spans(self) -> list[tuple[int, int]]:
        """First station of each stretch, and the one after its last."""
        ends = np.searchsorted(self.reach, np.arange(len(self.reaches) + 1)).tolist()
        return list(itertools.pairwise(ends))

    @cached_property
    def _meeting(self) -> list[Ints]:
        """Stations at ends of stretches that meet."""
        met: dict[tuple[float, float], list[int]] = {}
        for reach, (begin, end) in zip(self.reaches, self.spans, strict=True):
            if end > begin:
                for corner, station in ((reach.line.coords[0], begin), (reach.line.coords[-1], end - 1)):
                    met.setdefault((round(corner[0], JOINT_PLACES), round(corner[1], JOINT_PLACES)), []).append(station)
        return [np.array(stations) for stations in met.values() if len(stations) > 1]


def stations_of(part: CreekPart, side: int) -> Stations:
    """Return the stations along a bank of a stretch."""
    scale = part.creek.scale
    drawn = [place for place, reach in enumerate(part.reaches) if reach.widths[side] > 0]
    total = sum(part.reaches[place].line.length for place in drawn)
    begins, ends, owner = pieces(np.array([part.reaches[place].line for place in drawn], object))
    lengths = np.hypot(*(ends - begins).T)
    number = np.ceil(lengths / max(STEP_M * scale, total / MOST_STATIONS)).astype(int) + 1
    piece = np.repeat(np.arange(len(number)), number)
    share = (np.arange(len(piece)) - np.repeat(np.cumsum(number) - number, number)) / (number - 1)[piece]
    before = np.cumsum(lengths) - lengths
    before -= before[np.searchsorted(owner, owner)]
    along = before[piece] + share * lengths[piece]
    outward = normals((ends - begins) / lengths[:, None], side)[piece]
    half = np.array([part.reaches[place].half for place in drawn])[owner[piece]]
    reach = np.array(drawn)[owner[piece]]
    starts = begins[piece] + share[:, None] * (ends - begins)[piece] + half[:, None] * outward
    corner = (share[1:] == 0) & (reach[1:] == reach[:-1])
    first = np.flatnonzero(np.append(True, ~corner))
    return Stations(part.reaches, scale, reach[first], along[first], first, starts, outward)


def slopes_deg(on: Stations, heights: Heights, within_m: float, scale: float) -> Floats:
    """Mean slope of the ground beside each station: as far out from the bank as along it, half up and half down.

    The slope at a place is that of the cells around it, see `farmmap.figures.relief.gradients`.

    Parameters
    ----------
    on : Stations
        The stations.
    heights : Heights
        Elevation grid.
    within_m : float
        How far. [ground m]
    scale : float
        Grid metres for a metre of ground.

    Returns
    -------
    ndarray, shape (n,)
        nan where less than half of the ground looked at has a height. [degrees]
    """
    across, down = heights.across_m / scale, heights.down_m / scale
    slopes = Heights(
        slope_deg(*gradients(heights.values, across, down)),
        heights.west,
        heights.north,
        heights.across_m,
        heights.down_m,
    )
    looks = int(np.clip(np.ceil(within_m / min(across, down)), 4, 16))
    far = (np.arange(looks) + 0.5) / looks * within_m * scale
    at = on.starts[:, None] + far[:, None] * on.outward[:, None]
    seen = slopes.at(at[..., 0].ravel(), at[..., 1].ravel()).reshape(len(on.starts), looks)
    known = np.isfinite(seen)
    total = np.add.reduceat(np.where(known, seen, 0.0).sum(axis=1), on.first)
    count = np.add.reduceat(known.sum(axis=1), on.first)
    every = np.diff(np.append(on.first, len(on.starts))) * looks
    square = np.where(2 * count >= every, total / np.maximum(count, 1), np.nan)
    out = np.full(len(on), np.nan)
    for begin, end in on.spans:
        if end > begin:
            out[begin:end] = _mean_around(on.along[begin:end] / scale, square[begin:end], within_m / 2)
    return out


def _mean_around(at: Floats, values: Floats, far: float) -> Floats:
    """Mean of values within a distance along the bank either way; nan where none is known there."""
    known = np.isfinite(values)
    if len(at) < 2:
        return values
    sums = []
    for each in (np.where(known, values, 0.0), known.astype(float)):
        whole = np.concatenate([[0.0], np.cumsum((each[1:] + each[:-1]) / 2 * np.diff(at))])
        sums.append(np.interp(at + far, at, whole) - np.interp(at - far, at, whole))
    return np.where(known & (sums[1] > 0), sums[0] / np.where(sums[1] > 0, sums[1], 1.0), np.nan)


def fence_off_m(farm: Farm, part: CreekPart, on: Stations, most_m: float) -> Floats:
    """Distance from the bank to the nearest fence, existing or planned, square to the bank.

    Parameters
    ----------
    farm : Farm
        Its fences.
    part : CreekPart
        The stretch.
    on : Stations
        Stations along the bank.
    most_m : float
        How far is looked. [ground m]

    Returns
    -------
    ndarray, shape (n,)
        inf where no fence is seen before the look leaves that distance or meets the creek again. [ground m]
    """
    begin = on.starts + on.outward * JUST_OFF_M
    looks = shapely.linestrings(
        np.stack([begin, on.starts + on.outward * max(most_m * on.scale, 2 * JUST_OFF_M)], axis=1)
    )
    fences = _first_met(begin, on.outward, looks, farm.fences.geometry.to_numpy())
    water = _first_met(begin, on.outward, looks, np.array([reach.line for reach in part.creek.reaches], object))
    off = np.where(fences < water, fences + JUST_OFF_M, np.inf) / on.scale
    return np.minimum.reduceat(off, on.first)


def _first_met(begin: Floats, outward: Floats, looks: NDArray[np.object_], lines: NDArray[np.object_]) -> Floats:
    """How far along each look it first meets any of some lines, inf where it meets none, shape (looks,)."""
    out = np.full(len(looks), np.inf)
    starts, stops, _ = pieces(shapely.get_parts(lines))
    if not len(starts):
        return out
    walls = shapely.linestrings(np.stack([starts, stops], axis=1))
    wall, look = shapely.STRtree(looks).query(walls, predicate="intersects")
    step, away = (stops - starts)[wall], starts[wall] - begin[look]
    ahead = outward[look]
    turn = ahead[:, 0] * step[:, 1] - ahead[:, 1] * step[:, 0]
    level = np.abs(turn) <= 1e-12 * np.hypot(step[:, 0], step[:, 1])
    crossed = (away[:, 0] * step[:, 1] - away[:, 1] * step[:, 0]) / np.where(level, 1.0, turn)
    ends = np.minimum((away * ahead).sum(axis=1), ((stops[wall] - begin[look]) * ahead).sum(axis=1))
    np.minimum.at(out, look, np.maximum(np.where(level, ends, crossed), 0.0))
    return out
