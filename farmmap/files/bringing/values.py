"""Text to numbers, days and words, a whole column at a time."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmmap.farm.species import plain
from farmmap.files.bringing.counted import counted
from farmmap.files.bringing.heads import IN_METRES, UNIT_WORDS

NOTHING = frozenset({"", "na", "n/a", "#n/a", "nan", "null", "none", "-", "--", ".", "?", "<na>", "nat"})
"""What people write where there is nothing to write."""

_STATUS_LISTS = {
    "alive": "alive, live, living, ok, a, l, healthy, standing, good, growing, present, fair, poor, leaning, sick, "
    "yes, y, true, 1",
    "dead": "dead, died, d, snag, killed, missing, gone, failed, standing dead, dead standing, wind thrown, "
    "windthrown, blown over, no, n, false, 0",
    "felled": "felled, f, cut, removed, thinned, harvested, stump, cut down, taken out, logged",
}
STATUS_WORDS = {word: status for status, words in _STATUS_LISTS.items() for word in words.split(", ")}
"""What people write of how a tree fares, as `farmmap.farm.species.plain` has it."""

STAGE_WORDS = {
    **dict.fromkeys(("existing", "exists", "present", "current", "now", "yes"), "existing"),
    **dict.fromkeys(("planned", "plan", "proposed", "future", "design"), "planned"),
}

_WITH_UNIT = re.compile(r"(.*\d[.,]?)\s*([a-z]+)\.?")
_MONTH_WORDS = "jan feb mar apr may jun jul aug sep oct nov dec"
_MONTHS: dict[str, int] = {word: number for number, word in enumerate(_MONTH_WORDS.split(), start=1)}
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})(?:[-/.](\d{1,2}))?(?:[T ].*)?")
_YEAR = re.compile(r"(\d{4})(?:\.0*)?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_TWO_FIRST = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})(?:[T ].*)?")
_NAMED = re.compile(r"(?:(\d{1,2})[-/. ]+)?([A-Za-z]{3})[a-z]*\.?,?[-/. ]+(\d{4})")
_NAMED_US = re.compile(r"([A-Za-z]{3})[a-z]*\.?[-/. ]+(\d{1,2}),?[-/. ]+(\d{4})")


def texts_of(column: pd.Series) -> pd.Series:
    """Return a column as text without blanks around; "" where nothing stands, whole numbers without ``.0``."""
    if pd.api.types.is_bool_dtype(column):
        return column.map({True: "yes", False: "no"}).astype("str")
    if pd.api.types.is_float_dtype(column):
        numbers = column.to_numpy(np.float64)
        known = np.isfinite(numbers)
        whole = bool((numbers[known] == np.round(numbers[known])).all() and (np.abs(numbers[known]) < 2**53).all())
        texts = np.full(len(numbers), "", object)
        texts[known] = [str(int(n)) if whole else repr(n) for n in numbers[known].tolist()]
        return pd.Series(pd.array(texts, dtype="str"), index=column.index)
    if pd.api.types.is_datetime64_any_dtype(column):
        return column.dt.strftime("%Y-%m-%d").fillna("")
    return column.astype("str").fillna("").str.strip()


def without_nothing(texts: pd.Series) -> pd.Series:
    """Return text with "" where NA, a dash or the like stands."""
    codes, words = pd.factorize(texts)
    clean = np.array(["" if len(w) < 6 and w.casefold() in NOTHING else w for w in np.asarray(words, object)], object)
    return pd.Series(pd.array(clean[codes], dtype="str"), index=texts.index)


def numbers_of(column: pd.Series, *, decimal_comma: bool, unit: str = "") -> tuple[np.ndarray, np.ndarray]:
    """Return the numbers in a column.

    Parameters
    ----------
    column : Series, shape (n,)
        Text or numbers.
    decimal_comma : bool
        Whether 1,5 is one and a half.
    unit : str
        Unit of the column, into which a cell with a unit of its own (``30 cm``) is turned; "" where none has one.

    Returns
    -------
    numbers : ndarray, shape (n,)
        nan where nothing stands, or no number.
    odd : ndarray of bool, shape (n,)
        Where something stands that is no finite number.
    """
    if pd.api.types.is_numeric_dtype(column) and not pd.api.types.is_bool_dtype(column):
        values = column.to_numpy(np.float64, na_value=np.nan)
        return np.where(np.isinf(values), np.nan, values), np.isinf(values)
    texts = texts_of(column)
    values = _numeric(texts)
    left = np.flatnonzero(np.isnan(values) & (texts != "").to_numpy())
    odd = np.isinf(values)
    if len(left):
        rest = texts.iloc[left].str.casefold()
        rest = rest.where(~rest.isin(NOTHING), "")
        stands = (rest != "").to_numpy()
        bare, factors = own_units(rest, unit)
        mended = _numeric(_mended(bare, decimal_comma=decimal_comma)) * np.where(np.isnan(factors), 1.0, factors)
        values[left] = mended
        odd[left] = stands & ~np.isfinite(mended)
    values[odd] = np.nan
    return values, odd


def own_units(texts: pd.Series, unit: str) -> tuple[pd.Series, np.ndarray]:
    """Take units of length off cells.

    Parameters
    ----------
    texts : Series, shape (n,)
        Lower case.
    unit : str
        Unit of the column, "" if it is no length.

    Returns
    -------
    texts : Series, shape (n,)
        What stands before the unit; the whole cell where none stands.
    factors : ndarray, shape (n,)
        What the number is to be multiplied by to be in the column's unit; nan where the cell names none.
    """
    if not unit:
        return texts, np.full(len(texts), np.nan)
    codes, words = pd.factorize(texts)
    found = [_WITH_UNIT.fullmatch(str(word)) for word in words]
    units = ["" if f is None else UNIT_WORDS.get(f[2], "") for f in found]
    factors = np.array([IN_METRES[u] / IN_METRES[unit] if u else np.nan for u in [*units, ""]])
    bare = np.array([f[1] if f and u else str(w) for w, f, u in zip(words, found, units, strict=True)], object)
    return pd.Series(pd.array(bare[codes], dtype="str"), index=texts.index), factors[codes]


def say_other_units(column: pd.Series, head: str, unit: str, said: list[str]) -> None:
    """Say how many cells name a unit that is not their column's, and were turned into it."""
    if not unit or pd.api.types.is_numeric_dtype(column):
        return
    texts = texts_of(column)
    left = texts[np.isnan(_numeric(texts)) & (texts != "").to_numpy()].str.casefold()
    _, factors = own_units(left, unit)
    count = int((~np.isnan(factors) & (factors != 1.0)).sum())
    if count:
        said.append(f"{counted(count, 'cell', 'cells')} of '{head}' in another unit: turned into {unit}.")


