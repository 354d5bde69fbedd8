"""How large a tree is drawn: by its diameter, within what the eye and the press can do."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from farmmap.scene.view import Floats

MM_PER_CM_AT_500 = 0.11
"""Width of a symbol for each cm of stem at 1:500. [mm/cm]"""

LEAST_MM_PER_CM, MOST_MM_PER_CM = 0.02, 0.16
SMALLEST_MM = 0.6
"""Smallest filled symbol. [mm]"""

UNMEASURED_MM = 1.0
"""Width of the open symbol of a tree without a diameter, the smallest that stays open in print. [mm]"""

GONE_MM = 1.1
PLANNED_MM = 0.8
SIGN_TIMES, SIGN_MM, SIGN_M = 1.5, 2.0, 2.5
"""Width of the ring or cross on a marked tree: so many times its symbol, and no less than it takes to be seen, unless
that covers more ground than lies between trees. [1, mm, m]"""

LARGEST_STEM_CM = 100.0
"""Stems thicker than this are drawn no larger. [cm]"""

CROWNS_FROM_M_PER_MM = 3.0
"""Crowns are drawn when a millimetre shows no more ground than this. [m]"""

LETTER_FROM_MM = 2.5
"""Symbols at least this wide carry their letter. [mm]"""


def mm_per_cm(metres_per_mm: float) -> float:
    """Width of a tree symbol for each cm of stem at a scale. [mm/cm].

    It falls with the square root of the scale, so that trees neither run into
    one blot on a small-scale sheet nor lie lost on a large-scale one.
    """
    wanted = MM_PER_CM_AT_500 * (0.5 / metres_per_mm) ** 0.5
    return min(max(wanted, LEAST_MM_PER_CM), MOST_MM_PER_CM)


def symbol_mm(dbh_cm: ArrayLike, metres_per_mm: float) -> Floats:
    """Width of the symbols of measured trees: in proportion to diameter, between a floor and a cap.

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters, or middles of their classes. [cm]
    metres_per_mm : float
        Scale of the view.

    Returns
    -------
    ndarray, shape (n,)
        Widths. [mm]
    """
    stems = np.minimum(np.asarray(dbh_cm, np.float64), LARGEST_STEM_CM)
    return np.maximum(stems * mm_per_cm(metres_per_mm), SMALLEST_MM)


def sign_mm(symbols_mm: ArrayLike, metres_per_mm: float) -> Floats:
    """Width of the rings and crosses on marked trees, given the widths of their symbols, shape (n,). [mm]."""
    least = min(SIGN_MM, SIGN_M / metres_per_mm)
    return np.maximum(np.asarray(symbols_mm, np.float64) * SIGN_TIMES, least)


def outline_mm(size_mm: float, full_mm: float, least_mm: float = 0.0) -> float:
    """Weight of the ring around a symbol: thinner around small ones, the least around the smallest. [mm]."""
    if size_mm < 0.8:
        return least_mm
    return max(min(full_mm, 0.06 + 0.05 * size_mm), least_mm)
