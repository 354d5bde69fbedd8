"""A choice made better window by window: all windows of a round are swept side by side, all else staying as it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques
from farmmap.plans.thinning.best_set.conflicts import Conflicts
from farmmap.plans.thinning.best_set.exchange import in_turn
from farmmap.plans.thinning.best_set.prices import Prices
from farmmap.plans.thinning.best_set.sweep import pieces_along, swept

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Windows:
    """How windows are laid.

    Attributes
    ----------
    long, wide : float
        Length and width, in least distances.
    most : int
        How many choices are kept for each window while it is swept.
    rounds : int
        How many times they are laid; fewer if several in a row change nothing.
    hopeless : float
        Trees whose prices are more than their worth by this part of it are passed over.
    """

    long: float
    wide: float
    most: int
    rounds: int
    hopeless: float = np.inf


WINDOWS = (
    (2_000, Windows(12.0, 6.0, 128, 20, hopeless=0.3)),
    (20_000, Windows(12.0, 6.0, 64, 8, hopeless=0.3)),
)
"""Up to so many trees, these windows."""

IDLE = 3
"""Rounds that may change nothing before it is left at that."""

GOLDEN = 0.6180339887498949
"""Windows are shifted by this part of themselves from round to round, so that their edges fall elsewhere each time."""

TURN_DEG = 67.5
"""Windows are turned by this from round to round. [degrees]"""


def first_choice(graph: Conflicts, prices: Prices) -> Bools:
    """Choose in turn the tree that the prices speak for most of those not barred yet; return which are chosen, (n,)."""
    order = np.lexsort((-graph.worth, np.round(-prices.share, 2)))
    rank = np.empty(len(graph), np.int64)
    rank[order] = np.arange(len(graph))
    one, other = graph.pairs.T
    return in_turn(one, other, -rank, np.ones(len(graph), bool))


def bettered(
    graph: Conflicts, cliques: Cliques, prices: Prices, chosen: Bools, windows: Windows, *, quick: bool = False
) -> Bools:
    """Return a choice made better in windows.

    Parameters
    ----------
    graph, cliques, prices
        The trees, and what bounds their worth.
    chosen : ndarray of bool, shape (n,)
        The choice so far.
    windows : Windows
        How windows are laid.
    quick : bool
        Lay them half as often.
    """
    chosen = chosen.copy()
    hopeless = prices.over > windows.hopeless * graph.worth
    idle = 0
    for turn in range((windows.rounds + 1) // 2 if quick else windows.rounds):
        window, along = _windows(graph, windows, turn)
        out = chosen & (window < 0)
        barred = graph.joined @ out.astype(np.int8) > 0
        window[(barred | hopeless) & ~chosen] = -1
        pieces = pieces_along(window, along)
        of = np.repeat(np.arange(len(pieces)), np.diff(pieces.start))
        held = chosen[pieces.tree]
        best: Floats = np.bincount(of[held], graph.worth[pieces.tree[held]], len(pieces)).astype(np.float64)
        found = swept(graph, cliques, prices, pieces, best, windows.most)
        better = np.isfinite(found.worth)
        change = better[of]
        chosen[pieces.tree[change]] = found.chosen[change]
        idle = 0 if better.any() else idle + 1
        if idle == IDLE:
            break
    return chosen


def _windows(graph: Conflicts, windows: Windows, turn: int) -> tuple[Ints, Floats]:
    """Window of each tree, -1 between windows, and how far along its window it lies."""
    angle = np.radians(TURN_DEG * turn)
    along = (graph.at @ np.array([np.cos(angle), np.sin(angle)])) / graph.within_m
    across = (graph.at @ np.array([-np.sin(angle), np.cos(angle)])) / graph.within_m
    apart = 1.0 + 1e-6
    column, row = (along - along.min()) / (windows.long + apart), (across - across.min()) / (windows.wide + apart)
    column, row = column + turn * GOLDEN % 1, row + turn * GOLDEN**2 % 1
    inside = (column % 1 < windows.long / (windows.long + apart)) & (row % 1 < windows.wide / (windows.wide + apart))
    number = np.floor(column).astype(np.int64) * (int(row.max(initial=0)) + 1) + np.floor(row).astype(np.int64)
    _, number = np.unique(number, return_inverse=True)
    return np.where(inside, number, -1), along
