"""What each tree's own curve is, from its species' curve and its own readings, and where it leads.

The effects of a tree are their likeliest values given its readings (Lindstrom
and Bates 1990): close to its own history where that is long, close to the
species where it is short. Its curve is then carried through the last reading;
the gap between the two closes within a year or so, down to the share of it
that was seen to last in the farm's own readings. Where a species was surveyed
only a few times its curve is little known, and the growth of a tree between its
last two readings goes on in part as well; the fewer the surveys, the more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.by_age import FASTEST, LEAST_AGE, CurveFit
from farmmap.figures.growth.limits import LEAST_YEARS, tape_scatter_cm

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CLOSES_IN_YEARS = 0.7
"""In this time the gap between last reading and curve closes to a third of the way to what is left of it. [years]"""

OWN_WEATHER, SHARED_WEATHER = 0.02, 0.06
"""Share of the growth still to come by which one tree, and its whole species, may miss it. Our own judgement.

What one period brings is not known from those before; readings that lie close to a curve do not change that.
"""

STEADY_YEARS, STEADY_SPREAD = 30.0, 0.04
"""The growth between a tree's last two readings, as far as it is taken to go on, fades in this time [years], and may
be off by this share after a year, and by more with the root of the years. Our own judgement."""

STILL_NARROW = 1.5
"""A narrowing begins to fade this much further ahead than back-tests could see."""

UNCONFIRMED = 4.0
"""Factor of the variance of a tree with one reading, which no other confirms. Our own judgement."""

MOST_STRAIN = 400.0
"""Greatest factor by which readings that contradict each other raise a tree's variance."""


@dataclass(frozen=True, eq=False)
class OwnCurves:
    """Trees of one species on its curve. All arrays have shape (n,) or begin with it.

    Attributes
    ----------
    effects : ndarray, shape (n, 2)
        Own size and own pace.
    covariance : ndarray, shape (n, 2, 2)
        Of their errors, were the species' curve known without error.
    leaning : ndarray, shape (n, 2, p)
        By how much the effects change with each parameter of the species.
    strain : ndarray
        Factor of the variance, above 1 where a tree's readings contradict each other.
    stock : ndarray of int64
        Its shift of age; -1: none.
    unsure_years : ndarray
        Standard deviation of its day of planting. [years]
    rate : ndarray
        Yearly growth between the last two readings, half way drawn to what all trees of the species put on then for
        their curves; nan where there are not two, or less than a year apart. [cm/year]
    last_age, last_log, apart : ndarray
        Age at the last reading [years], its logarithm, and how far that lies above the tree's own curve; nan where
        there is no reading.
    """

    effects: Floats
    covariance: Floats
    leaning: Floats
    strain: Floats
    stock: Ints
    unsure_years: Floats
    rate: Floats
    last_age: Floats
    last_log: Floats
    apart: Floats

    def some(self, places: NDArray[np.intp]) -> OwnCurves:
        """Return only some of the trees."""
        return OwnCurves(
            self.effects[places],
            self.covariance[places],
            self.leaning[places],
            self.strain[places],
            self.stock[places],
            self.unsure_years[places],
            self.rate[places],
            self.last_age[places],
            self.last_log[places],
            self.apart[places],
        )


def own_curves(
    found: CurveFit, age: Floats, dbh_cm: Floats, tree: Ints, stock: Ints, unsure_years: Floats
) -> OwnCurves:
    """Return the own curves of trees of a species.

    Parameters
    ----------
    found : CurveFit
        The species' curve.
    age, dbh_cm : ndarray, shape (k,)
        Readings, those of one tree after another in order of day.
    tree : ndarray of int64, shape (k,)
        Place of the tree of each reading, increasing.
    stock, unsure_years : ndarray, shape (n,)
        Kind of plant, and how unsure the planting day is.
    """
    many, log = len(stock), np.log(dbh_cm)
    weight = 1 / (1 + (found.tape_cm / dbh_cm) ** 2)
    lower, variance = found.fit.factor, found.fit.residual**2

    def added(values: Floats) -> Floats:
        return np.bincount(tree, values, many).astype(np.float64, copy=False)

    at, slope, bend, shifted = found.parts(age, stock[tree])
    pace = found.pace.at(age)
    zz = np.empty((many, 2, 2))
    zz[:, 0, 0] = added(weight)
    zz[:, 0, 1] = zz[:, 1, 0] = added(weight * pace)
    zz[:, 1, 1] = added(weight * pace**2)
    zw = np.stack([added(weight * (log - at)), added(weight * pace * (log - at))], axis=-1)
    shrunk = lower @ _inverse(np.eye(2) + lower.T @ zz @ lower) @ lower.T
    effects = (shrunk @ zw[..., None])[..., 0]
    columns = _by_parameters(found, slope, bend, shifted, stock[tree])
    zx = np.stack(
        [
            np.stack([added(weight * column) for column in columns], axis=-1),
            np.stack([added(weight * pace * column) for column in columns], axis=-1),
        ],
        axis=1,
    )
    apart = log - found.parts(age, stock[tree], effects[tree, 1])[0] - effects[tree, 0]
    count = np.bincount(tree, minlength=many)
    scatter = np.maximum(variance / weight, (tape_scatter_cm(dbh_cm) / dbh_cm) ** 2)
    strain = np.where(count == 1, UNCONFIRMED, added(apart**2 / scatter) / np.maximum(count, 1))
    has = count > 0
    last = np.cumsum(count)[has] - 1
    ends = [np.full(many, np.nan) for _ in range(3)]
    for out, values in zip(ends, (age, log, apart), strict=True):
        out[has] = values[last]
    return OwnCurves(
        effects,
        shrunk * variance,
        shrunk @ zx,
        np.clip(strain, 1.0, MOST_STRAIN),
        stock,
        unsure_years,
        _last_rate(age, dbh_cm, apart, count),
        ends[0],
        ends[1],
        ends[2],
    )


