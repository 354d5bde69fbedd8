"""Ground within a distance of one side of a creek, however the distance changes along it.

Beside each straight piece of the creek's line lies a trapezium as deep as the
distance at its ends, square to the line, and round the outside of each corner
a sector. Their union is drawn as one ring: out along the far edge and back
along the line, through the corner itself where the line turns towards the
ground. The ring winds once round each spot for every trapezium and sector that
covers it, so what it winds round at all is the union; ends are flat. Unlike a
plain buffer, nothing of the line is smoothed away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import Reach
from farmmap.figures.united import united

Floats = NDArray[np.float64]

FINE_M = 0.004
"""How far the corners of a round edge stand off the true one at most, in grid m."""

LOOKED = 12
"""Corners up and down the run that a piece is held against."""

CLOSE_M = 1e-3
"""How much deeper than needed the ground beside a piece is drawn, in grid m."""

PAST_M = 1e-5
"""How far past the ends ground runs on that is cut from other ground, in grid m: of two cuts along the same end, but
for the rounding of numbers, one would leave spikes without width along the other."""

JOINT_PLACES = 4
"""Decimal places of a grid metre to which ends that meet are the same."""


@dataclass(frozen=True, eq=False)
class Run:
    """Stretches joined mouth to top, as straight pieces.

    Attributes
    ----------
    at : ndarray, shape (n, 2)
        Corners, downstream. [grid m]
    half : ndarray, shape (n - 1,)
        Half the channel beside each piece. [grid m]
    begin_m, end_m : ndarray, shape (n - 1,)
        Width of the margin where each piece begins and ends. [ground m]
    """

    at: Floats
    half: Floats
    begin_m: Floats
    end_m: Floats

    @cached_property
    def course(self) -> Course:
        """Its corners and how the line runs between them."""
        return course_of(self.at)

    @cached_property
    def drawn_on(self) -> Run:
        """The run with its ends drawn on by `PAST_M`, unless it runs round in a ring."""
        if (self.at[0] == self.at[-1]).all():
            return self
        at, normals = self.at.copy(), self.course.normals
        at[0] -= PAST_M * np.array([normals[0, 1], -normals[0, 0]])
        at[-1] += PAST_M * np.array([normals[-1, 1], -normals[-1, 0]])
        return Run(at, self.half, self.begin_m, self.end_m)

    @cached_property
    def _deepest(self) -> tuple[Floats, Floats]:
        """How deep the ground beside each piece need reach at most, left and right.

        A place square to a piece and further off than that has a corner of the run nearer to it, so that if the
        distance is the same all along, it is reached from elsewhere; only from the run's own ends it is not.
        """
        at, normals, lengths = self.at, self.course.normals, self.course.lengths
        along = np.column_stack([normals[:, 1], -normals[:, 0]])
        corner = np.arange(len(lengths))[:, None] + np.array([*range(-LOOKED, 0), *range(2, LOOKED + 2)])
        inner = (corner > 0) & (corner < len(at) - 1)
        offset = at[np.where(inner, corner, 0)] - at[:-1, None]
        on, off = (offset * along[:, None]).sum(axis=2), (offset * normals[:, None]).sum(axis=2)
        square = np.maximum(on**2, (on - lengths[:, None]) ** 2) + off**2
        out = []
        for hand in (1.0, -1.0):
            doubled = 2 * hand * off
            beside = inner & (doubled > 0)
            out.append(np.where(beside, square / np.where(beside, doubled, 1.0), np.inf).min(axis=1) + CLOSE_M)
        return out[0], out[1]

    def ground(self, side: int, begin: Floats, end: Floats, fine_m: float) -> shapely.Geometry:
        """Return the ground beside the run, as for `ring`; the same distance all along takes less work."""
        far = float(begin[0])
        if far == begin.max() == begin.min() == end.max() == end.min():
            begin = np.minimum(self._deepest[side], far)
            end = begin.copy()
            outer = self.course.turns < 0 if side == 0 else self.course.turns > 0
            begin[1:] = end[:-1] = np.where(outer, far, np.maximum(begin[1:], end[:-1]))
            begin[0] = end[-1] = far
        return wound_round([ring(self.course, side, begin, end, fine_m)])


@dataclass(frozen=True, eq=False)
class Course:
    """Corners of a line and how it runs between them.

    Attributes
    ----------
    at : ndarray, shape (n, 2)
        Corners, downstream. [grid m]
    normals : ndarray, shape (n - 1, 2)
        Of each piece, to the left, of length 1.
    directions, lengths : ndarray, shape (n - 1,)
        Of the normals, and of the pieces. [radians, grid m]
    turns : ndarray, shape (n - 2,)
        By how much the line turns to the left at each inner corner. [radians]
    """

    at: Floats
    normals: Floats
    directions: Floats
    lengths: Floats
    turns: Floats

    def cut(self, begin: int, end: int) -> Course:
        """Return the line from one corner to another, ``end`` counted."""
        return Course(
            self.at[begin : end + 1],
            self.normals[begin:end],
            self.directions[begin:end],
            self.lengths[begin:end],
            self.turns[begin : end - 1],
        )


def course_of(at: Floats) -> Course:
    """Return how a line runs, corners of shape (n, 2)."""
    steps = np.diff(at, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    along = steps / lengths[:, None]
    normals = np.column_stack([-along[:, 1], along[:, 0]])
    cross = along[:-1, 0] * along[1:, 1] - along[:-1, 1] * along[1:, 0]
    turns = np.arctan2(cross, (along[:-1] * along[1:]).sum(axis=1))
    return Course(at, normals, np.arctan2(normals[:, 1], normals[:, 0]), lengths, turns)


def ring(course: Course, side: int, begin: Floats, end: Floats, fine_m: float) -> Floats:
    """Corners of the ring around the ground beside a line, counter-clockwise on the whole.

    Parameters
    ----------
    course : Course
        The line.
    side : int
        0 for the left, 1 for the right.
    begin, end : ndarray, shape (n - 1,)
        How far the ground reaches where each piece begins and ends. [grid m]
    fine_m : float
        How far round edges may be off. [grid m]
    """
    at, normals, directions = course.at, course.normals, course.directions
    hand = 1.0 if side == 0 else -1.0
    near = at[:-1] + (hand * begin)[:, None] * normals
    far = at[1:] + (hand * end)[:, None] * normals
    inward = hand * course.turns
    angle = np.abs(course.turns)
    crossing, crossed = _crossings(near, far, inward, angle, (begin, end, course.lengths))
    near[1:][crossed] = far[:-1][crossed] = crossing[crossed]
    widest = np.maximum(np.maximum(end[:-1], begin[1:]), 1e-9)
    steps = np.where(inward < 0, arc_steps(angle, widest, fine_m), 1)
    more = np.where(inward < 0, steps - 1, (~crossed & (inward > 0)).astype(int))
    first = np.concatenate([[0], np.cumsum(more + 2)])
    edge = np.empty((first[-1] + 2, 2))
    edge[first], edge[first + 1] = near, far
    corner = np.repeat(np.arange(len(more)), more)
    step = np.arange(len(corner)) - np.repeat(np.cumsum(more) - more, more) + 1
    part = step / steps[corner]
    radius = (end[:-1][corner] * (1 - part) + begin[1:][corner] * part) * further(angle, steps)[corner]
    way = directions[:-1][corner] + course.turns[corner] * part + (0.0 if side == 0 else np.pi)
    round_it = at[1:-1][corner] + radius[:, None] * np.column_stack([np.cos(way), np.sin(way)])
    edge[first[corner] + 1 + step] = np.where((inward < 0)[corner, None], round_it, at[1:-1][corner])
    around = np.concatenate([edge, at[::-1], edge[:1]])
    return around[::-1] if side == 0 else around


def _crossings(
    near: Floats, far: Floats, inward: Floats, angle: Floats, of: tuple[Floats, Floats, Floats]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Where far edges of two pieces cross at a corner turning towards the ground, and whether the ring may turn there.

    It may where the last side of each trapezium ends within the other: then what lies between the corner and the
    crossing is just their overlap, and leaving it out once leaves it covered once.
    """
    begin, end, lengths = of
    first, second, between = far[:-1] - near[:-1], far[1:] - near[1:], near[1:] - near[:-1]
    turn = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    safe = np.where(turn == 0, 1.0, turn)
    on_first = (between[:, 0] * second[:, 1] - between[:, 1] * second[:, 0]) / safe
    on_second = (between[:, 0] * first[:, 1] - between[:, 1] * first[:, 0]) / safe
    crossed = (inward > 0) & (angle < np.pi / 2) & (turn != 0)
    for deep, (low, high), length in (
        (begin[1:], (end[:-1], begin[:-1]), lengths[:-1]),
        (end[:-1], (begin[1:], end[1:]), lengths[1:]),
    ):
        back = deep * np.sin(angle) / length
        crossed &= (back <= 1) & (deep * np.cos(angle) <= low + (high - low) * back)
    crossed &= (on_first >= 0) & (on_first <= 1) & (on_second >= 0) & (on_second <= 1)
    return near[:-1] + on_first[:, None] * first, crossed


