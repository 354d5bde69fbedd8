"""Charts on a page: bars with their numbers beside them, and lines over years; told apart without colour too."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from farmmap.scene.page_items import Box, Disc, Item, Shape, Text, Type, elided
from farmmap.scene.scales import STEPS
from farmmap.scene.styles import TextStyle, mixed

COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7")
"""Of Okabe and Ito's colours (see `farmmap.scene.symbols.OKABE_ITO`), in the order of the series."""

LINE_COLOURS = ("#0072B2", "#D55E00", "#00735A", "#A14A80")
LINE_GREYS = ("#1E1E1E", "#6B6B6B", "#3F3F3F", "#8A8A8A")
"""Of lines, darker than fills, as a thin line needs more contrast."""

GREYS = ("#4D4D4D", "#BDBDBD", "#8C8C8C", "#E0E0E0")
HATCHES_DEG = (None, 45.0, 135.0, 0.0)
"""Strokes over the bars of each series, from the right towards the top; the first has none."""

HATCH_MM = 1.0
POINTS, SMALL_POINTS = 8.2, 7.6
BAR_MM = 4.3
"""How high a bar is; those of several series of one thing share a little more. [mm]"""

MOST_TICKS = 6
NEXT_TO_NOTHING = 1e-6
MARKS = ("disc", "square", "triangle", "ring")
MARK_MM = 2.2
"""Numbers stand so far left of the axis, clear of a mark on it. [mm]"""

Place = Callable[[float, float], tuple[float, float]]
"""Where a value at some place along the axis is drawn. [mm]"""


@dataclass(frozen=True)
class Series:
    """Values of one kind.

    Attributes
    ----------
    name : str
        What they are, "" where there is only one series and the title says it.
    values : tuple of float or None
        One for each thing or year; None where it is not known.
    texts : tuple of str
        How each is written at its bar; empty to write none.
    """

    name: str
    values: tuple[float | None, ...]
    texts: tuple[str, ...] = ()


def round_step(most: float, ticks: int = MOST_TICKS) -> float:
    """Return the smallest step of 1, 2 or 5 times a power of ten of which no more than some reach a value.

    Parameters
    ----------
    most : float
        The value; 1 is taken where it is nought or next to it.
    ticks : int
        So many steps at most.
    """
    wanted = (most if most > NEXT_TO_NOTHING else 1.0) / ticks
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(step * power for step in (*STEPS, 10.0) if step * power >= wanted * (1 - 1e-9))


def bar_chart(type_: Type, width: float, names: Sequence[str], series: Sequence[Series], unit: str) -> Box:
    """Return bars lying one under the other, those of one thing together, with their numbers at their ends.

    Parameters
    ----------
    type_ : Type
        Sizes of type.
    width : float
        How wide the chart is. [mm]
    names : sequence of str, length n
        The things.
    series : sequence of Series, each of n values
        At most four; none of the values less than 0.
    unit : str
        Unit of the values, written at the axis.
    """
    letter, small = type_.style(POINTS), type_.style(SMALL_POINTS, faint=True)
    items, y = _legend(type_, width, series)
    name_room = min(max((type_.width(name, letter) for name in names), default=0.0), width * 0.34)
    left = name_room + 2.6
    number_room = max((type_.width(text, small) for one in series for text in one.texts), default=0.0) + 2.4
    most = max((value for one in series for value in one.values if value is not None), default=0.0)
    step = round_step(most)
    end = max(math.ceil(most / step - 1e-9), 1) * step
    last = f"{_number(end, step)} {unit}".strip()
    along = (width - left - max(number_room, type_.width(last, small) / 2)) / end
    each = BAR_MM * type_.times * (1.0 if len(series) == 1 else 0.82)
    space = 1.9 * type_.times
    there = [_there(series, place) for place in range(len(names))]
    bottom = y + sum(each * max(len(shown), 1) + space for shown in there)
    items += _across(type_, (left, y, bottom), along, step, end, unit)
    top = y + space / 2
    for place, (name, shown) in enumerate(zip(names, there, strict=True)):
        middle = top + each * max(len(shown), 1) / 2
        items.append(
            Text(
                left - 2.0,
                middle + letter.size_mm * 0.33,
                elided(name, letter, name_room, type_.width),
                letter,
                "right",
            )
        )
        for at, kind in enumerate(shown):
            items += _bar(type_, kind, series[kind], place, (left, top + at * each, along, each), small)
        top += each * max(len(shown), 1) + space
    items.append(Shape(((left, y), (left, bottom)), line=type_.theme.ink, line_mm=0.25))
    return Box("bars", 0, 0, width, bottom + small.size_mm * 1.5, tuple(items))