def _last_rate(age: Floats, dbh_cm: Floats, apart: Floats, count: Ints) -> Floats:
    out = np.full(len(count), np.nan)
    last = np.cumsum(count) - 1
    some = np.flatnonzero(count > 1)
    some = some[age[last[some]] - age[last[some] - 1] >= LEAST_YEARS]
    now, before = last[some], last[some] - 1
    by_curve = dbh_cm * np.exp(-apart)
    gained, usual = dbh_cm[now] - dbh_cm[before], np.maximum(by_curve[now] - by_curve[before], 0.0)
    usual *= np.maximum(gained.sum(), 0.0) / max(float(usual.sum()), 1e-9)
    out[some] = np.maximum((gained + usual) / 2, 0.0) / (age[now] - age[before])
    return out


@dataclass(frozen=True, eq=False)
class Lead:
    """How own curves are carried on, as learnt from the farm's own readings.

    Attributes
    ----------
    found : CurveFit
        The species' curve.
    rivals : tuple of (CurveFit, float)
        Other curves that fit about as well, and their weights, which with that of ``found`` add up to 1.
    lasting : float
        Share of the gap between a reading and the tree's curve that lasts.
    steady : float
        Weight of the growth between the last two readings going on, beside the curves.
    widening : float
        Factor of the variance of what all trees of the species share, from back-tests.
    seen_years : float
        How far ahead those looked; a narrowing fades beyond. [years]
    """

    found: CurveFit
    rivals: tuple[tuple[CurveFit, float], ...] = ()
    lasting: float = 0.5
    steady: float = 0.0
    widening: float = 1.0
    seen_years: float = 1.0


@dataclass(frozen=True, eq=False)
class Ahead:
    """Where own curves lead. All arrays have shape (n,) and are of the logarithm of the diameter.

    Attributes
    ----------
    middle : ndarray
        Likeliest value, never less than at the last reading.
    own : ndarray
        Variance of what is each tree's own: its effects, its planting day, and what the tape will say.
    shared : ndarray
        Variance of what all trees of the species have in common: the errors of its curve, dry and wet years, and the
        differences to other curves that fit about as well.
    """

    middle: Floats
    own: Floats
    shared: Floats


