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
    positions = frame.index.get_indexer(change.before.index)
    if (positions < 0).any() or frame.index.isin(change.added).any():
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for are not there any more")
    if not frame.iloc[positions].equals(change.before[frame.columns]):
        raise FarmmapError(f"'{name}' does not fit: the rows it was made for have changed since")
    out = frame.drop(index=change.removed) if len(change.removed) else frame.copy(deep=False)
    if len(change.altered):
        rows = change.after.loc[change.altered]
        where = out.index.get_indexer(change.altered)
        for column in out.columns:
            if not rows[column].equals(change.before[column].loc[change.altered]):
                values = out[column].array.copy()
                values[where] = rows[column].array
                out[column] = values
    if len(change.added):
        out = (
            pd.concat([out, change.after.loc[change.added, list(out.columns)]])
            if len(out)
            else change.after[list(out.columns)].copy(deep=False)
        )
    if not out.index.is_monotonic_increasing:
        out = out.sort_index()
    return out


def _boxes(rows: pd.DataFrame) -> np.ndarray:
    if isinstance(rows, gpd.GeoDataFrame):
        return rows.geometry.bounds.to_numpy()
    if "x" in rows.columns:
        return rows[["x", "y", "x", "y"]].to_numpy()
    return np.empty((0, 4))