def _there(series: Sequence[Series], place: int) -> list[int]:
    """Series that have a bar at a place: where there are several, those of nought take no room."""
    if len(series) == 1:
        return [0]
    return [kind for kind, one in enumerate(series) if one.values[place]]


def _bar(
    type_: Type, kind: int, one: Series, place: int, room: tuple[float, float, float, float], small: TextStyle
) -> list[Item]:
    left, top, along, each = room
    value = one.values[place]
    text = one.texts[place] if one.texts else ""
    base = top + each / 2 + small.size_mm * 0.33
    long = (value or 0.0) * along
    items: list[Item] = _filled(type_, kind, (left, top, long, each)) if long > 0 else []
    return [*items, *(_number_at(type_, text, (left + long + 1.2, base), small) if text else ())]


def _number_at(type_: Type, text: str, at: tuple[float, float], style: TextStyle) -> tuple[Item, ...]:
    """Return a bar's number on a plate, which no stroke goes through."""
    x, base = at
    right, top, bottom = x + type_.width(text, style) + 0.5, base - style.size_mm * 0.85, base + style.size_mm * 0.2
    corners = ((x - 0.5, top), (right, top), (right, bottom), (x - 0.5, bottom))
    return Shape(corners, closed=True, fill=type_.theme.inside), Text(x, base, text, style)


def _across(
    type_: Type, room: tuple[float, float, float], along: float, step: float, end: float, unit: str
) -> list[Item]:
    """Round numbers below bars, with thin strokes up through them."""
    (left, top, bottom), small = room, type_.style(SMALL_POINTS, faint=True)
    items: list[Item] = []
    base = bottom + small.size_mm * 1.15
    for tick in range(round(end / step) + 1):
        x = left + tick * step * along
        items.append(Shape(((x, top), (x, bottom)), line=_pale(type_), line_mm=0.15))
        words = _number(tick * step, step)
        items.append(Text(x, base, f"{words} {unit}".strip() if tick == round(end / step) else words, small, "middle"))
    return items


