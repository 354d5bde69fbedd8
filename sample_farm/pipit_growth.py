"""How the trees of Pipit Downs grew, and what tape and pole said of it on the days of the surveys.

No farm has years that are all alike, so the stems of all trees grow more in wet
years and less in dry ones: by a tenth, in standard deviation, as rings of
trees of one district commonly differ from year to year together (common
practice: 10 to 30 %). Heights follow the years less and are left as they are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pipit_ground import Ground
from pipit_trees import PLANTINGS, Planting

from farmmap.farm.dates import DAYS_A_YEAR, middles_of, years_between

BREAST_HEIGHT_M = 1.4
WEATHER_SEED = 20_261_127
WEATHER = 0.10
"""Standard deviation of the logarithm of a year's growth in diameter, the same for all trees."""

FIRST_YEAR, LAST_YEAR = 1500, 2030
"""Years for which the weather is made up; the oldest tree of the remnant is younger than that."""

THINNED_ON = np.datetime64("2016-06-21")
"""Day on which the thinning of Ridge Pines began, after the survey of that year."""


@dataclass(frozen=True)
class Growth:
    """Invented growth of one species: both curves are of the form most (1 - exp(-rate age))^shape.

    Attributes
    ----------
    dbh_cm, dbh_rate, dbh_shape : float
        Diameter in the end [cm], its rate [1/year] and shape.
    height_m, height_rate, height_shape : float
        The same for the height. [m]
    crown_per_cm : float
        Crown diameter for each cm of stem. [m/cm]
    many_stems : float
        Share of trees with more than one stem.
    """

    dbh_cm: float
    dbh_rate: float
    dbh_shape: float
    height_m: float
    height_rate: float
    height_shape: float
    crown_per_cm: float
    many_stems: float = 0.0


GROWTH = {
    "PRAD": Growth(68, 0.075, 1.5, 42, 0.070, 1.4, 0.16),
    "SSEM": Growth(92, 0.045, 1.4, 45, 0.045, 1.3, 0.15),
    "HLUS": Growth(68, 0.060, 1.4, 34, 0.055, 1.3, 0.17),
    "HMAC": Growth(76, 0.060, 1.3, 30, 0.055, 1.2, 0.17),
    "EGLI": Growth(58, 0.070, 1.3, 34, 0.070, 1.2, 0.19),
    "EBOS": Growth(48, 0.068, 1.3, 32, 0.065, 1.2, 0.19),
    "AMEL": Growth(58, 0.050, 1.3, 28, 0.055, 1.2, 0.21, 0.10),
    "ADEA": Growth(42, 0.090, 1.2, 22, 0.100, 1.2, 0.20, 0.15),
    "PCAN": Growth(72, 0.065, 1.2, 33, 0.075, 1.1, 0.20),
    "SMAT": Growth(58, 0.070, 1.2, 22, 0.090, 1.1, 0.22, 0.12),
    "SALB": Growth(54, 0.065, 1.2, 22, 0.085, 1.1, 0.22, 0.15),
    "QROB": Growth(78, 0.028, 1.2, 28, 0.035, 1.2, 0.22),
    "PAVI": Growth(52, 0.040, 1.2, 24, 0.050, 1.2, 0.20),
    "AGLU": Growth(40, 0.050, 1.2, 21, 0.065, 1.2, 0.20, 0.15),
    "JNIG": Growth(58, 0.045, 1.2, 26, 0.055, 1.2, 0.21),
    "JREG": Growth(50, 0.042, 1.2, 20, 0.055, 1.2, 0.23),
    "PTOT": Growth(90, 0.012, 1.2, 24, 0.022, 1.3, 0.14),
    "DDAC": Growth(100, 0.013, 1.2, 36, 0.022, 1.3, 0.12),
    "KROB": Growth(32, 0.030, 1.1, 13, 0.045, 1.1, 0.19, 0.18),
    "SMIC": Growth(45, 0.022, 1.1, 12, 0.045, 1.1, 0.20, 0.10),
    "MRAM": Growth(36, 0.025, 1.1, 10, 0.050, 1.1, 0.22, 0.15),
    "LSCO": Growth(13, 0.110, 1.2, 6.5, 0.130, 1.2, 0.24, 0.20),
    "PREG": Growth(38, 0.050, 1.2, 14, 0.090, 1.2, 0.20),
    "CAUS": Growth(34, 0.055, 1.2, 10, 0.070, 1.2, 0.12, 0.12),
}
"""Invented figures, chosen so that the stands look like what farm foresters know."""

PRUNED = {
    "PRAD": ((2009, 2.2), (2010, 4.3), (2012, 6.0)),
    "SSEM": ((2015, 2.4), (2017, 4.2), (2020, 6.0)),
    "HLUS": ((2016, 2.4), (2018, 4.5), (2021, 6.0)),
    "EGLI": ((2018, 3.0), (2020, 6.2)),
    "EBOS": ((2018, 2.8), (2020, 5.0)),
    "AMEL": ((2017, 2.5), (2020, 4.4), (2023, 6.0)),
    "PCAN": ((2015, 2.0), (2019, 4.0)),
    "JNIG": ((2018, 2.2), (2021, 3.6), (2024, 4.8)),
}
"""Year and height of each lift, by species."""


