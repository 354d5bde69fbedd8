"""Invented stands quite unlike each other, and unlike what is fitted to them, for back-tests of the forecasts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.growth.curves import CURVES
from farmmap.figures.growth.readings import Readings
from tests.outside.repeat_readings import readings

Floats = NDArray[np.float64]

YEARS, LAST = 250, 200
"""Years that are made up, and the one of the last survey."""


@dataclass(frozen=True)
class Stands:
    """A kind of farm.

    Attributes
    ----------
    weather, own_weather : float
        Standard deviation of the logarithm of a year's growth, of all trees and of those of one species besides.
    lasts : float
        Correlation of the weather of one year with that of the next.
    wander : float
        Standard deviation of the logarithm of a tree's own growth; it comes and goes over some years.
    trees, surveys, gaps : tuple of int
        Least and most trees of a species, surveys, and years between two of these.
    ages : int
        Years over which the trees of a species were planted.
    thinned : float
        By how much growth rises after a thinning, which fades.
    closing : float
        By how much growth falls each year from some time on, beyond the curve.
    power : bool
        Growth by a power of the age, without an end, rather than by a curve of the trade.
    """

    weather: float = 0.12
    own_weather: float = 0.05
    lasts: float = 0.2
    wander: float = 0.08
    trees: tuple[int, int] = (15, 40)
    surveys: tuple[int, int] = (3, 6)
    gaps: tuple[int, int] = (2, 6)
    ages: int = 1
    thinned: float = 0.0
    closing: float = 0.0
    power: bool = False


KINDS = {
    "usual": Stands(),
    "smooth": Stands(weather=0.02, own_weather=0.0, wander=0.03),
    "dry and wet": Stands(weather=0.2, lasts=0.3),
    "each its own way": Stands(weather=0.05, wander=0.2),
    "of many ages": Stands(ages=15),
    "few trees": Stands(trees=(5, 10)),
    "often measured": Stands(gaps=(1, 2), surveys=(4, 8)),
    "thinned": Stands(weather=0.08, thinned=0.3),
    "closing": Stands(weather=0.08, closing=0.03),
    "without end": Stands(power=True),
}


def made_stands(kind: Stands, seed: int, species: int = 4) -> Readings:
    """Return the readings of a farm with so many species, each on a curve and with surveys of its own."""
    rng = np.random.default_rng(seed)
    shared = kind.weather * _noise(rng, kind.lasts)
    parts = [_species(kind, rng, shared) for _ in range(species)]
    many = np.cumsum([0, *(len(born) for born, *_ in parts)])
    tree, year, size = (
        np.concatenate([part[column] + (many[place] if column == 1 else 0) for place, part in enumerate(parts)])
        for column in (1, 2, 3)
    )
    born = np.concatenate([part[0] for part in parts])
    there = np.unique(tree)
    kinds = np.repeat(np.arange(species), np.diff(many))
    return readings(tree, 1800.0 + year, size, 1800.0 + born[there], kinds[there])


def _noise(rng: np.random.Generator, lasts: float, many: int = 1) -> Floats:
    out = rng.normal(0, 1, (many, YEARS))
    for year in range(1, YEARS):
        out[:, year] = lasts * out[:, year - 1] + np.sqrt(1 - lasts**2) * out[:, year]
    return out


def _typical_cm(kind: Stands, rng: np.random.Generator) -> Floats:
    age, top, half = np.arange(YEARS, dtype=np.float64), rng.uniform(35, 100), rng.uniform(10, 25)
    if kind.power:
        return top / 2 * (age / half) ** rng.uniform(0.6, 0.95)
    curve = CURVES[rng.integers(6)]
    scaled = np.maximum(age, 1e-3) / half * np.exp(curve.start[1])
    log = curve.shape(scaled, curve.start[0] + rng.normal(0, 0.15))[0]
    return top * (np.exp(log) - np.exp(log[0]))


def _species(kind: Stands, rng: np.random.Generator, shared: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Year of planting of each tree; tree, year and size of each reading."""
    gained = np.diff(_typical_cm(kind, rng), append=np.nan)
    trees = int(rng.integers(kind.trees[0], kind.trees[1] + 1))
    gaps = rng.integers(kind.gaps[0], kind.gaps[1] + 1, rng.integers(kind.surveys[0], kind.surveys[1] + 1) - 1)
    days = LAST - np.append(0, np.cumsum(gaps))[::-1]
    born = np.full(trees, days[0] - rng.integers(3, 13)) - rng.integers(0, kind.ages, trees)
    year = np.arange(YEARS)
    more = np.ones(YEARS)
    if kind.thinned:
        since = year - rng.integers(days[0], LAST)
        more += np.where(since >= 0, kind.thinned * np.exp(-since / 6), 0.0)
    more *= np.exp(-kind.closing * np.maximum(year - days[0] - rng.uniform(0, 8), 0.0))
    age = year - born[:, None]
    grown = np.where((age >= 0) & (age < YEARS - 1), gained[np.clip(age, 0, YEARS - 2)], 0.0)
    log = shared + kind.own_weather * _noise(rng, kind.lasts) + kind.wander * _noise(rng, 0.75, trees)
    vigour = np.exp(rng.normal(0, rng.uniform(0.1, 0.22), (trees, 1)))
    size = np.cumsum(grown * np.exp(log) * more * vigour, axis=1)[:, days - 1]
    size = size * (1 + rng.normal(0, 0.006, size.shape)) + rng.normal(0, 0.2, size.shape)
    row, column = np.nonzero((rng.random(size.shape) > 0.05) & (size > 0.5))
    return born, row, days[column], size[row, column]
