"""Growth of every species of a farm, and of each of its trees."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.growth.by_size import OwnRates, own_rates
from farmmap.figures.growth.outlook_words import species_labels
from farmmap.figures.growth.own_curve import OwnCurves, own_curves
from farmmap.figures.growth.readings import NO_SPECIES, Readings, readings_of
from farmmap.figures.growth.species_growth import SpeciesGrowth, species_growth
from farmmap.figures.remembered import Remembered
from farmmap.progress import listener

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ENOUGH_CHECKED = 30.0
"""Trees checked by their last reading from which on their own species weighs a quarter and more."""

WIDENING_BY_AGE, WIDENING_BY_SIZE = (0.1, 16.0), (0.6, 4.0)
"""Least and greatest factor, of a variance and of a standard deviation, that is taken from back-tests."""

NARROWS_AFTER, WIDENS_AFTER = 1.5, 1.0
"""Checked species from which on more than half of a narrowing, or of a widening, is believed."""

SHARE_INSIDE = 0.8

BEYOND = 1.25
"""Growth by size is not carried over to trees thinner or thicker, by this factor, than those it was seen in."""

NOTHING, BY_AGE, BY_SIZE = 0, 1, 2


@dataclass(frozen=True, eq=False)
class FarmGrowth:
    """Growth of a farm's species and trees.

    Attributes
    ----------
    readings : Readings
        Every existing tree with its diameters.
    by_species : mapping of str to SpeciesGrowth
        By code, in the order of the farm's own list.
    """

    readings: Readings
    by_species: Mapping[str, SpeciesGrowth]

    @cached_property
    def ways(self) -> NDArray[np.int8]:
        """How each tree of ``readings`` is carried on: `BY_AGE`, `BY_SIZE` or `NOTHING`. Shape (n,)."""
        out = np.zeros(len(self.readings.ids), np.int8)
        aged = np.isfinite(self.readings.planted)
        last = self.readings.last_cm
        for place, growth in enumerate(self._in_order):
            mine = self.readings.species == place
            if growth.lead is not None:
                out[mine & aged] = BY_AGE
            if growth.by_size is not None:
                least, most = growth.by_size.range_cm
                alike = (last >= least / BEYOND) & (last <= most * BEYOND)
                out[mine & (out == NOTHING) & alike] = BY_SIZE
        return out

    @property
    def _in_order(self) -> list[SpeciesGrowth]:
        return [self.by_species[name] for name in self.readings.species_names]

    @cached_property
    def curves(self) -> Mapping[str, tuple[Ints, OwnCurves]]:
        """Trees carried on by their species' curve, as places in ``readings``, and their own curves, by species."""
        found = {}
        for place, growth in enumerate(self._in_order):
            trees = np.flatnonzero((self.readings.species == place) & (self.ways == BY_AGE))
            if growth.lead is None or not len(trees):
                continue
            rows, tree = self.readings.rows_of(trees)
            stock = np.array([growth.stocks.get(kind, -1) for kind in range(len(self.readings.stock_names))], np.int64)
            found[growth.code] = (
                trees,
                own_curves(
                    growth.lead.found,
                    self.readings.age[rows],
                    self.readings.dbh_cm[rows],
                    tree,
                    stock[self.readings.stock[trees]],
                    self.readings.unsure_years[trees],
                ),
            )
        return found

    @cached_property
    def rates(self) -> Mapping[str, tuple[Ints, OwnRates]]:
        """Trees carried on by their size, and their own rates, by species."""
        found = {}
        for place, growth in enumerate(self._in_order):
            trees = np.flatnonzero((self.readings.species == place) & (self.ways == BY_SIZE))
            if growth.by_size is None or not len(trees):
                continue
            rows, tree = self.readings.rows_of(trees)
            found[growth.code] = (
                trees,
                own_rates(growth.by_size, self.readings.year[rows], self.readings.dbh_cm[rows], tree, len(trees)),
            )
        return found

    def places_of(self, ids: Ints) -> Ints:
        """Places in ``readings`` of trees by id; -1 for those that are not there."""
        known = self.readings.ids
        if not len(known):
            return np.full(len(ids), -1)
        at = np.minimum(np.searchsorted(known, ids), len(known) - 1)
        return np.where(known[at] == ids, at, -1)


_GROWTH: Remembered[FarmGrowth] = Remembered(3)
_SPECIES: Remembered[SpeciesGrowth] = Remembered(200)


