"""Which plant is of which kind: the mix exact to a plant, each kind well scattered over the zone, or in groups.

Plants are taken in the order in which a Hilbert curve (Hilbert 1891,
Mathematische Annalen 38: 459-460) passes them, which keeps near what is near.
Along that order each kind comes at even steps of its own, loosened a little by
chance, as in systematic sampling along such a curve (Stevens and Olsen 2004,
Journal of the American Statistical Association 99: 262-278). Groups are the
leaves of a k-d tree (Bentley 1975, Communications of the ACM 18: 509-517), in
whose order groups of each kind come at even steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput
from farmmap.plans.planting.plan import Floats, Ints

_LOOSE = 0.5
"""How far from its even step a kind may come, in steps; 0 shows as a pattern, 1 lets two of a kind meet often."""

_CURVE_BITS = 16
"""The square around all plants is passed in 2**16 cells a side, 0.3 m for a creek of 20 km."""

_AT_ONCE = 16384
"""Points whose places on the curve are worked out together, so that they stay in the processor's cache."""

_SORT_BITS = 24
"""Bits that sort a plant within its group while groups are halved."""


def exact_counts(total: int, shares: Sequence[float | Fraction]) -> list[int]:
    """Share a whole number out by largest remainder (Hamilton's method; Balinski and Young 1982, Fair Representation).

    Each gets its quota without the fraction; what is left goes one by one to
    the largest fractions, the first listed where they are equal. Shares are
    taken as they are written in decimals, so 0.1 is a tenth.

    Parameters
    ----------
    total : int
        What is shared out, not negative.
    shares : sequence of float or Fraction
        In any unit: what they add up to is the whole.

    Returns
    -------
    list of int
        One for each share; their sum is ``total``.

    Raises
    ------
    BadInput
        A share is negative or no number, or all are nought and there is something to share out.
    """
    try:
        exact = [share if isinstance(share, Fraction) else Fraction(str(float(share))) for share in shares]
    except (ValueError, OverflowError) as error:
        raise BadInput("a share of the mix is no number; give each as a part of 1") from error
    whole = sum(exact)
    if min(exact, default=Fraction(0)) < 0:
        raise BadInput("a share of the mix is below nought; give each as a part of 1")
    if not whole:
        if total:
            raise BadInput("all shares of the mix are nought, so nothing can be planted; give each as a part of 1")
        return [0] * len(exact)
    quotas = [total * share / whole for share in exact]
    counts = [int(quota) for quota in quotas]
    by_rest = sorted(range(len(exact)), key=lambda place: counts[place] - quotas[place])
    for place in by_rest[: total - sum(counts)]:
        counts[place] += 1
    return counts


