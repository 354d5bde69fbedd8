"""Rows taken out of long columns and put in, by joining the stretches between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Places = NDArray[np.intp]

MANY = 2_000
"""From so many rows on picking row by row is quicker than joining stretches."""

FEW = 8
"""So many rows are dealt with one by one."""

MOST_PIECES = 64
"""A column of text is kept in at most this many pieces, as a column in very many is slow to read."""


@dataclass(frozen=True, eq=False)
class Moves:
    """How rows of a table move when some are taken out and others put in.

    Attributes
    ----------
    gone : ndarray of int
        Places of the rows that are left out, increasing.
    at : ndarray of int
        Places (before any row is left out) in front of which rows are put in, increasing.
    """

    gone: Places
    at: Places

    def __bool__(self) -> bool:
        return bool(len(self.gone) or len(self.at))

    def places(self, old: Places) -> Places:
        """Return the new places of rows that stay; meaningless for rows that are left out. Shape (n,)."""
        if len(self.gone) + len(self.at) > FEW:
            return old + np.searchsorted(self.at, old, side="right") - np.searchsorted(self.gone, old)
        out = old.copy()
        for place in self.gone.tolist():
            out -= old > place
        for place in self.at.tolist():
            out += old >= place
        return out

    def spliced(self, values: NDArray[Any], put: NDArray[Any]) -> NDArray[Any]:
        """Return an array by row with the rows left out and others put in."""
        return spliced(values, self.gone, self.at, put)


def spliced(values: NDArray[Any], gone: Places, at: Places, put: NDArray[Any]) -> NDArray[Any]:
    """Return an array without some rows, and with others put in.

    Parameters
    ----------
    values : ndarray, shape (n, ...)
        The rows.
    gone : ndarray of int, shape (k,)
        Places of the rows to leave out, increasing.
    at : ndarray of int, shape (j,)
        Places (before any row is left out) in front of which rows are put in, increasing.
    put : ndarray, shape (j, ...)
        The rows to put in.
    """
    if len(gone) + len(at) > MANY:
        return np.concatenate([values, put])[_order(len(values), gone, at)]
    return np.concatenate(_pieces(values, gone, at, put))


def column_spliced(column: Any, gone: Places, at: Places, put: Any) -> Any:
    """`spliced` for a column as pandas keeps it: an extension array, such as ``frame[name].array``.

    Text is joined without copying the rows that stay.
    """
    kind = type(column)
    joined = kind._concat_same_type  # noqa: SLF001 - part of what pandas lays down for extension arrays
    if len(gone) + len(at) > MANY:
        return joined([column, put]).take(_order(len(column), gone, at))
    out = joined([piece for piece in _pieces(column, gone, at, put) if len(piece)] or [column[:0]])
    if not isinstance(out, pd.arrays.ArrowStringArray):
        return out
    pieces = out.__arrow_array__()
    return kind(pieces.combine_chunks(), dtype=column.dtype) if pieces.num_chunks > MOST_PIECES else out


def _pieces(values: Any, gone: Places, at: Places, put: Any) -> list[Any]:
    """Stretches that stay and rows that are put in, in order."""
    pieces, done = [], 0
    stops = [*((place, 0, number) for number, place in enumerate(at.tolist())), *((p, 1, 0) for p in gone.tolist())]
    for place, is_gone, number in sorted(stops):
        pieces.append(values[done:place])
        done = place + is_gone
        if not is_gone:
            pieces.append(put[number : number + 1])
    return [*pieces, values[done:]]


def _order(count: int, gone: Places, at: Places) -> Places:
    """Order that `spliced` gives the rows, those put in numbered from ``count``."""
    kept = np.ones(count, bool)
    kept[gone] = False
    stay = np.flatnonzero(kept)
    place = np.concatenate([stay, at])
    first = np.concatenate([np.ones(len(stay), np.intp), np.zeros(len(at), np.intp)])
    return np.concatenate([stay, count + np.arange(len(at))])[np.lexsort((first, place))]
