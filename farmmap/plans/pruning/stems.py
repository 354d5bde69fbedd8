"""Stems that are pruned, as arithmetic: diameter up the stem, green crown, knotty core and the clear wood about it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

OCCLUSION_CM = 4.0
"""What is laid on over the stubs, both sides together, before the wood is clear: own rough guess, change it by reading
a log. That the core is the diameter over occlusion and not the one over the stubs: C. J. Petruncio, D. Briggs and R. J.
Barbour (1997), Canadian Journal of Forest Research 27 (read in an excerpt, which gives no width). [cm]"""


def diameter_at_m(height_up_m: ArrayLike, dbh_cm: ArrayLike, height_m: ArrayLike, breast_m: float = 1.3) -> Floats:
    """Return the diameter at a height up the stem, if the stem tapers evenly from breast height to its tip.

    d(h) = dbh · (H − h) ÷ (H − breast height): the even taper of a form diagram, worked out from the triangle. Below
    breast height, where a stem flares, the diameter at breast height is given.

    Parameters
    ----------
    height_up_m : array_like, shape (n,)
        Where. [m above ground]
    dbh_cm, height_m : array_like, shape (n,)
        Diameter at breast height and total height of the tree. [cm, m]
    breast_m : float
        Breast height. [m]

    Returns
    -------
    ndarray, shape (n,)
        nan above the tip, and where the height of the tree is not known (but at breast height and below). [cm]
    """
    up, dbh, total = np.broadcast_arrays(*(np.asarray(a, np.float64) for a in (height_up_m, dbh_cm, height_m)))
    with np.errstate(divide="ignore", invalid="ignore"):
        diameter = dbh * (total - up) / np.where(total > breast_m, total - breast_m, np.nan)
    return np.where(up <= breast_m, dbh, np.where(up <= total, diameter, np.nan))


def height_at_diameter_m(
    diameter_cm: ArrayLike, dbh_cm: ArrayLike, height_m: ArrayLike, breast_m: float = 1.3
) -> Floats:
    """Return the height at which an evenly tapering stem has a diameter: h = H − x·(H − 1.3) ÷ dbh.

    Parameters
    ----------
    diameter_cm : array_like, shape (n,)
        Diameter x. [cm]
    dbh_cm, height_m : array_like, shape (n,)
        Diameter at breast height and total height of the tree. [cm, m]
    breast_m : float
        Breast height. [m]

    Returns
    -------
    ndarray, shape (n,)
        nan where the stem is thinner than that at breast height. [m above ground]
    """
    wanted, dbh, total = (np.asarray(a, np.float64) for a in (diameter_cm, dbh_cm, height_m))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(wanted <= dbh, total - wanted * (total - breast_m) / dbh, np.nan)


def dbh_for_diameter_cm(diameter_cm: ArrayLike, height_up_m: ArrayLike, height_m: ArrayLike, breast_m: float) -> Floats:
    """Return the diameter at breast height with which a stem of that height has a diameter higher up, in cm."""
    wanted, up, total = (np.asarray(a, np.float64) for a in (diameter_cm, height_up_m, height_m))
    with np.errstate(divide="ignore", invalid="ignore"):
        above = wanted * (total - breast_m) / np.where(total > up, total - up, np.nan)
    return np.where(up <= breast_m, wanted, above)


def crown_taken_percent(to_m: ArrayLike, from_m: ArrayLike, height_m: ArrayLike) -> Floats:
    """Return how much of the length of the green crown pruning to a height takes off, at most.

    The green crown is taken to begin where the tree is pruned already (at the ground if it is not): where the lowest
    branches died by themselves, less is taken.

    Parameters
    ----------
    to_m, from_m, height_m : array_like, shape (n,)
        Height to which it is pruned now, to which it is pruned already, and of the tree. [m]
    """
    to, base, total = (np.asarray(a, np.float64) for a in (to_m, from_m, height_m))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = 100 * (np.minimum(to, total) - base) / np.where(total > base, total - base, np.nan)
    return np.maximum(share, 0.0)


def knotty_core_cm(dos_cm: ArrayLike, occlusion_cm: float = OCCLUSION_CM) -> Floats:
    """Return the diameter inside which wood holds knots: over the stubs, and what it takes to grow over them, in cm."""
    return np.asarray(dos_cm, np.float64) + occlusion_cm


def clearwood_m3(length_m: ArrayLike, mean_cm: ArrayLike, core_cm: ArrayLike) -> Floats:
    """Return the clear wood of a log: the pipe between its knotty core and its mantle, π ÷ 4 · (D² − core²) · length.

    Parameters
    ----------
    length_m, mean_cm, core_cm : array_like, shape (n,)
        Length of the log, its mean diameter, and that of its knotty core. [m, cm, cm]

    Returns
    -------
    ndarray, shape (n,)
        0 where the log is not thicker than its core. [m³]
    """
    length, mean, core = (np.asarray(a, np.float64) for a in (length_m, mean_cm, core_cm))
    return np.pi / 40_000 * np.maximum(mean**2 - core**2, 0.0) * length


def clearwood_percent(mean_cm: ArrayLike, core_cm: ArrayLike) -> Floats:
    """Return the share of a log that is clear wood: 1 − (core ÷ D)², in %."""
    mean, core = (np.asarray(a, np.float64) for a in (mean_cm, core_cm))
    with np.errstate(divide="ignore", invalid="ignore"):
        return 100 * np.maximum(1 - (core / np.where(mean > 0, mean, np.nan)) ** 2, 0.0)
