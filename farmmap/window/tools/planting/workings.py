"""What is worked out of a draft away from the window: the plan, what follows from it, and what will come of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from farmmap.errors import BadInput, FarmmapError
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import PlantKind, Recipe
from farmmap.progress import SILENT, Progress
from farmmap.scene.page_plan import farm_without
from farmmap.scene.planting_layer import PlantingPicture, planting_picture, with_zones_of
from farmmap.window.tools.planting.draft import Draft

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
FAR_OUT_M = 600.0
"""So far out the outer edge of a margin is looked for. [grid m]"""
NEAR_FOOT_M, APART_M = 0.1, 0.02
"""A margin begins so near its bank, and strips that are no further apart are one ground. [grid m]"""
_WITHOUT: Remembered[Farm] = Remembered(4)


@dataclass(frozen=True)
class Grip:
    """A place on the map by which a plan is changed.

    Attributes
    ----------
    name : str
        ``from_m``, ``to_m``, ``left`` or ``right``.
    x, y : float
        Where. [grid m]
    foot : tuple of float
        Where on the bank the outer edge is measured from, the place itself for the ends. [grid m]
    """

    name: str
    x: float
    y: float
    foot: tuple[float, float]


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
    picture = planting_picture(ground, plan, named_by(kinds.find))
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
        What would have come of that.

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
    about = about_plan(sketch, None if like is None else like.plan, None if outlook is None else outlook.cover)
    picture = planting_picture(ground, about.plan, named_by(kinds.find))
    grips, widths = grips_of(ground, about.plan)
    shown = picture if like is None else with_zones_of(like.picture, picture)
    return Sketched(farm, draft, about, shown, grips, widths)


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


def named_by(find: Callable[[str], PlantKind | None]) -> Callable[[str], tuple[str, str]]:
    """Return what gives code and name of a species as a recipe has it."""

    def named(word: str) -> tuple[str, str]:
        kind = find(word)
        return (word, word) if kind is None else (kind.code or kind.name, kind.name or kind.code)

    return named


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


def grips_of(farm: Farm, plan: PlantingPlan) -> tuple[tuple[Grip, ...], dict[str, float]]:
    """Return by what a plan is changed on the map, and the width of each bank's margin there [m]."""
    from farmmap.plans.planting.ground.stretch import place_at

    creek, stretch = plan.stretch.creek, plan.stretch
    grips: list[Grip] = []
    for name, at_m in (("from_m", stretch.from_m), ("to_m", stretch.to_m)):
        if at_m is not None:
            x, y = place_at(farm, creek, at_m)
            grips.append(Grip(name, float(x), float(y), (float(x), float(y))))
    middle = np.array([[one.x, one.y] for one in grips]).mean(axis=0) if grips else np.zeros(2)
    if len(grips) == 2:
        assert stretch.from_m is not None
        assert stretch.to_m is not None
        middle = np.array(place_at(farm, creek, (stretch.from_m + stretch.to_m) / 2), float)
    widths: dict[str, float] = {}
    for side, name in enumerate(("left", "right")):
        found = _edge_grip(plan, side, middle)
        if found is not None:
            foot, out = found
            grips.append(Grip(name, float(out[0]), float(out[1]), (float(foot[0]), float(foot[1]))))
            widths[name] = float(np.hypot(*(out - foot))) / plan.scale
    return tuple(grips), widths


def _edge_grip(
    plan: PlantingPlan, side: int, middle: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return a place on a bank near the middle of the stretch, and the outer edge of the margin square out from it."""
    bank = plan.banks.get(side)
    strips = [strip.outline for strip in plan.strips if strip.side == side and not strip.outline.is_empty]
    if bank is None or bank.is_empty or not strips:
        return None
    line = max(shapely.get_parts(bank), key=lambda part: part.length)
    along = shapely.line_locate_point(line, shapely.Point(middle))
    inside = min(1.0, line.length / 4)
    along = min(max(along, inside), line.length - inside)
    foot = shapely.get_coordinates(shapely.line_interpolate_point(line, along))[0]
    near = shapely.get_coordinates(
        shapely.line_interpolate_point(line, [max(along - inside, 0.0), min(along + inside, line.length)])
    )
    step = near[1] - near[0]
    if not np.hypot(*step) > 0:
        return None
    normal = np.array([-step[1], step[0]]) / np.hypot(*step)
    out, back = (_reaches(foot, way, strips) for way in (normal, -normal))
    if not max(out, back):
        return None
    best = foot + (normal * out if out >= back else -normal * back)
    rules, zones = plan.recipe.widths, plan.recipe.zones
    reach = float(np.hypot(*(best - foot)))
    if len(rules) == 1 and rules[0].width_m is not None and all(zone.width_m is not None for zone in zones):
        best = foot + (best - foot) * max(rules[0].width_m * plan.scale / reach, 1.0)  # beyond the zones lies grass
    return foot, best


def _reaches(foot: NDArray[np.float64], way: NDArray[np.float64], strips: list[shapely.Geometry]) -> float:
    """Return how far ground that begins at a foot goes on without a break [grid m]."""
    ray = shapely.LineString([foot, foot + way * FAR_OUT_M])
    pieces = shapely.get_parts(shapely.intersection(ray, strips))
    pieces = pieces[shapely.get_dimensions(pieces) == 1]
    along = shapely.line_locate_point(ray, shapely.get_point(pieces, [[0], [-1]])).reshape(2, -1)
    end = 0.0
    for begin, last in sorted(zip(along.min(axis=0), along.max(axis=0), strict=True)):
        if begin > end + (APART_M if end else NEAR_FOOT_M):
            break
        end = max(end, float(last))
    return end


def width_at(plan: PlantingPlan, name: str, x: float, y: float) -> float:
    """Return how far a place lies from a bank along the ground [m]."""
    bank = plan.banks[("left", "right").index(name)]
    return float(shapely.distance(bank, shapely.Point(x, y))) / plan.scale
