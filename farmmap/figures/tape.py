"""What the tape said by a day: the latest reading of each quantity for each tree."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.splice import columns_of
from farmmap.figures.remembered import Remembered
from farmmap.figures.stand import basal_area_m2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Days = NDArray[np.datetime64]


@dataclass(frozen=True, eq=False)
class _Readings:
    """Readings of one quantity in order of tree and day; ``tree`` points into the tape's ids."""

    tree: Ints
    day: Days
    taken: dict[str, Floats]

    def last_of_each_tree(self, on: np.datetime64) -> NDArray[np.intp]:
        """Places of the last reading of each tree on or before a day."""
        places = np.flatnonzero(self.day <= on)
        trees = self.tree[places]
        return places[np.append(trees[1:] != trees[:-1], True)] if len(places) else places


@dataclass(frozen=True, eq=False)
class Diameters:
    """Diameters by tree and day: the latest of the trees that have one by a day, or all of them.

    Attributes
    ----------
    tree : ndarray of int64, shape (n,)
        Ids of the trees, increasing; each once where only the latest are asked for.
    day : ndarray of datetime64[D], shape (n,)
        Day of the diameters.
    basal_area_m2 : ndarray, shape (n,)
        Cross-section of all diameters of that day together. [m²]
    count : ndarray of int64, shape (n,)
        How many stems were measured on that day.
    breast_height_m : ndarray, shape (n,)
        Greatest height at which they were taken; nan: the farm's own. [m]
    """

    tree: Ints
    day: Days
    basal_area_m2: Floats
    count: Ints
    breast_height_m: Floats


