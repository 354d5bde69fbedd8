"""GeoPackage binary and tables, as far as a farm file needs them.

Source: OGC 12-128r18, GeoPackage Encoding Standard 1.3.1 and 1.4; annex F.3
(R-tree spatial indexes), F.9 (schema).
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Sequence
from typing import Any

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

APPLICATION_ID = 0x47504B47  # "GPKG"
USER_VERSION = 10400

POINT_BLOB = np.dtype(
    [
        ("magic", "S2"),
        ("version", "u1"),
        ("flags", "u1"),
        ("srs_id", "<i4"),
        ("order", "u1"),
        ("type", "<u4"),
        ("x", "<f8"),
        ("y", "<f8"),
    ]
)
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)
_LITTLE_ENDIAN, _EMPTY = 0b1, 0b10000
_ENVELOPE_XY = 0b10


def point_blobs(x: NDArray[np.float64], y: NDArray[np.float64], srs_id: int) -> list[bytes]:
    """Return GeoPackage binary for points, one ``bytes`` each."""
    blobs = np.zeros(len(x), POINT_BLOB)
    blobs["magic"], blobs["flags"], blobs["srs_id"] = b"GP", _LITTLE_ENDIAN, srs_id
    blobs["order"], blobs["type"], blobs["x"], blobs["y"] = 1, 1, x, y
    raw, size = blobs.tobytes(), POINT_BLOB.itemsize
    return [raw[at : at + size] for at in range(0, len(raw), size)]


def shape_blobs(shapes: NDArray[np.object_], srs_id: int) -> list[bytes | None]:
    """Return GeoPackage binary with an envelope for shapes of any kind; None for None."""
    wkb = shapely.to_wkb(shapes, byte_order=1, output_dimension=2)
    boxes = shapely.bounds(shapes)
    empty = shapely.is_empty(shapes)
    blobs: list[bytes | None] = []
    for body, box, nothing in zip(wkb, boxes, empty, strict=True):
        if body is None:
            blobs.append(None)
        elif nothing:
            blobs.append(struct.pack("<2sBBi", b"GP", 0, _LITTLE_ENDIAN | _EMPTY, srs_id) + body)
        else:
            west, south, east, north = box
            head = struct.pack("<2sBBi4d", b"GP", 0, _LITTLE_ENDIAN | _ENVELOPE_XY, srs_id, west, east, south, north)
            blobs.append(head + body)
    return blobs


def _split(blob: bytes) -> tuple[int, bytes]:
    if len(blob) < 8 or blob[:2] != b"GP":
        raise ValueError("not a GeoPackage geometry")
    flags = blob[3]
    envelope = (flags >> 1) & 0b111
    if envelope >= len(_ENVELOPE_BYTES):
        raise ValueError("a GeoPackage geometry with an unknown envelope")
    return flags, blob[8 + _ENVELOPE_BYTES[envelope] :]


def blob_points(blobs: Sequence[bytes | None]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return x and y of points in GeoPackage binary, as `point_blobs` writes it.

    Raises
    ------
    ValueError
        One is missing or written otherwise.
    """
    if None in blobs:
        raise ValueError("a missing point")
    raw = b"".join(blob for blob in blobs if blob is not None)
    points = np.frombuffer(raw, POINT_BLOB)
    if len(points) != len(blobs) or not are_plain(points):
        raise ValueError("a point written otherwise")
    return points["x"].copy(), points["y"].copy()


def are_plain(points: NDArray[np.void]) -> bool:
    """Whether all points in GeoPackage binary are as `point_blobs` writes them."""
    usual = (points["magic"] == b"GP") & (points["flags"] == _LITTLE_ENDIAN) & (points["order"] == 1)
    return bool((usual & (points["type"] == 1) & (points["version"] == 0)).all())


def wkb_of(blobs: Sequence[bytes | None]) -> NDArray[np.object_]:
    """Return the well-known binary within GeoPackage binary; None for None.

    Raises
    ------
    ValueError
        One is no GeoPackage binary.
    """
    bodies = np.empty(len(blobs), object)
    bodies[:] = [None if blob is None else _split(blob)[1] for blob in blobs]
    return bodies


def blob_shape(blob: bytes) -> BaseGeometry:
    """Return the shape in GeoPackage binary.

    Raises
    ------
    ValueError
        It is not GeoPackage binary.
    """
    try:
        return shapely.from_wkb(_split(blob)[1])
    except shapely.errors.GEOSException as error:
        raise ValueError(f"not a GeoPackage geometry: {error}") from error


