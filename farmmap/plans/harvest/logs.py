"""Volume of measured logs, with bark and without: arrays in, numbers out.

All diameters are in cm, all lengths in m, all volumes in m³. Arrays of one
shape go together; nan stays nan.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.stand import basal_area_m2

Floats = NDArray[np.float64]

M3_PER_FT3 = 0.0283168466
"""Cubic metres in a cubic foot, to the ten digits usual in handbooks."""


def huber_m3(mid_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Volume from the diameter half way along: V = L·π·d_m²/40 000.

    Exact for a cylinder and a paraboloid. Source: F. X. Huber (1828), after
    T. E. Avery and H. E. Burkhart, Forest Measurements (from memory).
    """
    return basal_area_m2(mid_cm) * np.asarray(length_m, float)


def smalian_m3(large_cm: ArrayLike, small_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Volume from the diameters of both ends: V = L·(A_1 + A_2)/2.

    Too large where the butt is flared. Source: H. L. Smalian (1837), after
    Avery and Burkhart, Forest Measurements (from memory).
    """
    return (basal_area_m2(large_cm) + basal_area_m2(small_cm)) * np.asarray(length_m, float) / 2.0


def newton_m3(large_cm: ArrayLike, mid_cm: ArrayLike, small_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Volume from both ends and the middle: V = L·(A_1 + 4·A_m + A_2)/6 = (2·Huber + Smalian)/3.

    Exact for every solid whose cross-section is a cubic of the length.
    Source: I. Newton's rule, after Avery and Burkhart, Forest Measurements
    (from memory).
    """
    return (2.0 * huber_m3(mid_cm, length_m) + smalian_m3(large_cm, small_cm, length_m)) / 3.0


def cone_m3(large_cm: ArrayLike, small_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Volume of a piece of a cone: V = L·(A_1 + √(A_1·A_2) + A_2)/3."""
    large, small = basal_area_m2(large_cm), basal_area_m2(small_cm)
    return (large + np.sqrt(large * small) + small) * np.asarray(length_m, float) / 3.0


def neiloid_m3(large_cm: ArrayLike, small_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Volume of a piece of a neiloid, whose cross-section falls as the cube of the length.

    V = L·(A_1 + ∛(A_1²·A_2) + ∛(A_1·A_2²) + A_2)/4.
    """
    large, small = np.cbrt(basal_area_m2(large_cm)), np.cbrt(basal_area_m2(small_cm))
    cubes = large**3 + large**2 * small + large * small**2 + small**3
    return cubes * np.asarray(length_m, float) / 4.0


def under_bark_cm(over_bark_cm: ArrayLike, bark_cm: ArrayLike) -> Floats:
    """Diameter under bark from the thickness of the bark on one side: d_ub = d_ob - 2·bark; not below nought."""
    return np.maximum(np.asarray(over_bark_cm, float) - 2.0 * np.asarray(bark_cm, float), 0.0)


def bark_percent(bark_ratio: ArrayLike) -> Floats:
    """Bark's share of the volume over bark, where k is diameter under bark ÷ over bark: 100·(1 - k²)."""
    return 100.0 * (1.0 - np.square(np.asarray(bark_ratio, float)))


def form_factor(volume_m3: ArrayLike, dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
    """Breast-height form factor of a stem: f = V/(g·h); a paraboloid has about 1/2, a cone 1/3, a neiloid 1/4."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(volume_m3, float) / (basal_area_m2(dbh_cm) * np.asarray(height_m, float))
