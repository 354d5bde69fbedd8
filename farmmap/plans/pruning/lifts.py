"""The lifts of a pruning regime: the grower's own before those that come with farmmap, checked in plain words."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.growing_tables import LIFT_KINDS
from farmmap.figures.remembered import Remembered
from farmmap.resource_files import resource_path

CLEAR, FORM = LIFT_KINDS

_NOT_SURE = 0.5
"""Rounding of a share of the crown that is let pass. [%]"""


@dataclass(frozen=True)
class Lift:
    """One lift: to which height, and what makes it due. nan where nothing is asked for.

    Attributes
    ----------
    number : int
        Which lift, from 1.
    to_m : float
        Height to which it prunes; for form pruning, up to which the stem is kept free of forks. [m]
    tree_height_m : float
        Height of the tree at which it is due. [m]
    dos_cm : float
        Diameter over the stubs at which it is due. [cm]
    stems_per_ha : float
        Stems that are pruned; nan: all.
    crown_left_percent : float
        Share of the tree's height that keeps its green crown. [%]
    source, note : str
        Where the figures come from, and what was written beside them.
    kind : str
        `CLEAR` if it takes all branches off, `FORM` if it keeps one straight leader.
    """

    number: int
    to_m: float
    tree_height_m: float = math.nan
    dos_cm: float = math.nan
    stems_per_ha: float = math.nan
    crown_left_percent: float = math.nan
    source: str = ""
    note: str = ""
    kind: str = CLEAR

    @property
    def tall_enough_m(self) -> float:
        """Height of the tree at which it is due; where none is given and no diameter, what the crown asks for."""
        if not math.isnan(self.tree_height_m) or not math.isnan(self.dos_cm):
            return self.tree_height_m
        return self.to_m / (1 - self.crown_left_percent / 100)


@dataclass(frozen=True)
class Regime:
    """The lifts of one species in one block, lowest first.

    Attributes
    ----------
    species, block : str
        Code and name; "" for every one without lifts of its own.
    lifts : tuple of Lift
        The lifts; none if there is `trouble`.
    form : Lift or None
        Form pruning, if the regime has it.
    is_own : bool
        Whether they are the grower's own.
    season : str
        When to prune, and who says so; "" if that is not kept.
    trouble : str
        Why the grower's own lifts are not used, in words.
    """

    species: str
    block: str
    lifts: tuple[Lift, ...] = ()
    form: Lift | None = None
    is_own: bool = False
    season: str = ""
    trouble: str = ""

    @property
    def sources(self) -> tuple[str, ...]:
        """Where its figures come from, each once, with what was noted."""
        rows = (*self.lifts, *([self.form] if self.form else []))
        words = [word for row in rows for word in (row.source, row.note) if word and not word.startswith("as lift")]
        return tuple(dict.fromkeys(words))


NO_REGIME = Regime("", "")


class Regimes:
    """The lifts of a farm by species and block.

    Parameters
    ----------
    rows : DataFrame
        The farm's table ``regimes``.
    """

    def __init__(self, rows: pd.DataFrame) -> None:
        self._own: dict[tuple[str, str], Regime] = {}
        grouped: dict[tuple[str, str], list[Mapping[str, object]]] = {}
        for row in rows.to_dict("records"):
            grouped.setdefault((str(row["species"]), str(row["block"])), []).append(row)
        for (species, block), lines in grouped.items():
            self._own[species, block] = _own(species, block, lines)

    def of(self, species: str, block: str) -> Regime:
        """Return the lifts of a species in a block.

        The grower's own come first: those of the species in the block, of the species, of the block, of all; then
        those that come with farmmap; `NO_REGIME` if there are none.

        Parameters
        ----------
        species, block : str
            Code of the species, name of the block.
        """
        for key in ((species, block), (species, ""), ("", block), ("", "")):
            if key in self._own:
                return self._own[key]
        return shipped_regimes().get(species, NO_REGIME)

    def own(self, species: str, block: str) -> Regime | None:
        """Return the grower's own lifts of just that species and block."""
        return self._own.get((species, block))

    @property
    def troubles(self) -> tuple[str, ...]:
        """What is wrong with the grower's own lifts, a sentence for each regime."""
        return tuple(regime.trouble for regime in self._own.values() if regime.trouble)


_REGIMES: Remembered[Regimes] = Remembered(3)


def regimes_of(farm: Farm) -> Regimes:
    """Return the lifts of a farm, kept for the last few tables."""
    rows = farm.tables["regimes"]
    return _REGIMES.get((rows,), (), lambda: Regimes(rows))


