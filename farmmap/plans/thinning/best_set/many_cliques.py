"""Cliques among very many trees: found quickly, and not for every pair; pairs left out only loosen the bound.

Round each tree its neighbours are numbered, the worthiest first, and a set of them is the bits of one whole number.
Such sets are cut down step by step for thousands of trees at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques
from farmmap.plans.thinning.best_set.conflicts import Conflicts

Floats = NDArray[np.float32]
Places = NDArray[np.int32]
Ints = NDArray[np.int64]
Words = NDArray[np.uint64]

SEEDS = (3, 2)
"""Cliques begun from each tree at most, each with a neighbour that is in none yet; the second for many neighbours."""

FEW_NEAR, MOST_NEAR = 24, 48
"""More neighbours are many; cliques are made of so many, the worthiest."""

AT_ONCE = 131_072
"""Neighbours worked through at a time, so that all stays in quick memory."""

SURELY = 1 - 1e-6
"""Trees are put together that are closer than the least distance by this part, as offsets are rounded to floats."""

ONE = np.uint64(1)


def many_cliques_of(graph: Conflicts) -> Cliques:
    """Return cliques of trees some of which bar each other; every tree which bars another is in one at least.

    From each tree they begin with neighbours less worthy than itself, as the
    worthier ones begin their own; each grows by the worthiest tree that bars
    all in it, again and again.
    """
    count = np.minimum(np.diff(graph.starts), MOST_NEAR)
    order = np.argsort(count.astype(np.uint8), kind="stable")  # trees of about as many neighbours, at one time
    count = count[order]
    at = np.ascontiguousarray(graph.at.T / graph.within_m)
    rank = graph.rank.astype(np.int32)
    found: list[Places] = []
    begin = int(np.searchsorted(count, 1))
    while begin < len(order):
        wide = -(-int(count[begin]) // 8) * 8
        end = min(int(np.searchsorted(count, wide, side="right")), begin + AT_ONCE // wide)
        tree, own = order[begin:end, None], count[begin:end]
        near = graph.neighbours.take(graph.starts[tree] + np.minimum(np.arange(wide), own[:, None] - 1))
        worthier = np.sum(rank.take(near) < rank[tree], axis=1)
        east, north = ((axis.take(near) - axis[tree]).astype(np.float32) for axis in at)
        found += _grown(tree[:, 0].astype(np.int32), near, east, north, own, worthier)
        begin = end
    return _distinct(found, len(graph))


def _grown(tree: Places, near: Places, east: Floats, north: Floats, count: Ints, worthier: Ints) -> list[Places]:
    """Return cliques as rows of members, -1 where there are no more.

    Parameters
    ----------
    tree : ndarray of int32, shape (t,)
        Trees.
    near : ndarray of int32, shape (t, w)
        Their neighbours, the worthiest first; past their number anything.
    east, north : ndarray of float32, shape (t, w)
        How far the neighbours lie off their trees, in least distances.
    count, worthier : ndarray of int, shape (t,)
        How many neighbours there are, and how many are worthier than the tree.
    """
    everyone = ~np.uint64(0) >> (64 - count).astype(np.uint64)
    lesser = everyone & (~np.uint64(0) << np.minimum(worthier, 63).astype(np.uint64))
    left = np.where(lesser == 0, ONE, lesser)  # begins from the worthiest where none is less worthy
    flat, wide = near.ravel(), near.shape[1]
    out = []
    for _ in range(SEEDS[wide > FEW_NEAR]):
        row = np.flatnonzero(left)
        clique = np.arange(len(row))
        to_add, lowest = everyone.take(row), _lowest(left.take(row))
        columns = [tree.take(row)]
        while len(row):
            number = np.bitwise_count(lowest - ONE).astype(np.int64)
            column = np.full(len(columns[0]), -1, np.int32)
            column[clique] = flat.take(row * wide + number)
            columns.append(column)
            left[row] = left.take(row) & ~lowest
            to_add = to_add & ~lowest & _barred(east, north, row, number)
            going = np.flatnonzero(to_add)
            row, clique, to_add = row.take(going), clique.take(going), to_add.take(going)
            lowest = _lowest(to_add)
        out.append(np.stack(columns, axis=1))
    return out


def _lowest(bits: Words) -> Words:
    """Only the lowest bit of each set of bits."""
    return bits & (~bits + ONE)


def _barred(east: Floats, north: Floats, row: Ints, number: Ints) -> Words:
    """Which neighbours of a tree surely bar one of them, as bits."""
    if len(row) < len(east):
        east, north = east.take(row, axis=0), north.take(row, axis=0)
    wide = east.shape[1]
    place = np.arange(0, east.size, wide) + number
    off_e, off_n = (axis - axis.ravel().take(place)[:, None] for axis in (east, north))
    off_e *= off_e
    off_n *= off_n
    off_e += off_n
    bits = np.zeros((len(row), 8), np.uint8)
    bits[:, : wide // 8] = np.packbits(off_e.ravel() < np.float32(SURELY), bitorder="little").reshape(-1, wide // 8)
    return bits.view("<u8")[:, 0]


def _distinct(found: list[Places], trees: int) -> Cliques:
    """Return the cliques without those of the same trees."""
    there = [rows >= 0 for rows in found]
    size = np.concatenate([np.sum(inside, axis=1) for inside in there])
    member = np.concatenate([rows[inside] for rows, inside in zip(found, there, strict=True)])
    signs = np.random.default_rng(trees).integers(0, 2**32, trees, np.uint64)
    sums = np.add.reduceat(signs.take(member), np.cumsum(size) - size) << np.uint64(32)
    key = np.sort(sums | np.arange(len(sums), dtype=np.uint64))
    first = key[np.concatenate([[True], np.diff(key >> np.uint64(32)) != 0])]
    kept = np.zeros(len(size), bool)  # two that clash by chance only loosen the bound
    kept[first & np.uint64(2**32 - 1)] = True
    member = member[np.repeat(kept, size)]
    return Cliques(member.astype(np.int64), np.concatenate([[0], np.cumsum(size[kept])]).astype(np.int64))