def wound_round(rings: Sequence[Floats]) -> shapely.Geometry:
    """Return the ground that rings of corners wind round, each corners of shape (n, 2).

    Worked out from the first corner, for so far from where a grid begins its numbers are too coarse for crossings.
    """
    start = rings[0][0]
    shapes = shapely.polygons([shapely.linearrings(corners - start) for corners in rings])
    ground = shapely.buffer(shapes[0] if len(shapes) == 1 else shapely.multipolygons(shapes), 0.0)
    return shapely.transform(ground, lambda corners: corners + start)


def arc_steps(angle: Floats, radius: Floats | float, fine_m: float) -> NDArray[np.int_]:
    """Return in how many steps arcs are drawn so as to be no more than ``fine_m`` off, 1 and more, shape (n,)."""
    return np.maximum(np.ceil(angle / np.sqrt(12 * fine_m / radius)), 1).astype(int)


def further(angle: Floats, steps: NDArray[np.int_]) -> Floats:
    """Return how much further out the corners of an arc stand, so that its area is that of the true sector, shape (n,).

    The two outer triangles of ``steps`` have one corner moved out, those between have two:
    (steps - 2) f² + 2 f = steps (angle of a step) / sin(angle of a step).
    """
    one = angle / steps
    whole = steps * one / np.where(one == 0, 1.0, np.sin(one))
    inner = np.maximum(steps - 2, 1)
    return np.where(steps > 2, (np.sqrt(1 + inner * whole) - 1) / inner, whole / 2)


