"""The guard before the functions of this room: arguments that cannot be meant are refused in words.

An argument is named the same in the whole room, so its name says what it must be; one list of readers serves all.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable, Mapping
from typing import ParamSpec, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.words import quoted, table_of
from farmmap.errors import BadInput

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

_LARGEST_ID = np.iinfo(np.int64).max


def guarded(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """Refuse arguments of a function that are not what their names in `READERS` say.

    Parameters
    ----------
    function : callable
        It gets what the readers make of its arguments, and raises `BadInput` for what they refuse.
    """
    names = list(inspect.signature(function).parameters)
    checked = [(place, name, READERS[name]) for place, name in enumerate(names) if name in READERS]

    @functools.wraps(function)
    def call(*args: Given.args, **kwargs: Given.kwargs) -> Answer:
        given: list[object] = list(args)
        for place, name, read in checked:
            if place < len(given):
                given[place] = read(given[place])
            elif name in kwargs:
                kwargs[name] = read(kwargs[name])
        return function(*given, **kwargs)  # type: ignore[arg-type]

    return call


def _table(value: object) -> str:
    return table_of(value).name


def _row(value: object) -> int:
    if not isinstance(value, int | np.integer) or abs(int(value)) > _LARGEST_ID:
        raise BadInput(f"{quoted(value)} is no row of the farm; choose it on the map or in its list")
    return int(value)


def _row_or_none(value: object) -> int | None:
    return None if value is None else _row(value)


def _rows(value: object) -> NDArray[np.int64]:
    try:
        rows = np.atleast_1d(np.asarray(value))
    except ValueError:
        rows = np.array([None])
    if not rows.size:
        return np.empty(0, np.int64)
    if rows.ndim > 1 or rows.dtype.kind not in "iu" or rows.max() > _LARGEST_ID:
        raise BadInput(f"{quoted(value)} are no rows of the farm; choose them on the map or in their list")
    return rows.astype(np.int64, copy=False)


def _metres(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | np.integer | np.floating):
        raise BadInput(f"{quoted(value)} is no number of metres; write it such as 12.5")
    try:
        return float(value)
    except OverflowError:
        return np.inf if value > 0 else -np.inf


def _place(value: object) -> tuple[float, float]:
    if not isinstance(value, tuple | list | np.ndarray) or len(value) != 2:
        raise BadInput(f"{quoted(value)} is no place; give how far east and north it lies, in metres")
    return _metres(value[0]), _metres(value[1])


def _place_or_none(value: object) -> tuple[float, float] | None:
    return None if value is None else _place(value)


def _places(value: object) -> NDArray[np.float64]:
    try:
        places = np.asarray(value)
    except ValueError:
        places = np.array("")
    if not places.size:
        return np.empty((0, 2))
    if places.ndim != 2 or places.shape[1] != 2 or places.dtype.kind not in "iuf":
        raise BadInput("these are no places; give how far east and north each lies, in metres")
    return places.astype(np.float64, copy=False)


def _tables(value: object) -> tuple[str, ...]:
    if isinstance(value, str) or not isinstance(value, Iterable):
        raise BadInput(f"{quoted(value)} are no tables of a farm; name them one by one")
    return tuple(map(_table, value))


def _row_of_table_or_none(value: object) -> tuple[str, int] | None:
    if value is None:
        return None
    if not isinstance(value, tuple) or len(value) != 2:
        raise BadInput(f"{quoted(value)} is no row of the farm; give its table and its number")
    return _table(value[0]), _row(value[1])


def _corner(value: object) -> object:
    _table(getattr(value, "table", None))
    _row(getattr(value, "id", None))
    _place((getattr(value, "x", None), getattr(value, "y", None)))
    return value


def _shape(value: object) -> shapely.Geometry | None:
    if value is not None and not isinstance(value, shapely.Geometry):
        raise BadInput(f"{quoted(value)} is nothing that was drawn; draw it on the map")
    return value


def _fields(value: object) -> Mapping[str, object]:
    if value is not None and not isinstance(value, Mapping):
        raise BadInput(f"{quoted(value)} says no fields; give a value for each")
    return {} if value is None else value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise BadInput(f"{quoted(value)} is no text; write it out")
    return value.encode("utf-8", "replace").decode("utf-8")


READERS: dict[str, Callable[[object], object]] = {
    "table": _table,
    "tables": _tables,
    **dict.fromkeys(("only", "leave_out"), _row_of_table_or_none),
    **dict.fromkeys(("id", "block", "tree", "backdrop"), _row),
    "into": _row_or_none,
    **dict.fromkeys(("ids", "blocks"), _rows),
    **dict.fromkeys(("x", "y", "dx_m", "dy_m", "within_m"), _metres),
    **dict.fromkeys(("a", "b"), _place),
    **dict.fromkeys(("corner", "edge"), _corner),
    **dict.fromkeys(("start", "toward", "near"), _place_or_none),
    **dict.fromkeys(("corners", "points"), _places),
    **dict.fromkeys(("shape", "line", "hole", "extra"), _shape),
    "values": _fields,
    **dict.fromkeys(("text", "tag", "species"), _text),
}
"""What each argument must be, by its name."""
