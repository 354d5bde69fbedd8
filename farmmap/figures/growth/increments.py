"""Increment of every tree: what it put on in a mean year since planting, and lately, from the days of its readings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.farm.dates import DAYS_A_YEAR, half_spans_of, middles_of
from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of, rows_at
from farmmap.figures.growth.limits import LEAST_YEARS, fastest_believed, tape_error_cm, thickest_believed_cm
from farmmap.figures.remembered import Remembered
from farmmap.figures.stand import dbh_from_basal_area_cm
from farmmap.figures.standing import there_on
from farmmap.figures.tape import tape_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]
Bools = NDArray[np.bool_]
Days = NDArray[np.datetime64]

FAIR_YEARS = 1.75
"""From here on two readings are a fair time apart: two growing seasons. Common practice. [years]"""

POLE = "pole"
"""Stock that stands above breast height on the day it is planted."""

ENOUGH_HEIGHTS = 5
"""Trees of a species and stock whose years up to breast height speak for the others."""

_ROOM_DAYS = 1 << 20
"""More than any two days of a farm lie apart; keeps the readings of one tree apart from the next. [days]"""


class Doubt(IntEnum):
    """What is to be said of a tree's recent increment."""

    NONE = 0
    NOT_MEASURED = 1
    ONE_READING = 2
    TOO_CLOSE = 3
    TAKEN_OTHERWISE = 4
    SHRANK = 5
    JUMPED = 6
    TOO_THICK = 7
    PLANTED_LATER = 8


DOUBT_WORDS = {
    Doubt.NONE: "",
    Doubt.NOT_MEASURED: "not measured",
    Doubt.ONE_READING: "one reading only",
    Doubt.TOO_CLOSE: "readings less than nine months apart",
    Doubt.TAKEN_OTHERWISE: "earlier readings at another height, or of another number of stems",
    Doubt.SHRANK: "read less than before: look whether it is the same tree",
    Doubt.JUMPED: "read more than it can have grown: look whether it is the same tree",
    Doubt.TOO_THICK: "thicker than it can be at its age: look at the reading, its unit and the planting date",
    Doubt.PLANTED_LATER: "measured before it was planted: look at the planting date",
}


@dataclass(frozen=True, eq=False)
class Spans:
    """Growth between two readings of a tree a fair time apart; all spans of a farm, none over another of its tree.

    Attributes
    ----------
    tree : ndarray of int64, shape (n,)
        Ids of the trees.
    start, end : ndarray of datetime64[D]
        Days of the two readings.
    years : ndarray
        Between them. [years]
    from_cm, to_cm : ndarray
        The two diameters, of several stems the quadratic mean. [cm]
    to_m2 : ndarray
        Basal area at the later one, all stems together. [m²]
    cm, m2 : ndarray
        Growth of diameter and basal area in a year; basal area of all stems together. [cm/year, m²/year]
    doubt : ndarray of int8
        `Doubt`: NONE, SHRANK or JUMPED.
    """

    tree: Ints
    start: Days
    end: Days
    years: Floats
    from_cm: Floats
    to_cm: Floats
    to_m2: Floats
    cm: Floats
    m2: Floats
    doubt: NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class Increments:
    """Increments of the trees that stand on a day; all arrays have shape (n,), in the order of the ids.

    Attributes
    ----------
    on : date
        The day.
    places, ids : ndarray of int64
        Rows of ``farm.trees``, and ids of the trees.
    dbh_cm, basal_area_m2 : ndarray
        At the last reading on or before the day; nan where there is none. [cm, m²]
    measured_on : ndarray of datetime64[D]
        Day of that reading.
    readings : ndarray of int64
        Days on which a diameter was taken.
    age_years : ndarray
        Age at the last reading from planting; nan where the planting is not known. [years]
    breast_age_years : ndarray
        The same from the day it was as high as breast height: between two heights, for a pole the day of planting, else
        as long after planting as others of its species and stock took; nan where none of these is known. [years]
    mean_cm, mean_m2 : ndarray
        Mean annual increment: diameter and basal area over the age from planting, or from breast height where the
        planting is not known; nan of a tree that is thicker than it can be at its age. [cm/year, m²/year]
    age_from : ndarray of str
        Which age that was: ``planting``, ``breast height`` or "".
    recent_cm, recent_m2 : ndarray
        Periodic annual increment between the last two readings a fair time apart. [cm/year, m²/year]
    recent_years, recent_error_cm : ndarray
        Years between them, and by how much a year the tape alone can have made it wrong. [years, cm/year]
    recent_from : ndarray of datetime64[D]
        Day of the earlier one.
    doubt : ndarray of int8
        `Doubt` of the recent increment.
    spans : Spans
        All spans of all trees, felled ones too.
    """

    on: dt.date
    places: Ints
    ids: Ints
    dbh_cm: Floats
    basal_area_m2: Floats
    measured_on: Days
    readings: Ints
    age_years: Floats
    breast_age_years: Floats
    mean_cm: Floats
    mean_m2: Floats
    age_from: NDArray[np.str_]
    recent_cm: Floats
    recent_m2: Floats
    recent_years: Floats
    recent_error_cm: Floats
    recent_from: Days
    doubt: NDArray[np.int8]
    spans: Spans

    def __len__(self) -> int:
        return len(self.ids)

    @cached_property
    def doubt_words(self) -> list[str]:
        """What is to be said of each tree's recent increment, "" for nothing."""
        words = np.array([DOUBT_WORDS[doubt] for doubt in Doubt], object)
        return words[self.doubt].tolist()


