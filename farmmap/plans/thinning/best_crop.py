"""The best set of crop trees of which no two stand closer than a least distance, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput
from farmmap.plans.thinning.best_set.cliques import Cliques, cliques_of
from farmmap.plans.thinning.best_set.conflicts import Conflicts, conflicts_of, pair_count
from farmmap.plans.thinning.best_set.exchange import exchanged
from farmmap.plans.thinning.best_set.many_cliques import many_cliques_of
from farmmap.plans.thinning.best_set.prices import Prices, prices_of
from farmmap.plans.thinning.best_set.sweep import Pieces, pieces_along, swept
from farmmap.plans.thinning.best_set.tighter import tighter_bound
from farmmap.plans.thinning.best_set.windows import WINDOWS, bettered, first_choice

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOST_PAIRS = 8_000_000
"""Where more pairs stand too close, only the worthiest trees of small cells are looked at."""

MOST_CROWDED = (2e8, 2e7)
"""The same where trees times the square of their mean number of neighbours is more; the second for quick answers."""

FEW = 20_000
"""Quick answers look at less only among so few trees, as among more a quick answer is the last word."""

MANY = 20_000
"""Among more trees a good choice and a looser bound are found quickly."""

MOST_WHOLE = 1_500
"""Connected parts of up to so many trees are swept as a whole, to the best choice there is if that can be."""

KEPT = (128, 1_024, 8_192, 65_536)
"""Choices kept for each part in one sweep after the other, until one leaves none out."""

WORK = (2_500_000, 400_000)
"""Trees times choices that a sweep may keep in all; the second where a quick answer is wanted, and among very many."""

SAME = 1e-9
"""Worths that differ by no more than this part are the same (rounding)."""


@dataclass(frozen=True, eq=False)
class CropChoice:
    """A set of trees of which no two stand too close.

    Attributes
    ----------
    chosen : ndarray of bool, shape (n,)
        Which trees are chosen.
    worth : float
        What they are worth together.
    bound : float
        No such set is worth more than this.
    exact : bool
        Whether it is proven that no such set is worth more than this one.
    """

    chosen: Bools
    worth: float
    bound: float
    exact: bool


def best_crop(x: ArrayLike, y: ArrayLike, worth: ArrayLike, least_m: float, *, quick: bool = False) -> CropChoice:
    """Choose the trees that are worth most together, no two of them closer than a least distance.

    Prices on cliques bound the worth of any choice (a linear programme). A
    first choice by them is made better in windows of ground that are swept
    side by side, or among very many trees by exchanges. Connected parts that
    are not too large are then swept as a whole; where a sweep leaves nothing
    out, its choice is the best there is.
    The same input gives the same choice.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand; one whose place is no number is never chosen. [ground m]
    worth : array_like, shape (n,)
        What each is worth; one worth nothing, less or no number is never chosen.
    least_m : float
        Least distance. [ground m]
    quick : bool
        Give a good answer rather than the best, such as while the distance is being found.

    Raises
    ------
    BadInput
        The numbers do not go together.
    """
    east, north, value = (np.asarray(one, np.float64).reshape(-1) for one in (x, y, worth))
    if not len(east) == len(north) == len(value):
        raise BadInput(f"{len(east)} and {len(north)} places and {len(value)} worths of trees do not go together")
    at = np.column_stack([east, north])
    if not (np.isfinite(least_m) and least_m >= 0):
        raise BadInput(f"the least distance between crop trees is 0 m or more, not {least_m:g}")
    chosen = np.zeros(len(value), bool)
    trees = np.flatnonzero(np.isfinite(at).all(axis=1) & np.isfinite(value) & (value > 0))
    trees = trees[np.argsort(-value[trees], kind="stable")]
    if not len(trees):
        return CropChoice(chosen, 0.0, 0.0, exact=True)
    at, own = at[trees] - at[trees].mean(axis=0), value[trees]
    value = own / own[0]  # the worthiest comes first
    some = _thinned_out(at, least_m, MOST_CROWDED[quick and len(at) <= FEW])
    some = some[_side_by_side(at[some], least_m)]
    found, bound = _best_set(conflicts_of(at[some], value[some], least_m), quick=quick)
    if len(some) < len(trees):
        bound = _bound_by_cells(at, value, least_m)
    chosen[trees[some[found]]] = True
    together = float(own[some[found]].sum())
    bound = max(float(bound * own[0]), together)
    exact = bound - together <= SAME * together
    return CropChoice(chosen, together, together if exact else bound, exact=exact)


def _best_set(graph: Conflicts, *, quick: bool) -> tuple[Bools, float]:
    """Return which trees are chosen, and what bounds any choice."""
    if not len(graph.pairs):
        return np.ones(len(graph), bool), float(graph.worth.sum())
    if len(graph) > MANY:
        cliques = many_cliques_of(graph)
        prices = prices_of(graph.worth, cliques, many=True)
        chosen = exchanged(graph, prices)
    else:
        cliques = cliques_of(graph)
        prices = prices_of(graph.worth, cliques)
        chosen = first_choice(graph, prices)
        window = next(window for most_trees, window in WINDOWS if len(graph) <= most_trees)
        chosen = bettered(graph, cliques, prices, chosen, window, quick=quick)
    known, bound = _parts_swept(graph, cliques, prices, chosen, WORK[quick or len(graph) > MANY])
    open_ = _is_open(known, bound)
    if not quick and open_.any():
        bound = np.minimum(bound, np.maximum(tighter_bound(graph, cliques, prices, chosen, open_), known))
    return chosen, float(bound.sum())


def _is_open(known: Floats, bound: Floats) -> Bools:
    """Which parts may still hold a better choice than that known."""
    return bound - known > SAME * np.maximum(known, 1.0)


def _parts_swept(graph: Conflicts, cliques: Cliques, prices: Prices, chosen: Bools, work: int) -> tuple[Floats, Floats]:
    """Sweep connected parts as a whole, those that are not proven best yet again with more room.

    The choice is made better in place. Returned are the worth of what is chosen in each part, and what bounds it.
    """
    part = graph.part
    count = int(part.max()) + 1
    hope = np.bincount(part, prices.tree, count)
    first = part[cliques.member[cliques.start[:-1]]]
    hope += np.bincount(first, prices.clique, count)
    size = np.bincount(part)
    known: Floats = np.bincount(part, np.where(chosen, graph.worth, 0.0), count).astype(np.float64)
    bound = np.maximum(hope, known)
    for most in KEPT:
        open_ = np.flatnonzero(_is_open(known, bound) & (size <= MOST_WHOLE))
        open_ = open_[np.argsort(size[open_], kind="stable")]
        open_ = open_[np.cumsum(size[open_]) * most <= work]
        if not len(open_):
            break
        pieces, of = _whole(graph, part, open_)
        found = swept(graph, cliques, prices, pieces, known[of], most)
        better = np.isfinite(found.worth)
        piece = np.repeat(np.arange(len(pieces)), np.diff(pieces.start))
        change = better[piece]
        chosen[pieces.tree[change]] = found.chosen[change]
        known[of] = np.where(better, found.worth, known[of])
        bound[of] = np.maximum(np.minimum(bound[of], found.bound), known[of])
    return known, bound


def _whole(graph: Conflicts, part: Ints, some: Ints) -> tuple[Pieces, Ints]:
    """Return some connected parts as pieces, each swept along its longer side, and the part of each piece."""
    number = np.full(int(part.max()) + 1, -1)
    number[some] = np.arange(len(some))
    piece = number[part]
    inside = np.flatnonzero(piece >= 0)
    along = np.zeros(len(graph))
    along[inside] = _along(graph.at[inside], piece[inside])
    pieces = pieces_along(piece, along)
    return pieces, part[pieces.tree[pieces.start[:-1]]]


def _along(at: Floats, piece: Ints) -> Floats:
    """How far each tree lies along the direction in which its piece is longest."""
    count = np.bincount(piece)
    off = at - np.column_stack([np.bincount(piece, axis) / count for axis in at.T])[piece]
    east, north, both = (np.bincount(piece, one) for one in (off[:, 0] ** 2, off[:, 1] ** 2, off[:, 0] * off[:, 1]))
    angle = 0.5 * np.arctan2(2 * both, east - north)
    return off[:, 0] * np.cos(angle)[piece] + off[:, 1] * np.sin(angle)[piece]


def _thinned_out(at: Floats, least_m: float, most_crowded: float) -> Ints:
    """Return places of the trees to look at: all, or the worthiest of small cells where they stand in a heap."""
    some = np.arange(len(at))
    cell = least_m / 16
    while True:
        pairs = pair_count(at[some], least_m)
        if pairs <= MOST_PAIRS and 4.0 * pairs**2 / len(some) <= most_crowded:
            return some
        some = np.sort(np.unique(_cells(at, cell), return_index=True)[1])
        cell *= 1.5


def _side_by_side(at: Floats, least_m: float) -> Ints:
    """Return the trees strip by strip, so that neighbours are near each other in all that is worked out."""
    east = at[:, 0] - at[:, 0].min()
    return np.argsort(np.floor(at[:, 1] / max(least_m, 1.0)) * (east.max() + 1.0) + east, kind="stable")


def _bound_by_cells(at: Floats, worth: Floats, least_m: float) -> float:
    """Return what any choice is worth at most: of the trees of a cell less than the least distance across, one."""
    cell = _cells(at, least_m / np.sqrt(2.0) * (1 - 1e-6))
    _, first = np.unique(cell, return_index=True)  # the worthiest come first
    return float(worth[first].sum())


def _cells(at: Floats, size: float) -> Ints:
    place = np.floor((at - at.min(axis=0)) / size).astype(np.int64)
    return place[:, 0] * (int(place[:, 1].max()) + 1) + place[:, 1]
