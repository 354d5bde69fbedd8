"""A species' curve of diameter on age, each tree with its own size and its own pace.

The logarithm of a tree's diameter is that of the curve at its age, and two
things of its own, which are random effects (`farmmap.figures.growth.mixed`):
its size, by which it is thicker or thinner at any age, and its pace, by which
its time runs faster or slower; the latter adds, to first order, in proportion
to how steeply the species still rises at that age, and so fades.
Readings scatter by a share of the diameter and by the tape's error in cm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.curves import CHAPMAN_RICHARDS, Curve
from farmmap.figures.growth.mixed import MixedFit, Prior, fit_mixed

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

USUAL_ASYMPTOTE_CM = 70.0
SPREAD_OF_ASYMPTOTES = 0.55
USUAL_HALF_AGE = 18.0
SPREAD_OF_HALF_AGES = 0.6
SPREAD_OF_SHIFTS = 1.5
"""What is held likely before any reading, so that a young stand gives a wide interval and not a wild one.

Four species in five end between 35 and 142 cm and are half as thick as that at 8 to 39 years; a pole, cutting or
seedling stands within two years of growth of the others. Our own judgement, wide on purpose; old stands outweigh it.
"""

TAPE_SHARE, TAPE_READINGS = 0.01, 6.0
"""Six readings' worth of belief that a reading scatters by 0.2 cm and a hundredth of the diameter. Common practice."""

MOST_SIZE, MOST_PACE = 0.5, 0.12
"""Standard deviations of the logarithms of trees' sizes and paces that are hardly ever exceeded. Our own judgement."""

CLEARLY = 4.0
"""The scatter is taken to be of another kind only where the criterion is better by more."""

FASTEST = 0.7
"""Greatest logarithm of a pace that is carried on."""

LEAST_AGE = 0.05
"""A planting is at least this old at a reading. [years]"""

TAPE_AT_CM = (20.0, 0.0, 5.0, 80.0)
"""Diameters at which the scatter in cm and that in shares weigh the same; the likeliest is taken. [cm]"""

USUAL_FACTOR = np.array([[20.0, 0.0], [0.0, 3.0]])
"""Spread of sizes and of paces, over the scatter of the readings, with which the search begins.

Trees differ in size more than in pace; a search from the other side may end where they differ in pace only.
"""

QUICK_ROUNDS, MOST_ROUNDS = 6, 30

FAR_OUT = 4.0
"""Readings further from their tree's curve than this many standard deviations weigh less and less."""


@dataclass(frozen=True, eq=False)
class Sample:
    """Readings that a curve is fitted to, a row for each tree; nan where a tree has fewer.

    Attributes
    ----------
    age : ndarray, shape (n, m)
        From planting. [years]
    dbh_cm : ndarray, shape (n, m)
        The readings. [cm]
    stock : ndarray of int64, shape (n,)
        Which shift of age holds for a tree: -1 for the commonest kind of plant, else its place.
    shifts : int
        How many kinds of plant have a shift of their own.
    survey : ndarray of int64, shape (n, m)
        Which survey a reading belongs to; -1 where there is none.
    """

    age: Floats
    dbh_cm: Floats
    stock: Ints
    shifts: int
    survey: Ints

    @property
    def readings(self) -> int:
        """How many readings there are."""
        return int(np.isfinite(self.dbh_cm).sum())

    @property
    def surveys(self) -> int:
        """How many surveys there are."""
        return int(self.survey.max()) + 1

    def without_last(self) -> Sample:
        """Return the same without the last reading of each tree; trees with one reading go."""
        count = np.isfinite(self.dbh_cm).sum(axis=1)
        column = np.arange(self.dbh_cm.shape[1])
        keep = column[None, :] < count[:, None] - 1
        rows = count > 1
        cut = [np.where(keep, values, np.nan)[rows, :-1] for values in (self.age, self.dbh_cm)]
        survey = np.where(keep, self.survey, -1)[rows, :-1]
        return Sample(cut[0], cut[1], self.stock[rows], self.shifts, survey)


