"""The repeat readings of every tree of a farm: diameters, their days, and the tree's age on each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR, half_spans_of, middles_of
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.stand import dbh_from_basal_area_cm
from farmmap.figures.tape import tape_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NO_SPECIES = "species not given"
_EPOCH_YEAR = 1970.0


@dataclass(frozen=True, eq=False)
class Readings:
    """Every tree of the farm with its readings, those of one tree after another in order of day.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Trees, increasing.
    species : ndarray of int64, shape (n,)
        As places in ``species_names``.
    species_names : tuple of str
        Codes; "" for trees without one.
    planted : ndarray, shape (n,)
        Middle of the time in which it was planted, in years of the calendar; nan where not known.
    unsure_years : ndarray, shape (n,)
        Standard deviation of that, as of a day anywhere in that time.
    stock : ndarray of int64, shape (n,)
        As places in ``stock_names``.
    stock_names : tuple of str
        Kinds of plant.
    first, count : ndarray of int64, shape (n,)
        Where each tree's readings begin, and how many it has.
    tree : ndarray of int64, shape (k,)
        Place of the tree of each reading.
    year : ndarray, shape (k,)
        Day of each reading, in years of the calendar.
    dbh_cm : ndarray, shape (k,)
        Diameter, for several stems √(Σd²/number).
    """

    ids: Ints
    species: Ints
    species_names: tuple[str, ...]
    planted: Floats
    unsure_years: Floats
    stock: Ints
    stock_names: tuple[str, ...]
    first: Ints
    count: Ints
    tree: Ints
    year: Floats
    dbh_cm: Floats

    @cached_property
    def age(self) -> Floats:
        """Age from planting at each reading. [years]."""
        return self.year - self.planted[self.tree]

    @cached_property
    def last(self) -> Ints:
        """Place of each tree's last reading; -1 where it has none."""
        return np.where(self.count > 0, self.first + self.count - 1, -1)

    def at_last(self, values: Floats) -> Floats:
        """Return the value of each tree's last reading, nan where it has none. Shape (n,)."""
        out = np.full(len(self.ids), np.nan)
        has = self.count > 0
        out[has] = values[self.last[has]]
        return out

    @cached_property
    def last_age(self) -> Floats:
        """Age at each tree's last reading. [years]."""
        return self.at_last(self.age)

    @cached_property
    def last_year(self) -> Floats:
        """Day of each tree's last reading, in years of the calendar."""
        return self.at_last(self.year)

    @cached_property
    def last_cm(self) -> Floats:
        """Each tree's last diameter. [cm]."""
        return self.at_last(self.dbh_cm)

    def rows_of(self, trees: Ints) -> tuple[Ints, Ints]:
        """Return the rows of the readings of some trees, one tree after another, and the place of each one's tree."""
        count = self.count[trees]
        place = np.repeat(np.arange(len(trees)), count)
        return self.first[trees][place] + np.arange(len(place)) - (np.cumsum(count) - count)[place], place

    def kept(self, keep: NDArray[np.bool_]) -> Readings:
        """Return the same trees with only some of their readings. ``keep`` has shape (k,)."""
        count = np.bincount(self.tree[keep], minlength=len(self.ids))
        return Readings(
            self.ids,
            self.species,
            self.species_names,
            self.planted,
            self.unsure_years,
            self.stock,
            self.stock_names,
            np.cumsum(count) - count,
            count,
            self.tree[keep],
            self.year[keep],
            self.dbh_cm[keep],
        )

    def without_last(self, many: int = 1) -> Readings:
        """Return the same trees without the last readings of each."""
        place = np.arange(len(self.tree)) - self.first[self.tree]
        return self.kept(place < self.count[self.tree] - many)

    def padded(self, trees: Ints, values: Floats, fill: float = np.nan) -> Floats:
        """Return values of the readings of some trees as rows, filled up at their ends. Shape (len(trees), m)."""
        count = self.count[trees]
        column = np.arange(int(count.max()) if len(trees) else 0)
        inside = column[None, :] < count[:, None]
        places = np.where(inside, self.first[trees][:, None] + column, 0)
        return np.where(inside, values[places] if len(values) else np.nan, fill)


def year_of(day: NDArray[np.datetime64] | np.datetime64) -> Floats:
    """Days as years of the calendar, each of 365.25 days; nan for NaT."""
    days = np.asarray(day, "datetime64[D]")
    return np.where(np.isnat(days), np.nan, _EPOCH_YEAR + days.astype(np.int64) / DAYS_A_YEAR)


def readings_of(farm: Farm) -> Readings:
    """Return all diameters of the farm's existing trees, with ages.

    A tree's readings are those with as many stems and at the height of its
    last one: √(Σd²/number) of three stems and the diameter of one are not
    the same thing, and would look like growth. Planned trees are left out.

    Parameters
    ----------
    farm : Farm
        The farm.
    """
    trees = columns_of(farm.trees)
    here = np.flatnonzero(np.asarray(trees["stage"] == "existing", bool))
    here = here[np.argsort(farm.trees.index.to_numpy(np.int64)[here], kind="stable")]
    ids = farm.trees.index.to_numpy(np.int64)[here]
    found = tape_of(farm.measurements).all_diameters()
    at = np.minimum(np.searchsorted(ids, found.tree), max(len(ids) - 1, 0))
    known = ids[at] == found.tree if len(ids) else np.zeros(len(found.tree), bool)
    breast = np.where(np.isnan(found.breast_height_m), farm.settings.breast_height_m, found.breast_height_m)
    ends = np.append(found.tree[1:] != found.tree[:-1], True)[: len(found.tree)]
    last = np.flatnonzero(ends)[np.cumsum(ends) - ends] if len(ends) else np.zeros(0, np.int64)
    known &= (found.count == found.count[last]) & (breast == breast[last])
    tree = at[known]
    count = np.bincount(tree, minlength=len(ids))
    species, names = pd.factorize(np.asarray(trees["species"])[here])
    stock, stocks = pd.factorize(np.asarray(trees["stock"])[here])
    written = pd.Series(np.asarray(trees["planted"])[here])
    return Readings(
        ids,
        species,
        tuple(str(name) for name in names),
        year_of(middles_of(written)),
        half_spans_of(written) / np.sqrt(3.0),
        stock,
        tuple(str(name) for name in stocks),
        np.cumsum(count) - count,
        count,
        tree,
        year_of(found.day[known]),
        dbh_from_basal_area_cm(found.basal_area_m2[known] / found.count[known]),
    )
