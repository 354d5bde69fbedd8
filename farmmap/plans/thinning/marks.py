"""Marks put on trees, changed and taken off; marked trees felled. Each is one edit with a name in plain words."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, edit_of, ids_of, rows_of
from farmmap.editing.values import day_done
from farmmap.editing.words import counted, day_words, own_name
from farmmap.errors import BadInput
from farmmap.farm.edits import Change, Edit
from farmmap.farm.farm import DTYPES, Farm
from farmmap.farm.schema import MARKS, TREES, Kind
from farmmap.figures.blocks import members_of
from farmmap.plans.thinning.result import CROP, TAKE, Thinning
from farmmap.plans.thinning.stand import block_trees


def marked(farm: Farm, thinning: Thinning) -> Proposed:
    """Propose to put the marks of a thinning on its trees; marks that they have are replaced.

    Raises
    ------
    BadInput
        There are no trees, all are marked so already, or a tree is not there any more.
    """
    if not len(thinning):
        raise BadInput(f"no trees stand in {thinning.name}, so there is nothing to mark")
    takes, crop = int((thinning.mark == TAKE).sum()), int((thinning.mark == CROP).sum())
    name = f"Mark {thinning.name} for thinning: {takes} to take out, {crop} crop"
    return Proposed(_edit(farm, name, thinning.ids, thinning.mark, thinning.name), thinning.cautions)


@guarded
def mark_set(farm: Farm, ids: ArrayLike, mark: str) -> Proposed:
    """Propose one mark for some trees: ``crop``, ``take`` or "" for none.

    Raises
    ------
    BadInput
        There is no such mark, the trees are marked so already, or none are chosen.
    """
    if mark not in MARKS:
        raise BadInput(f"'{mark}' is no mark; a tree is marked crop, take, or not at all")
    wanted = ids_of(ids)
    what = counted(farm, "trees", wanted)
    name = {"crop": f"Mark {what} as crop", "take": f"Mark {what} to take out", "": f"Take the mark off {what}"}[mark]
    return Proposed(_edit(farm, name, wanted, np.full(len(wanted), mark, object), what))


@guarded
def marks_cleared(farm: Farm, block: int) -> Proposed:
    """Propose to take all marks off the trees of a block, living and dead.

    Raises
    ------
    BadInput
        There is no such block, or no tree of it is marked.
    """
    ids, name = _of_block(farm, block)
    marks = farm.trees["mark"].loc[ids].to_numpy(object)
    some = ids[marks != ""]
    if not len(some):
        raise BadInput(f"no tree of {name} is marked")
    return Proposed(_edit(farm, f"Take all marks off {name}", some, np.full(len(some), "", object), name))


@guarded
def felled_as_marked(farm: Farm, block: int, day: dt.date | str) -> Proposed:
    """Propose that all trees of a block that are marked to be taken out were felled on a day; their marks go.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    day : date or str
        The day.

    Raises
    ------
    BadInput
        The day cannot be kept or has not come, there is no such block, or no living tree of it is marked so.
    """
    on = day_done(TREES, "status_on", day)
    if pd.isna(on):
        raise BadInput("give the day on which the trees were felled")
    trees = block_trees(farm, block, pd.Timestamp(on).date())
    ids = trees.ids[trees.marks == TAKE]
    before = rows_of(farm, "trees", ids) if len(ids) else farm.trees.iloc[:0]
    before = before[(before["status"] == "alive").to_numpy(bool)]
    if not len(before):
        raise BadInput(
            f"no tree of {trees.name} that stands on {day_words(on)} is marked to be taken out; mark those first"
        )
    after = before.copy(deep=False)
    for column, value in (("status", "felled"), ("status_on", on), ("mark", "")):
        after[column] = pd.array([value] * len(before), dtype=DTYPES[TREES.column(column).kind])
    what = counted(farm, "trees", before.index.to_numpy())
    return Proposed(edit_of(f"Fell {what} of {trees.name} as marked", {"trees": Change(before, after)}))


def _of_block(farm: Farm, block: int) -> tuple[NDArray[np.int64], str]:
    """Ids of all trees of a block, whatever became of them, and its name."""
    if block not in farm.blocks.index:
        raise BadInput(f"block {block} is not on the farm any more; choose another")
    rows = members_of(farm).trees_of(int(block))
    return farm.trees.index.to_numpy(np.int64)[rows], own_name(farm, "blocks", int(block))


def _edit(farm: Farm, name: str, ids: NDArray[np.int64], mark: NDArray[np.object_], what: str) -> Edit:
    before = rows_of(farm, "trees", ids) if len(ids) else farm.trees.iloc[:0]
    differ = before["mark"].to_numpy(object) != mark
    if not differ.any():
        raise BadInput(f"{what}: nothing changes, as it is marked so already")
    before = before[differ]
    after = before.copy(deep=False)
    after["mark"] = pd.array(mark[differ].tolist(), dtype=DTYPES[Kind.TEXT])
    return edit_of(name, {"trees": Change(before, after)})
