"""A choice among very many trees, made better again and again: it is crossed with another one.

The other choice is made of the trees that come nearest to being worth more than those they bar. Where trees of the two
bar each other, in groups that hang together, each group keeps the side that is worth more; trees of either choice that
are worth more than all they bar, or less, are settled before, so that groups are small.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.conflicts import Conflicts, joined_parts
from farmmap.plans.thinning.best_set.prices import Prices

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Places = NDArray[np.int32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

TURNS = 10
"""How many times a choice is crossed with another at most."""

LEAST_GAIN = 5e-4
"""After a turn that makes a choice worth more by less than this part of it, only one more is taken."""

LOST, SHARE = 0.5, 0.5
"""How much the trees barred count against a tree, and its share beside the middle worth for it. Found by trying."""

LEAST_STIR, STIR = 0.01, 0.25
"""How much chance counts beside the middle worth, in the first choice and later. Found by trying."""

SHORT = 0.5
"""A tree that by its score falls short by more than this part of its worth is not tried."""

HOPELESS = 0.15
"""Trees whose prices are more than their worth by this part of it are passed over, but in the last turn."""

SETTLED = 3
"""How many times trees are settled before groups are formed of those that are left."""


def exchanged(graph: Conflicts, prices: Prices, turns: int = TURNS) -> Bools:
    """Return a good choice, better with each turn. The same trees give the same choice.

    Parameters
    ----------
    graph : Conflicts
        The trees.
    prices : Prices
        What speaks for each of them.
    turns : int
        How many times the choice is crossed with another.
    """
    worth = graph.worth
    hopeful = prices.over <= HOPELESS * worth
    one, other = graph.pairs.T
    both = np.flatnonzero(hopeful[one] & hopeful[other])
    one, other = one[both], other[both]
    draw = np.random.default_rng(len(graph))
    middle = float(np.median(worth))

    def stirred(score: Floats, by: float) -> Singles:
        return (score + by * middle * draw.standard_normal(len(graph), np.float32)).astype(np.float32)

    chosen = in_turn(one, other, stirred(prices.share * worth, LEAST_STIR), hopeful)
    gain = np.inf
    for turn in range(turns):
        last = turn == turns - 1 or gain < LEAST_GAIN * worth[chosen].sum()
        if last:  # in the end no tree is passed over, and worth alone counts
            (one, other), hopeful = graph.pairs.T, np.ones(len(graph), bool)
        barred, by = _barred(graph, chosen)
        score = worth - LOST * np.bincount(barred, worth[by], len(graph))
        if not last:
            score = stirred(score + SHARE * middle * prices.share, STIR)
        rival = in_turn(one, other, score, ~chosen & hopeful & (score > -SHORT * worth))
        across = rival[barred]
        crossed = _crossed(worth, chosen, rival, by[across], barred[across])
        gain = float(worth[crossed].sum() - worth[chosen].sum())
        if gain >= 0.0:
            chosen = crossed
        if last:
            break
    return chosen


def in_turn(one: Ints, other: Ints, score: Floats | Singles | Ints, open_: Bools) -> Bools:
    """Choose in turn the tree with the highest score of those not barred yet; return which are chosen, shape (n,).

    Parameters
    ----------
    one, other : ndarray of int, shape (p,)
        Pairs of trees that bar each other, the lower number first.
    score : ndarray, shape (n,)
        The higher the earlier; of equals the one with the lower number.
    open_ : ndarray of bool, shape (n,)
        Which trees may be chosen.
    """
    open_ = open_.copy()
    left = np.flatnonzero(open_[one] & open_[other])
    one, other = one[left], other[left]
    after = np.where(score[one] < score[other], one, other)
    before = one + other - after
    chosen = np.zeros(len(open_), bool)
    while True:
        now = open_.copy()
        now[after] = False  # all whose open neighbours come after them, at once
        chosen |= now
        if not len(before):
            return chosen
        open_ ^= now
        open_[after[np.flatnonzero(now[before])]] = False
        left = np.flatnonzero(open_[before] & open_[after])
        before, after = before[left], after[left]


def _barred(graph: Conflicts, chosen: Bools) -> tuple[Places, Places]:
    """Trees barred by those chosen, and which of the chosen bars each."""
    tree = np.flatnonzero(chosen).astype(np.int32)
    begin = graph.starts[tree]
    count = graph.starts[tree + 1] - begin
    place = np.arange(int(count.sum())) + np.repeat(begin - (np.cumsum(count) - count), count)
    return graph.neighbours[place], np.repeat(tree, count)


def _crossed(worth: Floats, chosen: Bools, rival: Bools, own: Places, theirs: Places) -> Bools:
    """Return a set among the trees of two choices that have none in common, worth no less than either.

    Chosen trees and rivals that bar each other are given in pairs.
    """
    out = chosen | rival
    for _ in range(SETTLED):
        held = np.bincount(own, worth[theirs], len(worth)) < worth  # a chosen tree worth more than all that it bars
        own, theirs = _without(out, theirs[held[own]], own, theirs)
        won = np.bincount(theirs, worth[own], len(worth)) <= worth
        theirs, own = _without(out, own[won[theirs]], theirs, own)
    group = joined_parts(own, theirs, len(worth))
    gain = np.bincount(group, np.where(chosen, -worth, worth) * out)
    clash = np.zeros(len(worth), bool)
    clash[own] = clash[theirs] = True
    return np.where(clash, (gain >= 0)[group] != chosen, out)


def _without(out: Bools, lost: Places, other: Places, side: Places) -> tuple[Places, Places]:
    """Leave trees out, and return the pairs in which none of them is."""
    out[lost] = False
    left = np.flatnonzero(out[side])
    return other[left], side[left]
