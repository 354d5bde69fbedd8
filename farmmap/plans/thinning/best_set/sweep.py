"""The sweep: goes over pieces of ground side by side, tree by tree, and keeps the choices that can still be the best.

What was chosen behind the sweep matters to the trees before it only by which of them it bars. Of all choices that bar
the same trees the worthiest is kept (R. Bellman's principle), and only while the prices say that it can still come out
better than the best choice known. Where more are left than there is room for, those with the highest hopes are kept;
where that never happens, the choice that comes out is the best there is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques
from farmmap.plans.thinning.best_set.conflicts import Conflicts
from farmmap.plans.thinning.best_set.prices import Prices

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Words = NDArray[np.uint64]

ONE, TOP = np.uint64(1), np.uint64(63)
BITS = 64
_MIX, _PIECE_AT, _MIXED_TO = np.uint64(0x9E3779B97F4A7C15), np.uint64(40), np.uint64(24)
"""Bits are mixed by multiplying with 2⁶⁴ ÷ the golden ratio, so that rows that bar the same are found by one number."""

NEAR = 1e-9
"""Hopes that are no higher than what is known by so little are none (rounding of sums)."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Trees of pieces of ground, no two of different pieces barring each other.

    Attributes
    ----------
    tree : ndarray of int64, shape (m,)
        Trees, piece after piece, in the order of the sweep.
    start : ndarray of int64, shape (p + 1,)
        Where each piece begins, and where the last ends; pieces of more trees first.
    """

    tree: Ints
    start: Ints

    def __len__(self) -> int:
        return len(self.start) - 1


@dataclass(frozen=True, eq=False)
class Swept:
    """What a sweep came to, for each piece. Arrays have shape (p,) but ``chosen``.

    Attributes
    ----------
    chosen : ndarray of bool, shape (m,)
        Which trees are chosen, in the order of the pieces' trees; none in pieces where nothing better was found.
    worth : ndarray
        What they are worth; -inf where nothing better was found.
    bound : ndarray
        No choice is worth more than this or the best known before, whichever is more.
    """

    chosen: Bools
    worth: Floats
    bound: Floats


def pieces_along(piece: Ints, along: Floats) -> Pieces:
    """Return pieces in the order of a sweep.

    Parameters
    ----------
    piece : ndarray of int64, shape (n,)
        Piece of each tree; -1 for none.
    along : ndarray, shape (n,)
        How far along the sweep each tree lies.
    """
    inside = np.flatnonzero(piece >= 0)
    size = np.bincount(piece[inside])
    rank = np.empty(len(size), np.int64)
    order = np.argsort(-size, kind="stable")
    rank[order] = np.arange(len(size))
    tree = inside[np.lexsort((along[inside], rank[piece[inside]]))]
    size = size[order]
    return Pieces(tree, np.concatenate([[0], np.cumsum(size[size > 0])]).astype(np.int64))


def swept(graph: Conflicts, cliques: Cliques, prices: Prices, pieces: Pieces, best: Floats, most: int) -> Swept:
    """Find the best choice in each piece.

    Parameters
    ----------
    graph : Conflicts
        The trees.
    cliques, prices
        Of all trees; what lies outside the pieces is passed over.
    pieces : Pieces
        The pieces.
    best : ndarray, shape (p,)
        Worth of the best choice known in each piece; only what is worth more is looked for.
    most : int
        How many choices are kept for each piece.
    """
    return _Sweep(graph, cliques, prices, pieces).run(best, most)


class _Sweep:
    """Tables by tree in the order of the sweep, and the rows that are kept."""

    def __init__(self, graph: Conflicts, cliques: Cliques, prices: Prices, pieces: Pieces) -> None:
        self.pieces = pieces
        count = len(pieces.tree)
        place = np.full(len(graph), -1, np.int64)
        place[pieces.tree] = np.arange(count)
        self.worth = graph.worth[pieces.tree]
        self.beyond, self.over = prices.tree[pieces.tree], prices.over[pieces.tree]
        ends = place[graph.pairs]
        ends = ends[(ends >= 0).all(axis=1)]
        low, high = ends.min(axis=1), ends.max(axis=1)
        ahead = high - low - 1
        self.words = int(ahead.max(initial=0) + 1) // BITS + 1
        self.bars = np.zeros((count, self.words), np.uint64)
        np.bitwise_or.at(self.bars, (low, ahead // BITS), ONE << (ahead % BITS).astype(np.uint64))
        self._lay_out_cliques(cliques, prices, place, count)

    def _lay_out_cliques(self, cliques: Cliques, prices: Prices, place: Ints, count: int) -> None:
        """Each clique with a price is settled at its last tree: the price is lost where none of it was chosen."""
        of = cliques.of_member
        at = place[cliques.member]
        there = (at >= 0) & (prices.clique[of] > 0)
        of, at = of[there], at[there]
        last = np.full(len(cliques), -1, np.int64)
        np.maximum.at(last, of, at)
        used = np.flatnonzero(last >= 0)
        used = used[np.argsort(last[used], kind="stable")]
        number = np.full(len(cliques), -1, np.int64)
        number[used] = np.arange(len(used))
        back = last[of] - at
        earlier = back > 0
        self.holds = np.zeros((len(used), self.words), np.uint64)
        bit = ONE << (back[earlier] % BITS).astype(np.uint64)
        np.bitwise_or.at(self.holds, (number[of[earlier]], back[earlier] // BITS), bit)
        self.price = prices.clique[used]
        settled = np.bincount(last[used], minlength=count)
        self.first_clique = np.concatenate([[0], np.cumsum(settled)])
        self.most_cliques = int(settled.max(initial=0))
        hopes = np.bincount(last[used], self.price, count) + self.beyond if count else np.zeros(0)
        self.hope = np.add.reduceat(hopes, self.pieces.start[:-1]) if len(self.pieces) else np.zeros(0)

    def run(self, best: Floats, most: int) -> Swept:
        start, size = self.pieces.start, np.diff(self.pieces.start)
        count = len(size)
        piece = np.arange(count)
        barred, chosen = np.zeros((count, self.words), np.uint64), np.zeros((count, self.words), np.uint64)
        worth, lost = np.zeros(count), np.zeros(count)
        left_out = np.full(count, -np.inf)
        most_lost = self.hope - best - NEAR * np.maximum(np.abs(best), 1.0)
        history: list[tuple[NDArray[np.int32], Bools]] = []
        final, final_row = np.full(count, -np.inf), np.zeros(count, np.int64)
        for step in range(int(size.max(initial=0))):
            tree = start[piece] + step
            chosen = _up(chosen)
            lost_without = lost + self.beyond[tree]
            for turn in range(self.most_cliques):
                clique = self.first_clique[tree] + turn
                some = np.flatnonzero(clique < self.first_clique[tree + 1])
                if not len(some):
                    break
                held = (chosen[some] & self.holds[clique[some]]).any(axis=1)
                lost_without[some] += np.where(held, 0.0, self.price[clique[some]])
            free = np.flatnonzero((barred[:, 0] & ONE) == 0)
            ahead = _down(barred)
            with_lost = lost[free] + self.over[tree[free]]
            all_lost = np.concatenate([lost_without, with_lost])
            parent = np.concatenate([np.arange(len(piece)), free])
            hopeful = np.flatnonzero(all_lost < most_lost[piece[parent]])
            parent, is_with, lost = parent[hopeful], hopeful >= len(piece), all_lost[hopeful]
            with_it = np.flatnonzero(is_with)
            of = tree[parent[with_it]]
            barred, chosen, worth, piece = ahead[parent], chosen[parent], worth[parent], piece[parent]
            barred[with_it] |= self.bars[of]
            chosen[with_it, 0] |= ONE
            worth[with_it] += self.worth[of]
            kept = _worthiest(piece, barred, worth)
            kept = _most_hopeful(kept, piece, lost, most, left_out, self.hope)
            history.append((parent[kept].astype(np.int32), is_with[kept]))
            piece, barred, chosen, worth, lost = piece[kept], barred[kept], chosen[kept], worth[kept], lost[kept]
            going = int(np.searchsorted(-size, -(step + 1)))  # pieces of more trees than the sweep has seen
            done = int(np.searchsorted(piece, going))
            if done < len(piece):
                rows = np.arange(done, len(piece))
                rows = rows[np.lexsort((-worth[rows], piece[rows]))]
                rows = rows[np.concatenate([[True], np.diff(piece[rows]) != 0])]
                final[piece[rows]], final_row[piece[rows]] = worth[rows], rows
                piece, barred, chosen = piece[:done], barred[:done], chosen[:done]
                worth, lost = worth[:done], lost[:done]
            if not len(piece):
                break
        return Swept(self._traced(history, final, final_row), final, np.maximum(left_out, final))

    def _traced(self, history: list[tuple[NDArray[np.int32], Bools]], final: Floats, row: Ints) -> Bools:
        """Follow the rows that came out best back to where they began."""
        start, size = self.pieces.start, np.diff(self.pieces.start)
        out = np.zeros(len(self.pieces.tree), bool)
        found = np.isfinite(final)
        row = row.copy()
        for step in range(len(history) - 1, -1, -1):
            parent, is_with = history[step]
            some = np.flatnonzero(found[: int(np.searchsorted(-size, -step))])
            out[start[some] + step] = is_with[row[some]]
            row[some] = parent[row[some]]
        return out


def _up(bits: Words) -> Words:
    """Move the bits of rows up by one place."""
    out = bits << ONE
    out[:, 1:] |= bits[:, :-1] >> TOP
    return out


def _down(bits: Words) -> Words:
    """Move the bits of rows down by one place."""
    out = bits >> ONE
    out[:, :-1] |= bits[:, 1:] << TOP
    return out


def _worthiest(piece: Ints, barred: Words, worth: Floats) -> Ints:
    """Of rows that bar the same in a piece, the worthiest, the earlier of equals; sorted by piece."""
    if not len(piece):
        return piece
    mixed = barred[:, 0] * _MIX
    for word in range(1, barred.shape[1]):
        mixed = (mixed ^ barred[:, word]) * _MIX
    key = (piece.astype(np.uint64) << _PIECE_AT) | (mixed >> _MIXED_TO)
    order = np.argsort(key)  # like rows come together; should others by chance lie between them, both are kept
    sorted_ = barred[order]
    other = np.concatenate([[True], (np.diff(key[order]) != 0) | (sorted_[1:] != sorted_[:-1]).any(axis=1)])
    begin = np.flatnonzero(other)
    if len(begin) == len(order):
        return order
    run = np.cumsum(other) - 1
    most = np.maximum.reduceat(worth[order], begin)
    return np.minimum.reduceat(np.where(worth[order] == most[run], order, len(order)), begin)


def _most_hopeful(kept: Ints, piece: Ints, lost: Floats, most: int, left_out: Floats, hope: Floats) -> Ints:
    """Of the rows of each piece those with the highest hopes, no more than ``most``; note the best that is left out."""
    of = piece[kept]
    count = np.bincount(of) if len(of) else np.zeros(0, np.int64)
    if not len(count) or count.max() <= most:
        return kept
    order = np.lexsort((lost[kept], of))
    begin = np.cumsum(count) - count
    rank = np.arange(len(kept)) - begin[of]
    out = order[rank >= most]
    np.maximum.at(left_out, of[out], hope[of[out]] - lost[kept[out]])
    return kept[np.sort(order[rank < most])]
