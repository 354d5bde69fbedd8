"""A visit to a block to prune: the trees that are due by the end of a year, in walking order."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.plans.pruning.cautions import cautions_for, near_power_lines
from farmmap.plans.pruning.coming import MOST_AHEAD_YEARS, coming
from farmmap.plans.pruning.state import DUE, LATER, MOST_CROWN_TAKEN_PERCENT, PAST, WORTH_M, Pruning, pruning_of
from farmmap.plans.walk import to_next, walk_order

Floats = NDArray[np.float64]
Texts = NDArray[np.object_]

FROM_GROUND_M = 2.0
"""Branches up to here are sawn off standing on the ground. Common practice, rough. [m]"""

REACH_M = 1.6
"""So far above the feet a branch is sawn off from a ladder, no higher than the eyes. Common practice, rough. [m]"""

SIGNS = {
    "L": "near a power line",
    "C": "more than half of the crown would go: lift it in two steps",
    "P": "only part of the lift now, so that enough crown stays",
    "H": "its height was not read: look first, and leave half of the tree green",
    "F": "poor form: is it worth it",
}
"""Signs for what to mind with a tree, and what they say."""


@dataclass(frozen=True, eq=False)
class Visit:
    """Trees to be pruned in a block, in walking order; the first is number 1. Arrays have shape (n,).

    Attributes
    ----------
    name : str
        Name of the block.
    on : date
        Day whose trees these are.
    year : int
        They are due by its end.
    ids : ndarray of int64
        Ids of the trees.
    tag, species : ndarray of str
        Tag, and trade name of the species.
    dbh_cm, measured_on : ndarray
        Last diameter and its day; nan and NaT where there is none. [cm]
    due : ndarray of str
        ``now`` or a year.
    lift : ndarray of str
        Number of the lift, ``form`` for form pruning, or both.
    from_m, to_m : ndarray
        How high it is pruned, and how high it is to be pruned on this visit. [m]
    ladder_m : ndarray
        How high the feet stand at the top of the lift; nan where it is reached from the ground. [m]
    signs : ndarray of str
        What to mind: letters of `SIGNS`.
    x, y : ndarray
        On the farm's grid. [grid m]
    to_next_m, to_next_deg : ndarray
        The way to the next tree, as `farmmap.plans.walk.to_next` gives it. [ground m, degrees]
    notes, cautions : tuple of str
        What the list leaves out, and what to look out for, in sentences.
    """

    name: str
    on: dt.date
    year: int
    ids: NDArray[np.int64]
    tag: Texts
    species: Texts
    dbh_cm: Floats
    measured_on: NDArray[np.datetime64]
    due: Texts
    lift: Texts
    from_m: Floats
    to_m: Floats
    ladder_m: Floats
    signs: Texts
    x: Floats
    y: Floats
    to_next_m: Floats
    to_next_deg: Floats
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def walk_m(self) -> float:
        """Length of the whole walk. [ground m]."""
        return float(np.nansum(self.to_next_m))


def visit(farm: Farm, block: int, on: dt.date | None = None, year: int | None = None) -> Visit:
    """Return the trees of a block that are due for pruning by the end of a year, in walking order.

    Trees that are past the limit of their lift, or of which the year cannot be said, are counted in the notes.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    on : date or None
        The day; None for that of the newest measurement.
    year : int or None
        The year; None for that of the day.

    Raises
    ------
    BadInput
        There is no such block, or the year is before the day or too far off.
    """
    if block not in farm.blocks.index:
        raise BadInput(f"block {block} is not on the farm any more; choose another")
    found, soon = pruning_of(farm, on), coming(farm, on)
    there = found.there
    year = there.on.year if year is None else year
    last = int(there.on.year + MOST_AHEAD_YEARS)
    if not there.on.year <= year <= last:
        raise BadInput(f"a visit is planned for {there.on.year} to {last}, not for {year}")
    mine = found.block == block
    with np.errstate(invalid="ignore"):
        in_time = (found.state == LATER) & (np.floor(soon.year) <= year)
    clear = mine & ((found.state == DUE) | in_time)
    some = np.flatnonzero(clear | (mine & found.form_due))
    scale = farm.grid.scale(float(there.x[some].mean()), float(there.y[some].mean())) if len(some) else 1.0
    places = some[walk_order(there.x[some] / scale, there.y[some] / scale)]
    to_m = np.where(clear[places], np.where(in_time, found.to_m, found.to_now_m)[places], _form_to(found)[places])
    away, bearing = to_next(farm.grid, there.x[places], there.y[places])
    labels = np.array([*there.species_labels, ""], object)
    return Visit(
        name=str(farm.blocks["name"].loc[block]),
        on=there.on,
        year=year,
        ids=there.ids[places],
        tag=farm.trees["tag"].to_numpy(object)[there.places[places]],
        species=labels[there.species[places]],
        dbh_cm=there.dbh_cm[places],
        measured_on=there.measured_on[places],
        due=_due(found, soon.year, places, in_time),
        lift=_lifts(found, places, clear),
        from_m=found.pruned_m[places],
        to_m=to_m,
        ladder_m=np.where(to_m > FROM_GROUND_M, to_m - REACH_M, np.nan),
        signs=_signs(farm, found, places, clear),
        x=there.x[places],
        y=there.y[places],
        to_next_m=away,
        to_next_deg=bearing,
        notes=tuple(_left_out(found, mine, soon.year, year)),
        cautions=cautions_for(farm, found, places),
    )


def _form_to(found: Pruning) -> Floats:
    """Return up to which height each tree's form is pruned. [m]."""
    tops = [np.nan if regime.form is None else regime.form.to_m for regime in found.regimes]
    return np.array(tops or [np.nan])[found.regime]


