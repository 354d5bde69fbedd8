"""From what a grower asks for to a planting: the one place that puts the steps together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from farmmap.figures.areas import areas_m2, lengths_m, polygons_only
from farmmap.figures.banks import SIDES
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.fences.fence import fencing
from farmmap.plans.planting.ground.stretch import CreekPart, Stretch, find_part
from farmmap.plans.planting.ground.strips import bands, bank_of, margin_ground, zone_reach
from farmmap.plans.planting.ground.widths import bank_widths
from farmmap.plans.planting.places.clearings import beside_fences, clearings
from farmmap.plans.planting.places.mixing import exact_counts, mixed
from farmmap.plans.planting.places.places import Places, places
from farmmap.plans.planting.places.spacing import kept_apart, least_apart_m, plants_per_m2
from farmmap.plans.planting.plan import Floats, Ints, PlanSketch, PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import Kin, Zone
from farmmap.plans.planting.recipes.rule_tables import known_rules
from farmmap.plans.planting.recipes.rules import rule_sets as published_rules

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.recipes.recipe import Recipe
    from farmmap.plans.planting.recipes.rules import RuleSet

GUIDANCE = (
    "Widths and distances are guidance: check your local code, and ask a licensed practitioner, before you work in a "
    "waterway, spray beside it or touch protected vegetation."
)

NONE_LEFT = 1e-6
"""Zones that leave less than this share of the margin fill it."""

HARDLY = 1e-9
"""A fence whose set-back takes less than this share of a strip takes nothing of it."""

LEAST_TOLD_M2 = 0.5
"""Less ground than this beyond the last zone would be told as 0. [m2]"""

_BANKS: Remembered[tuple[shapely.Geometry, float]] = Remembered(16)

_BESIDE = ThreadPoolExecutor(2, "planting")
"""Works on one bank, strip or zone while another one is worked on: most of it is GEOS and NumPy, which let go of
Python's lock."""


@dataclass(frozen=True, eq=False)
class _Band:
    """Ground of a zone beside one bank, and how far from the bank it lies at its nearest and furthest, in ground m."""

    side: int
    zone: int
    outline: shapely.Geometry
    reach: tuple[float, float]


@dataclass(frozen=True, eq=False)
class _Lie:
    """Where a planting lies."""

    part: CreekPart
    scale: float
    grounds: dict[int, shapely.Geometry]
    bands: list[_Band]
    notes: list[str]


def make_plan(
    farm: Farm,
    stretch: Stretch,
    recipe: Recipe,
    *,
    name: str = "",
    heights: Heights | None = None,
    rule_sets: Mapping[str, RuleSet] | None = None,
    quick: bool = False,
) -> PlantingPlan:
    """Work a planting out.

    Parameters
    ----------
    farm : Farm
        The farm; it is left as it is.
    stretch : Stretch
        Where the planting lies.
    recipe : Recipe
        What is asked for.
    name : str
        What the grower calls it; "" for the creek's name.
    heights : Heights or None
        Elevation grid, for widths by slope, rows along the contour and flood-prone spans of fence.
    rule_sets : mapping of str to RuleSet, optional
        Published width rules and the user's own; those that come with the program if not given. Rules that the recipe
        brings along itself go before them.
    quick : bool
        While something is dragged: areas are those on the grid divided by its scale at the creek squared, a few parts
        in ten thousand off those on the ellipsoid at most; all else is the same.

    Returns
    -------
    PlantingPlan
        The same for the same input.

    Raises
    ------
    BadInput
        The creek, bank or stretch is not there, or the recipe cannot work along it.
    """
    lie = _lie(farm, stretch, recipe, heights, rule_sets)
    part, grounds = lie.part, lie.grounds
    near = shapely.multipolygons(_parts(grounds.values()))
    fencing_beside = _BESIDE.submit(fencing, farm, part, grounds, recipe.fence, heights, lie.scale)
    standing = clearings(farm, recipe.set_backs, near, lie.scale)
    banks = {side: _bank(farm, part, side) for side in grounds}
    fences = fencing_beside.result()
    planned = shapely.multilinestrings([fence.line for fence in fences.lines]) if fences.lines else None
    along_fence = beside_fences(recipe.set_backs, near, planned, lie.scale)
    strips = _strips(farm, lie, standing.ground, along_fence, quick=quick)
    plants, said = _plants(recipe, strips, lie, heights)
    area_m2 = sum(strip.area_m2 for strip in strips)
    margin_m2 = _margin_m2(farm, lie, area_m2, quick=quick)
    return PlantingPlan(
        name=name or f"{part.creek.name} planting",
        stretch=part.stretch,
        recipe=recipe,
        scale=lie.scale,
        kinds=_kinds(recipe.zones),
        strips=strips,
        plants=plants,
        fences=fences.lines,
        banks={side: line for side, (line, _) in banks.items()},
        margin_length_m=sum(length for _, length in banks.values()),
        area_m2=area_m2,
        margin_m2=margin_m2,
        notes=tuple(dict.fromkeys([*lie.notes, *standing.notes, *fences.notes, *said, *_left_out(area_m2, margin_m2)])),
    )