def _numeric(texts: pd.Series) -> np.ndarray:
    return np.array(pd.to_numeric(texts, errors="coerce"), np.float64)


def _mended(texts: pd.Series, *, decimal_comma: bool) -> pd.Series:
    """Take thousands marks out of numbers and write the decimal mark as a point."""
    bare = texts.str.replace(r"(?<=\d)[\s\u00a0\u202f'’](?=\d{3})", "", regex=True).str.replace("−", "-", regex=False)
    both = bare.str.contains(",", regex=False) & bare.str.contains(".", regex=False)
    point_last = bare.str.rfind(".") > bare.str.rfind(",")
    commas = bare.str.count(",")
    comma_thousands = (both & point_last) | (~both & ((commas > 1) | (not decimal_comma)))
    comma_thousands &= bare.str.fullmatch(r"[-+]?\d{1,3}(,\d{3})+(\.\d*)?")
    point_thousands = bare.str.fullmatch(r"[-+]?\d{1,3}(\.\d{3})+,\d*") | (
        bare.str.fullmatch(r"[-+]?\d{1,3}(\.\d{3}){2,}") & ~both
    )
    comma_decimal = ~comma_thousands & (commas == 1) & (~both | point_thousands) & (decimal_comma | both)
    out = bare.where(~comma_thousands, bare.str.replace(",", "", regex=False))
    out = out.where(~point_thousands, out.str.replace(".", "", regex=False))
    return out.where(~comma_decimal, out.str.replace(",", ".", regex=False))


