"""Pairs of trees that stand near each other."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.discs import Discs

Floats = NDArray[np.float64]
Places = NDArray[np.intp]

MOST_PAIRS = 2_000_000
"""About so many pairs are held at once."""

SAMPLE = 256
"""So many trees are looked at first, to tell how many neighbours a tree has."""


@dataclass(frozen=True, eq=False)
class Pairs:
    """Trees and their neighbours, each pair once from either side. All arrays have shape (k,).

    Attributes
    ----------
    tree, other : ndarray of int
        Places of the tree and of its neighbour.
    distance_m : ndarray
        How far apart they stand, 0 for two at the same place. [m]
    """

    tree: Places
    other: Places
    distance_m: Floats


def within(x: Floats, y: Floats, reach_m: float, chosen: Places | None = None) -> Iterator[Pairs]:
    """Give the pairs that stand no further apart than a reach, some trees after the other.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Where the trees stand; those with nan stand nowhere. [m]
    reach_m : float
        The reach. [m]
    chosen : ndarray of int, optional
        Trees whose neighbours are wanted; all of them if None.
    """
    known = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    if not len(known) or not reach_m > 0:
        return
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy: a farm is opened before it is needed

    at = np.column_stack([x[known], y[known]])
    tree = cKDTree(at)
    asked = np.arange(len(known)) if chosen is None else np.flatnonzero(np.isin(known, chosen))
    counts = np.asarray(tree.query_ball_point(at[asked], reach_m, return_length=True), np.int64)
    for part in _parts(counts):
        mine = asked[part]
        found = cKDTree(at[mine]).sparse_distance_matrix(tree, reach_m, output_type="ndarray")
        own, other = mine[found["i"]], np.asarray(found["j"], np.intp)
        real = own != other
        yield Pairs(known[own[real]], known[other[real]], np.asarray(found["v"], np.float64)[real])


def overlapping(x: Floats, y: Floats, radius_m: Floats, chosen: Places | None = None) -> Iterator[Pairs]:
    """Give the pairs whose circles overlap, some trees after the other.

    Parameters
    ----------
    x, y, radius_m : ndarray, shape (n,)
        Where the trees stand, and the radius of their circles; nan and 0 for those that have none. [m]
    chosen : ndarray of int, optional
        Trees whose neighbours are wanted; all of them if None.
    """
    round_ones = np.isfinite(x) & np.isfinite(y) & (radius_m > 0)
    radius = np.where(round_ones, radius_m, 0.0)
    discs = Discs(x, y, radius)
    asked = np.flatnonzero(round_ones) if chosen is None else chosen[round_ones[chosen]]
    if not len(asked):
        return
    some = asked[:: max(len(asked) // SAMPLE, 1)]
    each = len(discs.near(x[some], y[some], radius[some])[0]) / len(some)
    for part in _parts(np.full(len(asked), int(each) + 1)):
        mine = asked[part]
        row, other = discs.near(x[mine], y[mine], radius[mine])
        own = mine[row]
        distance = np.hypot(x[own] - x[other], y[own] - y[other])
        real = (own != other) & (distance < radius[own] + radius[other])
        yield Pairs(own[real], other[real], distance[real])


def _parts(counts: NDArray[np.int64]) -> Iterator[slice]:
    """Stretches of trees that have about `MOST_PAIRS` neighbours together."""
    part = np.cumsum(counts) // MOST_PAIRS
    stops = [0, *(np.flatnonzero(np.diff(part)) + 1).tolist(), len(counts)]
    for begin, end in itertools.pairwise(stops):
        if begin < end:
            yield slice(begin, end)
