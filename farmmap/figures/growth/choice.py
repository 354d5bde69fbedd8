"""The choice among growth curves for a species, and how far the one that is chosen can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.by_age import CurveFit, Pace, Sample, far_out_weights, fit_curve
from farmmap.figures.growth.curves import CURVES
from farmmap.figures.growth.own_curve import Lead, OwnCurves, carried_on, own_curves

Floats = NDArray[np.float64]

SUPPORTED = 10.0
"""A curve whose criterion is worse than the best by more has essentially no support. Burnham and Anderson (2002)."""

LEAST_WEIGHT = 0.01
"""A curve off which whole surveys lie so far that it has less weight than this is not thought of."""

AS_GOOD, SHARPER = 2.0, 0.9
"""Of curves whose criterion is within 2 of the best the commonest is taken, unless another one predicts the last
readings with errors a tenth smaller."""

WORTH_A_LOOK = 30.0
"""A curve that at first look is worse by more is not fitted to the end."""

SMALL_CM, POLE_CM = 1.5, 8.0
"""A curve by which a seedling or cutting, or a pole, is thicker when it is planted is not thought of. [cm]"""

SURVEYS_TO_TELL = 4
"""Surveys from which on a curve is refused where its asymptote is not known and another one's is."""

SURVEYS_TO_CHECK = 3
"""Surveys without which leaving the last one out says nothing: from a single one, every curve is a guess."""

USUAL_PERIOD = (2.0, 0.017)
"""Surveys' worth of belief, before any reading, that whole surveys lie one or two hundredths off the curve."""

_CLEANINGS = 2

ASYMPTOTE_KNOWN = 0.35
"""Standard error of its logarithm up to which the size in the end is called known."""

NORMAL_80 = 1.2815515655446004
"""The middle 80 % of the normal distribution lie within this many standard deviations."""

USUAL_GAP = (10.0, 0.5)
"""Readings' worth of belief, before any reading, that half of a gap between reading and curve lasts."""


@dataclass(frozen=True)
class Tried:
    """One curve that was tried for a species.

    Attributes
    ----------
    curve : str
        Its name.
    aicc : float
        Akaike's criterion, corrected for few readings; the smaller the better.
    behind : float
        By how much it is worse than the best.
    error_cm : float
        Root mean square error of each tree's last reading, predicted from the earlier ones; nan where not tried.
    supported : bool
        Whether the readings support it.
    chosen : bool
        Whether it is the one.
    """

    curve: str
    aicc: float
    behind: float
    error_cm: float
    supported: bool
    chosen: bool


@dataclass(frozen=True, eq=False)
class Choice:
    """What came of trying all curves on a species.

    Attributes
    ----------
    lead : Lead
        The chosen curve, those that fit about as well, and how trees are carried on.
    tried : tuple of Tried
        Every curve, best first.
    needed : ndarray, shape (k,)
        By what factor the shared variance would have had to be widened so that the interval just held the last
        reading, left out and predicted, of each tree that could be checked.
    asymptote_known : bool
        Whether the readings say how thick trees get in the end.
    """

    lead: Lead
    tried: tuple[Tried, ...]
    needed: Floats
    asymptote_known: bool


def choose_curve(sample: Sample, most_cm: float) -> Choice:
    """Fit every curve to a sample and choose among them.

    Of the curves that Akaike's criterion supports the one is taken that best
    predicts each tree's last reading from the earlier ones, if it does so
    clearly better; else the commonest.

    Parameters
    ----------
    sample : Sample
        Readings.
    most_cm : float
        A curve by which the typical tree is thicker than this when it is planted is not thought of. [cm]
    """
    fits, weights = _all_fits(sample)
    small = [fit for fit in fits if _at_planting_cm(fit) <= most_cm] or fits[:1]
    least = min(fit.surveys.squares for fit in small)
    thinkable = [fit for fit in small if fit is small[0] or _weight(fit, least, {}) > LEAST_WEIGHT]
    errors: dict[str, float] = {}
    if sample.surveys >= SURVEYS_TO_CHECK:
        errors = {fit.curve.name: _checked(fit, sample, weights, quick=True)[0] for fit in thinkable}
    close = [fit for fit in thinkable if fit.aicc - small[0].aicc <= SUPPORTED]
    known = [fit for fit in close if _asymptote_known(fit)]
    supported = known if known and sample.surveys >= SURVEYS_TO_TELL else close
    chosen = _chosen(supported, errors)
    rows = tuple(
        Tried(
            fit.curve.name,
            float(fit.aicc),
            float(fit.aicc - fits[0].aicc),
            errors.get(fit.curve.name, float("nan")),
            fit in supported,
            fit is chosen,
        )
        for fit in fits
    )
    weight = {fit.curve.name: _weight(fit, least, errors) for fit in thinkable}
    whole = sum(weight.values())
    shares = [(fit, weight[fit.curve.name] / whole) for fit in thinkable if fit is not chosen]
    rivals = tuple((fit, share) for fit, share in shares if share > LEAST_WEIGHT)
    is_known = _asymptote_known(chosen) and sample.surveys >= SURVEYS_TO_CHECK
    found = replace(chosen, period=_period(chosen))
    lead = Lead(found, rivals, USUAL_GAP[1], steadiness(sample), seen_years=_last_gap(sample))
    if not errors:
        return Choice(lead, rows, np.zeros(0), is_known)
    _, lasting, needed = _checked(found, sample, weights, quick=False)
    return Choice(replace(lead, lasting=lasting), rows, needed, is_known)


