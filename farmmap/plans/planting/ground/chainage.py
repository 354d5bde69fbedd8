"""How far along a creek its stretches lie: chainage, from the farthest top downstream.

The longest way down is measured first. A side stream is placed by its mouth,
so that a stretch from one chainage to another is ground that lies together;
an arm that leaves the creek for good is placed by where it leaves. Pieces that
nowhere touch follow each other, each after the one whose mouth lies nearest to
its top. Of a creek drawn by both its banks the longer bank is measured, and
the other is laid beside it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import BESIDE_M, Reach

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Joint:
    """An end of one stretch that lies on another.

    Attributes
    ----------
    reach, end : int
        The stretch, and its end: 0 for its top, 1 for its mouth.
    other : int
        The stretch that it lies on.
    along : float
        How far along the other from its top. [grid m]
    """

    reach: int
    end: int
    other: int
    along: float


@dataclass(frozen=True)
class Placing:
    """Where stretches begin.

    Attributes
    ----------
    starts : ndarray, shape (n,)
        Chainage of the top of each stretch. [grid m]
    main : ndarray of bool, shape (n,)
        Whether it lies on the longest way down of its piece.
    beside : ndarray of bool, shape (n,)
        Whether it is a bank laid beside the one that is measured.
    """

    starts: Floats
    main: NDArray[np.bool_]
    beside: NDArray[np.bool_]


def placed(reaches: Sequence[Reach]) -> Placing:
    """Return where each stretch of a creek begins."""
    lines = np.array([reach.line for reach in reaches], object)
    lengths = shapely.length(lines)
    starts, main = np.full(len(lines), np.nan), np.zeros(len(lines), bool)
    beside = _banks_beside(reaches, lengths)
    joints = joints_of(reaches)
    pieces = []
    for piece in _pieces(len(lines), joints):
        if beside[piece[0]]:
            continue
        here = [joint for joint in joints if joint.reach in piece]
        way = _longest_way(piece, lengths, here)
        starts[list(way)], main[list(way)] = list(way.values()), True
        _place(starts, piece, lengths, here)
        starts[piece] -= starts[piece].min()
        pieces.append(piece)
    begun = 0.0
    for piece in _one_after_another(pieces, lines, starts, lengths):
        starts[piece] += begun
        begun = float((starts[piece] + lengths[piece]).max())
    measured = np.flatnonzero(~beside)
    for bank in np.flatnonzero(beside):
        middle = lines[bank].interpolate(0.5, normalized=True)
        next_to = measured[np.argmin(shapely.distance(lines[measured], middle))]
        along = shapely.line_locate_point(lines[next_to], middle)
        starts[bank] = np.clip(starts[next_to] + along - lengths[bank] / 2, 0.0, max(begun - lengths[bank], 0.0))
    return Placing(starts, main, beside)


def joints_of(reaches: Sequence[Reach]) -> list[Joint]:
    """Return the ends of stretches that lie on another: within its channel, or on the line where it has none."""
    lines = np.array([reach.line for reach in reaches], object)
    near = np.array([reach.half for reach in reaches]) + BESIDE_M
    lengths = shapely.length(lines)
    ends = np.concatenate([shapely.get_point(lines, 0), shapely.get_point(lines, -1)])
    end, other = shapely.STRtree(lines).query(ends, predicate="dwithin", distance=float(near.max()))
    reach = end % len(lines)
    apart = shapely.distance(ends[end], lines[other])
    touching = (apart <= near[other]) & (reach != other)
    out = []
    for at, on in zip(end[touching], other[touching], strict=True):
        along = float(shapely.line_locate_point(lines[on], ends[at]))
        for whole in (0.0, float(lengths[on])):
            along = whole if abs(along - whole) <= near[on] else along
        out.append(Joint(int(at % len(lines)), int(at // len(lines)), int(on), along))
    return out


def _banks_beside(reaches: Sequence[Reach], lengths: Floats) -> NDArray[np.bool_]:
    """Which stretches are the shorter drawn of two banks, shape (n,)."""
    drawn = np.array([reach.widths for reach in reaches]) > 0
    one_only = [drawn[:, side] & ~drawn[:, 1 - side] for side in (0, 1)]
    total = [float(lengths[of].sum()) for of in one_only]
    if min(total) == 0:
        return np.zeros(len(reaches), bool)
    return one_only[1] if total[0] >= total[1] else one_only[0]


def _pieces(number: int, joints: list[Joint]) -> list[list[int]]:
    """Stretches that hang together, in the order of their first."""
    group = list(range(number))

    def first(of: int) -> int:
        while group[of] != of:
            group[of] = group[group[of]]
            of = group[of]
        return of

    for joint in joints:
        one, other = sorted((first(joint.reach), first(joint.other)))
        group[other] = one
    found: dict[int, list[int]] = {}
    for reach in range(number):
        found.setdefault(first(reach), []).append(reach)
    return list(found.values())


def _longest_way(piece: list[int], lengths: Floats, joints: list[Joint]) -> dict[int, float]:
    """Return the stretches on the longest way down and where each begins.

    Stretches are cut where others lie on them; a way that comes back upon itself is not followed round again.
    """
    marks: dict[int, set[float]] = {reach: {0.0, float(lengths[reach])} for reach in piece}
    for joint in joints:
        marks[joint.other].add(joint.along)
    spots = [(reach, along) for reach in piece for along in sorted(marks[reach])]
    onward: dict[tuple[int, float], list[tuple[tuple[int, float], float]]] = {spot: [] for spot in spots}
    for spot, after in itertools.pairwise(spots):
        if spot[0] == after[0]:
            onward[spot].append((after, after[1] - spot[1]))
    for joint in joints:
        own, other = (joint.reach, float(lengths[joint.reach]) * joint.end), (joint.other, joint.along)
        if joint.end == 1:
            onward[own].append((other, 0.0))
        else:
            onward[other].append((own, 0.0))
    best: dict[tuple[int, float], tuple[float, tuple[int, float] | None]] = {}
    for spot in _mouths_first(spots, onward):
        ways = [(best[after][0] + far, after) for after, far in onward[spot] if after in best]
        best[spot] = max(ways, default=(0.0, None), key=lambda way: way[0])
    at = max(best, key=lambda spot: best[spot][0])
    total = best[at][0]
    begins: dict[int, float] = {}
    while True:
        far, below = best[at]
        if below is None:
            return begins
        if below[0] == at[0] and below[1] > at[1]:
            begins.setdefault(at[0], total - far - at[1])
        at = below


def _mouths_first(
    spots: list[tuple[int, float]], onward: dict[tuple[int, float], list[tuple[tuple[int, float], float]]]
) -> list[tuple[int, float]]:
    """Spots in an order in which each comes after those that lie below it."""
    seen: set[tuple[int, float]] = set()
    out: list[tuple[int, float]] = []
    for top in spots:
        if top in seen:
            continue
        seen.add(top)
        walked = [(top, iter(onward[top]))]
        while walked:
            spot, ways = walked[-1]
            after = next((after for after, _ in ways if after not in seen), None)
            if after is None:
                out.append(spot)
                walked.pop()
            else:
                seen.add(after)
                walked.append((after, iter(onward[after])))
    return out


def _place(starts: Floats, piece: list[int], lengths: Floats, joints: list[Joint]) -> None:
    """Fill in where the stretches of one piece begin that hang on what is placed."""
    waiting = [reach for reach in piece if np.isnan(starts[reach])]
    while waiting:
        found = min(
            (hold for reach in waiting for hold in _holds(reach, starts, lengths, joints)),
            key=lambda hold: (hold[0], waiting.index(hold[1])),
        )
        starts[found[1]] = found[2]
        waiting.remove(found[1])


def _holds(reach: int, starts: Floats, lengths: Floats, joints: list[Joint]) -> list[tuple[int, int, float]]:
    """Ways to place a stretch by others that are placed: rank (its mouth first), itself, where it would begin."""
    out = []
    for joint in joints:
        if joint.reach == reach and not np.isnan(starts[joint.other]):
            there = float(starts[joint.other]) + joint.along
            out.append((1 - joint.end, reach, there - joint.end * float(lengths[reach])))
        elif joint.other == reach and not np.isnan(starts[joint.reach]):
            there = float(starts[joint.reach]) + joint.end * float(lengths[joint.reach])
            out.append((2, reach, there - joint.along))
    return out


def _one_after_another(
    pieces: list[list[int]], lines: NDArray[np.object_], starts: Floats, lengths: Floats
) -> list[list[int]]:
    """Pieces in the order in which the water meets them: nearest mouths and tops are linked first."""
    if len(pieces) < 2:
        return pieces
    tops = [lines[min(piece, key=lambda reach: starts[reach])] for piece in pieces]
    mouths = [lines[max(piece, key=lambda reach: starts[reach] + lengths[reach])] for piece in pieces]
    begin, end = shapely.get_point(tops, 0), shapely.get_point(mouths, -1)
    apart = shapely.distance(np.asarray(end)[:, None], np.asarray(begin)[None, :])
    follows: dict[int, int] = {}
    chain = list(range(len(pieces)))
    for above, below in zip(*np.unravel_index(np.argsort(apart, axis=None, kind="stable"), apart.shape), strict=True):
        if above in follows or below in follows.values() or chain[above] == chain[below]:
            continue
        follows[int(above)] = int(below)
        joined, gone = chain[above], chain[below]
        chain = [joined if of == gone else of for of in chain]
    place = next(piece for piece in range(len(pieces)) if piece not in follows.values())
    out = [pieces[place]]
    while place in follows:
        place = follows[place]
        out.append(pieces[place])
    return out
