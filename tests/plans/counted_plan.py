"""Plans of which only the numbers matter: so many plants of each kind, and fences made up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from shapely import LineString, MultiLineString, box

from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.plan import FenceLine, PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import Kin, Recipe, StockOrder, WidthRule, Zone
from tests.place import EAST, NORTH


def counted_plan(
    zones: Sequence[Sequence[tuple[str, str, int]]],
    orders: Mapping[str, StockOrder] | None = None,
    fences: Sequence[FenceLine] = (),
    **recipe: Any,
) -> PlantingPlan:
    """Return a plan on the left bank, its zones a hectare each and half of that planted.

    Parameters
    ----------
    zones : sequence of sequence of (species, stock, plants)
        From the water outwards.
    orders : mapping of str to StockOrder, optional
        By stock.
    fences : sequence of FenceLine
        What is fenced.
    **recipe
        More of the recipe.
    """
    mixes = [tuple(Kin(species, 1 / len(zone), stock) for species, stock, _ in zone) for zone in zones]
    named = tuple(
        Zone(f"Zone {place + 1}", share=1 / len(zones), between_m=2.0, within_m=2.0, mix=mix)
        for place, mix in enumerate(mixes)
    )
    kinds = tuple((place, kin) for place, mix in enumerate(mixes) for kin in mix)
    kin = np.repeat(np.arange(len(kinds)), [number for zone in zones for *_, number in zone])
    zone_of = np.array([zone for zone, _ in kinds], np.intp)
    strips = []
    for place in range(len(zones)):
        outline = box(EAST, NORTH + 10 * place, EAST + 1000, NORTH + 10 * place + 10)
        strips.append(Strip(0, place, outline, outline, 10_000.0, 5_000.0))
    nowhere = np.zeros(len(kin))
    return PlantingPlan(
        name="By number",
        stretch=Stretch("Sedge Creek", ("left",), 0.0, 1000.0),
        recipe=Recipe("By number", (WidthRule(width_m=10.0),), named, orders=orders or {}, **recipe),
        scale=1.0,
        kinds=kinds,
        strips=tuple(strips),
        plants=Plants(EAST + nowhere, NORTH + nowhere, zone_of[kin], kin, np.full(len(kin), -1)),
        fences=tuple(fences),
        banks={0: LineString([(EAST, NORTH), (EAST + 1000, NORTH)])},
        margin_length_m=1000.0,
        area_m2=10_000.0 * len(zones),
        margin_m2=10_000.0 * len(zones),
        notes=("Check your local code.",),
    )


def fence(*corners: tuple[float, float], posts: int = 0, gates: int = 0, **more: Any) -> FenceLine:
    """Return a fence of 7 wires."""
    line = LineString([(EAST + x, NORTH + y) for x, y in corners])
    strains = np.hypot(*np.diff(np.array(corners, float), axis=0).T)
    values: dict[str, Any] = {
        "battens": 0, "troughs": np.zeros((0, 2)), "flooded": MultiLineString(), "flooded_m": 0.0,
    }  # fmt: skip
    return FenceLine(
        side=0,
        line=line,
        length_m=line.length,
        strains_m=strains,
        angles_deg=np.zeros(len(corners)),
        posts=posts,
        wire_m=7 * line.length,
        gates=np.full((gates, 2), EAST),
        gate_m=4.0,
        **(values | more),
    )
