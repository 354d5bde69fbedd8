"""Pruning recorded as dated measurements."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, edit_of, ids_of, rows_of
from farmmap.editing.values import typed
from farmmap.editing.words import counted, day_words
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import MEASUREMENTS
from farmmap.figures.tape import tape_of


@guarded
def pruned_to(farm: Farm, ids: ArrayLike, height_m: object, on: dt.date | str) -> Proposed:
    """Propose that trees were pruned to a height on a day.

    A reading of that day's first stem gets the height; where there is none a new one is put in.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    ids : array_like of int, shape (n,)
        Which trees.
    height_m : float or str
        Height to which they were pruned. [m]
    on : date or str
        The day.

    Raises
    ------
    BadInput
        The height or the day cannot be kept.
    """
    wanted = ids_of(ids)
    rows_of(farm, "trees", wanted)
    height = typed(MEASUREMENTS, MEASUREMENTS.column("pruned_m"), height_m)
    day = typed(MEASUREMENTS, MEASUREMENTS.column("measured_on"), on)
    if np.isnan(height):
        raise BadInput("give the height to which they were pruned, in m")
    taken = farm.measurements
    here = np.flatnonzero(taken["tree"].isin(wanted).to_numpy() & (taken["measured_on"] == day).to_numpy())
    rows = taken.iloc[here]
    rows = rows[(rows["stem"] == 1).to_numpy() & ~rows.duplicated(["tree", "stem"], keep="last").to_numpy()]
    before = rows[(rows["pruned_m"] != height).to_numpy()]
    after = before.copy(deep=False)
    after["pruned_m"] = np.full(len(before), height)
    missing = np.setdiff1d(wanted, rows["tree"].to_numpy())
    new = shaped(
        MEASUREMENTS,
        {"tree": missing, "measured_on": np.full(len(missing), day), "pruned_m": np.full(len(missing), height)},
        next_ids(taken, len(missing)),
        farm.grid,
    )
    what = counted(farm, "trees", wanted)
    change = Change(before, pd.concat([after, new]) if len(after) and len(new) else after if len(after) else new)
    notes = _doubts(farm, wanted, height, day)
    if len(before) and before["pruned_m"].notna().any():
        notes.append(f"{int(before['pruned_m'].notna().sum())} pruned heights of that day were replaced")
    return Proposed(edit_of(f"Prune {what} to {height:g} m", {"measurements": change}), tuple(notes))


def _doubts(farm: Farm, ids: np.ndarray, height: float, day: np.datetime64) -> list[str]:
    """Say for how many trees the pruned height stands above the tree, or below an earlier one."""
    tape = tape_of(farm.measurements)
    notes = []
    for quantity, wrong, words in (
        ("height_m", np.greater_equal, "is not below the height of"),
        ("pruned_m", np.less, "is below the pruned height recorded earlier for"),
    ):
        trees, values = tape.latest(quantity, day.astype("datetime64[D]"))
        mine = np.isin(trees, ids)
        odd = trees[mine][wrong(height, values[mine])]
        if len(odd):
            first = values[mine][wrong(height, values[mine])][0]
            notes.append(
                f"{height:g} m on {day_words(day)} {words} {counted(farm, 'trees', odd)} "
                f"({'such as ' if len(odd) > 1 else ''}{first:g} m); look whether it is right"
            )
    return notes
