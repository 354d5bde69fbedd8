"""Target diameters: from which diameter on a tree counts as ready, by species and product."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TARGETS
from farmmap.farm.species import SpeciesFinder, known_species, plain
from farmmap.figures.remembered import Remembered
from farmmap.resource_files import resource_path

Floats = NDArray[np.float64]

OWN = "the farm's own target"
FOR_NOW = "target given for this outlook"


@dataclass(frozen=True)
class Target:
    """A diameter at which a tree is ready.

    Attributes
    ----------
    dbh_cm : float
        The diameter. [cm]
    product : str
        What the tree is grown for, "" if that is not said.
    source : str
        Where the figure comes from.
    row : int
        Id of the farm's own line that it stands in; -1 if it stands in none.
    """

    dbh_cm: float
    product: str
    source: str
    row: int = -1


@dataclass(frozen=True)
class Targets:
    """Targets of a farm by species.

    Attributes
    ----------
    own : mapping of str to Target
        The farm's own by code of the species; "" holds for every species without one of its own.
    usual : mapping of str to Target
        Those that come with farmmap, by the farm's code.
    """

    own: Mapping[str, Target]
    usual: Mapping[str, Target]

    def of(self, code: str) -> Target | None:
        """Return the target of a species: the farm's own, its own for all others, farmmap's, or None."""
        return self.own.get(code) or self.own.get("") or self.usual.get(code)


_TARGETS: Remembered[Targets] = Remembered(4)


@cache
def usual_targets() -> Mapping[str, Target]:
    """Return the targets of ``resources/targets.csv`` by farmmap's own code of the species."""
    with resource_path("targets.csv").open(encoding="utf-8", newline="") as file:
        return MappingProxyType(
            {
                row["code"]: Target(float(row["dbh_cm"]), row["product"], f"{row['source']}; {row['note']}")
                for row in csv.DictReader(file)
            }
        )


def targets_of(farm: Farm, product: str = "") -> Targets:
    """Return the targets of a farm.

    Of several lines for one species that of the product asked for counts;
    without a product, or where none has it, the first line of the table.

    Parameters
    ----------
    farm : Farm
        The farm.
    product : str
        For which product; "" for each species' first.
    """
    same = (farm.tables["targets"], farm.species, farm.trees)
    return _TARGETS.get(same, (plain(product),), lambda: _work_out(farm, plain(product)))


def one_target(target_cm: float, product: str = "") -> Targets:
    """Return one target for every species, for a question that is asked once.

    Raises
    ------
    BadInput
        No tree has such a diameter.
    """
    column = TARGETS.column("dbh_cm")
    least, most = column.least or 0.0, column.most or np.inf
    if not least <= target_cm <= most:
        raise BadInput(f"a target diameter lies between {least:g} and {most:g} cm, not at {target_cm:g}")
    return Targets({"": Target(float(target_cm), product, FOR_NOW)}, {})


def target_cm_of(targets: Targets, codes: tuple[str, ...]) -> Floats:
    """Return the target of each species, nan where there is none, shape (n,). [cm]."""
    found = [targets.of(code) for code in codes]
    return np.array([np.nan if target is None else target.dbh_cm for target in found], np.float64)


def _work_out(farm: Farm, product: str) -> Targets:
    finder = SpeciesFinder(farm.species)
    own: dict[str, Target] = {}
    chosen: set[str] = set()
    for row, species, made_for, dbh_cm in _lines(farm.tables["targets"]):
        code = finder.code_of(species)
        wanted = bool(product) and plain(made_for) == product
        if code not in own or (wanted and code not in chosen):
            own[code] = Target(dbh_cm, made_for, OWN, row)
        if wanted:
            chosen.add(code)
    return Targets(own, _usual(farm))


def _lines(table: pd.DataFrame) -> list[tuple[int, str, str, float]]:
    """Id, species, product and diameter of each line that has a diameter, in the order of the ids."""
    rows = table.sort_index()
    found = zip(rows.index, rows["species"], rows["product"], rows["dbh_cm"], strict=True)
    return [(int(row), str(species), str(made_for), float(dbh)) for row, species, made_for, dbh in found if dbh > 0]


def _usual(farm: Farm) -> dict[str, Target]:
    """Look the farm's species up in farmmap's list by scientific name, trade name and code, in that order."""
    shipped: dict[str, str] = {}
    for known in known_species():
        for word in (known.code, known.name, known.scientific, *known.also):
            shipped.setdefault(plain(word), known.code)
    out: dict[str, Target] = {}
    listed = farm.species
    for code, name, scientific in zip(listed["code"], listed["name"], listed["scientific"], strict=True):
        words = [str(word) for word in (scientific, name) if word] or [str(code)]
        found = next((shipped[plain(word)] for word in words if plain(word) in shipped), "")
        if found in usual_targets():
            out.setdefault(str(code), usual_targets()[found])
    for code in {str(one) for one in farm.trees["species"].unique()} - {str(one) for one in listed["code"]}:
        found = shipped.get(plain(code), "")
        if found in usual_targets():
            out[code] = usual_targets()[found]
    return out
