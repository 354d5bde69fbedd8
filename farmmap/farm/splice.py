"""Rows taken out of long columns and put in, by joining the stretches between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.room import with_rows_behind

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
        """Return the new places of rows that stay; meaningless for rows that are left out. Shape (n,).

        They are the very same array if no row moves, as none does when rows are put in behind all others.
        """
        if len(self.gone) + len(self.at) > FEW:
            return old + np.searchsorted(self.at, old, side="right") - np.searchsorted(self.gone, old)
        out = old
        for places, step in ((self.gone + 1, -1), (self.at, 1)):
            for place in places.tolist():
                behind = old >= place
                if behind.any():
                    out = out.copy() if out is old else out
                    out += step * behind
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

    Returns
    -------
    ndarray, shape (n - k + j, ...)
        The very same array if nothing changes; it may not be open to writing, see `with_rows_behind`.
    """
    if not len(gone) and len(at) and (at == len(values)).all():
        return with_rows_behind(values, put)
    if len(gone) + len(at) > MANY:
        return np.concatenate([values, put])[_order(len(values), gone, at)]
    if values.dtype == put.dtype and np.array_equal(gone, at):  # rows that stay where they are
        if same_values(values[at], put):
            return values
        out = values.copy()
        out[at] = put
        return out
    return np.concatenate(_pieces(values, gone, at, put))


def columns_of(frame: pd.DataFrame) -> dict[str, Any]:
    """Return the columns of a table by name, without copying them and without making a series of each.

    Numbers and days come as arrays of numpy, what pandas keeps in another way (text, shapes) as it keeps it.
    """
    read: Any = frame._get_column_array  # noqa: SLF001 - asking for ``frame[name]`` takes thirty times as long
    columns = ((str(name), read(place)) for place, name in enumerate(frame.columns))
    return {name: np.asarray(held) if isinstance(held.dtype, np.dtype) else held for name, held in columns}


def column_of(frame: pd.DataFrame, name: str) -> Any:
    """Return one of `columns_of`, without a look at the others."""
    held: Any = frame._get_column_array(frame.columns.get_loc(name))  # noqa: SLF001
    return np.asarray(held) if isinstance(held.dtype, np.dtype) else held


def rows_at(column: Any, places: Places) -> Any:
    """Return the rows of a column, see `columns_of`, at some places."""
    if len(places) == len(column) and np.array_equal(places, np.arange(len(column))):
        return column
    if _is_text(column) and len(places) <= FEW:  # to take many at once all its pieces are joined
        return type(column)._from_sequence([column[place] for place in places.tolist()], dtype=column.dtype)  # noqa: SLF001
    return column[places]


def table_rows(frame: pd.DataFrame, places: Places) -> pd.DataFrame:
    """Return a few rows of a table without shapes, as ``frame.iloc[places]``, but quick where text is in pieces."""
    columns = {name: rows_at(values, places) for name, values in columns_of(frame).items()}
    return pd.DataFrame(columns, index=frame.index[places], copy=False)


def are_at(column: Any, places: Places, rows: Any) -> bool:
    """Whether a column has these rows at some places."""
    if _is_text(column) and len(places) <= FEW and column.dtype == rows.dtype:
        return [column[place] for place in places.tolist()] == list(rows)
    return same_values(column[places], rows)


def same_values(one: Any, other: Any) -> bool:
    """Whether two columns hold the same; what is not known is the same as what is not known."""
    if one is other:
        return True
    if one.dtype != other.dtype:
        return False
    if _is_text(one) and len(one) == len(other) <= FEW:
        return list(one) == list(other)
    return np.array_equal(one, other, equal_nan=True) if isinstance(one, np.ndarray) else bool(one.equals(other))


def _is_text(column: Any) -> bool:
    return isinstance(column, pd.arrays.ArrowStringArray)


def column_spliced(column: Any, gone: Places, at: Places, put: Any) -> Any:
    """`spliced` for a column of a table, see `columns_of`.

    Text is joined without copying the rows that stay.
    """
    if isinstance(column, np.ndarray):
        return spliced(column, gone, at, put)
    kind = type(column)
    joined = kind._concat_same_type  # noqa: SLF001 - part of what pandas lays down for extension arrays
    if len(gone) + len(at) > MANY:
        return joined([column, put]).take(_order(len(column), gone, at))
    out = joined([piece for piece in _pieces(column, gone, at, put) if len(piece)] or [column[:0]])
    if not _is_text(out):
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
