"""How thick each tree will be on a day, and in which year it reaches its target, with what is not known about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.growth.by_size import OwnRates, SizeFit, carried_on_by_size
from farmmap.figures.growth.choice import NORMAL_80
from farmmap.figures.growth.farm_growth import FarmGrowth, growth_of
from farmmap.figures.growth.own_curve import Lead, OwnCurves, carried_on
from farmmap.figures.growth.readings import Readings, year_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Ahead = Callable[[NDArray[np.intp], Floats], tuple[Floats, Floats, Floats]]

METHODS = (
    "not enough to say",
    "measured",
    "curve of its species through its own readings",
    "curve of its species through its one reading",
    "curve of its species at its age; not measured yet",
    "its own yearly growth, drawn to that of its species; planting date not known",
    "yearly growth of its species at its size; measured once, planting date not known",
    "its readings do not follow one curve of growth: wide",
    "as thick already",
    "does not get there",
)
"""How an answer was come by; what `Forecast.method` and `Ready.method` point to."""

UNKNOWN, MEASURED, OWN_CURVE, ONE_READING, NO_READING, OWN_RATE, ONE_SIZE, CONTRADICT, THERE, NEVER = range(10)

CONTRADICTS = 6.0
"""Readings do not follow one curve where they scatter this much more than others of the species, in variance."""

MOST_YEARS = 150.0
"""Nothing is looked for further ahead than this. [years]"""

WIDE_GROWTH = 8.0
"""A forecast of which nothing more is known than that it lies within this factor is not worth saying."""

_MOST_LOG = 100.0
_LOOKS = np.array([0.0, 0.5, 1, 2, 3, 5, 7.5, 10, 14, 19, 25, 33, 45, 60, 80, 110, MOST_YEARS])
_NARROWED = 5


@dataclass(frozen=True, eq=False)
class Forecast:
    """Diameters of trees on a day. All arrays have shape (n,).

    Attributes
    ----------
    on : date
        The day.
    ids : ndarray of int64
        Trees.
    dbh_cm, low_cm, high_cm : ndarray
        Diameter, and the 80 % interval; nan where there is not enough to say. [cm]
    forecast : ndarray of bool
        Whether it is a forecast and not a reading.
    method : ndarray of int8
        How it was come by, as places in ``methods``.
    methods : tuple of str
        The ways, in words.
    """

    on: dt.date
    ids: Ints
    dbh_cm: Floats
    low_cm: Floats
    high_cm: Floats
    forecast: Bools
    method: NDArray[np.int8]
    methods: tuple[str, ...] = METHODS


@dataclass(frozen=True, eq=False)
class Ready:
    """Years in which trees reach a diameter. All arrays have shape (n,).

    Attributes
    ----------
    ids : ndarray of int64
        Trees.
    target_cm : ndarray
        The diameter. [cm]
    year : ndarray
        Year, with its fraction, in which the tree is likeliest to reach it; nan where it never does, or where there
        is not enough to say.
    low, high : ndarray
        80 % interval of that year; inf where it is open, nan where there is not enough to say.
    method : ndarray of int8
        How it was come by, as places in ``methods``.
    methods : tuple of str
        The ways, in words.
    """

    ids: Ints
    target_cm: Floats
    year: Floats
    low: Floats
    high: Floats
    method: NDArray[np.int8]
    methods: tuple[str, ...] = METHODS


def forecast(farm: Farm, on: dt.date, ids: Ints | None = None) -> Forecast:
    """Return the diameter of trees on a day: the latest reading by then, or a forecast after the last one.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date
        The day.
    ids : ndarray of int64, optional
        Trees; all existing ones if not given. An id that is not among those gets "not enough to say".
    """
    return forecast_from(growth_of(farm), on, ids)


def ready(farm: Farm, target_cm: Floats, ids: Ints) -> Ready:
    """Return the year in which trees reach a diameter, with an 80 % interval.

    Parameters
    ----------
    farm : Farm
        The farm.
    target_cm : ndarray, shape (n,)
        The diameter that each is to reach; nan for none. [cm]
    ids : ndarray of int64, shape (n,)
        Trees.
    """
    return ready_from(growth_of(farm), target_cm, ids)


def forecast_from(growth: FarmGrowth, on: dt.date, ids: Ints | None = None) -> Forecast:
    """`forecast` from growth that was worked out; arguments as there."""
    known = growth.readings
    wanted = known.ids if ids is None else np.asarray(ids, np.int64)
    at = growth.places_of(wanted)
    many, year = len(known.ids), float(year_of(np.datetime64(on, "D")))
    middle, low, high = (np.full(many, np.nan) for _ in range(3))
    method = np.zeros(many, np.int8)
    asked = np.zeros(many, bool)
    asked[at[at >= 0]] = True
    last_year = known.last_year
    later = asked & ((last_year < year) | ((known.count == 0) & (known.planted < year)))
    for trees, ahead, ways in _all_ahead(growth):
        rows = np.flatnonzero(later[trees])
        places = trees[rows]
        middle[places], low[places], high[places] = ahead(rows, np.full(len(rows), year))
        method[places] = ways[rows]
    wild = high > WIDE_GROWTH * low
    for values in (middle, low, high):
        values[wild] = np.nan
    method[wild] = UNKNOWN
    read = np.flatnonzero(asked & ~later & (known.count > 0))
    found = _read_by(known, read, year)
    read = read[np.isfinite(found)]
    for values in (middle, low, high):
        values[read] = found[np.isfinite(found)]
    method[read] = MEASURED

    def asked_for(values: NDArray[Any], none: float) -> NDArray[Any]:
        return np.where(at >= 0, values[at], none) if many else np.full(len(at), none)

    ways = asked_for(method, UNKNOWN).astype(np.int8)
    is_forecast = (ways != MEASURED) & (ways != UNKNOWN)
    sizes = [asked_for(values, np.nan) for values in (middle, low, high)]
    return Forecast(on, wanted, sizes[0], sizes[1], sizes[2], is_forecast, ways)


def diameters_at(growth: FarmGrowth, trees: Ints, year: Floats) -> tuple[Floats, Floats, Floats]:
    """Return diameter and 80 % interval of trees, each on a day of its own after its last reading. [cm].

    Parameters
    ----------
    growth : FarmGrowth
        Growth of the farm.
    trees : ndarray of int64, shape (n,)
        Places in ``growth.readings``; a tree may be asked for more than once.
    year : ndarray, shape (n,)
        Days, in years of the calendar.
    """
    out = tuple(np.full(len(trees), np.nan) for _ in range(3))
    for mine, ahead, _ in _all_ahead(growth):
        row = np.full(len(growth.readings.ids), -1)
        row[mine] = np.arange(len(mine))
        asked = np.flatnonzero(row[trees] >= 0)
        for values, found in zip(out, ahead(row[trees[asked]], year[asked]), strict=True):
            values[asked] = found
    return out[0], out[1], out[2]


def _read_by(known: Readings, trees: Ints, year: float) -> Floats:
    """Latest reading of trees by a day, nan where there is none."""
    by_then = np.bincount(known.tree[known.year <= year + 1e-9], minlength=len(known.ids))[trees]
    places = known.first[trees] + by_then - 1
    return np.where(by_then > 0, known.dbh_cm[np.maximum(places, 0)], np.nan)


def _all_ahead(growth: FarmGrowth) -> list[tuple[Ints, Ahead, NDArray[np.int8]]]:
    """For each species and way: its trees, how they are carried on, and the words for each."""
    known, out = growth.readings, []
    for code, (trees, own) in growth.curves.items():
        lead = growth.by_species[code].lead
        assert lead is not None
        ways = np.select(
            [own.strain > CONTRADICTS, known.count[trees] > 1, known.count[trees] == 1],
            [CONTRADICT, OWN_CURVE, ONE_READING],
            NO_READING,
        )
        out.append((trees, _by_curve(lead, own, known.planted[trees]), ways.astype(np.int8)))
    for code, (trees, rates) in growth.rates.items():
        fit = growth.by_species[code].by_size
        assert fit is not None
        ways = np.select([rates.strain > CONTRADICTS, rates.count > 1], [CONTRADICT, OWN_RATE], ONE_SIZE)
        out.append((trees, _by_rate(fit, rates), ways.astype(np.int8)))
    return out


def _by_curve(lead: Lead, own: OwnCurves, planted: Floats) -> Ahead:
    def ahead(rows: NDArray[np.intp], year: Floats) -> tuple[Floats, Floats, Floats]:
        found = carried_on(lead, own.some(rows), year - planted[rows])
        log, aside = found.middle, NORMAL_80 * np.sqrt(found.own + found.shared)
        return np.exp(log), np.exp(log - aside), np.exp(np.minimum(log + aside, _MOST_LOG))

    return ahead


def _by_rate(fit: SizeFit, rates: OwnRates) -> Ahead:
    def ahead(rows: NDArray[np.intp], year: Floats) -> tuple[Floats, Floats, Floats]:
        size, deviation = carried_on_by_size(fit, rates.some(rows), year)
        aside, root = NORMAL_80 * deviation, 1 / fit.power
        return size**root, np.maximum(size - aside, 0.0) ** root, (size + aside) ** root

    return ahead


def ready_from(growth: FarmGrowth, target_cm: Floats, ids: Ints) -> Ready:
    """`ready` from growth that was worked out; arguments as there."""
    known = growth.readings
    ids, target = np.asarray(ids, np.int64), np.asarray(target_cm, np.float64)
    at = growth.places_of(ids)
    year, low, high = (np.full(len(ids), np.nan) for _ in range(3))
    method = np.zeros(len(ids), np.int8)
    wanted = (at >= 0) & (target > 0)
    last = np.full(len(ids), np.nan)
    last[at >= 0] = known.last_cm[at[at >= 0]]
    there = np.flatnonzero(wanted & (last >= target))
    since = _first_at(known, at[there], target[there])
    year[there] = low[there] = high[there] = since
    method[there] = THERE
    wanted[there] = False
    for trees, ahead, ways in _all_ahead(growth):
        row = np.full(len(known.ids), -1)
        row[trees] = np.arange(len(trees))
        mine = np.flatnonzero(wanted & (at >= 0))
        mine = mine[row[at[mine]] >= 0]
        rows = row[at[mine]]
        start = np.where(known.count[trees] > 0, known.last_year[trees], known.planted[trees])[rows]
        found = _crossings(ahead, rows, start, target[mine])
        year[mine] = np.where(np.isfinite(found[0]), found[0], np.nan)
        low[mine], high[mine] = found[1], found[2]
        method[mine] = np.where(np.isfinite(found[0]), ways[rows], NEVER)
    return Ready(ids, target, year, low, high, method)


def _first_at(known: Readings, trees: Ints, target: Floats) -> Floats:
    """First day on which trees were read to be so thick, in years."""
    wanted = np.full(len(known.ids), np.inf)
    wanted[trees] = target
    out = np.full(len(known.ids), np.inf)
    reached = known.dbh_cm >= wanted[known.tree]
    np.minimum.at(out, known.tree[reached], known.year[reached])
    return out[trees]


def _crossings(ahead: Ahead, rows: NDArray[np.intp], start: Floats, target: Floats) -> tuple[Floats, Floats, Floats]:
    """Years in which middle, high and low reach the target, inf where one does not within `MOST_YEARS`.

    The first of the looks ahead at which one is there is found, and then narrowed by regula falsi (the Illinois form).
    """
    before, after = np.zeros((3, len(rows))), np.full((3, len(rows)), np.inf)
    short, past = np.zeros((3, len(rows))), np.zeros((3, len(rows)))
    left = np.arange(len(rows))
    for look in _LOOKS:
        if not len(left):
            break
        middle, low, high = ahead(rows[left], start[left] + look)
        for which, size in enumerate((middle, high, low)):
            apart = size - target[left]
            new = np.isinf(after[which, left])
            there, not_yet = left[new & (apart >= 0)], left[new & (apart < 0)]
            after[which, there], past[which, there] = look, apart[new & (apart >= 0)]
            before[which, not_yet], short[which, not_yet] = look, apart[new & (apart < 0)]
        left = left[np.isinf(after[:, left]).any(axis=0)]
    out = [
        _narrowed(ahead, rows, start, target, place, *(one[which] for one in (before, after, short, past)))
        for which, place in enumerate((0, 2, 1))
    ]
    return out[0], out[1], out[2]


def _narrowed(
    ahead: Ahead,
    rows: NDArray[np.intp],
    start: Floats,
    target: Floats,
    place: int,
    before: Floats,
    after: Floats,
    short: Floats,
    past: Floats,
) -> Floats:
    """Return the year of crossing between two looks; ``place`` says which of what ``ahead`` gives is meant."""
    out = np.where(after == 0, start, np.inf)
    some = np.flatnonzero(np.isfinite(after) & (after > 0))
    low, high, at_low, at_high = before[some], after[some], short[some], past[some]
    for _ in range(_NARROWED):
        guess = np.clip(high - at_high * (high - low) / (at_high - at_low), low, high)
        size = ahead(rows[some], start[some] + guess)[place] - target[some]
        up = size >= 0
        at_low, at_high = np.where(up, at_low / 2, size), np.where(up, size, at_high / 2)
        low, high = np.where(up, low, guess), np.where(up, guess, high)
    out[some] = start[some] + high - at_high * (high - low) / (at_high - at_low)
    return out
