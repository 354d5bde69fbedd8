"""The trees of each block, kept so that an edit changes only those of the blocks that it touched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.splice import Moves
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.tree_index import PLACE_BITS

Ints = NDArray[np.int64]
Places = NDArray[np.intp]


Moved = dict[int, tuple[Places, Places]]
"""Rows of the trees that blocks lost and won, by id of the block."""

MOST_MOVED = 10_000
"""So many trees that changed their block are kept apart before all are put together again."""


class Members:
    """Which block each tree stands in, and the trees of each block.

    Parameters
    ----------
    block : ndarray of int64, shape (n,)
        Id of the block that each row of ``farm.trees`` stands in, or `NO_BLOCK`.
    """

    def __init__(self, block: Ints) -> None:
        self._first = block
        self._moved: Mapping[int, int] = {}
        self._changed: Mapping[int, Places] = {}
        self._sorted: list[tuple[Places, dict[int, tuple[int, int]]]] = []

    def __len__(self) -> int:
        return len(self._first)

    @cached_property
    def block(self) -> Ints:
        """Id of the block that each row of ``farm.trees`` stands in, or `NO_BLOCK`. Shape (n,)."""
        if not self._moved:
            return self._first
        out = self._first.copy()
        out[np.fromiter(self._moved, np.intp)] = np.fromiter(self._moved.values(), np.int64)
        return out

    @cached_property
    def inside(self) -> int:
        """How many trees stand in any block."""
        return int((self.block != NO_BLOCK).sum())

    def block_at(self, rows: Places) -> Ints:
        """Block of some rows of ``farm.trees``, without putting together that of all. Shape (k,)."""
        out = self._first[rows]
        if self._moved:
            for number, row in enumerate(rows.tolist()):
                out[number] = self._moved.get(row, out[number])
        return out

    def trees_of(self, block: int) -> Places:
        """Rows of ``farm.trees`` that stand in a block, increasing."""
        found = self._changed.get(block)
        if found is not None:
            return found
        order, slices = self._by_block()
        begin, end = slices.get(block, (0, 0))
        return order[begin:end]

    def trees_of_each(self, blocks: Iterable[int]) -> tuple[Places, Ints]:
        """Rows of the trees of several blocks one after the other, and where each block begins and the last ends."""
        parts = [self.trees_of(int(block)) for block in blocks]
        starts = np.zeros(len(parts) + 1, np.int64)
        np.cumsum([len(part) for part in parts], out=starts[1:])
        return (np.concatenate(parts) if parts else np.empty(0, np.intp)), starts

    def moved(self, rows: Places, found: Ints) -> tuple[Members, Moved]:
        """Return these members after some trees were looked at again, and the trees that blocks lost and won.

        Parameters
        ----------
        rows : ndarray of int, shape (k,)
            Rows of the trees, each once.
        found : ndarray of int64, shape (k,)
            Block that each of them stands in now.
        """
        was = self.block_at(rows)
        other = (was != found).nonzero()[0]
        if not len(other):
            return self, {}
        if len(other) > 1:
            other = other[rows[other].argsort()]
        rows, was, found = rows[other], was[other], found[other]
        changed, each = dict(self._changed), {}
        for one in {*was.tolist(), *found.tolist()} - {NO_BLOCK}:
            here = self.trees_of(one)
            lost, won = rows[was == one], rows[found == one]
            if len(lost):
                stay = np.ones(len(here), bool)
                stay[here.searchsorted(lost)] = False
                here = here[stay]
            if len(won):
                here = np.concatenate([here, won])
                here.sort(kind="stable")  # which joins runs that are sorted
            changed[one], each[one] = here, (lost, won)
        out = Members(self._first)
        out._changed, out._sorted = changed, self._sorted
        out._moved = {**self._moved, **dict(zip(rows.tolist(), found.tolist(), strict=True))}
        if "inside" in self.__dict__:
            out.__dict__["inside"] = self.inside + int((found != NO_BLOCK).sum()) - int((was != NO_BLOCK).sum())
        if len(out._moved) > MOST_MOVED:
            out._first, out._moved = out.block, {}
        return out, each

    def after(self, moves: Moves) -> Members:
        """Return these members after rows of ``farm.trees`` were taken out and put in; the new ones are in no block."""
        changed = dict(self._changed)
        lost = self.block_at(moves.gone)
        for one in set(lost.tolist()) - {NO_BLOCK}:
            here = self.trees_of(one)
            changed[one] = here[~np.isin(here, moves.gone[lost == one])]
        order, slices = self._by_block()
        out = Members(moves.spliced(self._first, np.full(len(moves.at), NO_BLOCK)))
        out._changed = {one: moves.places(here) for one, here in changed.items()}
        out._sorted = [(moves.places(order), slices)]
        gone = set(moves.gone.tolist())
        kept = {row: block for row, block in self._moved.items() if row not in gone}
        rows = moves.places(np.array(list(kept), np.intp))
        out._moved = dict(zip(rows.tolist(), kept.values(), strict=True))
        if "inside" in self.__dict__:
            out.__dict__["inside"] = self.inside - int((lost != NO_BLOCK).sum())
        return out

    def _by_block(self) -> tuple[Places, dict[int, tuple[int, int]]]:
        """All rows sorted by block as they were before any change, and the slice of each block."""
        if not self._sorted:
            ids, code = _codes(self._first)
            packed = (code << PLACE_BITS) | np.arange(len(code))
            packed.sort()
            order = packed & ((1 << PLACE_BITS) - 1)
            counts = np.bincount(code, minlength=len(ids))
            ends = np.cumsum(counts)
            slices = zip((ends - counts).tolist(), ends.tolist(), strict=True)
            self._sorted.append((order, dict(zip(ids.tolist(), slices, strict=True))))
        return self._sorted[0]


def _codes(block: Ints) -> tuple[Ints, Ints]:
    """Ids that occur, increasing, and the number of each row's id among them."""
    top = int(block.max(initial=0))
    if top < 1 << (62 - PLACE_BITS):
        return np.arange(NO_BLOCK, top + 1), block - NO_BLOCK
    ids, code = np.unique(block, return_inverse=True)
    return ids, code
