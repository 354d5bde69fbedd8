"""What plots say of a whole block: mean, standard error, interval, and how many plots would be needed.

All take plots along the last axis, so that thousands of draws of a simulation
are worked out by the same lines as one block.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.student import t_quantile

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
WANTED_ERROR = 0.10
"""Half-width of the interval that is aimed at, as a share of the mean: ±10 %."""

MOST_PLOTS = 100_000


@dataclass(frozen=True, eq=False)
class Estimate:
    """Means with their uncertainty; arrays of the shape of the draws, () for one block.

    Attributes
    ----------
    mean : ndarray
        The estimate.
    se : ndarray
        Its standard error; nan with fewer than two plots.
    df : ndarray
        Degrees of freedom of the standard error.
    low, high : ndarray
        Ends of the interval.
    """

    mean: Floats
    se: Floats
    df: Floats
    low: Floats
    high: Floats

    @property
    def error_percent(self) -> Floats:
        """Half of the interval in per cent of the mean; nan where the mean is 0."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.mean > 0, 50.0 * (self.high - self.low) / self.mean, np.nan)


def simple(values: ArrayLike, population: float | None = None, confidence: float = CONFIDENCE) -> Estimate:
    """Estimate a mean from plots drawn at random.

    ȳ = Σy/n, s² = Σ(y − ȳ)²/(n − 1), SE = s/√n·√(1 − n/N), interval ȳ ± t·SE
    with n − 1 degrees of freedom. Source: F. Freese (1962), Elementary Forest
    Sampling, USDA Agriculture Handbook 232; W. G. Cochran (1977), Sampling
    Techniques, ch. 2.

    Parameters
    ----------
    values : array_like, shape (..., n)
        What each plot gives, for each hectare.
    population : float, optional
        How many plots there are to draw from, where they are drawn from a list of plots that do not overlap. Middles
        that may lie anywhere have no such number, and nothing is taken off.
    confidence : float
        Of the interval.
    """
    plots = np.asarray(values, np.float64)
    n = plots.shape[-1]
    mean = plots.mean(axis=-1) if n else np.full(plots.shape[:-1], np.nan)
    if n < 2:
        return _estimate(mean, np.full(mean.shape, np.nan), np.zeros(mean.shape), confidence)
    se = plots.std(axis=-1, ddof=1) / np.sqrt(n)
    if population is not None:
        se = se * np.sqrt(max(1.0 - n / population, 0.0))
    return _estimate(mean, se, np.full(mean.shape, n - 1.0), confidence)


def stratified(
    values: ArrayLike,
    strata: ArrayLike,
    areas: ArrayLike,
    confidence: float = CONFIDENCE,
) -> Estimate:
    """Estimate a mean from plots drawn in each of several parts of known area.

    ȳ = ΣW·ȳₕ, SE² = ΣW²·sₕ²/nₕ, with Satterthwaite's degrees of freedom
    (Σgₕ·sₕ²)²/Σ(gₕ²·sₕ⁴/(nₕ − 1)), gₕ = W²/nₕ. Source: Cochran (1977), ch. 5;
    F. E. Satterthwaite (1946), Biometrics Bulletin 2, 110 (from memory).

    Parameters
    ----------
    values : array_like, shape (..., n)
        What each plot gives, for each hectare.
    strata : array_like of int, shape (n,)
        Which part each plot lies in, from 0.
    areas : array_like, shape (h,)
        Area of each part, in any unit; each needs a plot, and two for a standard error.
    confidence : float
        Of the interval.
    """
    plots, of = np.asarray(values, np.float64), np.asarray(strata, np.intp)
    weights = np.asarray(areas, np.float64) / np.sum(areas)
    mean = np.zeros(plots.shape[:-1])
    variance, below = np.zeros_like(mean), np.zeros_like(mean)
    for part, weight in enumerate(weights.tolist()):
        here = plots[..., of == part]
        n = here.shape[-1]
        mean = mean + weight * (here.mean(axis=-1) if n else np.nan)
        share = weight**2 * (here.var(axis=-1, ddof=1) / n if n > 1 else np.full(mean.shape, np.nan))
        variance = variance + share
        below = below + share**2 / max(n - 1, 1)
    least = np.bincount(of, minlength=len(weights)).min() - 1 if len(weights) else 0
    with np.errstate(divide="ignore", invalid="ignore"):
        df = np.where(below > 0, variance**2 / below, float(max(least, 0)))
    return _estimate(mean, np.sqrt(variance), df, confidence)


