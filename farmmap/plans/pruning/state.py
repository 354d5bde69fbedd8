"""How it stands with the pruning of every tree on a day: its next lift, whether it is due, and whether it is chosen."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.grounds import grounds
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, standing, the_day
from farmmap.plans.pruning.lifts import Regime, regimes_of
from farmmap.plans.pruning.readings import coming_dos
from farmmap.plans.pruning.stems import crown_taken_percent, diameter_at_m

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NO_LIFTS, DONE, TAKEN_OUT, FOLLOWER, DUE, PAST, LATER = range(7)
"""How it stands with a tree: no lifts are set, pruned as high as it is to be, to be taken out, left unpruned as others
are better, due, past the limit, not yet."""

SHORT_M = 0.25
"""A lift is done if the tree is pruned to within this of its height. Common practice: poles are no rulers. [m]"""

PAST_CM = 3.0
"""A lift is late where the stem is this much thicker over the stubs than when it was due: the span from 15 to 18 cm in
which conifers are pruned, common practice, from memory. [cm]"""

THICKEST_CM = 18.0
"""Where a lift says nothing of diameter it is late beyond this: the thick end of 10 to 18 cm over the stubs, the New
Zealand government's page on pruning. [cm]"""

MOST_CROWN_TAKEN_PERCENT = 50.0
"""Half of the green crown off: no loss of growth in E. nitens at age 3 (E. A. Pinkard and C. L. Beadle 1998, New
Forests 15, 107); up to 8 months of it in two other eucalypts (P. J. Alcorn and others 2008, Canadian Journal of Forest
Research 38, 770); 70 % costs growth in all of them (abstracts read). [%]"""

WORTH_M = 0.5
"""Less than this is not pruned for its own sake. Common practice. [m]"""

READS = ("trees", "measurements", "species", "blocks", "tracks", "creeks", "hazards", "regimes")
"""Tables of the farm that the answers rest on."""

ENOUGH_HEIGHTS = 3
"""Heights of one species in one block from which those of its other trees are taken."""

_FORMS = {"good": 0, "": 1, "fair": 2, "poor": 3}


@dataclass(frozen=True, eq=False)
class Pruning:
    """How it stands with the trees that stand on a day. All arrays have shape (n,), in the order of ``there``.

    Attributes
    ----------
    there : Standing
        The trees.
    block : ndarray of int64
        Block of each, `NO_BLOCK` where it stands in none.
    regimes : tuple of Regime
        The regimes that hold for any of them.
    regime : ndarray of int64
        Which of them holds for the tree.
    state : ndarray of int64
        `NO_LIFTS` to `LATER`.
    lift : ndarray of int64
        Number of the next lift; 0 where there is none.
    to_m, tall_m, dos_due_cm, crown_left_percent : ndarray
        What that lift says: to which height, and at which height, diameter over stubs it is due, and what stays green.
        [m, m, cm, %]
    pruned_m : ndarray
        Height to which it is pruned; 0 where that was never read. [m]
    height_m : ndarray
        Height, read or that of its neighbours. [m]
    height_estimated : ndarray of bool
        Whether it is that of its neighbours.
    dos_cm : ndarray
        Diameter over the stubs if the next lift were pruned now. [cm]
    dos_was_read : ndarray of bool
        Whether it was read; else it is estimated from the taper.
    to_now_m : ndarray
        Height to which the crown that is to be left lets it be pruned now. [m]
    taken_percent : ndarray
        Share of the green crown's length that this takes, at most. [%]
    late : ndarray of bool
        Whether the stem is thicker than the lift should find it.
    form_due : ndarray of bool
        Whether it is in the years of form pruning, and among the stems that this is for.
    mark, form : ndarray of object
        Mark and grade of the tree.
    """

    there: Standing
    block: Ints
    regimes: tuple[Regime, ...]
    regime: Ints
    state: Ints
    lift: Ints
    to_m: Floats
    tall_m: Floats
    dos_due_cm: Floats
    crown_left_percent: Floats
    pruned_m: Floats
    height_m: Floats
    height_estimated: Bools
    dos_cm: Floats
    dos_was_read: Bools
    to_now_m: Floats
    taken_percent: Floats
    late: Bools
    form_due: Bools
    mark: NDArray[np.object_]
    form: NDArray[np.object_]

    @cached_property
    def wanted(self) -> NDArray[np.intp]:
        """Places of the trees whose next lift is due or comes later."""
        return np.flatnonzero(self.state >= DUE)

    @property
    def crowned_enough_m(self) -> Floats:
        """Height of the tree at which the crown that is to be left lets it be pruned at all, in m; nan for any."""
        return np.minimum(self.to_m, self.pruned_m + WORTH_M) / (1 - self.crown_left_percent / 100)

    @property
    def lowest_m(self) -> Floats:
        """Height of the lowest stubs of the next lift, in m."""
        return np.maximum(self.pruned_m, self.there.breast_height_m)


