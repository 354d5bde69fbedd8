"""Plans that are kept on the farm: their recipe and stretch, not their plants."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from farmmap.editing.proposed import Proposed, added_change, edit_of, removed_change, rows_of
from farmmap.editing.values import typed
from farmmap.editing.words import listed
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import PLANS
from farmmap.farm.species import plain
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.printable import refuse_not_printed
from farmmap.plans.planting.recipes.recipe import Recipe
from farmmap.plans.planting.recipes.recipe_file import recipe_as_text, recipe_from_text
from farmmap.plans.planting.recipes.rule_set import RuleSet

KEPT, ACCEPTED, PLANTED = "kept", "accepted", "planted"

PARTS = ("trees", "fences", "blocks", "notes")
"""Tables in which an accepted plan stands; each has a column ``plan``."""


@dataclass(frozen=True)
class KeptPlan:
    """A plan as it is kept on the farm.

    Attributes
    ----------
    id : int
        Its row in the table of plans.
    name : str
        What it is called.
    stretch : Stretch
        Where it lies.
    recipe_text : str
        What was asked for, as TOML; `recipe_of` reads it.
    made_on : date or None
        Day on which it was made.
    state : str
        One of `farmmap.farm.schema.PLAN_STATES`.
    note : str
        What the grower wrote beside it.
    """

    id: int
    name: str
    stretch: Stretch
    recipe_text: str
    made_on: dt.date | None
    state: str
    note: str


def kept_plans(farm: Farm) -> tuple[KeptPlan, ...]:
    """Return all plans of a farm, in the order in which they were first kept; accepted and planted ones too."""
    return tuple(_kept(int(str(row)), values) for row, values in farm.tables["plans"].iterrows())


def plan_called(farm: Farm, name: str) -> KeptPlan:
    """Return the plan of that name; case, accents and spaces at its ends do not matter.

    Raises
    ------
    BadInput
        The farm has no such plan.
    """
    plans = kept_plans(farm)
    for plan in plans:
        if plain(plan.name) == plain(name):
            return plan
    known = f"it has {listed([plan.name for plan in plans])}" if plans else "none is kept yet"
    raise BadInput(f"the farm has no plan called {name}; {known}")


def recipe_of(farm: Farm, plan: KeptPlan, rule_sets: Mapping[str, RuleSet] | None = None) -> Recipe:
    """Return the recipe of a kept plan.

    Parameters
    ----------
    farm : Farm
        The farm that keeps it.
    plan : KeptPlan
        The plan.
    rule_sets : mapping of str to RuleSet, optional
        Width rules that may be named; the published ones if not given.

    Raises
    ------
    RecipeError
        It cannot be read: another program changed it, or it names a rule set of the grower's own that was not given.
    """
    return recipe_from_text(plan.recipe_text, plan_words(plan.name), plant_kinds(farm).find, rule_sets)


def plan_kept(farm: Farm, plan: PlantingPlan, *, on: dt.date | None = None, note: str = "") -> Proposed:
    """Propose to keep a plan beside others: its recipe and stretch, from which it is made again.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plan : PlantingPlan
        The plan; one of its name that is only kept gives way to it.
    on : date or None
        Day on which it was made; None for today.
    note : str
        What the grower wrote beside it.

    Raises
    ------
    BadInput
        It has no name, or one that cannot be printed, or one of its name is accepted or planted.
    """
    change, notes = plan_row(farm, plan, KEPT, on, note)
    return Proposed(edit_of(f"Keep {plan_words(plan.name)}", {"plans": change}), notes)


def plan_taken_back(farm: Farm, name: str) -> Proposed:
    """Propose to take a plan back by one step.

    Of an accepted plan all that is still planned goes: plants, fences, blocks
    and notes; the plan is kept. A plan that is only kept goes itself.

    Raises
    ------
    BadInput
        There is no such plan, or nothing of it is only planned.
    """
    plan = plan_called(farm, name)
    if plan.state == KEPT:
        words = f"Take {plan_words(plan.name)} off the list"
        return Proposed(edit_of(words, {"plans": removed_change(farm, "plans", [plan.id])}))
    rows = {table: planned_rows(farm, table, plan.name) for table in PARTS}
    if plan.state == PLANTED:
        rows["notes"] = rows["notes"][:0]
        if not any(len(ids) for ids in rows.values()):
            raise BadInput(f"{plan_words(plan.name)} was planted, and nothing of it is only planned; undo that first")
    changes = {table: removed_change(farm, table, ids) for table, ids in rows.items() if len(ids)}
    readings = farm.measurements.index[np.isin(farm.measurements["tree"].to_numpy(), rows["trees"])]
    if len(readings):
        changes["measurements"] = removed_change(farm, "measurements", readings)
    if plan.state == ACCEPTED:
        changes["plans"] = state_change(farm, plan, KEPT)
    stay = int((farm.trees["plan"] == plan.name).sum()) - len(rows["trees"])
    notes = (f"{stay} of its trees stand on the farm by now and stay",) if stay else ()
    return Proposed(edit_of(f"Take back {plan_words(plan.name)}", changes), notes)


def plan_words(name: str) -> str:
    """Return how a plan is called in the name of an edit: ``plan Lower Sedge``, ``Plan 3``."""
    return name if name.casefold().startswith("plan ") else f"plan {name}"


def planned_rows(farm: Farm, table: str, name: str) -> np.ndarray:
    """Return ids of the rows of a table that came from a plan and are only planned yet; int64, shape (n,).

    Notes have no stage, so all of the plan's count.
    """
    frame = farm.tables[table]
    there = (frame["plan"] == name).to_numpy(bool)
    if "stage" in frame.columns:
        there = there & (frame["stage"] == "planned").to_numpy(bool)
    return frame.index.to_numpy(np.int64)[there]


def plan_row(
    farm: Farm, plan: PlantingPlan, state: str, on: dt.date | None, note: str = ""
) -> tuple[Change, tuple[str, ...]]:
    """Return the change that puts a plan into the table of plans, or in the place of the kept one of its name.

    Raises
    ------
    BadInput
        It has no name, or one of its name is accepted or planted.
    """
    name = str(typed(PLANS, PLANS.column("name"), plan.name.strip()))
    refuse_not_printed(name, "the name of a plan")
    was = next((kept for kept in kept_plans(farm) if plain(kept.name) == plain(name)), None)
    if was is not None and was.state != KEPT:
        raise BadInput(
            f"{plan_words(was.name)} is {was.state} already; give this one another name"
            + (", or take that one back first" if was.state == ACCEPTED else "")
        )
    values = {
        "name": [name],
        "creek": [plan.stretch.creek],
        "banks": [banks_words(plan.stretch)],
        "from_m": [np.nan if plan.stretch.from_m is None else plan.stretch.from_m],
        "to_m": [np.nan if plan.stretch.to_m is None else plan.stretch.to_m],
        "recipe": [recipe_as_text(plan.recipe)],
        "made_on": np.array([on or dt.datetime.now().astimezone().date()], "datetime64[s]"),
        "state": [state],
        "note": [note or (was.note if was is not None else "")],
    }
    if was is None:
        return added_change(farm, "plans", shaped(PLANS, values, next_ids(farm.tables["plans"], 1), farm.grid)), ()
    after = shaped(PLANS, values, np.array([was.id]), farm.grid)
    before = rows_of(farm, "plans", [was.id])
    if before.equals(after):
        raise BadInput(f"{plan_words(was.name)} is kept already, just as it is")
    same = before.drop(columns=["made_on", "state"]).equals(after.drop(columns=["made_on", "state"]))
    said = () if same else (f"the plan called {was.name} that was kept before gives way to this one",)
    return Change(before, after), said


def state_change(farm: Farm, plan: KeptPlan, state: str) -> Change:
    """Return the change that gives a plan another state."""
    before = rows_of(farm, "plans", [plan.id])
    return Change(before, filled(before, state=state))


def filled(rows: pd.DataFrame, **texts: str) -> pd.DataFrame:
    """Return rows with one text in all of a column, by the column's name."""
    out = rows.copy(deep=False)
    for column, text in texts.items():
        out[column] = pd.array([text], dtype="str").take(np.zeros(len(rows), np.intp))
    return out


def banks_words(stretch: Stretch) -> str:
    """Return ``left``, ``right`` or ``both``."""
    sides = set(stretch.banks)
    return next(iter(sides)) if len(sides) == 1 else "both"


def _kept(row: int, values: pd.Series) -> KeptPlan:
    banks = ("left", "right") if values["banks"] == "both" else (str(values["banks"]),)
    ends = [None if np.isnan(values[end]) else float(values[end]) for end in ("from_m", "to_m")]
    made_on = None if pd.isna(values["made_on"]) else values["made_on"].date()
    return KeptPlan(
        row,
        str(values["name"]),
        Stretch(str(values["creek"]), banks, *ends),
        str(values["recipe"]),
        made_on,
        str(values["state"]),
        str(values["note"]),
    )
