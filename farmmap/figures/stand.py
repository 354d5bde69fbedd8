"""Figures of a stand of trees from their diameters and heights: arrays in, numbers out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

CM2_PER_M2_CIRCLE = 40_000.0
"""d² in cm² times π over this is the area of a circle in m²."""

TOP_STEMS_PER_HA = 100
"""Thickest trees a hectare that top height is the mean of."""

TOP_SHARE_WITH_HEIGHT = 0.5
"""Share of the thickest trees that need a height before a top height is given."""

ON_THE_BOUND = 1e-9
"""Part of a class width by which a diameter may fall short of a bound and still belong above it (rounding of cm)."""


def basal_area_m2(dbh_cm: ArrayLike) -> Floats:
    """Cross-section of stems at breast height.

    Symbol g, unit m²: g = π·d²/40 000 with d in cm. Source: T. E. Avery and
    H. E. Burkhart, Forest Measurements (from memory).

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters; nan stays nan. [cm]
    """
    return np.square(np.asarray(dbh_cm, float)) * (math.pi / CM2_PER_M2_CIRCLE)


def dbh_from_girth_cm(girth_cm: ArrayLike) -> Floats:
    """Diameter of stems whose girth was taken: d = c/π, the stem taken as round, in cm."""
    return np.asarray(girth_cm, float) / math.pi


def dbh_from_basal_area_cm(basal_area: ArrayLike) -> Floats:
    """Diameter of one stem of that basal area: d = √(40 000·g/π); for several stems together √Σd², in cm."""
    return np.sqrt(np.asarray(basal_area, float) * (CM2_PER_M2_CIRCLE / math.pi))


def per_ha(amount: float, area_ha: float) -> float | None:
    """Return amount ÷ area; None where there is no area."""
    return amount / area_ha if area_ha > 0 else None


def stems_per_ha(stems: int, area_ha: float) -> float | None:
    """Stocking, symbol N, unit /ha: N = n/A; None where there is no area."""
    return per_ha(float(stems), area_ha)


def basal_area_per_ha(dbh_cm: ArrayLike, area_ha: float) -> float | None:
    """Basal area of a stand, symbol G, unit m²/ha: G = Σ(π·d²/40 000)/A over the diameters that are known."""
    return per_ha(float(np.nansum(basal_area_m2(dbh_cm))), area_ha)


def qmd_cm(dbh_cm: ArrayLike) -> float | None:
    """Quadratic mean diameter, symbol Dq, unit cm: Dq = √(Σd²/n) over the diameters that are known.

    Source: R. O. Curtis and D. D. Marshall (2000), Why quadratic mean
    diameter?, West. J. Appl. For. 15, 137 (from memory).

    Returns
    -------
    float or None
        None if none is known.
    """
    known = _known(dbh_cm)
    return float(np.sqrt(np.mean(np.square(known)))) if len(known) else None


def qmd_from_basal_area_cm(basal_area: float, diameters: float) -> float | None:
    """Quadratic mean diameter from the basal area of that many diameters: Dq = √(40 000·G/(π·n)), in cm."""
    return float(dbh_from_basal_area_cm(basal_area / diameters)) if diameters > 0 else None


def mean(values: ArrayLike) -> float | None:
    """Plain mean of the values that are known, None if none is."""
    known = _known(values)
    return float(np.mean(known)) if len(known) else None


def lorey_height_m(height_m: ArrayLike, dbh_cm: ArrayLike) -> float | None:
    """Mean height weighted by basal area, symbol h_L, unit m: Σ(g·h)/Σg over trees with both.

    Source: C. Brack and G. Wood (1998), Forest mensuration, Australian
    National University.
    """
    heights, basal = np.asarray(height_m, float), basal_area_m2(dbh_cm)
    both = np.isfinite(heights) & np.isfinite(basal) & (basal > 0)
    return float(np.average(heights[both], weights=basal[both])) if both.any() else None


@dataclass(frozen=True)
class Top:
    """Top height and what it rests on.

    Attributes
    ----------
    height_m : float or None
        Plain mean height of the thickest trees; None if too few of them have a height. [m]
    trees : int
        How many thickest trees were looked at.
    with_height : int
        How many of them have a height.
    """

    height_m: float | None
    trees: int
    with_height: int


def top_number(area_ha: float) -> int:
    """Return how many trees are the thickest 100 a hectare: 100·A rounded to a whole number, at least 1."""
    return max(1, math.floor(TOP_STEMS_PER_HA * area_ha + 0.5))


def thickest(dbh_cm: ArrayLike, number: int) -> NDArray[np.intp]:
    """Places of the ``number`` thickest trees of known diameter, thickest first, the earlier of equals first."""
    diameters = np.asarray(dbh_cm, float)
    order = np.argsort(-diameters, kind="stable")
    return order[np.isfinite(diameters[order])][:number]


def top_height(dbh_cm: ArrayLike, height_m: ArrayLike, area_ha: float) -> Top:
    """Top height, symbol h₁₀₀, unit m: plain mean height of the 100 thickest trees a hectare.

    The trade has several definitions: the mean may be plain or quadratic, and
    heights may be measured or read off a curve (ICP Forests manual, item 73;
    Mason 2019, NZ J. For. 64(2), 32). Here it is the plain mean of measured
    heights, and at least half of the thickest trees must have one.

    Parameters
    ----------
    dbh_cm, height_m : array_like, shape (n,)
        Diameters and heights, nan where not known. [cm, m]
    area_ha : float
        Net area. [ha]
    """
    places = thickest(dbh_cm, top_number(area_ha))
    heights = _known(np.asarray(height_m, float)[places])
    enough = len(heights) > 0 and len(heights) >= TOP_SHARE_WITH_HEIGHT * len(places)
    return Top(float(np.mean(heights)) if enough else None, len(places), len(heights))


def diameter_classes(dbh_cm: ArrayLike, class_cm: float) -> tuple[Floats, NDArray[np.int64]]:
    """Count diameters by class, the lower bound of a class belonging to it.

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters; those that are not known are left out. [cm]
    class_cm : float
        Width of a class; classes start at whole multiples of it. [cm]

    Returns
    -------
    lower_cm : ndarray of float64, shape (m,)
        Lower bounds, from the class of the thinnest to that of the thickest without a break. [cm]
    counts : ndarray of int64, shape (m,)
        Diameters in each class.
    """
    known = _known(dbh_cm)
    if not len(known):
        return np.empty(0), np.empty(0, np.int64)
    place = np.floor(known / class_cm + ON_THE_BOUND).astype(np.int64)
    first = int(place.min())
    counts = np.bincount(place - first)
    lower = np.asarray((first + np.arange(len(counts))) * class_cm, np.float64)
    return lower, counts.astype(np.int64)


def _known(values: ArrayLike) -> Floats:
    array = np.asarray(values, float)
    return array[np.isfinite(array)]