def plan_sketch(
    farm: Farm,
    stretch: Stretch,
    recipe: Recipe,
    *,
    name: str = "",
    heights: Heights | None = None,
    rule_sets: Mapping[str, RuleSet] | None = None,
) -> PlanSketch:
    """Work out the ground of a planting and about how many plants it holds, for while a long stretch is dragged.

    Nothing is planted and no fence run, so a planned fence's set-back is not taken out either. Parameters and errors
    are those of `make_plan`.
    """
    lie = _lie(farm, stretch, recipe, heights, rule_sets)
    kept = clearings(farm, recipe.set_backs, shapely.multipolygons(_parts(lie.grounds.values())), lie.scale)
    strips = _strips(farm, lie, kept.ground, None, quick=True)
    banks = {side: _bank(farm, lie.part, side) for side in lie.grounds}
    clear_m2 = np.zeros(len(recipe.zones))
    np.add.at(clear_m2, [strip.zone for strip in strips], [strip.clear_m2 for strip in strips])
    shared = [
        exact_counts(round(count), [kin.share for kin in zone.mix])
        for zone, count in zip(recipe.zones, about_plants(recipe.zones, clear_m2), strict=True)
    ]
    area_m2 = sum(strip.area_m2 for strip in strips)
    return PlanSketch(
        name=name or f"{lie.part.creek.name} planting",
        stretch=lie.part.stretch,
        recipe=recipe,
        scale=lie.scale,
        kinds=_kinds(recipe.zones),
        strips=strips,
        plants=Plants(np.empty(0), np.empty(0), *(np.empty(0, np.intp) for _ in range(3))),
        fences=(),
        banks={side: line for side, (line, _) in banks.items()},
        margin_length_m=sum(length for _, length in banks.values()),
        area_m2=area_m2,
        margin_m2=_margin_m2(farm, lie, area_m2, quick=True),
        about=np.array([count for counts in shared for count in counts], np.intp),
        notes=tuple(dict.fromkeys([*lie.notes, *kept.notes])),
    )


def about_plants(zones: Sequence[Zone], clear_m2: Floats) -> Floats:
    """Return about how many plants zones hold: ground by plants for a square metre far from edges, shape (zones,)."""
    return np.array([plants_per_m2(zone) for zone in zones]) * clear_m2


def _lie(
    farm: Farm,
    stretch: Stretch,
    recipe: Recipe,
    heights: Heights | None,
    rule_sets: Mapping[str, RuleSet] | None,
) -> _Lie:
    """Return the ground of the margins and of the zones on them."""
    part = find_part(farm, stretch)
    rules = known_rules(recipe.rule_sets, rule_sets or published_rules())

    def one_bank(side: int) -> tuple[shapely.Geometry, list[_Band], tuple[str, ...]]:
        widths = bank_widths(farm, part, side, recipe.widths, heights, rules)
        ground = margin_ground(farm, part, side, widths)
        outlines = bands(farm, part, side, widths, recipe.zones, recipe.lines)
        reach = zone_reach(widths, recipe.zones, recipe.lines)
        found = [_Band(side, zone, *pair) for zone, pair in enumerate(zip(outlines, reach, strict=True))]
        return ground, found, widths.notes

    sides = [side for side, bank in enumerate(SIDES) if bank in part.stretch.banks]
    done = list(_BESIDE.map(one_bank, sides))
    return _Lie(
        part,
        part.creek.scale,
        {side: ground for side, (ground, _, _) in zip(sides, done, strict=True)},
        [band for _, found, _ in done for band in found],
        [GUIDANCE, *(note for _, _, notes in done for note in notes)],
    )


def _parts(grounds: Iterable[shapely.Geometry]) -> list[shapely.Geometry]:
    return [part for ground in grounds for part in shapely.get_parts(ground)]


def _kinds(zones: Sequence[Zone]) -> tuple[tuple[int, Kin], ...]:
    return tuple((place, kin) for place, zone in enumerate(zones) for kin in zone.mix)


