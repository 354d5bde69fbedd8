"""A stream of random edits that a process can carry out and another follow, each touching several tables.

Which edit comes next follows from the farm alone, so that whoever finds a farm
file knows which edits it holds. Every edit leaves its number in the first and
in the last table that it touches.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from shapely import LineString, box

from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm, Settings, new_farm, next_ids, shaped
from farmmap.farm.schema import TABLES
from tests.conftest import days
from tests.place import EAST, NORTH

BLOCKS_A_SIDE, TREES = 4, 600
SIDE_M = 100.0


def first_farm(trees: int = TREES) -> Farm:
    """A farm of 16 blocks set apart from each other; its edits are numbered from 1."""
    farm = new_farm("Much edited", "EPSG:2193")
    cells = np.arange(BLOCKS_A_SIDE**2)
    rng = np.random.default_rng(0)

    def rows(table: str, /, **values: object) -> pd.DataFrame:
        count = len(next(iter(values.values())))
        return shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)

    measured = np.arange(1, trees + 1, 2)
    return farm.with_tables(
        boundary=rows("boundary", note=["0"], geometry=[box(EAST, NORTH, EAST + 400, NORTH + 400)]),
        blocks=rows("blocks", name=[f"Block {c}" for c in cells], geometry=[_block(c, 0.0) for c in cells]),
        fences=rows("fences", note=["0"], geometry=[LineString([(EAST, NORTH), (EAST + 400, NORTH)])]),
        species=rows("species", code=["TOTA"], name=["tōtara"]),
        trees=rows(
            "trees",
            tag=[str(i) for i in range(trees)],
            species=["TOTA"] * trees,
            x=EAST + rng.uniform(0, 400, trees),
            y=NORTH + rng.uniform(0, 400, trees),
        ),
        measurements=rows(
            "measurements",
            tree=measured,
            measured_on=days(*["2020-05-01"] * len(measured)),
            dbh_cm=rng.uniform(5, 60, len(measured)),
        ),
    )


def number_of(farm: Farm) -> int:
    """Number of the last edit that the farm holds."""
    return int(farm.boundary["note"].iloc[0])


def next_edit(farm: Farm) -> Edit:
    """The edit that follows on a farm."""
    number = number_of(farm) + 1
    rng = np.random.default_rng(number)
    changes = {"fences": _noted(farm, "fences", number)}
    settings = None
    kind = rng.integers(0, 4)
    if kind == 0:
        changes |= {"blocks": _blocks_reshaped(farm, rng), "trees": _trees_moved(farm, rng, number)}
    elif kind == 1 and len(farm.trees) < 2 * TREES:
        changes |= _planted(farm, rng, number)
    elif kind == 2 and len(farm.trees) > TREES // 2:
        changes |= _felled(farm, rng)
    else:
        changes |= _taped(farm, rng, number)
        settings = (farm.settings, Settings(farm.settings.name, 2193, 1.4, float(number % 50 + 1)))
    return Edit(f"Edit {number}", changes | {"boundary": _noted(farm, "boundary", number)}, settings)


def _block(cell: int, inset_m: float) -> object:
    west, south = EAST + SIDE_M * (cell % BLOCKS_A_SIDE), NORTH + SIDE_M * (cell // BLOCKS_A_SIDE)
    return box(west + inset_m, south + inset_m, west + SIDE_M - 1, south + SIDE_M - 1)


def _with(frame: pd.DataFrame, **values: object) -> Change:
    after = frame.copy()
    for name, value in values.items():
        after[name] = value
    return Change(frame, after)


def _noted(farm: Farm, table: str, number: int) -> Change:
    return _with(farm.tables[table], note=[str(number)])


def _blocks_reshaped(farm: Farm, rng: np.random.Generator) -> Change:
    rows = farm.blocks.iloc[np.sort(rng.choice(len(farm.blocks), 3, replace=False))]
    return _with(rows, geometry=[_block(int(i) - 1, rng.uniform(1, 40)) for i in rows.index])


def _trees_moved(farm: Farm, rng: np.random.Generator, number: int) -> Change:
    count = min(150, len(farm.trees))
    rows = farm.trees.iloc[np.sort(rng.choice(len(farm.trees), count, replace=False))]
    places = rng.uniform(0, 400, (2, count))
    return _with(rows, x=EAST + places[0], y=NORTH + places[1], note=["moved by " + str(number)] * count)


def _planted(farm: Farm, rng: np.random.Generator, number: int) -> dict[str, Change]:
    ids, readings = next_ids(farm.trees, 30), next_ids(farm.measurements, 30)
    places = rng.uniform(0, 400, (2, 30))
    trees = {"tag": [f"{number}-{i}" for i in range(30)], "species": ["TOTA"] * 30}
    trees |= {"x": EAST + places[0], "y": NORTH + places[1]}
    measurements = {"tree": ids, "measured_on": days(*["2021-05-01"] * 30), "dbh_cm": rng.uniform(5, 60, 30)}
    return {
        "trees": Change(farm.trees.iloc[:0], shaped(TABLES["trees"], trees, ids, farm.grid)),
        "measurements": Change(
            farm.measurements.iloc[:0], shaped(TABLES["measurements"], measurements, readings, farm.grid)
        ),
    }


def _felled(farm: Farm, rng: np.random.Generator) -> dict[str, Change]:
    gone = farm.trees.iloc[np.sort(rng.choice(len(farm.trees), 30, replace=False))]
    readings = farm.measurements[farm.measurements["tree"].isin(gone.index)]
    return {
        "trees": Change(gone, farm.trees.iloc[:0]),
        "measurements": Change(readings, farm.measurements.iloc[:0]),
    }


def _taped(farm: Farm, rng: np.random.Generator, number: int) -> dict[str, Change]:
    rows = farm.measurements.iloc[np.sort(rng.choice(len(farm.measurements), 60, replace=False))]
    heights = rng.uniform(2, 30, len(rows))
    return {"measurements": _with(rows, height_m=heights, note=[f"taped by {number}"] * len(rows))}