@cache
def shipped_regimes() -> Mapping[str, Regime]:
    """Return the lifts of ``resources/regimes.csv`` by species."""
    lines: dict[str, list[Mapping[str, str]]] = {}
    with resource_path("regimes.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            for code in row["species"].split(";"):
                lines.setdefault(code.strip(), []).append(row)
    return {code: _shipped(code, rows) for code, rows in lines.items()}


def _shipped(code: str, rows: Sequence[Mapping[str, str]]) -> Regime:
    lifts, form = followed([lift_of(row) for row in rows])
    season = next((row["season"] for row in rows if row["season"]), "")
    return Regime(code, "", lifts, form, season=season)


def _own(species: str, block: str, rows: Sequence[Mapping[str, object]]) -> Regime:
    season = shipped_regimes()[species].season if species in shipped_regimes() else ""
    try:
        lifts, form = followed([lift_of(row) for row in rows])
    except BadInput as error:
        of = regime_words(species, block)
        trouble = f"Your own lifts of {of} are not used, and no others in their place: {error}."
        return Regime(species, block, is_own=True, trouble=trouble)
    return Regime(species, block, lifts, form, is_own=True, season=season)


def regime_words(species: str, block: str) -> str:
    """Return what lifts are of: ``PRAD in North Terrace``, ``all other species``."""
    return (species or "all other species") + (f" in {block}" if block else "")


def lift_of(row: Mapping[str, object]) -> Lift:
    """Return the lift that a row of the table ``regimes`` or of ``resources/regimes.csv`` tells of."""

    def number(name: str) -> float:
        value = row.get(name, "")
        return math.nan if value == "" else float(str(value))

    return Lift(
        int(str(row["lift"])),
        number("to_m"),
        number("tree_height_m"),
        number("dos_cm"),
        number("stems_per_ha"),
        number("crown_left_percent"),
        str(row.get("source", "")),
        str(row.get("note", "")),
        str(row.get("kind", "")) or CLEAR,
    )


def followed(rows: Sequence[Lift]) -> tuple[tuple[Lift, ...], Lift | None]:
    """Return the lifts of one regime in their order, and its form pruning, if all of it can be followed.

    Parameters
    ----------
    rows : sequence of Lift
        Lifts and form pruning in any order.

    Raises
    ------
    BadInput
        One of them cannot be followed, or form pruning is given more than once.
    """
    lifts = checked([lift for lift in rows if lift.kind != FORM])
    return lifts, _checked_form([lift for lift in rows if lift.kind == FORM])


def _checked_form(forms: Sequence[Lift]) -> Lift | None:
    if len(forms) > 1:
        raise BadInput("form pruning is given more than once; keep one row of it")
    if not forms:
        return None
    form = forms[0]
    if not form.to_m > 0:
        raise BadInput("form pruning needs the height up to which the stem is kept straight, in m")
    if math.isnan(form.tree_height_m):
        raise BadInput("form pruning needs the height of the tree from which it is done, in m")
    if form.tree_height_m >= form.to_m:
        raise BadInput(
            f"form pruning from {form.tree_height_m:g} m tall up to {form.to_m:g} m comes to nothing; "
            "it begins before the tree is that tall"
        )
    return form


def checked(lifts: Sequence[Lift]) -> tuple[Lift, ...]:
    """Return lifts in their order, if they can be followed.

    Parameters
    ----------
    lifts : sequence of Lift
        Lifts of one regime in any order, without form pruning.

    Raises
    ------
    BadInput
        One of them cannot be followed; the message says which and why.
    """
    found = sorted(lifts, key=lambda lift: lift.number)
    for lift in found:
        _check_alone(lift)
    for before, lift in itertools.pairwise(found):
        _check_order(before, lift)
    return tuple(found)


def _check_alone(lift: Lift) -> None:
    what = f"lift {lift.number}"
    if not lift.to_m > 0:
        raise BadInput(f"{what} needs the height to which it prunes, in m")
    if all(map(math.isnan, (lift.tree_height_m, lift.dos_cm, lift.crown_left_percent))):
        raise BadInput(
            f"{what} does not say when it is due; give the tree's height, the diameter over the stubs, or the share of "
            "the height that stays green"
        )
    if lift.dos_cm <= 0:
        raise BadInput(f"{what} is due at {lift.dos_cm:g} cm over the stubs; give more than 0, or nothing")
    if lift.tree_height_m <= lift.to_m:
        raise BadInput(
            f"{what} prunes to {lift.to_m:g} m when the tree is {lift.tree_height_m:g} m tall, which leaves no crown"
        )
    if lift.crown_left_percent >= 100:
        raise BadInput(f"{what} leaves all of the tree green, so there is nothing to prune")
    left = 100 * (1 - lift.to_m / lift.tree_height_m)
    if left < lift.crown_left_percent - _NOT_SURE:
        raise BadInput(
            f"{what} prunes to {lift.to_m:g} m when the tree is {lift.tree_height_m:g} m tall, which leaves "
            f"{left:.0f} % of the height green, less than the {lift.crown_left_percent:g} % it asks for"
        )


def _check_order(before: Lift, lift: Lift) -> None:
    if lift.number == before.number:
        raise BadInput(f"lift {lift.number} is given twice; number the lifts 1, 2, 3")
    if lift.to_m <= before.to_m:
        raise BadInput(
            f"lift {lift.number} prunes to {lift.to_m:g} m, no higher than lift {before.number} ({before.to_m:g} m)"
        )
    if lift.tree_height_m < before.tree_height_m:
        raise BadInput(
            f"lift {lift.number} is due when the tree is {lift.tree_height_m:g} m tall, sooner than lift "
            f"{before.number} ({before.tree_height_m:g} m)"
        )
    if lift.stems_per_ha > before.stems_per_ha:
        raise BadInput(
            f"lift {lift.number} is for {lift.stems_per_ha:g} stems/ha, more than lift {before.number} "
            f"({before.stems_per_ha:g} stems/ha)"
        )