@dataclass(frozen=True)
class Pace:
    """How a faster or slower pace shows at an age: the relative rise of a Chapman-Richards curve.

    It is held fast while curves are fitted, so that all of them have the same random effects.

    Attributes
    ----------
    log_rate, q : float
        Parameters of that curve.
    """

    log_rate: float
    q: float

    def at(self, age: Floats) -> Floats:
        """Return the derivative of log diameter by log time."""
        return CHAPMAN_RICHARDS.shape(np.maximum(age, LEAST_AGE) * np.exp(self.log_rate), self.q)[1]


@dataclass(frozen=True, eq=False)
class Surveys:
    """How far whole surveys lie off a curve: dry years, and what else all trees of a species have in common.

    Attributes
    ----------
    gain : ndarray, shape (p, surveys)
        By how much the parameters change with the logarithm of all diameters of a survey.
    squares : float
        Sum of squares of the surveys' mean distance from the curve.
    spare : int
        Surveys beyond the number of parameters.
    """

    gain: Floats
    squares: float
    spare: int


@dataclass(frozen=True, eq=False)
class CurveFit:
    """A curve fitted to a species.

    Attributes
    ----------
    curve : Curve
        Which one.
    fit : MixedFit
        Parameters ``a``, ``log rate``, ``q`` where the curve is bent, then a shift of age for each kind of plant that
        has its own; effects: own size, own pace.
    tape_cm : float
        Diameter at which the scatter in cm and that in shares weigh the same. [cm]
    free : float
        Parameters that the readings decide, with those of the spread: one that only the prior decides does not count.
        Hodges and Sargent (2001), Biometrika 88:367.
    readings : int
        Readings it rests on.
    pace : Pace
        How a tree's own pace shows at an age.
    surveys : Surveys
        How far whole surveys lie off the curve, and what that does to the parameters.
    period : float
        Standard deviation of that in the logarithm of the diameter, as far as it is known.
    """

    curve: Curve
    fit: MixedFit
    tape_cm: float
    free: float
    readings: int
    surveys: Surveys
    pace: Pace
    period: float = 0.0

    @property
    def covariance(self) -> Floats:
        """Covariance of the errors of the parameters, with what whole surveys do to them."""
        return self.fit.covariance + self.period**2 * self.surveys.gain @ self.surveys.gain.T

    @property
    def aicc(self) -> float:
        """Akaike's criterion with its correction for few readings. Hurvich and Tsai (1989), Biometrika 76:297."""
        spare = max(self.readings - self.free - 1, 1)
        return -2 * self.fit.log_likelihood + 2 * self.free * (1 + (self.free + 1) / spare)

    @property
    def q(self) -> float:
        """How the curve is bent."""
        return float(self.fit.parameters[2]) if self.curve.bent else self.curve.start[0]

    @property
    def shifts(self) -> Floats:
        """Years by which each kind of plant is ahead."""
        return self.fit.parameters[3 if self.curve.bent else 2 :]

    @property
    def asymptote_unsure(self) -> float:
        """Standard error of the logarithm of the asymptote."""
        return float(np.sqrt(self.covariance[0, 0]))

    def parts(self, age: Floats, stock: Ints, pace: Floats | float = 0.0) -> tuple[Floats, Floats, Floats, Floats]:
        """Return log diameter of the typical size, its derivative by log time, by ``q``, and the age with its shift.

        Parameters
        ----------
        age : ndarray
            From planting. [years]
        stock : ndarray of int64
            Which shift of age holds; -1: none.
        pace : ndarray or float
            Logarithm of how much faster time runs. All are broadcast against each other.
        """
        ahead = np.append(self.shifts, 0.0)[stock]
        shifted = np.maximum(age + ahead, LEAST_AGE)
        scaled = shifted * np.exp(self.fit.parameters[1] + np.clip(pace, -FASTEST, FASTEST))
        log, slope, bend = self.curve.shape(scaled, self.q)
        return self.fit.parameters[0] + log, slope, bend, shifted


