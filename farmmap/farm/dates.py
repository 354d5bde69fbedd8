"""Days, and years that are known only in part."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.day_words import MONTHS

DAYS_A_YEAR = 365.25

_IN_WORDS = re.compile(r"(?P<day>[0-9]{1,2}) +(?P<month>[A-Za-z]{3,}) +(?P<year>[0-9]{4})")
_WHEN = re.compile(r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?")


def parse_day(text: str) -> dt.date:
    """Return the day written as ``2026-05-31``, or with the month in words as ``31 May 2026``.

    Raises
    ------
    BadInput
        It is not a day of the calendar written that way.
    """
    words = _IN_WORDS.fullmatch(text.strip())
    try:
        if words is None:
            return dt.date.fromisoformat(text.strip())
        month = [name.casefold().startswith(words["month"].casefold()) for name in MONTHS].index(True) + 1
        return dt.date(int(words["year"]), month, int(words["day"]))
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


def half_spans_of(texts: pd.Series) -> np.ndarray:
    """Half of the time within which each date lies, shape (n,): of a year, of a month, or none. [years]."""
    codes, known = pd.factorize(texts)
    halves = {4: 0.5, 7: 0.5 / 12}
    return np.array([*(halves.get(len(str(text)), 0.0) for text in known), 0.0])[codes]


def years_between(first: np.ndarray, last: np.ndarray | np.datetime64) -> np.ndarray:
    """Years from one day to another, as days over 365.25; nan where either is not known.

    Parameters
    ----------
    first, last : ndarray of datetime64, shape (n,)
        The days.
    """
    days = (np.asarray(last, "datetime64[D]") - np.asarray(first, "datetime64[D]")).astype("timedelta64[D]")
    return np.where(np.isnat(days), np.nan, days.astype(np.int64) / DAYS_A_YEAR)
