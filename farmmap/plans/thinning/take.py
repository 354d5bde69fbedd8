"""Which trees go now by a rule; crop trees never do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.final_stocking import crowns_at_target, spacing_m
from farmmap.plans.thinning.rows import PlantedRows
from farmmap.plans.thinning.rule import (
    BY_CONTACT,
    BY_RADIUS,
    BY_ROWS,
    FROM_BELOW,
    NO_RULE,
    TO_BASAL_AREA,
    TO_STOCKING,
    ThinningRule,
)
from farmmap.plans.thinning.stand import BlockTrees

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

ROUNDS = 16
"""In so many steps the poorest go, each time looked at anew how close the trees then stand."""

CROWDED = 1.0
"""How much a tree's worth sinks where another stands beside it at no distance."""


@dataclass(frozen=True, eq=False)
class Taken:
    """Trees that go.

    Attributes
    ----------
    take : ndarray of bool, shape (n,)
        Which trees.
    notes : tuple of str
        What should be known.
    """

    take: Bools
    notes: tuple[str, ...] = ()


def taken(
    trees: BlockTrees,
    rule: ThinningRule,
    crop: Bools,
    worth: Floats,
    rows: PlantedRows | None,
    final_per_ha: float,
    target_cm: float | None = None,
) -> Taken:
    """Return which trees of a block go.

    Parameters
    ----------
    trees : BlockTrees
        The trees.
    rule : ThinningRule
        What goes.
    crop : ndarray of bool, shape (n,)
        Crop trees.
    worth : ndarray, shape (n,)
        What each tree is worth to stay.
    rows : PlantedRows or None
        Planted rows, where any were found.
    final_per_ha : float
        Final stocking, where the rule gives no stocking. [/ha]
    target_cm : float, optional
        Target diameter, where the rule gives no radius; else the farm's own targets. [cm]
    """
    if not len(trees):
        return Taken(np.zeros(0, bool))
    free = ~crop
    ways: dict[str, Callable[[], Taken]] = {
        NO_RULE: lambda: Taken(np.zeros(len(trees), bool)),
        FROM_BELOW: lambda: _from_below(trees, rule, free),
        BY_RADIUS: lambda: _within_radius(trees, rule, crop, target_cm),
        BY_CONTACT: lambda: _touching(trees, rule, crop),
        TO_BASAL_AREA: lambda: _to_basal_area(trees, rule, free, worth),
        TO_STOCKING: lambda: _to_stocking(trees, rule, free, worth, final_per_ha),
        BY_ROWS: lambda: _by_rows(trees, rule, crop, rows),
    }
    return ways[rule.kind]()


def _from_below(trees: BlockTrees, rule: ThinningRule, free: Bools) -> Taken:
    dbh = trees.dbh_cm
    known = np.isfinite(dbh)
    notes = _unmeasured(~known & free)
    take = np.zeros(len(trees), bool)
    if rule.under_cm is not None:
        return Taken(free & known & (dbh < rule.under_cm), notes)
    number = int(rule.percent / 100 * len(trees) + 1e-9)
    may = np.flatnonzero(free & known)
    take[may[np.argsort(dbh[may], kind="stable")][:number]] = True
    if int(take.sum()) < number:
        few = f"{rule.percent:g} % would be {number} stems; only {int(take.sum())} can go"
        notes = (*notes, f"{few}, as all others are crop trees or have no diameter.")
    return Taken(take, notes)


def _unmeasured(which: Bools) -> tuple[str, ...]:
    count = int(which.sum())
    return (f"Trees without a diameter are left: {count}.",) if count else ()


def _pairs(trees: BlockTrees, crop: Bools, within_m: float) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Crop trees and their neighbours that are not crop, and how far apart. [ground m]."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    at = np.column_stack([trees.east_m, trees.north_m])
    own, others = np.flatnonzero(crop), np.flatnonzero(~crop)
    if not len(own) or not len(others) or within_m <= 0:
        return np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(0)
    found = cKDTree(at[own]).sparse_distance_matrix(cKDTree(at[others]), within_m, output_type="ndarray")
    return own[found["i"]], others[found["j"]], np.asarray(found["v"], np.float64)


def _worth_releasing(trees: BlockTrees, rule: ThinningRule, own: NDArray[np.intp], other: NDArray[np.intp]) -> Bools:
    """Which neighbours are thick enough beside their crop tree to hold it back; those not measured are."""
    with np.errstate(invalid="ignore"):
        return ~(trees.dbh_cm[other] < rule.least_share_percent / 100 * trees.dbh_cm[own])


def _within_radius(trees: BlockTrees, rule: ThinningRule, crop: Bools, target_cm: float | None) -> Taken:
    own_m = crowns_at_target(trees, target_cm)[1] / 2
    radius = own_m if rule.radius_m is None else np.full(len(trees), rule.radius_m)
    own, other, away = _pairs(trees, crop, float(radius.max(initial=0.0)))
    go = (away <= radius[own]) & _worth_releasing(trees, rule, own, other)
    take = np.zeros(len(trees), bool)
    take[other[go]] = True
    return Taken(take, _no_crop(crop))