def _bank(farm: Farm, part: CreekPart, side: int) -> tuple[shapely.Geometry, float]:
    """Bank of a side and its ground length, in m."""

    def work_out() -> tuple[shapely.Geometry, float]:
        line = bank_of(farm, part, side)
        return line, float(lengths_m([line], farm.grid)[0])

    return _BANKS.get((part, farm.creeks, farm.boundary), (side, farm.grid), work_out)


def _strips(
    farm: Farm, lie: _Lie, standing: shapely.Geometry, along_fence: shapely.Geometry | None, *, quick: bool
) -> tuple[Strip, ...]:
    """Return strips with what is left of them to plant; their areas on the plane if it must be quick."""
    outlines = np.array([band.outline for band in lie.bands], object)
    things = shapely.get_parts(standing)
    strip_of, thing = shapely.STRtree(things).query(outlines, predicate="intersects")

    def one_strip(place: int) -> Strip:
        band = lie.bands[place]
        here = things[thing[strip_of == place]]
        clear = band.outline
        if len(here):
            clear = polygons_only(shapely.difference(clear, shapely.multipolygons(here)))
        if along_fence is not None:
            left = polygons_only(shapely.difference(clear, along_fence))
            clear = left if left.area < clear.area * (1 - HARDLY) else clear
        shapes = [band.outline] if clear is band.outline else [band.outline, clear]
        areas = shapely.area(shapes) / lie.scale**2 if quick else areas_m2(shapes, farm.grid)
        return Strip(band.side, band.zone, band.outline, clear, float(areas[0]), float(areas[-1]))

    return tuple(_BESIDE.map(one_strip, range(len(lie.bands))))


def _margin_m2(farm: Farm, lie: _Lie, area_m2: float, *, quick: bool) -> float:
    """Return the ground of the margins, which is that of their zones where these fill them."""
    grounds = list(lie.grounds.values())
    on_grid = sum(shapely.area(grounds))
    if on_grid - sum(shapely.area([band.outline for band in lie.bands])) <= NONE_LEFT * on_grid:
        return area_m2
    return float(on_grid / lie.scale**2 if quick else sum(areas_m2(grounds, farm.grid)))


def _left_out(area_m2: float, margin_m2: float) -> list[str]:
    """Say how much of the margin lies beyond its last zone."""
    left_m2 = margin_m2 - area_m2
    if left_m2 < LEAST_TOLD_M2:
        return []
    much = f"{left_m2 / 1e4:.2f} ha" if left_m2 >= 1000 else f"{left_m2:.0f} m²"
    return [f"{much} of the margin lies beyond its last zone and stays unplanted."]


def _plants(recipe: Recipe, strips: Sequence[Strip], lie: _Lie, heights: Heights | None) -> tuple[Plants, list[str]]:
    """Plants of all strips, none too near another one, and what the grower should know of them."""

    def one_strip(strip: Strip, band: _Band) -> Places:
        zone = recipe.zones[strip.zone]
        return places(zone, strip.clear, band.reach, lie.part, strip.side, lie.scale, heights, recipe.seed)

    found = list(_BESIDE.map(one_strip, strips, lie.bands))
    many = [len(one) for one in found]
    spacing = np.repeat([least_apart_m(recipe.zones[strip.zone]) * lie.scale for strip in strips], many)
    patch = np.repeat([place if one.known_apart else -1 for place, one in enumerate(found)], many)
    east, north = np.concatenate([one.x for one in found]), np.concatenate([one.y for one in found])
    keep = kept_apart(east, north, spacing, patch)
    east, north = east[keep], north[keep]
    strip_of = np.repeat(np.arange(len(strips)), many)[keep]
    kin = _mixed(recipe, np.array([strip.zone for strip in strips], np.intp)[strip_of], east, north)
    notes = [note for one in found for note in one.notes]
    return Plants(east, north, strip_of, kin, np.concatenate([one.row for one in found])[keep]), notes


def _mixed(recipe: Recipe, zone_of: Ints, x: Floats, y: Floats) -> Ints:
    """Return the kind of each plant, the mix of a zone being exact over both banks."""

    def one_zone(place: int) -> tuple[Ints, Ints]:
        zone, here = recipe.zones[place], np.flatnonzero(zone_of == place)
        if not len(here):
            return here, here
        shares = [one.share for one in zone.mix]
        return here, mixed(x[here], y[here], shares, zone.groups_of, recipe.seed + place)

    kin, first = np.zeros(len(x), np.intp), 0
    for zone, (here, own) in zip(recipe.zones, _BESIDE.map(one_zone, range(len(recipe.zones))), strict=True):
        kin[here] = first + own
        first += len(zone.mix)
    return kin
