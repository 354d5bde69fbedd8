"""What the map shows of a planting that is only planned: strips, rows, plants, crowns to come, and the fence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.plans.planting.plan import FenceLine, PlantingPlan
from farmmap.scene.scene import KeyEntry, Sample
from farmmap.scene.styles import LineStyle, Theme, mixed
from farmmap.scene.symbols import MARKS, OKABE_ITO, SHAPES, SpeciesSymbol, species_symbols
from farmmap.scene.view import Bounds, Floats

Ints = NDArray[np.intp]

ZONE_COLOURS = ("#0072B2", "#009E73", "#E69F00", "#CC79A7", "#56B4E9", "#D55E00")
"""Tints of zones from the water outwards, of Okabe and Ito's colours (see `farmmap.scene.symbols.OKABE_ITO`)."""

HATCHES = ("level", "rising", "falling", "upright", "crossed", "diamonds")
"""Hatches of zones in the same order, so that they are told apart without their colour."""

BREAK = 2.6
"""A row is drawn on to its next plant if that is no further than so many times the spacing."""


@dataclass(frozen=True, eq=False)
class ZoneArea:
    """Ground of one zone on both banks.

    Attributes
    ----------
    name : str
        Name of the zone.
    colour, hatch : str
        How it is told from the others.
    shapes : ndarray of shapely Polygon, shape (n,)
        Its ground. [grid m]
    boxes : ndarray, shape (n, 4)
        Smallest rectangle around each. [grid m]
    """

    name: str
    colour: str
    hatch: str
    shapes: np.ndarray
    boxes: Floats


@dataclass(frozen=True, eq=False)
class PlantingPicture:
    """A planting in plain arrays, ready to be painted.

    Attributes
    ----------
    zones : tuple of ZoneArea
        From the water outwards.
    x, y : ndarray, shape (n,)
        Plants. [grid m]
    symbol : ndarray of int, shape (n,)
        Which of ``symbols`` each is.
    symbols : tuple of SpeciesSymbol
        Kinds of plants, those the farm has as they are drawn there.
    counts : tuple of int
        How many of each.
    row_ends : ndarray of int, shape (k, 2)
        First and last-plus-one place in ``row_order`` of each piece of row.
    row_order : ndarray of int
        Places in ``x`` and ``y``, row by row.
    row_gap_m : float
        Least distance between rows. [grid m]
    spacing_m : float
        Least distance between plants. [grid m]
    fences : tuple of FenceLine
        As in the plan.
    bounds : tuple of float or None
        Ground that it covers; None if there is none. [grid m]
    """

    zones: tuple[ZoneArea, ...]
    x: Floats
    y: Floats
    symbol: Ints
    symbols: tuple[SpeciesSymbol, ...]
    counts: tuple[int, ...]
    row_ends: Ints
    row_order: Ints
    row_gap_m: float
    spacing_m: float
    fences: tuple[FenceLine, ...]
    bounds: Bounds | None

    @cached_property
    def row_points(self) -> Floats:
        """Plants row by row, shape (m, 2). [grid m]."""
        return np.column_stack([self.x[self.row_order], self.y[self.row_order]])


def planting_picture(farm: Farm, plan: PlantingPlan, named: Callable[[str], tuple[str, str]]) -> PlantingPicture:
    """Return what the map shows of a planting.

    Parameters
    ----------
    farm : Farm
        Its species keep their symbols.
    plan : PlantingPlan
        The planting.
    named : callable
        Given a species as the recipe has it, returns its code and its name for people.
    """
    symbols, of_kind = _symbols(farm, plan, named)
    plants = plan.plants
    kinds = np.array(of_kind, np.intp)
    symbol = kinds[plants.kin] if len(plants) else np.zeros(0, np.intp)
    ends, order = _rows(plan)
    zones = plan.recipe.zones
    gaps = [zone.between_m for zone in zones if zone.between_m > 0]
    steps = [zone.within_m or zone.between_m for zone in zones if zone.within_m or zone.between_m]
    return PlantingPicture(
        _zones(plan),
        plants.x,
        plants.y,
        symbol,
        symbols,
        tuple(np.bincount(symbol, minlength=len(symbols)).tolist()),
        ends,
        order,
        min(gaps, default=0.0) * plan.scale,
        min(steps, default=1.0) * plan.scale,
        plan.fences,
        _bounds(plan),
    )


def key_of_fences(fences: tuple[FenceLine, ...], look: Theme) -> tuple[KeyEntry, ...]:
    """Return what the key says of the fences of a planting, which are on no layer of the map."""
    fence, water = look.lines["fences"].colour, look.lines["creeks"].colour
    if not fences:
        return ()
    counts = {
        "gate": sum(len(one.gates) for one in fences),
        "floodgate": sum(len(one.floodgates) for one in fences),
        "trough": sum(len(one.troughs) for one in fences),
    }
    flooded = any(one.flooded_m >= 1 for one in fences)
    lines: list[tuple[str, Sample, int | None]] = [
        ("new fence", LineStyle(fence, 0.4, dash=(1.2, 0.8)), None),
        ("strainer post", look.marks["strainer"], None),
        *([("a flood may reach it", LineStyle(mixed(water, 0.55, look.inside), 2.0), None)] if flooded else []),
        *((sign, look.marks[sign], count) for sign, count in counts.items() if count),
    ]
    return tuple(KeyEntry("", words, sample, count, shown=True) for words, sample, count in lines)


