"""What an editing function hands back: an edit, and what should be said about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.editing.words import table_of
from farmmap.errors import BadInput
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import Farm, places_of
from farmmap.farm.schema import TABLES, Geometry
from farmmap.farm.splice import table_rows


@dataclass(frozen=True, eq=False)
class Proposed:
    """An edit that may be carried out.

    Attributes
    ----------
    edit : Edit
        What changes.
    notes : tuple of str
        What was mended, or should be looked at, in words.
    """

    edit: Edit
    notes: tuple[str, ...] = ()


def rows_of(farm: Farm, table: str, ids: ArrayLike) -> pd.DataFrame:
    """Return rows of a table by id, in the order asked for.

    Raises
    ------
    BadInput
        One of them is not there.
    """
    frame = farm.tables[table]
    wanted = np.atleast_1d(np.asarray(ids, np.int64))
    places = places_of(frame.index, wanted)
    if (places < 0).any():
        raise BadInput(f"{TABLES[table].words}: row {wanted[places < 0][0]} is not there any more; choose it again")
    return frame.iloc[places] if isinstance(frame, gpd.GeoDataFrame) else table_rows(frame, places)


def cell_of(farm: Farm, table: str, row: int, column: str) -> Any:
    """Return one value of one row.

    Raises
    ------
    BadInput
        The row is not there.
    """
    frame = farm.tables[table]
    place = int(places_of(frame.index, np.array([row]))[0])
    if place < 0:
        raise BadInput(f"{TABLES[table].words}: row {row} is not there any more; choose it again")
    return frame[column].array[place]


def shape_of_row(farm: Farm, table: str, row: int) -> shapely.Geometry:
    """Return the shape of one row.

    Raises
    ------
    BadInput
        The row is not there, or has no shape.
    """
    kind = table_of(table)
    if kind.geometry in {None, Geometry.POINT}:
        raise BadInput(f"{kind.words.lower()} are not drawn as lines or areas; choose something that is")
    shape = cell_of(farm, table, row, "geometry")
    if shape is None or shape.is_empty:
        raise BadInput(f"{TABLES[table].words}: row {row} has no shape; draw it again")
    return shape


def with_shapes(rows: pd.DataFrame, shapes: Sequence[shapely.Geometry]) -> pd.DataFrame:
    """Return rows of a table with other shapes."""
    out = rows.copy(deep=False)
    assert isinstance(rows, gpd.GeoDataFrame)
    out["geometry"] = gpd.array.from_shapely(np.asarray(shapes, object), crs=rows.crs)
    return out


def shapes_changed(farm: Farm, table: str, shapes: Mapping[int, shapely.Geometry]) -> Change:
    """Return the change that gives rows of one table other shapes; those that stay as they are are left out."""
    frame = farm.tables[table]
    new = np.array(list(shapes.values()), object)
    places = places_of(frame.index, np.array(list(shapes), np.int64))
    differ = ~shapely.equals_identical(frame["geometry"].to_numpy()[places], new)
    before = frame.iloc[places[differ]]
    return Change(before, with_shapes(before, list(new[differ])))


def joined_change(*changes: Change) -> Change:
    """Return changes of different rows of one table as one change."""
    kept = [change for change in changes if len(change.before) or len(change.after)]
    if len(kept) < 2:
        return (kept or list(changes))[0]
    return Change(_stacked([c.before for c in kept]), _stacked([c.after for c in kept]))


def edit_of(name: str, changes: Mapping[str, Change]) -> Edit:
    """Return an edit without the tables in which nothing changes.

    Raises
    ------
    BadInput
        Nothing changes at all.
    """
    kept = {table: change for table, change in changes.items() if len(change.before) or len(change.after)}
    if not kept:
        raise BadInput(f"{name}: nothing changes")
    return Edit(name, kept)


def removed_change(farm: Farm, table: str, ids: ArrayLike) -> Change:
    """Return the change that takes rows of one table away."""
    return Change(rows_of(farm, table, ids), farm.tables[table].iloc[:0])


def added_change(farm: Farm, table: str, rows: pd.DataFrame) -> Change:
    """Return the change that puts rows into one table."""
    return Change(farm.tables[table].iloc[:0], rows)


def ids_of(ids: ArrayLike) -> NDArray[np.int64]:
    """Return ids as an array, each once, shape (n,).

    Raises
    ------
    BadInput
        There are none.
    """
    wanted = np.unique(np.atleast_1d(np.asarray(ids, np.int64)))
    if not len(wanted):
        raise BadInput("nothing is chosen; choose what is to be changed first")
    return wanted


def _stacked(frames: list[pd.DataFrame]) -> pd.DataFrame:
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled) if len(filled) > 1 else (filled or frames)[0]
