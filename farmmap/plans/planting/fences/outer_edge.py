"""The landward edge of a planting, and the corridor outside it in which a fence may run.

The planting is drawn wider by set-back and give and then shrunk again by the
give: inlets narrower than the fence can follow are closed, and from every
corner of what comes out there is room for the give, square outwards.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach
from farmmap.plans.planting.fences.outline import (
    BANK,
    BANK_M,
    MOST_PLAIN,
    OUTER,
    PASSES,
    Edges,
    bands_beside,
    distance_each,
    edges_of,
    lengths_along,
    lengths_each,
    moved_on,
    plain_parts,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEAST_GIVE_M = 0.1
"""No fence is set out closer than this; a smaller give counts as so much."""

FINE = 40.0
"""Outlines are worked to so small a part of the give."""

POCKET_M2 = 1_000.0
"""Grass enclosed by a planting gets a fence of its own from this size on; our own rule. [grid m2]"""

WATER, MIXED = -1, -2

TOLD_M = 0.5
"""Steps along a wound edge at which land and water are told apart. [grid m]"""

HAIR = 1e-9

SQUARE = 0.7
"""A cut counts as square to the edge if the cosine of the angle between it and the edge's outward way is more."""

STEADY_M = 0.5
"""Along so much of an edge its direction is taken. [grid m]"""


@dataclass(frozen=True, eq=False)
class Corridor:
    """A stretch of landward edge with the room outside it.

    Attributes
    ----------
    side : int
        Bank along which it begins, seen with the planting to the left: 0 left, 1 right.
    closed : bool
        Whether it runs all round; the first corner is then the last.
    inner, outer : ndarray, shape (n, 2)
        Nearest and farthest that the fence may come at each corner, the planting to the left.
    cut : tuple of bool
        Whether it begins and whether it ends at a fence that stands, or at the farm's boundary.
    """

    side: int
    closed: bool
    inner: Floats
    outer: Floats
    cut: tuple[bool, bool] = (False, False)


def corridors(
    grounds: Mapping[int, shapely.Geometry],
    reaches: Sequence[Reach],
    set_back: float,
    give: float,
    *,
    from_bank: bool,
    ends: bool,
) -> list[Corridor]:
    """Return where a fence may run along the landward edges of the ground to be planted.

    Parameters
    ----------
    grounds : mapping of int to shapely geometry
        Ground of each side, 0 left and 1 right, on the grid.
    reaches : sequence of Reach
        The creek within the stretch.
    set_back, give : float
        How far outside the fence keeps at least, and how much farther it may run. [grid m]
    from_bank : bool
        Whether the set-back counts from the bank; the fence still never enters the ground.
    ends : bool
        Whether the fence comes back to the bank at both ends of the stretch.
    """
    give = max(give, LEAST_GIVE_M)
    fine = give / FINE
    parts, side = plain_parts(grounds, fine)
    if not len(parts):
        return []
    edges = edges_of(parts, side, reaches)
    around = [*parts, *bands_beside(edges, set_back)] if from_bank else [*parts]
    reach = (0.0 if from_bank else set_back) + give
    far = reach - fine
    turns = math.ceil(math.pi / 4 / math.acos(1 - min(fine / far, 0.5)))
    room = give - 7 * fine  # what outlines, round corners and gateways may be off by is kept free on both sides
    whole = shapely.buffer(shapely.multipolygons(shapely.get_parts(around)), far, quad_segs=turns)
    shrunk = shapely.buffer(_without_pockets(whole), 5 * fine - give, quad_segs=turns)
    longest = set_back + give + 1.0
    found: list[Corridor] = []
    for ring in shapely.get_rings(shapely.orient_polygons(shapely.get_parts(shrunk))):
        corners = shapely.get_coordinates(ring)
        found += _landward(corners, edges, longest, (room, 2 * fine), ends=ends)
    return found


def _without_pockets(whole: shapely.Geometry) -> shapely.Geometry:
    """Fill holes that are too small to be grazed."""
    parts = shapely.get_parts(whole)
    rings, part = shapely.get_rings(parts, return_index=True)
    first = np.append(True, np.diff(part) != 0) if len(part) else np.zeros(0, bool)
    kept = first | (shapely.area(shapely.polygons(rings)) >= POCKET_M2)
    if kept.all():
        return whole
    filled: NDArray[np.object_] = shapely.polygons(rings[first])
    for at in np.unique(part[kept & ~first]):
        filled[at] = shapely.polygons(rings[first][at], list(rings[kept & ~first & (part == at)]))
    return shapely.multipolygons(filled)