def runs_of(
    reaches: Sequence[Reach], side: int, stations: Sequence[tuple[Floats, Floats]] | None = None
) -> tuple[Run, ...]:
    """Return the runs of those stretches that draw the bank of a side.

    Parameters
    ----------
    reaches : sequence of Reach
        Stretches of a creek.
    side : int
        0 for the left bank, 1 for the right.
    stations : sequence of (ndarray, ndarray), optional
        For each stretch the lengths along it [grid m] at which the margin's width is given, and the widths there
        [ground m]; between them it changes evenly. Without them widths are 0.
    """
    drawn = [place for place, reach in enumerate(reaches) if reach.widths[side] > 0]
    tops = {place: _spot(reaches[place].line, 0) for place in drawn}
    mouths = {place: _spot(reaches[place].line, -1) for place in drawn}
    ends = [*tops.values(), *mouths.values()]
    after = {
        place: below
        for place in drawn
        for below in drawn
        if mouths[place] == tops[below] and ends.count(tops[below]) == 2 and place != below
    }
    begun = [place for place in drawn if place not in after.values()]
    left = set(drawn)
    out: list[Run] = []
    for place in [*begun, *drawn]:
        if place not in left:
            continue
        chain = [place]
        left.remove(place)
        while (below := after.get(chain[-1])) in left and below is not None:
            chain.append(below)
            left.remove(below)
        out.append(_joined([_run(reaches[each], stations[each] if stations else None) for each in chain]))
    return tuple(out)


