"""Growth without an age: how a tree's size goes on from its own increments, drawn to those of its species.

A tree of unknown age, such as one of a remnant of bush, is taken to go on as
it did: its diameter, or its cross-section, whichever the species follows
better, grows by the same amount each year. That amount is estimated from the
tree's own readings and drawn to what trees of the species and size put on, the
more so the shorter the history (a mixed model with the yearly growth of trees
as random effect, fitted by maximum likelihood).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.limits import tape_scatter_cm
from farmmap.figures.growth.own_curve import CLOSES_IN_YEARS, MOST_STRAIN, UNCONFIRMED

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POWERS = (1.0, 2.0)
"""Power of the diameter that grows evenly: 1, the diameter; 2, the cross-section."""

TAPE_SHARE = 0.01
"""Standard deviation of a reading over the diameter where no tree has three readings. Common practice."""

LEAST_TREES = 5


@dataclass(frozen=True, eq=False)
class SizeFit:
    """Yearly growth by size of a species.

    Attributes
    ----------
    power : float
        Power of the diameter that grows evenly.
    parameters : ndarray, shape (2,)
        Yearly growth (in cm to that power) of a tree of ``middle_cm``, and by how much it differs for a tree e times
        as thick.
    covariance : ndarray, shape (2, 2)
        Of their errors.
    middle_cm : float
        Diameter about which it is counted.
    spread : float
        Standard deviation of the yearly growth among trees of one size.
    residual : float
        Standard deviation of a reading to that power.
    log_likelihood : float
        Of the readings about each tree's mean, comparable between powers.
    trees, readings : int
        What it rests on.
    range_cm : tuple of float
        Least and greatest diameter of the trees it rests on. [cm]
    widening, lasting : float
        As in `farmmap.figures.growth.own_curve.Lead`.
    """

    power: float
    parameters: Floats
    covariance: Floats
    middle_cm: float
    spread: float
    residual: float
    log_likelihood: float
    trees: int
    readings: int
    range_cm: tuple[float, float]
    widening: float = 1.0
    lasting: float = 0.5


@dataclass(frozen=True, eq=False)
class OwnRates:
    """Trees carried on by size; all arrays have shape (n,), sizes are diameters to the power of the fit.

    Attributes
    ----------
    mean_year, mean_size : ndarray
        Mean day and size of the readings.
    count : ndarray of int64
        How many there are.
    rate, rate_variance : ndarray
        Yearly growth, drawn to the species, and the square of its error.
    last_year, last_size, apart : ndarray
        Last reading, and how far it lies above the tree's own line.
    strain : ndarray
        Factor of the variance, above 1 where the readings contradict each other.
    """

    mean_year: Floats
    mean_size: Floats
    count: Ints
    rate: Floats
    rate_variance: Floats
    last_year: Floats
    last_size: Floats
    apart: Floats
    strain: Floats

    def some(self, places: NDArray[np.intp]) -> OwnRates:
        """Return only some of the trees."""
        return OwnRates(
            self.mean_year[places],
            self.mean_size[places],
            self.count[places],
            self.rate[places],
            self.rate_variance[places],
            self.last_year[places],
            self.last_size[places],
            self.apart[places],
            self.strain[places],
        )


@dataclass(frozen=True, eq=False)
class _Lines:
    """Straight lines through the readings of each tree."""

    count: Ints
    mean_year: Floats
    mean_size: Floats
    over_time: Floats
    slope: Floats
    squares: Floats


def _lines(year: Floats, size: Floats, tree: Ints, many: int) -> _Lines:
    def added(values: Floats) -> Floats:
        return np.bincount(tree, values, many).astype(np.float64, copy=False)

    count = np.bincount(tree, minlength=many)
    some = np.maximum(count, 1)
    mean_year, mean_size = added(year) / some, added(size) / some
    off_year, off_size = year - mean_year[tree], size - mean_size[tree]
    over_time = added(off_year**2)
    slope = added(off_year * off_size) / np.where(over_time > 0, over_time, np.inf)
    squares = added((off_size - slope[tree] * off_year) ** 2)
    return _Lines(count, mean_year, mean_size, over_time, slope, squares)


def fit_by_size(year: Floats, dbh_cm: Floats, tree: Ints, many: int) -> SizeFit | None:
    """Fit yearly growth by size; None where fewer than `LEAST_TREES` trees have two readings.

    Parameters
    ----------
    year, dbh_cm : ndarray, shape (k,)
        Readings, those of one tree after another in order of day.
    tree : ndarray of int64, shape (k,)
        Place of the tree of each reading, increasing.
    many : int
        How many trees there are.
    """
    fits = [_fit(power, year, dbh_cm, tree, many) for power in POWERS]
    found = [fit for fit in fits if fit is not None]
    return max(found, key=lambda fit: fit.log_likelihood) if found else None


def _fit(power: float, year: Floats, dbh_cm: Floats, tree: Ints, many: int) -> SizeFit | None:
    lines = _lines(year, dbh_cm**power, tree, many)
    rows = np.flatnonzero(lines.over_time > 0.25)
    if len(rows) < LEAST_TREES:
        return None
    middle_cm = float(np.exp(np.log(dbh_cm).mean()))
    slope, over_time = lines.slope[rows], lines.over_time[rows]
    x = np.stack([np.ones(len(rows)), np.log(lines.mean_size[rows]) / power - np.log(middle_cm)], axis=1)
    spare = np.maximum(lines.count[rows] - 2, 0)
    tape = (TAPE_SHARE * power * middle_cm**power) ** 2
    robust = _robust_variance(lines.squares[rows], spare)
    residual2 = (robust * spare.sum() + 2 * tape) / (spare.sum() + 2)
    of_slope = residual2 / over_time
    slope = np.clip(slope, *_within(slope))
    pull = np.diag([0.0, 1.0 / (0.5 * max(abs(float(np.median(slope))), 1e-9)) ** 2])

    def solved(spread2: float) -> tuple[Floats, Floats, float]:
        weight = 1 / (spread2 + of_slope)
        precision = x.T @ (x * weight[:, None]) + pull
        theta = np.linalg.solve(precision, x.T @ (weight * slope))
        log_likelihood = -0.5 * float((np.log(2 * np.pi / weight) + weight * (slope - x @ theta) ** 2).sum())
        return theta, np.linalg.inv(precision), log_likelihood

    from scipy.optimize import minimize_scalar  # noqa: PLC0415 - heavy: a farm is opened before it is needed

    most = float(np.var(slope)) + float(np.median(of_slope)) + 1e-12
    best = minimize_scalar(lambda log: -solved(float(np.exp(log)))[2], bounds=(np.log(most) - 14, np.log(most) + 1))
    spread2 = float(np.exp(best.x))
    theta, covariance, of_rates = solved(spread2)
    within = -0.5 * float((spare * np.log(2 * np.pi * residual2)).sum() + lines.squares[rows].sum() / residual2)
    means = -0.5 * float(np.log(2 * np.pi * residual2 / over_time).sum())
    logs = float(np.log(dbh_cm).sum())
    counted = of_rates - means + within + (power - 1) * logs + len(dbh_cm) * np.log(power)
    trees, readings = len(rows), int(lines.count[rows].sum())
    span = _range(dbh_cm[np.isin(tree, rows)])
    return SizeFit(
        power, theta, covariance, middle_cm, spread2**0.5, residual2**0.5, float(counted), trees, readings, span
    )


def _range(dbh_cm: Floats) -> tuple[float, float]:
    return float(dbh_cm.min()), float(dbh_cm.max())


def _robust_variance(squares: Floats, spare: Ints) -> float:
    """Variance of a reading, from the squares about each tree's line; trees that jump do not weigh more than four."""
    has = spare > 0
    if not has.any():
        return 0.0
    of_tree = squares[has] / spare[has]
    usual = float(np.median(of_tree)) / 0.55 + 1e-12
    return float((np.minimum(of_tree, 9 * usual) * spare[has]).sum() / spare[has].sum())


