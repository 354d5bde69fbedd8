"""Invented readings for the tests of growth: trees that grow by a known curve, measured with a known error."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.growth.curves import CURVES, Curve
from farmmap.figures.growth.readings import Readings
from tests.outside.repeat_readings import readings
from tests.place import EAST, NORTH

Floats = NDArray[np.float64]


def farm_of(dbh_cm: list[list[float]], years: list[int], planted: list[str], species: list[str] | None = None) -> Farm:
    """A farm with a tree for each row of diameters, measured on 1 July of the years; nan: not measured."""
    farm = new_farm("Growing", "EPSG:2193")
    many = len(dbh_cm)
    sizes = np.array(dbh_cm, np.float64)
    row, column = np.nonzero(np.isfinite(sizes))
    days = np.array([f"{year}-07-01" for year in years], "datetime64[s]")
    trees = {
        "tag": [str(number + 1) for number in range(many)],
        "species": species or ["PRAD"] * many,
        "planted": planted,
        "x": EAST + 4.0 * np.arange(many),
        "y": NORTH + np.zeros(many),
    }
    taken = {"tree": row + 1, "measured_on": days[column], "dbh_cm": sizes[row, column]}
    return farm.with_tables(
        trees=shaped(TABLES["trees"], trees, np.arange(1, many + 1), farm.grid),
        measurements=shaped(TABLES["measurements"], taken, np.arange(1, len(row) + 1), farm.grid),
    )


def growing(
    rng: np.random.Generator,
    curve: Curve,
    ages: Floats,
    trees: int = 40,
    asymptote_cm: float = 70.0,
    half_age: float = 15.0,
    own: float = 0.15,
    tape_cm: float = 0.2,
) -> Floats:
    """Diameters of trees at ages, a row each: the curve, each tree's own size and pace, and the tape's error."""
    pace, share = np.exp(rng.normal(0, own / 2, (trees, 1))), np.exp(rng.normal(0, own, (trees, 1)))
    scaled = pace * ages / half_age * np.exp(curve.start[1])
    size = asymptote_cm * np.exp(curve.shape(scaled, curve.start[0])[0])
    return np.maximum(share * size + rng.normal(0, tape_cm, (trees, len(ages))), 0.2)


def weathered(seed: int, surveys: int, species: int = 8, trees: int = 40) -> Readings:
    """Readings of species that grow by different curves, through dry and wet years, with trees that fall behind.

    Unlike the sample farm nothing here is smooth: each period's growth is 6 % off for all trees of a species, each
    tree's own growth wanders by 7 % from period to period, and readings miss by 0.2 cm and 0.6 %.
    """
    rng = np.random.default_rng(seed)
    of_tree, year, size, planted = [], [], [], []
    for number in range(species):
        curve = CURVES[(0, 2, 3, 4)[rng.integers(4)]]
        ages = rng.uniform(4, 9) + rng.uniform(2.5, 5) * np.arange(surveys) + rng.normal(0, 0.1, surveys)
        scaled = ages / rng.uniform(10, 25) * np.exp(curve.start[1])
        typical = rng.uniform(35, 100) * np.exp(curve.shape(scaled, curve.start[0] + rng.normal(0, 0.15))[0])
        growth = np.diff(typical, prepend=0) * np.exp(rng.normal(0, 0.06, surveys))
        wander = np.exp(np.cumsum(rng.normal(0, 0.07, (trees, surveys)), axis=1))
        dbh = np.cumsum(growth * np.exp(rng.normal(0, 0.15, (trees, 1))) * wander, axis=1)
        dbh = dbh * (1 + rng.normal(0, 0.006, dbh.shape)) + rng.normal(0, 0.2, dbh.shape)
        there = rng.random(dbh.shape) > 0.05
        there[:, -1] = True
        row, column = np.nonzero(there)
        of_tree.append(row + number * trees)
        year.append(2026 - ages[-1] + ages[column])
        size.append(np.maximum(dbh[row, column], 0.5))
        planted.append(np.full(trees, 2026 - ages[-1]))
    kinds = np.repeat(np.arange(species), trees)
    return readings(*(np.concatenate(one) for one in (of_tree, year, size, planted)), kinds)
