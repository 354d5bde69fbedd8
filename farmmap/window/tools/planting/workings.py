"""What is worked out of a draft away from the window: the plan, what follows from it, and what will come of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from farmmap.errors import BadInput, FarmmapError
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import Recipe
from farmmap.progress import SILENT, Progress
from farmmap.scene.page_plan import farm_without
from farmmap.scene.planting_layer import PlantingPicture, planting_picture, with_zones_of
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.grips import Grip, grips_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.outcome.about import About
    from farmmap.plans.planting.outcome.before_after import BeforeAfter
    from farmmap.plans.planting.outcome.costs import Costs
    from farmmap.plans.planting.outcome.cover import CoverForecast
    from farmmap.plans.planting.outcome.order import OrderLine
    from farmmap.plans.planting.recipes.kinds import PlantKinds
    from farmmap.plans.planting.recipes.rules import RuleSet

YEARS = (0, 1, 5, 10, 15, 20)
"""Years for which the cover is forecast."""
_WITHOUT: Remembered[Farm] = Remembered(4)


@dataclass(frozen=True, eq=False)
class Worked:
    """A plan and what follows from it at once.

    Attributes
    ----------
    farm, draft
        What it was worked out from.
    ground : Farm
        The farm as if nothing of a plan of that name stood on it yet.
    plan : PlantingPlan
        The plan.
    kinds : PlantKinds
        What is known of the plants.
    picture : PlantingPicture
        What the map shows.
    orders : tuple of OrderLine
        What to order.
    costs : Costs
        What it costs, and who pays.
    grips : tuple of Grip
        By what it is changed on the map.
    width_m : mapping of str to float
        Width of the margin of each bank where its grip is. [m]
    is_exact : bool
        Whether its areas are those on the ellipsoid, and not those of a draft that is being changed.
    heights : Heights or None
        The ground that it was worked out on.
    """

    farm: Farm
    draft: Draft
    ground: Farm
    plan: PlantingPlan
    kinds: PlantKinds
    picture: PlantingPicture
    orders: tuple[OrderLine, ...]
    costs: Costs
    grips: tuple[Grip, ...]
    width_m: Mapping[str, float]
    is_exact: bool
    heights: Heights | None = None


@dataclass(frozen=True, eq=False)
class Sketched:
    """A draft that is being changed: its ground, and about what it comes to, before any plant has its place.

    Attributes
    ----------
    farm, draft
        What it was worked out from.
    about : About
        About what it comes to.
    picture : PlantingPicture
        Its ground, with plants and fence of the last whole plan.
    grips, width_m
        As for `Worked`.
    """

    farm: Farm
    draft: Draft
    about: About
    picture: PlantingPicture
    grips: tuple[Grip, ...]
    width_m: Mapping[str, float]

    @property
    def plan(self) -> PlantingPlan:
        """Its ground."""
        return self.about.plan

    def with_plants_of(self, worked: Worked) -> Sketched:
        """Return it with plants and fence of another whole plan."""
        return replace(self, picture=with_zones_of(worked.picture, self.picture))


@dataclass(frozen=True, eq=False)
class Outlook:
    """What will come of a plan.

    Attributes
    ----------
    plan : PlantingPlan
        The plan.
    cover : CoverForecast
        Cover of the margin over the years.
    change : BeforeAfter or None
        The creek before and after; None while it is only quickly looked at.
    is_exact : bool
        Whether crowns were joined exactly.
    """

    plan: PlantingPlan
    cover: CoverForecast
    change: BeforeAfter | None
    is_exact: bool


def ground_of(farm: Farm, name: str) -> Farm:
    """Return a farm as if nothing of a plan stood on it yet, so that the plan comes out at the same places again."""
    return _WITHOUT.get((farm,), (name,), lambda: farm_without(farm, name))


def work_out(
    farm: Farm, draft: Draft, heights: Heights | None, *, quick: bool = False, last: Worked | None = None
) -> Worked:
    """Return the plan of a draft and what follows from it.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    draft : Draft
        What is asked for; what stands on the farm of a plan of its name is not in its own way.
    heights : Heights or None
        The ground.
    quick : bool
        Whether it is still being changed: see `make_plan`.
    last : Worked, optional
        The last one, of which plants and fence are taken if only what they cost was changed since.

    Raises
    ------
    BadInput
        It cannot be planted so; in words.
    """
    from farmmap.plans.planting.make import make_plan
    from farmmap.plans.planting.outcome.costs import cost_lines
    from farmmap.plans.planting.outcome.order import order_lines

    kinds = kinds_of(farm, draft.recipe)
    _refuse_unknown(kinds, draft.recipe)
    ground = ground_of(farm, draft.name)
    if last is not None and stands_alike(last, ground, draft, heights) and (quick or last.is_exact):
        name = draft.name or f"{draft.creek} planting"
        plan, is_exact = replace(last.plan, name=name, recipe=draft.recipe), last.is_exact
    else:
        plan = make_plan(ground, draft.stretch, draft.recipe, name=draft.name, heights=heights, quick=quick)
        is_exact = not quick
    orders = tuple(order_lines(plan))
    picture = planting_picture(ground, plan, kinds.code_and_name)
    grips, widths = grips_of(ground, plan)
    costs = cost_lines(plan, orders, kinds)
    return Worked(farm, draft, ground, plan, kinds, picture, orders, costs, grips, widths, is_exact, heights)


def stands_alike(last: Worked, ground: Farm, draft: Draft, heights: Heights | None) -> bool:
    """Whether plants and fence of a draft stand where those of the last plan do, whatever they cost."""
    was, now = last.draft.recipe, draft.recipe
    same = replace(
        now,
        title=was.title,
        purpose=was.purpose,
        orders=was.orders,
        rates=was.rates,
        shares=was.shares,
        prices=was.prices,
        currency=was.currency,
        plants=was.plants,
        lines=was.lines,
    )
    return last.ground is ground and last.heights is heights and last.draft.stretch == draft.stretch and same == was


def sketch_out(
    farm: Farm, draft: Draft, heights: Heights | None, last: Worked | None, outlook: Outlook | None
) -> Sketched:
    """Return the ground of a draft and about what it comes to, which takes a small part of the time of its plan.

    Parameters
    ----------
    farm, draft, heights
        As for `work_out`.
    last : Worked or None
        The last whole plan, for what about-figures are measured by; its plants stay shown.
    outlook : Outlook or None
        What would have come of that, or of one before it.

    Raises
    ------
    BadInput
        It cannot be planted so; in words.
    """
    from farmmap.plans.planting.make import plan_sketch
    from farmmap.plans.planting.outcome.about import about_plan

    kinds = kinds_of(farm, draft.recipe)
    _refuse_unknown(kinds, draft.recipe)
    ground = ground_of(farm, draft.name)
    sketch = plan_sketch(ground, draft.stretch, draft.recipe, name=draft.name, heights=heights)
    like = last if last is not None and last.draft.creek == draft.creek else None
    cover = None if like is None or outlook is None or not _grows_alike(outlook.plan, sketch.recipe) else outlook.cover
    about = about_plan(sketch, None if like is None else like.plan, cover)
    picture = planting_picture(ground, about.plan, kinds.code_and_name)
    grips, widths = grips_of(ground, about.plan)
    shown = picture if like is None else with_zones_of(like.picture, picture)
    return Sketched(farm, draft, about, shown, grips, widths)


def _grows_alike(plan: PlantingPlan, recipe: Recipe) -> bool:
    """Whether zones of a recipe hold what those of a plan do, however wide, so that as much comes under crowns."""
    was, now = (
        [(zone.pattern, zone.between_m, zone.within_m, zone.mix) for zone in zones]
        for zones in (plan.recipe.zones, recipe.zones)
    )
    return was == now and plan.recipe.plants == recipe.plants


def _refuse_unknown(kinds: PlantKinds, recipe: Recipe) -> None:
    for place, zone in enumerate(recipe.zones, 1):
        for kin in zone.mix:
            if kinds.find(kin.species) is None:
                near = kinds.near(kin.species)
                ask = f"; did you mean {' or '.join(near)}?" if near else "; choose one from the list"
                raise BadInput(f"zone {place}, {zone.name}: there is no plant called {kin.species}{ask}")


def look_ahead(worked: Worked, *, exact: bool, progress: Progress = SILENT) -> Outlook:
    """Return what will come of a plan, quickly or exactly."""
    from farmmap.plans.planting.outcome.before_after import BEFORE, before_after
    from farmmap.plans.planting.outcome.cover import expected_cover

    farm, plan, kinds = worked.ground, worked.plan, worked.kinds
    if not exact:
        return Outlook(plan, expected_cover(farm, plan, kinds, YEARS, quick=True), None, is_exact=False)
    cover = expected_cover(farm, plan, kinds, (BEFORE, *YEARS), progress=progress)
    change = before_after(farm, plan, kinds, YEARS[-1], cover=cover, progress=progress)
    return Outlook(plan, cover.of_years(YEARS), change, is_exact=True)


def crowns_at(worked: Worked, year: float) -> NDArray[np.float64]:
    """Return the diameter of each plant's crown in a year after planting, shape (n,) [grid m]."""
    from farmmap.plans.planting.outcome.growth import sizes_at

    crown_m, _ = sizes_at(worked.plan, worked.kinds, year)
    return np.asarray(crown_m, np.float64) * worked.plan.scale


