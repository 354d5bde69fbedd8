"""The part of a page's key that tells of a planting: plants, zones, fence."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial

import shapely

from farmmap.plans.planting.plan import PlantingPlan
from farmmap.scene.page_items import Box, Item, Sampled, Shape, Symbol, Text, Type, elided, wrapped
from farmmap.scene.page_key import LEAST_COLUMN_MM
from farmmap.scene.page_plan import (
    HATCH_MM,
    SHAPED_FROM_MM,
    TINT,
    flooded_style,
    hatch,
    new_fence_style,
    plant_mm,
    plants_apart,
    zone_letter,
    zone_style,
)
from farmmap.scene.page_plan_signs import floodgate_sign, gate_sign, strainer_sign, trough_sign
from farmmap.scene.page_stack import Part
from farmmap.scene.planting_layer import PlantingPicture, ZoneArea
from farmmap.scene.styles import Theme, mixed
from farmmap.scene.symbols import SpeciesSymbol

SAMPLE_MM = (8.0, 3.3)
SYMBOL_MM = 3.3
"""Wide enough for two letters, see `farmmap.scene.sizes.LETTER_FROM_MM`. [mm]"""

LEAST_PLANTS = 3

Sign = Callable[[float, float], list[Item]]
"""Draws a sample about a middle. [mm]"""


@dataclass(frozen=True)
class _Line:
    """A line of the key: its sample, its words and perhaps a number."""

    sign: Sign
    words: str
    count: int | None = None


def planting_key(
    plan: PlantingPlan, picture: PlantingPicture, type_: Type, width: float, height: float, metres_per_mm: float
) -> Box:
    """Return the key of a planting, plants first; where there is no room, plants of which there are few are left out.

    Parameters
    ----------
    plan, picture
        The planting.
    type_ : Type
        Sizes of type.
    width, height : float
        Its room. [mm]
    metres_per_mm : float
        Scale of the map, as where plants stand too close their symbols are dots, which is said.
    """
    plants = _fitting(plan, picture, type_, width, height, metres_per_mm)
    items: list[Item] = [Text(0, type_.heading.size_mm, "Key to the planting", type_.heading)]
    y = type_.heading.size_mm * 1.7
    for lines in (_plants(picture, plants), _zones(picture, type_.theme), _fence(plan, type_.theme)):
        made = _section(lines, type_, width)
        items += made.placed(0, y).items
        y += made.height
    for line in _said(plan, type_, width, metres_per_mm):
        items.append(Text(0, y + type_.small.size_mm, line, type_.small))
        y += type_.small.size_mm * 1.25
    return Box("key", 0, 0, width, y + 0.3 * type_.small.size_mm, tuple(items))


def planting_key_part(plan: PlantingPlan, picture: PlantingPicture, type_: Type, metres_per_mm: float) -> Part:
    """Return the key of a planting as a part of a page, for a scale of its map."""

    def measure(width: float, height: float) -> float:
        plants = _fitting(plan, picture, type_, width, height, metres_per_mm)
        return _height(plan, picture, type_, width, metres_per_mm, plants)

    return Part(
        "key",
        lambda width, height: planting_key(plan, picture, type_, width, height, metres_per_mm),
        4,
        measure=measure,
    )


def _fitting(
    plan: PlantingPlan, picture: PlantingPicture, type_: Type, width: float, height: float, metres_per_mm: float
) -> int:
    """Return how many kinds of plants have room, those of which there are most."""
    kinds = sum(count > 0 for count in picture.counts)
    whole = _height(plan, picture, type_, width, metres_per_mm, kinds)
    if whole <= height + 1e-6 or kinds <= LEAST_PLANTS:
        return kinds
    room = height - (whole - _rows(kinds, type_, width)[2])
    fits = [most for most in range(LEAST_PLANTS, kinds) if _rows(most + 1, type_, width)[2] <= room + 1e-6]
    return max(fits, default=LEAST_PLANTS)


def _height(
    plan: PlantingPlan, picture: PlantingPicture, type_: Type, width: float, metres_per_mm: float, plants: int
) -> float:
    """How high the key is with so many kinds of plants. [mm]."""
    kinds = sum(count > 0 for count in picture.counts)
    counts = (
        plants + (plants < kinds),
        sum(len(zone.shapes) > 0 for zone in picture.zones),
        len(_fence(plan, type_.theme)),
    )
    sections = sum(_rows(count, type_, width)[2] for count in counts if count)
    said = len(_said(plan, type_, width, metres_per_mm)) * type_.small.size_mm * 1.25
    return type_.heading.size_mm * 1.7 + sections + said + 0.3 * type_.small.size_mm


def _said(plan: PlantingPlan, type_: Type, width: float, metres_per_mm: float) -> list[str]:
    """Return lines that say what cannot be told apart at a scale."""
    said = _crowded(plan, metres_per_mm)
    return [line for words in said for line in wrapped(words, type_.small, width, type_.width)]


def _crowded(plan: PlantingPlan, metres_per_mm: float) -> Iterator[str]:
    """Say in which zones plants are drawn as dots, or not at all, as they stand too close at this scale."""
    planted = [place for place, zone in enumerate(plan.recipe.zones) if zone.between_m > 0]
    left_out = [place for place in planted if not plants_apart(plan, place, metres_per_mm)]
    dots = [place for place in planted if plant_mm(plan, place, metres_per_mm) < SHAPED_FROM_MM]
    for places, how in (
        ([place for place in dots if place not in left_out], "for their signs: a dot each"),
        (left_out, "to be drawn one by one at this scale"),
    ):
        if places:
            letters = ", ".join(map(zone_letter, places))
            yield f"In zone{'s' * (len(places) > 1)} {letters} plants stand too close {how}."


def _plants(picture: PlantingPicture, most: int) -> list[_Line]:
    known = [(symbol, count) for symbol, count in zip(picture.symbols, picture.counts, strict=True) if count]
    kept = sorted(sorted(range(len(known)), key=lambda place: -known[place][1])[:most])
    made = [_Line(_symbol(known[place][0]), known[place][0].name, known[place][1]) for place in kept]
    left_out = len(known) - len(kept)
    return [*made, *([_Line(lambda _x, _y: [], f"and {left_out} more kinds")] if left_out else [])]


def _symbol(symbol: SpeciesSymbol) -> Sign:
    return lambda x, y: [Symbol(x, y, SYMBOL_MM, symbol)]


def _zones(picture: PlantingPicture, theme: Theme) -> list[_Line]:
    return [
        _Line(partial(_patch, zone=zone, theme=theme), f"{zone_letter(place)}   {zone.name}")
        for place, zone in enumerate(picture.zones)
        if len(zone.shapes)
    ]


def _patch(x: float, y: float, zone: ZoneArea, theme: Theme) -> list[Item]:
    half, up = SAMPLE_MM[0] / 2 - 0.4, SAMPLE_MM[1] / 2 - 0.3
    corners = ((x - half, y - up), (x + half, y - up), (x + half, y + up), (x - half, y + up))
    tint, stroke = zone_style(zone, theme)
    fill = mixed(tint.fill, TINT, theme.inside)
    items: list[Item] = [Shape(corners, closed=True, line=tint.line, line_mm=tint.line_mm, fill=fill)]
    for (x0, y0), (x1, y1) in _strokes(half, up, zone.hatch):
        items.append(Shape(((x + x0, y - y0), (x + x1, y - y1)), line=stroke.colour, line_mm=stroke.width_mm))
    return items


@cache
def _strokes(half: float, up: float, kind: str) -> list[list[list[float]]]:
    """Return both ends of the strokes of a hatch in a sample; the page counts downwards, these upwards. [mm]."""
    pieces = hatch(shapely.box(-half, -up, half, up), kind, HATCH_MM)
    return [shapely.get_coordinates(piece)[[0, -1]].tolist() for piece in pieces if piece.geom_type == "LineString"]


def _fence(plan: PlantingPlan, theme: Theme) -> list[_Line]:
    fences = plan.fences
    if not fences:
        return []

    def line(x: float, y: float) -> list[Item]:
        half, high = SAMPLE_MM[0] / 2, SAMPLE_MM[1]
        return [Sampled(x - half, y - high / 2, 2 * half, high, new_fence_style(theme)), *strainer_sign(x, y, theme)]

    def flooded(x: float, y: float) -> list[Item]:
        half, high = SAMPLE_MM[0] / 2, SAMPLE_MM[1]
        return [Sampled(x - half, y - high / 2, 2 * half, high, style) for style in (flooded_style(theme), new_fence_style(theme))]  # fmt: skip  # noqa: E501

    made = [_Line(line, "new fence, strainer post")]
    if any(fence.flooded_m >= 1 for fence in fences):
        made.append(_Line(flooded, "fence a flood may reach"))
    for words, count, sign in (
        ("gate", sum(len(fence.gates) for fence in fences), gate_sign),
        ("floodgate", sum(len(fence.floodgates) for fence in fences), floodgate_sign),
        ("trough", sum(len(fence.troughs) for fence in fences), trough_sign),
    ):
        if count:
            made.append(_Line(partial(sign, theme=theme), words, count))
    return made


def _section(lines: list[_Line], type_: Type, width: float) -> Box:
    """Lines in as many columns as there is room for, filled one after the other."""
    if not lines:
        return Box("section", 0, 0, width, 0, ())
    rows, columns, high = _rows(len(lines), type_, width)
    step = (high - 0.6) / rows
    gap, start = 3.0, SAMPLE_MM[0] + 1.6
    each = (width - gap * (columns - 1)) / columns
    items: list[Item] = []
    for place, line in enumerate(lines):
        column, row = divmod(place, rows)
        left, middle = column * (each + gap), (row + 0.5) * step
        base, room = middle + type_.body.size_mm * 0.33, each - start
        items += line.sign(left + SAMPLE_MM[0] / 2, middle)
        if line.count is not None:
            count = f"{line.count:,}".replace(",", "\u202f")
            items.append(Text(left + each, base, count, type_.body, "right"))
            room -= type_.width(count, type_.body) + 1.5
        items.append(Text(left + start, base, elided(line.words, type_.body, room, type_.width), type_.body))
    return Box("section", 0, 0, width, high, tuple(items))


def _rows(lines: int, type_: Type, width: float) -> tuple[int, int, float]:
    """Return in how many rows and columns lines are set, and how high they are together. [mm]."""
    most = max(int(width / (LEAST_COLUMN_MM * 1.25 * type_.times)), 1)
    rows = math.ceil(lines / min(most, math.ceil(lines / 2)))
    step = max(SAMPLE_MM[1], type_.body.size_mm * 1.4) + 0.25
    return rows, math.ceil(lines / rows), rows * step + 0.6
