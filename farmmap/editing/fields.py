"""Fields of one or many rows changed at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import (
    Proposed,
    added_change,
    edit_of,
    ids_of,
    joined_change,
    rows_of,
    shapes_changed,
    with_shapes,
)
from farmmap.editing.settling import settled
from farmmap.editing.values import typed, typed_values
from farmmap.editing.words import column_label, counted, listed, own_name, table_of
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import DTYPES, Farm
from farmmap.farm.schema import Table
from farmmap.farm.species import SpeciesFinder, plain

BEAR_SPECIES = ("trees", "targets", "regimes", "products", "volumes", "plot_trees")
"""Tables whose rows bear the code of a species."""

BEAR_BLOCK = ("regimes", "plots")
"""Tables whose rows bear the name of a block."""


@guarded
def fields_changed(farm: Farm, table: str, ids: ArrayLike, values: Mapping[str, object]) -> Proposed:
    """Propose other values for fields of one or many rows.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    table : str
        Which table.
    ids : array_like of int, shape (n,)
        Which rows.
    values : mapping of str to object
        New values by column, typed or as text from a form; "" for not known. A species is found by code or name. A tree
        that is alive again loses the day on which it died.

    Returns
    -------
    Proposed
        Only rows that really change are in the edit. A planned block that is to stand is cut back to its neighbours.

    Raises
    ------
    BadInput
        A column or value does not fit, many trees would get one tag, or nothing would change.
    """
    kind, wanted = table_of(table), ids_of(ids)
    before = rows_of(farm, table, wanted)
    if not values:
        raise BadInput("nothing was filled in; give a new value for at least one field")
    fields, extra, notes = _read(farm, kind, before, values)
    after, columns, changed = _filled(before, kind, fields)
    shown = [column for column in columns if column != "status_on" or "status" not in columns]
    what = counted(farm, table, before.index.to_numpy()[changed] if changed.any() else wanted)
    name = f"Change {listed([column_label(column) for column in shown or list(fields)])} of {what}"
    if not changed.any():
        raise BadInput(f"{what}: nothing changes, as {listed([column_label(c) for c in fields])} is so already")
    if changed.sum() < len(wanted):
        notes.append(f"{len(wanted) - int(changed.sum())} of {len(wanted)} were so already")
    change = Change(before[changed], after[changed])
    if table == "blocks" and fields.get("stage") == "existing":
        change, said = _standing_now(farm, change)
        notes += said
    if table in extra:
        change = joined_change(change, extra.pop(table))
    return Proposed(edit_of(name, {table: change} | extra), tuple(notes))


def _read(
    farm: Farm, kind: Table, before: pd.DataFrame, values: Mapping[str, object]
) -> tuple[dict[str, Any], dict[str, Change], list[str]]:
    """Return values as their columns keep them, what changes in other tables, and notes."""
    given, notes = dict(values), list[str]()
    extra: dict[str, Change] = {}
    if kind.name == "trees" and "species" in given:
        written = typed(kind, kind.column("species"), given["species"])
        given["species"], added, notes = species_code(farm, written)
        if len(added):
            extra["species"] = added_change(farm, "species", added)
    fields = typed_values(kind, given)
    _refuse_pointers(farm, kind, fields)
    match kind.name:
        case "trees":
            notes += _with_day_of_status(farm, fields, before)
            notes += _same_tag(farm, before.index.to_numpy(), str(fields.get("tag", "")))
        case "species":
            extra |= _codes_follow(farm, before, fields)
        case "blocks" if "name" in fields:
            notes += _same_name(farm, before.index.to_numpy(), str(fields["name"]))
            extra |= _names_follow(farm, before, str(fields["name"]))
    return fields, extra, notes


def species_code(farm: Farm, text: str) -> tuple[str, pd.DataFrame, list[str]]:
    """Find the code of a species by code or name.

    Returns
    -------
    code : str
        "" for nothing written.
    added : DataFrame
        Rows to be put into the farm's list of species, none if it knows it.
    notes : list of str
        Whether it was a new one.
    """
    finder = SpeciesFinder(farm.species)
    code = finder.code_of(text)
    added = finder.added(farm.grid)
    notes = [f"species {name} was not known and was added to the farm's list as {code}" for name in finder.newly_named]
    return code, added, notes


def _filled(before: pd.DataFrame, kind: Table, fields: Mapping[str, Any]) -> tuple[pd.DataFrame, list[str], np.ndarray]:
    """Return rows with new values, the columns in which any differ, and which rows do."""
    after = before.copy(deep=False)
    changed = np.zeros(len(before), bool)
    columns = []
    for column, value in fields.items():
        after[column] = pd.array([value] * len(before), dtype=DTYPES[kind.column(column).kind])
        old, new = before[column], after[column]
        differ = ((old != new) & ~(old.isna() & new.isna())).to_numpy(bool)
        if differ.any():
            columns.append(column)
        changed |= differ
    return after, columns, changed


def _refuse_pointers(farm: Farm, kind: Table, fields: Mapping[str, Any]) -> None:
    for name, value in fields.items():
        column = kind.column(name)
        points_to = column.points_to
        if points_to and value not in farm.tables[points_to].index and (column.needed or value != 0):
            raise BadInput(f"{column_label(name)} {value} of a {kind.one} is not among the {points_to}")


def _with_day_of_status(farm: Farm, fields: dict[str, Any], before: pd.DataFrame) -> list[str]:
    """Keep status and its day together."""
    status = fields.get("status")
    if status is None:
        if "status_on" in fields and not np.isnat(fields["status_on"]) and (before["status"] == "alive").all():
            raise BadInput("a living tree has no day on which it died; give its status, dead or felled, as well")
        return []
    if status == "alive":
        if not np.isnat(fields.get("status_on", np.datetime64("NaT"))):
            raise BadInput("a living tree has no day on which it died; leave the day empty")
        fields["status_on"] = np.datetime64("NaT", "s")
        return []
    what = counted(farm, "trees", before.index.to_numpy())
    day = fields.get("status_on")
    known = before["status_on"].notna().all() if day is None else not np.isnat(day)
    if not known:
        return [
            f"{what}: without the day on which it was {_past(status)}, a tree is left out on every day, past ones too"
        ]
    return []


def _past(status: str) -> str:
    return "found dead" if status == "dead" else status


def _codes_follow(farm: Farm, before: pd.DataFrame, fields: Mapping[str, Any]) -> dict[str, Change]:
    """Let all rows that bear a species follow when its code is changed."""
    code = fields.get("code")
    if code is None:
        return {}
    others = farm.species[~farm.species.index.isin(before.index)]
    if len(before) > 1 or plain(code) in {plain(other) for other in others["code"]}:
        raise BadInput(f"code {code} can stand for one species only; choose another")
    return _follow(farm, BEAR_SPECIES, "species", str(before["code"].iloc[0]), code)


def _names_follow(farm: Farm, before: pd.DataFrame, name: str) -> dict[str, Change]:
    """Let all rows that bear the name of a block follow when it is changed, if no other block is called so."""
    old = str(before["name"].iloc[0])
    if len(before) > 1 or not name or (farm.blocks["name"] == old).sum() > 1:
        return {}
    return _follow(farm, BEAR_BLOCK, "block", old, name)


def _follow(farm: Farm, tables: tuple[str, ...], column: str, old: str, new: str) -> dict[str, Change]:
    """Put a new text in place of an old one, in a column of several tables; "" stands for all others and stays."""
    out: dict[str, Change] = {}
    for table in tables if old else ():
        rows = farm.tables[table]
        bearing = rows[(rows[column] == old).to_numpy(bool)]
        after, _, changed = _filled(bearing, table_of(table), {column: new})
        if changed.any():
            out[table] = Change(bearing[changed], after[changed])
    return out


def _same_name(farm: Farm, ids: np.ndarray, name: str) -> list[str]:
    others = farm.blocks.index[(farm.blocks["name"] == name).to_numpy(bool)].difference(ids)
    if len(others) or len(ids) > 1:
        return [f"more than one block is called {name}; give each its own name"]
    return []


def _same_tag(farm: Farm, ids: np.ndarray, tag: str) -> list[str]:
    """Refuse one tag for many trees, as the tape goes by tags; note another tree that has it."""
    if not tag:
        return []
    if len(ids) > 1:
        raise BadInput(
            f"{len(ids)} trees cannot all have the tag {tag}, as trees are found by their tags; pick one tree"
        )
    others = farm.trees.index[(farm.trees["tag"] == tag).to_numpy(bool)].difference(ids)
    return [f"there is another tree with tag {tag}; give each its own"] if len(others) else []


def _standing_now(farm: Farm, change: Change) -> tuple[Change, list[str]]:
    """Cut planned blocks that are to stand back to their neighbours' edges."""
    raised = change.before.index[(change.before["stage"] == "planned").to_numpy(bool)]
    if not len(raised):
        return change, []
    outlines = dict(zip(map(int, change.after.index), change.after["geometry"], strict=True))
    shapes = {int(row): outlines[int(row)] for row in raised}
    found = settled(farm, shapes, {row: own_name(farm, "blocks", row) for row in shapes})
    mine = [found.shapes.pop(row, shape) for row, shape in outlines.items()]
    cut = Change(change.before, with_shapes(change.after, mine))
    others = [shapes_changed(farm, "blocks", found.shapes)] if found.shapes else []
    return joined_change(cut, *others), found.notes
