"""By what a planting is changed on the map: handles at its ends and on the outer edge of its margin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from farmmap.farm.farm import Farm
    from farmmap.plans.planting.plan import PlantingPlan

FAR_OUT_M = 600.0
"""So far out the outer edge of a margin is looked for. [grid m]"""
NEAR_FOOT_M, APART_M = 0.1, 0.02
"""A margin begins so near its bank, and strips that are no further apart are one ground. [grid m]"""


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