_STATES: Remembered[Pruning] = Remembered(3)


def pruning_of(farm: Farm, on: dt.date | None = None) -> Pruning:
    """Return how it stands with the pruning of every tree on a day, kept for the last few farms and days.

    Trees are chosen for a lift by species and block up to the stems per hectare that the lift is for; in a mixed
    block each species has its part of them, as it has of the living stems. Crop trees come first, then those that
    were pruned before, then those not too thick for the lift, then the better form, then the thicker stem. A tree that
    is marked to be taken out is left.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for that of the newest measurement.
    """
    day = the_day(farm, on)
    same = tuple(farm.tables[name] for name in READS)
    return _STATES.get(same, (day, farm.settings.breast_height_m, farm.grid), lambda: _work_out(farm, day))


def _work_out(farm: Farm, day: dt.date) -> Pruning:
    there = standing(farm, day)
    block = block_of_each_tree(farm)[there.places]
    trees = farm.trees
    mark = trees["mark"].to_numpy(object)[there.places]
    form = trees["form"].to_numpy(object)[there.places]
    regimes, regime = _regimes(farm, there, block)
    pruned = np.nan_to_num(there.pruned_m, nan=0.0)
    lift = _next_lift(regimes, regime, pruned)
    height, estimated = _heights(there, block)
    breast = there.breast_height_m
    taper = diameter_at_m(np.maximum(pruned, breast), there.dbh_cm, height, breast)
    read = coming_dos(farm, day, there.ids)
    dos = np.where(np.isnan(read), taper, read)
    with np.errstate(invalid="ignore"):
        due = (height >= lift["tall_m"]) | (dos >= lift["dos_cm"])
        to_now = np.fmin(lift["to_m"], height * (1 - np.nan_to_num(lift["crown"]) / 100))
        to_now = np.where(np.isnan(lift["to_m"]), np.nan, to_now)
        due &= ~((to_now < lift["to_m"]) & (to_now < pruned + WORTH_M))
        late = dos > np.where(np.isnan(lift["dos_cm"]), THICKEST_CM, lift["dos_cm"] + PAST_CM)
    out = mark == "take"
    has_next = lift["number"] > 0
    late &= has_next
    first = (mark == "take", mark != "crop", -pruned, late, pd.Series(form).map(_FORMS).fillna(1).to_numpy())
    chosen = _chosen(farm, there, block, lift["stems_per_ha"], first)
    form_due, form_stems = _form_due(regimes, regime, height)
    if form_due.any():
        form_due &= ~out & _chosen(farm, there, block, form_stems, first)
    without = np.array([not r.lifts for r in regimes] or [True])[regime]
    conditions = [without, ~has_next, out, ~chosen, late, due]
    state = np.select(conditions, [NO_LIFTS, DONE, TAKEN_OUT, FOLLOWER, PAST, DUE], LATER)
    return Pruning(
        there=there,
        block=block,
        regimes=regimes,
        regime=regime,
        state=state.astype(np.int64),
        lift=lift["number"].astype(np.int64),
        to_m=lift["to_m"],
        tall_m=lift["tall_m"],
        dos_due_cm=lift["dos_cm"],
        crown_left_percent=lift["crown"],
        pruned_m=pruned,
        height_m=height,
        height_estimated=estimated,
        dos_cm=dos,
        dos_was_read=~np.isnan(read),
        to_now_m=to_now,
        taken_percent=crown_taken_percent(np.where(has_next, to_now, np.nan), pruned, height),
        late=late,
        form_due=form_due,
        mark=mark,
        form=form,
    )


