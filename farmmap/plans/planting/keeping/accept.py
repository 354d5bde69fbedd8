"""A plan taken into the farm: its plants, fences and zones as planned, and later as planted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from farmmap.editing.draw import free_names
from farmmap.editing.proposed import (
    Proposed,
    added_change,
    edit_of,
    joined_change,
    rows_of,
    shapes_changed,
    with_shapes,
)
from farmmap.editing.settling import settled
from farmmap.editing.sound import far_note, refuse_off_grid
from farmmap.editing.words import day_words, listed, place_words
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import BLOCKS, FENCES, NOTES, TREES
from farmmap.farm.species import Known, SpeciesFinder, plain
from farmmap.figures.areas import polygons_only
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.fences.crossings import bank_of_fence, bank_words
from farmmap.plans.planting.keeping.kept import (
    ACCEPTED,
    KEPT,
    PLANTED,
    filled,
    plan_called,
    plan_row,
    plan_words,
    planned_rows,
    state_change,
)
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import FenceWish

STANDS_M = 0.3
"""A plant this close to a tree would stand where that stands. Our own choice. [ground m]"""

LETTERS_OF_TAG = 4
"""Letters with which the tags of a plan's plants begin, at most: the first of each word of its name."""


def plan_accepted(farm: Farm, plan: PlantingPlan, *, on: dt.date | None = None) -> Proposed:
    """Propose to take a plan into the farm: plants, fences, zones and gates, all of them as planned.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plan : PlantingPlan
        The plan, made for this farm; kept or not.
    on : date or None
        Day on which it was made; None for today.

    Returns
    -------
    Proposed
        Plants become planned trees with tags that no other tree has. Species that the farm does not list are put
        on its list. Every zone along a bank becomes a planned block, every gate and trough a note.

    Raises
    ------
    BadInput
        The plan has no name, holds nothing, is accepted or planted already, or trees stand where it has plants.
    """
    if not len(plan.plants) and not plan.fences:
        raise BadInput(
            f"{plan_words(plan.name)} holds no plants and no fence; choose another stretch, or mend its recipe"
        )
    row, notes = plan_row(farm, plan, ACCEPTED, on)
    name = str(row.after["name"].iloc[0])
    what = plan_words(name)
    places = np.column_stack([plan.plants.x, plan.plants.y])
    if len(places):
        refuse_off_grid(farm, places, what)
    _refuse_where_trees_stand(farm, plan, what)
    codes, listed_now, said = _species(farm, plan)
    rows = {
        "trees": _trees(farm, plan, name, codes),
        "fences": _fences(farm, plan, name),
        "blocks": _blocks(farm, plan, name),
        "notes": _gates(farm, plan, name, row.after["made_on"].to_numpy()),
        "species": listed_now,
    }
    far = far_note(farm, places, what) if len(places) else ()
    changes = {table: added_change(farm, table, new) for table, new in rows.items()}
    return Proposed(edit_of(f"Accept {what}", changes | {"plans": row}), (*notes, *said, *far))


