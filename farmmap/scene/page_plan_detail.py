"""A small map beside that of a planting, so close that its rows and the signs of its plants can be seen."""

from __future__ import annotations

import numpy as np

from farmmap.plans.planting.plan import PlantingPlan
from farmmap.scene.page_items import Box, Shape, Text, Type
from farmmap.scene.page_plan import cut_across
from farmmap.scene.scales import LEAST_SCALE, round_scale
from farmmap.scene.view import View

NAME = "detail"
"""Name of its box on the page."""

LEAST_HIGH_MM, MOST_HIGH_MM = 30.0, 66.0
"""On A4. [mm]"""

OF_WIDTH = 0.66
CLOSER = 1.6
"""It is set only if it is so many times as large as the map."""

APART_MM = 1.4
"""Plants of the closest zone stand at least so far apart in it, about. [mm]"""

AROUND_M = 2.0


def detail_box(plan: PlantingPlan, type_: Type, width: float, height: float, metres_per_mm: float) -> Box:
    """Return the room of the small map with its heading and frame; no height where it has no room or no use.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    type_ : Type
        Sizes of type.
    width, height : float
        How wide it is, and how high it may be. [mm]
    metres_per_mm : float
        Scale of the map that it stands beside.
    """
    top = _top(type_)
    high = min(OF_WIDTH * width, MOST_HIGH_MM * type_.times, height - top - 0.5)
    view = detail_view(plan, width, high) if high >= LEAST_HIGH_MM * type_.times else None
    if view is None or view.metres_per_mm * CLOSER > metres_per_mm:
        return Box(NAME, 0, 0, width, 0, ())
    scale = f"{view.scale_denominator:,.0f}".replace(",", "\u202f")
    corners = ((0.0, top), (width, top), (width, top + high), (0.0, top + high))
    heading = Text(0, type_.heading.size_mm, f"Framed on the map, 1:{scale}", type_.heading)
    frame = Shape(corners, closed=True, line=type_.theme.ink, line_mm=0.3)
    return Box(NAME, 0, 0, width, top + high + 0.5, (heading, frame))


def detail_frame(box: Box, type_: Type) -> tuple[float, float, float, float]:
    """Return left, top, width and height of the map within its box. [mm]."""
    top = _top(type_)
    return box.x, box.y + top, box.width, box.height - top - 0.5


def detail_view(plan: PlantingPlan, width: float, height: float) -> View | None:
    """Return ground from the bank outwards in the middle of the stretch, None if there is none.

    Parameters
    ----------
    plan : PlantingPlan
        The planting.
    width, height : float
        Of the small map. [mm]
    """
    banks = [(bank.length, side) for side, bank in plan.banks.items() if not bank.is_empty]
    if not banks:
        return None
    (foot, out), met = cut_across(plan, max(banks)[1])
    if not met:
        return None
    zones = [plan.recipe.zones[zone] for zone, _, _ in met]
    steps = [step for zone in zones for step in (zone.between_m, zone.within_m) if step > 0]
    room, reach = min(width, height), met[-1][2] + AROUND_M * plan.scale
    fits, seen = reach / room * 1000, min(steps, default=1.0) * plan.scale / APART_MM * 1000
    metres = round_scale(max(min(fits, seen), float(LEAST_SCALE))) / 1000
    away = min(reach, room * metres) / 2
    x, y = (np.asarray(foot) + np.asarray(out) * away).tolist()
    return View(x, y, metres, width, height)


def _top(type_: Type) -> float:
    return type_.heading.size_mm * 1.6
