"""How near two plants may stand, how many a spacing makes, and leaving out those that came too near."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.plans.planting.places.scatter import SCATTER_DENSITY
from farmmap.plans.planting.recipes.recipe import Pattern, Zone

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
Pairs = NDArray[np.intp]

GIVE = 0.01
"""Two plants may stand this share nearer than their spacing says, and no more."""

MANY_SPACINGS = 6
"""Up to so many different spacings, pairs are looked for one spacing at a time."""

MOST_PATCHES = 32
FEW_PATCHES = 8
ENTRIES = 16
GOLDEN = 0.6180339887
"""Of so many patches those near others are told apart, of few in a smaller table; how many entries a table has for each
place; and how much of it lies between a row of cells and the next, so that rows fall all over it."""


def least_apart_m(zone: Zone) -> float:
    """Distance that two plants of a zone keep at the least: its spacing, in rows the smaller of the two, in m.

    0 for a zone left in grass.
    """
    if zone.pattern is Pattern.NONE:
        return 0.0
    if zone.pattern in (Pattern.ROWS, Pattern.CONTOUR):
        return min(zone.between_m, zone.within_m or zone.between_m)
    return zone.between_m


def plants_per_m2(zone: Zone) -> float:
    """Plants on a square metre of open ground far from its edges.

    Rows: 1 / (between x within). Square: 1 / s². Triangle of sides s: 2 / (√3 s²). Scattered: `SCATTER_DENSITY` / s²,
    with s the least distance. Nothing for a zone left in grass or without a spacing. [1/m²]
    """
    between = zone.between_m
    if between <= 0 or zone.pattern is Pattern.NONE:
        return 0.0
    match zone.pattern:
        case Pattern.ROWS | Pattern.CONTOUR:
            return 1.0 / (between * (zone.within_m or between))
        case Pattern.TRIANGLE:
            return 2.0 / (math.sqrt(3.0) * between**2)
        case Pattern.SCATTERED:
            return SCATTER_DENSITY / between**2
        case _:
            return 1.0 / between**2


def kept_apart(x: Floats, y: Floats, apart: ArrayLike, patch: Ints | None = None) -> Bools:
    """Which plants stay, so that no two stand nearer than the smaller of their spacings less 1 %.

    Of plants that are too near each other the one with the most such neighbours goes, of equals the later one, until
    no pair is left. What happens at one place does not depend on plants elsewhere.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Where they stand, those that matter more first. [grid m]
    apart : array_like, shape (n,) or a number
        Spacing of each. [grid m]
    patch : ndarray of int, shape (n,), optional
        Those of one patch are known to be far enough from one another, so that only pairs of different ones are looked
        for; -1 where that is not known.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    keep = np.ones(len(x), bool)
    if len(x) < 2:
        return keep
    pairs = too_near(np.asarray(x, np.float64), np.asarray(y, np.float64), np.broadcast_to(apart, len(x)), patch)
    while len(pairs):
        near = np.bincount(pairs.ravel(), minlength=len(x))
        rank = near * np.int64(len(x)) + np.arange(len(x))
        worse = pairs[np.arange(len(pairs)), np.argmax(rank[pairs], axis=1)]
        better = pairs.sum(axis=1) - worse
        goes = np.zeros(len(x), bool)
        goes[worse] = True
        goes[better] = False  # only those that are the worse one of all their pairs
        keep &= ~goes
        pairs = pairs[keep[pairs].all(axis=1)]
    return keep