def _bounds(blob: bytes) -> tuple[float, float, float, float]:
    flags = blob[3]
    if (flags >> 1) & 0b111:
        order = "<" if flags & _LITTLE_ENDIAN else ">"
        west, east, south, north = struct.unpack_from(f"{order}4d", blob, 8)
        return west, south, east, north
    if len(blob) == POINT_BLOB.itemsize and blob[8:13] == b"\x01\x01\x00\x00\x00":
        x, y = struct.unpack_from("<2d", blob, 13)
        return x, y, x, y
    west, south, east, north = shapely.bounds(blob_shape(blob)).tolist()
    return west, south, east, north


def _is_empty(blob: bytes | None) -> bool | None:
    if blob is None:
        return None
    return bool(blob[3] & _EMPTY) or bool(np.isnan(_bounds(blob)[0]))


def register_functions(connection: sqlite3.Connection) -> None:
    """Give a connection the SQL functions that the triggers of a spatial index call.

    Without them even an update that leaves the shape alone fails.
    """
    connection.create_function("ST_IsEmpty", 1, _is_empty, deterministic=True)
    for at, name in enumerate(("ST_MinX", "ST_MinY", "ST_MaxX", "ST_MaxY")):

        def bound(blob: bytes | None, at: int = at) -> float | None:
            return None if blob is None else _bounds(blob)[at]

        connection.create_function(name, 1, bound, deterministic=True)


def quoted(name: str) -> str:
    """Return a name as an SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


_CORE_TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT,
  min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),
  ('Undefined geographic', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system');
"""

_SCHEMA_EXTENSION = ("gpkg_schema", "http://www.geopackage.org/spec131/#extension_schema", "read-write")
_RTREE_EXTENSION = ("gpkg_rtree_index", "http://www.geopackage.org/spec131/#extension_rtree", "write-only")


def create_core(connection: sqlite3.Connection, epsg: int) -> None:
    """Make an empty database a GeoPackage that knows one grid and WGS 84."""
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {USER_VERSION}")
    for statement in _CORE_TABLES.split(";"):  # a script would end the transaction
        connection.execute(statement)
    for code in dict.fromkeys((4326, epsg)):
        crs = pyproj.CRS.from_epsg(code)
        try:
            definition = crs.to_wkt("WKT1_GDAL")
        except CRSError:
            definition = "undefined"
        connection.execute(
            "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, 'EPSG', ?, ?, ?)",
            (crs.name, code, code, definition, crs.scope),
        )
    connection.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, ?, ?, ?)",
        [(name, *_SCHEMA_EXTENSION) for name in ("gpkg_data_columns", "gpkg_data_column_constraints")],
    )


def add_contents(connection: sqlite3.Connection, table: str, words: str, srs_id: int | None) -> None:
    """Enter a table in the list of contents: features if it has a grid, else attributes."""
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, ?, ?, ?)",
        (table, "attributes" if srs_id is None else "features", words, srs_id),
    )


def add_constraint(connection: sqlite3.Connection, name: str, allowed: Sequence[str], span: tuple[Any, Any]) -> None:
    """Write down the values that a column may hold: a list of texts, or the least and the most of a number."""
    rows: list[tuple[Any, ...]]
    if allowed:
        rows = [(name, "enum", value, None, None, None, None) for value in allowed if value]
    else:
        rows = [(name, "range", None, span[0], True, span[1], True)]
    connection.executemany(
        "INSERT INTO gpkg_data_column_constraints VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
        rows,
    )


def add_spatial_index(
    connection: sqlite3.Connection, table: str, column: str, ids: NDArray[np.int64], boxes: NDArray[np.float64]
) -> None:
    """Index the shapes of a table and keep the index right from now on.

    Parameters
    ----------
    connection : sqlite3.Connection
        With the functions of `register_functions`.
    table, column : str
        Table, its primary key being ``id``, and geometry column.
    ids : ndarray, shape (n,)
        Ids of the rows that are there already.
    boxes : ndarray, shape (n, 4)
        Their bounds: west, south, east, north; nan for an empty shape.
    """
    index = f"rtree_{table}_{column}"
    connection.execute(f"CREATE VIRTUAL TABLE {quoted(index)} USING rtree(id, minx, maxx, miny, maxy)")
    there = ~np.isnan(boxes[:, 0])
    rows = boxes[there][:, [0, 2, 1, 3]].tolist()
    connection.executemany(
        f"INSERT INTO {quoted(index)} VALUES (?, ?, ?, ?, ?)",
        ((i, *box) for i, box in zip(ids[there].tolist(), rows, strict=True)),
    )
    for statement in _index_triggers(table, column, index):  # a script would end the transaction
        connection.execute(statement)
    connection.execute(
        "INSERT INTO gpkg_extensions VALUES (?, ?, ?, ?, ?)",
        (table, column, *_RTREE_EXTENSION),
    )


