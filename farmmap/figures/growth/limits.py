"""How far readings of a tape can be believed, and how much a stem can grow in a year."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

TAPE_ERROR_CM = 0.5
"""Two readings of one stem may differ by this much, or by `TAPE_ERROR_SHARE` if that is more. Common practice. [cm]"""

TAPE_ERROR_SHARE = 0.01
"""Share of the diameter by which two readings of one stem may differ. Common practice."""

FASTEST_CM_PER_YEAR = 4.0
"""Diameter growth that only the fastest young trees (poplar, eucalypt) reach. Common practice. [cm/year]"""

LEAST_DOUBTED_CM_PER_YEAR = 1.0
"""Growth up to this is believed of any tree, however slowly the others grow. Common practice. [cm/year]"""

LEAST_YEARS = 0.75
"""Readings closer than this say little of the growth of a year. Common practice. [years]"""

ENOUGH_TREES = 20
"""Increments of the farm's own trees from which a limit is taken."""

SPREADS = 4.0
"""A limit lies this many robust standard deviations above the median."""

QUARTILE_OF_NORMAL = 0.6745
"""Upper quartile of the normal distribution, in standard deviations."""


def tape_error_cm(dbh_cm: ArrayLike) -> Floats:
    """Return by how much two readings of a stem may differ, shape (n,). [cm]."""
    return np.maximum(TAPE_ERROR_CM, TAPE_ERROR_SHARE * np.asarray(dbh_cm, np.float64))


def tape_scatter_cm(dbh_cm: ArrayLike) -> Floats:
    """Return the standard deviation of one reading, were two to differ by more in one case of twenty, shape (n,). [cm].

    However closely the trees of a species follow its curve, less than this is no contradiction.
    """
    return tape_error_cm(dbh_cm) / (1.96 * np.sqrt(2.0))


def thickest_believed_cm(age_years: ArrayLike) -> Floats:
    """Return the greatest diameter that is believed of a stem so long after planting, shape (n,). [cm].

    `FASTEST_CM_PER_YEAR` in every year, and a year more, as the day of planting is often known to the year only.
    Readings in millimetres lie above it. Common practice.
    """
    return FASTEST_CM_PER_YEAR * (np.asarray(age_years, np.float64) + 1.0)


def fastest_believed(growth_cm_per_year: Floats) -> float:
    """Return the greatest yearly growth that is believed, judged by that of the farm's own trees. [cm/year].

    Median and `SPREADS` robust standard deviations, taken from the upper
    quartile so that a few wrong readings do not matter; `FASTEST_CM_PER_YEAR`
    with fewer than `ENOUGH_TREES` increments.

    Parameters
    ----------
    growth_cm_per_year : ndarray, shape (n,)
        Yearly growth of trees of one species.
    """
    if len(growth_cm_per_year) < ENOUGH_TREES:
        return FASTEST_CM_PER_YEAR
    middle, upper = np.quantile(growth_cm_per_year, [0.5, 0.75])
    return max(float(middle + SPREADS * (upper - middle) / QUARTILE_OF_NORMAL), LEAST_DOUBTED_CM_PER_YEAR)