def _landward(
    corners: Floats, edges: Edges, longest: float, room: tuple[float, float], *, ends: bool
) -> list[Corridor]:
    """Cut a ring where it comes to the water, and keep what runs along the land."""
    corners = corners[np.append(True, lengths_each(corners) > 1e-6)]
    if len(corners) < 4:
        return []
    corners[-1] = corners[0]
    out = _outward(corners)
    dry = edges.kind == OUTER if not ends else edges.kind != BANK
    cuts = _cuts(corners, edges, dry, longest)
    places = sorted(cuts)
    runs = [(0.0, 0.0)] if len(places) < 2 else list(zip(places, [*places[1:], places[0]], strict=True))
    both = np.hstack([corners, out])
    drawn = {run: _run(both, *run) for run in runs}
    lands = [_lands(line[:, :2], edges, dry, longest, int(len(places) > 1)) for line in drawn.values()]
    if MIXED in lands:
        both, runs, lands = _told_apart(both, edges, dry)
        cuts, drawn = {}, {}
    found: list[Corridor] = []
    for (begin, end), side in _joined(runs, lands):
        run = drawn[begin, end] if (begin, end) in drawn else _run(both, begin, end)
        line, normal = run[:, :2], run[:, 2:]
        if begin != end and cuts:  # along the cut, not half-way round a corner
            for at, way in ((0, cuts[begin]), (-1, cuts[end])):
                normal[at] = way if way @ normal[at] > SQUARE else normal[at]
        if begin == end or lengths_each(line).sum() >= longest:
            ways = _fewer(np.hstack([line, line + room[0] * normal]), room[1])
            found.append(Corridor(side, begin == end, ways[:, :2], ways[:, 2:]))
    return found


def _fewer(ways: Floats, fine: float) -> Floats:
    """Leave out gateways whose two ends lie all but straight between those of their neighbours."""
    ends = ways.reshape(-1, 2, 2)
    for part_of in PASSES:
        if len(ends) <= MOST_PLAIN:
            break
        here, before, behind = ends[1:-1:2], ends[:-2:2], ends[2::2]
        straight = (distance_each(here, before, behind) <= fine * part_of).all(axis=1)
        kept = np.ones(len(ends), bool)
        kept[1:-1:2] = ~straight
        ends = ends[kept]
    return ends.reshape(-1, 4)


def _outward(corners: Floats) -> Floats:
    """Directions square outwards at the corners of a ring that has its ground to the left, of length 1."""
    steps = np.diff(corners, axis=0) / lengths_each(corners)[:, None]
    both = steps + np.vstack([steps[-1:], steps[:-1]])
    long = np.sqrt(both[:, :1] * both[:, :1] + both[:, 1:] * both[:, 1:])
    both = np.where(long > 1e-9, both / np.maximum(long, 1e-9), steps)
    both = np.vstack([both, both[:1]])
    return np.column_stack([both[:, 1], -both[:, 0]])


def _cuts(corners: Floats, edges: Edges, dry: NDArray[np.bool_], longest: float) -> dict[float, Floats]:
    """Where on a ring (number of the piece and share of it) land and water meet, and which way the cut runs."""
    x, y = corners.T.copy()
    x, y, step_x, step_y = x[:-1], y[:-1], np.diff(x), np.diff(y)
    out: dict[float, Floats] = {}
    for tip, way in _tips(edges, dry):
        turned = step_x * way[1] - step_y * way[0]
        off_x, off_y = tip[0] - x, tip[1] - y
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (off_x * way[1] - off_y * way[0]) / turned
            far = (off_x * step_y - off_y * step_x) / turned
        met = np.flatnonzero((share >= -HAIR) & (share <= 1 + HAIR) & (far >= -HAIR) & (far <= longest))
        if len(met):
            nearest = met[np.argmin(far[met])]
            out[round(float(nearest + np.clip(share[nearest], 0, 1)), 9) % len(x)] = way
    return out


def _tips(edges: Edges, dry: NDArray[np.bool_]) -> list[tuple[Floats, Floats]]:
    """Corners at which the water's side begins or ends, and the way on from there along it, of length 1."""
    starts = np.flatnonzero(np.append(True, np.diff(edges.ring) != 0))
    stops = np.append(starts[1:], len(edges.ring))
    ring_start, ring_stop = np.repeat(starts, stops - starts), np.repeat(stops, stops - starts)
    here = np.arange(len(edges.ring))
    behind = np.where(here + 1 < ring_stop, here + 1, ring_start)
    out: list[tuple[Floats, Floats]] = []
    for at in np.flatnonzero(dry != dry[behind]):
        after = int(behind[at])
        tip = edges.ends[at]
        end = next((end for end in edges.free if np.hypot(*(tip - end.tip)) <= end.half + 2 * BANK_M), None)
        if end is not None:
            out.append((end.banks[edges.side[at]], end.way))
            continue
        back = (int(at), -1) if dry[after] else (after, 1)
        span = (int(ring_start[at]), int(ring_stop[at]))
        other = _along(edges, back[0], back[1], span, tip, dry)
        step = tip - other
        length = float(np.hypot(*step))
        if length > 0:
            out.append((tip, step / length))
    return out