class Tape:
    """The measurements of a farm in an order that makes the latest ones quick to find.

    Parameters
    ----------
    measurements : DataFrame
        The farm's table of measurements.
    """

    def __init__(self, measurements: pd.DataFrame) -> None:
        self._columns = columns_of(measurements)

    @property
    def newest(self) -> dt.date | None:
        """Newest day on which anything was measured."""
        days, _ = self._days
        return days[-1].astype(object) if len(days) else None

    def newest_by(self, on: dt.date) -> dt.date | None:
        """Newest day, not after another, on which anything was measured."""
        days, _ = self._days
        past = int(np.searchsorted(days, np.datetime64(on, "D"), side="right"))
        return days[past - 1].astype(object) if past else None

    def after(self, on: dt.date) -> int:
        """How many readings were taken after a day."""
        days, counts = self._days
        return int(counts[np.searchsorted(days, np.datetime64(on, "D"), side="right") :].sum())

    def changed(self, measurements: pd.DataFrame, gone: pd.DataFrame, put_in: pd.DataFrame) -> Tape:
        """Return the tape after an edit: its days at once, all else when it is asked for.

        Parameters
        ----------
        measurements : DataFrame
            The table after the edit.
        gone, put_in : DataFrame
            Rows as they were and as they are now.
        """
        out = Tape(measurements)
        days, counts = self._days
        new, of_new = _counted(_days_of(columns_of(put_in)))
        old, of_old = _counted(_days_of(columns_of(gone)))
        all_days = np.unique(np.concatenate([days, new, old]))
        total = np.zeros(len(all_days), np.int64)
        for here, many in ((days, counts), (new, of_new), (old, -of_old)):
            total[np.searchsorted(all_days, here)] += many
        out.__dict__["_days"] = (all_days[total > 0], total[total > 0])
        return out

    @cached_property
    def ids(self) -> Ints:
        """Ids of the trees that were measured, increasing."""
        return self._trees[0]

    @property
    def _tree(self) -> Ints:
        return self._trees[1]

    @cached_property
    def _trees(self) -> tuple[Ints, Ints]:
        """Ids of the trees, and the tree of each reading as a place in them."""
        tree = np.asarray(self._columns["tree"], np.int64)
        if len(tree) and (tree[1:] > tree[:-1]).all():
            return tree, np.arange(len(tree))
        ids, at = np.unique(tree, return_inverse=True)
        return ids, at

    @cached_property
    def _day(self) -> Days:
        return _days_of(self._columns)

    @cached_property
    def _dated(self) -> NDArray[np.bool_]:
        return ~np.isnat(self._day)

    @cached_property
    def _days(self) -> tuple[Days, Ints]:
        """Days on which anything was measured, increasing, and how many readings each has."""
        return _counted(self._day)

    def latest(self, quantity: str, on: np.datetime64) -> tuple[Ints, Floats]:
        """Latest reading of ``height_m``, ``crown_m`` or ``pruned_m`` for each tree that has one.

        Where a tree has several on its latest day the greatest is taken.

        Returns
        -------
        tree : ndarray of int64, shape (n,)
            Ids, increasing.
        values : ndarray, shape (n,)
            The readings.
        """
        readings = self._single[quantity]
        places = readings.last_of_each_tree(on)
        return self.ids[readings.tree[places]], readings.taken["value"][places]

    def diameters(self, on: np.datetime64) -> Diameters:
        """Return the diameters of each tree's latest day that has one, on or before ``on``."""
        return self._diameters_at(self._by_day.last_of_each_tree(on))

    def all_diameters(self) -> Diameters:
        """Return the diameters of every day of every tree, in the order of tree and day."""
        return self._diameters_at(np.arange(len(self._by_day.tree)))

    def of_tree(self, tree: int) -> Diameters:
        """Return the diameters of every day of one tree, in the order of the days."""
        place = int(np.searchsorted(self.ids, tree))
        if place == len(self.ids) or self.ids[place] != tree:
            return self._diameters_at(np.empty(0, np.intp))
        first, end = np.searchsorted(self._by_day.tree, [place, place + 1])
        return self._diameters_at(np.arange(first, end))

    def all_readings(self, quantity: str) -> tuple[Ints, Days, Floats]:
        """Return tree, day and value of every height, crown or pruned height, in the order of tree and day."""
        readings = self._single[quantity]
        return self.ids[readings.tree], readings.day, readings.taken["value"]

    def _diameters_at(self, places: NDArray[np.intp]) -> Diameters:
        readings = self._by_day
        return Diameters(
            self.ids[readings.tree[places]],
            readings.day[places],
            readings.taken["basal"][places],
            readings.taken["count"][places].astype(np.int64),
            readings.taken["breast"][places],
        )

    @cached_property
    def _single(self) -> dict[str, _Readings]:
        found = {}
        for quantity in ("height_m", "crown_m", "pruned_m"):
            values = np.asarray(self._columns[quantity], np.float64)
            least_is_real = quantity == "pruned_m"
            rows = np.flatnonzero(
                self._dated & np.isfinite(values) & ((values >= 0) if least_is_real else (values > 0))
            )
            rows = rows[np.lexsort((values[rows], self._day[rows], self._tree[rows]))]
            found[quantity] = _Readings(self._tree[rows], self._day[rows], {"value": values[rows]})
        return found

    @cached_property
    def _by_day(self) -> _Readings:
        """Diameters added up for each tree and day; a stem read twice on a day counts with its later row."""
        dbh = np.asarray(self._columns["dbh_cm"], np.float64)
        stem = np.asarray(self._columns["stem"], np.int64)
        breast = np.asarray(self._columns["breast_height_m"], np.float64)
        rows = np.flatnonzero(self._dated & np.isfinite(dbh) & (dbh > 0))
        rows = rows[np.lexsort((stem[rows], self._day[rows], self._tree[rows]))]
        tree, day = self._tree[rows], self._day[rows]
        new_day = np.append(True, (tree[1:] != tree[:-1]) | (day[1:] != day[:-1]))[: len(rows)]
        keep = np.append(new_day[1:] | (stem[rows][1:] != stem[rows][:-1]), True)[: len(rows)]
        group = (np.cumsum(new_day) - 1)[keep]
        starts = np.flatnonzero(new_day)
        rows = rows[keep]
        heights = np.full(len(starts), -np.inf)
        np.maximum.at(heights, group, np.where(np.isnan(breast[rows]), -np.inf, breast[rows]))
        values = {
            "basal": np.bincount(group, basal_area_m2(dbh[rows]), len(starts)),
            "count": np.bincount(group, minlength=len(starts)).astype(np.float64),
            "breast": np.where(np.isinf(heights), np.nan, heights),
        }
        return _Readings(tree[starts], day[starts], values)


def _days_of(columns: Mapping[str, Any]) -> Days:
    return np.asarray(columns["measured_on"]).astype("datetime64[D]")


def _counted(days: Days) -> tuple[Days, Ints]:
    found, counts = np.unique(days[~np.isnat(days)], return_counts=True)
    return found, counts.astype(np.int64)


_TAPES: Remembered[Tape] = Remembered(4)


def tape_of(measurements: pd.DataFrame) -> Tape:
    """Return the tape of a table of measurements, kept for the last few tables."""
    return _TAPES.get((measurements,), (), lambda: Tape(measurements))


def tape_after(before: pd.DataFrame, after: pd.DataFrame, gone: pd.DataFrame, put_in: pd.DataFrame) -> None:
    """Keep the tape of a table after an edit, if that of the table before it is at hand.

    Parameters
    ----------
    before, after : DataFrame
        The table of measurements before and after.
    gone, put_in : DataFrame
        Rows as they were and as they are now.
    """
    tape = _TAPES.find((before,))
    if tape is not None:
        _TAPES.put((after,), (), tape.changed(after, gone, put_in))
