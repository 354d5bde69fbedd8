"""Figures after an edit: what is remembered of the farm before it is carried over, but for what the edit touched.

Every answer that `farmmap.figures` keeps is found again by the tables that it
was made from. An edit makes new tables, so nothing would be found; here the
answers are put down for the new tables, the touched part worked out again by
the same functions that work out all. What is not at hand, or too hard to mend,
is left to be worked out afresh when it is asked for.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.farm.grids import Grid
from farmmap.farm.splice import Moves, column_of, same_values
from farmmap.figures.blocks import CROWNS, INDEXES, MEMBERS, TABLES, block_rows, block_table, class_width, table_key
from farmmap.figures.grounds import either_id, grounds, grounds_after
from farmmap.figures.margins import margins_after
from farmmap.figures.membership import EDGE_M, NO_BLOCK, block_of_points
from farmmap.figures.recount import members_between
from farmmap.figures.rectangles import bounds_met
from farmmap.figures.sampling.sampled import resampled, samples
from farmmap.figures.standing import STANDING, Standing, is_ahead, standing_key, the_day
from farmmap.figures.standing_after import (
    StandingAfter,
    Touched,
    standing_after,
    touched_trees,
    with_species_put_in,
)
from farmmap.figures.standing_ahead import keep_growth
from farmmap.figures.sums import sums_after
from farmmap.figures.tape import tape_after
from farmmap.figures.tree_index import places_among

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WIDER = 1.01
"""How much further than a width on the grid is looked, as each block and margin has a scale of its own."""

ONE_SCALE_M = 10_000.0
"""Over less ground than this the scale of a grid hardly changes. [m]"""

REACH_OF = {"tracks": ("width_m", 0.5), "creeks": ("channel_m", 0.5), "hazards": ("clear_m", 1.0)}
"""Column and part of it by which a row reaches beyond its shape."""

MOST_BOXES = 4_000
"""An edit that touches the ground in more places than this is worked out afresh."""

NOWHERE = np.empty((0, 4))


def carry_over(before: Farm, after: Farm, edit: Edit, on: dt.date | None = None, class_cm: float | None = None) -> None:
    """Carry what is remembered of a farm over an edit.

    Afterwards `block_figures`, `margin_figures`, `farm_figures`, `standing`
    and what they rest on answer for ``after`` at once, as far as they had been
    asked of ``before``, with the same numbers as if worked out afresh.

    Parameters
    ----------
    before, after : Farm
        The farm before and after the edit.
    edit : Edit
        What was changed.
    on : date or None
        The day of the figures; None for the day of the newest measurement.
    class_cm : float or None
        Width of a diameter class; None for the farm's own. [cm]
    """
    if edit.settings is not None or ("species" in edit.changes and len(edit.changes["species"].before)):
        return
    keep_growth(before, after, edit)
    touched = touched_trees(before, after, edit)
    if touched is None:
        return
    if (readings := edit.changes.get("measurements")) is not None:
        tape_after(before.measurements, after.measurements, readings.before, readings.after)
    if before.trees is not after.trees:
        _index_after(before, after, touched)
    blocks, reshaped = _block_ids(edit)
    ground = _grounds_after(before, after, edit, reshaped)
    members = None if ground is None else _members_after(before, after, reshaped, touched)
    day = the_day(after, on)
    trees = _trees_after(before, after, touched, day)
    if trees is None:
        return
    crowns, stems = _where_felt(trees, after.grid)
    fences = Edit("", {name: edit.changes[name] for name in edit.changes if name == "fences"}).ground()
    margins_after(before, after, (trees.before, trees.there), {"fences": fences, "crowns": crowns, "stems": stems})
    if ground is not None and members is not None:
        again = {*ground.tolist(), *members, *blocks.tolist()}
        _blocks_after(before, after, (again, crowns), (day, class_width(after, class_cm)), trees.there)


@dataclass(frozen=True, eq=False)
class _Trees(StandingAfter):
    """Trees that count after an edit, with those before it."""

    before: Standing


def _trees_after(before: Farm, after: Farm, touched: Touched, day: dt.date) -> _Trees | None:
    """Keep the trees that count, and their crowns; None if they were not at hand."""
    was = STANDING.find(*standing_key(before, day))
    if was is None or (_other_trees(before, after) and (was.forecast or is_ahead(after, day))):
        return None  # one reading may change the forecast of every tree of its species
    crowns, named = CROWNS.find((was,)), was
    if before.species is not after.species:
        known = with_species_put_in(was, after)
        if known is None:
            return None
        named = known
    if before.trees is after.trees and before.measurements is after.measurements:
        none = np.empty(0, np.intp)
        if named is not was:
            STANDING.put(*standing_key(after, day), named)
            if crowns is not None:
                CROWNS.put((named,), (), crowns)
        return _Trees(named, Moves(none, none), none, none, was)
    found = standing_after(named, after, day, touched)
    if found is None:
        return None
    there = found.there
    STANDING.put(*standing_key(after, day), there)
    sums_after(was, found.old, there, found.new)
    if crowns is not None:
        of = (there.x, there.y, there.crown_m, there.crown_estimated)
        now = crowns.after(found.moves, found.old, found.new, of)
        if now is not None:
            CROWNS.put((there,), (), now)
    return _Trees(there, found.moves, found.old, found.new, was)


def _other_trees(before: Farm, after: Farm) -> bool:
    """Whether anything that a forecast of trees rests on is another table than before."""
    names = ("trees", "measurements", "species")
    return any(before.tables[name] is not after.tables[name] for name in names)


def _index_after(before: Farm, after: Farm, touched: Touched) -> None:
    index = INDEXES.find((before.trees,))
    if index is None:
        return
    old, new = ((rows, *_stand_at(farm, rows)) for farm, rows in ((before, touched.old), (after, touched.rows)))
    if touched.moves or not all(np.array_equal(was, now, equal_nan=True) for was, now in zip(old, new, strict=True)):
        mended = index.after(touched.moves, old, new, len(after.trees))
        if mended is None:
            return
        index = mended
    INDEXES.put((after.trees,), (), index)


def _stand_at(farm: Farm, rows: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Where the trees of some rows stand, in m."""
    x, y = (column_of(farm.trees, axis) for axis in "xy")
    return np.asarray(x[rows], np.float64), np.asarray(y[rows], np.float64)


