"""Days, and years that are known only in part."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pandas as pd

from farmmap.errors import BadInput

DAYS_A_YEAR = 365.25

_WHEN = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?")


def parse_day(text: str) -> dt.date:
    """Return the day written as ``2026-05-31``.

    Raises
    ------
    BadInput
        It is not a day of the calendar written that way.
    """
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError as error:
        raise BadInput(f"'{text}' is not a day; write year, month and day, such as 2026-05-31") from error


def is_when(text: str) -> bool:
    """Whether ``text`` is empty, a year, a year and month, or a day of the calendar."""
    if not text:
        return True
    found = _WHEN.fullmatch(text)
    if not found:
        return False
    year, month, day = (int(part) if part else 1 for part in found.groups())
    try:
        dt.date(year, month, day)
    except ValueError:
        return False
    return True


def middle_of(text: str) -> np.datetime64:
    """Return the day in the middle of what is known: 1 July of a year, the 15th of a month, or the day itself.

    Returns
    -------
    datetime64[D]
        NaT for an empty text.
    """
    if not text:
        return np.datetime64("NaT", "D")
    match len(text):
        case 4:
            return np.datetime64(f"{text}-07-01", "D")
        case 7:
            return np.datetime64(f"{text}-15", "D")
        case _:
            return np.datetime64(text, "D")


def middles_of(texts: pd.Series) -> np.ndarray:
    """`middle_of` for a column: datetime64[D], shape (n,)."""
    codes, known = pd.factorize(texts)
    days = np.array([middle_of(str(text)) for text in known] or [np.datetime64("NaT", "D")], "datetime64[D]")
    return days[codes]


def years_between(first: np.ndarray, last: np.ndarray | np.datetime64) -> np.ndarray:
    """Years from one day to another, as days over 365.25; nan where either is not known.

    Parameters
    ----------
    first, last : ndarray of datetime64, shape (n,)
        The days.
    """
    days = (np.asarray(last, "datetime64[D]") - np.asarray(first, "datetime64[D]")).astype("timedelta64[D]")
    return np.where(np.isnat(days), np.nan, days.astype(np.int64) / DAYS_A_YEAR)
