"""An invented farm of pines that grew by a known curve, and of trees of which too little is known."""

from __future__ import annotations

import datetime as dt

import numpy as np
from shapely import box

from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

ON = dt.date(2026, 6, 1)
PINES = 24
FIRST = np.datetime64("2004-07-01")
SURVEYS = ("2011-06-01", "2016-06-01", "2021-06-01", "2026-06-01")

THICK, LONE, SHRINKING, NAMELESS, RARE, POLE = range(PINES + 1, PINES + 7)
"""Ids of trees that are unlike the pines of the block."""


def pine_cm(years: np.ndarray) -> np.ndarray:
    """Diameter of a pine in the middle: Chapman-Richards with 80 cm, 0.06 a year, 1.3."""
    return 80.0 * (1 - np.exp(-0.06 * years)) ** 1.3


def grown_farm() -> Farm:
    """Two blocks; the pines stand in the first, all others in the second; the farm's own target of pine is 60 cm."""
    rng = np.random.default_rng(20260601)
    farm = new_farm("Grown Pipit", "EPSG:2193")
    species = ["PRAD"] * PINES + ["PRAD", "PRAD", "PRAD", "", "ARAR", "PCAN"]
    planted = ["2004-07-01"] * PINES + ["1990", "2004-07-01", "2004-07-01", "", "2004-07-01", "2010-07-01"]
    stock = ["seedling"] * (PINES - 8) + ["rooted cutting"] * 8 + ["seedling"] * 5 + ["pole"]
    count = len(species)
    days = np.array([np.datetime64(day) for day in SURVEYS])
    years = (days - FIRST).astype(int) / DAYS_A_YEAR
    vigour = np.exp(rng.normal(0, 0.12, PINES))
    grown = pine_cm(years)[None, :] * vigour[:, None]
    grown = np.round(grown + rng.normal(0, 0.2, grown.shape), 1)
    tape = [(tree + 1, day, dbh) for tree in range(PINES) for day, dbh in zip(SURVEYS, grown[tree], strict=True)]
    tape += [(THICK, SURVEYS[2], 66.0), (THICK, SURVEYS[3], 70.0), (LONE, SURVEYS[0], 9.0)]
    tape += [(SHRINKING, SURVEYS[2], 44.0), (SHRINKING, SURVEYS[3], 38.0), (NAMELESS, SURVEYS[3], 20.0)]
    tape += [(RARE, SURVEYS[2], 20.0), (RARE, SURVEYS[3], 25.0), (POLE, SURVEYS[3], 30.0)]
    trees, read_on, dbh = zip(*tape, strict=True)
    x = EAST + np.where(np.arange(count) < PINES, 10.0, 150.0)

    def rows(table: str, /, **values: object) -> object:
        many = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, many + 1), farm.grid)

    return farm.with_tables(
        blocks=rows(
            "blocks",
            name=["Pine Rise", "Odd Corner"],
            geometry=[box(EAST, NORTH, EAST + 100, NORTH + 200), box(EAST + 100, NORTH, EAST + 200, NORTH + 200)],
        ),
        species=rows("species", code=["PRAD", "PCAN"], name=["radiata pine", "hybrid poplar"]),
        trees=rows(
            "trees",
            tag=[f"T{place + 1:02d}" for place in range(count)],
            species=species,
            planted=planted,
            stock=stock,
            x=x,
            y=NORTH + 5.0 * np.arange(1, count + 1),
        ),
        measurements=rows(
            "measurements",
            tree=list(trees),
            measured_on=np.array([np.datetime64(day) for day in read_on], "datetime64[s]"),
            dbh_cm=list(dbh),
        ),
        targets=rows("targets", species=["PRAD"], product=["pruned log"], dbh_cm=[60.0]),
    )
