"""Farms made at random for tests of names: blocks, creeks, fences, tracks, hazards, notes and tagged trees."""

from __future__ import annotations

from functools import cache

import numpy as np
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.scene.view import View
from tests.scene.made_farm import EAST, NORTH

WORDS = (
    *("Terrace", "Upper", "Sedge", "Creek", "of the", "Long", "Ōtū", "Ānewa", "gully", "Bend", "Wetland by the road"),
    *("Ελιά", "Берёза", "竹林", "مزرعة", "Ế", "12", "No. 7", "x" * 60, "paddock", "and", "Hill", "jyp"),
)


@cache
def _empty() -> Farm:
    return new_farm("Pipit Downs", "EPSG:2193")


def random_farm(seed: int) -> tuple[Farm, View]:
    """Return a farm and a view of it: of paper or screen, the whole of it or a part."""
    rng = np.random.default_rng(seed)
    farm = _empty()
    size = float(rng.choice([150.0, 600.0, 2500.0]))

    def names(count: int) -> list[str]:
        most = int(rng.choice([2, 4, 20], p=[0.6, 0.35, 0.05]))
        return [" ".join(rng.choice(WORDS, rng.integers(0, most + 1))) for _ in range(count)]

    def points(count: int) -> np.ndarray:
        return rng.uniform(0, size, (count, 2)) + np.array([EAST, NORTH])

    def boxes(count: int) -> list[shapely.Geometry]:
        sides = rng.uniform(0.02, 0.2, (count, 2)) * size
        return [shapely.box(x, y, x + a, y + b) for (x, y), (a, b) in zip(points(count), sides, strict=True)]

    def lines(count: int) -> list[shapely.Geometry]:
        found = []
        for start in points(count):
            turns = np.cumsum(rng.normal(0, rng.choice([0.05, 0.3, 0.9]), 40)) + rng.uniform(0, 2 * np.pi)
            steps = np.column_stack([np.cos(turns), np.sin(turns)]) * size * rng.uniform(0.004, 0.04)
            found.append(shapely.LineString(start + np.cumsum(steps, axis=0)))
        return found

    def table(kind: str, shapes: list[shapely.Geometry], /, **values: object) -> dict[str, object]:
        ids = np.arange(1, len(shapes) + 1)
        named = {"heading" if kind == "notes" else "name": names(len(shapes))}
        return {kind: shaped(TABLES[kind], {"geometry": shapes, **named, **values}, ids, farm.grid)}

    def some(most: int) -> int:
        return int(rng.integers(0, most))

    tables = table("blocks", boxes(some(22)))
    for kind in rng.permutation(["creeks", "fences", "tracks", "hazards", "notes"])[: some(2) + 1].tolist():
        marks, along = [*map(shapely.Point, points(some(8) + 1))], lines(some(5) + 1)
        shapes = {"notes": marks, "hazards": marks + along[:1]}.get(kind, along)
        tables |= table(kind, shapes, **({"kind": ["other"] * len(shapes)} if kind == "hazards" else {}))
    count = some(120) if seed % 5 == 0 else 0
    if count:
        place = points(count)
        tags = [str(number) for number in range(95, 95 + count)]
        values = {"x": place[:, 0], "y": place[:, 1], "tag": tags}
        tables["trees"] = shaped(TABLES["trees"], values, np.arange(1, count + 1), farm.grid)
    made = farm.with_tables(**{kind: rows for kind, rows in tables.items() if len(rows)})
    wide, high = (rng.uniform(60, 400), rng.uniform(60, 280)) if seed % 2 else (rng.uniform(200, 520), 270.0)
    x, y = rng.uniform(0.2, 0.8, 2) * size + (EAST, NORTH)
    view = View(float(x), float(y), size / wide * float(rng.uniform(0.2, 1.3)), float(wide), float(high))
    return made, view