def too_near(x: Floats, y: Floats, apart: Floats, patch: Ints | None = None) -> Pairs:
    """Pairs of plants nearer than the smaller of their spacings less 1 %, shape (p, 2), each pair once.

    Pairs of one patch are left out; see `kept_apart`.
    """
    spacings = np.unique(apart)
    spacings = spacings[spacings > 0]
    if not len(spacings):
        return np.empty((0, 2), np.intp)
    if len(spacings) > MANY_SPACINGS:
        spacings = spacings[-1:]
    found = []
    for spacing in spacings:
        reach = spacing * (1 - GIVE)
        rows = np.flatnonzero(apart >= spacing) if len(spacings) > 1 else np.arange(len(x))
        if patch is not None:
            rows = rows[by_others(x[rows], y[rows], reach, patch[rows])]
        pairs, off = pairs_within(x[rows], y[rows], reach)
        pairs = rows[pairs]
        least = apart[pairs].min(axis=1)
        near = off < least * (1 - GIVE) if len(spacings) == 1 else least == spacing
        if patch is not None:
            one, other = patch[pairs].T
            near &= (one != other) | (one < 0)
        found.append(pairs[near])
    return np.concatenate(found)


def by_others(x: Floats, y: Floats, reach: float, patch: Ints) -> Bools:
    """Which places may be nearer than a reach to one of another patch; more than truly are.

    A table has an entry for each square cell as wide as the reach, many cells sharing an entry by chance, and in it a
    bit for each patch that has a place there. Cells beside one another have entries a fixed step apart.
    """
    there = np.bincount(patch + 1) > 0
    if there.sum() > MOST_PATCHES or not len(x):
        return np.ones(len(x), bool)
    bits = np.left_shift(1, np.arange(there.sum())).astype(np.uint8 if there.sum() <= FEW_PATCHES else np.uint32)
    own = bits[np.cumsum(there)[patch + 1] - 1]
    size = 1 << (ENTRIES * len(x)).bit_length()
    up = int(size * GOLDEN) | 1  # from a row of cells to the next
    row, column = np.floor((y - y.min()) / reach), np.floor((x - x.min()) / reach)
    entry = (row.astype(np.intp) * up + column.astype(np.intp)) & (size - 1)
    table = np.zeros(size, bits.dtype)
    for bit in bits:
        table[entry[own == bit]] |= bit
    for step in (1, up):
        wider = table.copy()
        wider[step:] |= table[:-step]
        wider[:-step] |= table[step:]
        wider[:step] |= table[-step:]
        wider[-step:] |= table[:step]
        table = wider
    return ((table[entry] & ~own) != 0) | (patch < 0)


def pairs_within(x: Floats, y: Floats, reach: float) -> tuple[Pairs, Floats]:
    """Pairs of places nearer to one another than a reach.

    Places are sorted by square cells as wide as the reach, row by row of cells, so that all that may be near one lie
    in two stretches of that order: the rest of its own cell and the one after, and three cells of the next row.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        [m]
    reach : float
        Above 0. [m]

    Returns
    -------
    pairs : ndarray of int, shape (p, 2)
        Each pair once, the first place the earlier one.
    off : ndarray, shape (p,)
        How far apart they are. [m]
    """
    if len(x) < 2:
        return np.empty((0, 2), np.intp), np.empty(0)
    west, south = x.min(), y.min()
    column = np.floor((x - west) / reach)
    wide = float(column.max()) + 3  # one beside all cells stays empty, so that rows of cells do not run together
    cell = np.floor((y - south) / reach) * wide + column
    order = np.argsort(cell)
    cell, east, north = cell[order], x[order], y[order]
    here = np.arange(len(x))
    begin = np.stack([here + 1, np.searchsorted(cell, cell + (wide - 1))])
    end = np.stack(
        [np.searchsorted(cell, cell + 1, side="right"), np.searchsorted(cell, cell + (wide + 1), side="right")]
    )
    count = (end - begin).ravel()
    one = np.repeat(np.concatenate([here, here]), count)
    other = np.arange(len(one)) + np.repeat(begin.ravel() - (np.cumsum(count) - count), count)
    off = np.hypot(east[one] - east[other], north[one] - north[other])
    near = np.flatnonzero(off < reach)
    pairs = np.sort(order[np.column_stack([one[near], other[near]])], axis=1)
    return pairs, off[near]
