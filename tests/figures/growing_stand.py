"""An invented stand that was measured again and again, so that there is enough to say how it grows."""

from __future__ import annotations

import numpy as np
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

YEARS = (2009, 2014, 2020, 2025)
FEW, BARE, YOUNG, MEASURED_CROWN = 37, 38, 39, 1
"""Ids of a tree of a species of its own, of one of it without a reading, of a young unmeasured one, and of one whose
crown was measured."""


def grown_cm(age):
    """Diameter of a mean tree at an age, in cm."""
    return 70 * (1 - np.exp(-0.06 * np.asarray(age, float))) ** 1.4


def growing_stand() -> Farm:
    """Return six by six tōtara planted in 2000, read four times, and a few trees of which less is known."""
    rng = np.random.default_rng(8)
    farm = new_farm("Small Pipit", "EPSG:2193")

    def rows(table, **values):
        count = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)

    down, across = (part.ravel() for part in np.mgrid[0:6, 0:6])
    x = np.concatenate([10 + across * 6.0, [70, 76, 82]])
    y = np.concatenate([10 + down * 6.0, [20, 20, 20]])
    vigour = rng.normal(1, 0.12, 36)
    tree = np.tile(np.arange(1, 37), len(YEARS))
    year = np.repeat(YEARS, 36)
    dbh = grown_cm(year - 2000.0) * np.tile(vigour, len(YEARS)) + rng.normal(0, 0.2, 36 * len(YEARS))
    crown = np.where((tree == MEASURED_CROWN) & (year == 2025), 3.0, np.nan)
    return farm.with_tables(
        boundary=rows("boundary", name=["All"], geometry=[shapely.box(EAST, NORTH - 40, EAST + 100, NORTH + 60)]),
        blocks=rows("blocks", name=["Terrace"], geometry=[shapely.box(EAST, NORTH, EAST + 100, NORTH + 50)]),
        creeks=rows(
            "creeks",
            name=["Sedge Creek"],
            channel_m=[2.0],
            left_margin_m=[10.0],
            right_margin_m=[10.0],
            geometry=[shapely.LineString([(EAST, NORTH + 4), (EAST + 100, NORTH + 4)])],
        ),
        species=rows(
            "species",
            code=["TOTA", "REDW"],
            name=["tōtara", "coast redwood"],
            crown_base_m=[1.0, 0.5],
            crown_per_cm=[0.15, 0.2],
        ),
        trees=rows(
            "trees",
            tag=[f"T{one}" for one in range(1, 40)],
            species=["TOTA"] * 36 + ["REDW", "REDW", "TOTA"],
            planted=["2000-07-01"] * 36 + ["", "", "2024-07-01"],
            x=EAST + x,
            y=NORTH + y,
        ),
        measurements=rows(
            "measurements",
            tree=np.append(tree, FEW),
            measured_on=np.array([f"{one}-05-01" for one in year] + ["2025-05-01"], "datetime64[s]"),
            dbh_cm=np.append(dbh, 25.0),
            crown_m=np.append(crown, np.nan),
            height_m=np.append(np.where(year == 2025, 12.0, np.nan), np.nan),
        ),
    )


def copied(farm: Farm) -> Farm:
    """Return the same farm of tables that nothing is remembered of."""
    return Farm(farm.settings, {name: table.copy() for name, table in farm.tables.items()})
