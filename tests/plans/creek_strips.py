"""Strips of ground along small creeks, for the tests of where plants stand."""

from __future__ import annotations

import shapely
from scipy.spatial import cKDTree

from farmmap.farm.farm import Farm
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.ground.stretch import CreekPart, Stretch, find_part
from farmmap.plans.planting.ground.strips import bands, zone_reach
from farmmap.plans.planting.ground.widths import steady
from farmmap.plans.planting.recipes.recipe import Zone
from tests.plans.meanders import creek_farm


def strips_along(
    line: shapely.Geometry, width_m: float, zones: tuple[Zone, ...], channel_m: float = 2.0
) -> tuple[Farm, CreekPart, list[tuple[int, Zone, shapely.Geometry, tuple[float, float]]]]:
    """Return a farm with one creek, the creek, and its strips: side, zone, ground, reach. Grid metres are ground metres."""
    farm = creek_farm(line, channel_m, local=True)
    part = find_part(farm, Stretch("Sedge Creek", SIDES))
    out = []
    for side in (0, 1):
        widths = steady(part, width_m)
        grounds, reach = bands(farm, part, side, widths, zones), zone_reach(widths, zones)
        out += [(side, zone, *pair) for zone, *pair in zip(zones, grounds, reach, strict=True)]
    return farm, part, out


def nearest(x, y) -> float:
    """Least distance between two of some places, infinite for fewer than two."""
    if len(x) < 2:
        return float("inf")
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    return float(cKDTree(points).query(points, k=2)[0][:, 1].min())


def outside_m(ground: shapely.Geometry, x, y) -> float:
    """How far outside ground the furthest of some places lies."""
    return float(shapely.distance(ground, shapely.points(x, y)).max(initial=0.0))
