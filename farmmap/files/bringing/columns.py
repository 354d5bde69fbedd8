"""Columns of a source to columns of ours: typed, in our units, with what does not fit set aside."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from farmmap.farm.dates import middles_of
from farmmap.farm.schema import Column, Kind
from farmmap.farm.species import plain
from farmmap.files.bringing.counted import counted
from farmmap.files.bringing.heads import columns_of, unit_of
from farmmap.files.bringing.plan import AXES, Filling, Plan
from farmmap.files.bringing.sieve import Sieve
from farmmap.files.bringing.values import (
    STAGE_WORDS,
    STATUS_WORDS,
    days_of,
    numbers_of,
    say_other_units,
    texts_of,
    without_nothing,
    words_of,
)

GIRTH_APART = 0.05
"""A girth that makes a diameter further off than this share of the one given is said."""

NOT_TAKEN_FOR_GRANTED = ("status", "shape")
"""Left blank where nothing stands: of a tree, "not said" is not "alive", and of a plot, its sizes tell the shape."""

_WORDS = {"status": STATUS_WORDS, "stage": STAGE_WORDS}


def values_of(plan: Plan, sieve: Sieve, said: list[str]) -> dict[str, Any]:
    """Return our columns, filled by the plan.

    Parameters
    ----------
    plan : Plan
        What fills what.
    sieve : Sieve
        Rows whose values do not fit are refused there.
    said : list of str
        What was taken for granted is added.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        Every row of the source, also the refused; without x, y, lon, lat. Text missing is "", numbers nan, days NaT.
    """
    columns = columns_of(plan.table)
    out: dict[str, Any] = {}
    for name, filling in plan.fillings.items():
        if name in AXES:
            continue
        theirs = plan.source.column(filling.theirs)
        match columns[name].kind:
            case Kind.NUMBER | Kind.WHOLE:
                out[name] = _numbers(theirs, columns[name], filling, plan, sieve, said)
            case Kind.DAY | Kind.WHEN:
                out[name] = _days(theirs, columns[name], filling, sieve, said)
            case Kind.TEXT:
                out[name] = _texts(theirs, columns[name], filling, sieve, said)
    if plan.girth is not None:
        out["dbh_cm"] = _girths_where_blank(out["dbh_cm"], columns["dbh_cm"], plan.girth, plan, sieve, said)
    return out


def _girths_where_blank(
    dbh_cm: np.ndarray, column: Column, filling: Filling, plan: Plan, sieve: Sieve, said: list[str]
) -> np.ndarray:
    """Return diameters, from the girth where a row has none; a diameter wins over a girth that says otherwise."""
    blank = ~(dbh_cm > 0)
    theirs = plan.source.column(filling.theirs)
    asked = theirs.where(pd.Series(blank, theirs.index)) if blank.any() else theirs.iloc[:0]
    girths, _ = numbers_of(theirs, decimal_comma=plan.source.decimal_comma, unit=filling.target.written_in)
    girths = girths * filling.target.factor
    filled = blank & (girths > 0)
    if blank.any():
        _numbers(asked, column, filling, plan, sieve, said)
    used = int((filled & sieve.good).sum())
    if used:
        rows = counted(used, "row has", "rows have")
        said.append(f"{rows} no diameter but a girth in '{filling.theirs}', which was divided by pi.")
    apart = ~blank & (girths > 0) & (np.abs(girths - dbh_cm) > GIRTH_APART * dbh_cm) & sieve.good
    if apart.any():
        rows = counted(apart.sum(), "row has", "rows have")
        said.append(
            f"{rows} a diameter and a girth that differ by more than {GIRTH_APART:.0%}; the diameter was taken."
        )
    return np.where(filled, girths, dbh_cm)


def _standing(theirs: pd.Series, filling: Filling) -> Callable[[int], str]:
    def words(position: int) -> str:
        return f"'{str(theirs.iloc[position])[:40]}' in '{filling.theirs}'"

    return words


def _numbers(
    theirs: pd.Series, column: Column, filling: Filling, plan: Plan, sieve: Sieve, said: list[str]
) -> np.ndarray:
    unit = unit_of(filling.target, plan.table)
    numbers, odd = numbers_of(theirs, decimal_comma=plan.source.decimal_comma, unit=unit)
    say_other_units(theirs, filling.theirs, unit, said)
    stands = _standing(theirs, filling)
    sieve.refuse(odd, lambda i: f"{stands(i)} is no number")
    numbers = numbers * filling.target.factor
    unit = f" {column.unit}" if column.unit else ""
    if column.kind is Kind.WHOLE:
        parts = np.isfinite(numbers) & (numbers != np.round(numbers))
        sieve.refuse(parts, lambda i: f"{stands(i)} is no whole number")
    if column.least is not None:
        sieve.refuse(
            numbers < column.least, lambda i: f"{stands(i)}: {column.words} cannot be under {column.least:g}{unit}"
        )
    if column.most is not None:
        sieve.refuse(
            numbers > column.most, lambda i: f"{stands(i)}: {column.words} cannot be over {column.most:g}{unit}"
        )
    return numbers


def _days(theirs: pd.Series, column: Column, filling: Filling, sieve: Sieve, said: list[str]) -> np.ndarray:
    read = days_of(theirs, filling.theirs)
    stands = _standing(theirs, filling)
    sieve.refuse(read.odd, lambda i: f"{stands(i)} is no day of the calendar; write it as 2026-05-31")
    if read.said:
        said.append(read.said)
    if column.kind is Kind.WHEN:
        return read.when
    days = read.days()
    partly = np.isnat(days) & (read.when != "")
    if partly.any():
        where = counted(partly.sum(), "row", "rows")
        said.append(f"'{filling.theirs}' gives no more than a year or month in {where}; its middle was taken.")
        days[partly] = middles_of(pd.Series(read.when[partly])).astype("datetime64[s]")
    return days


def _texts(theirs: pd.Series, column: Column, filling: Filling, sieve: Sieve, said: list[str]) -> np.ndarray:
    texts = without_nothing(texts_of(theirs))
    if not column.allowed:
        return texts.to_numpy(object)
    meanings = _WORDS.get(column.name) or {plain(word): word for word in column.allowed}
    meant, odd = words_of(texts, meanings)
    if "other" in column.allowed:
        if odd.any():
            words = counted(odd.sum(), "row has", "rows have")
            said.append(f"{words} a '{filling.theirs}' that is not known, and came in as other.")
            meant[odd] = "other"
    else:
        stands = _standing(theirs, filling)
        known = ", ".join(word for word in column.allowed if word)
        sieve.refuse(odd, lambda i: f"{stands(i)} is not known; write one of {known}")
    if isinstance(column.default, str) and column.name not in NOT_TAKEN_FOR_GRANTED:
        meant[meant == ""] = column.default
    return meant