def _within(slope: Floats) -> tuple[float, float]:
    low, middle, high = np.quantile(slope, [0.25, 0.5, 0.75])
    return float(middle - 6 * (middle - low) - 1e-9), float(middle + 6 * (high - middle) + 1e-9)


def own_rates(fit: SizeFit, year: Floats, dbh_cm: Floats, tree: Ints, many: int) -> OwnRates:
    """Return yearly growth of trees, drawn to that of their species and size. Arguments as in `fit_by_size`."""
    size = dbh_cm**fit.power
    lines = _lines(year, size, tree, many)
    read = lines.count > 0
    mean = np.where(read, lines.mean_size, fit.middle_cm**fit.power)
    x = np.stack([np.ones(many), np.log(mean) / fit.power - np.log(fit.middle_cm)], axis=1)
    usual = np.maximum(x @ fit.parameters, 0.0)
    known = lines.over_time * fit.spread**2 / (lines.over_time * fit.spread**2 + fit.residual**2)
    rate = usual + known * (lines.slope - usual)
    of_species = ((x @ fit.covariance) * x).sum(axis=1)
    variance = (1 - known) * fit.spread**2 + (1 - known) ** 2 * of_species
    apart = size - lines.mean_size[tree] - rate[tree] * (year - lines.mean_year[tree])
    of_tape = fit.power * size / dbh_cm * tape_scatter_cm(dbh_cm)
    scatter = np.maximum(fit.residual, of_tape) ** 2
    strain = np.bincount(tree, apart**2 / scatter, many) / np.maximum(lines.count - 1, 1)
    strain = np.where(lines.count == 1, UNCONFIRMED, strain)
    ends = [np.full(many, np.nan) for _ in range(3)]
    last = np.cumsum(lines.count)[read] - 1
    for out, values in zip(ends, (year, size, apart), strict=True):
        out[read] = values[last]
    return OwnRates(
        lines.mean_year,
        lines.mean_size,
        lines.count,
        rate,
        variance,
        ends[0],
        ends[1],
        ends[2],
        np.clip(strain, 1.0, MOST_STRAIN),
    )


def carried_on_by_size(fit: SizeFit, own: OwnRates, year: Floats) -> tuple[Floats, Floats]:
    """Return the size (diameter to the power of the fit) on a day after the last reading, and its standard deviation.

    Parameters
    ----------
    fit : SizeFit
        Growth of the species.
    own : OwnRates
        The trees.
    year : ndarray, shape (n,)
        The day, in years of the calendar.
    """
    on = np.maximum(year - own.last_year, 0.0)
    fading = np.exp(-on / CLOSES_IN_YEARS)
    since = own.last_year + on - own.mean_year
    middle = own.mean_size + own.rate * since + own.apart * (fit.lasting + (1 - fit.lasting) * fading)
    middle = np.maximum(middle, own.last_size)
    of_reading = fit.residual**2 * (1 + 1 / np.maximum(own.count, 1))
    variance = own.strain * (of_reading + own.rate_variance * since**2)
    return middle, fit.widening * np.sqrt(variance * (1 - fading))
