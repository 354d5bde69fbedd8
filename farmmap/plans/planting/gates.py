"""Gates in a fence, and what stands and hangs between its strainer posts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HUNG_M = 1.0
"""A gate that would begin nearer than this to a strainer post hangs on that post. [ground m]"""

_HAIR = 1e-9


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


def gated(posts: Floats, wanted: Iterable[float], gate: float, hung: float) -> Gated:
    """Put gates into a fence, each within one strain, as near as can be to where it is wanted.

    Parameters
    ----------
    posts : ndarray, shape (n, 2)
        Strainer posts. [grid m]
    wanted : iterable of float
        Where gates should be, along the fence, those that matter most first. [grid m]
    gate : float
        Width of a gate. [grid m]
    hung : float
        A gate that would begin nearer than this to a strainer post hangs on it. [grid m]

    Returns
    -------
    Gated
        Two gates have at least the width of one between them, else the second is left out; so is one that no strain
        is long enough for.
    """
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(posts, axis=0).T)))
    fits = np.flatnonzero(np.diff(starts) >= gate + _HAIR)
    begins: list[float] = []
    for want in wanted if gate > 0 and len(fits) else ():
        lows, highs = starts[fits], starts[fits + 1] - gate
        begin = np.clip(want - gate / 2, lows, highs)
        begin = np.where(begin - lows < hung, lows, np.where(highs - begin < hung, highs, begin))
        chosen = float(begin[np.argmin(np.abs(begin + gate / 2 - want))])
        if all(abs(chosen - other) >= 2 * gate for other in begins):
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


def wanted_gates(line: shapely.LineString, tracks: shapely.Geometry | None, every: float, returns: bool) -> list[float]:
    """Where gates should be along a fence: at tracks, at both ends, and every so far.

    Parameters
    ----------
    line : LineString
        The fence. [grid m]
    tracks : shapely geometry or None
        Middle lines of the tracks near it.
    every : float
        From gate to gate, 0: only at tracks and ends. [grid m]
    returns : bool
        Whether its first and last strain run back to the bank; the gates then stand at their landward ends.
    """
    corners = shapely.get_coordinates(line)
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    length = float(starts[-1])
    wanted: list[float] = []
    if tracks is not None and shapely.intersects(tracks, line):
        met = shapely.extract_unique_points(shapely.intersection(tracks, line))
        wanted += np.sort(shapely.line_locate_point(line, shapely.get_parts(met))).tolist()
    if not line.is_closed:
        inner = returns and len(corners) > 3
        wanted += [float(starts[1]) + _HAIR, float(starts[-2]) - _HAIR] if inner else [0.0, length]
    elif every <= 0:
        wanted.append(0.0)
    if every > 0:
        first = 0 if line.is_closed else 1
        wanted += [place * every for place in range(first, int(np.ceil(length / every - 0.5 + _HAIR)))]
    return wanted


def posts_between(lengths: Floats, post: float) -> NDArray[np.intp]:
    """Return the posts of each strain: so many that no two stand further apart than ``post``, shape (n,)."""
    return np.maximum(np.ceil(lengths / post - _HAIR) - 1, 0).astype(np.intp)
