"""Pruning recorded as dated measurements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, edit_of, ids_of, rows_of
from farmmap.editing.values import day_done, typed
from farmmap.editing.words import counted, day_words, own_name
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import MEASUREMENTS
from farmmap.figures.tape import tape_of


@guarded
def pruned_to(
    farm: Farm, ids: ArrayLike, height_m: object, on: dt.date | str, dos_cm: Mapping[int, object] | object = None
) -> Proposed:
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
    dos_cm : float, str or mapping of int to float or str, optional
        Largest diameter over the stubs that was read, of all the trees or by tree; "" and None leave it as it was. [cm]

    Raises
    ------
    BadInput
        The height, the day or a diameter cannot be kept, or the day has not come.
    """
    wanted = ids_of(ids)
    rows_of(farm, "trees", wanted)
    height = typed(MEASUREMENTS, MEASUREMENTS.column("pruned_m"), height_m)
    day = day_done(MEASUREMENTS, "measured_on", on)
    if np.isnan(height):
        raise BadInput("give the height to which they were pruned, in m")
    stubs = _stubs(farm, wanted, dos_cm)
    taken = farm.measurements
    here = np.flatnonzero(taken["tree"].isin(wanted).to_numpy() & (taken["measured_on"] == day).to_numpy())
    rows = taken.iloc[here]
    rows = rows[(rows["stem"] == 1).to_numpy() & ~rows.duplicated(["tree", "stem"], keep="last").to_numpy()]
    read = stubs[np.searchsorted(wanted, rows["tree"].to_numpy())]
    was = rows["dos_cm"].to_numpy(np.float64)
    differ = (rows["pruned_m"] != height).to_numpy() | (~np.isnan(read) & (read != was))
    before = rows[differ]
    after = before.copy(deep=False)
    after["pruned_m"] = np.full(len(before), height)
    after["dos_cm"] = np.where(np.isnan(read), was, read)[differ]
    missing = np.setdiff1d(wanted, rows["tree"].to_numpy())
    columns = {
        "tree": missing,
        "measured_on": np.full(len(missing), day),
        "pruned_m": np.full(len(missing), height),
        "dos_cm": stubs[np.searchsorted(wanted, missing)],
    }
    new = shaped(MEASUREMENTS, columns, next_ids(taken, len(missing)), farm.grid)
    what = counted(farm, "trees", wanted)
    change = Change(before, pd.concat([after, new]) if len(after) and len(new) else after if len(after) else new)
    notes = _doubts(farm, wanted, height, day)
    replaced = before["pruned_m"].notna() & (before["pruned_m"] != height)
    if replaced.any():
        notes.append(f"{int(replaced.sum())} pruned heights of that day were replaced")
    return Proposed(edit_of(f"Prune {what} to {height:g} m", {"measurements": change}), tuple(notes))


def _stubs(farm: Farm, ids: np.ndarray, dos_cm: Mapping[int, object] | object) -> np.ndarray:
    """Diameter over the stubs of each tree, nan where none was given."""
    column = MEASUREMENTS.column("dos_cm")
    if not isinstance(dos_cm, Mapping):
        value = typed(MEASUREMENTS, column, dos_cm)
        _refuse_nought(value, "the trees")
        return np.full(len(ids), value)
    out = np.full(len(ids), np.nan)
    for tree, value in dos_cm.items():
        place = int(np.searchsorted(ids, tree))
        if place >= len(ids) or ids[place] != tree:
            raise BadInput(f"a diameter over stubs is given for tree {tree}, which is not among those that were pruned")
        what = own_name(farm, "trees", int(tree))
        try:
            out[place] = typed(MEASUREMENTS, column, value)
        except BadInput as error:
            raise BadInput(f"{what}: {error}") from error
        _refuse_nought(out[place], what)
    return out


def _refuse_nought(value: float, what: str) -> None:
    if value == 0:
        raise BadInput(f"the diameter over stubs of {what} is more than 0; leave it empty if it was not read")


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
