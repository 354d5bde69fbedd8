"""How the volume of a stem is come by, species by species: the grower's own figures, else published ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.species import plain
from farmmap.figures.remembered import Remembered
from farmmap.figures.stand import basal_area_m2
from farmmap.plans.harvest.local_tables import LocalTable
from farmmap.plans.harvest.wood_kinds import entry_for, number_or_nan, resource_rows, scientific_names

Floats = NDArray[np.float64]

HIGHEST_BREAST_M = 1.4
"""Breast height of the countries that have it highest. [m]"""

OWN_FIGURES = "the farm's own figures"


@dataclass(frozen=True, eq=False)
class VolumeRule:
    """How the volume of a stem of one species is come by, over bark.

    Attributes
    ----------
    kind : str
        ``form factor``: V = a·g·h; ``power``: V = a·d^b·h^c, with d in cm and
        h in m; ``table``: read off a local table.
    a, b, c : float
        Numbers of the equation; c is nan where height is not in it.
    table : LocalTable or None
        The table.
    bark_ratio : float
        Diameter under bark ÷ over bark.
    density_t_m3 : float
        The grower's own basic density; nan if none is given. [t/m³]
    source : str
        Where the volume comes from.
    bark_source : str
        Where the bark ratio comes from.
    is_own : bool
        Whether the volume rests on the farm's own figures.
    """

    kind: str
    a: float
    b: float
    c: float
    table: LocalTable | None
    bark_ratio: float
    density_t_m3: float
    source: str
    bark_source: str
    is_own: bool

    @property
    def needs_height(self) -> bool:
        """Whether it gives no volume without a height."""
        match self.kind:
            case "power":
                return not np.isnan(self.c) and self.c != 0.0
            case "table":
                return self.table is not None and self.table.by_height
            case _:
                return True

    def volume_m3(self, dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
        """Volume of single stems over bark, from the ground to the tip; nan where it cannot be told, in m³.

        What is more than any stem can hold (`is_beyond_belief`) cannot be told either.
        """
        return np.where(self.is_beyond_belief(dbh_cm, height_m), np.nan, self.told_m3(dbh_cm, height_m))

    def is_beyond_belief(self, dbh_cm: ArrayLike, height_m: ArrayLike) -> NDArray[np.bool_]:
        """Whether more is told than a cylinder holds that is as thick as the stem's cone at the ground.

        That cylinder has g·h·(h/(h - 1.4))², so also low trees have room in it. False where there is no height.
        """
        dbh, height = np.asarray(dbh_cm, float), np.asarray(height_m, float)
        with np.errstate(divide="ignore", invalid="ignore"):
            most = basal_area_m2(dbh) * height * np.square(height / np.maximum(height - HIGHEST_BREAST_M, 0.0))
        return np.asarray(self.told_m3(dbh, height) > most, bool)

    def told_m3(self, dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
        """Volume as the rule has it, believable or not, in m³."""
        dbh, height = np.asarray(dbh_cm, float), np.asarray(height_m, float)
        match self.kind:
            case "power":
                return self.a * dbh**self.b * (height**self.c if self.needs_height else 1.0)
            case "table":
                assert self.table is not None
                return self.table.at(dbh, height)
            case _:
                return self.a * basal_area_m2(dbh) * height

    @property
    def words(self) -> str:
        """How the volume is come by, in words."""
        match self.kind:
            case "power":
                tail = f" × height^{self.c:g}" if self.needs_height else ""
                return f"{_plain(self.a)} × diameter^{self.b:g}{tail}"
            case "table":
                assert self.table is not None
                return f"a table of {len(self.table.volume_m3)} lines"
            case _:
                return f"form factor {self.a:g}"


def _plain(number: float) -> str:
    """Return a small number without a power of ten."""
    return f"{number:.12f}".rstrip("0").rstrip(".")


@dataclass(frozen=True, eq=False)
class VolumeRules:
    """The rule of every species, and what is wrong with the farm's own lines."""

    by_species: Mapping[str, VolumeRule]
    general: VolumeRule
    notes: tuple[str, ...]

    def of(self, code: str) -> VolumeRule:
        """Return the rule of a species by its code."""
        return self.by_species.get(code, self.general)


_RULES: Remembered[VolumeRules] = Remembered(3)


def volume_rules(farm: Farm) -> VolumeRules:
    """Return how the volume of each species of a farm is come by.

    A species' own lines of the table ``volumes`` go before the farm's lines
    for every species, and those before `resources/volumes.csv`.
    """
    return _RULES.get((farm.tables["volumes"], farm.species, farm.trees), (), lambda: _rules(farm))