def _grounds_after(before: Farm, after: Farm, edit: Edit, reshaped: Ints) -> Ints | None:
    """Keep the ground of blocks; the blocks that were worked out again or are gone, None if it was not at hand."""
    names = [name for name in ("blocks", *REACH_OF) if name in edit.changes]
    if not names and before.grid == after.grid:
        return np.empty(0, np.int64)
    boxes = np.concatenate([NOWHERE, *(_reach(edit, name, before.grid) for name in REACH_OF if name in edit.changes)])
    if len(boxes) > MOST_BOXES:
        return None
    return grounds_after(before, after, reshaped, boxes)


def _block_ids(edit: Edit) -> tuple[Ints, Ints]:
    """Ids of blocks that were touched, and of those among them whose outline or stage is another."""
    change = edit.changes.get("blocks")
    if change is None:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    was, now = change.before.index.to_numpy(np.int64), change.after.index.to_numpy(np.int64)
    ids = either_id(was, now)
    if not np.array_equal(was, now):
        return ids, ids
    outlines = [np.asarray(column_of(rows, "geometry")) for rows in (change.before, change.after)]
    stages = [column_of(rows, "stage") for rows in (change.before, change.after)]
    same = shapely.equals_identical(*outlines)
    if not same_values(*stages):
        same &= np.asarray(stages[0] == stages[1], bool)
    return ids, ids[~same[np.argsort(was)]]


def _reach(edit: Edit, name: str, grid: Grid) -> Floats:
    """Rectangles of ground that rows of tracks, creeks or hazards may take out of a block."""
    change = edit.changes[name]
    column, part = REACH_OF[name]
    boxes = Edit("", {name: change}).ground()
    boxes = boxes[np.isfinite(boxes).all(axis=1)]
    wide = float(np.nanmax([0.0, *change.before[column], *change.after[column]])) * part * _widest_scale(grid, boxes)
    return boxes + np.array([-1, -1, 1, 1]) * (wide * WIDER + EDGE_M)


