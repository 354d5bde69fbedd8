"""How much a stem can grow, and whether a reading is believable beside the earlier ones."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmmap.editing.guard import guarded
from farmmap.editing.words import day_words
from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm
from farmmap.figures.growth.limits import (
    ENOUGH_TREES,
    FASTEST_CM_PER_YEAR,
    LEAST_DOUBTED_CM_PER_YEAR,
    LEAST_YEARS,
    TAPE_ERROR_CM,
    TAPE_ERROR_SHARE,
    fastest_believed,
)

MOST_TREES = 500
"""The farm's own limit is taken from no more trees than this, evenly chosen."""


@dataclass(frozen=True)
class Limit:
    """The greatest growth that is believed.

    Attributes
    ----------
    cm_per_year : float
        The limit. [cm/year]
    trees : int
        How many increments of the farm's own trees it rests on; 0 for `FASTEST_CM_PER_YEAR`.
    median_cm_per_year : float
        Middle growth of those trees; nan if there are none. [cm/year]
    """

    cm_per_year: float
    trees: int = 0
    median_cm_per_year: float = float("nan")


def tape_error_cm(dbh_cm: float) -> float:
    """Return by how much two readings of a stem may differ, in cm."""
    return max(TAPE_ERROR_CM, TAPE_ERROR_SHARE * dbh_cm)


@guarded
def growth_limit(farm: Farm, species: str) -> Limit:
    """Return the greatest yearly diameter growth that is believed of a species on a farm.

    By the increments of the farm's own trees of the species, see
    `farmmap.figures.growth.limits.fastest_believed`.

    Parameters
    ----------
    farm : Farm
        The farm.
    species : str
        Code of the species.
    """
    growth = increments_cm_per_year(farm, species)
    if not species or len(growth) < ENOUGH_TREES:
        return Limit(FASTEST_CM_PER_YEAR)
    return Limit(fastest_believed(growth), len(growth), float(np.median(growth)))


def increments_cm_per_year(farm: Farm, species: str) -> np.ndarray:
    """Return the yearly growth of the farm's trees of a species, between readings at least `LEAST_YEARS` apart.

    Parameters
    ----------
    farm : Farm
        The farm.
    species : str
        Code of the species; at most `MOST_TREES` of its trees are looked at.

    Returns
    -------
    ndarray, shape (n,)
        One value for each stem: from its first to its last diameter. [cm/year]
    """
    places = np.flatnonzero((farm.trees["species"] == species).to_numpy(bool))
    if len(places) > MOST_TREES:
        places = places[np.linspace(0, len(places) - 1, MOST_TREES).astype(np.intp)]
    chosen = farm.trees.index.to_numpy()[places]
    rows = farm.measurements[
        farm.measurements["tree"].isin(chosen).to_numpy() & (farm.measurements["dbh_cm"] > 0).to_numpy()
    ]
    rows = rows[rows["measured_on"].notna()].sort_values(["tree", "stem", "measured_on"], kind="stable")
    grouped = rows.groupby(["tree", "stem"])
    first, last = grouped.first(), grouped.last()
    years = (last["measured_on"] - first["measured_on"]).dt.days.to_numpy(np.float64) / DAYS_A_YEAR
    grown = (last["dbh_cm"] - first["dbh_cm"]).to_numpy(np.float64)
    enough = years >= LEAST_YEARS
    return grown[enough] / years[enough]


def diameter_doubts(farm: Farm, own: pd.DataFrame, on: dt.date, dbh_cm: float, species: str) -> list[str]:
    """Say whether a diameter is less than an earlier one, or more than the stem can have grown since.

    Parameters
    ----------
    farm : Farm
        The farm, without the reading.
    own : DataFrame
        Measurements of that stem, oldest first.
    on : date
        Day of the reading.
    dbh_cm : float
        The reading. [cm]
    species : str
        Code of the tree's species.

    Returns
    -------
    list of str
        Empty if it is believable.
    """
    day = pd.Timestamp(on)
    rows = own[(own["dbh_cm"] > 0).to_numpy(bool)]
    earlier, later = rows[(rows["measured_on"] < day).to_numpy(bool)], rows[(rows["measured_on"] > day).to_numpy(bool)]
    notes = []
    if len(earlier):
        then, was = earlier["measured_on"].iloc[-1], float(earlier["dbh_cm"].iloc[-1])
        than = f"than on {day_words(then)} ({was:g} cm)"
        notes += _doubt(farm, species, (dbh_cm, was), (day - then).days, than)
    if len(later):
        then, will = later["measured_on"].iloc[0], float(later["dbh_cm"].iloc[0])
        grown = _doubt(farm, species, (will, dbh_cm), (then - day).days, "")
        if grown:
            way = "more" if dbh_cm > will else "less"
            notes.append(
                f"{dbh_cm:g} cm is {abs(dbh_cm - will):.1f} cm {way} than on {day_words(then)} ({will:g} cm), which is "
                f"later; {'a stem does not shrink' if way == 'more' else 'that is more than it can have grown'}; "
                "look whether the tree and the day are right"
            )
    return notes


def _doubt(farm: Farm, species: str, read: tuple[float, float], days: int, than: str) -> list[str]:
    """Compare a diameter with an earlier one, so many days before."""
    now, was = read
    grown, years = now - was, days / DAYS_A_YEAR
    error = tape_error_cm(max(now, was))
    if grown < -error:
        return [
            f"{now:g} cm is {-grown:.1f} cm less {than}; a stem does not shrink, so look whether it is the same one"
        ]
    if grown - error <= LEAST_DOUBTED_CM_PER_YEAR * years:
        return []
    limit = growth_limit(farm, species)
    if grown - error <= limit.cm_per_year * years:
        return []
    rate = f"{grown / years:.1f} cm a year" if years >= LEAST_YEARS else f"in {days} days"
    name = _species_words(farm, species)
    most = (
        f"the farm's own {name} grow {limit.median_cm_per_year:.1f} cm a year, hardly any more than "
        f"{limit.cm_per_year:.1f} cm"
        if limit.trees
        else f"more than {limit.cm_per_year:g} cm a year is seldom seen"
    )
    return [f"{now:g} cm is {grown:.1f} cm more {than}, {rate}; {most}; look whether it is the same tree"]


def _species_words(farm: Farm, code: str) -> str:
    named = farm.species["name"][(farm.species["code"] == code).to_numpy(bool)]
    return str(named.iloc[0]) if len(named) and named.iloc[0] else code or "trees"
