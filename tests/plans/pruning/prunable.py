"""A farm of one block in which trees are pruned: as many as wanted, with what the tape says of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from shapely import LineString, box

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

DAY = "2020-05-01"
LIFTS = (
    {"lift": 1, "to_m": 2.0, "tree_height_m": 5.0, "dos_cm": 12.0, "crown_left_percent": 50.0},
    {"lift": 2, "to_m": 4.0, "tree_height_m": 9.0, "dos_cm": 12.0, "crown_left_percent": 50.0},
)


def prunable(
    trees: Sequence[Mapping[str, object]],
    readings: Sequence[Mapping[str, object]],
    lifts: Sequence[Mapping[str, object]] = LIFTS,
    *,
    line: bool = False,
) -> Farm:
    """Return a farm whose block is 1 ha and a bit; trees stand in a row 3 m apart, readings name them from 1."""
    farm = new_farm("Prune Hill", "EPSG:2193")

    def rows(table: str, given: Sequence[Mapping[str, object]], **more: object) -> object:
        known = {name for row in given for name in row}
        blank = {column.name: column.default for column in TABLES[table].columns}
        columns = {name: [row.get(name, blank.get(name)) for row in given] for name in known}
        for name in known:
            if name.endswith(("_m", "_cm", "_percent", "_ha")):
                columns[name] = [np.nan if value is None else value for value in columns[name]]
            if name.endswith("_on"):
                columns[name] = np.array([value or "NaT" for value in columns[name]], "datetime64[s]")
            elif any(value is None for value in columns[name]):
                columns[name] = ["" if value is None else value for value in columns[name]]
        return shaped(TABLES[table], columns | more, np.arange(1, len(given) + 1), farm.grid)

    count = np.arange(len(trees))
    placed = [{"tag": str(n + 1), "species": "TOTA", **tree} for n, tree in enumerate(trees)]
    read = [{"measured_on": DAY, **reading} for reading in readings]
    out = {
        "blocks": rows("blocks", [{"name": "North"}], geometry=[box(EAST - 50, NORTH - 50, EAST + 50, NORTH + 50)]),
        "species": rows("species", [{"code": "TOTA", "name": "tōtara"}]),
        "trees": rows("trees", placed, x=EAST - 45 + 3.0 * (count % 30), y=NORTH - 45 + 3.0 * (count // 30))
        if trees
        else farm.trees,
        "measurements": rows("measurements", read) if read else farm.measurements,
        "regimes": rows("regimes", [{"species": "TOTA", **lift} for lift in lifts])
        if lifts
        else farm.tables["regimes"],
    }
    if line:
        wire = LineString([(EAST - 60, NORTH - 40), (EAST + 60, NORTH - 40)])
        out["hazards"] = rows("hazards", [{"name": "Wire", "kind": "power line"}], geometry=[wire])
    return farm.with_tables(**out)


class Answer:
    """What a forecast of growth answers: every tree is as thick in 2023."""

    methods = ("curve",)

    def __init__(self, farm, target_cm, ids):
        self.asked = target_cm
        self.year, self.low, self.high = (np.full(len(ids), year) for year in (2023.5, 2022.2, np.inf))
        self.method = np.zeros(len(ids), np.int8)
