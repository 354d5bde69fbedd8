"""Small plans with plants where a test puts them, and kinds that grow as it says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.plan import PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import Kin, PlantKind, Recipe, WidthRule, Zone
from tests.place import EAST, NORTH

SEDGE = PlantKind("SEDG", "sedge", form="sedge", years=(1, 3), crown_m=(0.4, 0.9), height_m=(0.5, 0.9))
SHRUB = PlantKind("SHRU", "shrub", form="shrub", years=(1, 5, 10), crown_m=(0.4, 1.8, 3.0), height_m=(0.6, 2.0, 4.0))
TREE = PlantKind("TREE", "tree", years=(1, 5, 10, 20), crown_m=(0.5, 2.0, 4.0, 7.0), height_m=(0.6, 3.0, 6.0, 12.0))


class Listed:
    """Kinds found by their code."""

    def __init__(self, *kinds: PlantKind) -> None:
        self._kinds: Mapping[str, PlantKind] = {kind.code: kind for kind in kinds}

    def find(self, word: str) -> PlantKind | None:
        """Return the kind of that code."""
        return self._kinds.get(word)


KINDS = Listed(SEDGE, SHRUB, TREE)


def plan_with(
    outlines: Sequence[tuple[int, shapely.Geometry]],
    codes: Sequence[str],
    plants: Sequence[tuple[float, float, int, int]],
    *,
    banks: Mapping[int, shapely.Geometry] | None = None,
    scale: float = 1.0,
) -> PlantingPlan:
    """Return a plan of strips (side and outline), a zone each, and plants (x, y, strip, place in codes)."""
    table = np.array(plants, np.float64).reshape(-1, 4)
    kin = [Kin(code, 1.0) for code in codes]
    zones = tuple(Zone(f"zone {place}", width_m=5.0, mix=tuple(kin)) for place in range(max(len(outlines), 1)))
    whole = table[:, 2:].astype(np.intp)
    return PlantingPlan(
        name="Tried out",
        stretch=Stretch("Sedge Creek", ("left", "right"), 0.0, 240.0),
        recipe=Recipe("Tried out", (WidthRule(width_m=5.0),), zones),
        scale=scale,
        kinds=tuple((0, one) for one in kin),
        strips=tuple(
            Strip(side, place, shape, shape, shape.area, shape.area) for place, (side, shape) in enumerate(outlines)
        ),
        plants=Plants(table[:, 0], table[:, 1], whole[:, 0], whole[:, 1], np.zeros(len(table), np.intp)),
        fences=(),
        banks=banks or {},
        margin_length_m=480.0,
        area_m2=sum(shape.area for _, shape in outlines),
        margin_m2=sum(shape.area for _, shape in outlines),
        notes=(),
    )


def creek_plan(every_m: float = 2.0, *, first: int = 2, sides: Sequence[int] = (0, 1)) -> PlantingPlan:
    """Return a plan along Sedge Creek of the small farm: 10 m on each bank, trees (or another) in three rows."""
    outlines, banks, plants = [], {}, []
    for place, side in enumerate(sides):
        turn = 1 if side == 0 else -1
        bank = NORTH - 30 + turn
        outlines.append(
            (side, shapely.box(EAST - 20, min(bank, bank + 10 * turn), EAST + 220, max(bank, bank + 10 * turn)))
        )
        banks[side] = shapely.LineString([(EAST - 20, bank), (EAST + 220, bank)])
        plants += [
            (EAST - 20 + x, bank + turn * off, place, first)
            for off in (1.5, 4.0, 6.5)
            for x in np.arange(every_m / 2, 240.0, every_m)
        ]
    return plan_with(outlines, ("SEDG", "SHRU", "TREE"), plants, banks=banks)