_INCREMENTS: Remembered[Increments] = Remembered(3)


def increments(farm: Farm, on: dt.date) -> Increments:
    """Return the increments of the trees that stand on a day, by the readings up to that day.

    The recent increment is taken between the last reading and the one before
    it that is at least `FAIR_YEARS` older, or failing that the oldest that is
    at least `LEAST_YEARS` older: between readings a year apart the error of
    the tape is as large as a year's growth, and the increments of one tree
    swing from next to nothing to twice its mean. Readings at another breast
    height or of another number of stems are not compared.

    A tree that was read thinner by more than the tape may err, or thicker than
    it can have grown, keeps that figure, with its `Doubt`. One that is thicker
    than it can be at its age, poles apart, or was read before it was planted, has
    no mean increment.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date
        The day.
    """
    key = (farm.trees, farm.measurements, farm.species)
    return _INCREMENTS.get(key, (on, farm.settings.breast_height_m), lambda: _work_out(farm, on))


def planted_days(farm: Farm) -> Days:
    """Return the day of planting of every tree, the middle of what is known of it, NaT if nothing is. Shape (n,)."""
    return middles_of(columns_of(farm.trees)["planted"])


def thicker_than_can_be(farm: Farm, places: Places, dbh_cm: Floats, measured_on: Days) -> Bools:
    """Whether trees were read thicker than they can be at their age, as `thickest_believed_cm` says; never a pole.

    Parameters
    ----------
    farm : Farm
        The farm.
    places : ndarray of int, shape (n,)
        Rows of ``farm.trees``.
    dbh_cm : ndarray, shape (n,)
        Diameters; nan where there is none. [cm]
    measured_on : ndarray of datetime64[D], shape (n,)
        Days on which they were taken.
    """
    trees = columns_of(farm.trees)
    age = _since(_as_days(middles_of(rows_at(trees["planted"], places))), _as_days(measured_on))
    return (dbh_cm > thickest_believed_cm(age)) & np.asarray(rows_at(trees["stock"], places) != POLE, bool)


def kinds_of(farm: Farm) -> Ints:
    """Return a number for each tree that is the same for trees of one species and stock, shape (n,)."""
    trees = columns_of(farm.trees)
    species, _ = pd.factorize(trees["species"])
    stock, stocks = pd.factorize(trees["stock"])
    return species.astype(np.int64) * max(len(stocks), 1) + stock


