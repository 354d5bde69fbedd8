"""In which year the lifts of trees come due that are not due yet."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR, middles_of, years_between
from farmmap.farm.farm import Farm
from farmmap.figures.growth.forecasts import ready
from farmmap.figures.remembered import Remembered
from farmmap.plans.pruning.readings import last_heights
from farmmap.plans.pruning.state import LATER, Pruning, pruning_of
from farmmap.plans.pruning.stems import dbh_for_diameter_cm

Floats = NDArray[np.float64]

MOST_AGE_YEARS = 25.0
"""Up to this age a tree's height is taken to go on as in a mean year of its life so far; older ones slow down. Common
practice, rough. [years]"""

LEAST_AGE_YEARS = 1.5
"""A younger tree says little of its growth in height. [years]"""

MOST_AHEAD_YEARS = 15.0
"""Nothing is said of what comes due later than this. Common practice. [years]"""

NOT_ENOUGH = "not enough to say"
BY_HEIGHT = "its mean growth in height goes on"


@dataclass(frozen=True, eq=False)
class Coming:
    """When lifts come due, for the trees of `Pruning.there`. All arrays have shape (n,).

    Attributes
    ----------
    year : ndarray
        Year with its fraction; nan where it is due already, or where there is not enough to say.
    low, high : ndarray
        80 % interval of a forecast of diameter; inf where it is open, nan where there is none.
    method : ndarray of object
        How the year was come by, in words.
    """

    year: Floats
    low: Floats
    high: Floats
    method: NDArray[np.object_]


_COMING: Remembered[Coming] = Remembered(3)


def coming(farm: Farm, on: dt.date | None = None) -> Coming:
    """Return the year in which each lift that is not due yet comes due, kept for the last few farms and days.

    By diameter it is the year for which `farmmap.figures.growth` forecasts the stem to be as thick over the stubs as
    the lift says, the tree taken to be as tall as it is now. By height it is the year in which the tree is tall
    enough if it goes on growing as in a mean year of its life so far. The earlier of the two holds, but not before
    the tree is tall enough to keep the green crown that the lift leaves.
    """
    found = pruning_of(farm, on)
    return _COMING.get((found, farm.trees, farm.measurements), (), lambda: _work_out(farm, found))


def _work_out(farm: Farm, found: Pruning) -> Coming:
    many = len(found.there)
    year, low, high = (np.full(many, np.nan) for _ in range(3))
    method = np.full(many, "", object)
    places = np.flatnonzero(found.state == LATER)
    if not len(places):
        return Coming(year, low, high, method)
    now = decimal_year(found.there.on)
    thick, least, most, way = _by_diameter(farm, found, places)
    tall = _by_height(farm, found, places, found.tall_m[places])
    is_thick = np.fmin(thick, tall) == thick
    soonest = np.where(is_thick, thick, tall)
    crown = found.crowned_enough_m[places]
    waits = found.height_m[places] < crown
    crowned = _by_height(farm, found, places, crown)
    is_thick &= ~(waits & ~(crowned <= soonest))
    soonest = np.where(waits, np.maximum(soonest, crowned), soonest)
    soonest = np.where(soonest <= now + MOST_AHEAD_YEARS, np.maximum(soonest, now), np.nan)
    year[places] = soonest
    given = is_thick & ~np.isnan(soonest)
    low[places] = np.where(given, np.maximum(least, now), np.nan)
    high[places] = np.where(given, most, np.nan)
    method[places] = np.where(np.isnan(soonest), NOT_ENOUGH, np.where(is_thick, way, BY_HEIGHT))
    return Coming(year, low, high, method)


def _by_diameter(
    farm: Farm, found: Pruning, places: NDArray[np.intp]
) -> tuple[Floats, Floats, Floats, NDArray[np.object_]]:
    """Return the forecast year of each, its interval, and how it was come by."""
    target = dbh_for_diameter_cm(
        found.dos_due_cm[places], found.lowest_m[places], found.height_m[places], found.there.breast_height_m
    )
    year, low, high = (np.full(len(places), np.nan) for _ in range(3))
    way = np.full(len(places), "", object)
    asked = np.flatnonzero(~np.isnan(target) & ~np.isnan(found.there.dbh_cm[places]))
    if len(asked):
        answer = ready(farm, target[asked], found.there.ids[places[asked]])
        year[asked], low[asked], high[asked] = answer.year, answer.low, answer.high
        way[asked] = np.array(answer.methods, object)[answer.method]
    return year, low, high, way


def _by_height(farm: Farm, found: Pruning, places: NDArray[np.intp], wanted: Floats) -> Floats:
    """Return the year in which each is as tall as wanted, if it grows on as in a mean year of its life."""
    height, day = last_heights(farm, found.there.on, found.there.ids[places])
    planted = middles_of(farm.trees["planted"].iloc[found.there.places[places]])
    age = years_between(planted, day)
    fit = (age >= LEAST_AGE_YEARS) & (age <= MOST_AGE_YEARS) & (height > 0)
    rate = np.where(fit, height / np.where(fit, age, 1.0), np.nan)
    read = 1970.0 + day.astype("datetime64[D]").astype(np.float64) / DAYS_A_YEAR
    read = np.where(np.isnat(day), np.nan, read)
    return np.maximum(read + (wanted - height) / rate, decimal_year(found.there.on))


def decimal_year(day: dt.date) -> float:
    """Return a day as a year with its fraction."""
    first = dt.date(day.year, 1, 1)
    return day.year + (day - first).days / ((dt.date(day.year, 12, 31) - first).days + 1)


def day_of(year: float) -> dt.date:
    """Return the day of a year with its fraction."""
    whole = int(year)
    first = dt.date(whole, 1, 1)
    days = (dt.date(whole, 12, 31) - first).days + 1
    return first + dt.timedelta(days=min(int((year - whole) * days), days - 1))


def year_words(year: float, low: float, high: float) -> str:
    """Return a year and its interval: ``2029 (2028 to 2031)``, ``2029 (2028 or later)``, or that there is none."""
    if np.isnan(year):
        return NOT_ENOUGH
    if np.isnan(low):
        return f"{int(year)}"
    if not np.isfinite(high):
        return f"{int(year)} ({int(low)} or later)"
    return f"{int(year)} ({int(low)} to {int(high)})" if int(low) != int(high) else f"{int(year)}"
