"""What the tape says of heights and of pruning: the last height and its day, and each time a tree was pruned."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.dates import years_between
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.remembered import Remembered
from farmmap.plans.pruning.stems import diameter_at_m

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Days = NDArray[np.datetime64]

HIGHER_M = 0.05
"""A pruned height that is not more than this above the one before was read again, not pruned again. [m]"""

BEFORE_YEARS, AFTER_YEARS = 2.0, 1.0
"""A tree pruned on a day without a diameter takes one read so long before, or so long after, where there is none on
both sides to go between. Common practice. [years]"""


@dataclass(frozen=True, eq=False)
class Prunings:
    """Each time that trees were pruned higher than before, by tree and day.

    Attributes
    ----------
    tree : ndarray of int64, shape (n,)
        Ids of the trees, rising.
    day : ndarray of datetime64[D], shape (n,)
        The day.
    from_m, to_m : ndarray, shape (n,)
        From which height to which. [m]
    dos_cm : ndarray, shape (n,)
        Diameter over the stubs; nan where it is not known. [cm]
    was_read : ndarray of bool, shape (n,)
        Whether it was read; else it is estimated from the even taper of the stem.
    """

    tree: Ints
    day: Days
    from_m: Floats
    to_m: Floats
    dos_cm: Floats
    was_read: NDArray[np.bool_]


_PRUNINGS: Remembered[Prunings] = Remembered(3)


def prunings(farm: Farm, on: dt.date) -> Prunings:
    """Return each time that trees were pruned by a day, with the diameter over the stubs that was left.

    Where it was not read, it is what an evenly tapering stem had at the lowest stubs, which are those just above the
    height pruned before, or at breast height in the first lift; stubs are not counted then.
    """
    breast = farm.settings.breast_height_m
    return _PRUNINGS.get((farm.measurements,), (on, breast), lambda: _prunings(farm.measurements, on, breast))


def last_heights(farm: Farm, on: dt.date, ids: Ints) -> tuple[Floats, Days]:
    """Return the last height of trees by a day and when it was read, for ids that rise; nan and NaT where none was.

    Of several stems read on a day the tallest counts.
    """
    columns = columns_of(farm.measurements)
    tree, day = np.asarray(columns["tree"], np.int64), _day(columns["measured_on"])
    height = np.asarray(columns["height_m"], np.float64)
    rows = np.flatnonzero((height > 0) & (day <= np.datetime64(on, "D")))
    rows = rows[np.lexsort((height[rows], day[rows], tree[rows]))]
    rows = rows[np.append(tree[rows][1:] != tree[rows][:-1], True)] if len(rows) else rows
    out, when = np.full(len(ids), np.nan), np.full(len(ids), np.datetime64("NaT", "D"))
    place = np.minimum(np.searchsorted(ids, tree[rows]), max(len(ids) - 1, 0))
    mine = ids[place] == tree[rows] if len(ids) else np.zeros(len(rows), bool)
    out[place[mine]], when[place[mine]] = height[rows][mine], day[rows][mine]
    return out, when


def coming_dos(farm: Farm, on: dt.date, ids: Ints) -> Floats:
    """Return a diameter over the stubs that was read of trees never pruned by its day, for ids that rise; else nan.

    It is of the lift that comes: somebody went to see whether it is due.
    """
    columns = columns_of(farm.measurements)
    tree, day = np.asarray(columns["tree"], np.int64), _day(columns["measured_on"])
    dos = np.asarray(columns["dos_cm"], np.float64)
    rows = np.flatnonzero((dos > 0) & (day <= np.datetime64(on, "D")))
    out = np.full(len(ids), np.nan)
    if not len(rows) or not len(ids):
        return out
    done = prunings(farm, on)
    rows = rows[np.lexsort((day[rows], tree[rows]))]
    rows = rows[np.append(tree[rows][1:] != tree[rows][:-1], True)]
    rows = rows[~np.isin(tree[rows], done.tree)]
    place = np.minimum(np.searchsorted(ids, tree[rows]), len(ids) - 1)
    mine = ids[place] == tree[rows]
    out[place[mine]] = dos[rows][mine]
    return out


def _prunings(measurements: pd.DataFrame, on: dt.date, breast_m: float) -> Prunings:
    columns = columns_of(measurements)
    tree, day = np.asarray(columns["tree"], np.int64), _day(columns["measured_on"])
    pruned = np.asarray(columns["pruned_m"], np.float64)
    past = day <= np.datetime64(on, "D")
    rows = np.flatnonzero(past & (pruned > 0))
    rows = rows[np.lexsort((pruned[rows], day[rows], tree[rows]))]
    frame = pd.DataFrame({"tree": tree[rows], "day": day[rows], "to_m": pruned[rows]})
    highest = frame.groupby("tree")["to_m"].cummax()
    before = highest.groupby(frame["tree"]).shift(fill_value=0.0)
    frame["from_m"] = before
    frame = frame[(frame["to_m"] > before + HIGHER_M).to_numpy()]
    frame = frame.groupby(["tree", "day"], as_index=False).agg({"to_m": "max", "from_m": "min"})
    taken = np.flatnonzero(past & np.isin(tree, frame["tree"].to_numpy()))
    tape = pd.DataFrame(
        {
            "tree": tree[taken],
            "day": day[taken],
            **{name: np.asarray(columns[name], np.float64)[taken] for name in ("dbh_cm", "height_m", "dos_cm")},
        }
    )
    read = _read_dos(frame, tape)
    low = np.maximum(frame["from_m"].to_numpy(np.float64), breast_m)
    dbh, height = (_on_the_day(frame, tape, name) for name in ("dbh_cm", "height_m"))
    estimated = diameter_at_m(low, dbh, height, breast_m)
    return Prunings(
        frame["tree"].to_numpy(np.int64),
        _day(frame["day"]),
        frame["from_m"].to_numpy(np.float64),
        frame["to_m"].to_numpy(np.float64),
        np.where(np.isnan(read), estimated, read),
        ~np.isnan(read),
    )


def _read_dos(frame: pd.DataFrame, tape: pd.DataFrame) -> Floats:
    """Return the largest diameter over stubs read from the day of each pruning up to the next one."""
    read = tape[(tape["dos_cm"] > 0).to_numpy()].sort_values("day", kind="stable")
    order = frame.reset_index(names="place").sort_values("day", kind="stable")
    out = np.full(len(frame), np.nan)
    if len(read) and len(frame):
        found = pd.merge_asof(read, order[["tree", "day", "place"]], on="day", by="tree").dropna(subset=["place"])
        largest = found.groupby("place")["dos_cm"].max()
        places = np.searchsorted(frame.index.to_numpy(), largest.index.to_numpy(np.int64))
        out[places] = largest.to_numpy(np.float64)
    return out


def _on_the_day(frame: pd.DataFrame, tape: pd.DataFrame, name: str) -> Floats:
    """Return a quantity on the day of each pruning: read then, else between the readings before and after it."""
    if not len(frame):
        return np.empty(0)
    known = tape[(tape[name] > 0).to_numpy()].groupby(["day", "tree"], as_index=False)[name].max()
    known["read_on"] = known["day"]
    asked = frame[["tree", "day"]].reset_index(names="place").sort_values("day", kind="stable")
    sides = [
        pd.merge_asof(asked, known, on="day", by="tree", direction=side).sort_values("place")
        for side in ("backward", "forward")
    ]
    (first, since), (last, until) = (
        (side[name].to_numpy(np.float64), np.abs(years_between(_day(side["read_on"]), _day(side["day"]))))
        for side in sides
    )
    whole = np.where(since + until > 0, since + until, 1.0)
    between = first + (last - first) * since / whole
    alone = np.where(since <= BEFORE_YEARS, first, np.where(until <= AFTER_YEARS, last, np.nan))
    return np.where(np.isnan(between), alone, between)


def _day(values: object) -> Days:
    return np.asarray(values).astype("datetime64[D]")