def breast_days(farm: Farm, on: dt.date) -> Floats:
    """Return the day on which each tree reached breast height, as days since 1970; nan where not known. Shape (n,).

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date
        The last day whose heights count.
    """
    trees = columns_of(farm.trees)
    planted = _as_days(planted_days(farm))
    stock = np.asarray(trees["stock"], object)
    kind = kinds_of(farm)
    reached = _reached(farm, np.datetime64(on, "D"))
    pole = stock == POLE
    reached[pole] = planted[pole]
    took = (reached - planted)[~pole]
    known = np.isfinite(took)
    by_kind = pd.Series(took[known]).groupby(kind[~pole][known]).agg(["median", "size"])
    usual = by_kind["median"].where(by_kind["size"] >= ENOUGH_HEIGHTS)
    guess = planted + usual.reindex(kind).to_numpy(np.float64)
    return np.where(np.isnan(reached), guess, reached)


def _reached(farm: Farm, on: np.datetime64) -> Floats:
    """Day on which a tree reached breast height, between the last height below it and the first that is not."""
    out = np.full(len(farm.trees), np.nan)
    tree, day, height = tape_of(farm.measurements).all_readings("height_m")
    breast = farm.settings.breast_height_m
    first = np.flatnonzero((height >= breast) & (day <= on))
    first = first[np.append(True, tree[first][1:] != tree[first][:-1])] if len(first) else first
    before = first - 1
    both = (before >= 0) & (tree[before] == tree[first]) & (height[before] < breast)
    first, before = first[both], before[both]
    share = (breast - height[before]) / (height[first] - height[before])
    days = _as_days(day[before]) + share * (_as_days(day[first]) - _as_days(day[before]))
    rows = farm.trees.index.get_indexer(tree[first])
    out[rows[rows >= 0]] = days[rows >= 0]
    return out


@dataclass(frozen=True, eq=False)
class _Taken:
    """Diameters up to a day that are believed, in the order of series and day.

    A series holds the readings of one tree that can be compared.
    """

    series: Ints
    tree: Ints
    day: Ints
    basal_m2: Floats
    dbh_cm: Floats


def _taken(farm: Farm, on: np.datetime64) -> _Taken:
    """Diameters up to a day; a tree lower than breast height has none, as everywhere."""
    tape = tape_of(farm.measurements)
    found = tape.all_diameters()
    stems = pd.Series(np.asarray(columns_of(farm.trees)["stems"], np.int64), index=farm.trees.index)
    at = np.where(np.isnan(found.breast_height_m), farm.settings.breast_height_m, found.breast_height_m)
    keep = (found.day <= on) & ~(_height_then(*tape.all_readings("height_m"), found.tree, found.day) < at)
    tree, day, count, at = found.tree[keep], found.day[keep].astype(np.int64), found.count[keep], at[keep]
    basal = found.basal_area_m2[keep]
    stand_for = np.maximum(stems.reindex(tree).fillna(1).to_numpy(np.int64), 1)
    many = np.where(count == 1, stand_for, count)
    order = np.lexsort((day, many, at, tree))
    tree, day, many, count = tree[order], day[order], many[order], count[order]
    at, basal = at[order], basal[order]
    new = np.append(True, (tree[1:] != tree[:-1]) | (at[1:] != at[:-1]) | (many[1:] != many[:-1]))[: len(tree)]
    return _Taken(np.cumsum(new) - 1, tree, day, basal * (many / count), dbh_from_basal_area_cm(basal / count))


def _height_then(tree: Ints, day: Days, height: Floats, of: Ints, on: Days) -> Floats:
    """Latest height of trees on or before days; nan where there is none. Shape (k,)."""
    if not len(tree):
        return np.full(len(of), np.nan)
    place = np.searchsorted(_key(tree, day.astype(np.int64)), _key(of, on.astype(np.int64)), side="right") - 1
    inside = np.maximum(place, 0)
    return np.where((place >= 0) & (tree[inside] == of), height[inside], np.nan)


