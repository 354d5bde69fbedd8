"""The crop trees of a block: the best set under a least distance, as many as the final stocking asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_crop import FEW, CropChoice, best_crop
from farmmap.plans.thinning.final_stocking import FinalStocking, final_stocking, spacing_m
from farmmap.plans.thinning.rule import CropRule
from farmmap.plans.thinning.stand import BlockTrees
from farmmap.plans.thinning.worth import weights_with, worths

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

TRIES = 6
"""Distances that are tried to come to the final stocking."""

FIRST = 0.8
"""The first distance tried, in parts of the mean distance at the final stocking."""

CLOSE = 0.02
"""A number of crop trees is near enough to the final stocking if it falls short by no more than this part."""


@dataclass(frozen=True, eq=False)
class Crop:
    """Crop trees of a block.

    Attributes
    ----------
    chosen : ndarray of bool, shape (n,)
        Which trees are crop.
    worth : ndarray, shape (n,)
        What each tree is worth, 0 to 1; 0 for one that may not be crop.
    final : FinalStocking
        What the block is to hold in the end.
    least_m : float
        Distance that crop trees keep; those that were marked by hand may stand closer. [ground m]
    choice : CropChoice
        How good the choice is among the trees that were free to be chosen.
    notes : tuple of str
        What should be known.
    """

    chosen: Bools
    worth: Floats
    final: FinalStocking
    least_m: float
    choice: CropChoice
    notes: tuple[str, ...]


def chosen_crop(trees: BlockTrees, rule: CropRule, barred: Bools | None = None) -> Crop:
    """Choose the crop trees of a block.

    No two stand closer than the least distance. It is widened as far as the
    final stocking can still be had, so that the crop stands evenly.

    Parameters
    ----------
    trees : BlockTrees
        The trees.
    rule : CropRule
        How they are chosen.
    barred : ndarray of bool, shape (n,), optional
        Trees that are not to be chosen, such as those of rows that go.

    Raises
    ------
    BadInput
        A weight or target cannot be meant.
    """
    weights = weights_with(rule.weights)
    final = final_stocking(trees, rule.target_cm, rule.stems_per_ha, rule.least_m)
    worth = worths(trees, weights, rule.species)
    marked = (trees.marks == "crop") if rule.keep_marked else np.zeros(len(trees), bool)
    may = _candidates(trees, rule) & ~marked
    if barred is not None:
        may &= ~barred
    wanted = max(round(final.stems_per_ha * trees.net_ha), 1)
    least, choice = _as_many(trees, worth, marked, may, final, wanted - int(marked.sum()))
    chosen = marked.copy()
    chosen[np.flatnonzero(may)] = choice.chosen
    return Crop(
        chosen,
        np.where(may | marked, worth, 0.0),
        final,
        least,
        choice,
        tuple(_notes(trees, final, wanted, chosen, marked, choice, least)),
    )


def _candidates(trees: BlockTrees, rule: CropRule) -> Bools:
    """Which trees may be crop: none of poor form or of a species that is not wanted; if none is left, all of form."""
    unwanted = {code for code, value in rule.species.items() if value == 0}
    wanted = np.array([code not in unwanted for code in trees.there.species_names], bool)
    may = wanted[trees.species] if len(wanted) else np.zeros(len(trees), bool)
    sound = may & (trees.forms != "poor")
    return sound if sound.any() else may


def _as_many(
    trees: BlockTrees, worth: Floats, marked: Bools, may: Bools, final: FinalStocking, wanted: int
) -> tuple[float, CropChoice]:
    """Choose the best set at the widest distance at which as many as wanted are chosen, or at the least distance."""
    places = np.flatnonzero(may)
    if wanted <= 0:
        return final.least_m, CropChoice(np.zeros(len(places), bool), 0.0, 0.0, exact=True)
    best: tuple[float, CropChoice] | None = None
    low, high = final.least_m, math.inf
    least = max(low, FIRST * spacing_m(final.stems_per_ha))
    for _ in range(TRIES):
        choice = _choice(trees, worth, marked, places, least, quick=True)
        count = int(choice.chosen.sum())
        if count > wanted:
            low = max(low, least)
        else:
            if best is None or count > int(best[1].chosen.sum()):
                best = (least, choice)
            high = min(high, least)
            if least <= final.least_m or count >= wanted * (1 - CLOSE):
                break
        guess = max(least * math.sqrt(max(count, 1) / wanted), final.least_m)
        if not low <= guess < high or guess == least:
            guess = (low + high) / 2 if math.isfinite(high) else 1.1 * max(low, 0.1)
        least = guess
    if best is None:
        return least, _fewer(choice, worth[places], wanted)
    least, choice = best
    if choice.exact or len(places) > FEW:
        return best
    fuller = _choice(trees, worth, marked, places, least)
    if int(fuller.chosen.sum()) > wanted:  # worth more, but too many by a few
        return least, CropChoice(choice.chosen, choice.worth, min(choice.bound, fuller.bound), exact=False)
    return least, fuller


def _choice(
    trees: BlockTrees, worth: Floats, marked: Bools, places: NDArray[np.intp], least: float, *, quick: bool = False
) -> CropChoice:
    """Return the best set of the trees at places, none of them nearer than the least distance to a marked one."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    east, north, own = trees.east_m[places], trees.north_m[places], worth[places].copy()
    if marked.any() and len(places):
        there = cKDTree(np.column_stack([trees.east_m[marked], trees.north_m[marked]]))
        own[there.query(np.column_stack([east, north]))[0] < least] = 0.0
    return best_crop(east, north, own, least, quick=quick)


def _fewer(choice: CropChoice, worth: Floats, most: int) -> CropChoice:
    """Keep the best of a choice that holds too many."""
    chosen = np.flatnonzero(choice.chosen)
    kept = np.zeros(len(worth), bool)
    kept[chosen[np.argsort(-worth[chosen], kind="stable")][:most]] = True
    return CropChoice(kept, float(worth[kept].sum()), choice.bound, exact=False)


def _notes(
    trees: BlockTrees,
    final: FinalStocking,
    wanted: int,
    chosen: Bools,
    marked: Bools,
    choice: CropChoice,
    least: float,
) -> list[str]:
    if not len(trees):
        return []
    said = [f"{final.words[:1].upper()}{final.words[1:]}."]
    count = int(chosen.sum())
    other = "" if abs(count - wanted) <= CLOSE * wanted else f"; {wanted} would make the final stocking"
    before = int(marked.sum())
    if not before:
        said.append(f"{count} crop trees, at least {least:.1f} m apart{other}.")
    elif before == count:
        said.append(f"{count} crop trees, all of them marked as crop before{other}.")
    else:
        said.append(
            f"{count} crop trees{other}: {before} were marked as crop before and stay so, the others keep at least "
            f"{least:.1f} m."
        )
    if choice.exact and choice.worth > 0:
        said.append("No other choice at this distance is worth more.")
    elif choice.worth > 0:
        more = math.ceil(1000 * (choice.bound / choice.worth - 1)) / 10
        said.append(f"The best choice at this distance may be worth a little more, {more:.1f} % at most.")
    poor = int((trees.forms == "poor").sum())
    if poor and not (chosen & (trees.forms == "poor")).any():
        said.append("Trees of poor form are not chosen.")
    return said
