"""Gates in a fence, and what stands and hangs between its strainer posts."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HUNG_M = 10.0
"""A gate that would begin nearer than this to a corner of the fence hangs on its post; our own choice. [ground m]"""

AT_TRACK_M = 3.0
"""The same at a track, which can be led so far aside; our own choice. [ground m]"""

APART_M = 30.0
"""From gate to gate at least, so a shorter fence gets one at most; our own choice. [ground m]"""

SLACK_M = 0.001
"""A strain longer by no more than this needs no further post. [ground m]"""

_HAIR = 1e-9


class Wanted(NamedTuple):
    """Where a gate should be along a fence, and how near a corner it hangs on that corner's post; both on the grid."""

    at: float
    hung: float


@dataclass(frozen=True, eq=False)
class Gated:
    """A fence with its gates.

    Attributes
    ----------
    posts : ndarray, shape (n, 2)
        Strainer posts, those of gates among them, in their order.
    openings : ndarray of bool, shape (n - 1,)
        Which stretches from post to post are gates.
    """

    posts: Floats
    openings: NDArray[np.bool_]

    @property
    def middles(self) -> Floats:
        """Middle of each gate, shape (g, 2)."""
        return (self.posts[:-1][self.openings] + self.posts[1:][self.openings]) / 2


def gated(posts: Floats, wanted: Iterable[Wanted], gate: float, apart: float, least: float) -> Gated:
    """Put gates into a fence, each within one straight run, as near as can be to where it is wanted.

    Parameters
    ----------
    posts : ndarray, shape (n, 2)
        Posts at the corners. [grid m]
    wanted : iterable of Wanted
        Where gates should be, those that matter most first.
    gate : float
        Width of a gate. [grid m]
    apart : float
        From the middle of one gate to the next at least. [grid m]
    least : float
        No shorter strain is left beside a gate if there is a run long enough; if there is none, the longest is taken.
        [grid m]

    Returns
    -------
    Gated
        A gate too near to one that matters more is left out; so is one that no run is long enough for. Runs that leave
        no short strain beside the gate are taken first.
    """
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(posts, axis=0).T)))
    lengths = np.diff(starts)
    round_again = float(starts[-1]) if len(posts) > 3 and (posts[0] == posts[-1]).all() else np.inf
    longest = float(lengths.max())
    begins: list[float] = []
    runs: dict[float, tuple[list[float], list[float]]] = {}
    for want in wanted if gate > 0 and longest >= gate + _HAIR else ():
        hung = max(want.hung, least)
        room = next((room for room in (hung, least) if longest >= gate + room), longest - gate)
        if room not in runs:
            fits = np.flatnonzero(lengths >= gate + room - _HAIR)
            runs[room] = starts[fits].tolist(), (starts[fits + 1] - gate).tolist()
        chosen = _begin(want.at - gate / 2, hung, *runs[room])
        off = [abs(chosen - other) for other in begins]
        if all(min(one, round_again - one) >= max(apart, 2 * gate) for one in off):
            begins.append(chosen)
    edges = np.array(sorted(begins))
    along = np.sort(np.concatenate([starts, edges, edges + gate]))
    along = along[np.append(True, np.diff(along) > 1e-6)]
    places = np.column_stack([np.interp(along, starts, posts[:, axis]) for axis in (0, 1)])
    middles = (along[:-1] + along[1:]) / 2
    nearest = np.searchsorted(edges, middles) - 1
    inside = (
        (nearest >= 0) & (middles < np.append(edges, 0.0)[nearest] + gate)
        if len(edges)
        else np.zeros(len(middles), bool)
    )
    return Gated(places, inside)


def _begin(wanted: float, hung: float, lows: list[float], highs: list[float]) -> float:
    """Where a gate begins in the run nearest to where it is wanted, of runs with these first and last beginnings."""
    place = bisect_right(lows, wanted)
    around = slice(max(place - 2, 0), place + 1)
    nearest = (math.inf, 0.0)
    for low, high in zip(lows[around], highs[around], strict=True):
        begin = min(max(wanted, low), high)
        before, behind = begin - low, high - begin
        begin = low if before < min(hung, behind) else high if behind < hung else begin
        nearest = min(nearest, (abs(begin - wanted), begin))
    return nearest[1]


def wanted_gates(
    line: shapely.LineString, tracks: shapely.Geometry | None, every: float, returns: tuple[bool, bool], scale: float
) -> list[Wanted]:
    """Where gates should be along a fence: at tracks, at both ends, and every so far.

    Parameters
    ----------
    line : LineString
        The fence. [grid m]
    tracks : shapely geometry or None
        Middle lines of the tracks near it.
    every : float
        From gate to gate, 0: only at tracks and ends. [grid m]
    returns : tuple of bool
        Whether its first and its last run go back to the bank; the gates then stand at their landward ends.
    scale : float
        Grid metres for a metre of ground.
    """
    corners = shapely.get_coordinates(line)
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    length = float(starts[-1])
    places: list[float] = []
    if not line.is_closed:
        places.append(float(starts[1]) + _HAIR if returns[0] else 0.0)
        places.append(float(starts[-2]) - _HAIR if returns[1] else length)
    elif every <= 0:
        places.append(0.0)
    if every > 0:
        first = 0 if line.is_closed else 1
        places += [place * every for place in range(first, max(int(np.ceil(length / every - 0.5 + _HAIR)), 1))]
    return [*at_tracks(line, tracks, scale), *(Wanted(place, HUNG_M * scale) for place in places)]


def at_tracks(line: shapely.LineString, tracks: shapely.Geometry | None, scale: float) -> list[Wanted]:
    """Where a fence meets tracks; see `wanted_gates`."""
    if tracks is None or not shapely.intersects(tracks, line):
        return []
    met = shapely.extract_unique_points(shapely.intersection(tracks, line))
    places = np.sort(shapely.line_locate_point(line, shapely.get_parts(met)))
    return [Wanted(place, AT_TRACK_M * scale) for place in places.tolist()]


def posts_between(lengths: Floats, post: float) -> NDArray[np.intp]:
    """Return the posts of each strain: so many that no two stand further apart than ``post``, shape (n,)."""
    return np.maximum(np.ceil((lengths - SLACK_M) / post) - 1, 0).astype(np.intp)