def grown(trees: pd.DataFrame, where: Ground, rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Let the trees grow and measure them.

    Parameters
    ----------
    trees : DataFrame
        As `pipit_trees.all_trees` gives them.
    where : Ground
        The ground they stand on.
    rng : Generator
        Source of chance.

    Returns
    -------
    trees : DataFrame
        With ``stems``, ``status`` and ``status_on`` besides.
    measurements : DataFrame
        Rows of `farmmap.farm.schema.MEASUREMENTS`; ``tree`` is the position in ``trees``.
    """
    trees = trees.copy()
    many = rng.random(len(trees)) < np.array([GROWTH[code].many_stems for code in trees["species"]])
    trees["stems"] = np.where(many & (trees["stage"] == "existing"), rng.integers(2, 5, len(trees)), 1)
    trees["status"], trees["status_on"] = "alive", np.full(len(trees), "NaT", "datetime64[s]")
    parts = []
    for planting in PLANTINGS:
        if planting.surveys:
            who = np.flatnonzero((trees["block"] == planting.block) & (trees["stage"] == "existing"))
            parts.append(_measured(planting, where.blocks[planting.block].area / 1e4, trees, who, rng))
    return trees, pd.concat(parts, ignore_index=True)


def _measured(
    planting: Planting, area_ha: float, trees: pd.DataFrame, who: NDArray[np.int64], rng: np.random.Generator
) -> pd.DataFrame:
    days = np.array(planting.surveys, "datetime64[D]")
    own = trees.iloc[who]
    vigour = np.exp(rng.normal(0, 0.13, len(own))) * _room(own)
    age = _ages(own, days, rng)
    dbh_cm = _curve(own, _usual_years(days, age), "dbh") * vigour[:, None]
    dbh_cm += np.cumsum(rng.normal(0, 0.012, dbh_cm.shape) * np.maximum(np.diff(dbh_cm, prepend=0, axis=1), 0), axis=1)
    height_m = _curve(own, age, "height") * (vigour**0.5)[:, None] * np.exp(rng.normal(0, 0.05, len(own)))[:, None]
    _fates(planting, trees, who, dbh_cm, rng)
    gone = trees["status_on"].to_numpy()[who].astype("datetime64[D]")
    never = (trees["status"].to_numpy()[who] == "dead") & np.isnat(gone)
    pruned = rng.random(len(own)) < 0.65
    heights = _with_height(planting, area_ha, dbh_cm, rng)
    crowns = rng.random(len(own)) < 0.1
    rows = []
    for survey, day in enumerate(days):
        there = ~never & (np.isnat(gone) | (gone > day)) & (rng.random(len(own)) > 0.03)
        taken = np.flatnonzero(there & ((height_m[:, survey] > BREAST_HEIGHT_M) | heights))
        rows.append(
            _tape(own.iloc[taken], who[taken], day, dbh_cm[taken, survey], height_m[taken, survey], heights[taken], rng)
        )
        newest = survey >= len(days) - 2
        first = (rows[-1]["stem"] == 1).to_numpy()
        _crowns_and_lifts(rows[-1], first, own.iloc[taken], crowns[taken] & newest, pruned[taken], day, rng)
    return pd.concat(rows, ignore_index=True)


def _with_height(
    planting: Planting, area_ha: float, dbh_cm: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.bool_]:
    chance = rng.random(len(dbh_cm))
    if planting.heights == "thickest":
        rank = np.argsort(np.argsort(-dbh_cm[:, -1]))
        return (rank < 100 * area_ha) | (chance < 0.12)
    return chance < (0.9 if planting.heights == "most" else 0.2)


def _ages(own: pd.DataFrame, days: NDArray[np.datetime64], rng: np.random.Generator) -> NDArray[np.float64]:
    planted = middles_of(own["planted"])
    age = np.stack([years_between(planted, day) for day in days], axis=1)
    if np.isnan(age).any():
        # a remnant is of all ages, most of them young
        born = rng.gamma(2.2, 26, len(own)) + 18
        age = born[:, None] + years_between(np.full(len(days), days[0]), days)[None, :]
    return np.maximum(age, 0)


def _usual_years(days: NDArray[np.datetime64], age: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how many usual years of growth in diameter the years from planting to each day were worth.

    A year of growth runs from July to June.
    """
    starts = np.arange(FIRST_YEAR, LAST_YEAR + 1) + 0.5
    worth = np.exp(np.random.default_rng(WEATHER_SEED).normal(0, WEATHER, len(starts) - 1))
    so_far = np.append(0.0, np.cumsum(worth))
    now = 1970 + days.astype("datetime64[D]").astype(int) / DAYS_A_YEAR
    return np.interp(now[None, :], starts, so_far) - np.interp(now[None, :] - age, starts, so_far)


def _curve(own: pd.DataFrame, age: NDArray[np.float64], what: str) -> NDArray[np.float64]:
    unit = {"dbh": "dbh_cm", "height": "height_m"}[what]
    most, rate, shape = (
        np.array([getattr(GROWTH[code], name) for code in own["species"]])[:, None]
        for name in (unit, f"{what}_rate", f"{what}_shape")
    )
    return most * (1 - np.exp(-rate * age)) ** shape


def _room(own: pd.DataFrame) -> NDArray[np.float64]:
    """Return the growth that neighbours leave a tree, about 1: less where more of them stand within 9 m."""
    points = shapely.points(own["x"], own["y"])
    one, _ = shapely.STRtree(points).query(points, predicate="dwithin", distance=9.0)
    neighbours = np.bincount(one, minlength=len(own)) - 1
    return np.clip(1 - 0.018 * (neighbours - neighbours.mean()), 0.75, 1.25)


def _fates(
    planting: Planting,
    trees: pd.DataFrame,
    who: NDArray[np.int64],
    dbh_cm: NDArray[np.float64],
    rng: np.random.Generator,
) -> None:
    status, status_on = trees["status"].to_numpy().copy(), trees["status_on"].to_numpy().copy()
    days = np.array(planting.surveys, "datetime64[D]")
    if planting.block == "Ridge Pines":
        seen = dbh_cm[:, 1] * np.exp(rng.normal(0, 0.12, len(who)))
        thinned = who[seen < np.quantile(seen, 0.42)]
        status[thinned] = "felled"
        status_on[thinned] = THINNED_ON + rng.integers(0, 9, len(thinned)).astype("timedelta64[D]")
    alive = who[status[who] == "alive"]
    died = alive[rng.random(len(alive)) < (0.05 if planting.stock == "pole" else 0.022)]
    span = int((np.datetime64("2026-03-01") - days[0]).astype(int))
    when = days[0] + rng.integers(20, max(span, 21), len(died)).astype("timedelta64[D]")
    unknown = rng.random(len(died)) < 0.15
    if span > 0:
        status[died] = "dead"
        status_on[died] = np.where(unknown, np.datetime64("NaT"), when)
    trees["status"], trees["status_on"] = status, status_on


def _tape(
    own: pd.DataFrame, who: NDArray[np.int64], day: np.datetime64, dbh_cm: NDArray[np.float64],
    height_m: NDArray[np.float64], heights: NDArray[np.bool_], rng: np.random.Generator,
) -> pd.DataFrame:  # fmt: skip
    stems = own["stems"].to_numpy()
    # most trees of several stems were measured stem by stem, some by one stem that stands for all
    by_stem = np.where((stems > 1) & (who % 4 > 0), stems, 1)
    at = np.repeat(np.arange(len(own)), by_stem)
    stem = np.arange(len(at)) - np.repeat(np.cumsum(by_stem) - by_stem, by_stem) + 1
    share = 1 / np.sqrt(stems[at]) * np.exp(np.where(stems[at] > 1, rng.normal(0, 0.12, len(at)), 0))
    tape = dbh_cm[at] * share + rng.normal(0, 0.25, len(at))
    tape = np.where((height_m[at] > BREAST_HEIGHT_M) & (tape >= 0.5), np.round(tape, 1), np.nan)
    pole = np.round(height_m[at] * (1 + rng.normal(0, 0.02, len(at))), 1)
    return pd.DataFrame({
        "tree": who[at],
        "measured_on": np.full(len(at), day).astype("datetime64[s]"),
        "stem": stem,
        "dbh_cm": tape,
        "height_m": np.where(heights[at] & (stem == 1), np.maximum(pole, 0.2), np.nan),
        "crown_m": np.nan,
        "pruned_m": np.nan,
    }).dropna(subset=["dbh_cm", "height_m"], how="all", ignore_index=True)  # fmt: skip


def _crowns_and_lifts(
    rows: pd.DataFrame, first: NDArray[np.bool_], own: pd.DataFrame, crowns: NDArray[np.bool_],
    pruned: NDArray[np.bool_], day: np.datetime64, rng: np.random.Generator,
) -> None:  # fmt: skip
    about = pd.DataFrame({"species": own["species"].to_numpy(), "crowns": crowns, "pruned": pruned}, index=own.index)
    about = about.loc[rows["tree"]].reset_index(drop=True)
    wide = np.array([GROWTH[code].crown_per_cm for code in about["species"]]) * rows["dbh_cm"] + 0.6
    rows["crown_m"] = np.where(
        about["crowns"] & first, np.round(wide * np.exp(rng.normal(0, 0.1, len(rows))), 1), np.nan
    )
    year = day.astype("datetime64[Y]").astype(int) + 1970
    lifts = {code: [height for when, height in steps if when < year] for code, steps in PRUNED.items()}
    lifted = np.array([max(lifts.get(code, []), default=np.nan) for code in about["species"]])
    rows["pruned_m"] = np.where(about["pruned"] & first & rows["dbh_cm"].notna(), lifted, np.nan)