def mixed(x: ArrayLike, y: ArrayLike, shares: Sequence[float], groups_of: int = 1, seed: int = 1) -> Ints:
    """Return which kind each plant is of.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Where the plants stand. [m]
    shares : sequence of float
        Of each kind; see `exact_counts`.
    groups_of : int
        Plants of one kind that stand together; 1: well scattered.
    seed : int
        Another number, another scatter; the same number, the same.

    Returns
    -------
    ndarray of int, shape (n,)
        Places in ``shares``; each as often as `exact_counts` says.
    """
    east, north = np.asarray(x, np.float64), np.asarray(y, np.float64)
    counts = exact_counts(len(east), shares)
    if max(counts, default=0) == len(east):
        return np.full(len(east), counts.index(len(east)) if counts else 0, np.intp)
    random = np.random.default_rng(seed)
    kinds = np.empty(len(east), np.intp)
    if groups_of <= 1:
        kinds[curve_order(east, north)] = _in_even_steps(counts, random)
        return kinds
    groups = [max(1, round(count / groups_of)) if count else 0 for count in counts]
    kind_of = _in_even_steps(groups, random)
    sizes = np.empty(len(kind_of), np.intp)
    for kind, (count, number) in enumerate(zip(counts, groups, strict=True)):
        if number:
            sizes[kind_of == kind] = np.diff(np.arange(number + 1) * count // number)
    kinds[_halved(east, north, sizes)] = np.repeat(kind_of, sizes)
    return kinds


def curve_order(x: Floats, y: Floats) -> Ints:
    """Return the order in which a Hilbert curve through the square around all points passes them, shape (n,)."""
    if not len(x):
        return np.empty(0, np.intp)
    west, south = x.min(), y.min()
    cells = (2**_CURVE_BITS - 1) / (max(x.max() - west, y.max() - south) or 1.0)
    key = np.empty(len(x), np.uint64)
    for first in range(0, len(x), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        key[some] = _curve_keys(
            ((x[some] - west) * cells).astype(np.int32), ((y[some] - south) * cells).astype(np.int32)
        )
    return _sorted_places(key)


def _curve_keys(column: NDArray[np.int32], row: NDArray[np.int32]) -> NDArray[np.uint64]:
    """Return how far along the curve cells lie, shape (n,)."""
    keys, turned = _curve_table()
    key, state = np.zeros(len(column), np.uint64), np.zeros(len(column), np.int32)
    for shift in range(_CURVE_BITS - 4, -1, -4):
        state |= (column >> shift & 15) << 4
        state |= row >> shift & 15
        key <<= np.uint64(8)
        key |= keys.take(state)
        state = turned.take(state)
    return key


@cache
def _curve_table() -> tuple[NDArray[np.uint64], NDArray[np.int32]]:
    """Return the place on the curve, and its turn after in the bits from the eighth, for four bits of column and row.

    The curve comes in four turns. In each it passes the quarters of a square
    in one order, and has another turn in each quarter.
    """
    passed = ((0, 1, 3, 2), (0, 2, 3, 1), (3, 2, 0, 1), (3, 1, 0, 2))  # quarters by 2 * column + row
    inner = ((1, 0, 0, 3), (0, 1, 1, 2), (3, 2, 2, 1), (2, 3, 3, 0))
    keys, turned = np.zeros(1024, np.uint64), np.zeros(1024, np.int32)
    for place in range(1024):
        state, key = place >> 8, 0
        for bit in (3, 2, 1, 0):
            step = passed[state].index((place >> bit + 4 & 1) * 2 + (place >> bit & 1))
            key, state = key * 4 + step, inner[state][step]
        keys[place], turned[place] = key, state << 8
    return keys, turned


def _sorted_places(key: NDArray[np.uint64]) -> Ints:
    """Return the order of keys below 2**32; where they are equal, the first given comes first."""
    packed = key << np.uint64(32)
    packed |= np.arange(len(key), dtype=np.uint64)
    packed.sort()
    packed &= np.uint64(2**32 - 1)
    return packed.astype(np.intp)


def _in_even_steps(counts: Sequence[int], random: np.random.Generator) -> Ints:
    """Return kinds in a row, each as often as counted and at about even steps of its own, shape (sum of counts,)."""
    total = sum(counts)
    loose = random.random(total, np.float32) * _LOOSE + (1 - _LOOSE) / 2
    wanted, first = np.empty(total), 0
    for count in counts:
        if count:
            wanted[first : first + count] = (np.arange(count) + loose[first : first + count]) * (2.0**31 / count)
        first += count
    return np.repeat(np.arange(len(counts)), counts)[_sorted_places(wanted.astype(np.uint64))]


def _halved(x: Floats, y: Floats, sizes: Ints) -> Ints:
    """Return the order of points group by group: halved across its longer side again and again, to the sizes given."""
    ends = np.concatenate([[0], np.cumsum(sizes)])
    cuts = np.array([0, len(sizes)])  # groups at which pieces begin; the last is the end of all
    order = np.arange(len(x))
    while len(cuts) <= len(sizes):
        starts = ends[cuts[:-1]]
        lengths = np.diff(ends[cuts])
        keys = []
        for values in (x[order], y[order]):
            least = np.minimum.reduceat(values, starts)
            keys.append((values - np.repeat(least, lengths), np.maximum.reduceat(values, starts) - least))
        wide = np.maximum(keys[0][1], keys[1][1])
        along = np.where(np.repeat(keys[0][1] >= keys[1][1], lengths), keys[0][0], keys[1][0])
        along *= np.repeat((2.0**_SORT_BITS - 1) / np.where(wide > 0, wide, 1.0), lengths)
        piece = np.repeat(np.arange(len(starts), dtype=np.uint64), lengths)
        order = _sorted_within(piece, along.astype(np.uint64), order)
        middles = (cuts[:-1] + cuts[1:]) // 2
        cuts = np.unique(np.concatenate([cuts, middles]))
    return order


def _sorted_within(piece: NDArray[np.uint64], along: NDArray[np.uint64], order: Ints) -> Ints:
    """Return ``order`` sorted within each piece."""
    bits = np.uint64(max(len(order) - 1, 1).bit_length())
    packed = (piece << np.uint64(_SORT_BITS) | along) << bits
    packed |= np.arange(len(order), dtype=np.uint64)
    packed.sort()
    packed &= (np.uint64(1) << bits) - np.uint64(1)
    return order[packed.astype(np.intp)]
