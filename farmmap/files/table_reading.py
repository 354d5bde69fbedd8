"""Tables of a farm file into memory.

Trees and measurements are taken straight from the file's pages, and small
tables row by row through sqlite3, as long as all is as farmmap writes it. What
other programs wrote in ways of their own is left to the general reader (GDAL,
through pyogrio), which takes longer to load than a small farm to read.
"""

from __future__ import annotations

import os
import sqlite3
import struct
import warnings
from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import Column, Geometry, Kind, Table
from farmmap.files.geopackage import blob_points, quoted, wkb_of
from farmmap.files.rows import GEOMETRY
from farmmap.files.table_pages import read_pages

FEW_ROWS = 30_000
"""Rows up to which a table is read row by row."""

ROWS_A_THREAD = 25_000
MOST_THREADS = 4

_WKB_POINT = np.dtype([("order", "u1"), ("type", "<u4"), ("x", "<f8"), ("y", "<f8")])

_Values = dict[str, Any]


def read_table(
    connection: sqlite3.Connection, path: Path, table: Table, epsg: int, lacking: Collection[str] = ()
) -> pd.DataFrame:
    """Read one table of a farm file.

    Parameters
    ----------
    connection : sqlite3.Connection
        Open on the farm file.
    path : Path
        The farm file.
    table : Table
        Which table.
    epsg : int
        The farm's grid.
    lacking : collection of str
        Columns, as ``table.column``, that the file does not have; they get their defaults.

    Returns
    -------
    DataFrame
        Indexed by id in rising order, typed as the schema says.

    Raises
    ------
    ValueError, RuntimeError, OSError, sqlite3.Error
        The file cannot be read.
    """
    columns = [column for column in table.columns if f"{table.name}.{column.name}" not in lacking]
    ids, values = (
        read_pages(connection, path, replace(table, columns=tuple(columns)))
        or _row_by_row(connection, table, columns)
        or _in_bulk(connection, path, table, columns)
    )
    frame = shaped(table, values, ids, Grid(epsg))
    return frame if frame.index.is_monotonic_increasing else frame.sort_index()


def _row_by_row(
    connection: sqlite3.Connection, table: Table, columns: Sequence[Column]
) -> tuple[NDArray[np.int64], _Values] | None:
    """Read a table through sqlite3; None if it is large, or holds anything that farmmap writes otherwise."""
    count = f"SELECT count(*) FROM (SELECT 1 FROM {quoted(table.name)} LIMIT {FEW_ROWS + 1})"
    if connection.execute(count).fetchone()[0] > FEW_ROWS:
        return None
    names = ["id", *([GEOMETRY] if table.geometry else []), *(column.name for column in columns)]
    listed = ", ".join(quoted(name) for name in names)
    try:
        rows = connection.execute(f"SELECT {listed} FROM {quoted(table.name)} ORDER BY id").fetchall()
        by_column = [list(column) for column in zip(*rows, strict=True)] or [[] for _ in names]
        ids = np.array(by_column.pop(0), np.int64)
        values: _Values = {}
        if table.geometry is Geometry.POINT:
            values["x"], values["y"] = blob_points(by_column.pop(0))
        elif table.geometry:
            values["geometry"] = _flat(shapely.from_wkb(wkb_of(by_column.pop(0))))
        for column, plain in zip(columns, by_column, strict=True):
            values[column.name] = _from_plain(plain, column.kind)
    except (TypeError, ValueError, OverflowError, struct.error, sqlite3.OperationalError, shapely.errors.GEOSException):
        return None
    return ids, values


def _from_plain(plain: list[Any], kind: Kind) -> NDArray[Any] | pd.api.extensions.ExtensionArray:
    match kind:
        case Kind.TEXT | Kind.WHEN:
            return _texts(pa.chunked_array([pa.array(plain, pa.large_string())]))
        case Kind.WHOLE:
            if not all(value is None or isinstance(value, int) for value in plain):
                raise TypeError("no whole number")
            return np.array([value or 0 for value in plain], np.int64)
        case Kind.NUMBER:
            if not all(value is None or isinstance(value, float) for value in plain):
                raise TypeError("no number")
            return np.array(plain, np.float64)
        case Kind.DAY:
            if not all(value is None or (isinstance(value, str) and len(value) == 10) for value in plain):
                raise TypeError("no day")
            return np.array([value or "NaT" for value in plain], "datetime64[D]").astype("datetime64[s]")