def line_chart(
    type_: Type, size: tuple[float, float], at: Sequence[float], series: Sequence[Series], axes: tuple[str, str],
    most: float | None = None, band: tuple[str, float] | None = None,
) -> Box:  # fmt: skip
    """Return lines over years, each with a mark of its own and its name at its end.

    Parameters
    ----------
    type_ : Type
        Sizes of type.
    size : tuple of float
        Width and height. [mm]
    at : sequence of float, length n
        Where along the axis the values lie, increasing.
    series : sequence of Series, each of n values
        At most four; None breaks a line.
    axes : tuple of str
        What runs across, and what the values are with their unit.
    most : float, optional
        Where the axis of values ends; a round number beyond the greatest if not given.
    band : tuple of (str, float), optional
        A level up to which the ground of the chart is tinted, and what it is called.
    """
    width, height = size
    letter, small = type_.style(POINTS), type_.style(SMALL_POINTS, faint=True)
    greatest = max((value for one in series for value in one.values if value is not None), default=0.0)
    step = round_step(most or max(greatest, band[1] if band else 0.0), 5)
    end = most or max(math.ceil(greatest / step - 1e-9), 1) * step
    called = [one.name for one in series] + ([band[0]] if band else [])
    names = max((type_.width(name, letter) for name in called), default=0.0)
    left = max(type_.width(_number(end, step), small), 4.0) + MARK_MM + 0.4
    right = width - min(names + 5.0, width * 0.45)
    top, bottom = small.size_mm * 2.2, height - small.size_mm * 2.9
    frame = (left, top, right, bottom)
    first, last = at[0], at[-1]

    def place(x: float, value: float) -> tuple[float, float]:
        across = (x - first) / ((last - first) or 1.0)
        return left + across * (right - left), bottom - value / end * (bottom - top)

    items: list[Item] = [Text(0.0, small.size_mm, axes[1], small)]
    if band is not None and band[1] > 0:
        level = place(first, min(band[1], end))[1]
        corners = ((left, level), (right, level), (right, bottom), (left, bottom))
        items.append(Shape(corners, closed=True, fill=mixed(type_.theme.faint, 0.22, type_.theme.inside)))
    for tick in range(round(end / step) + 1):
        y = place(first, tick * step)[1]
        items.append(Shape(((left, y), (right, y)), line=_pale(type_), line_mm=0.15))
        items.append(Text(left - MARK_MM, y + small.size_mm * 0.33, _number(tick * step, step), small, "right"))
    items += _below(type_, frame, at, place)
    items.append(Text((left + right) / 2, height - 0.3 * small.size_mm, axes[0], small, "middle"))
    ends: list[tuple[float, int]] = []
    for kind, one in enumerate(series):
        points = [None if value is None else place(x, value) for x, value in zip(at, one.values, strict=True)]
        items += _line(type_, kind, points)
        known = [point for point in points if point is not None]
        if known:
            ends.append((known[-1][1], kind))
    if band is not None:
        level = place(first, min(band[1], end))[1]
        ends.append((level, -1))
    items.append(Shape(((left, bottom), (right, bottom)), line=type_.theme.ink, line_mm=0.25))
    for y, kind in _apart(ends, letter.size_mm * 1.25, top, bottom):
        name = series[kind].name if kind >= 0 else (band[0] if band else "")
        room = width - right - 3.0
        items.append(Text(right + 3.0, y + letter.size_mm * 0.33, elided(name, letter, room, type_.width), letter))
    return Box("lines", 0, 0, width, height, tuple(items))


def _below(type_: Type, frame: tuple[float, float, float, float], at: Sequence[float], place: Place) -> list[Item]:
    """Write the years below the axis, those that have room."""
    small, free = type_.style(SMALL_POINTS, faint=True), -1e9
    items: list[Item] = []
    for x in at:
        across = place(x, 0.0)[0]
        words = "today" if x < 0 else f"{x:g}"
        half = type_.width(words, small) / 2
        items.append(Shape(((across, frame[3]), (across, frame[3] + 0.9)), line=type_.theme.ink, line_mm=0.2))
        if across - half > free:
            items.append(Text(across, frame[3] + small.size_mm * 1.35, words, small, "middle"))
            free = across + half + 1.2
    return items


def _line(type_: Type, kind: int, points: Sequence[tuple[float, float] | None]) -> list[Item]:
    colour = _line_colour(type_, kind)
    items: list[Item] = []
    run: list[tuple[float, float]] = []
    for point in (*points, None):
        if point is not None:
            run.append(point)
        elif run:
            items.append(Shape(tuple(run), line=colour, line_mm=0.55))
            run = []
    return [*items, *(item for point in points if point is not None for item in _mark(type_, kind, point))]


def _mark(type_: Type, kind: int, at: tuple[float, float]) -> tuple[Item, ...]:
    (x, y), colour, half = at, _line_colour(type_, kind), 1.05
    match MARKS[kind % len(MARKS)]:
        case "square":
            corners = ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))
            return (Shape(corners, closed=True, line=colour, line_mm=0.35, fill=type_.theme.inside),)
        case "triangle":
            peak = ((x, y - 1.3), (x + 1.3, y + 1.0), (x - 1.3, y + 1.0))
            return (Shape(peak, closed=True, line=colour, line_mm=0.2, fill=colour),)
        case "ring":
            return (Disc(x, y, 2 * half, colour, 0.4, type_.theme.inside),)
        case _:
            return (Disc(x, y, 2 * half, colour, 0.0, colour),)


