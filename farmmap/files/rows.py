"""Rows of a farm's tables between memory and SQLite: reading in bulk through Arrow, writing as plain values."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyogrio
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import Geometry, Kind, Table
from farmmap.files.geopackage import point_blobs, shape_blobs

GEOMETRY = "geom"
"""Name of the geometry column of every table in the file."""

SQL_KINDS = {
    Kind.TEXT: "TEXT",
    Kind.WHOLE: "MEDIUMINT",
    Kind.NUMBER: "DOUBLE",
    Kind.DAY: "DATE",
    Kind.WHEN: "TEXT",
}
"""GeoPackage column type of each kind of column."""

_WKB_POINT = np.dtype([("order", "u1"), ("type", "<u4"), ("x", "<f8"), ("y", "<f8")])


def read_table(path: Path, table: Table, epsg: int) -> pd.DataFrame:
    """Read one table of a farm file.

    Parameters
    ----------
    path : Path
        The farm file.
    table : Table
        Which table.
    epsg : int
        The farm's grid.

    Returns
    -------
    DataFrame
        Indexed by id in rising order, typed as the schema says.

    Raises
    ------
    ValueError, RuntimeError, OSError
        The file cannot be read.
    """
    with warnings.catch_warnings():
        # what the reader grumbles about is either refused by us in words or of no matter here
        warnings.simplefilter("ignore", RuntimeWarning)
        meta, arrow = pyogrio.read_arrow(path, layer=table.name, columns=list(table.column_names), return_fids=True)
    ids = arrow.column(meta["fid_column"] or "OGC_FID").to_numpy().astype(np.int64)
    values: dict[str, Any] = {c.name: _column(arrow.column(c.name), c.kind) for c in table.columns}
    if table.geometry:
        wkb = arrow.column(meta["geometry_name"] or "wkb_geometry").combine_chunks()
        if table.geometry is Geometry.POINT:
            values["x"], values["y"] = _points(wkb)
        else:
            values["geometry"] = _shapes(wkb)
    frame = shaped(table, values, ids, Grid(epsg))
    return frame if frame.index.is_monotonic_increasing else frame.sort_index()


def _column(column: pa.ChunkedArray, kind: Kind) -> NDArray[Any] | pd.api.extensions.ExtensionArray:
    match kind:
        case Kind.TEXT | Kind.WHEN:
            text = column.cast(pa.large_string()).fill_null("")
            return pd.array(text, dtype="str")
        case Kind.DAY:
            return column.cast(pa.timestamp("s")).to_numpy()
        case Kind.WHOLE:
            return column.cast(pa.int64()).fill_null(0).to_numpy()
        case Kind.NUMBER:
            return column.cast(pa.float64()).fill_null(float("nan")).to_numpy()


def _points(wkb: pa.Array) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Coordinates of points, through a view into their binary where all are plain points."""
    if not len(wkb):
        return np.empty(0), np.empty(0)
    offsets_type = np.int64 if pa.types.is_large_binary(wkb.type) else np.int32
    offsets = np.frombuffer(wkb.buffers()[1], offsets_type)[wkb.offset : wkb.offset + len(wkb) + 1]
    if wkb.null_count == 0 and (np.diff(offsets) == _WKB_POINT.itemsize).all():
        view = np.frombuffer(wkb.buffers()[2], _WKB_POINT, count=len(wkb), offset=int(offsets[0]))
        if (view["order"] == 1).all() and (view["type"] == 1).all():
            return view["x"].copy(), view["y"].copy()
    points = shapely.from_wkb(wkb.to_numpy(zero_copy_only=False))
    if (shapely.get_type_id(points) > 0).any():
        raise ValueError("a tree has a shape that is no point")
    return shapely.get_x(points), shapely.get_y(points)


def _shapes(wkb: pa.Array) -> NDArray[np.object_]:
    shapes = shapely.force_2d(shapely.from_wkb(wkb.to_numpy(zero_copy_only=False)))
    multi = np.isin(shapely.get_type_id(shapes), (4, 5, 6)) & (shapely.get_num_geometries(shapes) == 1)
    shapes[multi] = shapely.get_geometry(shapes[multi], 0)
    return shapes


def row_values(frame: pd.DataFrame, table: Table, epsg: int) -> Iterator[tuple[Any, ...]]:
    """Yield each row as SQLite takes it: id, shape where the table has one, then the columns.

    Missing texts, numbers and days become NULL.
    """
    columns: list[list[Any]] = [frame.index.to_numpy(np.int64).tolist()]
    if table.geometry is Geometry.POINT:
        columns.append(point_blobs(frame["x"].to_numpy(np.float64), frame["y"].to_numpy(np.float64), epsg))
    elif table.geometry:
        columns.append(shape_blobs(_as_declared(frame["geometry"].to_numpy(), table.geometry), epsg))
    columns += [_plain(frame[column.name], column.kind) for column in table.columns]
    yield from zip(*columns, strict=True)


def _as_declared(shapes: Iterable[object], kind: Geometry) -> NDArray[np.object_]:
    """Make single polygons and lines multi, as the file declares its columns."""
    declared = np.array(list(shapes), object)
    types = shapely.get_type_id(declared)
    if kind is Geometry.POLYGON:
        for at in np.flatnonzero(types == 3):
            declared[at] = shapely.multipolygons([declared[at]])
    elif kind is Geometry.LINE:
        for at in np.flatnonzero((types == 1) | (types == 2)):
            declared[at] = shapely.multilinestrings([declared[at]])
    return declared


def _plain(column: pd.Series, kind: Kind) -> list[Any]:
    match kind:
        case Kind.TEXT | Kind.WHEN:
            return [text or None for text in column.tolist()]
        case Kind.WHOLE:
            return column.tolist()
        case Kind.NUMBER:
            return [None if value != value else value for value in column.tolist()]  # noqa: PLR0124 - nan
        case Kind.DAY:
            days = column.to_numpy("datetime64[D]")
            return [None if text == "NaT" else text for text in np.datetime_as_string(days, unit="D").tolist()]