def _in_bulk(
    connection: sqlite3.Connection, path: Path, table: Table, columns: Sequence[Column]
) -> tuple[NDArray[np.int64], _Values]:
    """Read a table through Arrow, in several threads that share out the ids between them."""
    import pyogrio  # noqa: PLC0415 - heavy, and not needed for a small farm

    def read(where: str | None) -> tuple[NDArray[np.int64], _Values]:
        meta, arrow = pyogrio.read_arrow(path, layer=table.name, columns=names, where=where, return_fids=True)
        ids = arrow.column(meta["fid_column"] or "OGC_FID").to_numpy().astype(np.int64)
        values: _Values = {column.name: _from_arrow(arrow.column(column.name), column.kind) for column in columns}
        if table.geometry:
            wkb = arrow.column(meta["geometry_name"] or "wkb_geometry")
            if table.geometry is Geometry.POINT:
                points = [_points(chunk) for chunk in wkb.chunks]
                values["x"], values["y"] = np.concatenate([np.empty((2, 0)), *points], axis=1)
            else:
                values["geometry"] = _flat(shapely.from_wkb(wkb.to_numpy()))
        return ids, values

    names = [column.name for column in columns]
    with warnings.catch_warnings(), ThreadPoolExecutor() as threads:
        # what the reader grumbles about is either refused by us in words or of no matter here
        warnings.simplefilter("ignore", RuntimeWarning)
        parts = list(threads.map(read, _shares(connection, table)))
    if len(parts) == 1:
        return parts[0]
    values = {name: _joined([part[name] for _, part in parts]) for name in parts[0][1]}
    return np.concatenate([ids for ids, _ in parts]), values


def _joined(arrays: list[Any]) -> Any:
    if isinstance(arrays[0], np.ndarray):
        return np.concatenate(arrays)
    return type(arrays[0])._concat_same_type(arrays)  # noqa: SLF001 - what pandas has its own arrays offer for this


def _shares(connection: sqlite3.Connection, table: Table) -> list[str | None]:
    """Return conditions on the id that share out a table's rows among threads."""
    first, last = connection.execute(f"SELECT min(id), max(id) FROM {quoted(table.name)}").fetchone()
    if first is None:
        return [None]
    shares = max(1, min(MOST_THREADS, os.cpu_count() or 1, (last - first) // ROWS_A_THREAD))
    ends = [first + (last - first + 1) * share // shares for share in range(1, shares)]
    conditions = [f"id >= {low} AND id < {high}" for low, high in zip([first, *ends], [*ends, last + 1], strict=True)]
    return list(conditions) if shares > 1 else [None]


def _from_arrow(column: pa.ChunkedArray, kind: Kind) -> NDArray[Any] | pd.api.extensions.ExtensionArray:
    match kind:
        case Kind.TEXT | Kind.WHEN:
            return _texts(column.cast(pa.large_string()))
        case Kind.DAY:
            return column.cast(pa.timestamp("s")).to_numpy()
        case Kind.WHOLE:
            return column.cast(pa.int64()).fill_null(0).to_numpy()
        case Kind.NUMBER:
            return column.cast(pa.float64()).fill_null(float("nan")).to_numpy()


def _texts(column: pa.ChunkedArray) -> pd.api.extensions.ExtensionArray:
    return pd.array(column.fill_null("") if column.null_count else column, dtype="str")


def _points(wkb: pa.Array) -> NDArray[np.float64]:
    """Coordinates of points, shape (2, n), through a view into their binary where all are plain points."""
    if not len(wkb):
        return np.empty((2, 0))
    offsets_type = np.int64 if pa.types.is_large_binary(wkb.type) else np.int32
    offsets = np.frombuffer(wkb.buffers()[1], offsets_type)[wkb.offset : wkb.offset + len(wkb) + 1]
    if wkb.null_count == 0 and (np.diff(offsets) == _WKB_POINT.itemsize).all():
        view = np.frombuffer(wkb.buffers()[2], _WKB_POINT, count=len(wkb), offset=int(offsets[0]))
        if (view["order"] == 1).all() and (view["type"] == 1).all():
            return np.stack([view["x"], view["y"]])
    points = shapely.from_wkb(wkb.to_numpy(zero_copy_only=False))
    if (shapely.get_type_id(points) > 0).any():
        raise ValueError("a tree has a shape that is no point")
    return np.stack([shapely.get_x(points), shapely.get_y(points)])


def _flat(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Shapes without heights, and single where they are collections of one."""
    shapes = shapely.force_2d(shapes)
    multi = np.isin(shapely.get_type_id(shapes), (4, 5, 6)) & (shapely.get_num_geometries(shapes) == 1)
    shapes[multi] = shapely.get_geometry(shapes[multi], 0)
    return shapes