def _due(found: Pruning, soon: Floats, places: NDArray[np.intp], in_time: NDArray[np.bool_]) -> Texts:
    out = np.full(len(places), "now", object)
    later = in_time[places] & ~found.form_due[places]
    out[later] = [str(int(year)) for year in soon[places[later]].tolist()]
    return out


def _lifts(found: Pruning, places: NDArray[np.intp], clear: NDArray[np.bool_]) -> Texts:
    number = found.lift[places].astype(str).astype(object)
    form, of_lift = found.form_due[places], clear[places]
    out: Texts = np.where(of_lift, np.where(form, number + ", form", number), "form")
    return out


def _signs(farm: Farm, found: Pruning, places: NDArray[np.intp], clear: NDArray[np.bool_]) -> Texts:
    lifted = clear[places] & (found.state[places] == DUE)
    with np.errstate(invalid="ignore"):
        much = lifted & (found.taken_percent[places] > MOST_CROWN_TAKEN_PERCENT)
        part = lifted & (found.to_now_m[places] < found.to_m[places] - WORTH_M)
    guessed = clear[places] & (np.isnan(found.height_m[places]) | found.height_estimated[places])
    poor = (found.form[places] == "poor") & (found.pruned_m[places] == 0)
    held = {"L": near_power_lines(farm, found, places), "C": much, "P": part, "H": guessed, "F": poor}
    out = np.full(len(places), "", object)
    for sign in SIGNS:
        out[held[sign]] += sign
    return out


def _left_out(found: Pruning, mine: NDArray[np.bool_], soon: Floats, year: int) -> list[str]:
    """Say which trees of the block are to be pruned but not on this visit."""
    past = int((mine & (found.state == PAST)).sum())
    waits = mine & (found.state == LATER) & ~found.form_due
    unknown = int((waits & np.isnan(soon)).sum())
    with np.errstate(invalid="ignore"):
        later = int((waits & (np.floor(soon) > year)).sum())
    notes = []
    if past:
        notes.append(f"{_trees(past)} too thick for the next lift and not listed: look whether it is still worth it.")
    if later:
        notes.append(f"{_trees(later)} due after {year} and not listed.")
    if unknown:
        notes.append(f"{_trees(unknown)} not listed, as there is not enough to say in which year.")
    return notes


def _trees(many: int) -> str:
    return "1 tree is" if many == 1 else f"{many} trees are"
