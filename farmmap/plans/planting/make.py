"""From what a grower asks for to a planting: the one place that puts the steps together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
from farmmap.plans.planting.places.clearings import clearings
from farmmap.plans.planting.places.mixing import mixed
from farmmap.plans.planting.places.places import places
from farmmap.plans.planting.places.spacing import kept_apart, least_apart_m
from farmmap.plans.planting.plan import Ints, PlantingPlan, Plants, Strip
from farmmap.plans.planting.recipes.recipe import Kin, Zone
from farmmap.plans.planting.recipes.rules import rule_sets as published_rules

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.farm.heights import Heights
    from farmmap.plans.planting.recipes.recipe import Recipe
    from farmmap.plans.planting.recipes.rules import RuleSet

GUIDANCE = (
    "Widths and distances are guidance: check your local code and ask before you work in a waterway, spray beside it "
    "or touch protected vegetation."
)

_BANKS: Remembered[tuple[shapely.Geometry, float]] = Remembered(16)


@dataclass(frozen=True, eq=False)
class _Band:
    """Ground of a zone beside one bank, and how far from the bank it lies at its nearest and furthest, in ground m."""

    side: int
    zone: int
    outline: shapely.Geometry
    reach: tuple[float, float]


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
        Published width rules and the user's own; those that come with the program if not given.
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
    part = find_part(farm, stretch)
    scale, notes = part.creek.scale, [GUIDANCE]
    grounds: dict[int, shapely.Geometry] = {}
    found: list[_Band] = []
    for side in (side for side, bank in enumerate(SIDES) if bank in part.stretch.banks):
        widths = bank_widths(farm, part, side, recipe.widths, heights, rule_sets or published_rules())
        notes += widths.notes
        grounds[side] = margin_ground(farm, part, side, widths)
        outlines = bands(farm, part, side, widths, recipe.zones, recipe.lines)
        reach = zone_reach(widths, recipe.zones, recipe.lines)
        found += [_Band(side, zone, *pair) for zone, pair in enumerate(zip(outlines, reach, strict=True))]
    fences = fencing(farm, part, grounds, recipe.fence, heights, scale)
    planned = shapely.multilinestrings([fence.line for fence in fences.lines]) if fences.lines else None
    kept = clearings(farm, recipe.set_backs, shapely.multipolygons(_parts(grounds.values())), planned, scale)
    strips = _strips(farm, found, kept.ground, scale if quick else None)
    plants, said = _plants(recipe, strips, found, part, heights)
    banks = {side: _bank(farm, part, side) for side in grounds}
    return PlantingPlan(
        name=name or f"{part.creek.name} planting",
        stretch=part.stretch,
        recipe=recipe,
        scale=scale,
        kinds=_kinds(recipe.zones),
        strips=strips,
        plants=plants,
        fences=fences.lines,
        banks={side: line for side, (line, _) in banks.items()},
        margin_length_m=sum(length for _, length in banks.values()),
        area_m2=sum(strip.area_m2 for strip in strips),
        notes=tuple(dict.fromkeys([*notes, *kept.notes, *fences.notes, *said])),
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


def _strips(farm: Farm, found: Sequence[_Band], kept_clear: shapely.Geometry, scale: float | None) -> tuple[Strip, ...]:
    """Return strips with what is left of them to plant; their areas on the plane if a scale is given."""
    outlines = np.array([band.outline for band in found], object)
    clear = outlines.copy()
    whole = np.ones(len(found), bool)
    if not kept_clear.is_empty:
        things = shapely.get_parts(kept_clear)
        strip, thing = shapely.STRtree(things).query(outlines, predicate="intersects")
        whole[strip] = False
        for place in np.unique(strip):
            near = shapely.multipolygons(things[thing[strip == place]])
            clear[place] = polygons_only(shapely.difference(outlines[place], near))
    shapes = np.concatenate([outlines, clear[~whole]])
    areas = areas_m2(shapes, farm.grid) if scale is None else shapely.area(shapes) / scale**2
    left = areas[: len(found)].copy()
    left[~whole], areas = areas[len(found) :], areas[: len(found)]
    return tuple(
        Strip(band.side, band.zone, band.outline, ground, float(area), float(clear_area))
        for band, ground, area, clear_area in zip(found, clear, areas, left, strict=True)
    )


def _plants(
    recipe: Recipe, strips: Sequence[Strip], found: Sequence[_Band], part: CreekPart, heights: Heights | None
) -> tuple[Plants, list[str]]:
    """Plants of all strips, none too near another one, and what the grower should know of them."""
    scale, notes = part.creek.scale, list[str]()
    x, y, row, of_strip, apart = [], [], [], [], []
    for place, (strip, band) in enumerate(zip(strips, found, strict=True)):
        zone = recipe.zones[strip.zone]
        there = places(zone, strip.clear, band.reach, part, strip.side, scale, heights, recipe.seed)
        notes += there.notes
        x.append(there.x)
        y.append(there.y)
        row.append(there.row)
        of_strip.append(np.full(len(there), place, np.intp))
        apart.append(np.full(len(there), least_apart_m(zone) * scale))
    east, north, spacing = np.concatenate(x), np.concatenate(y), np.concatenate(apart)
    keep = kept_apart(east, north, spacing)
    east, north = east[keep], north[keep]
    strip_of = np.concatenate(of_strip)[keep]
    zone_of = np.array([strip.zone for strip in strips], np.intp)[strip_of]
    kin = _mixed(recipe, zone_of, east, north)
    return Plants(east, north, strip_of, kin, np.concatenate(row)[keep]), notes


def _mixed(recipe: Recipe, zone_of: Ints, x: np.ndarray, y: np.ndarray) -> Ints:
    """Return the kind of each plant, the mix of a zone being exact over both banks."""
    kin, first = np.zeros(len(x), np.intp), 0
    for place, zone in enumerate(recipe.zones):
        here = np.flatnonzero(zone_of == place)
        if len(here):
            shares = [one.share for one in zone.mix]
            kin[here] = first + mixed(x[here], y[here], shares, zone.groups_of, recipe.seed + place)
        first += len(zone.mix)
    return kin