@dataclass(frozen=True)
class Days:
    """Days that were read from a column.

    Attributes
    ----------
    when : ndarray of str, shape (n,)
        ``""``, ``2004``, ``2004-07`` or ``2004-07-15``.
    odd : ndarray of bool, shape (n,)
        Where something stands that is no day of the calendar.
    said : str
        How 3/4/2004 was read, if that had to be decided, else "".
    """

    when: np.ndarray
    odd: np.ndarray
    said: str

    def days(self) -> np.ndarray:
        """Return whole days, datetime64[s]; NaT for a year or month alone."""
        codes, words = pd.factorize(self.when)
        whole = np.array([word if len(word) == 10 else "NaT" for word in words.tolist()], "datetime64[s]")
        return whole[codes] if len(whole) else np.full(len(self.when), np.datetime64("NaT", "s"))


def days_of(column: pd.Series, name: str) -> Days:
    """Read the days, months or years in a column, deciding for the whole of it whether day or month comes first."""
    texts = without_nothing(texts_of(column))
    codes, words = pd.factorize(texts)
    known = [str(word) for word in words]
    orders = [found for word in known if (found := _TWO_FIRST.fullmatch(word))]
    month_first = any(int(f[2]) > 12 for f in orders) and not any(int(f[1]) > 12 for f in orders)
    proved = any(int(f[1]) > 12 or int(f[2]) > 12 for f in orders)
    read = np.array([_when(word, month_first=month_first) for word in known] or [""], object)
    said = ""
    if orders and not proved:
        said = (
            f"Days in '{name}' such as {orders[0][0]} were read as day, month, year; nothing in the column says which."
        )
    elif month_first:
        said = f"Days in '{name}' such as {orders[0][0]} were read as month, day, year, since others fit no other way."
    odd = np.array([word is None for word in read], bool)
    when = np.array([word or "" for word in read], object)
    if not len(codes):
        return Days(np.empty(0, object), np.empty(0, bool), "")
    return Days(when[codes], odd[codes], said)


def _when(word: str, *, month_first: bool) -> str | None:
    """Return a day as ISO 8601 writes it, with what is known of it; None if it is none."""
    if not word:
        return ""
    parts: tuple[str, str, str | None] | None = None
    if found := _YEAR.fullmatch(word):
        return found[1] if 1000 <= int(found[1]) <= 2999 else None
    if (found := _ISO.fullmatch(word)) or (found := _COMPACT.fullmatch(word)):
        parts = found[1], found[2], found[3]
    elif found := _TWO_FIRST.fullmatch(word):
        parts = (found[3], found[1], found[2]) if month_first else (found[3], found[2], found[1])
    elif (found := _NAMED.fullmatch(word)) and found[2].casefold() in _MONTHS:
        parts = found[3], str(_MONTHS[found[2].casefold()]), found[1]
    elif (found := _NAMED_US.fullmatch(word)) and found[1].casefold() in _MONTHS:
        parts = found[3], str(_MONTHS[found[1].casefold()]), found[2]
    return None if parts is None else _checked(*parts)


def _checked(year: str, month: str, day: str | None) -> str | None:
    number = int(year)
    if len(year) == 2:
        number += 2000 if number <= dt.datetime.now(tz=dt.UTC).year % 100 else 1900
    if not 1000 <= number <= 2999:
        return None
    try:
        found = dt.date(number, int(month), int(day or 1))
    except ValueError:
        return None
    return found.isoformat() if day else found.isoformat()[:7]


def words_of(texts: pd.Series, meanings: dict[str, str]) -> tuple[np.ndarray, np.ndarray]:
    """Return what words mean, and where one stands that is not known; "" where nothing stands."""
    codes, words = pd.factorize(without_nothing(texts))
    meant = [meanings.get(plain(str(word)), "" if not str(word) else None) for word in words]
    if not meant:
        return np.empty(0, object), np.empty(0, bool)
    odd = np.array([word is None for word in meant], bool)
    return np.array([word or "" for word in meant], object)[codes], odd[codes]
