"""The trees that count on a day after an edit of trees or measurements, from those before it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.farm.splice import Moves, spliced
from farmmap.figures.standing import Standing, standing_of
from farmmap.figures.tape import Tape
from farmmap.figures.tree_index import any_of, places_among

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

MOST_TREES = 5_000
"""An edit of more trees than this is worked out afresh."""


@dataclass(frozen=True, eq=False)
class Touched:
    """Trees that an edit touched: in the table, or by a reading.

    Attributes
    ----------
    ids : ndarray of int64
        All of them, increasing.
    moves : Moves
        How the rows of the table of trees move.
    old, rows : ndarray of int
        Rows before and after the edit of trees that were put in, altered or taken away, increasing.
    """

    ids: Ints
    moves: Moves
    old: Places
    rows: Places


@dataclass(frozen=True, eq=False)
class StandingAfter:
    """What `standing_after` found.

    Attributes
    ----------
    there : Standing
        The trees after the edit.
    moves : Moves
        How the places of the trees in `Standing` change.
    old, new : ndarray of int
        Places before and after of the trees that were touched, increasing.
    """

    there: Standing
    moves: Moves
    old: Places
    new: Places


def touched_trees(before: Farm, after: Farm, edit: Edit) -> Touched | None:
    """Return the trees that an edit touched, None if they are many or the tables are not in the order of their ids."""
    readings, own = edit.changes.get("measurements"), edit.changes.get("trees")
    none = np.empty(0, np.int64)
    if readings is None and own is None:
        return Touched(none, Moves(none, none), none, none)
    measured = [rows["tree"].to_numpy(np.int64) for rows in (readings.before, readings.after)] if readings else []
    was, now = (
        (np.sort(rows.index.to_numpy(np.int64)) for rows in (own.before, own.after))
        if own is not None
        else (none, none)
    )
    ids = np.unique(np.concatenate([none, *measured, was, now]))
    old, new = before.trees.index, after.trees.index
    if len(ids) > MOST_TREES or not (old.is_monotonic_increasing and new.is_monotonic_increasing):
        return None
    old_ids, new_ids = old.to_numpy(np.int64), new.to_numpy(np.int64)
    taken, put = np.setdiff1d(was, now), np.setdiff1d(now, was)
    moves = Moves(np.searchsorted(old_ids, taken), np.searchsorted(old_ids, put))
    return Touched(ids, moves, np.searchsorted(old_ids, was), np.searchsorted(new_ids, now))


def standing_after(there: Standing, after: Farm, day: dt.date, touched: Touched) -> StandingAfter | None:
    """Return the trees that count on a day after an edit, None if they have to be worked out afresh.

    Parameters
    ----------
    there : Standing
        The trees before the edit, on the same day.
    after : Farm
        The farm after the edit.
    day : date
        The day.
    touched : Touched
        The trees that the edit touched.
    """
    tape = after.measurements
    rows = places_among(after.trees.index.to_numpy(np.int64), touched.ids)
    readings = np.flatnonzero(any_of(tape["tree"].to_numpy(np.int64), touched.ids))
    few = after.with_tables(trees=after.trees.iloc[rows], measurements=tape.iloc[readings])
    fresh = standing_of(few, day, Tape(few.measurements))
    species = _species_places(there, fresh)
    old = places_among(there.ids, touched.ids)
    if species is None or not _still_named(there, old, species, set(after.species["code"])):
        return None
    fresh = replace(fresh, species=species, places=rows[fresh.places])
    new_at = np.searchsorted(there.ids, fresh.ids)
    same_trees = len(old) == len(fresh.ids) and bool((there.ids[old] == fresh.ids).all())
    values: dict[str, Any] = {}
    for field in fields(Standing):
        was, now = getattr(there, field.name), getattr(fresh, field.name)
        if not isinstance(was, np.ndarray):
            continue
        moved_on = touched.moves.places(was) if field.name == "places" and touched.moves else was
        if not same_trees:
            values[field.name] = spliced(moved_on, old, new_at, now)
        elif moved_on is not was or not _equal(was[old], now):
            values[field.name] = moved_on.copy()
            values[field.name][old] = now
    none = np.empty(0, np.intp)
    out = replace(there, **values)
    moves = Moves(none, none) if same_trees else Moves(old, new_at)
    return StandingAfter(out, moves, old, np.searchsorted(out.ids, fresh.ids))


def _species_places(there: Standing, fresh: Standing) -> Ints | None:
    """Species of the fresh trees as places in the names that are in use, None if one of them has no name there."""
    known = {name: place for place, name in enumerate(there.species_names)}
    used = np.unique(fresh.species).tolist()
    if any(fresh.species_names[kind] not in known for kind in used):
        return None
    place = np.array([known.get(name, -1) for name in fresh.species_names] or [-1], np.int64)
    return place[fresh.species]


def _still_named(there: Standing, old: Places, species: Ints, listed: set[str]) -> bool:
    """Whether every species of the trees before is still that of some tree, or is on the farm's list."""
    leaving = [kind for kind in np.unique(there.species[old]).tolist() if there.species_names[kind] not in listed]
    if not leaving:
        return True
    before = np.bincount(there.species, minlength=len(there.species_names))
    lost = np.bincount(there.species[old], minlength=len(before))
    won = np.bincount(species, minlength=len(before))
    return all(before[kind] - lost[kind] + won[kind] > 0 for kind in leaving)


def _equal(a: NDArray[Any], b: NDArray[Any]) -> bool:
    return bool(np.array_equal(a, b, equal_nan=a.dtype.kind in "fM"))
