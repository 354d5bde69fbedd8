"""What holds for every planting, looked at with plain Shapely and SciPy, and a slope for tests of contour rows."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.spatial import cKDTree

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.plans.planting.places.spacing import plants_per_m2
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, Recipe, SetBacks, WidthRule, Zone

DENSITY = {
    Pattern.ROWS: lambda zone: 1 / (zone.between_m * zone.within_m),
    Pattern.CONTOUR: lambda zone: 1 / (zone.between_m * zone.within_m),
    Pattern.SQUARE: lambda zone: 1 / zone.between_m**2,
    Pattern.TRIANGLE: lambda zone: 2 / (np.sqrt(3) * zone.between_m**2),
    Pattern.SCATTERED: plants_per_m2,
}
"""Plants a square metre: 10 000 / (row x plant) and 11 547 / s2 a hectare, from the plane's geometry.

How many a scatter holds has no such figure; what the program says of it is held to what it plants.
"""

DEPTHS = 5
SPREAD = 60_000
"""Lines at which plants away from edges are counted, and places by which ground is measured."""

MANUKA = (Kin("MANU", 1.0),)


def apart_m(zone: Zone) -> float:
    """Return the least distance that a zone's spacing allows. [m]."""
    is_row = zone.pattern in (Pattern.ROWS, Pattern.CONTOUR)
    return min(zone.between_m, zone.within_m) if is_row else zone.between_m


def of_one_zone(pattern: Pattern, between_m: float, within_m: float, width_m: float, **more: object) -> Recipe:
    """Return a recipe of one zone over the whole width, without a fence."""
    zone = Zone("all of it", share=1.0, pattern=pattern, between_m=between_m, within_m=within_m, mix=MANUKA)
    return Recipe("one zone", (WidthRule(width_m=width_m),), (zone,), **more)


def slope(farm: Farm, *, rise: float = 0.2, cell: float = 10.0) -> Heights:
    """Return ground under all of a farm's creeks that rises to the north-east, with hollows. [m]."""
    west, south, east, north = shapely.union_all(farm.creeks.geometry.to_numpy()).bounds
    west, south, east, north = west - 200, south - 200, east + 200, north + 200
    columns, rows = int((east - west) / cell) + 1, int((north - south) / cell) + 1
    x, y = (np.arange(columns) + 0.5) * cell, (np.arange(rows) + 0.5) * cell
    across, up = np.meshgrid(x, y[::-1])
    values = 100 + rise * (0.6 * across + 0.8 * up) + 4 * np.sin(across / 90) * np.cos(up / 110)
    return Heights(values, west, north, cell, cell)


def assert_sound(plan: PlantingPlan, farm: Farm) -> None:
    """Hold a plan to what every planting must keep: inside its zone, far enough apart, clear of what stands there."""
    assert_inside(plan)
    assert_apart(plan)
    assert_clear(plan, farm)


def assert_inside(plan: PlantingPlan) -> None:
    """Every plant stands inside its strip, and inside what is left of that to plant."""
    plants = plan.plants
    points = shapely.points(plants.x, plants.y)
    for place, strip in enumerate(plan.strips):
        own = points[plants.strip == place]
        for ground in (strip.outline, strip.clear):
            assert len(own) == 0 or shapely.distance(own, ground).max() <= 1e-6


def assert_apart(plan: PlantingPlan) -> None:
    """No two plants are nearer than the spacing, less 1 %; between zones the smaller spacing counts."""
    plants, zones = plan.plants, plan.recipe.zones
    if len(plants) < 2:
        return
    zone = np.array([strip.zone for strip in plan.strips])[plants.strip]
    apart = np.array([apart_m(zones[place]) for place in range(len(zones))])[zone] * plan.scale
    at = np.column_stack([plants.x, plants.y])
    pairs = cKDTree(at).query_pairs(float(apart.max()) * 0.99, output_type="ndarray")
    allowed = np.minimum(apart[pairs[:, 0]], apart[pairs[:, 1]]) * 0.99
    between = np.hypot(*(at[pairs[:, 0]] - at[pairs[:, 1]]).T)
    assert (between >= allowed * (1 - 1e-6)).all(), (between / allowed).min()


def assert_clear(plan: PlantingPlan, farm: Farm) -> None:
    """No plant stands inside a set-back of what is drawn on the farm."""
    points = shapely.points(plan.plants.x, plan.plants.y)
    if not len(points):
        return
    asked: SetBacks = plan.recipe.set_backs
    for table, set_back in (("fences", asked.fence_m), ("tracks", asked.track_m)):
        for row in getattr(farm, table).itertuples():
            half = row.width_m / 2 if table == "tracks" else 0.0
            near = shapely.distance(points, row.geometry).min()
            assert near >= (half + (set_back or 0.0)) * plan.scale * 0.999 - 1e-6
    if len(farm.boundary):
        inside = shapely.union_all(farm.boundary.geometry.to_numpy())
        assert shapely.distance(points, inside).max() <= 1e-6
        edge = shapely.distance(points, inside.boundary).min()
        assert edge >= (asked.boundary_m or 0.0) * plan.scale * 0.999 - 1e-6
    for row in farm.hazards.itertuples():
        own = {
            "power line": asked.power_line_m,
            "building": asked.building_m,
            "pipeline": asked.pipeline_m,
            "drain": asked.drain_m,
        }.get(row.kind)
        near = shapely.distance(points, row.geometry).min()
        assert near >= max(row.clear_m, own or 0.0) * plan.scale * 0.999 - 1e-6
    for fence in plan.fences:
        near = shapely.distance(points, fence.line).min()
        assert near >= (asked.fence_m or 0.0) * plan.scale * 0.999 - 1e-6


def counted(plan: PlantingPlan, zone: int = 0) -> tuple[float, float]:
    """Plants away from the edges of a zone, and how many its spacing asks for there.

    Edges are a row and a half wide and more: where rows run along the edge, a line drawn at one distance from it
    would always pass on the same side of a row, so the mean over lines a row's width deep is taken.
    """
    asked = plan.recipe.zones[zone]
    row = max(asked.between_m, asked.within_m) * plan.scale
    found, wanted = 0.0, 0.0
    for place, strip in enumerate(plan.strips):
        if strip.zone != zone:
            continue
        own = plan.plants.strip == place
        plants = np.column_stack([plan.plants.x[own], plan.plants.y[own]])
        ground = spread_over(strip.clear)
        for inward in row * (1.5 + (np.arange(DEPTHS) + 0.5) / DEPTHS):
            inner = shapely.buffer(strip.clear, -inward)
            shapely.prepare(inner)
            found += shapely.contains_xy(inner, *plants.T).sum() / DEPTHS
            share = shapely.contains_xy(inner, *ground.T).sum() / SPREAD
            wanted += share * strip.clear.area / plan.scale**2 * DENSITY[asked.pattern](asked) / DEPTHS
    return found, wanted


def spread_over(ground: shapely.Geometry) -> np.ndarray:
    """Return `SPREAD` places spread by chance over ground, every part of it as likely, shape (n, 2)."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(ground))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    random = np.random.default_rng(11)
    area = shapely.area(triangles)
    chosen = corners[np.searchsorted(np.cumsum(area) / area.sum(), random.random(SPREAD)).clip(0, len(area) - 1)]
    over, up = random.random((2, SPREAD, 1))
    over, up = np.where(over + up > 1, 1 - over, over), np.where(over + up > 1, 1 - up, up)
    return chosen[:, 0] + over * (chosen[:, 1] - chosen[:, 0]) + up * (chosen[:, 2] - chosen[:, 0])
