"""A planting as a GeoPackage: layers plants, zones, fence and gates on the farm's own grid."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.figures.areas import polygons_only
from farmmap.figures.banks import SIDES
from farmmap.files import geopackage
from farmmap.files.placing import unsafe_until_synced
from farmmap.plans.planting.fences.crossings import bank_of_fence
from farmmap.plans.planting.keeping.pegging import pegging
from farmmap.plans.planting.plan import PlantingPlan

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

LAYERS = ("plants", "zones", "fence", "gates")
ON_NO_GRID = -1
"""The standard's number for plane coordinates of no known grid."""


def must_be_handed_on(path: Path) -> None:
    """Refuse a GeoPackage that holds anything but a planting handed on earlier.

    Raises
    ------
    BadInput
        It is a farm file, or holds other tables; it was left as it is.
    """
    try:
        with contextlib.closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            there = {row[0] for row in connection.execute("SELECT table_name FROM gpkg_contents")}
    except sqlite3.Error as error:
        raise BadInput(f"{path.name} is there and is no planting; it was left as it is. Choose another name") from error
    if there != set(LAYERS):
        raise BadInput(
            f"{path.name} is there and holds something else, such as a farm; it was left as it is. Choose another name"
        )


def write_geopackage(plan: PlantingPlan, farm: Farm, part: Path) -> None:
    """Fill an empty file.

    Raises
    ------
    OSError
        It cannot be written.
    """
    srs_id = ON_NO_GRID if farm.grid.local else farm.grid.epsg
    try:
        with contextlib.closing(unsafe_until_synced(part)) as connection:
            connection.execute("BEGIN")
            geopackage.create_core(connection, farm.grid.epsg)
            _plants(connection, plan, farm, srs_id)
            _others(connection, plan, srs_id)
            connection.execute("COMMIT")
    except sqlite3.Error as error:
        raise OSError(0, str(error)) from error


def _plants(connection: sqlite3.Connection, plan: PlantingPlan, farm: Farm, srs_id: int) -> None:
    pegs = pegging(plan, farm)
    lots = [(lot.bank, lot.zone, lot.code, lot.name, lot.stock) for lot in pegs.lots]
    rows = [(row or None, *lots[lot]) for row, lot in zip(pegs.row.tolist(), pegs.lot.tolist(), strict=True)]
    columns = "row MEDIUMINT, bank TEXT, zone TEXT, species TEXT, name TEXT, stock TEXT"
    boxes = np.column_stack([pegs.x, pegs.y, pegs.x, pegs.y]).reshape(-1, 4)
    blobs = geopackage.point_blobs(pegs.x, pegs.y, srs_id)
    _layer(connection, "plants", "Plants, numbered in walking order", "POINT", columns, (rows, blobs, boxes), srs_id)


def _others(connection: sqlite3.Connection, plan: PlantingPlan, srs_id: int) -> None:
    strips = [strip for strip in plan.strips if not strip.outline.is_empty]
    outlines = _shapes([shapely.multipolygons(shapely.get_parts(polygons_only(strip.outline))) for strip in strips])
    zones = [
        (
            plan.recipe.zones[strip.zone].name,
            SIDES[strip.side],
            plan.recipe.zones[strip.zone].reason,
            strip.area_m2,
            strip.clear_m2,
        )
        for strip in strips
    ]
    columns = "name TEXT, bank TEXT, reason TEXT, area_m2 DOUBLE, planted_m2 DOUBLE"
    _layer(connection, "zones", "Zones", "MULTIPOLYGON", columns, _filled(zones, outlines, srs_id), srs_id)
    fences = [
        (
            bank_of_fence(plan, fence),
            fence.length_m,
            len(fence.angles_deg) - int(fence.line.is_closed),
            fence.posts,
            fence.battens,
            fence.wire_m,
            fence.flooded_m,
        )
        for fence in plan.fences
    ]
    columns = (
        "bank TEXT, length_m DOUBLE, strainers MEDIUMINT, posts MEDIUMINT, battens MEDIUMINT, wire_m DOUBLE, "
        "flooded_m DOUBLE"
    )
    lines = _shapes([fence.line for fence in plan.fences])
    _layer(connection, "fence", "Fences to be built", "LINESTRING", columns, _filled(fences, lines, srs_id), srs_id)
    marks = [
        (kind, bank_of_fence(plan, fence), fence.gate_m if kind == "gate" else None, place)
        for kind, attribute in (("gate", "gates"), ("floodgate", "floodgates"), ("trough", "troughs"))
        for fence in plan.fences
        for place in np.asarray(getattr(fence, attribute), np.float64).reshape(-1, 2).tolist()
    ]
    points = _shapes([shapely.Point(place) for *_, place in marks])
    gates = [mark[:3] for mark in marks]
    columns = "kind TEXT, bank TEXT, width_m DOUBLE"
    words = "Gates, floodgates and troughs"
    _layer(connection, "gates", words, "POINT", columns, _filled(gates, points, srs_id), srs_id)


def _shapes(shapes: Sequence[shapely.Geometry]) -> NDArray[np.object_]:
    out = np.empty(len(shapes), object)
    out[:] = list(shapes)
    return out


Filled = tuple[Sequence[tuple[object, ...]], Sequence[bytes | None], NDArray[np.float64]]


def _filled(rows: Sequence[tuple[object, ...]], shapes: NDArray[np.object_], srs_id: int) -> Filled:
    return rows, geopackage.shape_blobs(shapes, srs_id), np.asarray(shapely.bounds(shapes)).reshape(-1, 4)


def _layer(
    connection: sqlite3.Connection, name: str, words: str, geometry: str, columns: str, filled: Filled, srs_id: int
) -> None:
    """Make one layer, its rows numbered from 1."""
    rows, blobs, boxes = filled
    connection.execute(
        f"CREATE TABLE {name} (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {geometry}, {columns})"
    )
    geopackage.add_contents(connection, name, words, srs_id)
    connection.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", (name, geometry, srs_id))
    marks = ", ".join("?" * (columns.count(",") + 3))
    connection.executemany(
        f"INSERT INTO {name} VALUES ({marks})",  # noqa: S608 - the names are ours
        ((at, blob, *row) for at, (blob, row) in enumerate(zip(blobs, rows, strict=True), start=1)),
    )
    if len(rows):
        west, south = boxes[:, :2].min(axis=0).tolist()
        east, north = boxes[:, 2:].max(axis=0).tolist()
        connection.execute(
            "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
            (west, south, east, north, name),
        )
    geopackage.add_spatial_index(connection, name, "geom", np.arange(1, len(rows) + 1), boxes)