def zone_colours(zone: ZoneArea, look: Theme) -> tuple[str, str]:
    """Return the colour of a zone's tint and that of its strokes; in a look without colours only the strokes tell."""
    return (look.inside, look.ink) if look.is_grey else (zone.colour, mixed(zone.colour, 0.45, look.ink))


def with_zones_of(picture: PlantingPicture, other: PlantingPicture) -> PlantingPicture:
    """Return a picture with the ground of another one, all else as it is."""
    return replace(picture, zones=other.zones, bounds=other.bounds)


def next_symbols(farm: Farm, unknown: Sequence[tuple[str, str]]) -> list[SpeciesSymbol]:
    """Return symbols for species that the farm does not have yet, by code and name, apart from those that it has."""
    taken = species_symbols(farm)
    letters = {symbol.letter for symbol in taken.values()}
    made: list[SpeciesSymbol] = []
    for place, (code, name) in enumerate(unknown, len(taken) - 1):
        letter = next(
            (word for word in (*_letters(name), *_letters(code)) if word not in letters), f"{name[:1].upper()}{place}"
        )
        letters.add(letter)
        colour, shape = OKABE_ITO[place % len(OKABE_ITO)], SHAPES[place % len(SHAPES)]
        made.append(
            SpeciesSymbol(
                code, name, colour, shape, letter, MARKS[place // (len(OKABE_ITO) * len(SHAPES)) % len(MARKS)]
            )
        )
    return made


def _letters(name: str) -> list[str]:
    letters = [letter for letter in name if letter.isalpha()]
    return [letters[0].upper(), *(letters[0].upper() + later.lower() for later in letters[1:])] if letters else []


def _symbols(
    farm: Farm, plan: PlantingPlan, named: Callable[[str], tuple[str, str]]
) -> tuple[tuple[SpeciesSymbol, ...], list[int]]:
    """Symbols of the plan's species, each once, and which of them each of the plan's kinds has."""
    known = species_symbols(farm)
    species = [named(kin.species) for _, kin in plan.kinds]
    distinct = list(dict.fromkeys(species))
    new = dict(zip([one for one in distinct if one[0] not in known],
                   next_symbols(farm, [one for one in distinct if one[0] not in known]), strict=True))  # fmt: skip
    symbols = tuple(new[one] if one in new else known[one[0]] for one in distinct)
    return symbols, [distinct.index(one) for one in species]


def _zones(plan: PlantingPlan) -> tuple[ZoneArea, ...]:
    out: list[ZoneArea] = []
    for place, zone in enumerate(plan.recipe.zones):
        shapes = shapely.get_parts([strip.outline for strip in plan.strips if strip.zone == place])
        shapes = shapely.get_parts(shapes)
        shapes = shapes[(shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(shapes)]
        colour, hatch = ZONE_COLOURS[place % len(ZONE_COLOURS)], HATCHES[place % len(HATCHES)]
        out.append(ZoneArea(zone.name, colour, hatch, shapes, shapely.bounds(shapes).reshape(-1, 4)))
    return tuple(out)


def _rows(plan: PlantingPlan) -> tuple[Ints, Ints]:
    """Pieces of rows: broken where the row, the strip or the even spacing ends."""
    plants = plan.plants
    order = np.flatnonzero(plants.row >= 0)
    if len(order) < 2:
        return np.zeros((0, 2), np.intp), order
    strip, row, x, y = plants.strip[order], plants.row[order], plants.x[order], plants.y[order]
    zone_of_strip = np.array([one.zone for one in plan.strips], np.intp)
    steps = np.array([zone.within_m or zone.between_m for zone in plan.recipe.zones]) * plan.scale
    far = np.hypot(np.diff(x), np.diff(y)) > BREAK * steps[zone_of_strip[strip[1:]]]
    cut = np.flatnonzero((np.diff(strip) != 0) | (np.diff(row) != 0) | far) + 1
    starts, ends = np.concatenate([[0], cut]), np.concatenate([cut, [len(order)]])
    return np.column_stack([starts, ends])[ends - starts > 1], order


def _bounds(plan: PlantingPlan) -> Bounds | None:
    shapes = [strip.outline for strip in plan.strips] + [fence.line for fence in plan.fences]
    box = shapely.total_bounds(np.array(shapes, object)) if shapes else np.full(4, np.nan)
    return None if np.isnan(box).any() else (float(box[0]), float(box[1]), float(box[2]), float(box[3]))
