"""A grower's own volume equation from stems that were felled and measured."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput

Floats = NDArray[np.float64]

LEAST_STEMS = 8
"""Stems from which an equation is drawn. Common practice."""

_BETWEEN = re.compile(r"[;\s]+|,\s+")


@dataclass(frozen=True, eq=False)
class Fit:
    """A line through points by least squares.

    Attributes
    ----------
    numbers, errors : ndarray, shape (k,)
        The constant and the slopes, and their standard errors.
    scatter : float
        Standard deviation of what is left, in the unit of y.
    r_squared : float
        Share of the scatter of y that the line takes up.
    """

    numbers: Floats
    errors: Floats
    scatter: float
    r_squared: float


def line_through(y: ArrayLike, *along: ArrayLike) -> Fit:
    """Fit y = n_0 + n_1·x_1 + … by least squares.

    Source: N. R. Draper and H. Smith (1998), Applied Regression Analysis
    (from memory).

    Parameters
    ----------
    y : array_like, shape (n,)
        What is to be told.
    *along : array_like, shape (n,)
        What it is told by.

    Raises
    ------
    BadInput
        There are too few points, or all lie at the same place.
    """
    values = np.asarray(y, float)
    design = np.column_stack([np.ones(len(values)), *(np.asarray(x, float) for x in along)])
    spare = len(values) - design.shape[1]
    if spare < 1 or np.linalg.matrix_rank(design) < design.shape[1]:
        raise BadInput("there are too few stems, or all are of one size; measure more of them, small and large ones")
    numbers, *_ = np.linalg.lstsq(design, values, rcond=None)
    left = values - design @ numbers
    squares = float(left @ left)
    variance = squares / spare
    errors = np.sqrt(np.diag(np.linalg.inv(design.T @ design)) * variance)
    total = float(np.sum((values - values.mean()) ** 2))
    return Fit(numbers, errors, float(np.sqrt(variance)), 1.0 - squares / total if total > 0 else float("nan"))


@dataclass(frozen=True, eq=False)
class OwnEquation:
    """V = a·d^b·h^c, with d in cm, h in m and V in m³.

    Attributes
    ----------
    a, b, c : float
        Its numbers; a carries the correction exp(s²/2) for the mean of what scatters evenly in logarithms.
    fit : Fit
        The line ln V = ln a + b·ln d + c·ln h behind it, without that correction.
    stems : int
        How many stems it rests on.
    """

    a: float
    b: float
    c: float
    fit: Fit
    stems: int


def own_equation(dbh_cm: ArrayLike, height_m: ArrayLike, volume_m3: ArrayLike) -> OwnEquation:
    """Fit a volume equation to measured stems, in logarithms.

    Source: F. X. Schumacher and F. S. Hall (1933), Logarithmic expression of
    timber-tree volume, Journal of Agricultural Research 47, 719 (from memory);
    correction of the mean: G. L. Baskerville (1972), Canadian Journal of Forest
    Research 2, 49 (from memory).

    Parameters
    ----------
    dbh_cm, height_m, volume_m3 : array_like, shape (n,)
        Diameters over bark, heights and volumes of the stems, all above 0.

    Raises
    ------
    BadInput
        There are fewer than eight stems, all of one size, or a number is not above 0.
    """
    sizes = [np.asarray(values, float) for values in (dbh_cm, height_m, volume_m3)]
    if len(sizes[0]) < LEAST_STEMS:
        raise BadInput(f"an equation needs at least {LEAST_STEMS} stems, not {len(sizes[0])}; measure more of them")
    if not all((values > 0).all() and np.isfinite(values).all() for values in sizes):
        raise BadInput("a diameter, height or volume is not above 0; mend that line")
    dbh, height, volume = sizes
    fit = line_through(np.log(volume), np.log(dbh), np.log(height))
    constant, b, c = fit.numbers.tolist()
    return OwnEquation(float(np.exp(constant + fit.scatter**2 / 2.0)), b, c, fit, len(dbh))


def stems_typed(text: str) -> tuple[Floats, Floats, Floats]:
    """Read diameter, height and volume of a stem from each line that was typed or pasted.

    Raises
    ------
    BadInput
        A line does not hold three numbers.
    """
    rows: list[Sequence[float]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            found = [float(part.replace(",", ".")) for part in _BETWEEN.split(line.strip()) if part]
        except ValueError:
            found = []
        if len(found) != 3:
            raise BadInput(
                f"line {number} is not diameter, height and volume; write it such as 42.5 24 1.38, a space between each"
            )
        rows.append(found)
    columns = np.array(rows, float).reshape(-1, 3).T
    return columns[0], columns[1], columns[2]
