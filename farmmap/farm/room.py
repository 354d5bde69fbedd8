"""Arrays with room at their end, so that rows are put behind a million others without copying these."""

from __future__ import annotations

import threading
import weakref
from typing import Any

import numpy as np
from numpy.typing import NDArray

LONG = 10_000
"""Shorter arrays are copied, which takes no time."""

ROOM = 64
"""One part in so many is left free at the end of an array that is copied."""


class _Used:
    """How many rows of an array with room are in use; whoever holds fewer may not write behind them any more."""

    def __init__(self, array: NDArray[Any], rows: int) -> None:
        self.rows = rows
        key = id(array)
        self.array = weakref.ref(array, lambda _gone: _USED.pop(key, None))


_USED: dict[int, _Used] = {}
_LOCK = threading.Lock()


def with_rows_behind(values: NDArray[Any], put: NDArray[Any]) -> NDArray[Any]:
    """Return an array followed by other rows.

    Neither array is changed. A long one is copied the first time; what is
    returned then has room behind it, into which the rows of the next time go,
    unless others were put there from the same array meanwhile.

    Parameters
    ----------
    values : ndarray, shape (n, ...)
        The rows that come first.
    put : ndarray, shape (k, ...)
        The rows that follow.

    Returns
    -------
    ndarray, shape (n + k, ...)
        It cannot be written to if it is long.
    """
    count, more = len(values), len(put)
    if count < LONG or values.dtype != put.dtype:
        return np.concatenate([values, put])
    with _LOCK:
        base: Any = values.base
        used = None if base is None else _USED.get(id(base))
        array = None if used is None else used.array()
        if used is None or array is None or array is not base or not _ends_there(array, values, used.rows, more):
            array = np.empty((count + more + count // ROOM, *values.shape[1:]), values.dtype)
            array[:count] = values
            used = _USED[id(array)] = _Used(array, count)
        array[count : count + more] = put
        used.rows = count + more
        out = array[: count + more]
        out.flags.writeable = False  # the rows are shared with the array before
        return out


def _ends_there(array: NDArray[Any], values: NDArray[Any], rows: int, more: int) -> bool:
    """Whether values are all of the rows of an array that are in use, with room for more behind them."""
    return (
        len(values) == rows
        and len(array) >= rows + more
        and array.dtype == values.dtype
        and array.shape[1:] == values.shape[1:]
        and array.strides == values.strides
        and array.ctypes.data == values.ctypes.data
    )