def plan_planted(farm: Farm, name: str, on: dt.date, *, planted: Mapping[str, int] | None = None) -> Proposed:
    """Propose to mark an accepted plan as planted: its plants stand from that day on, its fences and zones as well.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    name : str
        The plan's name.
    on : date
        Day of planting.
    planted : mapping of str to int, optional
        How many were planted of a species, by code or name; all of those not mentioned. The rest stays planned,
        spread evenly over the plants of that species, as nobody noted which they were.

    Raises
    ------
    BadInput
        There is no such plan, it is not accepted, nothing of it is only planned, or more were planted of a species
        than the plan has.
    """
    plan = plan_called(farm, name)
    what = plan_words(plan.name)
    if plan.state == KEPT:
        raise BadInput(f"{what} is not accepted yet; accept it first, so that its plants have their places")
    ids = {table: planned_rows(farm, table, plan.name) for table in ("trees", "fences", "blocks")}
    trees = rows_of(farm, "trees", ids["trees"])
    trees = trees[(trees["status"] == "alive").to_numpy(bool)]
    if not len(trees) and not len(ids["fences"]) and not len(ids["blocks"]):
        raise BadInput(f"nothing of {what} is only planned any more")
    now, notes = _planted_of(farm, trees, planted or {}, what)
    day = on.isoformat()
    changes = {"trees": Change(trees[now], filled(trees[now], stage="existing", planted=day))}
    fences = rows_of(farm, "fences", ids["fences"])
    changes["fences"] = Change(fences, filled(fences, stage="existing"))
    changes["blocks"], said = _standing_blocks(farm, ids["blocks"], day)
    if plan.state != PLANTED:
        changes["plans"] = state_change(farm, plan, PLANTED)
    return Proposed(edit_of(f"Mark {what} as planted on {day_words(on)}", changes), (*notes, *said))


