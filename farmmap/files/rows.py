"""Rows of a farm's tables as plain values, as SQLite takes them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from farmmap.farm.schema import Column, Geometry, Kind, Table
from farmmap.farm.splice import columns_of
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


def row_values(frame: pd.DataFrame, table: Table, epsg: int, *, shape: bool = True) -> Iterator[tuple[Any, ...]]:
    """Yield each row as SQLite takes it: id, shape where the table has one and it is wanted, then the columns.

    Missing texts, numbers and days become NULL.
    """
    given = columns_of(frame)
    columns: list[list[Any]] = [frame.index.to_numpy(np.int64).tolist()]
    if shape and table.geometry is Geometry.POINT:
        columns.append(point_blobs(np.asarray(given["x"], np.float64), np.asarray(given["y"], np.float64), epsg))
    elif shape and table.geometry:
        columns.append(shape_blobs(_as_declared(np.asarray(given["geometry"], object), table.geometry), epsg))
    columns += [_plain(given[column.name], column) for column in table.columns]
    yield from zip(*columns, strict=True)


def _as_declared(shapes: NDArray[np.object_], kind: Geometry) -> NDArray[np.object_]:
    """Make single polygons and lines multi, as the file declares its columns."""
    types = shapely.get_type_id(shapes)
    if kind is Geometry.POLYGON:
        single, multi = np.flatnonzero(types == 3), shapely.multipolygons
    elif kind is Geometry.LINE:
        single, multi = np.flatnonzero((types == 1) | (types == 2)), shapely.multilinestrings
    else:
        return shapes
    declared = shapes.copy()
    if len(single):
        declared[single] = multi(shapes[single], indices=np.arange(len(single)))
    return declared


def _plain(values: Any, column: Column) -> list[Any]:
    match column.kind:
        case Kind.TEXT | Kind.WHEN:
            return [text or None for text in values.tolist()]
        case Kind.WHOLE if column.points_to and not column.needed:
            return [row or None for row in values.tolist()]
        case Kind.WHOLE:
            return values.tolist()
        case Kind.NUMBER:
            return [None if value != value else value for value in values.tolist()]  # noqa: PLR0124 - nan
        case Kind.DAY:
            days = np.asarray(values, "datetime64[D]")
            return [None if text == "NaT" else text for text in np.datetime_as_string(days, unit="D").tolist()]
