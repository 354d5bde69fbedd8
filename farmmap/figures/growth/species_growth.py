"""Growth of one species: which curve fits its readings, how sure that is, or why there is none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.by_age import Sample
from farmmap.figures.growth.by_size import SizeFit, carried_on_by_size, fit_by_size, own_rates
from farmmap.figures.growth.choice import NORMAL_80, Tried, choose_curve, share_left
from farmmap.figures.growth.own_curve import Lead
from farmmap.figures.growth.readings import Readings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_FITTED = 120
"""Trees of a species that a curve is fitted to, drawn evenly from all of it."""

LEAST_TREES = 5
"""Trees with two readings or more without which a species has no curve."""

LEAST_SPAN_YEARS = 1.0
"""Readings of a species that lie closer together than this say nothing of its growth."""

SMALL_CM, POLE_CM = 1.5, 8.0
"""A curve by which a seedling or cutting, or a pole, is thicker when it is planted is not thought of. [cm]"""

SURVEY_YEARS = 0.2
"""Readings of a species further apart than this are of another survey. [years]"""

SURVEY_LASTS = 0.75
"""A survey takes no longer than this. [years]"""

STOCK_TREES = 8
"""Trees of a kind of plant that get a shift of age of their own."""


@dataclass(frozen=True, eq=False)
class SpeciesGrowth:
    """Growth of one species on the farm.

    Attributes
    ----------
    code, label : str
        Its code ("" for trees without one) and trade name.
    curve : str
        Name of the curve of diameter on age; "" if there is none.
    parameters : mapping of str to float
        Parameters of that curve by name, and ``ahead of ... [years]`` by kind of plant.
    formula, source : str
        Of the curve.
    choice : tuple of Tried
        The curves that were tried, best first.
    trees, readings : int
        Trees with readings, and readings, of known age.
    why_not : str
        Why there is no curve, in words; "" if there is one.
    notes : tuple of str
        What holds for it.
    oldest_age : float
        Greatest age at a reading; nan if none is known. [years]
    lead : Lead or None
        How trees of known age are carried on.
    by_size : SizeFit or None
        How trees of unknown age are.
    stocks : mapping of int to int
        Place of the shift of age by kind of plant.
    checked, checked_by_size : ndarray
        By what factor the shared variance by age, or the deviation by size, would have had to be widened so that the
        interval just held the last reading, left out and predicted, of each tree that could be checked.
    """

    code: str
    label: str
    curve: str
    parameters: Mapping[str, float]
    formula: str
    source: str
    choice: tuple[Tried, ...]
    trees: int
    readings: int
    why_not: str
    notes: tuple[str, ...]
    oldest_age: float
    lead: Lead | None
    by_size: SizeFit | None
    stocks: Mapping[int, int] = field(default_factory=dict)
    checked: Floats = field(default_factory=lambda: np.zeros(0))
    checked_by_size: Floats = field(default_factory=lambda: np.zeros(0))


def species_growth(code: str, label: str, known: Readings, trees: Ints) -> SpeciesGrowth:
    """Work out the growth of one species.

    Parameters
    ----------
    code, label : str
        Its code and trade name.
    known : Readings
        Of the whole farm.
    trees : ndarray of int64
        Places of the trees of the species.
    """
    read = trees[known.count[trees] > 0]
    by_size, checked_size = _by_size(known, read)
    aged = read[known.last_age[read] > 0]
    why_not = _too_little(known, aged)
    total = int(known.count[aged].sum())
    oldest = float(known.last_age[aged].max()) if len(aged) else float("nan")
    blank = SpeciesGrowth(
        code,
        label,
        "",
        {},
        "",
        "",
        (),
        len(aged),
        total,
        why_not,
        (),
        oldest,
        None,
        by_size,
        {},
        np.zeros(0),
        checked_size,
    )
    if why_not:
        return blank
    sample, stocks = _sample(known, _share(aged, known.count, MOST_FITTED))
    poles = [place for place, name in enumerate(known.stock_names) if name == "pole"]
    most_cm = POLE_CM if np.isin(known.stock[aged], poles).any() else SMALL_CM
    return _with_curve(blank, sample, stocks, known.stock_names, most_cm)


def _too_little(known: Readings, aged: Ints) -> str:
    if not len(aged):
        return "not enough to say: no tree has both a planting date and a diameter"
    repeated = int((known.count[aged] > 1).sum())
    if repeated == 0:
        return "not enough to say: each tree was measured only once"
    if repeated < LEAST_TREES:
        one = "tree was" if repeated == 1 else "trees were"
        return f"not enough to say: only {repeated} {one} measured twice or more, and {LEAST_TREES} are needed"
    span = known.year[known.last[aged]] - known.year[known.first[aged]]
    if span.max() < LEAST_SPAN_YEARS:
        return "not enough to say: all readings were taken within a year"
    return ""


def _share(trees: Ints, count: Ints, most: int) -> Ints:
    """Evenly drawn share of the trees; those with more than one reading where there are enough."""
    repeated = trees[count[trees] > 1]
    trees = repeated if len(repeated) >= most else trees
    if len(trees) <= most:
        return trees
    return trees[np.linspace(0, len(trees) - 1, most).astype(np.int64)]


def _sample(known: Readings, trees: Ints) -> tuple[Sample, dict[int, int]]:
    kinds, counts = np.unique(known.stock[trees], return_counts=True)
    commonest = kinds[np.argmax(counts)]
    own = [kind for kind, many in zip(kinds, counts, strict=True) if kind != commonest and many >= STOCK_TREES]
    stocks = {int(kind): place for place, kind in enumerate(own)}
    age = known.padded(trees, known.age)
    dbh = known.padded(trees, known.dbh_cm)
    stock = np.array([stocks.get(int(kind), -1) for kind in known.stock[trees]], np.int64)
    return Sample(age, dbh, stock, len(stocks), _survey_of(known.padded(trees, known.year))), stocks


def _survey_of(year: Floats) -> Ints:
    """Which survey each reading belongs to.

    A survey ends where nothing was measured for `SURVEY_YEARS`, and after `SURVEY_LASTS` at the latest, for some
    farms measure a few trees every month.
    """
    there = np.isfinite(year)
    days = np.unique(year[there])
    survey, began, before = [], days[0], days[0]
    number = 0
    for day in days.tolist():
        if day - before > SURVEY_YEARS or day - began > SURVEY_LASTS:
            number, began = number + 1, day
        survey.append(number)
        before = day
    return np.where(there, np.array(survey)[np.searchsorted(days, np.where(there, year, days[0]))], -1)


def _with_curve(
    blank: SpeciesGrowth, sample: Sample, stocks: dict[int, int], stock_names: Sequence[str], most_cm: float
) -> SpeciesGrowth:
    choice = choose_curve(sample, most_cm)
    found = choice.lead.found
    natural = found.curve.natural(found.fit.parameters[0], found.fit.parameters[1], found.q)
    parameters = {name: float(value) for name, value in zip(found.curve.parameters, natural, strict=True)}
    for kind, place in stocks.items():
        parameters[f"years ahead of the others: {stock_names[kind] or 'not given'}"] = float(found.shifts[place])
    unknown = (
        "How thick it gets in the end is not supported by the readings: "
        f"beyond {blank.oldest_age:.0f} years the forecast is wide."
    )
    return replace(
        blank,
        curve=found.curve.name,
        parameters=parameters,
        formula=found.curve.formula,
        source=found.curve.source,
        choice=choice.tried,
        notes=(*_weighed(len(choice.lead.rivals)), *(() if choice.asymptote_known else (unknown,))),
        lead=choice.lead,
        stocks=stocks,
        checked=choice.needed,
    )


def _weighed(others: int) -> tuple[str, ...]:
    if not others:
        return ()
    curves = "1 other curve that fits" if others == 1 else f"{others} other curves that fit"
    return (f"Forecasts weigh in {curves} about as well.",)


def _by_size(known: Readings, trees: Ints) -> tuple[SizeFit | None, Floats]:
    """Growth by size, and by what factors its deviation was too small for last readings predicted from the rest.

    From the trees of unknown age where there are enough of them, else from all; checked only for the former, as only
    they are carried on by it.
    """
    ageless = trees[np.isnan(known.planted[trees])]
    enough = int((known.count[ageless] > 1).sum()) >= LEAST_TREES
    trees = _share(ageless if enough else trees, known.count, 4 * MOST_FITTED)
    rows, tree = known.rows_of(trees)
    year, dbh = known.year[rows], known.dbh_cm[rows]
    fit = fit_by_size(year, dbh, tree, len(trees))
    none = np.zeros(0)
    if fit is None:
        return None, none
    if not enough:
        return fit, none
    last = np.append(tree[1:] != tree[:-1], True)
    again = fit_by_size(year[~last], dbh[~last], tree[~last], len(trees))
    if again is None:
        return fit, none
    own = own_rates(again, year[~last], dbh[~last], tree[~last], len(trees))
    some = np.flatnonzero(own.count > 0)
    own, then, size = own.some(some), year[last][some], dbh[last][some] ** again.power
    line = own.mean_size + own.rate * (then - own.mean_year)
    strain = np.sqrt(own.strain)
    lasting = share_left(own.apart / strain, (size - line) / strain, again.residual)
    middle, deviation = carried_on_by_size(replace(again, lasting=lasting), own, then)
    return replace(fit, lasting=lasting), np.abs(size - middle) / deviation / NORMAL_80