def _along(edges: Edges, at: int, way: int, span: tuple[int, int], tip: Floats, dry: NDArray[np.bool_]) -> Floats:
    """Corner of the water's side at least `STEADY_M` from its tip, or its other end."""
    start, stop = span
    for _ in range(stop - start):
        other: Floats = edges.begins[at] if way < 0 else edges.ends[at]
        following = start + (at - start + way) % (stop - start)
        if np.hypot(*(other - tip)) >= STEADY_M or dry[following]:
            return other
        at = following
    return other


def _run(values: Floats, begin: float, end: float) -> Floats:
    """Piece of a ring's corners, and of what belongs to them, from one place to another, round its start if need be."""
    first, last = math.floor(begin) + 1, math.ceil(end) - 1
    inside = [values[first : last + 1]] if begin < end else [values[first:-1], values[: last + 1]]
    line = np.vstack([_at(values, begin), *inside, _at(values, end)])
    return line[moved_on(line)]


def _at(values: Floats, place: float) -> Floats:
    whole = min(math.floor(place), len(values) - 2)
    return values[whole] + (place - whole) * (values[whole + 1] - values[whole])


def _lands(line: Floats, edges: Edges, dry: NDArray[np.bool_], longest: float, stray: int) -> int:
    """Side along which a run lies, `WATER` if it lies along the water, `MIXED` if it lies along both.

    Of the places looked at, ``stray`` may be nearest to something else, as in a closed inlet.
    """
    lengths = lengths_along(line)
    along = lengths[-1] * (np.arange(5) + 0.5) / 5
    points = np.column_stack([np.interp(along, lengths, line[:, axis]) for axis in (0, 1)])
    near = edges.near(points, longest)  # no other piece is as near as this
    off = distance_each(points[:, None], edges.begins[near], edges.ends[near])
    landward = off.min(axis=1) < np.where(dry[near], np.inf, off).min(axis=1) - HAIR  # level with both: water
    sides = edges.side[near[off.argmin(axis=1)[landward]]]
    if min(len(sides), len(points) - len(sides)) > stray:
        return MIXED
    return int(np.bincount(sides).argmax()) if 2 * len(sides) > len(points) else WATER


def _told_apart(
    both: Floats, edges: Edges, dry: NDArray[np.bool_]
) -> tuple[Floats, list[tuple[float, float]], list[int]]:
    """Cut a ring, drawn with a corner at every step, wherever what is nearest changes between land and water.

    For edges so wound that the cuts beyond the ends of the bank miss the ring.

    Returns
    -------
    both : ndarray, shape (n, 4)
        Corners and outward directions of the ring.
    runs, lands
        Its runs and what they lie along.
    """
    lengths = lengths_along(both[:, :2])
    steps = np.arange(1, math.ceil(lengths[-1] / TOLD_M)) * TOLD_M
    along = np.unique(np.concatenate([lengths, steps[steps < lengths[-1]]]))
    both = np.column_stack([np.interp(along, lengths, column) for column in both.T])
    tree = shapely.STRtree(shapely.linestrings(np.stack([edges.begins, edges.ends], axis=1)))
    corner, nearest = tree.query_nearest(shapely.points(both[:-1, :2]))
    count = len(both) - 1
    wet = np.bincount(corner[~dry[nearest]], minlength=count) > 0
    changes = np.flatnonzero(wet != np.roll(wet, 1)).astype(float)
    side = np.zeros(count, np.intp)
    side[corner] = edges.side[nearest]
    if not len(changes):
        return both, [(0.0, 0.0)], [WATER if wet[0] else int(np.bincount(side).argmax())]
    runs = list(zip(changes.tolist(), [*changes[1:].tolist(), float(changes[0])], strict=True))
    lands = [
        WATER
        if wet[int(begin)]
        else int(np.bincount(np.roll(side, -int(begin))[: int((end - begin) % count)]).argmax())
        for begin, end in runs
    ]
    return both, runs, lands


def _joined(runs: list[tuple[float, float]], lands: list[int]) -> list[tuple[tuple[float, float], int]]:
    """Return the runs along the land, those that follow one another put together."""
    if all(side >= 0 for side in lands) and len(runs) > 1:
        return [((runs[0][0], runs[0][0]), lands[0])]
    out: list[tuple[tuple[float, float], int]] = []
    first = next((place for place, side in enumerate(lands) if side < 0), 0)
    order = [*range(first, len(runs)), *range(first)]
    going = False
    for place in order:
        if lands[place] >= 0 and going:
            (begin, _), side = out[-1]
            out[-1] = ((begin, runs[place][1]), side)
        elif lands[place] >= 0:
            out.append((runs[place], lands[place]))
        going = lands[place] >= 0
    return out
