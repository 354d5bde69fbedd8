"""Rows of a source to measurements of trees: dates, stems, and what is there already."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import MEASUREMENTS
from farmmap.files.bringing.counted import NAMED_ROWS, counted, rows_named
from farmmap.files.bringing.grouping import nth_of_its_kind
from farmmap.files.bringing.sieve import Sieve

READINGS = ("dbh_cm", "height_m", "crown_m", "pruned_m")


@dataclass(frozen=True)
class Day:
    """Days that readings without one may get."""

    given: dt.date | None
    today: dt.date


def without_noughts(values: dict[str, Any], good: np.ndarray, said: list[str]) -> None:
    """Take a diameter, height or crown of 0 as not measured."""
    for name, words in (("dbh_cm", "diameter"), ("height_m", "height"), ("crown_m", "crown")):
        if name not in values:
            continue
        nought = values[name] == 0
        count = int((nought & good).sum())
        if count:
            said.append(f"{counted(count, 'row has', 'rows have')} a {words} of 0, which was taken as not measured.")
            values[name] = np.where(nought, np.nan, values[name])


def dated(values: dict[str, Any], rows: np.ndarray, day: Day, sieve: Sieve, said: list[str]) -> None:
    """Give a day to readings that carry none: the one given for the whole file, else today.

    Parameters
    ----------
    values : dict of str to ndarray, shape (n,)
        ``measured_on`` is filled in.
    rows : ndarray of bool, shape (n,)
        Rows with a reading.
    day : Day
        Day given for the whole file, and today.
    sieve : Sieve
        Knows the numbers of the rows.
    said : list of str
        Which day was taken, is added.
    """
    count = len(rows)
    days = values.get("measured_on", np.full(count, np.datetime64("NaT", "s"))).copy()
    without = np.isnat(days)
    taken = day.given or day.today
    if (without & rows).any():
        why = "the day given" if day.given else "today; to give another, say --measured-on YYYY-MM-DD"
        words = counted((without & rows).sum(), "reading carries", "readings carry")
        said.append(f"{words} no day; {taken.isoformat()} was taken ({why}).")
    days[without] = np.datetime64(taken, "s")
    later = np.flatnonzero(rows & (days > np.datetime64(max(day.today, taken), "s")))
    if len(later):
        where = rows_named([sieve.row_number(position) for position in later[: NAMED_ROWS + 1]], len(later))
        said.append(f"{counted(len(later), 'reading is', 'readings are')} of a day after today ({where}).")
    values["measured_on"] = days


def has_reading(values: Mapping[str, Any], count: int) -> np.ndarray:
    """Return which rows carry a diameter, height, crown or pruned height; bool, shape (count,)."""
    found = np.zeros(count, bool)
    for name in READINGS:
        if name in values:
            found |= np.isfinite(values[name])
    return found


def readings_table(
    farm: Farm,
    values: Mapping[str, Any],
    trees: np.ndarray,
    keep: np.ndarray,
    sieve: Sieve,
    said: list[str],
    *,
    by: str = "tag, place",
    notes: bool = False,
) -> tuple[pd.DataFrame, np.ndarray]:
    """Return measurements to be put in.

    Several diameters of one tree on one day are its stems, numbered in their
    order, also equal ones. A reading that the farm has already is refused,
    unless its row is in ``keep``.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    values : mapping of str to ndarray, shape (n,)
        Columns of the rows, ``measured_on`` complete.
    trees : ndarray of int64, shape (n,)
        Id of each row's tree, as it is or will be; -1 for rows that are bad.
    keep : ndarray of bool, shape (n,)
        Rows that have something else to bring, and are not refused for an old reading.
    sieve : Sieve
        Where rows are refused.
    said : list of str
        What was taken for granted is added.
    by : str
        What trees were told apart by, in words.
    notes : bool
        The rows' notes are the measurements', not the trees'.

    Returns
    -------
    rows : DataFrame
        Of the measurements table.
    positions : ndarray of int64
        Row of the source that each comes from.
    """
    both = _with_the_farms(farm, values, trees, sieve)
    both = _without_repeats(both, keep, sieve)
    stems = _stems(both, by, said)
    mine = both["row"] >= 0
    positions = both["row"][mine]
    frame = shaped(
        MEASUREMENTS,
        {
            "tree": both["tree"][mine],
            "measured_on": both["day"][mine].astype("datetime64[s]"),
            "stem": stems[mine],
            **{name: both[name][mine] for name in READINGS},
            "breast_height_m": _picked(values, "breast_height_m", positions),
            "note": values["note"][positions] if notes and "note" in values else None,
        },
        next_ids(farm.measurements, len(positions)),
        farm.grid,
    )
    return frame, positions


def _picked(values: Mapping[str, Any], name: str, rows: np.ndarray) -> np.ndarray:
    return values[name][rows] if name in values else np.full(len(rows), np.nan)


def _with_the_farms(farm: Farm, values: Mapping[str, Any], trees: np.ndarray, sieve: Sieve) -> dict[str, np.ndarray]:
    """Return the readings that the farm has of the same trees, row -1, and after them those of the good rows."""
    new = np.flatnonzero(sieve.good & (trees >= 0) & has_reading(values, len(trees)))
    old = farm.measurements.loc[np.isin(farm.measurements["tree"].to_numpy(), trees[new])]
    days = np.concatenate([old["measured_on"].to_numpy("datetime64[s]"), values["measured_on"][new]])
    both = {
        "row": np.concatenate([np.full(len(old), -1, np.int64), new]),
        "tree": np.concatenate([old["tree"].to_numpy(np.int64), trees[new]]),
        "day": days.astype(np.int64),
        "stem": np.concatenate([old["stem"].to_numpy(np.float64), _picked(values, "stem", new)]),
        "stems": np.concatenate([np.zeros(len(old)), np.nan_to_num(_picked(values, "stems", new))]),
    }
    for name in READINGS:
        both[name] = np.concatenate([old[name].to_numpy(np.float64), _picked(values, name, new)])
    return both


def _without_repeats(both: dict[str, np.ndarray], keep: np.ndarray, sieve: Sieve) -> dict[str, np.ndarray]:
    """Set aside, one for one, rows whose reading the farm has; and alike rows that cannot be further stems."""
    mine = both["row"] >= 0
    several = nth_of_its_kind(both["tree"], both["day"]) > 0
    if not several.any():
        return both
    alike = [both["tree"], both["day"], *(np.round(both[name], 6) for name in READINGS)]
    given = np.isfinite(both["stem"])
    told = mine & given
    # a row that names its stem is compared with the same stem, any other row with all of the tree
    known = _is_there(mine & ~given, mine, alike) | _is_there(told, mine, [*alike, both["stem"]])
    nth = nth_of_its_kind(*alike, np.where(told, both["stem"], np.nan), mine)
    more_than_told = (both["stems"] > 1) & (nth >= both["stems"])
    again = mine & ~known & (nth > 0) & (given | np.isnan(both["dbh_cm"]) | more_than_told)
    for rows, reason in (
        (both["row"][known], "the same reading of the same tree on the same day is there already"),
        (both["row"][again], "the same reading of the same tree on the same day stands in a row before"),
    ):
        sieve.refuse_at(rows[~keep[rows]], reason)
    return {name: column[~(known | again)] for name, column in both.items()}


def _is_there(asked: np.ndarray, mine: np.ndarray, keys: list[np.ndarray]) -> np.ndarray:
    """Return which of the asked rows the farm has, each of its readings answering for one row; bool, shape (n,)."""
    rows = np.flatnonzero(asked | ~mine)  # the farm's stand first
    picked = [key[rows] for key in keys]
    nth_of_all = nth_of_its_kind(*picked)
    nth_of_own = nth_of_its_kind(*picked, asked[rows])
    there = nth_of_all - nth_of_own  # of an asked row: how many the farm has of its kind
    out = np.zeros(len(mine), bool)
    out[rows] = asked[rows] & (nth_of_own < there)
    return out


def _stems(both: dict[str, np.ndarray], by: str, said: list[str]) -> np.ndarray:
    """Return which stem each reading is of: as given, else in the order in which a day's diameters stand."""
    thick = np.isfinite(both["dbh_cm"])
    order = nth_of_its_kind(both["tree"], both["day"], thick) + 1
    given = np.isfinite(both["stem"])
    stems = np.where(given, np.nan_to_num(both["stem"]), np.where(thick, order, 1)).astype(np.int64)
    further = thick & ~given & (stems > 1)
    equal = further & (nth_of_its_kind(both["tree"], both["day"], np.round(both["dbh_cm"], 6)) > 0)
    equal &= both["stems"] < 2  # else the row itself says that its tree has several
    if equal.any():
        repeat = counted(equal.sum(), "row repeats", "rows repeat")
        taken = "it was" if equal.sum() == 1 else "each was"
        said.append(
            f"{repeat} the {by}, day and diameter of a row before; {taken} taken for a further stem of that tree."
        )
    others = int((further & ~equal).sum())
    if others:
        diameters = counted(others, "further diameter", "further diameters")
        taken = "was taken as a further stem" if others == 1 else "were taken as further stems"
        said.append(f"{diameters} of the same tree on the same day {taken} of it.")
    return stems