def trigger_taken_off(connection: sqlite3.Connection, table: str, column: str, event: str) -> str:
    """Take off the trigger of a spatial index for ``insert`` or ``delete``, within a transaction.

    A trigger calls five functions of ours for every row, which takes longer than all the rest. The caller keeps the
    index right by `put_in_index` or `taken_out_of_index`, and then puts the trigger on again.

    Returns
    -------
    str
        The statement that puts it on again; "" if the file has no such trigger, and nothing was done.
    """
    name = f"rtree_{table}_{column}_{event}"
    found = connection.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = ?", (name,)).fetchone()
    if found is None:
        return ""
    connection.execute(f"DROP TRIGGER {quoted(name)}")
    return str(found[0])


def put_in_index(
    connection: sqlite3.Connection, table: str, column: str, ids: NDArray[np.int64], boxes: NDArray[np.float64]
) -> None:
    """Put rows into the spatial index of a table; arguments as for `add_spatial_index`."""
    order = _by_place(boxes)
    rows = boxes[order][:, [0, 2, 1, 3]].tolist()
    connection.executemany(
        f"INSERT OR REPLACE INTO {quoted(f'rtree_{table}_{column}')} VALUES (?, ?, ?, ?, ?)",
        ((i, *box) for i, box in zip(ids[order].tolist(), rows, strict=True)),
    )


def taken_out_of_index(
    connection: sqlite3.Connection, table: str, column: str, ids: NDArray[np.int64], boxes: NDArray[np.float64]
) -> None:
    """Take rows out of the spatial index of a table; arguments as for `add_spatial_index`."""
    statement = f"DELETE FROM {quoted(f'rtree_{table}_{column}')} WHERE id = ?"
    there = _by_place(boxes)
    void = np.setdiff1d(np.arange(len(ids)), there)
    connection.executemany(statement, ((i,) for i in ids[np.concatenate([there, void])].tolist()))


def _by_place(boxes: NDArray[np.float64]) -> NDArray[np.intp]:
    """Order of boxes in which neighbours follow each other, as an index takes them faster; without those of nan."""
    there = np.flatnonzero(~np.isnan(boxes[:, 0]))
    if not len(there):
        return there
    x, y = boxes[there, 0], boxes[there, 1]
    wide = max(float(np.ptp(x)), float(np.ptp(y)), 1.0) / max(len(there), 1) ** 0.5 * 8
    return there[np.lexsort((y, x // wide))]


def _index_triggers(table: str, column: str, index: str) -> tuple[str, ...]:
    """Return the triggers that GeoPackage 1.4 asks for (annex F.3); their names and effect are the standard's."""
    t, c, r = quoted(table), quoted(column), quoted(index)
    filled = f"(NEW.{c} NOT NULL AND NOT ST_IsEmpty(NEW.{c}))"
    void = f"(NEW.{c} ISNULL OR ST_IsEmpty(NEW.{c}))"
    was_filled = f"(OLD.{c} NOT NULL AND NOT ST_IsEmpty(OLD.{c}))"
    was_void = f"(OLD.{c} ISNULL OR ST_IsEmpty(OLD.{c}))"
    box = f"ST_MinX(NEW.{c}), ST_MaxX(NEW.{c}), ST_MinY(NEW.{c}), ST_MaxY(NEW.{c})"
    put = f"INSERT OR REPLACE INTO {r} VALUES (NEW.id, {box});"
    take = f"DELETE FROM {r} WHERE id = OLD.id;"

    def trigger(name: str, when: str, condition: str, does: str) -> str:
        head = quoted(f"{index}_{name}")
        return f"CREATE TRIGGER {head} AFTER {when} ON {t} WHEN {condition} BEGIN {does} END;"

    same, other = "OLD.id = NEW.id", "OLD.id != NEW.id"
    return (
        trigger("insert", "INSERT", filled, put),
        trigger("update6", f"UPDATE OF {c}", f"{same} AND {filled} AND {was_filled}", put),
        trigger("update7", f"UPDATE OF {c}", f"{same} AND {filled} AND {was_void}", put),
        trigger("update2", f"UPDATE OF {c}", f"{same} AND {void}", take),
        trigger("update5", "UPDATE", f"{other} AND {filled}", take + put),
        trigger("update4", "UPDATE", f"{other} AND {void}", f"DELETE FROM {r} WHERE id IN (OLD.id, NEW.id);"),
        trigger("delete", "DELETE", f"OLD.{c} NOT NULL", take),
    )
