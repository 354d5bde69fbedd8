"""Student's t, for intervals from few plots."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

NODES = 48
"""Points at which the density is taken; as many as an interval of 99.9 % from two plots asks."""
CLOSE_ENOUGH = 1e-14
MOST_STEPS = 60


def t_quantile(df: ArrayLike, confidence: float = 0.95) -> NDArray[np.float64]:
    """Two-sided quantile of Student's t; nan for less than one degree of freedom.

    With φ = atan(t/√ν) the share of the distribution between −t and t is
    2Γ((ν+1)/2)/(√π·Γ(ν/2)) · ∫₀^φ cos^(ν−1), which is solved for φ. Source:
    Student (1908), The probable error of a mean, Biometrika 6, 1; M. Abramowitz
    and I. A. Stegun (1964), Handbook of Mathematical Functions, 26.7.1. Worked
    out here as a farm stands on the screen before scipy would be loaded; the
    tests hold it to scipy.

    Parameters
    ----------
    df : array_like
        Degrees of freedom, whole or not.
    confidence : float
        Share within the interval, above 0 and below 1.
    """
    freedom = np.asarray(df, np.float64)
    each, place = np.unique(freedom, return_inverse=True)
    found = np.array([_quantile(float(one), confidence) if one >= 1 else np.nan for one in each])
    return found[place].reshape(freedom.shape)


@lru_cache(maxsize=4096)
def _quantile(df: float, confidence: float) -> float:
    normal = NormalDist().inv_cdf(0.5 + confidence / 2)
    if math.isinf(df):
        return normal
    gammas = math.exp(math.lgamma((df + 1) / 2) - math.lgamma(df / 2))
    over_all = 2 / math.sqrt(math.pi) * gammas
    angle = math.atan(normal / math.sqrt(df))  # t is never below the normal quantile, so each step comes from one side
    for _ in range(MOST_STEPS):
        within = over_all * _powers_of_cosine(angle, df - 1)
        step = (confidence - within) / (over_all * math.cos(angle) ** (df - 1))
        angle += step
        if step <= CLOSE_ENOUGH * angle:
            break
    return math.sqrt(df) * math.tan(angle)


def _powers_of_cosine(angle: float, power: float) -> float:
    """∫ cos^power from 0 to an angle, by two powers more twice over: those run smoothly up to a right angle."""
    at, weights = _nodes()
    sine, cosine = math.sin(angle), math.cos(angle)
    found = angle * float(weights @ np.cos(angle * at) ** (power + 4))
    for more in (power + 2, power):
        found = ((more + 2) * found - sine * cosine ** (more + 1)) / (more + 1)
    return found


@lru_cache(maxsize=1)
def _nodes() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Gauss and Legendre's points and weights from 0 to 1."""
    at, weights = np.polynomial.legendre.leggauss(NODES)
    return (at + 1) / 2, weights / 2