def swept(
    runs: Sequence[Run],
    side: int,
    reach: tuple[float, float],
    scale: float,
    fine_m: float = FINE_M,
    *,
    past: bool = False,
) -> shapely.Geometry:
    """Return the ground beside runs, from their middle line outwards.

    Parameters
    ----------
    runs : sequence of Run
        From `runs_of`.
    side : int
        0 for the left, 1 for the right.
    reach : tuple of float
        How far it reaches beyond the channel: metres of ground, and a share of the margin's width on top.
    scale : float
        Grid metres for a metre of ground.
    fine_m : float
        How far round edges may be off. [grid m]
    past : bool
        Whether it runs on past the ends by `PAST_M`.
    """
    fixed, share = reach
    grounds: list[shapely.Geometry] = []
    for run in runs:
        begin, end = (run.half + scale * np.maximum(fixed + share * width, 0.0) for width in (run.begin_m, run.end_m))
        if max(begin.max(), end.max()) > 0:
            grounds.append((run.drawn_on if past else run).ground(side, begin, end, fine_m))
    grounds += _knots(runs, reach, scale)
    return united(grounds)


def _knots(runs: Sequence[Run], reach: tuple[float, float], scale: float) -> list[shapely.Geometry]:
    """Return discs where ends of several runs meet, which fill the notches between their flat ends."""
    fixed, share = reach
    meeting: dict[tuple[float, float], list[float]] = {}
    for run in runs:
        for spot, half, width in ((run.at[0], run.half[0], run.begin_m[0]), (run.at[-1], run.half[-1], run.end_m[-1])):
            key = (round(float(spot[0]), JOINT_PLACES), round(float(spot[1]), JOINT_PLACES))
            meeting.setdefault(key, []).append(float(half) + scale * max(fixed + share * float(width), 0.0))
    return [
        shapely.buffer(shapely.Point(spot), min(radii), quad_segs=64)
        for spot, radii in meeting.items()
        if len(radii) > 1 and min(radii) > 0
    ]


def _spot(line: shapely.LineString, end: int) -> tuple[float, float]:
    x, y = line.coords[end][:2]
    return round(x, JOINT_PLACES), round(y, JOINT_PLACES)


def _run(reach: Reach, stations: tuple[Floats, Floats] | None) -> Run:
    corners = shapely.get_coordinates(reach.line)
    if stations is None:
        none = np.zeros(len(corners) - 1)
        return Run(corners, np.full(len(corners) - 1, reach.half), none, none)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    places, widths = stations
    own = places[(places > 0) & (places < along[-1])]
    apart = np.abs(along[np.clip(np.searchsorted(along, own), 0, len(along) - 1)] - own) > 1e-6
    apart &= np.abs(along[np.clip(np.searchsorted(along, own) - 1, 0, len(along) - 1)] - own) > 1e-6
    marks = np.sort(np.concatenate([along, own[apart]]))
    at = np.column_stack([np.interp(marks, along, corners[:, axis]) for axis in (0, 1)])
    width = np.interp(marks, places, widths)
    return Run(at, np.full(len(at) - 1, reach.half), width[:-1], width[1:])


def _joined(runs: Sequence[Run]) -> Run:
    if len(runs) == 1:
        return runs[0]
    at = np.concatenate([runs[0].at, *(run.at[1:] for run in runs[1:])])
    half, begin, end = (
        np.concatenate(parts) for parts in zip(*((r.half, r.begin_m, r.end_m) for r in runs), strict=True)
    )
    return Run(at, half, begin, end)
