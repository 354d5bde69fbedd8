"""A thinning worked out by a rule, or read from the marks as they stand on the farm."""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import table_key
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import later_note, the_day
from farmmap.plans.thinning.before_after import before_after
from farmmap.plans.thinning.cautions import cautions_of
from farmmap.plans.thinning.crop import Crop, chosen_crop
from farmmap.plans.thinning.final_stocking import final_stocking
from farmmap.plans.thinning.result import CROP, LEAVE, TAKE, Thinning
from farmmap.plans.thinning.rows import PlantedRows, planted_rows
from farmmap.plans.thinning.rule import BY_ROWS, TO_BASAL_AREA, TO_STOCKING, CropRule, ThinningRule, rule_words
from farmmap.plans.thinning.stand import BlockTrees, block_trees
from farmmap.plans.thinning.take import rows_that_go, taken
from farmmap.plans.thinning.worth import weights_with, worths

CAUTION_PERCENT = ThinningRule().caution_percent

_MADE: Remembered[Thinning] = Remembered(4)
_AS_MARKED: Remembered[Thinning] = Remembered(6)


def thinning(
    farm: Farm, block: int, rule: ThinningRule, on: dt.date | None = None, crop: CropRule | None = None
) -> Thinning:
    """Work out a thinning of a block; the last few answers are kept. `marked` puts the marks into the farm.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    rule : ThinningRule
        What goes now.
    on : date or None
        The day; None for that of the newest measurement.
    crop : CropRule or None
        How crop trees are chosen; None where they are those marked on the farm.

    Raises
    ------
    BadInput
        There is no such block, or a weight cannot be meant.
    """
    day = the_day(farm, on)
    same, equal = table_key(farm, day, 0.0)
    also = (farm.boundary, farm.fences, farm.tables["targets"])
    return _MADE.get(
        (*same, *also),
        (*equal, farm.settings, int(block), rule, crop),
        lambda: _worked_out(block_trees(farm, block, day), rule, crop),
    )


def _worked_out(trees: BlockTrees, rule: ThinningRule, crop: CropRule | None) -> Thinning:
    rows = planted_rows(trees.east_m, trees.north_m) if rule.kind == BY_ROWS else None
    found = None
    if crop is None:
        is_crop = trees.marks == CROP
        needs = rule.kind in {TO_BASAL_AREA, TO_STOCKING}
        worth = worths(trees, weights_with({})) if needs else np.ones(len(trees))
    else:
        found = chosen_crop(trees, crop, rows_that_go(rows, rule) if rows is not None else None)
        is_crop, worth = found.chosen, found.worth
    final = found.final if found else final_stocking(trees)
    target_cm = None if crop is None else crop.target_cm
    goes = taken(trees, rule, is_crop, worth, rows, final.stems_per_ha, target_cm)
    mark = np.full(len(trees), LEAVE, object)
    mark[goes.take], mark[is_crop] = TAKE, CROP
    notes = (*goes.notes, *(found.notes if found else ()))
    words = f"{rule_words(rule)}, {in_words(trees.on)}"
    return _told(trees, mark, words, notes, rule.caution_percent, found, rows)


def thinning_as_marked(farm: Farm, block: int, on: dt.date | None = None) -> Thinning:
    """Return the thinning that the marks on the farm make, changed by hand or not; the last few answers are kept.

    Parameters
    ----------
    farm, block, on
        As for `thinning`.
    """
    day = the_day(farm, on)
    same, equal = table_key(farm, day, 0.0)

    def work_out() -> Thinning:
        trees = block_trees(farm, block, day)
        return _told(trees, trees.marks, f"as marked, {in_words(day)}", (), CAUTION_PERCENT)

    return _AS_MARKED.get((*same, farm.boundary), (*equal, farm.settings, int(block)), work_out)


def _told(
    trees: BlockTrees,
    mark: NDArray[np.object_],
    words: str,
    notes: tuple[str, ...],
    caution_percent: float,
    crop: Crop | None = None,
    rows: PlantedRows | None = None,
) -> Thinning:
    own = _notes(trees, mark)
    said = (*notes, *own, *later_note(trees.farm, trees.on))
    return Thinning(
        trees.block,
        trees.name,
        trees.on,
        words,
        trees.ids,
        mark,
        before_after(trees, mark, said),
        said,
        cautions_of(trees, mark, caution_percent),
        crop,
        rows,
    )


def _notes(trees: BlockTrees, mark: NDArray[np.object_]) -> list[str]:
    if trees.planned:
        return [f"{trees.name} is only planned: no trees stand in it yet."]
    if not len(trees):
        return [f"No trees stand in {trees.name} on {in_words(trees.on)}."]
    said = []
    bare = int((trees.diameters == 0).sum())
    if bare:
        said.append(f"Without a diameter, and so without basal area: {bare} of {len(trees)} trees.")
    if not (mark == TAKE).any():
        said.append("No tree is marked to be taken out.")
    return said
