"""Heights of trees that nobody measured, from the heights of their like.

Näslund's curve h = b + (d/(p + q·d))², with b the breast height, is fitted by
least squares in its straight form d/√(h - b) = p + q·d, first to the trees of
the species in the same block, else to those of the species on the whole farm.

Source: M. Näslund (1936), Skogsförsöksanstaltens gallringsförsök i tallskog,
Meddelanden från Statens Skogsförsöksanstalt 29 (from memory).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.standing import Standing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_IN_BLOCK = 8
"""Measured heights of a species in a block from which a curve of its own is drawn. Common practice."""
LEAST_ON_FARM = 5
"""Measured heights of a species on the whole farm from which a curve is drawn. Common practice."""
FRESH_YEARS = 2.0
"""A height stands for a diameter that was taken so many years before or after it."""


class HeightFrom(IntEnum):
    """Where the height of a tree comes from."""

    NOWHERE = 0
    MEASURED = 1
    BLOCK_CURVE = 2
    SPECIES_CURVE = 3


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights of standing trees. All arrays have shape (n,).

    Attributes
    ----------
    height_m : ndarray
        Measured, else estimated; nan where nothing is known. [m]
    came_from : ndarray of int8
        `HeightFrom` of each.
    p, q : ndarray
        Näslund's two numbers for each tree; nan where no curve could be drawn.
    breast_m : float
        Breast height. [m]
    beyond : int
        Estimated heights of trees thicker than any that was measured for their curve.
    """

    height_m: Floats
    came_from: NDArray[np.int8]
    p: Floats
    q: Floats
    breast_m: float
    beyond: int

    def grown(self, rows: NDArray[np.intp], from_cm: Floats, to_cm: Floats) -> Floats:
        """Heights of trees once they are thicker: along their curve, in proportion to where they stand to it now, in m.

        A tree without a curve keeps its height; none becomes lower.
        """
        now, p, q = self.height_m[rows], self.p[rows], self.q[rows]
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = (to_cm / (p + q * to_cm)) / (from_cm / (p + q * from_cm))
            later = self.breast_m + (now - self.breast_m) * ratio**2
        return np.where(np.isfinite(later), np.maximum(later, now), now)


def heights_ahead(heights: Heights, last: Standing, there: Standing) -> Heights:
    """Return the heights of trees on a day that has not come, grown along their curves with their diameters.

    Parameters
    ----------
    heights : Heights
        Heights of the trees of ``last``.
    last : Standing
        The trees as they were last read.
    there : Standing
        The trees on the day.
    """
    at = np.minimum(np.searchsorted(last.ids, there.ids), max(len(last) - 1, 0))
    known = last.ids[at] == there.ids if len(last) else np.zeros(len(there), bool)
    if not known.any():
        nothing = np.full(len(there), np.nan)
        return Heights(nothing, np.zeros(len(there), np.int8), nothing, nothing, heights.breast_m, 0)

    def of_each(values: Floats) -> Floats:
        return np.where(known, values[at], np.nan)

    grown = heights.grown(at, last.dbh_cm[at], there.dbh_cm)
    return Heights(
        np.where(known & there.grown, grown, of_each(heights.height_m)),
        np.where(known, heights.came_from[at], HeightFrom.NOWHERE).astype(np.int8),
        of_each(heights.p),
        of_each(heights.q),
        heights.breast_m,
        heights.beyond,
    )


def heights_of(farm: Farm, there: Standing, block: Ints) -> Heights:
    """Return the height of each standing tree.

    A height that was measured more than two years before the diameter is
    raised to the curve's, if that is more.

    Parameters
    ----------
    farm : Farm
        The farm.
    there : Standing
        Trees that count on the day.
    block : ndarray of int64, shape (n,)
        Block that each stands in, -1 for none.
    """
    breast = there.breast_height_m
    taken_on = _height_days(farm, there.on, there.ids)
    apart = np.abs((there.measured_on - taken_on) / np.timedelta64(1, "D")) / DAYS_A_YEAR
    fresh = np.isfinite(apart) & (apart <= FRESH_YEARS)
    usable = fresh & there.measured & (there.height_m > breast) & (there.dbh_cm > 0)
    kinds = max(len(there.species_names), 1)
    by_species = _fitted(there, usable, there.species, LEAST_ON_FARM)
    _, by_block = np.unique(block * kinds + there.species, return_inverse=True)
    own = _fitted(there, usable, by_block, LEAST_IN_BLOCK)
    has_own = np.isfinite(own.p[by_block]) & (block >= 0)
    p = np.where(has_own, own.p[by_block], by_species.p[there.species])
    q = np.where(has_own, own.q[by_block], by_species.q[there.species])
    widest = np.where(has_own, own.widest_cm[by_block], by_species.widest_cm[there.species])
    guess = breast + (there.dbh_cm / (p + q * there.dbh_cm)) ** 2
    missing = np.isnan(there.height_m)
    old = ~missing & ~fresh & there.measured & (guess > there.height_m)
    estimated = (missing | old) & np.isfinite(guess)
    curve = np.where(has_own, HeightFrom.BLOCK_CURVE, HeightFrom.SPECIES_CURVE)
    came_from = np.where(estimated, curve, np.where(missing, HeightFrom.NOWHERE, HeightFrom.MEASURED))
    return Heights(
        np.where(estimated, guess, there.height_m),
        came_from.astype(np.int8),
        p,
        q,
        breast,
        int(np.count_nonzero(estimated & (there.dbh_cm > widest))),
    )


@dataclass(frozen=True, eq=False)
class _Curves:
    """Näslund's numbers of each group of trees, and the thickest tree that they rest on; nan where there is none."""

    p: Floats
    q: Floats
    widest_cm: Floats


def _fitted(there: Standing, usable: NDArray[np.bool_], group: Ints, least: int) -> _Curves:
    groups = int(group.max()) + 1 if len(group) else 1
    groups = max(groups, len(there.species_names))
    of, dbh = group[usable], there.dbh_cm[usable]
    straight = dbh / np.sqrt(there.height_m[usable] - there.breast_height_m)
    count = np.bincount(of, minlength=groups)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_d, mean_s = (np.bincount(of, values, groups) / count for values in (dbh, straight))
        off = dbh - mean_d[of]
        q = np.bincount(of, off * straight, groups) / np.bincount(of, off**2, groups)
        p = mean_s - q * mean_d
    sound = (count >= least) & (p > 0) & (q > 0)
    widest = np.full(groups, np.nan)
    np.fmax.at(widest, of, dbh)
    return _Curves(*(np.where(sound, values, np.nan) for values in (p, q, widest)))


def _height_days(farm: Farm, on: dt.date, ids: Ints) -> NDArray[np.datetime64]:
    """Day of the latest height of each tree, NaT where none was taken by then."""
    columns = columns_of(farm.measurements)
    days = np.asarray(columns["measured_on"]).astype("datetime64[D]")
    has = np.isfinite(np.asarray(columns["height_m"], float)) & (days <= np.datetime64(on, "D"))
    tree, day = np.asarray(columns["tree"], np.int64)[has], days[has]
    out = np.full(len(ids), np.datetime64("NaT", "D"))
    if not len(tree):
        return out
    order = np.lexsort((day, tree))
    tree, day = tree[order], day[order]
    last = np.searchsorted(tree, ids, side="right") - 1
    found = (last >= 0) & (tree[np.maximum(last, 0)] == ids)
    out[found] = day[last[found]]
    return out