def fit_curve(
    curve: Curve,
    sample: Sample,
    tape_cm: float | None = None,
    like: CurveFit | None = None,
    weights: Floats | None = None,
    *,
    quick: bool = False,
) -> CurveFit:
    """Fit a curve to a sample.

    Parameters
    ----------
    curve : Curve
        Which one.
    sample : Sample
        Readings.
    tape_cm : float, optional
        See `CurveFit`; the likeliest of `TAPE_AT_CM` if not given.
    like : CurveFit, optional
        A fit of the same or another curve to begin with.
    weights : ndarray, shape (n, m), optional
        Less than 1 for readings that lie far out.
    quick : bool
        Keep the spread of sizes and paces of ``like``, for a first look.
    """
    there = np.isfinite(sample.dbh_cm)
    size = np.where(there, sample.dbh_cm, 1.0)
    log, age = np.log(size), np.where(there, sample.age, 1.0)
    held = _prior(curve, sample.shifts)
    usual = float(np.median(size[there])) if there.any() else 1.0
    start = held.mean if like is None else _alike(curve, like, age[there], sample.shifts)
    lower = USUAL_FACTOR if like is None else _awake(like.fit.factor, quick)
    pace = like.pace if like is not None else Pace(float(start[1]), curve.start[0])
    by_effect = np.stack([np.ones_like(age), pace.at(age)], axis=-1)
    is_shift = sample.stock[:, None, None] == np.arange(sample.shifts)
    mean = 3 if curve.bent else 2

    def model(theta: Floats, own: Floats) -> tuple[Floats, Floats, Floats]:
        ahead = np.append(theta[mean:], 0.0)[sample.stock]
        shifted = np.maximum(age + ahead[:, None], LEAST_AGE)
        q = theta[2] if curve.bent else curve.start[0]
        shape, slope, bend = curve.shape(shifted * np.exp(theta[1]), q)
        columns = [np.ones_like(slope), slope, *([bend] if curve.bent else [])]
        by_all = np.concatenate([np.stack(columns, axis=-1), (slope / shifted)[..., None] * is_shift], axis=-1)
        return theta[0] + shape + (by_effect * own[:, None]).sum(axis=-1), by_all, by_effect

    fits: list[CurveFit] = []
    for cm in TAPE_AT_CM if tape_cm is None else (tape_cm,):
        share = np.where(there, (1.0 if weights is None else weights) / (1 + (cm / size) ** 2), 0.0)
        rounds = 3 if fits else (QUICK_ROUNDS if quick else MOST_ROUNDS)
        steps = 0 if quick else 12
        fit = fit_mixed(
            model,
            log,
            share,
            start,
            2,
            replace(held, residual=TAPE_SHARE * ((1 + (TAPE_AT_CM[0] / usual) ** 2) / (1 + (cm / usual) ** 2)) ** 0.5),
            lower,
            tolerance=5e-4,
            most_step=0.5,
            most_rounds=rounds,
            steps=steps,
            bends=False,
        )
        start, lower = fit.parameters, _awake(fit.factor, quick)
        surveys = _surveys(fit, log - model(fit.parameters, fit.effects)[0], model(start, fit.effects), share, sample)
        held_fast = float(fit.covariance.diagonal() @ held.precision)
        fits.append(CurveFit(curve, fit, cm, len(start) - held_fast + 4, sample.readings, surveys, pace))
    best = min(fits, key=lambda one: one.aicc)
    return best if best.aicc < fits[0].aicc - CLEARLY else fits[0]