def low_and_thick(farm: Farm, values: Mapping[str, Any], good: np.ndarray, said: list[str]) -> None:
    """Say how many rows have a diameter at breast height but do not reach it."""
    if "dbh_cm" not in values or "height_m" not in values:
        return
    height = values.get("breast_height_m", np.full(len(good), np.nan))
    height = np.where(np.isfinite(height), height, farm.settings.breast_height_m)
    low = good & (values["height_m"] < height) & np.isfinite(values["dbh_cm"])
    if low.any():
        words = counted(low.sum(), "row has a diameter but is", "rows have a diameter but are")
        said.append(f"{words} lower than breast height; both were kept.")


def with_stems(trees: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Return trees that have at least as many stems as were measured on them."""
    at = trees.index.get_indexer(pd.Index(readings["tree"]))
    stems = trees["stems"].to_numpy(np.int64).copy()
    np.maximum.at(stems, at[at >= 0], readings["stem"].to_numpy(np.int64)[at >= 0])
    return trees.assign(stems=stems)


def summary(new: int | None, altered: int, readings: pd.DataFrame, measured: int) -> str:
    """Return in words what came in; ``new`` is None where no trees were meant to."""
    parts = [] if new is None else [counted(new, "tree", "trees")]
    if len(readings) or new is None:
        several = counted(len(readings), "measurement", "measurements")
        parts.append(f"{several} of {counted(measured, 'tree', 'trees')}")
    words = " and ".join(parts) + " came in"
    fare = counted(altered, "tree that was there fares", "trees that were there fare")
    return words + (f"; {fare} otherwise now." if altered else ".")