def stem_volume_m3(farm: Farm, species: str, dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
    """Volume of single stems of a species over bark, from the ground to the tip.

    Parameters
    ----------
    farm : Farm
        The farm, whose own figures go first.
    species : str
        Code of the species, "" if not known.
    dbh_cm, height_m : array_like, shape (n,)
        Diameters at breast height over bark and heights. [cm, m]

    Returns
    -------
    ndarray, shape (n,)
        nan where it cannot be told: no diameter or height, or outside the local table. [m³]
    """
    return volume_rules(farm).of(species).volume_m3(dbh_cm, height_m)


def _rules(farm: Farm) -> VolumeRules:
    lines, notes = _own_lines(farm)
    names = scientific_names(farm)
    codes = {str(code) for code in farm.species["code"]} | {str(code) for code in farm.trees["species"].unique()}
    codes |= set(lines)
    shared = lines.get("", [])
    rules = {code: _rule(lines.get(code, []) if code else [], shared, names.get(code, "")) for code in codes}
    return VolumeRules(rules, _rule([], shared, ""), tuple(notes))


def _own_lines(farm: Farm) -> tuple[dict[str, list[dict[str, Any]]], list[str]]:
    """Return the farm's lines by species, and words about those that cannot be used."""
    lines: dict[str, list[dict[str, Any]]] = {}
    notes: list[str] = []
    for number, line in zip(farm.tables["volumes"].index, farm.tables["volumes"].to_dict("records"), strict=True):
        missing = missing_in(line)
        if missing:
            notes.append(f"Stem volumes, line {number}: {missing}, so its volume is not used.")
        lines.setdefault(str(line["species"]), []).append(line | {"usable": not missing})
    return lines, notes


def missing_in(line: Mapping[str, Any]) -> str:
    """Return in words what a line of the table ``volumes`` lacks to be of use, "" if nothing.

    Parameters
    ----------
    line : mapping
        Its values by column, nan where not known.
    """

    def number(name: str) -> float:
        value = line.get(name)
        return float("nan") if value is None else float(value)

    match line.get("kind"):
        case "power":
            return "" if number("a") > 0 and np.isfinite(number("b")) else "an equation needs a above 0, and b"
        case "table":
            given = number("dbh_cm") > 0 and number("volume_m3") >= 0
            return "" if given else "a line of a table needs a diameter and a volume"
        case _:
            says_wood = np.isfinite(number("bark_ratio")) or np.isfinite(number("density_t_m3"))
            return "" if number("a") > 0 or says_wood else "a form factor is a number above 0 in a"


def _rule(own: list[dict[str, Any]], shared: list[dict[str, Any]], scientific: str) -> VolumeRule:
    published = _published(scientific)
    every = [*own, *shared]
    bark, bark_source = next(
        ((line["bark_ratio"], line["source"] or OWN_FIGURES) for line in every if line["bark_ratio"] > 0),
        (published.bark_ratio, published.bark_source),
    )
    density = next((line["density_t_m3"] for line in every if line["density_t_m3"] > 0), float("nan"))
    a, b, c, table = published.a, published.b, published.c, None
    kind, source, is_own = published.kind, published.source, False
    for lines in (own, shared):
        usable = [line for line in lines if line["usable"] and (line["kind"] != "form factor" or line["a"] > 0)]
        if not usable:
            continue
        first = usable[0]
        kind, source, is_own = first["kind"], first["source"] or OWN_FIGURES, True
        a, b, c = first["a"], first["b"], first["c"]
        if kind == "table":
            of_table = [line for line in usable if line["kind"] == "table"]
            table = LocalTable(*(np.array([line[name] for line in of_table], float) for name in _OF_TABLE))
        break
    return VolumeRule(kind, a, b, c, table, float(bark), float(density), str(source), str(bark_source), is_own)


_OF_TABLE = ("dbh_cm", "height_m", "volume_m3")


def _published(scientific: str) -> VolumeRule:
    found = entry_for(scientific, _entries())
    assert found is not None
    return found


@cache
def _entries() -> dict[str, VolumeRule]:
    nan = float("nan")
    return {
        plain(row["of"]): VolumeRule(
            "form factor", number_or_nan(row["form_factor"]), nan, nan, None, number_or_nan(row["bark_ratio"]), nan,
            row["source"], row["source"], is_own=False,
        )
        for row in resource_rows("volumes.csv")
    }  # fmt: skip
