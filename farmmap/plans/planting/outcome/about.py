"""About what a planting comes to, from its ground alone: for while it is being changed and no plant has its place yet.

How many plants a zone takes is its ground times the density of its spacing.
Along the edges of a strip more or fewer find room than that; so the last whole
plan of zones of the same pattern says by how much, and what is told of the
same zones a little wider or narrower is right within a few in a hundred.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from farmmap.plans.planting.make import about_plants
from farmmap.plans.planting.outcome.costs import Costs, cost_lines
from farmmap.plans.planting.outcome.cover import CoverForecast
from farmmap.plans.planting.outcome.order import lines_for
from farmmap.plans.planting.plan import FenceLine, Floats, Ints, PlanSketch, PlantingPlan

PART_OF_NUMBER = 50
"""About-numbers are rounded to a power of ten no larger than this part of them: 11,724 to 11,700, 98,765 to 99,000."""


MOST_BUILT = 0.9
"""With less fence to build than this part of the bank, some of it is fenced already. Our own choice."""


@dataclass(frozen=True, eq=False)
class About:
    """About what a planting comes to.

    Attributes
    ----------
    plan : PlantingPlan
        Its ground as it is, about the fence it has, and no plants.
    plants : int
        About how many.
    costs : Costs or None
        About what it costs; None while no fence is known for it.
    cover : tuple of (float, float)
        Years since planting, and about how much of the margin is then under crowns; none if that is not known. [%]
    """

    plan: PlantingPlan
    plants: int
    costs: Costs | None
    cover: tuple[tuple[float, float], ...]


def about_plan(sketch: PlanSketch, last: PlantingPlan | None = None, cover: CoverForecast | None = None) -> About:
    """Return about what a planting comes to.

    Parameters
    ----------
    sketch : PlanSketch
        Its ground.
    last : PlantingPlan, optional
        The last whole plan, of the same creek.
    cover : CoverForecast, optional
        What was forecast for the last whole plan, or one like it.
    """
    numbers = np.rint(sketch.about * _found_for_each(sketch, last)[[zone for zone, _ in sketch.kinds]]).astype(np.intp)
    fences = None if last is None else _fences(sketch, last)
    plan = replace(sketch, fences=fences or ())
    orders = lines_for(sketch.recipe, sketch.kinds, numbers.tolist())
    costs = None if fences is None else cost_lines(plan, orders)
    return About(plan, int(numbers.sum()), costs, () if cover is None else _cover(sketch, cover))


def about_number(value: float) -> int:
    """Return a number that is only about right, rounded so that it does not look exact."""
    step = 10 ** math.floor(math.log10(max(value / PART_OF_NUMBER, 1.0)))
    return round(value / step) * step


def _found_for_each(sketch: PlanSketch, last: PlantingPlan | None) -> Floats:
    """Plants that found room in the last plan for each that its ground and density made likely, zone by zone."""
    factor = np.ones(len(sketch.recipe.zones))
    if last is None:
        return factor
    zone_of = np.array([strip.zone for strip in last.strips], np.intp)
    likely = about_plants(last.recipe.zones, _clear_by_zone(last, zone_of))
    found = np.bincount(zone_of[last.plants.strip], minlength=len(likely))
    for place, (zone, was) in enumerate(zip(sketch.recipe.zones, last.recipe.zones, strict=False)):
        if zone.pattern == was.pattern and likely[place] >= 1 and found[place]:
            factor[place] = found[place] / likely[place]
    return factor


def _clear_by_zone(plan: PlantingPlan, zone_of: Ints) -> Floats:
    clear = np.bincount(zone_of, [strip.clear_m2 for strip in plan.strips], len(plan.recipe.zones))
    return np.asarray(clear, np.float64)


def _fences(sketch: PlanSketch, last: PlantingPlan) -> tuple[FenceLine, ...] | None:
    """About the fence it will have: the last one, longer or shorter as the bank is; None where that says nothing."""
    was, now = last.stretch, sketch.stretch
    if (was.creek, was.banks, last.recipe.fence) != (now.creek, now.banks, sketch.recipe.fence):
        return None
    built = sum(fence.length_m for fence in last.fences)
    if last.recipe.widths != sketch.recipe.widths and 0 < built < MOST_BUILT * last.margin_length_m:
        return None  # a fence that stands serves some of the bank, and may not serve another width
    times = sketch.margin_length_m / last.margin_length_m if last.margin_length_m > 0 else 1.0
    return last.fences if math.isclose(times, 1.0) else tuple(_longer(fence, times) for fence in last.fences)


def _longer(fence: FenceLine, times: float) -> FenceLine:
    return replace(
        fence,
        length_m=fence.length_m * times,
        posts=round(fence.posts * times),
        battens=round(fence.battens * times),
        wire_m=fence.wire_m * times,
        flooded_m=fence.flooded_m * times,
    )


def _cover(sketch: PlanSketch, cover: CoverForecast) -> tuple[tuple[float, float], ...]:
    """Cover that was forecast for each strip, weighed by the ground that the strips have now."""
    of_strip = {(strip.side, strip.zone): strip.cover_percent for strip in cover.by_strip}
    if not sketch.area_m2 > 0 or any((strip.side, strip.zone) not in of_strip for strip in sketch.strips):
        return ()
    area = np.array([strip.area_m2 for strip in sketch.strips])
    percent = area @ np.array([of_strip[strip.side, strip.zone] for strip in sketch.strips]) / area.sum()
    return tuple(zip(cover.years, percent.tolist(), strict=True))