def _refuse_where_trees_stand(farm: Farm, plan: PlantingPlan, what: str) -> None:
    """Refuse plants where living trees stand, or are planned by another plan."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy

    if not len(plan.plants):
        return
    reach = STANDS_M * plan.scale
    x, y = (farm.trees[axis].to_numpy() for axis in "xy")
    px, py = plan.plants.x, plan.plants.y
    near = (x >= px.min() - reach) & (x <= px.max() + reach) & (y >= py.min() - reach) & (y <= py.max() + reach)
    near &= (farm.trees["status"] == "alive").to_numpy(bool)
    rows = np.flatnonzero(near)
    if not len(rows):
        return
    away, plant = cKDTree(np.column_stack([px, py])).query(
        np.column_stack([x[rows], y[rows]]), distance_upper_bound=reach
    )
    hit = np.isfinite(away)
    if not hit.any():
        return
    planned = farm.trees.iloc[rows[hit]]
    of = sorted({str(name) for name in planned["plan"][planned["stage"] == "planned"]} - {""})
    many, first = len(np.unique(plant[hit])), int(plant[hit][0])
    where = place_words(float(px[first]), float(py[first]))
    there = f"{plan_words(of[0])} has its own" if of else "trees stand"
    mend = f"take {plan_words(of[0])} back first" if of else "make it again, so that it keeps clear of them"
    raise BadInput(f"{what}: {many} of its plants would stand where {there}, the first at {where}; {mend}")


def _species(farm: Farm, plan: PlantingPlan) -> tuple[NDArray[np.object_], pd.DataFrame, tuple[str, ...]]:
    """Code on the farm's list for each of the plan's kinds, rows to be put on that list, and what to say of them."""
    kinds, finder = plant_kinds(farm, plan.recipe), SpeciesFinder(farm.species)
    codes: list[str] = []
    for _, kin in plan.kinds:
        found = kinds.find(kin.species)
        if found is None:
            raise BadInput(f"species {kin.species} is not known; list it under the farm's species, or in the recipe")
        known = Known(found.code, found.name, found.scientific, found.origin, np.nan, np.nan, found.source)
        codes.append(finder.code_for(known))
    used = set(np.array(codes, object)[np.unique(plan.plants.kin)]) if codes else set()
    rows = finder.added(farm.grid)
    rows = rows[rows["code"].isin(used).to_numpy(bool)]
    rows.index = pd.Index(next_ids(farm.species, len(rows)), name="id")
    names = [f"{name} ({code})" for code, name in zip(rows["code"], rows["name"], strict=True)]
    notes = (f"put on the farm's list of species: {listed(names, 8)}",) if names else ()
    return np.array(codes, object), rows, notes


def _trees(farm: Farm, plan: PlantingPlan, name: str, codes: NDArray[np.object_]) -> pd.DataFrame:
    plants = plan.plants
    stocks = np.array([kin.stock for _, kin in plan.kinds], object)
    values: dict[str, Any] = {
        "tag": _tags(farm, name, len(plants)),
        "species": _spread(codes, plants.kin),
        "stock": _spread(stocks, plants.kin),
        "stage": _same("planned", len(plants)),
        "plan": _same(name, len(plants)),
        "x": plants.x,
        "y": plants.y,
    }
    return shaped(TREES, values, next_ids(farm.trees, len(plants)), farm.grid)


def _tags(farm: Farm, name: str, count: int) -> NDArray[np.str_]:
    """Return tags such as ``LS0001`` for a plan Lower Sedge, counted on from those that begin alike."""
    words = [word for word in plain(name).upper().split() if word[0].isalpha()]
    letters = "".join(word[0] for word in words)[:LETTERS_OF_TAG] or "P"
    tags = farm.trees["tag"]
    alike = tags[tags.str.upper().str.startswith(letters).to_numpy(bool)].str.slice(len(letters))
    numbers = pd.to_numeric(alike[alike.str.fullmatch(r"[0-9]{1,15}").to_numpy(bool)]).to_numpy(np.int64)
    if not count:
        return np.empty(0, str)
    first = int(numbers.max(initial=0)) + 1
    digits = max(4, len(str(first + count)))
    figures = np.char.zfill(np.arange(first, first + count).astype(str), digits)
    return np.char.add(letters, figures)


def _fences(farm: Farm, plan: PlantingPlan, name: str) -> pd.DataFrame:
    called = [f"Fence, {bank_words(bank_of_fence(plan, fence))}, {plan.stretch.creek}" for fence in plan.fences]
    values: dict[str, Any] = {
        "name": _free(farm, "fences", called),
        "build": [build_words(plan.recipe.fence)] * len(called),
        "stage": ["planned"] * len(called),
        "note": [
            f"a flood may reach {fence.flooded_m:.0f} m of it" if fence.flooded_m >= 1 else "" for fence in plan.fences
        ],
        "plan": [name] * len(called),
        "geometry": [fence.line for fence in plan.fences],
    }
    return shaped(FENCES, values, next_ids(farm.fences, len(called)), farm.grid)


def build_words(fence: FenceWish) -> str:
    """Return how a fence is built: ``7 wires, a post every 4 m, 2 battens between posts``."""
    wires = f"{fence.wires} wire{'' if fence.wires == 1 else 's'}"
    battens = f", {fence.battens} batten{'' if fence.battens == 1 else 's'} between posts" if fence.battens else ""
    return f"{wires}, a post every {fence.post_m:g} m{battens}"


def _blocks(farm: Farm, plan: PlantingPlan, name: str) -> pd.DataFrame:
    strips = [(strip, polygons_only(shapely.make_valid(strip.outline))) for strip in plan.strips]
    strips = [(strip, outline) for strip, outline in strips if not outline.is_empty]
    zones = [plan.recipe.zones[strip.zone] for strip, _ in strips]
    called = [f"{name}: {zone.name}, {SIDES[strip.side]}" for zone, (strip, _) in zip(zones, strips, strict=True)]
    values: dict[str, Any] = {
        "name": _free(farm, "blocks", called),
        "purpose": [zone.reason or plan.recipe.purpose for zone in zones],
        "stage": ["planned"] * len(called),
        "note": [zone.harvest for zone in zones],
        "plan": [name] * len(called),
        "geometry": [outline for _, outline in strips],
    }
    return shaped(BLOCKS, values, next_ids(farm.blocks, len(called)), farm.grid)


def _gates(farm: Farm, plan: PlantingPlan, name: str, made_on: NDArray[np.datetime64]) -> pd.DataFrame:
    """Gates and troughs as notes, each at its place."""
    headings: list[str] = []
    texts: list[str] = []
    places = [np.empty((0, 2))]
    for fence in plan.fences:
        for heading, at in ((f"Gate, {fence.gate_m:g} m", fence.gates), ("Trough", fence.troughs)):
            headings += [heading] * len(at)
            texts += [f"{plan_words(name)}, {bank_words(bank_of_fence(plan, fence))}"] * len(at)
            places.append(np.asarray(at, np.float64).reshape(-1, 2))
    values: dict[str, Any] = {
        "heading": headings,
        "text": texts,
        "written_on": np.repeat(made_on, len(headings)),
        "plan": [name] * len(headings),
        "geometry": shapely.points(np.concatenate(places)),
    }
    return shaped(NOTES, values, next_ids(farm.notes, len(headings)), farm.grid)


def _free(farm: Farm, table: str, wanted: list[str]) -> list[str]:
    """Return names that no row of a table has, nor each other: ``Bank, left bank, Sedge Creek 2`` for a second one."""
    taken = {str(name).casefold() for name in farm.tables[table]["name"]}
    out: list[str] = []
    for name in wanted:
        free = [name, *free_names(farm, table, name, len(wanted))]
        out.append(next(one for one in free if one.casefold() not in taken))
        taken.add(out[-1].casefold())
    return out


@dataclass(frozen=True)
class _Species:
    """A species of the plan's plants: its code, its name, and which of the trees are of it."""

    code: str
    name: str
    rows: NDArray[np.intp]


