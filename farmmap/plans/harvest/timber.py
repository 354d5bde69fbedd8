"""The stems of all standing trees: their heights, volumes and shapes, now or at another size."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import columns_of
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.growth.increments import thicker_than_can_be
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import Standing, basis_note, newest_day, standing, the_day
from farmmap.plans.harvest.counted import trees
from farmmap.plans.harvest.heights import FRESH_YEARS, LEAST_ON_FARM, HeightFrom, Heights, heights_ahead, heights_of
from farmmap.plans.harvest.stems import Stems
from farmmap.plans.harvest.volume_rules import VolumeRule, VolumeRules, volume_rules

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Timber:
    """Stems of the trees that stand on a day. All arrays have shape (n,), in the order of ``there``.

    Attributes
    ----------
    there : Standing
        The trees.
    block : ndarray of int64
        Id of the block that each stands in, -1 for none.
    heights : Heights
        Their heights, measured or estimated.
    stems : Stems
        One stem of each, at its latest diameter.
    each : ndarray of int64
        Stems that each tree has of that size.
    is_poor : ndarray of bool
        Trees of poor form.
    too_thick : ndarray of bool
        Trees that were read thicker than they can be at their age.
    rules : VolumeRules
        How volumes were come by.
    """

    there: Standing
    block: Ints
    heights: Heights
    stems: Stems
    each: Ints
    is_poor: NDArray[np.bool_]
    too_thick: NDArray[np.bool_]
    rules: VolumeRules

    def of_species(self, kind: int) -> VolumeRule:
        """Return the rule of a species by its place in ``there.species_names``."""
        return self.rules.of(self.there.species_names[kind])

    def at_size(self, rows: Places, dbh_cm: Floats) -> Stems:
        """Return the stems of some trees once they have other diameters; heights follow their curve.

        Parameters
        ----------
        rows : ndarray of int, shape (k,)
            Which trees.
        dbh_cm : ndarray, shape (k,)
            Their diameters then. [cm]
        """
        height = self.heights.grown(rows, self.there.dbh_cm[rows], dbh_cm)
        return _stems(self.there, self.rules, rows, dbh_cm, height)

    @cached_property
    def by_species(self) -> tuple[Places, ...]:
        """Places of the trees of each species, in the order of ``there.species_names``."""
        return places_by(self.there.species, len(self.there.species_names))

    def notes(self, among: Places | None = None) -> tuple[str, ...]:
        """Say what some or all volumes rest on, and what is not known."""
        there, rows = self.there, np.arange(len(self.there)) if among is None else among
        came, measured = self.heights.came_from[rows], there.measured[rows]
        known = np.isfinite(self.stems.volume_m3[rows])
        guessed = int(np.count_nonzero(measured & (came >= HeightFrom.BLOCK_CURVE)))
        no_height = int(np.count_nonzero(measured & ~known & (came == HeightFrom.NOWHERE)))
        beyond_belief = self._beyond_belief(rows)
        outside = int(np.count_nonzero(measured & ~known)) - no_height - sum(beyond_belief.values())
        not_measured = len(rows) - int(np.count_nonzero(measured))
        said = [f"{basis_note(there)} Stem volumes are over bark, from the ground to the tip."]
        said += self._forecast_words(rows)
        if guessed:
            said.append(
                f"{trees(guessed, 'has', 'have')} no height taken within {FRESH_YEARS:g} years of the diameter; it is "
                "estimated from a curve through the heights of the species in the block, else on the farm (Näslund "
                "1936)."
            )
        if self.heights.beyond and among is None:
            beyond = trees(self.heights.beyond, "is", "are")
            said.append(f"Of these, {beyond} thicker than any that the curve rests on; take the height with care.")
        if no_height:
            said.append(
                f"{trees(no_height, 'has', 'have')} no height, and fewer than {LEAST_ON_FARM} of the species were "
                "measured for both: the volume is not known. Measure a few heights."
            )
        if outside > 0:
            said.append(
                f"{trees(outside, 'is', 'are')} outside the local volume table; the volume is not known, as nothing is "
                "read beyond its lines."
            )
        said += [
            f"{trees(many, 'gets', 'get')} more volume from the farm's own figures for {there.species_labels[kind]} "
            "than a cylinder of that thickness and height holds, so it is not counted; look at their units (diameter "
            "in cm, height in m, volume in m³)."
            for kind, many in beyond_belief.items()
        ]
        doubted = int(np.count_nonzero(self.too_thick[rows] & known))
        if doubted:
            said.append(
                f"{trees(doubted, 'was', 'were')} read thicker than can be at that age, perhaps in millimetres, and "
                "counted as read: look at the outlook of trees, and mend the reading or the planting date."
            )
        if not_measured:
            said.append(f"{trees(not_measured, 'has no diameter and adds', 'have no diameter and add')} nothing.")
        return (*said, *self.rules.notes)

    def _forecast_words(self, rows: Places) -> list[str]:
        """Say how many of some trees are forecast on a day that has not come."""
        there, said = self.there, []
        grown = int(np.count_nonzero(there.grown[rows]))
        still = int(np.count_nonzero(there.measured[rows] & ~there.grown[rows]))
        if there.forecast and grown:
            said.append(f"{trees(grown, 'is at its', 'are at their')} forecast size, the height along the curve.")
        if there.forecast and still:
            said.append(f"{trees(still, 'stays', 'stay')} as last measured: not enough to say how they grow.")
        return said

    def _beyond_belief(self, rows: Places) -> dict[int, int]:
        """How many of some trees get a volume that cannot be, by their species."""
        out = {}
        for kind in np.unique(self.there.species[rows]).tolist():
            rule, mine = self.of_species(kind), rows[self.there.species[rows] == kind]
            many = np.count_nonzero(rule.is_beyond_belief(self.stems.dbh_cm[mine], self.stems.height_m[mine]))
            if many:
                out[kind] = int(many)
        return out

    def sources(self, among: Places | None = None) -> tuple[str, ...]:
        """Say from what the volumes of some or all species come."""
        there = self.there
        rows = np.arange(len(there)) if among is None else among
        kinds = np.unique(there.species[rows[np.isfinite(self.stems.volume_m3[rows])]]).tolist()
        told: dict[tuple[str, str, str], list[str]] = {}
        for kind in kinds:
            rule = self.of_species(kind)
            told.setdefault((rule.words, rule.source, f"{rule.bark_ratio:g}"), []).append(there.species_labels[kind])
        return tuple(
            f"{_some(labels)}: {words}, diameter under bark {bark} of that over bark. Source: {source}."
            for (words, source, bark), labels in told.items()
        )


_TIMBER: Remembered[Timber] = Remembered(4)


def timber_of(farm: Farm, on: dt.date | None = None) -> Timber:
    """Return the stems of all trees that stand on a day; the last few answers are kept.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    """
    day = the_day(farm, on)
    same = (farm.trees, farm.measurements, farm.species, farm.blocks, farm.tables["volumes"])
    return _TIMBER.get(same, (day, farm.settings.breast_height_m), lambda: _timber(farm, day))


def places_by(group: Ints, groups: int) -> tuple[Places, ...]:
    """Places of the members of each group, increasing."""
    order = np.argsort(group, kind="stable")
    return tuple(np.split(order, np.searchsorted(group[order], np.arange(1, groups)))) if groups else ()


def _timber(farm: Farm, day: dt.date) -> Timber:
    there = standing(farm, day)
    block_of = block_of_each_tree(farm)
    block = block_of[there.places]
    if there.forecast:
        last = standing(farm, newest_day(farm))
        heights = heights_ahead(heights_of(farm, last, block_of[last.places]), last, there)
    else:
        heights = heights_of(farm, there, block)
    rules = volume_rules(farm)
    stems = _stems(there, rules, np.arange(len(there)), there.dbh_cm, heights.height_m)
    poor = np.asarray(columns_of(farm.trees)["form"] == "poor", bool)[there.places]
    too_thick = thicker_than_can_be(farm, there.places, there.dbh_cm, there.measured_on) & ~there.grown
    return Timber(there, block, heights, stems, np.maximum(there.diameters, 1), poor, too_thick, rules)


def _stems(there: Standing, rules: VolumeRules, rows: Places, dbh_cm: Floats, height_m: Floats) -> Stems:
    volume, bark = np.full(len(rows), np.nan), np.full(len(rows), rules.general.bark_ratio)
    of = there.species[rows]
    for kind, places in enumerate(places_by(of, len(there.species_names))):
        if len(places):
            rule = rules.of(there.species_names[kind])
            volume[places] = rule.volume_m3(dbh_cm[places], height_m[places])
            bark[places] = rule.bark_ratio
    return Stems(dbh_cm, height_m, volume, there.breast_height_m, bark)


def _some(labels: list[str], most: int = 4) -> str:
    return ", ".join(labels) if len(labels) <= most else f"{', '.join(labels[:most])} and {len(labels) - most} more"