def growth_of(farm: Farm) -> FarmGrowth:
    """Return the growth of every species on the farm, from all its readings; the last few answers are kept.

    Parameters
    ----------
    farm : Farm
        The farm.
    """
    same = (farm.trees, farm.measurements, farm.species)
    equal = (farm.settings.breast_height_m,)
    return _GROWTH.get(same, equal, lambda: growth_from(readings_of(farm), species_labels(farm)))


def growth_from(readings: Readings, labels: Mapping[str, str]) -> FarmGrowth:
    """Work out the growth of every species from readings.

    Parameters
    ----------
    readings : Readings
        Trees with their diameters.
    labels : mapping of str to str
        Trade names by code.
    """
    readings = _believed(readings)
    found = {}
    for place, code in enumerate(readings.species_names):
        listener().step(place, len(readings.species_names), "working out how each species grows")
        label, trees = labels.get(code, code) or NO_SPECIES, np.flatnonzero(readings.species == place)
        found[code] = _SPECIES.get((), (code, label, _digest(readings, trees)), _work_out(code, label, readings, trees))
    listed = [code for code in labels if code in found]
    listed += [code for code in found if code not in labels]
    widened = _widened([found[code] for code in listed])
    return FarmGrowth(readings, {growth.code: growth for growth in widened})


def _work_out(code: str, label: str, readings: Readings, trees: Ints) -> Callable[[], SpeciesGrowth]:
    return lambda: species_growth(code, label, readings, trees)


def _digest(readings: Readings, trees: Ints) -> bytes:
    """Fingerprint of all that the growth of a species rests on.

    A mark on a tree, or the reading of a tree of another species, makes other tables but leaves it as it is.
    """
    trees = trees[readings.count[trees] > 0]
    rows, _ = readings.rows_of(trees)
    out = hashlib.blake2b(repr(readings.stock_names).encode(), digest_size=16)
    for values in (readings.planted, readings.stock, readings.count):
        out.update(np.ascontiguousarray(values[trees]).tobytes())
    for values in (readings.year, readings.dbh_cm):
        out.update(np.ascontiguousarray(values[rows]).tobytes())
    return out.digest()


def _believed(readings: Readings) -> Readings:
    """Return the readings with planting dates left out that are later than a reading, whenever it was in that time."""
    early = readings.age < -np.sqrt(3.0) * readings.unsure_years[readings.tree]
    wrong = np.unique(readings.tree[early])
    planted = readings.planted.copy()
    planted[wrong] = np.nan
    return replace(readings, planted=planted)


def _widened(all_growth: list[SpeciesGrowth]) -> list[SpeciesGrowth]:
    """Widen or narrow the intervals so that they would have held the last readings of four trees in five.

    What all trees of a species share is one draw of chance: one species whose last readings happened to lie on its
    curve is no reason for a narrow interval. So the factor is that of all species together, drawn to 1 the more so
    the fewer there are, and a species is only widened, never narrowed, for its own sake.
    """
    curves = _factors([growth.checked for growth in all_growth], WIDENING_BY_AGE)
    sizes = _factors([growth.checked_by_size for growth in all_growth], WIDENING_BY_SIZE)
    out = []
    for growth, by_curve, by_size in zip(all_growth, curves, sizes, strict=True):
        lead = None if growth.lead is None else replace(growth.lead, widening=by_curve)
        size = None if growth.by_size is None else replace(growth.by_size, widening=by_size)
        out.append(replace(growth, lead=lead, by_size=size))
    return out


def _factors(checked: list[Floats], limits: tuple[float, float]) -> list[float]:
    """Factor of each species from those that its trees would have needed; 1 where no tree of any could be checked."""
    known = [needed for needed in checked if len(needed)]
    if not known:
        return [1.0] * len(checked)
    whole = np.log(np.clip(np.mean([np.sqrt(_share_held(needed)) for needed in known]) ** 2, *limits))
    whole *= len(known) / (len(known) + (NARROWS_AFTER if whole < 0 else WIDENS_AFTER))
    out = []
    for needed in checked:
        weight = 0.5 * len(needed) / (len(needed) + ENOUGH_CHECKED)
        own = max(np.log(np.clip(_share_held(needed), *limits)), whole) if len(needed) else whole
        out.append(float(np.exp(weight * own + (1 - weight) * whole)))
    return out


def _share_held(needed: Floats) -> float:
    """Factor with which `SHARE_INSIDE` of the readings would have been held."""
    many = len(needed)
    return float(np.quantile(needed, min(SHARE_INSIDE * (many + 1) / many, 1.0)))
