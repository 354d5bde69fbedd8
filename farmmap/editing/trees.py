"""Trees placed, moved and removed; fields changed; pruning recorded."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike

from farmmap.editing.fields import fields_changed, species_code
from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, added_change, edit_of, ids_of, rows_of
from farmmap.editing.pruning import pruned_to
from farmmap.editing.reshape import rows_removed
from farmmap.editing.sound import far_note, refuse_off_grid
from farmmap.editing.values import typed, typed_values
from farmmap.editing.words import counted, own_name
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import TREES
from farmmap.figures.blocks import block_of_each_tree

__all__ = [
    "fields_changed",
    "neighbour_of",
    "next_free_tag",
    "pruned_to",
    "tree_placed",
    "trees_moved",
    "trees_removed",
]

CLOSE_M = 0.05
"""Two trees this close are pointed out. [m]"""

_TRIES = 3


@guarded
def tree_placed(farm: Farm, x: float, y: float, values: Mapping[str, object] | None = None) -> Proposed:
    """Propose a new tree.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    x, y : float
        Where it stands, on the farm's grid. [m]
    values : mapping of str to object, optional
        Its fields, typed or as text from a form. Without a tag it gets the next free one of its neighbours',
        without a species theirs.

    Raises
    ------
    BadInput
        The place or a value cannot be kept.
    """
    given = dict(values or {})
    notes: list[str] = []
    species = given.pop("species", None)
    fields = typed_values(TREES, given)
    if not fields.get("tag"):
        fields["tag"] = next_free_tag(farm, (x, y))
    elif (farm.trees["tag"] == fields["tag"]).any():
        notes.append(f"there is a tree with tag {fields['tag']} already; give each its own")
    what = f"tree {fields['tag']}"
    refuse_off_grid(farm, [(x, y)], what)
    changes: dict[str, Change] = {}
    if species is None:
        neighbour = neighbour_of(farm, x, y)
        fields["species"] = "" if neighbour is None else str(farm.trees["species"].loc[neighbour])
    else:
        code, added, said = species_code(farm, typed(TREES, TREES.column("species"), species))
        fields["species"] = code
        notes += said
        if len(added):
            changes["species"] = added_change(farm, "species", added)
    notes += [*_close_note(farm, x, y, what), *far_note(farm, (x, y), what)]
    row = next_ids(farm.trees, 1)
    columns: dict[str, Any] = {name: [value] for name, value in fields.items()}
    rows = shaped(TREES, columns | {"x": [float(x)], "y": [float(y)]}, row, farm.grid)
    changes["trees"] = added_change(farm, "trees", rows)
    return Proposed(edit_of(f"Put in {what}", changes), tuple(notes))


@guarded
def trees_moved(farm: Farm, ids: ArrayLike, dx_m: float, dy_m: float) -> Proposed:
    """Propose to move trees.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    ids : array_like of int, shape (n,)
        Which trees.
    dx_m, dy_m : float
        How far to the east and north, on the farm's grid. [m]

    Raises
    ------
    BadInput
        A tree is not there, or would stand off the grid.
    """
    wanted = ids_of(ids)
    before = rows_of(farm, "trees", wanted)
    after = before.copy()
    after["x"] += float(dx_m)
    after["y"] += float(dy_m)
    what = counted(farm, "trees", wanted)
    places = after[["x", "y"]].to_numpy()
    refuse_off_grid(farm, places, what)
    notes = list(far_note(farm, places, what))
    if len(wanted) == 1:
        notes += _close_note(farm, float(places[0, 0]), float(places[0, 1]), what, int(wanted[0]))
    changed = (before[["x", "y"]].to_numpy() != places).any(axis=1)
    return Proposed(edit_of(f"Move {what}", {"trees": Change(before[changed], after[changed])}), tuple(notes))


@guarded
def trees_removed(farm: Farm, ids: ArrayLike) -> Proposed:
    """Propose to remove trees and their measurements."""
    return rows_removed(farm, "trees", ids)


@guarded
def neighbour_of(farm: Farm, x: float, y: float) -> int | None:
    """Return the tree that a new one takes after: the last one of the block it stands in, else the nearest.

    Parameters
    ----------
    farm : Farm
        The farm.
    x, y : float
        Where the new tree is to stand. [m]

    Returns
    -------
    int or None
        Its id; None on a farm without trees, or if the place is no number.
    """
    if not len(farm.trees) or not np.isfinite([x, y]).all():
        return None
    blocks = farm.blocks[(farm.blocks["stage"] == "existing").to_numpy()]
    holding = blocks.index[blocks.geometry.covers(shapely.Point(x, y)).to_numpy()]
    if len(holding):
        there = np.flatnonzero(block_of_each_tree(farm) == holding[0])
        if len(there):
            return int(farm.trees.index[there[-1]])
    away = np.hypot(farm.trees["x"].to_numpy() - x, farm.trees["y"].to_numpy() - y)
    return int(farm.trees.index[int(np.argmin(away))])


@guarded
def next_free_tag(farm: Farm, near: tuple[float, float] | None = None) -> str:
    """Return the tag for the next tree, counted on to the first that is free.

    Parameters
    ----------
    farm : Farm
        The farm.
    near : tuple of float, optional
        Where it is to stand: it is counted on from the tag of its neighbour, without from that of the tree placed
        last. [m]
    """
    tags = farm.trees["tag"]
    neighbour = None if near is None else neighbour_of(farm, *near)
    last = str(tags.loc[neighbour]) if neighbour is not None else str(tags.iloc[-1]) if len(tags) else ""
    found = re.fullmatch(r"(?s:(.*?))([0-9]{1,15})[^0-9]*", last)
    stem, digits = (found[1], found[2]) if found else ("", "0")
    number = int(digits)
    for step in range(1, _TRIES + 1):
        tag = f"{stem}{number + step:0{len(digits)}d}"
        if not (tags == tag).any():
            return tag
    tail = tags[tags.str.startswith(stem)].str.slice(len(stem))
    used = pd.to_numeric(tail[tail.str.fullmatch(r"[0-9]{1,15}")]).to_numpy(np.int64)
    return f"{stem}{int(used.max(initial=number)) + 1:0{len(digits)}d}"


def _close_note(farm: Farm, x: float, y: float, what: str, leave_out: int | None = None) -> tuple[str, ...]:
    east, north = farm.trees["x"].to_numpy(), farm.trees["y"].to_numpy()
    near = np.flatnonzero((np.abs(east - x) <= CLOSE_M) & (np.abs(north - y) <= CLOSE_M))
    away = np.hypot(east[near] - x, north[near] - y)
    near, away = near[away <= CLOSE_M], away[away <= CLOSE_M]
    rows = farm.trees.index.to_numpy()[near]
    kept = rows != (-1 if leave_out is None else leave_out)
    if not kept.any():
        return ()
    first = int(np.argmin(np.where(kept, away, np.inf)))
    other = own_name(farm, "trees", int(rows[first]))
    return (f"{what} stands {away[first] * 100:.0f} cm from {other}; is it the same one?",)
