"""What is known of the plants of a planting: names, and how crown and height grow.

A word is looked up first among the recipe's own kinds, then on the farm's list
of species, then among those that come with farmmap. None of the growth that
comes with farmmap is measured: each figure says so in its source.
"""

from __future__ import annotations

import csv
import dataclasses
import difflib
from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING

from farmmap.farm.species import known_species, plain
from farmmap.plans.planting.recipes.printable import printable
from farmmap.plans.planting.recipes.recipe import PlantKind, Recipe
from farmmap.resource_files import resource_path

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

FORMS = ("tree", "shrub", "sedge")

GROWTH_YEARS = (1.0, 5.0, 10.0, 20.0)
"""Ages at which resources/plants.csv gives crown and height. [years since planting]"""

_GENERAL = {
    "tree": ((0.4, 1.8, 3.2, 5.5), (0.7, 3.2, 6.5, 12.0)),
    "shrub": ((0.3, 1.5, 2.3, 3.0), (0.6, 2.2, 3.5, 4.5)),
    "sedge": ((0.3, 0.8, 1.0, 1.1), (0.4, 0.8, 0.9, 1.0)),
}
"""Crown and height of a plant of each form, where nothing is known of its kind: own rough guess. [m]"""


class PlantKinds:
    """Finds kinds of plants by code or name, whatever the case and with or without accents.

    Parameters
    ----------
    *lists : iterable of (PlantKind, tuple of str)
        Kinds with the other names they go by; an earlier list wins over a later one, and within a list a code over
        a name over a botanical name over another name.
    beyond : PlantKinds, optional
        Where to look for what is in none of the lists.
    """

    def __init__(self, *lists: Iterable[tuple[PlantKind, tuple[str, ...]]], beyond: PlantKinds | None = None) -> None:
        self._found: dict[str, PlantKind] = {}
        self._names: dict[str, None] = {}
        self._beyond = beyond
        for kinds in lists:
            of_list = list(kinds)
            for place in range(3):
                for kind, _also in of_list:
                    self._keep((kind.code, kind.name, kind.scientific)[place], kind)
            for kind, also in of_list:
                for word in also:
                    self._keep(word, kind)
                if self._found.get(plain(kind.name or kind.code)) is kind:
                    self._names.setdefault(kind.name or kind.code)

    def find(self, word: str) -> PlantKind | None:
        """Return the kind that goes by a code or name, None if there is none."""
        found = self._found.get(plain(word))
        return self._beyond.find(word) if found is None and self._beyond is not None else found

    def code_and_name(self, word: str) -> tuple[str, str]:
        """Return code and name of a species as a recipe has it; the word itself twice if nothing is known of it."""
        kind = self.find(word)
        return (word, word) if kind is None else (kind.code or kind.name, kind.name or kind.code)

    def known(self) -> list[str]:
        """Return the name of every kind, the recipe's and the farm's first."""
        beyond = self._beyond.known() if self._beyond is not None else []
        return [*self._names, *(name for name in beyond if plain(name) not in self._found)]

    def near(self, word: str, most: int = 4) -> list[str]:
        """Return names that a misspelt one may stand for: the recipe's and the farm's first, the nearest first."""
        wanted = plain(word)[:80]
        if not wanted:
            return []
        holding = [text for text in self._found if f" {wanted} " in f" {text} "]
        close = difflib.get_close_matches(wanted, self._found, n=3 * most, cutoff=0.7)
        names = [self._found[text].name or self._found[text].code for text in [*close, *holding]]
        beyond = self._beyond.near(word, most) if self._beyond is not None else []
        return list(dict.fromkeys([*names, *beyond]))[:most]

    def _keep(self, word: str, kind: PlantKind) -> None:
        if plain(word):
            self._found.setdefault(plain(word), kind)


def plant_kinds(farm: Farm | None = None, recipe: Recipe | None = None) -> PlantKinds:
    """Return the kinds that may be named: the recipe's own, the farm's, those that come with farmmap.

    Parameters
    ----------
    farm : Farm or None
        Its list of species is looked into.
    recipe : Recipe or None
        Its own kinds go before all others.

    Notes
    -----
    A kind that has no growth of its own gets that of the same plant in resources/plants.csv, by code or botanical
    name, else the general growth of its form; its ``source`` says which.
    """
    own = [(with_growth(kind), ()) for kind in recipe.plants] if recipe is not None else []
    if not own and farm is None:
        return _shipped_kinds()
    return PlantKinds(own, _of_farm(farm) if farm is not None else (), beyond=_shipped_kinds())


def with_growth(kind: PlantKind) -> PlantKind:
    """Return the kind with crown and height at some ages: its own if it has them, else the general growth of its form.

    Raises
    ------
    KeyError
        Its form is none of `FORMS`.
    """
    if kind.years:
        return kind
    crown_m, height_m = _GENERAL[kind.form]
    said = f"general growth of a {kind.form}, own rough guess, change it"
    return dataclasses.replace(kind, years=GROWTH_YEARS, crown_m=crown_m, height_m=height_m, source=said)


def _of_farm(farm: Farm) -> list[tuple[PlantKind, tuple[str, ...]]]:
    table = farm.species
    shipped = _shipped_kinds()
    kinds: list[tuple[PlantKind, tuple[str, ...]]] = []
    columns = (table[column] for column in ("code", "name", "scientific", "origin"))
    for code, name, scientific, origin in zip(*columns, strict=True):
        same = shipped.find(scientific) if scientific else None
        if same is None and not scientific:
            same = shipped.find(name) or shipped.find(code)
        growth = same or with_growth(PlantKind(code, name))
        own = dataclasses.replace(
            growth, code=code, name=printable(name), scientific=printable(scientific), origin=origin
        )
        kinds.append((own, ()))
    return kinds


@cache
def _shipped_kinds() -> PlantKinds:
    return PlantKinds(_shipped())


def _shipped() -> tuple[tuple[PlantKind, tuple[str, ...]], ...]:
    """Return the kinds of resources/plants.csv, then those of resources/species.csv that are not among them."""
    planted: list[tuple[PlantKind, tuple[str, ...]]] = []
    with resource_path("plants.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            kind = PlantKind(
                row["code"],
                row["name"],
                row["scientific"],
                row["form"],
                "",
                GROWTH_YEARS,
                tuple(float(row[f"crown_{year:g}_m"]) for year in GROWTH_YEARS),
                tuple(float(row[f"height_{year:g}_m"]) for year in GROWTH_YEARS),
                row["source"],
            )
            planted.append((kind, tuple(word.strip() for word in row["also"].split(";") if word.strip())))
    codes = {kind.code for kind, _ in planted}
    others = [known for known in known_species() if known.code not in codes]
    return (*planted, *((with_growth(PlantKind(k.code, k.name, k.scientific)), k.also) for k in others))
