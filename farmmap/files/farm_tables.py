"""The tables of a farm file in SQL: made, checked, changed, and brought up to this version.

Nothing here begins or ends a transaction.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput, FarmFileError, GridError
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm, Settings
from farmmap.farm.schema import SCHEMA_VERSION, TABLES, Column, Geometry, Table
from farmmap.farm.splice import column_of
from farmmap.files import geopackage
from farmmap.files.rows import GEOMETRY, SQL_KINDS, row_values

SETTINGS_TABLE = "farm"
CAME_WITH = {
    "backdrops": 2,
    **dict.fromkeys(("plans", "blocks.plan", "fences.plan", "trees.plan", "notes.plan"), 3),
    **dict.fromkeys(("targets", "regimes", "products", "volumes", "plots", "plot_trees"), 4),
    **dict.fromkeys(("trees.mark", "trees.form", "measurements.dos_cm"), 4),
    **dict.fromkeys(("photo_points", "photos", "sheets", "pack_parts"), 5),
}
"""Version with which a table, or a column written ``table.column``, came; all others were there from the first."""

MANY_ROWS = 2_000
"""So many rows with shapes are put in or taken out beside the triggers of the spatial index."""

_SETTINGS_COLUMNS = ("name", "epsg", "breast_height_m", "margin_m", "class_cm", "schema_version")
_GPKG_GEOMETRY = {
    Geometry.POLYGON: "MULTIPOLYGON",
    Geometry.LINE: "MULTILINESTRING",
    Geometry.POINT: "POINT",
    Geometry.ANY: "GEOMETRY",
}


def damaged(path: Path, reason: str) -> str:
    """Return words for a file that is there and cannot be read."""
    if "locked" in reason or "busy" in reason:
        return f"{path} is being written by another program at this moment; wait a little and open it again."
    return (
        f"{path} is damaged and cannot be read ({reason}). It was left untouched. "
        "Keep it, and open an earlier copy of the file instead."
    )


def read_settings(connection: sqlite3.Connection, path: Path) -> tuple[Settings, int]:
    """Return the settings of a farm file and the version of its tables.

    Raises
    ------
    FarmFileError
        It is no farm file, of a newer version, or its settings cannot be used.
    """
    there = _names(connection, SETTINGS_TABLE)
    if "schema_version" not in there or not _names(connection, "gpkg_contents"):
        raise FarmFileError(
            f"{path} is a GeoPackage or database, but no farm file; it was left untouched. "
            "To take blocks or trees from it, use: farmmap bring"
        )
    rows = connection.execute(f"SELECT schema_version FROM {SETTINGS_TABLE}").fetchall()
    if len(rows) != 1 or not isinstance(rows[0][0], int):
        raise FarmFileError(damaged(path, "its farm table does not hold exactly one farm"))
    version = rows[0][0]
    if version > SCHEMA_VERSION:
        raise FarmFileError(
            f"{path} was written by a newer farmmap (tables version {version}; this one knows {SCHEMA_VERSION}). "
            "It was left untouched. Install the newer farmmap to open it."
        )
    if version < 1 or set(_SETTINGS_COLUMNS) - there:
        raise FarmFileError(damaged(path, "its farm table is not as it should be"))
    columns = ", ".join(_SETTINGS_COLUMNS[:-1])
    name, epsg, breast_height_m, margin_m, class_cm = connection.execute(
        f"SELECT {columns} FROM {SETTINGS_TABLE}"
    ).fetchone()
    try:
        settings = Settings(str(name), int(epsg), float(breast_height_m), float(margin_m), float(class_cm))
    except (BadInput, GridError, TypeError, ValueError) as error:
        raise FarmFileError(damaged(path, str(error))) from error
    return settings, version


def absent(connection: sqlite3.Connection, path: Path, version: int) -> frozenset[str]:
    """Return the tables, and columns as ``table.column``, that the file lacks because it is older than they are.

    Raises
    ------
    FarmFileError
        It lacks something that its version should hold.
    """
    if not _names(connection, "gpkg_geometry_columns"):
        raise FarmFileError(damaged(path, "its list of shapes is missing"))
    lacking: set[str] = set()
    for table in TABLES.values():
        there = _names(connection, table.name)
        wanted = {"id", *table.column_names} | ({GEOMETRY} if table.geometry else set())
        if not there:
            lacking.add(table.name)
        else:
            lacking |= {f"{table.name}.{name}" for name in wanted - there}
    wrong = sorted(name for name in lacking if CAME_WITH.get(name, 1) <= version)
    if wrong:
        table_name, dot, column_name = wrong[0].partition(".")
        what = f"its table {table_name} has no {column_name}" if dot else f"its table {table_name} is missing"
        raise FarmFileError(damaged(path, what))
    return frozenset(lacking)


def bring_up(connection: sqlite3.Connection, lacking: Collection[str], epsg: int) -> None:
    """Make the tables and columns that an older farm file lacks, and give it this version."""
    for table in TABLES.values():
        if table.name in lacking:
            _create_table(connection, table, None, epsg)
            continue
        for column in table.columns:
            if f"{table.name}.{column.name}" in lacking:
                kind = SQL_KINDS[column.kind]
                connection.execute(
                    f"ALTER TABLE {geopackage.quoted(table.name)} ADD COLUMN {geopackage.quoted(column.name)} {kind}"
                )
                if column.default:
                    connection.execute(
                        f"UPDATE {geopackage.quoted(table.name)} SET {geopackage.quoted(column.name)} = ?",
                        (column.default,),
                    )
                _describe(connection, table, column)
    connection.execute(f"UPDATE {SETTINGS_TABLE} SET schema_version = ?", (SCHEMA_VERSION,))


def create(connection: sqlite3.Connection, farm: Farm) -> None:
    """Fill an empty database with a farm."""
    geopackage.register_functions(connection)
    geopackage.create_core(connection, farm.settings.epsg)
    connection.execute(
        f"CREATE TABLE {SETTINGS_TABLE} (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, name TEXT, epsg MEDIUMINT, "
        "breast_height_m DOUBLE, margin_m DOUBLE, class_cm DOUBLE, schema_version MEDIUMINT)"
    )
    geopackage.add_contents(connection, SETTINGS_TABLE, "Farm", None)
    settings = farm.settings
    connection.execute(
        f"INSERT INTO {SETTINGS_TABLE} VALUES (1, ?, ?, ?, ?, ?, ?)",
        (
            settings.name,
            settings.epsg,
            settings.breast_height_m,
            settings.margin_m,
            settings.class_cm,
            SCHEMA_VERSION,
        ),
    )
    for table in TABLES.values():
        _create_table(connection, table, farm.tables[table.name], settings.epsg)


def apply_edit(connection: sqlite3.Connection, edit: Edit, epsg: int) -> None:
    """Carry out an edit.

    Raises
    ------
    FarmFileError
        The rows that it was made for are not there; some of it may have been done, so take the transaction back.
    """
    for name, change in edit.changes.items():
        _write_change(connection, TABLES[name], change, epsg)
    if edit.settings is not None:
        _write_settings(connection, edit.settings[1])


def _names(connection: sqlite3.Connection, table: str) -> set[str]:
    try:
        return {row[1] for row in connection.execute(f"PRAGMA table_info({geopackage.quoted(table)})")}
    except UnicodeDecodeError as error:  # SQLite tells of a broken description in the description's own bytes
        raise sqlite3.DatabaseError("its list of tables is broken") from error


def _create_table(connection: sqlite3.Connection, table: Table, frame: pd.DataFrame | None, epsg: int) -> None:
    srs_id = epsg if table.geometry else None
    columns = ["id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if table.geometry:
        columns.append(f"{GEOMETRY} {_GPKG_GEOMETRY[table.geometry]}")
    columns += [f"{geopackage.quoted(column.name)} {SQL_KINDS[column.kind]}" for column in table.columns]
    connection.execute(f"CREATE TABLE {geopackage.quoted(table.name)} ({', '.join(columns)})")
    geopackage.add_contents(connection, table.name, table.words, srs_id)
    if table.geometry:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)",
            (table.name, GEOMETRY, _GPKG_GEOMETRY[table.geometry], srs_id),
        )
    for column in table.columns:
        _describe(connection, table, column)
        if column.points_to:
            connection.execute(f"CREATE INDEX {table.name}_{column.name} ON {table.name} ({column.name})")
    ids, boxes = np.empty(0, np.int64), np.empty((0, 4))
    if frame is not None:
        _insert(connection, table, frame, epsg)
        ids = frame.index.to_numpy(np.int64)
    if table.geometry:
        if frame is not None:
            boxes = _boxes(frame)
        geopackage.add_spatial_index(connection, table.name, GEOMETRY, ids, boxes)
        _note_change(connection, table, boxes)


def _describe(connection: sqlite3.Connection, table: Table, column: Column) -> None:
    constraint = None
    if column.allowed or (column.least is not None and column.most is not None):
        constraint = f"{table.name}_{column.name}"
        geopackage.add_constraint(connection, constraint, column.allowed, (column.least, column.most))
    title = f"{column.words} [{column.unit}]" if column.unit else column.words
    connection.execute(
        "INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, NULL, NULL, ?)",
        (table.name, column.name, column.name, title, constraint),
    )


def _boxes(frame: pd.DataFrame) -> NDArray[np.float64]:
    if "x" in frame.columns:
        x, y = (np.asarray(column_of(frame, axis), np.float64) for axis in "xy")
        return np.column_stack([x, y, x, y])
    return shapely.bounds(np.asarray(column_of(frame, "geometry")))


def _note_change(connection: sqlite3.Connection, table: Table, boxes: NDArray[np.float64]) -> None:
    """Note the time in the list of contents, and keep the extent there wide enough; the standard asks for no more."""
    last_change = "last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')"
    boxes = boxes[~np.isnan(boxes[:, 0])]
    if not len(boxes):
        connection.execute(f"UPDATE gpkg_contents SET {last_change} WHERE table_name = ?", (table.name,))
        return
    west, south = boxes[:, :2].min(axis=0).tolist()
    east, north = boxes[:, 2:].max(axis=0).tolist()
    connection.execute(
        f"UPDATE gpkg_contents SET {last_change}, "
        "min_x = min(coalesce(min_x, ?1), ?1), min_y = min(coalesce(min_y, ?2), ?2), "
        "max_x = max(coalesce(max_x, ?3), ?3), max_y = max(coalesce(max_y, ?4), ?4) WHERE table_name = ?5",
        (west, south, east, north, table.name),
    )


def _insert(connection: sqlite3.Connection, table: Table, frame: pd.DataFrame, epsg: int) -> None:
    if not len(frame):
        return
    names = ["id", *([GEOMETRY] if table.geometry else []), *table.column_names]
    listed = ", ".join(geopackage.quoted(name) for name in names)
    marks = ", ".join("?" * len(names))
    connection.executemany(
        f"INSERT INTO {geopackage.quoted(table.name)} ({listed}) VALUES ({marks})",
        row_values(frame, table, epsg),
    )


def _write_change(connection: sqlite3.Connection, table: Table, change: Change, epsg: int) -> None:
    before, after = change.before, change.after
    was, now = before.index.to_numpy(np.int64), after.index.to_numpy(np.int64)
    is_same = np.array_equal(was, now)
    goes = np.zeros(len(was), bool) if is_same else ~np.isin(was, now)
    gone, stays = was[goes], np.ones(len(now), bool) if is_same else np.isin(now, was)
    name = geopackage.quoted(table.name)
    on_again = _taken_off(connection, table, "delete", len(gone))
    done = connection.executemany(f"DELETE FROM {name} WHERE id = ?", ((i,) for i in gone.tolist())).rowcount
    if on_again:
        old_boxes = _boxes(_at(before, goes))
        geopackage.taken_out_of_index(connection, table.name, GEOMETRY, gone, old_boxes)
        connection.execute(on_again)
    if len(gone) and done != len(gone):
        raise FarmFileError(_changed_since(table))
    boxes = np.empty((0, 4))
    if stays.any():
        rows = _at(after, stays)
        old = before if is_same else before.iloc[before.index.get_indexer(now[stays])]
        shape = bool(table.geometry) and not _same_shapes(old, rows)
        names = [*([GEOMETRY] if shape else []), *table.column_names]
        sets = ", ".join(f"{geopackage.quoted(column)} = ?" for column in names)
        values = ((*row[1:], row[0]) for row in row_values(rows, table, epsg, shape=shape))
        cursor = connection.executemany(f"UPDATE {name} SET {sets} WHERE id = ?", values)
        if cursor.rowcount != len(rows):
            raise FarmFileError(_changed_since(table))
        if shape:
            boxes = _boxes(rows)
    if not stays.all():
        rows = _at(after, ~stays)
        on_again = _taken_off(connection, table, "insert", len(rows))
        _insert(connection, table, rows, epsg)
        if on_again:
            geopackage.put_in_index(connection, table.name, GEOMETRY, rows.index.to_numpy(np.int64), _boxes(rows))
            connection.execute(on_again)
        if table.geometry:
            boxes = np.concatenate([boxes, _boxes(rows)])
    _note_change(connection, table, boxes)


def _taken_off(connection: sqlite3.Connection, table: Table, event: str, rows: int) -> str:
    """Take a trigger of the spatial index off if many rows come or go; what puts it on again, "" if it stays."""
    if not table.geometry or rows < MANY_ROWS:
        return ""
    return geopackage.trigger_taken_off(connection, table.name, GEOMETRY, event)


def _at(frame: pd.DataFrame, which: NDArray[np.bool_]) -> pd.DataFrame:
    return frame if which.all() else frame.iloc[np.flatnonzero(which)]


def _same_shapes(before: pd.DataFrame, after: pd.DataFrame) -> bool:
    """Whether no shape changed: then the spatial index may be left alone, which costs more than all the rest."""
    if "x" in after.columns:
        return all(np.array_equal(column_of(before, axis), column_of(after, axis), equal_nan=True) for axis in "xy")
    shapes = [np.asarray(column_of(frame, "geometry")) for frame in (before, after)]
    same = shapely.equals_identical(*shapes) | (shapely.is_missing(shapes[0]) & shapely.is_missing(shapes[1]))
    return bool(same.all())


def _changed_since(table: Table) -> str:
    return (
        f"the {table.words.lower()} in the farm file were changed by another program since it was opened; "
        "nothing was written. Open the farm again."
    )


def _write_settings(connection: sqlite3.Connection, settings: Settings) -> None:
    connection.execute(
        f"UPDATE {SETTINGS_TABLE} SET name = ?, epsg = ?, breast_height_m = ?, margin_m = ?, class_cm = ?",
        (settings.name, settings.epsg, settings.breast_height_m, settings.margin_m, settings.class_cm),
    )
