"""The farm file: one GeoPackage, read whole, written by edits, each a single transaction.

A new file is written beside its place, synced, and put there by a rename, so
that a half-written one is never seen. An edit is one SQLite transaction with
the rollback journal, so that after a kill or a power cut it is there whole or
not at all.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from farmmap.errors import BadInput, FarmFileError, GridError
from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm, Settings
from farmmap.farm.schema import SCHEMA_VERSION, TABLES, Column, Geometry, Table
from farmmap.files import geopackage
from farmmap.files.rows import GEOMETRY, SQL_KINDS, read_table, row_values
from farmmap.progress import SILENT, Progress

SETTINGS_TABLE = "farm"
_SETTINGS_COLUMNS = ("name", "epsg", "breast_height_m", "margin_m", "class_cm", "schema_version")
_GPKG_GEOMETRY = {
    Geometry.POLYGON: "MULTIPOLYGON",
    Geometry.LINE: "MULTILINESTRING",
    Geometry.POINT: "POINT",
    Geometry.ANY: "GEOMETRY",
}


def read_farm(path: str | Path, progress: Progress = SILENT) -> Farm:
    """Read a farm file; the file is left as it is.

    Parameters
    ----------
    path : str or Path
        The farm file.
    progress : Progress
        Told after each table.

    Raises
    ------
    FarmFileError
        It is missing, damaged, no farm file, or of a newer version.
    Stopped
        ``progress`` asked to stop.
    """
    path = Path(path)
    with _reading(path) as connection:
        settings = _read_settings(connection, path)
        _check_tables(connection, path)
        bare = {
            table.name: connection.execute(f"SELECT count(*) FROM {table.name} WHERE {GEOMETRY} IS NULL").fetchone()[0]
            for table in TABLES.values()
            if table.geometry
        }
    tables: dict[str, pd.DataFrame] = {}
    try:
        for done, table in enumerate(TABLES.values()):
            progress.step(done, len(TABLES), f"reading {table.words.lower()}")
            tables[table.name] = read_table(path, table, settings.epsg)
    except (OSError, RuntimeError, ValueError) as error:
        raise FarmFileError(_damaged(path, "locked" if _is_locked(path) else str(error))) from error
    for name, count in bare.items():
        if count != _without_shape(tables[name]):
            raise FarmFileError(_damaged(path, f"a shape in its table {name} cannot be read"))
    progress.step(len(TABLES), len(TABLES), "read")
    return Farm(settings, tables)


def write_farm(farm: Farm, path: str | Path, *, replace: bool = False) -> None:
    """Write a farm to a new farm file.

    Parameters
    ----------
    farm : Farm
        The farm.
    path : str or Path
        Where to put it.
    replace : bool
        Whether a file that is there already may be replaced.

    Raises
    ------
    FarmFileError
        There is a file of that name already, or the place cannot be written to.
    """
    path = Path(path)
    if path.exists() and not replace:
        raise FarmFileError(f"{path} is there already; choose another name")
    try:
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}-", suffix=".part", dir=path.parent)
    except OSError as error:
        raise FarmFileError(f"{path} cannot be written: {error.strerror or error}") from error
    os.close(handle)
    try:
        with contextlib.closing(sqlite3.connect(beside)) as connection:
            connection.execute("PRAGMA journal_mode = MEMORY")
            connection.execute("PRAGMA synchronous = OFF")
            _create(connection, farm)
            connection.commit()
        if os.name != "nt":
            Path(beside).chmod(0o666 & ~_umask())
        _put_in_place(Path(beside), path)
    except (sqlite3.Error, OSError) as error:
        raise FarmFileError(f"{path} cannot be written: {error}") from error
    finally:
        Path(beside).unlink(missing_ok=True)


def write_edit(path: str | Path, edit: Edit) -> None:
    """Write one edit into a farm file, whole or not at all.

    Parameters
    ----------
    path : str or Path
        The farm file.
    edit : Edit
        What changes.

    Raises
    ------
    FarmFileError
        The file cannot be written, is used by another program at this moment,
        or no longer holds the rows that the edit was made for. It is left as it was.
    """
    path = Path(path)
    try:
        with contextlib.closing(_connect(path, "rw")) as connection:
            connection.isolation_level = None
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("BEGIN IMMEDIATE")
            try:
                epsg = _read_settings(connection, path).epsg
                for name, change in edit.changes.items():
                    _write_change(connection, TABLES[name], change.before, change.after, epsg)
                if edit.settings is not None:
                    _write_settings(connection, edit.settings[1])
                connection.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    connection.execute("ROLLBACK")
                raise
    except sqlite3.Error as error:
        raise FarmFileError(f"'{edit.name}' was not written to {path}: {error}. The file is as it was.") from error


def _is_locked(path: Path) -> bool:
    """Whether another program holds the file, which the reader only calls unreadable."""
    try:
        with contextlib.closing(_connect(path, "ro")) as connection:
            connection.execute("PRAGMA busy_timeout = 0")
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        return "locked" in str(error)
    return False


def _without_shape(frame: pd.DataFrame) -> int:
    """Count rows without a shape; the reader gives none where it cannot make sense of one."""
    if "x" in frame.columns:
        return int(frame["x"].isna().sum())
    return int(frame["geometry"].isna().sum())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _put_in_place(beside: Path, path: Path) -> None:
    with beside.open("rb+") as file:
        os.fsync(file.fileno())
    beside.replace(path)
    if os.name != "nt":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode={mode}", uri=True, timeout=10)
    geopackage.register_functions(connection)
    return connection


@contextlib.contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a farm file to read; one that was left in mid-transaction is first put right from its journal."""
    if not path.is_file():
        raise FarmFileError(f"{path} is not there; look for it, or make a new farm with: farmmap new")
    with path.open("rb") as file:
        head = file.read(16)
    if head != b"SQLite format 3\x00":
        raise FarmFileError(f"{path} is no farm file (it is not a GeoPackage); it was left untouched")
    try:
        writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
        with contextlib.closing(_connect(path, "rw" if writable else "ro")) as connection:
            connection.execute("PRAGMA query_only = ON")
            yield connection
    except sqlite3.Error as error:
        raise FarmFileError(_damaged(path, str(error))) from error