def _key(group: Ints, day: Ints) -> Ints:
    return group * _ROOM_DAYS + day + _ROOM_DAYS // 2


def _partners(taken: _Taken) -> Places:
    """For each reading the earlier one that it is compared with, -1 for none."""
    key = _key(taken.series, taken.day)
    start = np.searchsorted(taken.series, taken.series)
    fair = np.searchsorted(key, key - int(FAIR_YEARS * DAYS_A_YEAR), side="right") - 1
    oldest_fits = (taken.day - taken.day[start]) >= LEAST_YEARS * DAYS_A_YEAR
    return np.where(fair >= start, fair, np.where(oldest_fits, start, -1))


def _spans(taken: _Taken, partner: Places, fastest: Floats | None = None) -> tuple[Spans, Places]:
    """Spans from the last reading of each series back to its first, and the place of the later reading of each."""
    ends, starts = [], []
    at = (
        np.flatnonzero(np.append(taken.series[1:] != taken.series[:-1], True))
        if len(taken.series)
        else np.empty(0, int)
    )
    while len(at := at[partner[at] >= 0]):
        ends.append(at)
        starts.append(partner[at])
        at = partner[at]
    end = np.concatenate([*ends, np.empty(0, np.intp)]).astype(np.intp)
    start = np.concatenate([*starts, np.empty(0, np.intp)]).astype(np.intp)
    years = (taken.day[end] - taken.day[start]) / DAYS_A_YEAR
    before, after = taken.dbh_cm[start], taken.dbh_cm[end]
    error = tape_error_cm(np.maximum(before, after))
    grown = after - before
    doubt = np.where(grown < -error, Doubt.SHRANK, Doubt.NONE).astype(np.int8)
    if fastest is not None:
        doubt[grown - error > fastest[end] * years] = Doubt.JUMPED
    spans = Spans(
        taken.tree[end],
        taken.day[start].astype("datetime64[D]"),
        taken.day[end].astype("datetime64[D]"),
        years,
        before,
        after,
        taken.basal_m2[end],
        grown / years,
        (taken.basal_m2[end] - taken.basal_m2[start]) / years,
        doubt,
    )
    return spans, end


def _fastest(farm: Farm, spans: Spans, tree: Ints) -> Floats:
    """Greatest believed growth of the species of each reading, by all spans of the farm. [cm/year]."""
    species, _ = pd.factorize(columns_of(farm.trees)["species"])
    code = pd.Series(species, index=farm.trees.index)
    of_span = code.reindex(spans.tree).fillna(-1).to_numpy(np.int64)
    most = {int(one): fastest_believed(growth.to_numpy()) for one, growth in pd.Series(spans.cm).groupby(of_span)}
    alone = fastest_believed(np.empty(0))
    of_reading = code.reindex(tree).fillna(-1).to_numpy(np.int64)
    table = np.array([most.get(one, alone) for one in range(-1, int(of_reading.max(initial=-1)) + 1)])
    return table[of_reading + 1]