def _all_fits(sample: Sample) -> tuple[list[CurveFit], Floats]:
    """Return every curve's fit, best first, and the weights of readings, less than 1 for those far out.

    The first curve is fitted with care; the others, from where it lies, to the end only if they are worth it.
    """
    first = fit_curve(CURVES[0], sample)
    first = replace(first, pace=Pace(float(first.fit.parameters[1]), first.q))
    weights = far_out_weights(first, sample)
    for _ in range(_CLEANINGS):
        first = fit_curve(CURVES[0], sample, first.tape_cm if (weights == 1).all() else None, first, weights)
        if (weights == 1).all():
            break
        weights = far_out_weights(first, sample)
    else:
        first = fit_curve(CURVES[0], sample, first.tape_cm, first, weights)
    looks = [fit_curve(curve, sample, first.tape_cm, first, weights, quick=True) for curve in CURVES[1:]]
    near = min(first.aicc, *(look.aicc for look in looks)) + WORTH_A_LOOK
    fits = [
        fit_curve(look.curve, sample, first.tape_cm, look, weights) if look.aicc <= near else look for look in looks
    ]
    return sorted([first, *fits], key=lambda fit: fit.aicc), weights


def _chosen(supported: list[CurveFit], errors: Mapping[str, float]) -> CurveFit:
    near = min(fit.aicc for fit in supported) + AS_GOOD
    usual = next(fit for curve in CURVES for fit in supported if fit.curve is curve and fit.aicc <= near)
    if not errors:
        return usual
    sharpest = min(supported, key=lambda fit: errors[fit.curve.name])
    return sharpest if errors[sharpest.curve.name] < SHARPER * errors[usual.curve.name] else usual


def steadiness(sample: Sample) -> float:
    """Weight of the last growth going on, beside the curves: the fewer surveys, the less these are to be trusted.

    Found on invented stands of many kinds; other stands of other kinds, and open data, bore it out.
    """
    return 1 / sample.surveys


def _last_gap(sample: Sample) -> float:
    """Years from the reading before the last to the last, mean of all trees that have both."""
    count = np.isfinite(sample.dbh_cm).sum(axis=1)
    rows = np.flatnonzero(count > 1)
    gaps = sample.age[rows, count[rows] - 1] - sample.age[rows, count[rows] - 2]
    return max(float(gaps.mean()), 1.0) if len(rows) else 1.0


def _asymptote_known(fit: CurveFit) -> bool:
    return replace(fit, period=_period(fit)).asymptote_unsure <= ASYMPTOTE_KNOWN


def _weight(fit: CurveFit, least_squares: float, errors: Mapping[str, float]) -> float:
    """Weight of a curve among all, by how far whole surveys lie off it and by its error of the last readings.

    The criterion takes every reading as a witness of its own, and so decides between curves that differ by less than
    a dry year; here each survey is one witness.
    """
    least = max(min(errors.values(), default=1.0), 1e-9)
    error = max(errors.get(fit.curve.name, least), least)
    return float(np.exp((least_squares - fit.surveys.squares) / 2 / USUAL_PERIOD[1] ** 2) * (least / error) ** 2)


def _period(fit: CurveFit) -> float:
    """How far whole surveys lie off the curve, as a share of the diameter."""
    squares = USUAL_PERIOD[0] * USUAL_PERIOD[1] ** 2 + fit.surveys.squares
    return float(np.sqrt(squares / (USUAL_PERIOD[0] + fit.surveys.spare)))


def _at_planting_cm(fit: CurveFit) -> float:
    """Diameter of the typical tree when it was planted, by a curve. [cm]."""
    start = fit.parts(np.zeros(1), np.array([-1]))[0]
    return float(np.exp(start[0]))


def _checked(fit: CurveFit, sample: Sample, weights: Floats, *, quick: bool) -> tuple[float, float, Floats]:
    """Error of the last reading predicted from the earlier ones, share of the gap that lasts, and needed widening."""
    earlier = sample.without_last()
    count = np.isfinite(sample.dbh_cm).sum(axis=1)
    rows = np.flatnonzero(count > 1)
    again = fit_curve(fit.curve, earlier, fit.tape_cm, fit, weights[rows, :-1], quick=quick)
    again = replace(again, period=_period(again))
    age, dbh = sample.age[rows, count[rows] - 1], sample.dbh_cm[rows, count[rows] - 1]
    inside = np.isfinite(earlier.dbh_cm)
    own = own_curves(
        again,
        earlier.age[inside],
        earlier.dbh_cm[inside],
        np.nonzero(inside)[0],
        earlier.stock,
        np.zeros(len(rows)),
    )
    lasting = _lasting(again, own, age, np.log(dbh))
    steady = 0.0 if quick else steadiness(earlier)
    ahead = carried_on(Lead(again, (), lasting, steady), own, age)
    error = float(np.sqrt(np.mean((np.exp(ahead.middle) - dbh) ** 2)))
    beyond = ((np.log(dbh) - ahead.middle) / NORMAL_80) ** 2 - ahead.own
    return error, lasting, np.maximum(beyond / ahead.shared, 0.0)


def _lasting(fit: CurveFit, own: OwnCurves, age: Floats, log: Floats) -> float:
    """Share of the gap between a reading and the tree's curve that is still there at its next reading."""
    then = fit.parts(age, own.stock, own.effects[:, 1])[0] + own.effects[:, 0]
    gap, left = own.apart / np.sqrt(own.strain), (log - then) / np.sqrt(own.strain)
    return share_left(gap, left, fit.fit.residual)


def share_left(gap: Floats, left: Floats, residual: float) -> float:
    """Slope of what is left of gaps on the gaps, drawn to `USUAL_GAP`, between 0 and 1."""
    belief = USUAL_GAP[0] * residual**2
    gap, left = gap - gap.mean(), left - left.mean()
    return float(np.clip((gap @ left + belief * USUAL_GAP[1]) / (gap @ gap + belief), 0.0, 1.0))
