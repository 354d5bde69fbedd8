"""Random farms for the tests of editing, and what must hold of every farm."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import shapely

from farmmap.editing.proposed import Proposed
from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

SIDE_M = 40.0
"""Side of the blocks of a random farm, before their corners are moved about."""


def put(farm: Farm, **tables: dict[str, object]) -> Farm:
    """Return a farm with these tables, their ids counted from 1."""
    made = {}
    for table, values in tables.items():
        count = len(next(iter(values.values())))
        made[table] = shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)
    return farm.with_tables(**made)


def at(*corners: tuple[float, float]) -> np.ndarray:
    """Corners given from the south-west of the small farm, on its grid."""
    return np.array(corners, float).reshape(-1, 2) + np.array([EAST, NORTH])


def area(*corners: tuple[float, float]) -> shapely.Polygon:
    return shapely.Polygon(at(*corners))


def line(*corners: tuple[float, float]) -> shapely.LineString:
    return shapely.LineString(at(*corners))


def random_farm(seed: int, across: int = 3, up: int = 2) -> Farm:
    """Blocks that share all their edges, one planned block over them, a creek, a track, trees and measurements."""
    random = np.random.default_rng(seed)
    corners = np.stack(np.meshgrid(np.arange(across + 1), np.arange(up + 1), indexing="ij"), axis=-1) * SIDE_M
    corners = corners + random.uniform(-8, 8, corners.shape) + np.array([EAST, NORTH])
    outlines = [
        shapely.Polygon([corners[i, j], corners[i + 1, j], corners[i + 1, j + 1], corners[i, j + 1]])
        for i in range(across)
        for j in range(up)
    ]
    planned = shapely.box(EAST + 20, NORTH + 20, EAST + 70, NORTH + 60)
    trees = 60
    xy = random.uniform([0, 0], [across * SIDE_M, up * SIDE_M], (trees, 2))
    days = np.array(["2012-05-01", "2016-05-01", "2020-05-01"], "datetime64[s]")
    return put(
        new_farm("Random Pipit", "EPSG:2193"),
        blocks={
            "name": [f"Block {n + 1}" for n in range(len(outlines))] + ["Next winter"],
            "planted": [str(2000 + n) for n in range(len(outlines))] + [""],
            "stage": ["existing"] * len(outlines) + ["planned"],
            "geometry": [*outlines, planned],
        },
        creeks={"name": ["Creek 1"], "geometry": [line((-10, -12), (60, -8), (140, -15))]},
        tracks={"name": ["Ridge track"], "geometry": [line((-10, 15), (60, 30), (140, 22))]},
        species={"code": ["TOTA", "REDW"], "name": ["tōtara", "coast redwood"]},
        trees={
            "tag": [str(n + 1) for n in range(trees)],
            "species": random.choice(["TOTA", "REDW"], trees),
            "x": xy[:, 0] + EAST,
            "y": xy[:, 1] + NORTH,
        },
        measurements={
            "tree": np.repeat(np.arange(1, 31), 2),
            "measured_on": np.tile(days[:2], 30),
            "dbh_cm": random.uniform(5, 30, 60),
            "height_m": random.uniform(3, 15, 60),
        },
    )


def existing_blocks(farm: Farm) -> dict[int, shapely.Geometry]:
    blocks = farm.blocks[farm.blocks["stage"] == "existing"]
    return dict(zip(map(int, blocks.index), blocks.geometry, strict=True))


def overlaps_m2(farm: Farm) -> float:
    """Greatest ground that two existing blocks share."""
    shapes = existing_blocks(farm).values()
    return max((one.intersection(other).area for one, other in combinations(shapes, 2)), default=0.0)


def unshared_corners(farm: Farm) -> list[tuple[int, int, np.ndarray]]:
    """Corners of one block that lie within 1 mm of another's edge, where that one has no such corner."""
    shapes = existing_blocks(farm)
    found = []
    for one, other in combinations(shapes, 2):
        for a, b in ((one, other), (other, one)):
            corners = shapely.get_coordinates(shapes[a])
            theirs = shapely.get_coordinates(shapes[b])
            near = shapely.distance(shapely.points(corners), shapes[b].boundary) < 0.0009
            found += [(a, b, c) for c in corners[near] if not (theirs == c).all(axis=1).any()]
    return found


def forgotten(farm: Farm) -> Farm:
    """The same farm in new tables, of which nothing is remembered."""
    return Farm(farm.settings, {name: frame.copy() for name, frame in farm.tables.items()})


def same_values(one: object, other: object) -> bool:
    """Whether two rows of figures are the same, numbers to the last digits but a few."""
    if isinstance(other, dict):
        return list(one) == list(other) and all(same_values(one[key], other[key]) for key in other)
    if isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same_values, one, other))
    if isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-12) or (math.isnan(one) and math.isnan(other))
    return one == other


def same_tables(one: Farm, other: Farm) -> bool:
    """Whether two farms hold exactly the same rows."""
    return one.settings == other.settings and all(one.tables[name].equals(other.tables[name]) for name in TABLES)


def carried_out(farm: Farm, proposed: Proposed) -> Farm:
    """The farm after an edit, once it is proved that the edit can be taken back exactly."""
    after = proposed.edit.apply(farm)
    assert same_tables(proposed.edit.turned_round().apply(after), farm)
    return after
