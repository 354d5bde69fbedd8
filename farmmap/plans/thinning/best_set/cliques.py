"""Cliques: trees of which any two stand too close, so that no set holds more than one of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.conflicts import Conflicts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUNDS = 3
"""In each round every tree is the seed of one clique; then each pair that is in none yet."""


@dataclass(frozen=True, eq=False)
class Cliques:
    """Cliques, one after the other.

    Attributes
    ----------
    member : ndarray of int64, shape (m,)
        Trees.
    start : ndarray of int64, shape (k + 1,)
        Where each clique begins, and where the last ends.
    """

    member: Ints
    start: Ints

    def __len__(self) -> int:
        return len(self.start) - 1

    @property
    def of_member(self) -> Ints:
        """Number of the clique of each member, shape (m,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.start))


def cliques_of(graph: Conflicts) -> Cliques:
    """Return cliques in which every pair of trees that bar each other is found together.

    A pair grows by the worthiest tree that bars all in it, again and again.
    In each round every tree starts from the worthiest neighbour with which it
    is in no clique yet; what is left of pairs then grows at once.
    """
    pairs = graph.pairs
    if not len(pairs):
        return Cliques(np.zeros(0, np.int64), np.zeros(1, np.int64))
    key = np.sort(pairs[:, 0] * len(graph) + graph.rank[pairs[:, 1]])
    low, rank = np.divmod(key, len(graph))
    high = graph.by_rank[rank]
    covered = np.zeros(len(key), bool)
    found: list[tuple[Ints, Ints]] = []
    count = 0
    for turn in range(ROUNDS + 1):
        seeds = np.flatnonzero(~covered)
        if turn < ROUNDS:  # each tree once, with the worthiest of its neighbours that are left
            seeds = seeds[_begins(low[seeds])]
        if not len(seeds):
            break
        clique, member = _grown(graph, low[seeds], high[seeds])
        clique, member = _distinct(clique, member, len(graph))
        covered[_pairs_in(clique, member, key, graph.rank)] = True
        found.append((clique + count, member))
        count += int(clique.max()) + 1
    clique = np.concatenate([one for one, _ in found])
    member = np.concatenate([one for _, one in found])
    clique, member = _distinct(clique, member, len(graph))
    return Cliques(member, np.concatenate([[0], np.cumsum(np.bincount(clique))]).astype(np.int64))


def _begins(values: Ints) -> Ints:
    """Places at which sorted values change."""
    return np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1]])[: len(values)])


def _grown(graph: Conflicts, one: Ints, other: Ints) -> tuple[Ints, Ints]:
    """Grow pairs to cliques that no tree can be added to; return clique and member, sorted by clique."""
    count = np.diff(graph.starts)[one]
    clique = np.repeat(np.arange(len(one)), count)
    begin = np.repeat(graph.starts[one] - (np.cumsum(count) - count), count)
    tree = graph.neighbours[np.arange(len(clique)) + begin]
    east, north = graph.at.T
    within = graph.within_m**2

    def near(clique: Ints, tree: Ints, grown_by: Ints) -> tuple[Ints, Ints]:
        by = grown_by[clique]
        off_e, off_n = east[tree] - east[by], north[tree] - north[by]
        keep = (off_e * off_e + off_n * off_n < within * (1 - 1e-12)) & (tree != by)
        return clique[keep], tree[keep]

    clique, tree = near(clique, tree, other)
    cliques = [np.arange(len(one)), np.arange(len(one))]
    members = [one, other]
    best = np.full(len(one), -1)
    while len(clique):
        first = _begins(clique)  # neighbours are sorted by rank
        best[clique[first]] = tree[first]
        cliques.append(clique[first])
        members.append(tree[first])
        clique, tree = near(clique, tree, best)
    clique, member = np.concatenate(cliques), np.concatenate(members)
    order = np.argsort(clique * len(graph) + member)
    return clique[order], member[order]


def _distinct(clique: Ints, member: Ints, trees: int) -> tuple[Ints, Ints]:
    """Leave out cliques of the same trees; numbers then run on from 0."""
    signs = np.random.default_rng(trees).integers(1, 2**63, trees, dtype=np.uint64)
    begins = _begins(clique)
    sums = np.add.reduceat(signs[member], begins)  # two that clash by chance only loosen the bound
    _, first = np.unique(sums, return_index=True)
    kept = np.zeros(len(begins), bool)
    kept[first] = True
    each = np.repeat(kept, np.diff(np.append(begins, len(clique))))
    number = np.repeat(np.cumsum(kept) - 1, np.diff(np.append(begins, len(clique))))
    return number[each], member[each]


def _pairs_in(clique: Ints, member: Ints, key: Ints, rank: Ints) -> Ints:
    """Places in ``key`` of all pairs of trees that are in one clique together; members are sorted in each."""
    found = []
    size = np.bincount(clique)
    for step in range(1, int(size.max())):
        same = np.flatnonzero(clique[step:] == clique[:-step])
        found.append(member[same] * len(rank) + rank[member[same + step]])
    return np.searchsorted(key, np.sort(np.concatenate(found)))  # sorted ones are found many times as quickly