def _apart(ends: Sequence[tuple[float, int]], step: float, top: float, bottom: float) -> list[tuple[float, int]]:
    """Names at the ends of lines, moved so that none lies on another."""
    ordered = sorted(ends)
    ys = [y for y, _ in ordered]
    for _ in range(60):
        moved = False
        for at in range(len(ys) - 1):
            over = step - (ys[at + 1] - ys[at])
            if over > 1e-6:
                ys[at] -= over / 2
                ys[at + 1] += over / 2
                moved = True
        if not moved:
            break
    shift = max(top - ys[0], 0.0) if ys else 0.0
    shift -= max(ys[-1] + shift - bottom, 0.0) if ys else 0.0
    return [(y + shift, kind) for y, (_, kind) in zip(ys, ordered, strict=True)]


def _legend(type_: Type, width: float, series: Sequence[Series]) -> tuple[list[Item], float]:
    """Set samples of several series in a row, in as many lines as they need; nothing for one without a name."""
    if len(series) < 2 and not (series and series[0].name):
        return [], 0.6
    letter = type_.style(POINTS)
    items: list[Item] = []
    x, y, side = 0.0, 0.0, 3.0 * type_.times
    for kind, one in enumerate(series):
        room = side + 1.6 + type_.width(one.name, letter)
        if x > 0 and x + room > width:
            x, y = 0.0, y + letter.size_mm * 1.5
        items += _filled(type_, kind, (x, y + letter.size_mm * 0.62 - side / 2, side, side))
        items.append(Text(x + side + 1.6, y + letter.size_mm * 0.95, one.name, letter))
        x += room + 6.0
    return items, y + letter.size_mm * 1.9


def _filled(type_: Type, kind: int, room: tuple[float, float, float, float]) -> list[Item]:
    """Return a rectangle with the fill and the strokes of a series."""
    left, top, wide, high = room
    ink = type_.theme.ink
    corners = ((left, top), (left + wide, top), (left + wide, top + high), (left, top + high))
    items: list[Item] = [Shape(corners, closed=True, line=ink, line_mm=0.15, fill=_colour(type_, kind))]
    angle = HATCHES_DEG[kind % len(HATCHES_DEG)]
    return items if angle is None else [*items, *_strokes(room, angle, ink)]


def _strokes(room: tuple[float, float, float, float], angle_deg: float, colour: str) -> list[Item]:
    """Parallel strokes within a rectangle."""
    left, top, wide, high = room
    right, bottom = left + wide, top + high
    if angle_deg == 0.0:
        count = int(high / HATCH_MM)
        levels = (top + (at + 0.5) * high / max(count, 1) for at in range(count))
        return [Shape(((left, y), (right, y)), line=colour, line_mm=0.12) for y in levels]
    rising, out = angle_deg < 90.0, []
    spacing = HATCH_MM * math.sqrt(2.0)
    for at in range(1, int((wide + high) / spacing) + 1):
        along = at * spacing  # x + y of the stroke, from the corner that it starts to grow from
        ends = ((max(0.0, along - high), min(along, high)), (min(along, wide), max(0.0, along - wide)))
        if rising:
            out.append(Shape(tuple((left + x, top + y) for x, y in ends), line=colour, line_mm=0.12))
        else:
            out.append(Shape(tuple((left + x, bottom - y) for x, y in ends), line=colour, line_mm=0.12))
    return list(out)


def _colour(type_: Type, kind: int) -> str:
    return (GREYS if "grey" in type_.theme.name else COLOURS)[kind % len(COLOURS)]


def _line_colour(type_: Type, kind: int) -> str:
    return (LINE_GREYS if "grey" in type_.theme.name else LINE_COLOURS)[kind % len(LINE_COLOURS)]


def _pale(type_: Type) -> str:
    return mixed(type_.theme.faint, 0.35, type_.theme.inside)


def _number(value: float, step: float) -> str:
    places = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
    return f"{value:,.{places}f}".replace(",", "\u202f")
