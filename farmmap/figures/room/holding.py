"""What holds a tree back: its strongest competitors by name, and what taking each out would give it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.room.around import Neighbour, Surroundings
from farmmap.figures.room.indices import LEAST_APART_M
from farmmap.figures.standing import Standing, later_note, standing, the_day

COLUMNS = (
    "tag",
    "species",
    "dbh_cm",
    "apart_m",
    "bearing_deg",
    "share_percent",
    "index_left",
    "space_gained_m2",
    "crown_freed_m2",
    "crown_freed_percent",
)
BRIEF = ("tag", "species", "apart_m", "bearing_deg", "share_percent", "index_left", "space_gained_m2", "crown_freed_m2")

MOST_NAMED = 24
"""So many of the strongest competitors are named."""

LEAST_BEYOND_PERCENT = 1.0
"""From so much of the circle beyond the blocks on it is told. [%]"""


@dataclass(frozen=True, eq=False)
class HoldsBack(FigureTable):
    """The competitors of a tree, the strongest first, and the trees around it.

    Attributes
    ----------
    tree : int
        Id of the tree.
    reach_m : float
        How far neighbours were looked for. [m]
    around : tuple of Neighbour
        The tree itself, first, and whoever stands within reach or touches its crown.
    """

    tree: int = 0
    reach_m: float = 0.0
    around: tuple[Neighbour, ...] = ()


_ANSWERS: Remembered[HoldsBack] = Remembered(4)


def holds_back(farm: Farm, tree: int, on: dt.date | None = None) -> HoldsBack:
    """Return what holds a tree back.

    The share of each competitor is its part of Hegyi's index over all trees on
    the map within reach. What taking it out gives: the index that is left,
    the growing space that the tree's own cell gains inside its block, and the
    part of its crown that no other crown would overlap any more.

    Parameters
    ----------
    farm : Farm
        The farm.
    tree : int
        Id of the tree.
    on : date or None
        The day; None for the day of the newest measurement.

    Returns
    -------
    HoldsBack
        Without rows where nothing presses on it or it has no diameter; the notes say which.

    Raises
    ------
    BadInput
        The farm has no such tree, or it does not stand on that day.
    """
    there = standing(farm, the_day(farm, on))
    tables = (farm.trees, farm.blocks, farm.tracks, farm.creeks, farm.hazards, farm.species, there)
    return _ANSWERS.get(tables, (tree, farm.grid), lambda: _work_out(farm, tree, there))


def _work_out(farm: Farm, tree: int, there: Standing) -> HoldsBack:
    place = int(np.searchsorted(there.ids, tree))
    if place >= len(there) or there.ids[place] != tree:
        if tree not in farm.trees.index:
            raise BadInput(f"the farm has no tree with id {tree}")
        tag = farm.trees.at[tree, "tag"] or f"number {tree}"
        raise BadInput(f"tree {tag} does not stand on {there.on.isoformat()}")
    look = Surroundings(farm, there, place)
    tags = [str(tag) for tag in farm.trees["tag"].iloc[look.near.places]]
    strongest = look.strongest()
    named = strongest[:MOST_NAMED]
    return HoldsBack(
        "holds_back",
        f"What holds tree {tags[look.own] or f'number {tree}'} back, {there.on.isoformat()}",
        COLUMNS,
        tuple(_row(look, one) | {"tag": tags[one] or f"number {look.near.ids[one]}"} for one in named),
        tuple(int(look.near.ids[one]) for one in named),
        (*_notes(look, len(strongest)), *later_note(farm, there.on)),
        BRIEF,
        tree,
        look.reach_m,
        look.plan(tags),
    )


def _row(look: Surroundings, one: int) -> dict[str, object]:
    near, part, whole = look.near, float(look.parts[one]), float(look.parts.sum())
    space, left = look.space_m2(), look.space_m2(one)
    freed = look.crown_freed(one)
    return {
        "species": near.species_labels[int(near.species[one])],
        "code": near.species_names[int(near.species[one])],
        "dbh_cm": float(near.dbh_cm[one]),
        "own_dbh_cm": float(near.dbh_cm[look.own]),
        "apart_m": float(look.apart[one]),
        "apart_counted_m": max(float(look.apart[one]), LEAST_APART_M),
        "bearing_deg": look.bearing_deg(one),
        "index_part": part,
        "index_whole": whole,
        "share_percent": 100.0 * part / whole,
        "index_left": whole - part,
        "space_m2": space,
        "space_after_m2": left,
        "space_gained_m2": None if space is None or left is None else max(left - space, 0.0),
        "crown_freed_m2": None if freed is None else freed[0],
        "crown_freed_percent": None if freed is None else freed[1],
    }


def _notes(look: Surroundings, many: int) -> tuple[str, ...]:
    near, own, reach = look.near, look.own, look.reach_m
    if not near.dbh_cm[own] > 0:
        return ("This tree has no diameter by this date, so its neighbours cannot be weighed against it.",)
    if not many:
        nobody = f"No measured tree stands within {reach:.1f} m of it."
        return (nobody, *_unmeasured(look))
    space = look.space_m2()
    room = "" if space is None else f" It has {space:.1f} m² of its block to itself."
    notes = [
        f"Competition index {look.parts.sum():.2f} from {many} trees within {reach:.1f} m (Hegyi 1974).{room}",
        "A row says what would be if only that tree were taken out.",
        "Reach: 3.5 mean crown radii of the trees around (Lorimer 1983).",
    ]
    if many > MOST_NAMED:
        notes.append(f"The strongest {MOST_NAMED} are named.")
    beyond = look.beyond_percent
    if beyond >= LEAST_BEYOND_PERCENT:
        corrected = float(look.corrected.hegyi[0])
        instead = (
            f" If trees stand there as they do here, the index is about {corrected:.2f}." if corrected >= 0 else ""
        )
        notes.append(
            f"{beyond:.0f} % of that circle lies outside the blocks; trees there count only if mapped.{instead}"
        )
    return (*notes, *_unmeasured(look))


def _unmeasured(look: Surroundings) -> tuple[str, ...]:
    if not look.unmeasured:
        return ()
    many = f"{look.unmeasured} trees within reach have no diameter and are"
    return (f"{many if look.unmeasured > 1 else '1 tree within reach has no diameter and is'} not counted.",)