def _work_out(farm: Farm, on: dt.date) -> Increments:
    day = np.datetime64(on, "D")
    places = np.flatnonzero(there_on(farm.trees, day)).astype(np.int64)
    ids = farm.trees.index.to_numpy(np.int64)[places]
    taken = _taken(farm, day)
    partner = _partners(taken)
    rough, _ = _spans(taken, partner)
    spans, end = _spans(taken, partner, _fastest(farm, rough, taken.tree))
    first, last, readings = _ends(taken, ids)
    has = last >= 0
    at = last[has]
    span_of = np.full(len(taken.tree) + 1, -1)
    span_of[end] = np.arange(len(end))
    span = np.where(has, span_of[last], -1)
    lone = readings == 1
    series_size = np.bincount(taken.series, minlength=1)
    alone = np.zeros(len(ids), bool)
    alone[has] = series_size[taken.series[at]] == 1
    doubt = np.select(
        [~has, lone, alone, span < 0],
        [Doubt.NOT_MEASURED, Doubt.ONE_READING, Doubt.TAKEN_OTHERWISE, Doubt.TOO_CLOSE],
        0,
    )
    fits = span >= 0
    doubt[fits] = spans.doubt[span[fits]]
    dbh, basal = _spread(has, taken.dbh_cm[at]), _spread(has, taken.basal_m2[at])
    measured = _spread(has, taken.day[at].astype(np.float64))
    planted = rows_at(columns_of(farm.trees)["planted"], places)
    age = _since(_as_days(middles_of(planted)), measured)
    breast_age = _since(breast_days(farm, on)[places], measured)
    used = np.where(np.isnan(age), breast_age, age)
    used = np.where(used > 0, used, np.nan)
    too_thick = thicker_than_can_be(farm, places, dbh, _days(measured))
    doubt[too_thick] = Doubt.TOO_THICK
    earliest = _as_days(middles_of(planted)) - half_spans_of(planted) * DAYS_A_YEAR
    planted_later = _spread(has, taken.day[first[has]].astype(np.float64)) < earliest
    doubt[planted_later] = Doubt.PLANTED_LATER
    believed = np.where(too_thick | planted_later, np.nan, used)
    age_from = np.where(np.isnan(used), "", np.where(np.isnan(age), "breast height", "planting"))
    years = _spread(fits, spans.years[span[fits]])
    error = tape_error_cm(dbh) / years
    return Increments(
        on=on,
        places=places,
        ids=ids,
        dbh_cm=dbh,
        basal_area_m2=basal,
        measured_on=_days(measured),
        readings=readings,
        age_years=age,
        breast_age_years=breast_age,
        mean_cm=dbh / believed,
        mean_m2=basal / believed,
        age_from=age_from,
        recent_cm=_spread(fits, spans.cm[span[fits]]),
        recent_m2=_spread(fits, spans.m2[span[fits]]),
        recent_years=years,
        recent_error_cm=error,
        recent_from=_days(_spread(fits, spans.start[span[fits]].astype(np.int64).astype(np.float64))),
        doubt=doubt.astype(np.int8),
        spans=spans,
    )


def _ends(taken: _Taken, ids: Ints) -> tuple[Places, Places, Ints]:
    """Places of the first and the last reading of each tree, -1 for none, and how many days it was read on."""
    order = np.lexsort((taken.day, taken.tree))
    tree = taken.tree[order]
    after = np.searchsorted(tree, ids, side="right")
    readings = after - np.searchsorted(tree, ids)
    if not len(tree):
        return np.full(len(ids), -1), np.full(len(ids), -1), readings.astype(np.int64)
    first, last = (
        np.where(readings > 0, order[np.clip(at, 0, len(tree) - 1)], -1) for at in (after - readings, after - 1)
    )
    return first, last, readings.astype(np.int64)


def _since(start: Floats, end: Floats) -> Floats:
    """Years from one day to another, nan where either is not known, and at least 0."""
    return np.maximum((end - start) / DAYS_A_YEAR, 0.0)


def _spread(where: Bools, values: Floats) -> Floats:
    out = np.full(len(where), np.nan)
    out[where] = values
    return out


def _as_days(days: Days) -> Floats:
    """Days since 1970, nan for none."""
    whole = days.astype("datetime64[D]")
    return np.where(np.isnat(whole), np.nan, whole.astype(np.int64).astype(np.float64))


def _days(days: Floats) -> Days:
    out = np.full(len(days), np.datetime64("NaT", "D"))
    known = np.isfinite(days)
    out[known] = days[known].astype(np.int64).astype("datetime64[D]")
    return out
