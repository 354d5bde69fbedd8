"""A plan along Sedge Creek of the small farm, put together by hand: two zones of the left bank, a fence and a gate."""

from __future__ import annotations

import numpy as np
from shapely import LineString, MultiLineString, box

from farmmap.farm.farm import Farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.plan import FenceLine, PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Recipe, WidthRule, Zone
from tests.place import EAST, NORTH

RECIPE = Recipe(
    "Sedge and tōtara",
    (WidthRule(width_m=8.0),),
    (
        Zone(
            "Bank",
            share=0.4,
            between_m=2.0,
            within_m=2.0,
            mix=(Kin("radiata pine", 0.5), Kin("tōtara", 0.5, "rooted cutting")),
            reason="holds the bank",
        ),
        Zone(
            "Timber rows",
            share=0.6,
            between_m=2.0,
            within_m=2.0,
            mix=(Kin("coast redwood", 1.0),),
            harvest="from year 40, tree by tree",
        ),
    ),
    purpose="clean water",
    fence=FenceWish(wires=8, battens=3, post_m=5.0),
)


def made_plan(
    farm: Farm, name: str = "Lower Sedge", *, columns: int = 20, east_m: float = 0.0, recipe: Recipe = RECIPE
) -> PlantingPlan:
    """Return a plan of 4 rows of plants 2 m apart, half of the plants in each zone."""
    del farm
    x, y = np.meshgrid(EAST + east_m + 1.0 + 2.0 * np.arange(columns), NORTH + np.array([-28.5, -26.5, -24.0, -22.0]))
    x, y = x.ravel(), y.ravel()
    strip = np.repeat([0, 1], 2 * columns)
    west, east = EAST + east_m, EAST + east_m + 2.0 * columns + 2.0
    outlines = [box(west, NORTH - 29, east, NORTH - 25.5), box(west, NORTH - 25.5, east, NORTH - 20)]
    line = LineString([(west, NORTH - 19), (east, NORTH - 19)])
    fence = FenceLine(
        0,
        line,
        line.length,
        np.array([line.length]),
        np.zeros(2),
        7,
        21,
        8 * line.length,
        np.array([(west + 3, NORTH - 19)]),
        4.0,
        np.array([(west + 9, NORTH + 11)]),
        MultiLineString([line]),
        12.3,
    )
    kinds = tuple((place, kin) for place, zone in enumerate(recipe.zones) for kin in zone.mix)
    return PlantingPlan(
        name,
        Stretch("Sedge Creek", ("left",), 20.0 + east_m, 22.0 + east_m + 2.0 * columns),
        recipe,
        1.0,
        kinds,
        tuple(Strip(0, zone, outline, outline, outline.area, outline.area) for zone, outline in enumerate(outlines)),
        Plants(x, y, strip, np.where(strip == 1, 2, np.arange(len(x)) % 2), np.repeat([0, 1, 0, 1], columns)),
        (fence,),
        {0: LineString([(west, NORTH - 29), (east, NORTH - 29)])},
        2.0 * columns,
        sum(outline.area for outline in outlines),
        sum(outline.area for outline in outlines),
        (),
    )