def _regimes(farm: Farm, there: Standing, block: Ints) -> tuple[tuple[Regime, ...], Ints]:
    """Return the regimes that hold for any tree, and which holds for each."""
    if not len(there):
        return (), np.empty(0, np.int64)
    book, ids = regimes_of(farm), farm.blocks.index.to_numpy(np.int64)
    names = [*farm.blocks["name"], ""]
    place = np.where(block == NO_BLOCK, len(names) - 1, farm.blocks.index.get_indexer(block)) if len(ids) else None
    at = np.zeros(len(there), np.int64) if place is None else place.astype(np.int64)
    key = there.species * len(names) + at
    kinds, which = np.unique(key, return_inverse=True)
    found = [book.of(there.species_names[kind // len(names)], str(names[kind % len(names)])) for kind in kinds]
    unique = list(dict.fromkeys(found))
    order = {regime: number for number, regime in enumerate(unique)}
    return tuple(unique), np.array([order[regime] for regime in found], np.int64)[which]


def _next_lift(regimes: tuple[Regime, ...], regime: Ints, pruned: Floats) -> dict[str, Floats]:
    """Return number and figures of each tree's next lift; 0 and nan where there is none."""
    names = ("number", "to_m", "tall_m", "dos_cm", "crown", "stems_per_ha")
    out = {name: np.full(len(regime), 0.0 if name == "number" else np.nan) for name in names}
    for number, one in enumerate(regimes):
        rows = np.flatnonzero(regime == number) if one.lifts else np.empty(0, np.intp)
        if not len(rows):
            continue
        tops = np.array([lift.to_m for lift in one.lifts])
        which = np.searchsorted(tops - SHORT_M, pruned[rows], side="right")
        table = np.array(
            [
                [lift.number, lift.to_m, lift.tall_enough_m, lift.dos_cm, lift.crown_left_percent, lift.stems_per_ha]
                for lift in one.lifts
            ]
            + [[0.0] + [np.nan] * 5]
        )
        for column, name in enumerate(names):
            out[name][rows] = table[which, column]
    return out


def _heights(there: Standing, block: Ints) -> tuple[Floats, Bools]:
    """Return heights; where none was read, the middle one of the species in the block, if enough were."""
    height = there.height_m
    missing = np.isnan(height)
    if not missing.any() or missing.all():
        return height, np.zeros(len(height), bool)
    frame = pd.DataFrame({"block": block, "species": there.species, "height": height})
    grouped = frame.groupby(["block", "species"])["height"]
    middle, many = grouped.transform("median").to_numpy(), grouped.transform("count").to_numpy()
    guess = missing & (many >= ENOUGH_HEIGHTS) & (block != NO_BLOCK)
    return np.where(guess, middle, height), guess


def _form_due(regimes: tuple[Regime, ...], regime: Ints, height: Floats) -> tuple[Bools, Floats]:
    """Whether trees are tall enough for form pruning and not yet past it, and for how many stems a hectare it is."""
    if not regimes:
        return np.zeros(len(height), bool), np.full(len(height), np.nan)
    forms = [(r.form.tree_height_m, r.form.to_m, r.form.stems_per_ha) if r.form else (np.nan,) * 3 for r in regimes]
    low, high, stems = np.array(forms, np.float64)[regime].T
    with np.errstate(invalid="ignore"):
        return (height >= low) & (height <= high), stems


def _chosen(
    farm: Farm, there: Standing, block: Ints, stems_per_ha: Floats, first: tuple[NDArray[np.generic], ...]
) -> Bools:
    """Whether each tree is among the stems that its next lift is for; ``first`` says who comes first, then who next."""
    if not len(there):
        return np.zeros(0, bool)
    ground = grounds(farm)
    hectares = np.append(ground.net_ha, np.nan)[pd.Index(ground.ids).get_indexer(block)]
    group = pd.MultiIndex.from_arrays([block, there.species]).factorize()[0]
    of_block = pd.Index(block).factorize()[0]
    share = np.bincount(group)[group] / np.bincount(of_block)[of_block]
    wanted = np.where(hectares > 0, np.rint(stems_per_ha * hectares * share), np.nan)
    thinner = np.where(np.isnan(there.dbh_cm), 0.0, -there.dbh_cm)
    order = np.lexsort((there.ids, thinner, *reversed(first), group))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order)) - np.searchsorted(group[order], group[order])
    return np.isnan(wanted) | (rank < wanted)
