"""Which rows speak of the same tree."""

from __future__ import annotations

import numpy as np

from farmmap.files.bringing.grouping import coded, nth_of_its_kind

SAME_PLACE_M = 0.5
"""Rows with one tag no further apart than this are one tree. [m]"""

_MOST_PASSES = 20


def same_trees(tags: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return, for each row, the first row that speaks of the same tree.

    Parameters
    ----------
    tags : ndarray of str, shape (n,)
        "" for no tag: such a row is a tree by itself.
    x, y : ndarray, shape (n,)
        Where it stands. [m]

    Returns
    -------
    ndarray of int64, shape (n,)
        Position of the first row with that tag within `SAME_PLACE_M`.
    """
    first = np.arange(len(tags), dtype=np.int64)
    if not len(tags):
        return first
    codes, words = coded(tags)
    left = np.flatnonzero((np.bincount(codes)[codes] > 1) & (tags != ""))
    for _ in range(_MOST_PASSES):
        if not len(left):
            return first
        anchors = np.full(len(words), -1, np.int64)
        anchors[codes[left[::-1]]] = left[::-1]  # the last one written is the first in order
        anchor = anchors[codes[left]]
        near = np.hypot(x[left] - x[anchor], y[left] - y[anchor]) <= SAME_PLACE_M
        first[left[near]] = anchor[near]
        left = left[~near]
    # a tag used at more than twenty places: compare by squares of ground
    squares = [np.floor(axis[left] / SAME_PLACE_M) for axis in (x, y)]
    return _led(first, left, codes[left], *squares)


def apart_by_species(first: np.ndarray, species: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Part rows that were taken for one tree but name different species.

    Parameters
    ----------
    first : ndarray of int64, shape (n,)
        As `same_trees` returns it.
    species : ndarray of str, shape (n,)
        Codes, "" where none is named.
    fixed : ndarray of bool, shape (n,)
        Rows (first ones) that are never parted: trees that the farm has.
    """
    joined = np.bincount(first, minlength=len(first))[first] > 1
    named = np.flatnonzero(joined & ~fixed[first] & (species != ""))
    if not len(named):
        return first
    codes, _ = coded(species)
    lead = np.full(len(first), -1, np.int64)
    lead[first[named[::-1]]] = codes[named[::-1]]
    others = named[codes[named] != lead[first[named]]]
    return _led(first.copy(), others, first[others], codes[others])


def _led(first: np.ndarray, rows: np.ndarray, *keys: np.ndarray) -> np.ndarray:
    """Let rows that are the same in every key be led by the first of them."""
    if not len(rows):
        return first
    order = np.lexsort(keys)
    nth = nth_of_its_kind(*keys)[order]
    leaders = rows[order][nth == 0]
    first[rows[order]] = np.repeat(leaders, np.diff(np.append(np.flatnonzero(nth == 0), len(rows))))
    return first