def carried_on(lead: Lead, own: OwnCurves, age: Floats) -> Ahead:
    """Carry own curves on to an age after the last reading.

    The variances are nought at the last reading and fully there after a year or so.

    Parameters
    ----------
    lead : Lead
        How to carry on.
    own : OwnCurves
        The trees.
    age : ndarray, shape (n,)
        Ages to carry on to. [years]
    """
    found, fit = lead.found, lead.found.fit
    read = np.isfinite(own.last_age)
    on = np.where(read, np.maximum(age - np.where(read, own.last_age, 0.0), 0.0), np.inf)
    log, slope, bend, shifted = found.parts(age, own.stock, own.effects[:, 1])
    pace = found.pace.at(age)
    fading = np.exp(-on / CLOSES_IN_YEARS)
    gap = np.where(read, own.apart, 0.0) * (lead.lasting + (1 - lead.lasting) * fading)
    more, of_curves = _of_rivals(lead, own, age, read)
    middle = log + own.effects[:, 0] + gap + more
    middle = np.where(read, np.maximum(middle, own.last_log), middle)
    middle, by_curve, of_steady = _drawn_to_steady(lead, own, middle, on)
    by_all = np.stack(_by_parameters(found, slope, bend, shifted, own.stock), axis=-1)
    by_all -= own.leaning[:, 0] + pace[:, None] * own.leaning[:, 1]
    of_species = ((by_all @ found.covariance) * by_all).sum(axis=-1)
    of_tree = own.covariance[:, 0, 0] + pace * (2 * own.covariance[:, 0, 1] + pace * own.covariance[:, 1, 1])
    of_reading = fit.residual**2 * (1 + (found.tape_cm * np.exp(-middle)) ** 2)
    of_planting = (own.unsure_years * (slope / shifted - _slope_then(found, own, read))) ** 2
    grown = np.where(read, middle - np.where(read, own.last_log, 0.0), 0.0) ** 2
    there = 1 - fading
    return Ahead(
        middle,
        there * (by_curve * own.strain * (of_tree + of_reading) + of_planting + OWN_WEATHER**2 * grown),
        there
        * _widening(lead, on)
        * (by_curve * (of_species + found.period**2 + of_curves) + of_steady + SHARED_WEATHER**2 * grown),
    )


def _drawn_to_steady(lead: Lead, own: OwnCurves, log: Floats, on: Floats) -> tuple[Floats, Floats, Floats]:
    """Draw the forecast to that of the last growth going on.

    Returned are the forecast, the share of the curves' variance that is left of it, and what the other forecast adds:
    its own variance by its weight, and the mean square of the two about what they come to.
    """
    steady = np.where(np.isfinite(own.rate), lead.steady / own.strain, 0.0)
    has = np.flatnonzero(steady > 0)
    out, apart = log.copy(), np.zeros(len(log))
    size = np.exp(own.last_log[has]) - own.rate[has] * STEADY_YEARS * np.expm1(-on[has] / STEADY_YEARS)
    share = steady[has]
    out[has] = np.log((1 - share) * np.exp(log[has]) + share * size)
    steady_log = np.log(size)
    unsure = on[has] * (STEADY_SPREAD * (steady_log - own.last_log[has])) ** 2
    apart[has] = share * (unsure + (1 - share) * (steady_log - log[has]) ** 2)
    return out, 1 - steady, apart


def _widening(lead: Lead, on: Floats) -> Floats:
    """Return the factor of the shared variance: a widening holds for ever, a narrowing as far as it was seen to."""
    if lead.widening >= 1:
        return np.full(len(on), lead.widening)
    return lead.widening ** np.minimum(1.0, STILL_NARROW * lead.seen_years / np.maximum(on, 1e-9))


def _slope_then(found: CurveFit, own: OwnCurves, read: NDArray[np.bool_]) -> Floats:
    _, slope, _, shifted = found.parts(np.where(read, own.last_age, 1.0), own.stock, own.effects[:, 1])
    return np.where(read, slope / shifted, 0.0)


def _of_rivals(lead: Lead, own: OwnCurves, age: Floats, read: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """By how much more the mean of all curves grows from the last reading on, and their mean square about it."""
    first, second = np.zeros(len(age)), np.zeros(len(age))
    if not lead.rivals or not len(age):
        return first, second
    faster = np.exp(np.clip(own.effects[:, 1], -FASTEST, FASTEST))
    age, then = age * faster, np.where(read, own.last_age, 0.0) * faster
    ages = np.geomspace(LEAST_AGE, max(float(age.max()), 1.0), 200)
    none = np.full(len(ages), -1)
    typical = lead.found.parts(ages, none)[0]
    for rival, weight in lead.rivals:
        apart = rival.parts(ages, none)[0] - typical
        more = np.interp(age, ages, apart) - np.where(read, np.interp(then, ages, apart), 0.0)
        first += weight * more
        second += weight * more**2
    return first, second - first**2


def _by_parameters(found: CurveFit, slope: Floats, bend: Floats, shifted: Floats, stock: Ints) -> list[Floats]:
    """Return the derivatives by each of the species' parameters."""
    columns = [np.ones_like(slope), slope, *([bend] if found.curve.bent else [])]
    return columns + [np.where(stock == place, slope / shifted, 0.0) for place in range(len(found.shifts))]


def _inverse(matrices: Floats) -> Floats:
    """Inverse of symmetric 2 × 2 matrices, shape (n, 2, 2)."""
    one, two, across = matrices[:, 0, 0], matrices[:, 1, 1], matrices[:, 0, 1]
    turned = np.stack([two, -across, -across, one], axis=-1).reshape(-1, 2, 2)
    return turned / (one * two - across**2)[:, None, None]
