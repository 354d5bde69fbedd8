"""What was typed or chosen in a form, turned into what a column holds, or refused in words."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from farmmap.editing.words import column_label, day_words, quoted
from farmmap.errors import BadInput
from farmmap.farm.dates import is_when, parse_day
from farmmap.farm.schema import MEASUREMENTS, Column, Kind, Table

FIRST_YEAR = 1000

_NUMBER = re.compile(r"([-+−]?\d+(?:[.,]\d+)?)\s*([a-zA-Z/]*)")


def typed_values(table: Table, values: Mapping[str, object] | None) -> dict[str, Any]:
    """Return values as the columns of a table keep them.

    Parameters
    ----------
    table : Table
        Which table.
    values : mapping of str to object
        Text from a form, or numbers, days and texts already typed; None and "" stand for not known.

    Raises
    ------
    BadInput
        A column is not known, or a value does not fit its column.
    """
    unknown = [name for name in values or {} if name not in table.column_names]
    if unknown:
        raise BadInput(f"a {table.one} has no field called {unknown[0]}; it has {', '.join(table.column_names)}")
    return {name: typed(table, table.column(name), value) for name, value in (values or {}).items()}


def typed(table: Table, column: Column, value: object) -> Any:
    """Return one value as its column keeps it: str, int, float or datetime64.

    Raises
    ------
    BadInput
        It does not fit the column.
    """
    where = _called(table, column)
    _refuse_oddities(where, value)
    match column.kind:
        case Kind.TEXT:
            return _text(where, column, value)
        case Kind.WHOLE | Kind.NUMBER:
            return _number(where, column, value)
        case Kind.DAY:
            return _day(where, column, value)
        case Kind.WHEN:
            return _when(where, column, value)


def day_done(table: Table, name: str, value: object) -> np.datetime64:
    """Return the day on which something was done or read, as its column keeps it; NaT where none is given.

    Raises
    ------
    BadInput
        It does not fit the column, or has not come yet.
    """
    column = table.column(name)
    day: np.datetime64 = typed(table, column, value)
    if day > np.datetime64(dt.datetime.now().astimezone().date(), "s"):
        raise BadInput(
            f"{_called(table, column)}: {day_words(day)} has not come yet; give the day on which it was done"
        )
    return day


def _called(table: Table, column: Column) -> str:
    """Return how a value is spoken of: ``the channel width of a creek``, ``the diameter``."""
    label = "planting date" if column.name == "planted" else column_label(column.name)
    return f"the {label}" if table is MEASUREMENTS else f"the {label} of a {table.one}"


def _refuse_oddities(where: str, value: object) -> None:
    """Refuse what is neither text, number nor day, and letters that no file keeps."""
    if isinstance(value, str):
        if any(letter == "\0" or "\ud800" <= letter <= "\udfff" for letter in value):
            raise BadInput(f"{where} holds a letter that cannot be kept; type it again instead of pasting it")
    elif value is not None and not isinstance(value, int | float | dt.date | np.integer | np.floating | np.datetime64):
        raise BadInput(f"{where} is neither text, number nor day; type it again")


def is_blank(value: object) -> bool:
    """Whether a value stands for not known: None, a blank text, nan or no day."""
    if value is None or value is pd.NaT or (isinstance(value, str) and not value.strip()):
        return True
    if isinstance(value, np.datetime64):
        return bool(np.isnat(value))
    return isinstance(value, float | np.floating) and bool(np.isnan(value))


def _text(where: str, column: Column, value: object) -> str:
    text = "" if is_blank(value) else str(value).strip()
    if column.allowed:
        same = [word for word in column.allowed if word.casefold() == text.casefold()]
        if same:
            return same[0]
        if not text and column.default is not None:
            return str(column.default)
        can_be = ", ".join(word for word in column.allowed if word)
        raise BadInput(f"{where} can be {can_be}, not {quoted(text)}")
    if column.needed and not text:
        raise BadInput(f"{where} is empty; give the {column.words}")
    return text


def _number(where: str, column: Column, value: object) -> int | float:
    if is_blank(value):
        if column.kind is Kind.NUMBER and not column.needed:
            return float("nan")
        if column.default is not None:
            return int(column.default)
        if column.points_to and not column.needed:
            return 0
        raise BadInput(f"{where} is empty; give the {column.words}")
    number = _parsed(where, column, value)
    if not np.isfinite(number):
        raise BadInput(f"{where} is no number: {quoted(value)}")
    if (column.least is not None and number < column.least) or (column.most is not None and number > column.most):
        span = f"{column.least:g} to {column.most:g} {column.unit}".rstrip()
        raise BadInput(f"{where} is {number:g}; {span} is believable")
    if column.kind is Kind.WHOLE:
        if number != int(number):
            raise BadInput(f"{where} is a whole number, not {number:g}")
        return int(number)
    return number


def _parsed(where: str, column: Column, value: object) -> float:
    if isinstance(value, int | float | np.integer | np.floating):
        return float(value)
    text = str(value).strip()
    found = _NUMBER.fullmatch(text)
    if not found:
        raise BadInput(f"{where} is no number: {quoted(text)}; write it such as 31.5")
    unit = found[2].casefold()
    if unit and unit != column.unit.casefold():
        needs = f"is in {column.unit}" if column.unit else "has no unit"
        raise BadInput(f"{where} {needs}, not in {found[2]}; write the number alone")
    return float(found[1].replace(",", ".").replace("−", "-"))


def _day(where: str, column: Column, value: object) -> np.datetime64:
    if is_blank(value):
        if column.needed:
            raise BadInput(f"{where} is empty; give the {column.words}")
        return np.datetime64("NaT", "s")
    if isinstance(value, dt.date | pd.Timestamp):
        day = dt.date(value.year, value.month, value.day)
    elif isinstance(value, np.datetime64):
        day = value.astype("datetime64[D]").item()
    else:
        try:
            day = parse_day(str(value))
        except BadInput as error:
            raise BadInput(f"{where}: {error}") from error
    if not isinstance(day, dt.date) or day.year < FIRST_YEAR:
        raise BadInput(f"{where}: {day} is not believable; write the year in full")
    return np.datetime64(day, "s")


def _when(where: str, column: Column, value: object) -> str:
    if is_blank(value):
        if column.needed:
            raise BadInput(f"{where} is empty; give the {column.words}")
        return ""
    if isinstance(value, dt.date | pd.Timestamp):
        return f"{value.year:04d}-{value.month:02d}-{value.day:02d}"
    if isinstance(value, np.datetime64):
        return str(value.astype("datetime64[D]"))
    text = str(value).strip()
    if not text.isascii() or not is_when(text) or int(text[:4]) < FIRST_YEAR:
        raise BadInput(f"{where} is {quoted(text)}; write a year, or a day such as 2004-07-15")
    return text