def _planted_of(
    farm: Farm, trees: pd.DataFrame, planted: Mapping[str, int], what: str
) -> tuple[NDArray[np.bool_], list[str]]:
    """Which of a plan's trees were planted, and what to say of the rest."""
    names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
    codes = trees["species"].to_numpy(object)
    known = [
        _Species(str(code), str(names.get(code) or code), np.flatnonzero(codes == code)) for code in sorted(set(codes))
    ]
    now, notes = np.ones(len(trees), bool), list[str]()
    for word, count in planted.items():
        found = next((one for one in known if plain(word) in {plain(one.code), plain(one.name)}), None)
        if found is None:
            has = listed([one.name for one in known], 8) or "nothing"
            raise BadInput(f"{what} has no planned plants of species {word}; it has {has}")
        planned = len(found.rows)
        if not 0 <= count <= planned:
            raise BadInput(
                f"{what} has {planned} planned plants of {found.name}, so {count} cannot have been planted of them; "
                "put further ones in as trees"
            )
        step = np.arange(planned + 1) * int(count) // max(planned, 1)
        now[found.rows] = np.diff(step) > 0
        if count < planned:
            notes.append(f"{planned - count} of {planned} {found.name} stay planned, spread evenly among the others")
    return now, notes


def _standing_blocks(farm: Farm, ids: NDArray[np.int64], day: str) -> tuple[Change, tuple[str, ...]]:
    """Planned blocks that are to stand, cut back to their neighbours; one for which there is no room stays planned."""
    rows = rows_of(farm, "blocks", ids)
    outlines = dict(zip(ids.tolist(), rows.geometry.to_numpy(), strict=True))
    names = dict(zip(ids.tolist(), rows["name"].to_list(), strict=True))
    shapes: dict[int, shapely.Geometry] = {}
    notes: list[str] = []
    found = settled(farm, {}, names)
    for row, outline in outlines.items():
        try:
            found = settled(farm, {**shapes, row: outline}, names)
            shapes[row] = outline
        except BadInput as error:
            notes.append(f"{names[row]} stays planned: {error}")
    mine = rows.loc[list(shapes)]
    after = filled(
        with_shapes(mine, [found.shapes.pop(row, shapes[row]) for row in shapes]), stage="existing", planted=day
    )
    others = [shapes_changed(farm, "blocks", found.shapes)] if found.shapes else []
    return joined_change(Change(mine, after), *others), (*found.notes, *notes)


def _same(text: str, count: int) -> Any:
    return pd.array([text], dtype="str").take(np.zeros(count, np.intp))


def _spread(texts: NDArray[np.object_], places: NDArray[np.intp]) -> Any:
    return pd.array(texts, dtype="str").take(places)
