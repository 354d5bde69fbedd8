"""Edits: what was changed, as data that can be applied, turned round and written.

An edit holds, for each table, the rows as they were and the rows as they are
to be. Undo, the file and the figures all read the same edit, so none of them
carries code of its own for each kind of change.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from farmmap.errors import BadInput, FarmmapError
from farmmap.farm.farm import Farm, Settings, places_of
from farmmap.farm.splice import are_at, column_of, column_spliced, columns_of, rows_at, same_values, spliced


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
        boxes = {name: _box_after(farm.known_box(name), change) for name, change in self.changes.items()}
        after = farm.with_known(tables, {name: box for name, box in boxes.items() if box is not None})
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
    where, is_same = places_of(frame.index, was), np.array_equal(was, now)
    added = np.empty(0, np.intp) if is_same else np.flatnonzero(~np.isin(now, was))
    if (where < 0).any() or (places_of(frame.index, now[added]) >= 0).any():
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for are not there any more")
    held, known, new = columns_of(frame), columns_of(before), columns_of(after)
    if not all(are_at(values, where, known[column]) for column, values in held.items()):
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for have changed since")
    if is_same:
        removed, stays, place = np.empty(0, np.intp), np.arange(len(now)), where
    else:
        removed, stays = np.sort(where[~np.isin(was, now)]), np.flatnonzero(np.isin(now, was))
        place = places_of(frame.index, now[stays])
    order = np.argsort(place)
    stays, place = stays[order], place[order]
    differ = [one for one in held if not same_values(known[one], new[one])] if is_same else list(held)
    altered: dict[str, Any] = {}
    for column in differ if len(stays) else ():
        put = rows_at(new[column], stays)
        if not are_at(held[column], place, put):
            altered[column] = column_spliced(held[column], place, place, put)
    if not len(removed) + len(added):
        return _with_columns(frame, altered)
    if not len(frame) or not frame.index.is_monotonic_increasing:
        return _in_order(_with_columns(frame, altered), removed, after.iloc[added])
    added = added[np.argsort(now[added])]
    at = np.searchsorted(frame.index.to_numpy(), now[added])
    columns = {
        column: column_spliced(values, removed, at, rows_at(new[column], added))
        for column, values in (held | altered).items()
    }
    ids = spliced(frame.index.to_numpy(), removed, at, now[added])
    out = pd.DataFrame(columns, index=pd.Index(ids, name=frame.index.name, copy=False), copy=False)
    return gpd.GeoDataFrame(out, geometry="geometry", crs=frame.crs) if isinstance(frame, gpd.GeoDataFrame) else out


def _with_columns(frame: pd.DataFrame, altered: Mapping[str, Any]) -> pd.DataFrame:
    """Return a table with other columns; those of a long one are not copied."""
    if isinstance(frame, gpd.GeoDataFrame) or not altered:
        out = frame.copy(deep=False)
        for column, values in altered.items():
            out.isetitem(out.columns.get_loc(column), values)  # by name takes three times as long
        return out
    return pd.DataFrame(columns_of(frame) | dict(altered), index=frame.index, copy=False)


def _in_order(frame: pd.DataFrame, removed: np.ndarray, put_in: pd.DataFrame) -> pd.DataFrame:
    """Rows of a table in any order without those at some places, and with others put in, in the order of their ids."""
    columns = list(frame.columns)
    out = pd.concat([frame.drop(index=frame.index[removed]), put_in[columns]]) if len(frame) else put_in
    return out[columns].sort_index()


def _box_after(box: np.ndarray | None, change: Change) -> np.ndarray | None:
    """Rectangle around a table after a change; None if all its rows must be looked at, as some at the edge moved."""
    if box is None or not np.isfinite(box).all():
        return None
    old, new = _boxes(change.before), _boxes(change.after)
    if not np.isfinite(new).all() or (old[:, :2] <= box[:2]).any() or (old[:, 2:] >= box[2:]).any():
        return None
    both = np.concatenate([box[None], new])
    return np.concatenate([both[:, :2].min(axis=0), both[:, 2:].max(axis=0)])


def _boxes(rows: pd.DataFrame) -> np.ndarray:
    if isinstance(rows, gpd.GeoDataFrame):
        return shapely.bounds(np.asarray(column_of(rows, "geometry"), object)).reshape(-1, 4)
    if "x" in rows.columns:
        x, y = (np.asarray(column_of(rows, axis), np.float64) for axis in "xy")
        return np.column_stack([x, y, x, y])
    return np.empty((0, 4))
