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
            said.append(f"{count} rows have a {words} of 0, which was taken as not measured.")
            values[name] = np.where(nought, np.nan, values[name])


def dated(values: dict[str, Any], rows: np.ndarray, day: dt.date | None, today: dt.date, said: list[str]) -> None:
    """Give a day to readings that carry none: the one given for the whole file, else today.

    Parameters
    ----------
    values : dict of str to ndarray, shape (n,)
        ``measured_on`` is filled in.
    rows : ndarray of bool, shape (n,)
        Rows with a reading.
    day : date or None
        Day given for the whole file.
    today : date
        Today.
    said : list of str
        Which day was taken, is added.
    """
    count = len(rows)
    days = values.get("measured_on", np.full(count, np.datetime64("NaT", "s"))).copy()
    without = np.isnat(days)
    taken = day or today
    if (without & rows).any():
        why = "the day given" if day else "today; to give another, say --measured-on YYYY-MM-DD"
        said.append(f"{(without & rows).sum()} readings carry no day; {taken.isoformat()} was taken ({why}).")
    days[without] = np.datetime64(taken, "s")
    later = rows & (days > np.datetime64(max(today, taken), "s"))
    if later.any():
        said.append(f"{later.sum()} readings are of a day after today.")
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
    notes: bool = False,
) -> tuple[pd.DataFrame, np.ndarray]:
    """Return measurements to be put in.

    Several diameters of one tree on one day are its stems, numbered in their
    order; a reading that is there already is refused, unless its row is in ``keep``.

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
    notes : bool
        The rows' notes are the measurements', not the trees'.

    Returns
    -------
    rows : DataFrame
        Of the measurements table.
    positions : ndarray of int64
        Row of the source that each comes from.
    """
    new = np.flatnonzero(sieve.good & (trees >= 0) & has_reading(values, len(trees)))
    old = farm.measurements.loc[np.isin(farm.measurements["tree"].to_numpy(), trees[new])]
    both = {
        "row": np.concatenate([np.full(len(old), -1, np.int64), new]),
        "tree": np.concatenate([old["tree"].to_numpy(np.int64), trees[new]]),
        "day": np.concatenate([old["measured_on"].to_numpy("datetime64[s]"), values["measured_on"][new]]).astype(
            np.int64
        ),
        "stem": np.concatenate([old["stem"].to_numpy(np.float64), _picked(values, "stem", new)]),
        "stems": np.concatenate([np.zeros(len(old)), _picked(values, "stems", new)]),
    }
    for name in READINGS:
        both[name] = np.concatenate([old[name].to_numpy(np.float64), _picked(values, name, new)])
    both = _without_repeats(both, keep, sieve)
    stems = _stems(both, said)
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


def _without_repeats(both: dict[str, np.ndarray], keep: np.ndarray, sieve: Sieve) -> dict[str, np.ndarray]:
    mine = both["row"] >= 0
    several = nth_of_its_kind(both["tree"], both["day"]) > 0
    if not several.any():
        return both
    given = np.where(mine, both["stem"], np.nan)
    nth = nth_of_its_kind(both["tree"], both["day"], given, *(np.round(both[name], 6) for name in READINGS))
    again = mine & (nth > 0)
    again &= ~(nth < np.nan_to_num(both["stems"]))  # the row itself says that there are so many stems
    rows = both["row"][again]
    sieve.refuse_at(rows[~keep[rows]], "the same reading of the same tree on the same day is there already")
    return {name: column[~again] for name, column in both.items()}


def _stems(both: dict[str, np.ndarray], said: list[str]) -> np.ndarray:
    """Return which stem each reading is of: as given, else in the order in which a day's diameters stand."""
    thick = np.isfinite(both["dbh_cm"])
    order = nth_of_its_kind(both["tree"], both["day"], thick) + 1
    given = np.isfinite(both["stem"])
    stems = np.where(given, np.nan_to_num(both["stem"]), np.where(thick, order, 1)).astype(np.int64)
    further = int((thick & ~given & (stems > 1)).sum())
    if further:
        said.append(f"{further} further diameters of the same tree on the same day were taken as further stems of it.")
    return stems


def low_and_thick(farm: Farm, values: Mapping[str, Any], good: np.ndarray, said: list[str]) -> None:
    """Say how many rows have a diameter at breast height but do not reach it."""
    if "dbh_cm" not in values or "height_m" not in values:
        return
    height = values.get("breast_height_m", np.full(len(good), np.nan))
    height = np.where(np.isfinite(height), height, farm.settings.breast_height_m)
    low = good & (values["height_m"] < height) & np.isfinite(values["dbh_cm"])
    if low.any():
        said.append(f"{low.sum()} rows have a diameter but are lower than breast height; both were kept.")


def with_stems(trees: pd.DataFrame, readings: pd.DataFrame) -> pd.DataFrame:
    """Return trees that have at least as many stems as were measured on them."""
    at = trees.index.get_indexer(pd.Index(readings["tree"]))
    stems = trees["stems"].to_numpy(np.int64).copy()
    np.maximum.at(stems, at[at >= 0], readings["stem"].to_numpy(np.int64)[at >= 0])
    return trees.assign(stems=stems)


def summary(new: int | None, altered: int, readings: pd.DataFrame, measured: int) -> str:
    """Return in words what came in; ``new`` is None where no trees were meant to."""
    parts = [] if new is None else [f"{new} trees"]
    if len(readings) or new is None:
        parts.append(f"{len(readings)} measurements of {measured} trees")
    words = " and ".join(parts) + " came in"
    return words + (f"; {altered} trees that were there fare otherwise now." if altered else ".")
