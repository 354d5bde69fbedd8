"""Which trees stand too close to each other to be chosen both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.int32]

JUST = 1e-9
"""Part of the least distance by which two trees may fall short of it and still be far enough apart (rounding)."""

RANK_BITS = 32
"""The rank of a tree takes up so many bits of a number, and the tree it stands beside those above."""


@dataclass(frozen=True, eq=False)
class Conflicts:
    """Trees and which of them bar each other. It is worked through quickest where neighbours come near each other.

    Attributes
    ----------
    at : ndarray, shape (n, 2)
        Where they stand. [m]
    worth : ndarray, shape (n,)
        What each is worth.
    within_m : float
        Two trees this close or closer bar each other. [m]
    pairs : ndarray of int64, shape (p, 2)
        Trees that bar each other, each pair once, the lower number first.
    rank : ndarray of int64, shape (n,)
        Place of each tree if all were sorted by worth, the worthiest first.
    """

    at: Floats
    worth: Floats
    within_m: float
    pairs: Ints
    rank: Ints

    def __len__(self) -> int:
        return len(self.worth)

    @property
    def crowding(self) -> float:
        """How much closer trees stand than in most stands: about 1 up to 8 to the square of the least distance."""
        in_square = 2.0 * len(self.pairs) / max(len(self), 1) / np.pi
        return max(in_square / 8.0, 1.0)

    @cached_property
    def by_rank(self) -> Ints:
        """Trees by their rank, shape (n,)."""
        out = np.empty(len(self), np.int64)
        out[self.rank] = np.arange(len(self))
        return out

    @cached_property
    def joined(self) -> Any:
        """The pairs as a symmetric sparse matrix; the neighbours of a tree are sorted by their rank."""
        from scipy.sparse import csr_array  # noqa: PLC0415

        one, other = self.pairs.T
        key = np.concatenate([(one << RANK_BITS) | self.rank[other], (other << RANK_BITS) | self.rank[one]])
        key.sort()
        near = self.by_rank.astype(np.int32)[key & (2**RANK_BITS - 1)]
        count = np.bincount(key >> RANK_BITS, minlength=len(self))
        starts = np.concatenate([[0], np.cumsum(count)]).astype(np.int32)
        return csr_array((np.ones(len(key), np.int8), near, starts), (len(self), len(self)))

    @property
    def starts(self) -> Ints:
        """Where the neighbours of each tree begin in `neighbours`, and where the last end, shape (n + 1,)."""
        return self.joined.indptr

    @property
    def neighbours(self) -> Ints:
        """Trees that each tree bars, one tree after the other, shape (2 p,)."""
        return self.joined.indices

    @cached_property
    def part(self) -> Ints:
        """Number of the connected part that each tree belongs to, shape (n,)."""
        some = np.flatnonzero(np.diff(self.starts))  # joined to the worthiest and the least worthy that it bars
        ends = np.concatenate([self.neighbours[self.starts[some]], self.neighbours[self.starts[some + 1] - 1]])
        part = joined_parts(np.tile(some, 2), ends, len(self))
        one, other = part[self.pairs.T]
        apart = np.flatnonzero(one != other)
        return joined_parts(one[apart], other[apart], int(part.max(initial=-1)) + 1)[part]


def joined_parts(one: Ints | Places, other: Ints | Places, count: int) -> Ints:
    """Return the number of the connected part of each of so many that are joined in pairs, shape (count,)."""
    from scipy.sparse import csr_array  # noqa: PLC0415
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    joined = csr_array((np.ones(len(one), np.int8), (one, other)), (count, count))
    return np.asarray(connected_components(joined, directed=False)[1], np.int64)


def conflicts_of(at: Floats, worth: Floats, least_m: float) -> Conflicts:
    """Find the trees that stand closer than the least distance."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    within = least_m * (1 - JUST)
    pairs = np.zeros((0, 2), np.int64)
    if len(at) > 1 and within > 0:
        tree = cKDTree(at, compact_nodes=False, balanced_tree=False)
        pairs = np.asarray(tree.query_pairs(within, output_type="ndarray"), np.int64, order="F")  # column by column
    rank = np.empty(len(worth), np.int64)
    rank[np.argsort(-worth, kind="stable")] = np.arange(len(worth))
    return Conflicts(at, worth, within, pairs, rank)


def pair_count(at: Floats, within_m: float) -> int:
    """Return about how many pairs stand so close, without listing them: from the trees of cells of that size."""
    if len(at) < 2 or within_m <= 0:
        return 0
    cell = np.floor((at - at.min(axis=0)) / within_m)
    _, counts = np.unique(cell[:, 0] * (cell[:, 1].max() + 1) + cell[:, 1], return_counts=True)
    return int((counts.astype(np.float64) ** 2).sum() * 1.6)
