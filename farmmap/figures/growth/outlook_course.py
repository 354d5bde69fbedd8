"""What the charts of growth show: readings and forecast of one tree, and the curve of a species over its readings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm
from farmmap.figures.growth.curves import CURVES
from farmmap.figures.growth.forecasts import forecast_from
from farmmap.figures.growth.increments import planted_days
from farmmap.figures.growth.outlook import Outlook
from farmmap.figures.growth.species_growth import SpeciesGrowth
from farmmap.figures.stand import dbh_from_basal_area_cm
from farmmap.figures.tape import tape_of

Floats = NDArray[np.float64]

POINTS = 17
"""Days for which the forecast of a tree is worked out for its chart."""

LEAST_AHEAD_YEARS = 10.0
MOST_AHEAD_YEARS = 60.0
BEYOND_READY_YEARS = 3.0
OPEN_TIMES = 1.4
"""How many times as far as to its year a tree is drawn whose interval is open."""

MOST_READINGS = 600
"""So many readings of a species are drawn at most, evenly taken."""


@dataclass(frozen=True, eq=False)
class TreeCourse:
    """One tree's readings and its forecast.

    Attributes
    ----------
    days : tuple of date
        Days of its readings, later ones than the day of the outlook too.
    dbh_cm : ndarray, shape (n,)
        Its diameters, of several stems the quadratic mean. [cm]
    ahead : tuple of date
        Days of the forecast; none where there is not enough to say.
    middle_cm, low_cm, high_cm : ndarray, shape (k,)
        Forecast and its 80 % interval. [cm]
    """

    days: tuple[dt.date, ...]
    dbh_cm: Floats
    ahead: tuple[dt.date, ...]
    middle_cm: Floats
    low_cm: Floats
    high_cm: Floats


@dataclass(frozen=True, eq=False)
class SpeciesCourse:
    """The readings of a species by age, and the curve of a tree in the middle of it.

    Attributes
    ----------
    ages, dbh_cm : ndarray, shape (n,)
        Readings, evenly taken from all. [years, cm]
    curve_ages, curve_cm : ndarray, shape (k,)
        The curve; empty where none was fitted. [years, cm]
    oldest_age : float
        Oldest age measured; beyond it the curve goes on by itself. [years]
    """

    ages: Floats
    dbh_cm: Floats
    curve_ages: Floats
    curve_cm: Floats
    oldest_age: float


def tree_course(farm: Farm, found: Outlook, tree: int) -> TreeCourse:
    """Return the readings and the forecast of one tree.

    Parameters
    ----------
    farm : Farm
        The farm, with all its readings.
    found : Outlook
        Its outlook.
    tree : int
        Id of the tree.
    """
    own = tape_of(farm.measurements).of_tree(tree)
    days = tuple(own.day.astype(object).tolist())
    dbh = dbh_from_basal_area_cm(own.basal_area_m2 / own.count)
    place = np.flatnonzero(found.taken.ids == tree)
    past = [day for day in days if day <= found.on]
    nothing = TreeCourse(days, dbh, (), np.empty(0), np.empty(0), np.empty(0))
    if not len(place) or not past:
        return nothing
    at = int(place[0])
    first, until = past[-1], _until(found, at)
    steps = np.linspace(0.0, (until - first).days, POINTS).astype(int)
    ahead = tuple(first + dt.timedelta(days=int(step)) for step in steps)
    told = [forecast_from(found.growth, day, np.array([tree])) for day in ahead]
    middle, low, high = (
        np.array([float(getattr(one, name)[0]) for one in told]) for name in ("dbh_cm", "low_cm", "high_cm")
    )
    known = np.isfinite(middle) & np.isfinite(low) & np.isfinite(high)
    if known.sum() < 2 or not told[-1].forecast[0]:
        return nothing
    told_days = tuple(day for day, is_known in zip(ahead, known, strict=True) if is_known)
    return TreeCourse(days, dbh, told_days, middle[known], low[known], high[known])


def _until(found: Outlook, at: int) -> dt.date:
    """Day up to which a tree's forecast is drawn: beyond the interval of its year, but not without end."""
    to_high, to_year = found.high[at] - found.on.year, found.year[at] - found.on.year
    ahead = 2 * LEAST_AHEAD_YEARS
    if np.isfinite(to_high):
        ahead = to_high + BEYOND_READY_YEARS
    elif np.isfinite(to_year):
        ahead = OPEN_TIMES * to_year
    years = min(max(ahead, LEAST_AHEAD_YEARS), MOST_AHEAD_YEARS)
    return found.on + dt.timedelta(days=round(years * DAYS_A_YEAR))


def typical_cm(growth: SpeciesGrowth, ages: Floats) -> Floats:
    """Return the diameter of a middling tree of a species by its curve, empty where it has none. [cm]."""
    curve = next((one for one in CURVES if one.name == growth.curve), None)
    if curve is None:
        return np.empty(0)
    return np.asarray(curve.value(ages, *(growth.parameters[name] for name in curve.parameters)), np.float64)


def species_courses(found: Outlook) -> dict[str, SpeciesCourse]:
    """Return the readings and curve of every species that stands, by code.

    Parameters
    ----------
    found : Outlook
        The outlook of a farm.
    """
    taken = tape_of(found.then.measurements).all_diameters()
    row = found.then.trees.index.get_indexer(taken.tree)
    planted = planted_days(found.then)
    age = (taken.day - planted[row]).astype("timedelta64[D]").astype(np.float64) / DAYS_A_YEAR
    age[np.isnat(planted[row]) | (row < 0)] = np.nan
    codes = np.asarray(found.then.trees["species"], object)[row]
    fitted = found.growth.by_species
    dbh = dbh_from_basal_area_cm(taken.basal_area_m2 / taken.count)
    out = {}
    for code in found.codes:
        mine = np.flatnonzero((codes == code) & (age > 0))
        if len(mine) > MOST_READINGS:
            mine = mine[np.linspace(0, len(mine) - 1, MOST_READINGS).astype(np.intp)]
        growth = fitted.get(code)
        oldest = float(age[mine].max(initial=0.0))
        curve_ages = np.linspace(0.5, max(1.6 * oldest, 5.0), 80)
        curve = np.empty(0) if growth is None else typical_cm(growth, curve_ages)
        out[code] = SpeciesCourse(age[mine], dbh[mine], curve_ages if len(curve) else np.empty(0), curve, oldest)
    return out