def _touching(trees: BlockTrees, rule: ThinningRule, crop: Bools) -> Taken:
    crown = np.nan_to_num(trees.crown_m)
    own, other, away = _pairs(trees, crop, float(crown.max(initial=0.0)) + max(rule.gap_m, 0.0))
    both = (crown[own] > 0) & (crown[other] > 0)
    go = both & (away < (crown[own] + crown[other]) / 2 + rule.gap_m) & _worth_releasing(trees, rule, own, other)
    take = np.zeros(len(trees), bool)
    take[other[go]] = True
    bare = int((crown <= 0).sum())
    notes = (f"Trees with neither a crown nor a diameter are left: {bare}.",) if bare else ()
    return Taken(take, (*_no_crop(crop), *notes))


def _no_crop(crop: Bools) -> tuple[str, ...]:
    return () if crop.any() else ("There are no crop trees to free: choose or mark some first.",)


def _to_basal_area(trees: BlockTrees, rule: ThinningRule, free: Bools, worth: Floats) -> Taken:
    basal, known = trees.basal_area_m2, trees.diameters > 0
    over = float(basal.sum()) - rule.basal_area_m2_per_ha * trees.net_ha
    notes = _unmeasured(~known & free)
    if over <= 0:
        few = f"There are no more than {rule.basal_area_m2_per_ha:g} m²/ha now: nothing goes."
        return Taken(np.zeros(len(trees), bool), (*notes, few))
    take = _poorest(trees, free & known, worth, basal, over)
    left = float(basal[~take].sum()) / trees.net_ha if trees.net_ha > 0 else 0.0
    if left > 1.02 * rule.basal_area_m2_per_ha and not (free & known & ~take).any():
        notes = (*notes, f"The crop trees alone hold {left:.1f} m²/ha: it cannot go down further.")
    return Taken(take, notes)


def _to_stocking(trees: BlockTrees, rule: ThinningRule, free: Bools, worth: Floats, final_per_ha: float) -> Taken:
    wanted = final_per_ha if rule.stems_per_ha is None else rule.stems_per_ha
    over = len(trees) - round(wanted * trees.net_ha)
    if over <= 0:
        return Taken(np.zeros(len(trees), bool), (f"There are no more than {wanted:.0f} stems/ha now: nothing goes.",))
    take = _poorest(trees, free, worth, np.ones(len(trees)), float(over))
    if int(take.sum()) < over:
        return Taken(take, (f"{int((~free).sum())} crop trees stay: that is more than {wanted:.0f} stems/ha.",))
    return Taken(take)


def _poorest(trees: BlockTrees, free: Bools, worth: Floats, amount: Floats, over: float) -> Bools:
    """Take the poorest, and those that stand closest, until an amount is gone; in rounds, so that no holes open."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    at = np.column_stack([trees.east_m, trees.north_m])
    left_over = max(len(trees) * (1 - over / float(amount.sum())), 1.0)
    spacing = spacing_m(left_over / trees.net_ha) if trees.net_ha > 0 else 1.0
    stays = np.ones(len(trees), bool)
    gone = 0.0
    for step in range(1, ROUNDS + 1):
        left = np.flatnonzero(stays)
        may = left[free[left]]
        if not len(may):
            break
        nearest = np.full(len(left), np.inf)
        if len(left) > 2:
            nearest = cKDTree(at[left]).query(at[left], k=3)[0][:, 1:].mean(axis=1)
        close = np.clip(1 - nearest / spacing, 0.0, 1.0)
        poor = (worth[left] - CROWDED * close)[free[left]]
        order = may[np.argsort(poor, kind="stable")]
        sums = gone + np.cumsum(amount[order])
        wanted = over * step / ROUNDS
        number = int(np.searchsorted(sums, wanted * (1 - 1e-12)))
        # up to the tree with which the amount is reached; in the end only if that comes nearer to it
        if number < len(order) and (
            step < ROUNDS or sums[number] - over <= over - (sums[number] - amount[order][number])
        ):
            number += 1
        go = order[:number]
        if step < ROUNDS and len(go) and sums[len(go) - 1] > over:
            go = go[:-1]
        if len(go):
            gone = float(gone + amount[go].sum())
            stays[go] = False
    return ~stays


def _by_rows(trees: BlockTrees, rule: ThinningRule, crop: Bools, rows: PlantedRows | None) -> Taken:
    if rows is None:
        return Taken(
            np.zeros(len(trees), bool),
            ("No planted rows can be told from where the trees stand, so none are taken: use another rule.",),
        )
    of_row = rows_that_go(rows, rule)
    take = of_row & ~crop
    notes = [
        f"Rows run {rows.bearing_deg:.0f}° from grid north, {rows.apart_m:.1f} m apart.",
        f"{len(np.unique(rows.row[of_row]))} of {rows.count} rows go.",
    ]
    kept = int((of_row & crop).sum())
    if kept:
        notes.append(f"{kept} crop trees stand in rows that go, and stay.")
    return Taken(take, tuple(notes))


def rows_that_go(rows: PlantedRows, rule: ThinningRule) -> Bools:
    """Return which trees stand in a row that goes by the rule, shape (n,)."""
    return (rows.row >= rule.first_row) & ((rows.row - rule.first_row) % rule.every == 0)
