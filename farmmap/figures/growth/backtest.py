"""How good the forecasts would have been: the last readings of each tree predicted from the earlier ones.

All that is fitted is fitted anew without them, so that nothing of what is
predicted is known. Beside the forecast stand the two rules of thumb that
growers use: the last increment goes on, and the mean increment since planting
goes on (since the first reading where the planting date is not known).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.farm_growth import BY_AGE, FarmGrowth, growth_from
from farmmap.figures.growth.forecasts import diameters_at
from farmmap.figures.growth.readings import Readings

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class BackTest:
    """Readings that were hidden and predicted. All arrays have shape (k,).

    Attributes
    ----------
    ids : ndarray of int64
        Trees.
    species : ndarray of int64
        As places in ``species_names``.
    species_names : tuple of str
        Codes.
    ahead_years : ndarray
        From the last reading that was left to the one predicted. [years]
    readings : ndarray of int64
        Readings that were left of the tree.
    by_age : ndarray of bool
        Whether it was carried on by age; else by size.
    read_cm : ndarray
        What the tape said. [cm]
    forecast_cm, low_cm, high_cm : ndarray
        What was forecast, and the 80 % interval. [cm]
    last_rule_cm, mean_rule_cm : ndarray
        What the rules of thumb say; nan where they say nothing. [cm]
    """

    ids: NDArray[np.int64]
    species: NDArray[np.int64]
    species_names: tuple[str, ...]
    ahead_years: Floats
    readings: NDArray[np.int64]
    by_age: NDArray[np.bool_]
    read_cm: Floats
    forecast_cm: Floats
    low_cm: Floats
    high_cm: Floats
    last_rule_cm: Floats
    mean_rule_cm: Floats

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Whether each reading lay within its interval."""
        return (self.read_cm >= self.low_cm) & (self.read_cm <= self.high_cm)

    def errors_cm(self) -> dict[str, float]:
        """Root mean square errors of forecast and rules, over the readings for which all three say something. [cm]."""
        said = np.isfinite(self.forecast_cm + self.last_rule_cm + self.mean_rule_cm)
        ways = {"forecast": self.forecast_cm, "last": self.last_rule_cm, "mean": self.mean_rule_cm}
        return {
            name: float(np.sqrt(np.mean((values[said] - self.read_cm[said]) ** 2))) if said.any() else float("nan")
            for name, values in ways.items()
        }

    def coverage(self) -> float:
        """Share of the predicted readings that lay within their 80 % interval."""
        said = np.isfinite(self.forecast_cm)
        return float(self.inside[said].mean()) if said.any() else float("nan")


def back_test(readings: Readings, labels: Mapping[str, str], hidden: int = 1) -> BackTest:
    """Hide the last readings of each tree, work out the growth from the rest, and predict what was hidden.

    Parameters
    ----------
    readings : Readings
        Trees with their diameters.
    labels : mapping of str to str
        Trade names by code.
    hidden : int
        How many readings of each tree are hidden; trees with no more than that are left out.
    """
    earlier = readings.without_last(hidden)
    growth = growth_from(earlier, labels)
    place = np.arange(len(readings.tree)) - readings.first[readings.tree]
    left = np.maximum(readings.count - hidden, 0)
    rows = np.flatnonzero((place >= left[readings.tree]) & (left[readings.tree] > 0))
    trees = readings.tree[rows]
    year = readings.year[rows]
    middle, low, high = diameters_at(growth, trees, year)
    last, mean = _rules(growth, trees, year)
    return BackTest(
        readings.ids[trees],
        readings.species[trees],
        readings.species_names,
        year - earlier.last_year[trees],
        left[trees],
        growth.ways[trees] == BY_AGE,
        readings.dbh_cm[rows],
        middle,
        low,
        high,
        last,
        mean,
    )


def _rules(growth: FarmGrowth, trees: NDArray[np.int64], year: Floats) -> tuple[Floats, Floats]:
    """Diameters if the last increment, or the mean increment, goes on."""
    known = growth.readings
    first, last = known.first[trees], known.first[trees] + known.count[trees] - 1
    before = np.maximum(last - 1, first)
    size, on = known.dbh_cm[last], year - known.year[last]
    with np.errstate(invalid="ignore", divide="ignore"):
        recent = (size - known.dbh_cm[before]) / (known.year[last] - known.year[before])
        own = (size - known.dbh_cm[first]) / (known.year[last] - known.year[first])
        mean = np.where(np.isfinite(known.planted[trees]), size / known.age[last], own)
    return size + recent * on, size + mean * on