def kinds_of(farm: Farm, recipe: Recipe | None) -> PlantKinds:
    """Return the plants that the farm, a recipe and the program know."""
    from farmmap.plans.planting.recipes.kinds import plant_kinds

    return plant_kinds(farm, recipe)


def read_recipe(farm: Farm, path: Path) -> Recipe:
    """Read a recipe.

    Raises
    ------
    RecipeError
        It cannot be used; says which lines and why.
    """
    from farmmap.plans.planting.recipes.recipe_file import read_recipe as read

    return read(path, kinds_of(farm, None).find)


def write_recipe(recipe: Recipe, path: Path) -> None:
    """Write a recipe as a file.

    Raises
    ------
    FarmmapError
        It cannot be written there.
    """
    from farmmap.plans.planting.recipes.recipe_file import recipe_as_text

    try:
        path.write_text(recipe_as_text(recipe), encoding="utf-8")
    except OSError as error:
        raise FarmmapError(f"The recipe could not be written to {path}: {error.strerror or error}") from error


def example_recipes() -> tuple[Path, ...]:
    """Return the recipes that come with farmmap."""
    from farmmap.resource_files import sample_farm_path

    return tuple(sorted(sample_farm_path().parent.glob("*.toml")))


def rule_sets() -> Mapping[str, RuleSet]:
    """Return the published rules of width."""
    from farmmap.plans.planting.recipes.rules import rule_sets as known

    return known(None)