def _surveys(
    fit: MixedFit, apart: Floats, model: tuple[Floats, Floats, Floats], weight: Floats, sample: Sample
) -> Surveys:
    many = sample.surveys
    inside = sample.survey[..., None] == np.arange(many)
    weighted = inside * weight[..., None]
    _, by_all, by_effect = model
    zz = by_effect.swapaxes(1, 2) @ (by_effect * weight[..., None])
    shrunk = fit.factor @ np.linalg.inv(np.eye(2) + fit.factor.T @ zz @ fit.factor) @ fit.factor.T
    held = (by_effect * weight[..., None]).swapaxes(1, 2) @ by_all
    score = by_all.swapaxes(1, 2) @ weighted - held.swapaxes(1, 2) @ (shrunk @ (by_effect.swapaxes(1, 2) @ weighted))
    gain = fit.covariance @ score.sum(axis=0) / fit.residual**2
    total = weighted.sum(axis=(0, 1))
    mean = (weighted * apart[..., None]).sum(axis=(0, 1)) / np.maximum(total, 1e-12)
    squares = float((mean**2).sum())
    return Surveys(gain, squares, max(many - len(fit.parameters), 0))


def _awake(factor: Floats, kept: bool) -> Floats:
    """Factor to begin with: an effect that another fit found to be nil gets a chance."""
    if kept:
        return factor
    return factor + np.diag(np.maximum(np.diag(USUAL_FACTOR) / 4 - np.abs(np.diag(factor)), 0.0))


def far_out_weights(found: CurveFit, sample: Sample) -> Floats:
    """Return weights that take the force from readings far from their tree's curve: 1, or less. Shape (n, m)."""
    own = found.fit.effects
    typical = found.parts(sample.age, sample.stock[:, None])[0]
    log = typical + own[:, :1] + own[:, 1:] * found.pace.at(sample.age)
    apart = np.abs(np.log(sample.dbh_cm) - log)
    scatter = found.fit.residual * np.sqrt(1 + (found.tape_cm / sample.dbh_cm) ** 2)
    robust = np.nanmedian(apart / scatter) / 0.6745
    return np.where(
        np.isfinite(apart), np.minimum(1.0, FAR_OUT * max(robust, 0.1) * scatter / (apart + 1e-9)) ** 2, 1.0
    )


def _prior(curve: Curve, shifts: int) -> Prior:
    usual_q, at_half = curve.start
    mean = [np.log(USUAL_ASYMPTOTE_CM), at_half - np.log(USUAL_HALF_AGE)]
    spread = [SPREAD_OF_ASYMPTOTES, SPREAD_OF_HALF_AGES]
    if curve.bent:
        mean, spread = [*mean, usual_q], [*spread, curve.spread]
    mean, spread = mean + [0.0] * shifts, spread + [SPREAD_OF_SHIFTS] * shifts
    return Prior(np.array(mean), np.array(spread) ** -2.0, TAPE_READINGS, spread=(MOST_SIZE, MOST_PACE))


def _alike(curve: Curve, like: CurveFit, ages: Floats, shifts: int) -> Floats:
    """Parameters with which a curve runs much like another one that was fitted."""
    if curve is like.curve:
        return like.fit.parameters
    at = np.quantile(ages, [0.02, 0.25, 0.5, 0.75, 0.98])
    wanted = like.parts(at, np.full(5, -1))[0]
    held = _prior(curve, 0)
    theta = held.mean.copy()
    for _ in range(8):
        q = theta[2] if curve.bent else curve.start[0]
        shape, slope, bend = curve.shape(at * np.exp(theta[1]), q)
        by_all = np.stack([np.ones(5), slope, bend][: len(theta)], axis=1)
        weight = 100.0  # the other curve's course counts; the prior only fills what that leaves open
        left = weight * by_all.T @ by_all + np.diag(held.precision)
        right = weight * by_all.T @ (wanted - theta[0] - shape) + held.precision * (held.mean - theta)
        theta = theta + np.clip(np.linalg.solve(left, right), -0.5, 0.5)
    return np.append(theta, like.shifts[:shifts])
