"""An invented farm, and every kind of edit of it with made-up values."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import shapely
from geopandas import GeoDataFrame
from shapely import LineString, MultiPolygon, Point, Polygon, box

from farmmap.farm.edits import Change, Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import Farm, Settings, next_ids, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES
from farmmap.figures.areas import polygons_only

ON = dt.date(2020, 6, 1)
WEST, SOUTH = 1_600_000.0, 5_480_000.0
CORNER = np.array([WEST, SOUTH])
SIDE = 40.0
GRID = Grid(2193)


def _rows(table: str, ids: np.ndarray | None = None, **values):
    count = len(next(iter(values.values())))
    return shaped(TABLES[table], values, np.arange(1, count + 1) if ids is None else ids, GRID)


def _at(*corners) -> LineString:
    return LineString(np.array(corners, float) + CORNER)


def _several(at: np.ndarray) -> MultiPolygon:
    x, y = at + CORNER
    return MultiPolygon(
        [box(x, y, x + 18, y + 31), box(x + 22, y - 4, x + 33, y + 12), _with_hole(at + np.array([20.0, 15.0]))]
    )


def _with_hole(at: np.ndarray) -> Polygon:
    x, y = at + CORNER
    return box(x, y, x + 24, y + 26).difference(box(x + 5, y + 6, x + 17, y + 19))


def invented() -> Farm:
    """Nine blocks that share edges, others over them (in parts, with a hole, only planned), 260 trees, creeks, tracks.

    There are fences and a hazard too.
    """
    random = np.random.default_rng(8)
    node = np.stack(np.meshgrid(np.arange(4.0), np.arange(4.0)), -1) * SIDE + random.uniform(-4, 4, (4, 4, 2))
    node += CORNER
    shapes = [
        Polygon([node[j, i], node[j, i + 1], node[j + 1, i + 1], node[j + 1, i]]) for j in range(3) for i in range(3)
    ]
    shapes += [box(WEST + 30, SOUTH + 90, WEST + 60, SOUTH + 130), box(WEST + 125, SOUTH, WEST + 150, SOUTH + 40)]
    shapes += [_several(np.array([60.0, 100.0])), _with_hole(np.array([95.0, 95.0]))]
    xy = random.uniform(-5, 135, (260, 2)) + CORNER
    xy[:3] = [node[1, 1], node[2, 1] + [0, 0.0004], node[0, 0] - [0.0005, 0]]
    many = 300
    return Farm(
        Settings("Pipit Test", 2193),
        {
            "boundary": _rows("boundary", geometry=[box(WEST - 30, SOUTH - 30, WEST + 170, SOUTH + 150)]),
            "blocks": _rows(
                "blocks",
                name=[f"B{n}" for n in range(13)],
                geometry=shapes,
                stage=[*["existing"] * 10, "planned", *["existing"] * 2],
            ),
            "tracks": _rows("tracks", name=["t", "u"], geometry=[_at((0, 20), (120, 25)), _at((50, 0), (52, 130))]),
            "creeks": _rows(
                "creeks",
                name=["c", "d"],
                geometry=[_at((-20, 60), (60, 66), (150, 60)), _at((100, 62), (110, 0))],
                channel_m=[3.0, 2.0],
            ),
            "hazards": _rows("hazards", clear_m=[3.0], geometry=[_at((0, 110), (120, 100))]),
            "fences": _rows("fences", geometry=[_at((-20, 52), (150, 50)), _at((0, 75), (60, 77))]),
            "trees": _rows(
                "trees",
                x=xy[:, 0],
                y=xy[:, 1],
                species=random.choice(["A", "B", "other", ""], 260, p=[0.5, 0.45, 0.02, 0.03]),
                status=random.choice(["alive", "dead"], 260, p=[0.95, 0.05]),
                stage=random.choice(["existing", "planned"], 260, p=[0.95, 0.05]),
                stems=random.choice([1, 2], 260),
                planted=random.choice(["", "2004", "2019-08", "2022"], 260),
            ),
            "species": _rows("species", code=["A", "B"], name=["alder", "beech"], origin=["introduced", "native"]),
            "measurements": _rows(
                "measurements",
                tree=random.integers(1, 261, many),
                measured_on=random.choice(np.array(["2018-01-01", "2020-01-01", "2021-01-01"], "datetime64[s]"), many),
                dbh_cm=np.where(random.random(many) < 0.8, random.uniform(0, 60, many), np.nan),
                height_m=np.where(random.random(many) < 0.5, random.uniform(1, 30, many), np.nan),
                crown_m=np.where(random.random(many) < 0.3, random.uniform(0.5, 20, many), np.nan),
                breast_height_m=np.where(random.random(many) < 0.1, 1.4, np.nan),
            ),
        },
    )


def _some(farm: Farm, table: str, random, most: int = 3):
    frame = farm.tables[table]
    count = min(len(frame), int(random.integers(1, most + 1)))
    return frame.iloc[np.sort(random.choice(len(frame), count, replace=False))].copy()


def corner_moved(farm: Farm, random) -> Edit:
    """Move one corner of a block, and of all others that share it."""
    shapes = farm.blocks.geometry
    corners = shapely.get_coordinates(shapes.iloc[int(random.integers(len(shapes)))])
    old, new = corners[int(random.integers(len(corners)))], None
    new = old + random.uniform(-8, 8, 2)
    hit = [bool((shapely.get_coordinates(shape) == old).all(axis=1).any()) for shape in shapes]
    rows = farm.blocks[hit].copy()
    moved = lambda c: np.where((c == old).all(axis=1)[:, None], new, c)  # noqa: E731
    rows["geometry"] = [shapely.transform(shape, moved) for shape in rows.geometry]
    return rows_changed(farm, "x", "blocks", rows)


def _shape_moved(table: str) -> Callable:
    def make(farm: Farm, random) -> Edit:
        rows = _some(farm, table, random, 1)
        by = random.uniform(-15, 15, 2)
        rows["geometry"] = shapely.transform(rows.geometry.to_numpy(), lambda c: c + by)
        return rows_changed(farm, "x", table, rows)

    return make


def _set(table: str, column: str, values: list) -> Callable:
    def make(farm: Farm, random) -> Edit:
        rows = _some(farm, table, random)
        rows[column] = np.array([values[int(random.integers(len(values)))] for _ in range(len(rows))])
        return rows_changed(farm, "x", table, rows)

    return make


def _taken_away(table: str) -> Callable:
    return lambda farm, random: rows_taken_away(farm, "x", {table: _some(farm, table, random).index})


def _drawn(table: str, shape: Callable, **values) -> Callable:
    def make(farm: Farm, random) -> Edit:
        ids = next_ids(farm.tables[table], 1)
        return rows_put_in(farm, "x", {table: _rows(table, ids, geometry=[shape(random)], **values)})

    return make


def _any_box(random) -> Polygon:
    x, y = random.uniform(-10, 120, 2) + CORNER
    return box(x, y, x + random.uniform(5, 60), y + random.uniform(5, 60))


def _any_line(random) -> LineString:
    return LineString(random.uniform(-10, 140, (3, 2)) + CORNER)


def _trees_put_in(farm: Farm, random) -> Edit:
    used = farm.trees.index
    free = np.setdiff1d(np.arange(1, int(used.max()) + 3), used)  # also between those that are there
    ids = np.sort(random.choice(free, min(2, len(free)), replace=False))
    xy = random.uniform(0, 120, (len(ids), 2)) + CORNER
    new = _rows("trees", ids, x=xy[:, 0], y=xy[:, 1], species=random.choice(["A", "B", "new"], len(ids)))
    return rows_put_in(farm, "x", {"trees": new})


def _trees_moved(farm: Farm, random, most: int = 3) -> Edit:
    rows = _some(farm, "trees", random, most)
    rows["x"] += random.uniform(-60, 60, len(rows))
    rows["y"] += random.uniform(-60, 60, len(rows))
    return rows_changed(farm, "x", "trees", rows)


def _trees_with_readings_taken_away(farm: Farm, random) -> Edit:
    trees = _some(farm, "trees", random).index
    readings = farm.measurements.index[farm.measurements["tree"].isin(trees)]
    return rows_taken_away(farm, "x", {"trees": trees, "measurements": readings})


def _reading_put_in(farm: Farm, random) -> Edit:
    day = random.choice(["2017-05-05", "2020-01-01", "2020-05-30", "2024-01-01"])
    new = _rows(
        "measurements",
        next_ids(farm.measurements, 1),
        tree=random.choice(farm.trees.index.to_numpy(), 1),
        measured_on=np.array([day], "datetime64[s]"),
        dbh_cm=random.uniform(0, 90, 1),
        crown_m=random.choice([np.nan, 3.0, 22.0], 1),
        height_m=random.choice([np.nan, 1.0, 22.0], 1),
    )
    return rows_put_in(farm, "x", {"measurements": new})


def _species_listed(codes: list[str]) -> Callable:
    def make(farm: Farm, random) -> Edit:
        new = [code for code in codes if code not in set(farm.species["code"])] or [f"S{len(farm.species)}"]
        rows = _rows("species", next_ids(farm.species, len(new)), code=new, name=new, crown_per_cm=[0.4] * len(new))
        return rows_put_in(farm, "x", {"species": rows})

    return make


def _plan_accepted(farm: Farm, random) -> Edit:
    """Planned trees, blocks, a fence, a note and a species put in beside a plan, all of them in one edit."""
    xy = random.uniform(-5, 125, (40, 2)) + CORNER
    planned = {"stage": ["planned"] * 40, "plan": ["Lower"] * 40, "species": random.choice(["A", "B", "fern"], 40)}
    rows = {
        "trees": _rows("trees", next_ids(farm.trees, 40), x=xy[:, 0], y=xy[:, 1], **planned),
        "blocks": _drawn("blocks", _any_parts, name=["zone"], stage=["planned"], plan=["Lower"])(farm, random)
        .changes["blocks"]
        .after,
        "fences": _drawn("fences", _any_line, stage=["planned"], plan=["Lower"])(farm, random).changes["fences"].after,
        "notes": _rows("notes", next_ids(farm.notes, 1), heading=["Gate"], plan=["Lower"], geometry=[Point(CORNER)]),
        "plans": _plan_kept(farm, random).changes["plans"].after,
    }
    if "fern" not in set(farm.species["code"]):
        rows["species"] = _rows("species", next_ids(farm.species, 1), code=["fern"], name=["fern"])
    return rows_put_in(farm, "x", rows)


def _plan_kept(farm: Farm, _random) -> Edit:
    values = {"name": ["Lower"], "creek": ["c"], "recipe": ["title = 'a'"], "state": ["accepted"]}
    return rows_put_in(farm, "x", {"plans": _rows("plans", next_ids(farm.tables["plans"], 1), **values)})


def _plan_planted(farm: Farm, random) -> Edit:
    """All that is planned stands, from one day on."""
    day = str(random.choice(["2019-05-05", "2023-05-05"]))
    changes = {}
    for table in ("trees", "fences", "blocks"):
        rows = farm.tables[table][(farm.tables[table]["stage"] == "planned").to_numpy()]
        after = rows.copy()
        after["stage"] = "existing"
        if "planted" in rows.columns:
            after["planted"] = day
        changes[table] = Change(rows, after)
    return Edit("x", changes)


def _blocks_and_trees(farm: Farm, random) -> Edit:
    return Edit("x", {**corner_moved(farm, random).changes, **_trees_moved(farm, random).changes})


def _any_parts(random) -> MultiPolygon:
    return _several(random.uniform(-10, 110, 2))


def _any_hole(random) -> Polygon:
    return _with_hole(random.uniform(-10, 110, 2))


def _hole_cut(farm: Farm, random) -> Edit:
    rows = _some(farm, "blocks", random)
    rows["geometry"] = [polygons_only(shape.difference(_any_hole(random))) for shape in rows.geometry]
    return rows_changed(farm, "x", "blocks", rows)


def _swapped(table: str, put_in: Callable) -> Callable:
    """Take rows away, alter others and put as many or more in, all in one edit."""

    def make(farm: Farm, random) -> Edit:
        frame = farm.tables[table]
        some = np.sort(random.choice(len(frame), min(len(frame), 3), replace=False))
        altered = frame.iloc[some[1:]].copy()
        if "stage" in frame.columns:
            altered["stage"] = "existing"
        new = put_in(farm, random).changes[table].after
        after = pd.concat([altered, new]).sort_index()
        return Edit("x", {table: Change(frame.iloc[some], after if table in PLAIN else GeoDataFrame(after))})

    return make


PLAIN = {"trees", "measurements"}


def _settings(farm: Farm, random) -> Edit:
    height = float(random.choice([1.3, 1.4]))
    return Edit("x", {}, (farm.settings, dataclasses.replace(farm.settings, breast_height_m=height, margin_m=12.0)))


KINDS: dict[str, Callable[[Farm, np.random.Generator], Edit]] = {
    "corner moved": corner_moved,
    "block moved": _shape_moved("blocks"),
    "block drawn": _drawn("blocks", _any_box, name=["new"]),
    "block taken away": _taken_away("blocks"),
    "block renamed": _set("blocks", "name", ["other"]),
    "block planned or not": _set("blocks", "stage", ["existing", "planned"]),
    "track moved": _shape_moved("tracks"),
    "track drawn": _drawn("tracks", _any_line, name=["new"]),
    "track widened": _set("tracks", "width_m", [0.0, 9.0, math.nan]),
    "hazard wider": _set("hazards", "clear_m", [0.0, 12.0]),
    "creek moved": _shape_moved("creeks"),
    "creek wider": _set("creeks", "channel_m", [0.0, 8.0]),
    "creek drawn as": _set("creeks", "drawn_as", ["left bank", "centre line"]),
    "fence moved": _shape_moved("fences"),
    "fence drawn": _drawn("fences", _any_line),
    "boundary moved": _shape_moved("boundary"),
    "trees put in": _trees_put_in,
    "trees moved": _trees_moved,
    "many trees moved": lambda farm, random: _trees_moved(farm, random, 90),
    "trees taken away": _taken_away("trees"),
    "trees with readings taken away": _trees_with_readings_taken_away,
    "tree dies": _set("trees", "status", ["dead", "alive"]),
    "tree planned or not": _set("trees", "stage", ["planned", "existing"]),
    "species changed": _set("trees", "species", ["A", "other", "rare", ""]),
    "planted changed": _set("trees", "planted", ["2023", "", "1999"]),
    "stems changed": _set("trees", "stems", [1, 3]),
    "tag changed": _set("trees", "tag", ["12"]),
    "reading put in": _reading_put_in,
    "reading changed": _set("measurements", "dbh_cm", [0.0, 12.5, 99.0, math.nan]),
    "crown changed": _set("measurements", "crown_m", [0.0, 1.0, 31.0, math.nan]),
    "reading dated anew": _set(
        "measurements", "measured_on", [np.datetime64("2016-01-01", "s"), np.datetime64("2022-02-02", "s")]
    ),
    "reading of another tree": _set("measurements", "tree", [3, 200]),
    "reading taken away": _taken_away("measurements"),
    "blocks and trees": _blocks_and_trees,
    "species named": _set("species", "name", ["black alder"]),
    "species listed": _species_listed(["NEW"]),
    "species listed that trees have": _species_listed(["NEW", "other"]),
    "tree of a new species put in": lambda farm, random: Edit(
        "x", {**_species_listed(["new"])(farm, random).changes, **_trees_put_in(farm, random).changes}
    ),
    "block of several parts drawn": _drawn("blocks", _any_parts, name=["new"]),
    "block with a hole drawn": _drawn("blocks", _any_hole, name=["new"]),
    "holes cut": _hole_cut,
    "blocks swapped": _swapped("blocks", _drawn("blocks", _any_box, name=["new"])),
    "blocks of parts swapped": _swapped("blocks", _drawn("blocks", _any_parts, name=["new"])),
    "tracks swapped": _swapped("tracks", _drawn("tracks", _any_line, name=["new"])),
    "fences swapped": _swapped("fences", _drawn("fences", _any_line)),
    "creeks swapped": _swapped("creeks", _drawn("creeks", _any_line, name=["new"], channel_m=[2.0])),
    "hazards swapped": _swapped("hazards", _drawn("hazards", _any_line, clear_m=[4.0])),
    "trees swapped": _swapped("trees", _trees_put_in),
    "readings swapped": _swapped("measurements", _reading_put_in),
    "plan kept": _plan_kept,
    "plan accepted": _plan_accepted,
    "plan planted": _plan_planted,
    "settings": _settings,
    "nothing": lambda farm, _: Edit("x", {"blocks": Change(farm.blocks.iloc[:0], farm.blocks.iloc[:0])}),
}
