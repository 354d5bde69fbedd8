"""Invented stands for tests of thinning: a block, its trees, and what the tape said."""

from __future__ import annotations

import numpy as np
from shapely import box

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.conftest import days
from tests.place import EAST, NORTH


def stand_farm(x, y, dbh=None, *, side=100.0, species="TOTA", height=None, **trees) -> Farm:
    """Return a farm with one block of side × side m on the grid, and trees at x, y from its corner; 14 columns."""
    farm = new_farm("Stand", "EPSG:2193")
    count = len(x)

    def rows(table, ids=None, /, **values):
        number = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, number + 1) if ids is None else ids, farm.grid)

    measured = {}
    if dbh is not None:
        known = np.flatnonzero(np.isfinite(np.asarray(dbh, float)))
        if len(known):
            measured["measurements"] = rows(
                "measurements",
                tree=(known + 1).tolist(),
                measured_on=days(*["2020-05-01"] * len(known)),
                dbh_cm=np.asarray(dbh, float)[known],
                **({} if height is None else {"height_m": np.asarray(height, float)[known]}),
            )
    table = {}
    if count:
        table["trees"] = rows(
            "trees",
            tag=[f"T{number:03d}" for number in range(1, count + 1)],
            species=[species] * count if isinstance(species, str) else list(species),
            x=EAST + np.asarray(x, float),
            y=NORTH + np.asarray(y, float),
            **trees,
        )
    return farm.with_tables(
        blocks=rows("blocks", name=["Stand"], geometry=[box(EAST, NORTH, EAST + side, NORTH + side)]),
        species=rows(
            "species",
            code=["TOTA", "REDW"],
            name=["tōtara", "coast redwood"],
            scientific=["Podocarpus totara", "Sequoia sempervirens"],
            origin=["native", "introduced"],
            crown_per_cm=[0.2, 0.2],
        ),
        **table,
        **measured,
    )


def planted(columns=10, rows=10, apart=(4.0, 2.5), seed=1, jitter=0.2):
    """Return x, y and diameters of trees planted in rows that run north, with a little scatter."""
    draw = np.random.default_rng(seed)
    x, y = np.meshgrid(3 + np.arange(columns) * apart[0], 3 + np.arange(rows) * apart[1], indexing="ij")
    x, y = x.ravel() + draw.normal(0, jitter, x.size), y.ravel() + draw.normal(0, jitter, y.size)
    return x, y, np.round(draw.normal(25, 5, len(x)).clip(8, 45), 1)
