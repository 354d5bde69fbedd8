"""The trees that count on a day after an edit of trees or measurements, from those before it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.farm.splice import Moves, column_of, spliced, table_rows
from farmmap.figures.standing import UNKNOWN_SPECIES, Standing, standing_of
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
    if len(ids) > MOST_TREES or not before.trees.index.is_monotonic_increasing:
        return None
    old_ids, new_ids = (farm.trees.index.to_numpy(np.int64) for farm in (before, after))
    taken, put = np.setdiff1d(was, now), np.setdiff1d(now, was)  # an edit keeps the order of increasing ids
    moves = Moves(np.searchsorted(old_ids, taken), np.searchsorted(old_ids, put))
    return Touched(ids, moves, np.searchsorted(old_ids, was), np.searchsorted(new_ids, now))


def with_species_put_in(there: Standing, after: Farm) -> Standing | None:
    """Return the trees that count after species were put on the farm's list, none of which any tree had before.

    Parameters
    ----------
    there : Standing
        The trees before.
    after : Farm
        The farm after; the species that were listed before are listed first, as they were.

    Returns
    -------
    Standing or None
        None if some tree has one of the new species already, as its crown may be another.
    """
    codes, names = (plain_texts(after.species, column) for column in ("code", "name"))
    listed = dict(zip(codes, names, strict=True))
    old = dict(zip(there.species_names, there.species_labels, strict=True))
    unlisted = [code for code in old if code not in listed]
    if any(old[code] != (listed[code] or code or UNKNOWN_SPECIES) for code in old if code in listed):
        return None
    first = [code for code in listed if code in old]
    if [*first, *unlisted] != list(there.species_names) or set(codes[len(first) :]) & set(old):
        return None
    names_now = (*listed, *unlisted)
    labels = {code: listed.get(code) or code or UNKNOWN_SPECIES for code in names_now}
    shift = len(listed) - len(first)
    species = there.species if not unlisted else there.species + shift * (there.species >= len(first))
    return replace(
        there, species=species, species_names=names_now, species_labels=tuple(labels[code] for code in names_now)
    )


def plain_texts(frame: pd.DataFrame, column: str) -> list[str]:
    """Return a short column of text as a list."""
    return [str(text) for text in column_of(frame, column)]


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
    few = after.with_tables(trees=table_rows(after.trees, rows), measurements=table_rows(tape, readings))
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
    for count, of in (("crowned", _crowned), ("other_breast_height", _otherwise)):
        if count in there.__dict__:
            out.__dict__[count] = there.__dict__[count] - of(there, old) + of(fresh, slice(None))
    moves = Moves(none, none) if same_trees else Moves(old, new_at)
    return StandingAfter(out, moves, old, np.searchsorted(out.ids, fresh.ids))


def _crowned(there: Standing, places: Places | slice) -> int:
    return int(np.count_nonzero(there.crown_m[places] > 0))


def _otherwise(there: Standing, places: Places | slice) -> int:
    return int(np.count_nonzero(there.other_height[places]))


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
