"""Edits: what was changed, as data that can be applied, turned round and written.

An edit holds, for each table, the rows as they were and the rows as they are
to be. Undo, the file and the figures all read the same edit, so none of them
carries code of its own for each kind of change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from farmmap.errors import BadInput, FarmmapError
from farmmap.farm.farm import Farm, Settings
from farmmap.farm.splice import column_spliced, spliced


@dataclass(frozen=True, eq=False)
class Change:
    """Rows of one table before and after.

    Attributes
    ----------
    before : DataFrame
        Rows as they were, indexed by id; those not in ``after`` are taken away.
    after : DataFrame
        Rows as they are to be; those not in ``before`` are put in.
    """

    before: pd.DataFrame
    after: pd.DataFrame

    @property
    def removed(self) -> pd.Index:
        """Ids of rows taken away."""
        return self.before.index.difference(self.after.index)

    @property
    def added(self) -> pd.Index:
        """Ids of rows put in."""
        return self.after.index.difference(self.before.index)

    @property
    def altered(self) -> pd.Index:
        """Ids of rows that stay, with other values."""
        return self.after.index.intersection(self.before.index)


@dataclass(frozen=True, eq=False)
class Edit:
    """One change of a farm, named in plain words.

    Attributes
    ----------
    name : str
        What was done, such as ``Move corner of North Terrace``.
    changes : mapping of str to Change
        Rows before and after, by table.
    settings : tuple of Settings or None
        Settings before and after, if they change.
    """

    name: str
    changes: Mapping[str, Change]
    settings: tuple[Settings, Settings] | None = None

    def turned_round(self) -> Edit:
        """Return the edit that takes this one back."""
        return Edit(
            self.name,
            {name: Change(change.after, change.before) for name, change in self.changes.items()},
            None if self.settings is None else (self.settings[1], self.settings[0]),
        )

    def ground(self) -> np.ndarray:
        """Rectangles of ground that it touched.

        Returns
        -------
        ndarray, shape (n, 4)
            x and y of the south-west and north-east corner of each row, before and after. [m]
        """
        boxes = [_boxes(rows) for change in self.changes.values() for rows in (change.before, change.after)]
        return np.concatenate([box for box in boxes if len(box)] or [np.empty((0, 4))])

    def apply(self, farm: Farm) -> Farm:
        """Return the farm with the edit done; the farm given stays as it is.

        Raises
        ------
        FarmmapError
            The farm is not the one that the edit was made for. Nothing is changed.
        """
        if self.settings is not None and farm.settings != self.settings[0]:
            raise FarmmapError(f"'{self.name}' does not fit: the farm's settings have changed since")
        tables = {name: _with_change(farm.tables[name], change, self.name) for name, change in self.changes.items()}
        after = farm.with_tables(**tables)
        if self.settings is None:
            return after
        return Farm(self.settings[1], after.tables)


def rows_put_in(farm: Farm, name: str, rows: Mapping[str, pd.DataFrame]) -> Edit:
    """Return an edit that puts in new rows.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    name : str
        What is done, in words.
    rows : mapping of str to DataFrame
        New rows by table, typed as `farmmap.farm.farm.shaped` makes them.

    Raises
    ------
    BadInput
        An id is used already.
    """
    for table, frame in rows.items():
        clash = frame.index.intersection(farm.tables[table].index)
        if len(clash):
            raise BadInput(f"{table}: id {clash[0]} is used already")
    return Edit(name, {table: Change(farm.tables[table].iloc[:0], frame) for table, frame in rows.items()})


def rows_changed(farm: Farm, name: str, table: str, after: pd.DataFrame) -> Edit:
    """Return an edit that gives rows of one table, found by id, other values."""
    return Edit(name, {table: Change(farm.tables[table].loc[after.index], after)})


def rows_taken_away(farm: Farm, name: str, rows: Mapping[str, pd.Index]) -> Edit:
    """Return an edit that takes rows away, given their ids by table."""
    return Edit(
        name,
        {table: Change(farm.tables[table].loc[ids], farm.tables[table].iloc[:0]) for table, ids in rows.items()},
    )


def _with_change(frame: pd.DataFrame, change: Change, name: str) -> pd.DataFrame:
    before, after = change.before, change.after
    was, now = before.index.to_numpy(), after.index.to_numpy()
    where = _places(frame.index, was)
    added = np.flatnonzero(~np.isin(now, was))
    if (where < 0).any() or (_places(frame.index, now[added]) >= 0).any():
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for are not there any more")
    columns = list(frame.columns)
    if not all(_equal(frame[column].array[where], before[column].array) for column in columns):
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for have changed since")
    removed = np.sort(where[~np.isin(was, now)])
    stays = np.flatnonzero(np.isin(now, was))
    place = _places(frame.index, now[stays])
    order = np.argsort(place)
    stays, place = stays[order], place[order]
    out = frame.copy(deep=False)
    for column in columns if len(stays) else ():
        held, new = frame[column].array, after[column].array[stays]
        if not _equal(held[place], new):
            out[column] = column_spliced(held, place, place, new)
    return _with_rows(out, removed, after.iloc[added]) if len(removed) + len(added) else out


def _with_rows(frame: pd.DataFrame, removed: np.ndarray, put_in: pd.DataFrame) -> pd.DataFrame:
    """Rows of a table without those at some places, and with others put in, in the order of their ids."""
    if not len(frame) or not frame.index.is_monotonic_increasing:
        out = pd.concat([frame.drop(index=frame.index[removed]), put_in[list(frame.columns)]]) if len(frame) else put_in
        return out[list(frame.columns)].sort_index()
    put_in = put_in.sort_index()
    at = np.searchsorted(frame.index.to_numpy(), put_in.index.to_numpy())
    columns = {
        column: column_spliced(frame[column].array, removed, at, put_in[column].array) for column in frame.columns
    }
    ids = spliced(frame.index.to_numpy(), removed, at, put_in.index.to_numpy())
    out = pd.DataFrame(columns, index=pd.Index(ids, name=frame.index.name), copy=False)
    return gpd.GeoDataFrame(out, geometry="geometry", crs=frame.crs) if isinstance(frame, gpd.GeoDataFrame) else out


def _places(index: pd.Index, ids: np.ndarray) -> np.ndarray:
    """Places of ids in an index, -1 for those that are not there; quick also where the index was never looked into."""
    if not index.is_monotonic_increasing:
        return index.get_indexer(ids)
    held = index.to_numpy()
    places = np.searchsorted(held, ids)
    inside = np.minimum(places, max(len(held) - 1, 0))
    return np.where(held[inside] == ids, inside, -1) if len(held) else np.full(len(ids), -1)


def _equal(one: pd.api.extensions.ExtensionArray, other: pd.api.extensions.ExtensionArray) -> bool:
    return bool(one.dtype == other.dtype and one.equals(other))


def _boxes(rows: pd.DataFrame) -> np.ndarray:
    if isinstance(rows, gpd.GeoDataFrame):
        return rows.geometry.bounds.to_numpy()
    if "x" in rows.columns:
        return rows[["x", "y", "x", "y"]].to_numpy()
    return np.empty((0, 4))