def _widest_scale(grid: Grid, boxes: Floats) -> float:
    """Grid metres for a metre of ground on some rectangles, at least 1: where that is greatest at their corners."""
    if not len(boxes):
        return 1.0
    (west, south), (east, north) = boxes[:, :2].min(axis=0).tolist(), boxes[:, 2:].max(axis=0).tolist()
    if east - west + north - south < ONE_SCALE_M:
        west, south = east, north = (west + east) / 2, (south + north) / 2
    scales = [grid.scale(x, y) for x in {west, east} for y in {south, north}]
    return max([1.0, *(scale for scale in scales if np.isfinite(scale))])


def _members_after(before: Farm, after: Farm, reshaped: Ints, touched: Touched) -> set[int] | None:
    """Keep which block each tree stands in; the blocks of the trees that were touched or changed their block.

    Trees that were put in or altered are looked at again, and those on the
    ground between the old and the new outlines of blocks. None if it was not
    at hand.
    """
    members, index = MEMBERS.find((before.trees, before.blocks)), INDEXES.find((after.trees,))
    if members is None or index is None:
        return None
    blocks: set[int] = set()
    if len(touched.ids):
        old_rows = places_among(before.trees.index.to_numpy(np.int64), touched.ids)
        blocks.update(members.block_at(old_rows).tolist())
    if touched.moves:
        members = members.after(touched.moves)
    ground = grounds(after)
    if len(touched.rows):
        x, y = _stand_at(after, touched.rows)
        found = block_of_points(ground.ids[ground.existing], ground.outlines[ground.existing], x, y)
        blocks.update(found.tolist())
        members, _ = members.moved(touched.rows, found)
    if len(reshaped):
        members, steps = members_between(members, index, (grounds(before), ground), reshaped)
        blocks.update(block for moved in steps for block in moved)
    MEMBERS.put((after.trees, after.blocks), (), members)
    return blocks - {NO_BLOCK}


def _where_felt(trees: _Trees, grid: Grid) -> tuple[Floats, Floats]:
    """Rectangles on which the crowns and the stems of touched trees stood or stand."""
    if not len(trees.old) + len(trees.new):
        return NOWHERE, NOWHERE
    felt = []
    for there, places in ((trees.before, trees.old), (trees.there, trees.new)):
        crown = np.nan_to_num(there.crown_m[places]) / 2
        felt.append(np.column_stack([there.x[places], there.y[places], crown, there.crown_estimated[places]]))
    both = np.concatenate(felt)
    x, y, crown, _ = both[np.isfinite(both).all(axis=1)].T
    stems = np.column_stack([x - EDGE_M, y - EDGE_M, x + EDGE_M, y + EDGE_M])
    if not trees.moves and np.array_equal(felt[0], felt[1]):
        return NOWHERE, stems
    reach = crown * _widest_scale(grid, stems) * WIDER + EDGE_M
    return np.column_stack([x - reach, y - reach, x + reach, y + reach]), stems


def _blocks_after(
    before: Farm, after: Farm, again: tuple[set[int], Floats], key: tuple[dt.date, float], there: Standing
) -> None:
    """Keep the figures of blocks, working out those again that were touched, or on which crowns changed."""
    old = TABLES.find(*table_key(before, *key))
    if old is None:
        return
    touched, crowns = again
    ground = grounds(after)
    hit = np.zeros(len(ground.ids), bool)
    hit[places_among(ground.ids, np.array(sorted(touched), np.int64))] = True
    hit |= bounds_met(ground.bounds, crowns)
    if others := resampled(samples(before, key[0]), samples(after, key[0])):
        hit |= np.isin(ground.ids, others)
    chosen = ground.ids[hit]
    fresh = block_rows(after, there, chosen, key[1], grounds(before))
    if np.array_equal(ground.ids, old.ids):
        rows = list(old.rows)
        for place, row in zip(hit.nonzero()[0].tolist(), fresh, strict=True):
            rows[place] = row
    else:
        by_id = dict(zip(old.ids, old.rows, strict=True)) | dict(zip(chosen.tolist(), fresh, strict=True))
        rows = [by_id[one] for one in ground.ids.tolist()]
    TABLES.put(*table_key(after, *key), block_table(after, there, ground, rows))
