"""The north arrow of a page: grid north, and how true north and a compass needle lie to it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from farmmap.scene.page_items import LINE_SPACING, Box, Item, Shape, Text, Type, paragraphs, wrapped

ARROW_MM = (4.4, 11.0)
"""Width and height of the arrow to grid north on A4. [mm]"""

SPOKE_MM = 13.0
"""Length of a line to one of several norths on A4. [mm]"""

LEAST_APART_DEG = 14.0
"""Lines to two norths are drawn at least so far apart, as their ends have names."""

SAME_DEG = 0.005
"""Norths no farther apart than this are one, as they are written to hundredths."""

GRID, TRUE, NEEDLE = "grid", "true", "compass"


@dataclass(frozen=True)
class North:
    """Which norths a page shows, and what it says of them.

    Attributes
    ----------
    words : tuple of str
        What is said, the first of it as a heading.
    true_deg : float or None
        From grid north to true north, positive clockwise; None where it is not known. [degrees]
    needle_deg : float or None
        From grid north to where a compass needle points; None where that is not shown. [degrees]
    """

    words: tuple[str, ...]
    true_deg: float | None = None
    needle_deg: float | None = None


def north_box(type_: Type, north: North, width: float) -> Box:
    """Return an arrow to grid north, or a drawing of all norths where a compass is shown, and words beside it.

    Parameters
    ----------
    type_ : Type
        Sizes of type.
    north : North
        What it shows and says.
    width : float
        How wide it may be. [mm]
    """
    drawing, exact = (_arrow(type_), True) if north.needle_deg is None else _norths(type_, north)
    said = north.words if exact else (*north.words, "The angles are drawn wider than they are.")
    gap = 2.2 * type_.times
    beside = _words(said, type_, width - drawing.width - gap).placed(drawing.width + gap, 0.0)
    below = _words(said, type_, width).placed(0.0, drawing.height + gap)
    words = below if north.needle_deg is not None and below.y + below.height < beside.height else beside
    high, wide = max(drawing.height, words.y + words.height), max(drawing.width, words.x + words.width)
    return Box("north", 0, 0, min(wide, width), high, (*drawing.items, *words.items))


def _words(texts: Sequence[str], type_: Type, width: float) -> Box:
    """Return what is said in lines, the heading stronger."""
    strong, body = type_.style(6.6, "semibold"), type_.body
    head = wrapped(texts[0], strong, width, type_.width)
    step = body.size_mm * LINE_SPACING
    items = [Text(0.0, body.size_mm + place * step, line, strong) for place, line in enumerate(head)]
    rest, high = paragraphs(texts[1:], body, width, type_.width)
    items += [line.moved(0.0, len(head) * step + 0.05 * body.size_mm) for line in rest]
    wide = max(type_.width(item.text, item.style) for item in items)
    return Box("words", 0, 0, wide, len(head) * step + high + 0.1 * body.size_mm, tuple(items))


def _arrow(type_: Type) -> Box:
    """Return the arrow to grid north alone."""
    wide, high = (side * type_.times for side in ARROW_MM)
    return Box("arrow", 0, 0, wide, high, tuple(_arrowhead(wide / 2, 0.0, wide, high, type_)))


def _arrowhead(x: float, y: float, wide: float, high: float, type_: Type) -> list[Item]:
    """Return an arrowhead that points up with its tip at a place, one half of it filled."""
    ink, notch = type_.theme.ink, (x, y + 0.78 * high)
    return [
        Shape(((x, y), (x + side * wide / 2, y + high), notch), closed=True, line=ink, line_mm=0.2, fill=fill)
        for side, fill in ((-1, ink), (1, "#FFFFFF"))
    ]


def _norths(type_: Type, north: North) -> tuple[Box, bool]:
    """Return lines from one foot to each north with its name, and whether their angles are the true ones."""
    one = north.true_deg is not None and abs(north.true_deg) < SAME_DEG
    grid = f"{TRUE} and {GRID}" if one else GRID
    named = {grid: 0.0, NEEDLE: north.needle_deg or 0.0}
    if north.true_deg is not None and not one:
        named[TRUE] = north.true_deg
    names = sorted(named, key=lambda name: named[name])
    drawn = _spread([named[name] for name in names], names.index(grid))
    exact = all(abs(turn - named[name]) < 0.5 for turn, name in zip(drawn, names, strict=True))
    return _spokes(dict(zip(names, drawn, strict=True)), type_), exact


def _spread(turns: Sequence[float], fixed: int) -> list[float]:
    """Return rising angles moved apart where they are too near to each other, one of them staying."""
    out = list(turns)
    for place in range(fixed + 1, len(out)):
        out[place] = max(out[place], out[place - 1] + LEAST_APART_DEG)
    for place in range(fixed - 1, -1, -1):
        out[place] = min(out[place], out[place + 1] - LEAST_APART_DEG)
    return out


def _spokes(turns: dict[str, float], type_: Type) -> Box:
    """Return the drawing of norths; names stand outside of the outer lines and over one between them."""
    ink, times, body = type_.theme.ink, type_.times, type_.body
    items: list[Item] = []
    for place, (name, turn) in enumerate(turns.items()):
        between = 0 < place < len(turns) - 1
        length = SPOKE_MM * times + (1.3 * body.size_mm if between else 0.0)
        angle = math.radians(turn)
        x, y = length * math.sin(angle), -length * math.cos(angle)
        items.append(Shape(((0.0, 0.0), (x, y)), line=ink, line_mm=0.25))
        items += _tip(name, x, y, angle, type_)
        align = "middle" if between else ("right" if place == 0 else "left")
        off = 0.0 if between else (-1.6 if place == 0 else 1.6) * times
        rise = 1.5 * times if between else -0.36 * body.size_mm
        items.append(Text(x + off, y - rise, name, body, align))
    left, top, right = _extent(items, type_)
    moved = tuple(item.moved(-left, -top) for item in items)
    return Box("norths", 0, 0, right - left, -top + 0.3, moved)


def _tip(name: str, x: float, y: float, angle: float, type_: Type) -> list[Item]:
    """Return the sign at the end of a line: a star for true north, an arrowhead for grid, half of one for a needle."""
    ink, times = type_.theme.ink, type_.times
    if name == TRUE:
        star = tuple(
            (x + radius * math.sin(place * math.pi / 5), y - radius * math.cos(place * math.pi / 5))
            for place, radius in enumerate((1.3 * times, 0.55 * times) * 5)
        )
        return [Shape(star, closed=True, fill=ink, line=ink, line_mm=0.1)]
    if name != NEEDLE:
        return _arrowhead(x, y - 0.4 * times, 2.2 * times, 4.0 * times, type_)
    along, side = (math.sin(angle), -math.cos(angle)), (math.cos(angle), math.sin(angle))
    back = (x - 3.4 * times * along[0], y - 3.4 * times * along[1])
    barb = (back[0] + 1.1 * times * side[0], back[1] + 1.1 * times * side[1])
    return [Shape(((x, y), barb, back), closed=True, fill=ink, line=ink, line_mm=0.1)]


def _extent(items: Sequence[Item], type_: Type) -> tuple[float, float, float]:
    """Return the left, upper and right end of strokes and names. [mm]."""
    across, down = [0.0], [0.0]
    for item in items:
        if isinstance(item, Shape):
            across += [x for x, _ in item.points]
            down += [y for _, y in item.points]
        elif isinstance(item, Text):
            wide = type_.width(item.text, item.style)
            start = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
            across += [start, start + wide]
            down.append(item.y - 0.8 * item.style.size_mm)
    return min(across), min(down), max(across)