def _damaged(path: Path, why: str) -> str:
    if "locked" in why or "busy" in why:
        return f"{path} is being written by another program at this moment; wait a little and open it again."
    return (
        f"{path} is damaged and cannot be read ({why}). It was left untouched. "
        "Keep it, and open an earlier copy of the file instead."
    )


def _names(connection: sqlite3.Connection, table: str) -> set[str]:
    return {row[1] for row in connection.execute(f"PRAGMA table_info({geopackage.quoted(table)})")}


def _read_settings(connection: sqlite3.Connection, path: Path) -> Settings:
    there = _names(connection, SETTINGS_TABLE)
    if "schema_version" not in there or not _names(connection, "gpkg_contents"):
        raise FarmFileError(
            f"{path} is a GeoPackage or database, but no farm file; it was left untouched. "
            "To take blocks or trees from it, use: farmmap bring"
        )
    rows = connection.execute(f"SELECT schema_version FROM {SETTINGS_TABLE}").fetchall()
    if len(rows) != 1 or not isinstance(rows[0][0], int):
        raise FarmFileError(_damaged(path, "its farm table does not hold exactly one farm"))
    version = rows[0][0]
    if version > SCHEMA_VERSION:
        raise FarmFileError(
            f"{path} was written by a newer farmmap (tables version {version}; this one knows {SCHEMA_VERSION}). "
            "It was left untouched. Install the newer farmmap to open it."
        )
    if version < 1 or set(_SETTINGS_COLUMNS) - there:
        raise FarmFileError(_damaged(path, "its farm table is not as it should be"))
    columns = ", ".join(_SETTINGS_COLUMNS[:-1])
    name, epsg, breast_height_m, margin_m, class_cm = connection.execute(
        f"SELECT {columns} FROM {SETTINGS_TABLE}"
    ).fetchone()
    try:
        return Settings(str(name), int(epsg), float(breast_height_m), float(margin_m), float(class_cm))
    except (BadInput, GridError, TypeError, ValueError) as error:
        raise FarmFileError(_damaged(path, str(error))) from error


def _check_tables(connection: sqlite3.Connection, path: Path) -> None:
    for table in TABLES.values():
        there = _names(connection, table.name)
        wanted = {"id", *table.column_names} | ({GEOMETRY} if table.geometry else set())
        missing = ", ".join(sorted(wanted - there))
        if not there:
            raise FarmFileError(_damaged(path, f"its table {table.name} is missing"))
        if missing:
            raise FarmFileError(_damaged(path, f"its table {table.name} has no {missing}"))


def _create(connection: sqlite3.Connection, farm: Farm) -> None:
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
        _create_table(connection, table, farm)


def _create_table(connection: sqlite3.Connection, table: Table, farm: Farm) -> None:
    srs_id = farm.settings.epsg if table.geometry else None
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
    frame = farm.tables[table.name]
    _insert(connection, table, frame, farm.settings.epsg)
    if table.geometry:
        boxes = _boxes(frame)
        geopackage.add_spatial_index(connection, table.name, GEOMETRY, frame.index.to_numpy(np.int64), boxes)
        _widen_extent(connection, table, boxes)


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


def _boxes(frame: pd.DataFrame) -> np.ndarray:
    if "x" in frame.columns:
        return frame[["x", "y", "x", "y"]].to_numpy(np.float64)
    return frame["geometry"].bounds.to_numpy(np.float64)


def _widen_extent(connection: sqlite3.Connection, table: Table, boxes: np.ndarray) -> None:
    """Keep the extent in the list of contents wide enough; the standard asks for no more."""
    boxes = boxes[~np.isnan(boxes[:, 0])]
    if len(boxes):
        west, south = boxes[:, :2].min(axis=0).tolist()
        east, north = boxes[:, 2:].max(axis=0).tolist()
        connection.execute(
            "UPDATE gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), min_y = min(coalesce(min_y, ?2), ?2), "
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


def _write_change(
    connection: sqlite3.Connection, table: Table, before: pd.DataFrame, after: pd.DataFrame, epsg: int
) -> None:
    gone = before.index.difference(after.index)
    altered = after.index.intersection(before.index)
    added = after.index.difference(before.index)
    name = geopackage.quoted(table.name)
    ids = [(int(i),) for i in gone]
    done = connection.executemany(f"DELETE FROM {name} WHERE id = ?", ids).rowcount if ids else 0
    if done != len(ids):
        raise FarmFileError(_changed_since(table))
    if len(altered):
        names = [*([GEOMETRY] if table.geometry else []), *table.column_names]
        sets = ", ".join(f"{geopackage.quoted(column)} = ?" for column in names)
        values = ((*row[1:], row[0]) for row in row_values(after.loc[altered], table, epsg))
        cursor = connection.executemany(f"UPDATE {name} SET {sets} WHERE id = ?", values)
        if cursor.rowcount != len(altered):
            raise FarmFileError(_changed_since(table))
    _insert(connection, table, after.loc[added], epsg)
    if table.geometry and len(after):
        _widen_extent(connection, table, _boxes(after))
    connection.execute(
        "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now') WHERE table_name = ?",
        (table.name,),
    )


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