def ratio(amounts: ArrayLike, grounds: ArrayLike, confidence: float = CONFIDENCE) -> Estimate:
    """Estimate a ratio of two sums, such as stems to the ground on which they were counted.

    R = Σy/Σa, SE = √(Σ(y − R·a)²/(n·(n − 1)))/ā, n − 1 degrees of freedom. It
    is used where plots are cut by the edge and only what lies inside was
    counted, and for the quadratic mean diameter. Its bias falls off as 1/n.
    Source: Cochran (1977), ch. 6.

    Parameters
    ----------
    amounts, grounds : array_like, shape (..., n)
        y and a of each plot.
    confidence : float
        Of the interval.
    """
    y, a = np.asarray(amounts, np.float64), np.asarray(grounds, np.float64)
    n = y.shape[-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = y.sum(axis=-1) / a.sum(axis=-1)
        if n < 2:
            return _estimate(mean, np.full(mean.shape, np.nan), np.zeros(mean.shape), confidence)
        rest = np.square(y - mean[..., None] * a).sum(axis=-1)
        se = np.sqrt(rest / (n * (n - 1))) / a.mean(axis=-1)
    return _estimate(mean, se, np.full(mean.shape, n - 1.0), confidence)


def qmd_estimate(stems: ArrayLike, basal_area_m2: ArrayLike, confidence: float = CONFIDENCE) -> Estimate:
    """Quadratic mean diameter from stems and basal area a hectare of plots, in cm.

    Dq = √(40 000·G/(π·N)): the ratio G/N with its interval, and the root of all three.

    Parameters
    ----------
    stems, basal_area_m2 : array_like, shape (..., n)
        For each plot and hectare. [1/ha, m²/ha]
    confidence : float
        Of the interval.
    """
    mean_stem = ratio(basal_area_m2, stems, confidence)
    root = [
        np.sqrt(np.maximum(part, 0.0) * 40_000.0 / np.pi) for part in (mean_stem.mean, mean_stem.low, mean_stem.high)
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        se = mean_stem.se * root[0] / (2.0 * mean_stem.mean)
    return Estimate(root[0], se, mean_stem.df, root[1], root[2])


def plots_needed(
    mean: float, se: float, plots: int, strata: int = 1, error: float = WANTED_ERROR, confidence: float = CONFIDENCE
) -> int | None:
    """How many plots of the same kind would bring the interval to ± a share of the mean.

    The least n with t²·CV²/E² ≤ n, t being that of n − 1 degrees of freedom, so
    that it is found by trying (Freese 1962). Plots in parts are taken to be
    shared out as they are now.

    Parameters
    ----------
    mean, se : float
        The estimate and its standard error from the plots that there are.
    plots : int
        How many those are.
    strata : int
        Parts that they lie in.
    error : float
        Half-width that is aimed at, as a share of the mean.
    confidence : float
        Of the interval.

    Returns
    -------
    int or None
        In all, not in addition; None where nothing can be said, or no number of plots that one could walk would do.
    """
    if not (plots > strata and mean > 0 and np.isfinite(se)):
        return None
    wanted = plots * (se / (error * mean)) ** 2

    def enough(n: int) -> bool:
        return float(t_quantile(n - strata, confidence)) ** 2 * wanted <= n * (1 + 1e-12)

    at_least = float(t_quantile(np.inf, confidence)) ** 2 * wanted  # t is never below that of a normal distribution
    least = max(2 * strata, math.ceil(min(at_least, MOST_PLOTS)))
    short, step = least - 1, 1
    while not enough(least):  # more plots are never worse, so the least number is found by halving
        if least >= MOST_PLOTS:
            return None
        short, least, step = least, min(least + step, MOST_PLOTS), 2 * step
    while least - short > 1:
        middle = (short + least) // 2
        short, least = (short, middle) if enough(middle) else (middle, least)
    return least


def _estimate(mean: Floats, se: Floats, df: Floats, confidence: float) -> Estimate:
    half = t_quantile(df, confidence) * se
    return Estimate(mean, se, df, mean - half, mean + half)
