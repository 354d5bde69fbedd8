"""How a page is filled: title, map, key, tables and notes, each with room of its own.

Several arrangements are tried, with all that is not map beside it or below it,
and the one that shows the farm at the largest round scale is taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from farmmap.errors import BadInput
from farmmap.scene.page_arrangements import CROWDED_SHARES, Arrangement, arrangements
from farmmap.scene.page_items import Box, Item, Shape, Text, Type, Width, elided, paragraphs
from farmmap.scene.page_key import key_box, north_box, scale_bar_box
from farmmap.scene.page_stack import Part
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import TIMES_A4, Paper
from farmmap.scene.scales import BAR_MM, ScaleBar, fitting_scale, scale_bar, tick_spacing, tick_values
from farmmap.scene.scene import KeyEntry
from farmmap.scene.styles import TextStyle, Theme
from farmmap.scene.view import Bounds, View

MARGIN_MM = 10.0
"""Paper left free at each edge. [mm]"""

INSIDE_MM = 3.0
"""Map left free between the farm and the frame. [mm]"""

FRAME_LINE_MM = 0.4
TICK_MM = 2.5
ALSO = "Also on the map"
DOT = "   ·   "
"""Parts the pieces of a subtitle, which goes on in a second line from there."""

BULLET, INDENT_MM = "•", 2.2
CROWDED = 4
"""Lines from which a section of a key that follows another is set in two columns."""


@dataclass(frozen=True)
class Content:
    """What a page says.

    Attributes
    ----------
    title, subtitle : str
        Its head.
    key : tuple of KeyEntry
        Lines of the key.
    tables : tuple of PageTable
        Tables of figures that have rows.
    notes : tuple of str
        How the figures were worked out; the last give way where room is short.
    essential : str
        What of it is said in any case, before the notes.
    cautions : tuple of str
        What the map must not be used for.
    north : tuple of str
        Which north, and which grid.
    bounds : tuple of float
        Ground to show. [m]
    notes_title : str
        Heading of the notes.
    notes_apart : bool
        Whether each note begins on a line of its own, after a bullet, instead of all running on.
    notes_large : bool
        Whether notes are written as large as tables.
    notes_more : str
        What is said of notes that have no room, after how many they are; "" to say nothing.
    key_first : callable or None
        Sets lines of the key that go before the others, given sizes of type, width and height [mm] and the ground that
        a millimetre shows [m].
    more_parts : callable or None
        Returns what else is on the page, after the tables, given sizes of type and the ground that a millimetre shows
        [m].
    """

    title: str
    subtitle: str
    key: tuple[KeyEntry, ...]
    tables: tuple[PageTable, ...]
    notes: tuple[str, ...]
    essential: str
    cautions: tuple[str, ...]
    north: tuple[str, ...]
    bounds: Bounds
    notes_title: str = "How this was worked out"
    notes_apart: bool = False
    notes_large: bool = False
    notes_more: str = ""
    key_first: Callable[[Type, float, float, float], Box] | None = None
    more_parts: Callable[[Type, float], tuple[Part, ...]] | None = None


@dataclass(frozen=True)
class PagePlan:
    """A page, planned.

    Attributes
    ----------
    paper : Paper
        The sheet.
    frame : tuple of float
        Left, top, width and height of the map. [mm]
    view : View
        What the map shows.
    boxes : tuple of Box
        All else, none lying on another.
    over_map : tuple of Item
        Grid ticks and the frame, drawn upon the map.
    whole : bool
        Whether the whole farm is in the frame.
    short_mm : float
        Height of what was left out for want of room. [mm]
    cut : tuple of str
        Names of the boxes from which something was left out.
    mismatch : float
        How far the frame's proportions are from the farm's.
    """

    paper: Paper
    frame: tuple[float, float, float, float]
    view: View
    boxes: tuple[Box, ...]
    over_map: tuple[Item, ...]
    whole: bool
    short_mm: float
    cut: tuple[str, ...]
    mismatch: float

    @property
    def scale(self) -> int:
        """The N of the scale 1:N."""
        return round(self.view.scale_denominator)


def page_type(paper: Paper, theme: Theme, width: Width) -> Type:
    """Return the sizes of type for a sheet."""
    return Type(theme, TIMES_A4[paper.name], width)


def plan_page(paper: Paper, content: Content, type_: Type, scale: int | None = None) -> PagePlan:
    """Return the best arrangement of a page.

    Parameters
    ----------
    paper : Paper
        The sheet.
    content : Content
        What it says.
    type_ : Type
        Sizes of type.
    scale : int, optional
        The N of a scale 1:N that is asked for; the largest round scale that shows the whole farm if not given.
    """
    guess = scale or fitting_scale(content.bounds, paper.width_mm * 0.6, paper.height_mm * 0.6)
    plan = _best(paper, content, type_, guess, scale)
    for _ in range(2):  # the bar and the stem sizes are set for a guess of the scale
        if plan.scale != guess:
            guess = plan.scale
            plan = _best(paper, content, type_, guess, scale)
    return plan


def _best(paper: Paper, content: Content, type_: Type, guess: int, scale: int | None) -> PagePlan:
    """Return the page that shows the farm largest, then leaves out least, then has a frame like the farm."""
    head = page_head(content, type_, paper.width_mm - 2 * MARGIN_MM)
    top = MARGIN_MM + head.height + 2.0 * type_.times
    area = (MARGIN_MM, top, paper.width_mm - 2 * MARGIN_MM, paper.height_mm - MARGIN_MM - top)
    natural = max([table.natural_width(type_, 34 * type_.times) for table in content.tables] + [62 * type_.times])
    band = type_.body.size_mm * 1.5
    choices: list[tuple[tuple[float, float, float], Arrangement, View, bool]] = []
    parts = _parts(content, type_, guess, paper)
    tries = [*arrangements(parts, area, natural, type_.times, type_.gap)]
    tries = tries or [*arrangements(parts, area, natural, type_.times, type_.gap, CROWDED_SHARES)]
    if not tries:
        raise BadInput(f"there is no room on {paper.name} for the map, its key and its tables; take larger paper")
    for made in tries:
        view, whole = _view(content.bounds, made.room[2] - band, made.room[3] - band, scale)
        mismatch = _mismatch(content.bounds, view)
        scale_worth = view.scale_denominator * (1 if whole else 1000)
        worth = (float(round(scale_worth)), float(round(made.short_mm / 4)), mismatch)
        choices.append((worth, made, view, whole))
    worth, made, view, whole = min(choices, key=lambda choice: choice[0])
    corner = (made.room[0] + band, made.room[1])
    ticks, labels = _ticks(view, type_, corner, band)
    return PagePlan(
        paper=paper,
        frame=(*corner, view.width_mm, view.height_mm),
        view=view,
        boxes=(head, *made.boxes(), *labels),
        over_map=(*ticks, _frame(corner, view, type_)),
        whole=whole,
        short_mm=made.short_mm,
        cut=made.cut,
        mismatch=worth[2],
    )


def _view(bounds: Bounds, wide: float, high: float, scale: int | None) -> tuple[View, bool]:
    """Return what a frame shows, and whether that is the whole farm."""
    west, south, east, north = bounds
    fits = scale or fitting_scale(bounds, wide - 2 * INSIDE_MM, high - 2 * INSIDE_MM)
    view = View((west + east) / 2, (south + north) / 2, fits / 1000, wide, high)
    needs = max((east - west) / (wide - 2), (north - south) / (high - 2)) * 1000
    return view, view.scale_denominator >= needs * (1 - 1e-9)


def _mismatch(bounds: Bounds, view: View) -> float:
    """How far a frame's proportions are from the farm's."""
    west, south, east, north = bounds
    return abs(math.log(view.width_mm / view.height_mm * max(north - south, 1.0) / max(east - west, 1.0)))


def _frame(corner: tuple[float, float], view: View, type_: Type) -> Shape:
    (left, top), wide, high = corner, view.width_mm, view.height_mm
    outline = ((left, top), (left + wide, top), (left + wide, top + high), (left, top + high))
    return Shape(outline, closed=True, line=type_.theme.ink, line_mm=FRAME_LINE_MM)


def _ticks(view: View, type_: Type, corner: tuple[float, float], band: float) -> tuple[list[Item], list[Box]]:
    """Strokes at the frame and crosses in the map at round coordinates, and what is written at them."""
    left, top = corner
    right, bottom = left + view.width_mm, top + view.height_mm
    west, south, east, north = view.ground_bounds()
    spacing = tick_spacing(view.metres_per_mm, 48.0 * type_.times)
    eastings, northings = tick_values(west, east, spacing), tick_values(south, north, spacing)
    across = [float(left + view.to_mm(x, south)[0]) for x in eastings]
    down = [float(top + view.to_mm(west, y)[1]) for y in northings]
    strokes = [((x, y), (x, y + way * TICK_MM)) for x in across for y, way in ((top, 1), (bottom, -1))]
    strokes += [((x, y), (x + way * TICK_MM, y)) for y in down for x, way in ((left, 1), (right, -1))]
    items: list[Item] = [Shape(stroke, line=type_.theme.ink, line_mm=0.25) for stroke in strokes]
    for x in across:
        for y in down:
            items.append(Shape(((x - 1.2, y), (x + 1.2, y)), line=type_.theme.faint, line_mm=0.13))
            items.append(Shape(((x, y - 1.2), (x, y + 1.2)), line=type_.theme.faint, line_mm=0.13))
    style = type_.body
    base = bottom + band * 0.75
    written = [Text(x, base, coordinate("E", e), style, "middle") for x, e in zip(across, eastings, strict=True)]
    written = [text for text in written if _inside(text.x, text.text, left, right, type_)]
    turned = [
        Text(left - band * 0.32, y, coordinate("N", n), style, "middle", upright=False)
        for y, n in zip(down, northings, strict=True)
    ]
    turned = [text for text in turned if _inside(text.y, text.text, top, bottom, type_)]
    return items, [
        Box("eastings", left, bottom + 0.2, view.width_mm, band - 0.2, tuple(written)),
        Box("northings", left - band, top, band - 0.2, view.height_mm, tuple(turned)),
    ]


def _inside(at: float, text: str, low: float, high: float, type_: Type) -> bool:
    half = type_.width(text, type_.body) / 2
    return low <= at - half and at + half <= high


def coordinate(letter: str, metres: float) -> str:
    """Return a coordinate as it is written at the frame, such as ``E 1 811 500``, in whole metres."""
    return f"{letter}\u202f" + f"{metres:,.0f}".replace(",", "\u202f")


def page_head(content: Content, type_: Type, width: float) -> Box:
    """Return title and subtitle over the whole page; a long title is set smaller, a long subtitle in two lines."""
    points = next(
        (p for p in (17.0, 15.0, 13.0, 11.0) if type_.width(content.title, type_.style(p, "bold")) <= width), 11.0
    )
    style = type_.style(points, "bold")
    base, small = style.size_mm * 0.95, type_.style(7.6, faint=True)
    items = [Text(0, base, elided(content.title, style, width, type_.width), style)]
    below = base + small.size_mm * 0.2
    for line in _in_two(content.subtitle, small, width, type_.width):
        below += small.size_mm * 1.25
        items.append(Text(0, below, elided(line, small, width, type_.width), small))
    return Box("title", 0, 0, width, below + 1.0, tuple(items)).placed(MARGIN_MM, MARGIN_MM)


def _in_two(text: str, style: TextStyle, room: float, width: Width) -> list[str]:
    """Return text that is too long for a line in two, broken where its pieces are parted."""
    pieces = text.split(DOT)
    if len(pieces) == 1 or width(text, style) <= room:
        return [text]
    fits = [kept for kept in range(1, len(pieces)) if width(DOT.join(pieces[:kept]), style) <= room]
    kept = max(fits, default=1)
    return [DOT.join(pieces[:kept]), DOT.join(pieces[kept:])]


def _parts(content: Content, type_: Type, guess: int, paper: Paper) -> list[Part]:
    """All that is not map, in the order of one column."""
    metres = guess / 1000
    ratio = f"1:{guess:,} at {paper.name}".replace(",", "\u202f")
    parts = _keys(content, type_, metres)
    parts += [
        *table_parts(content, type_),
        *(content.more_parts(type_, metres) if content.more_parts else ()),
        Part("scale bar", lambda width, _: scale_bar_box(_bar(metres, width), type_, ratio)),
        Part("north", lambda width, _: north_box(type_, content.north, width)),
        notes_part(content, type_),
        Part("caution", lambda width, _: _cautions(content.cautions, type_, width)),
    ]
    return parts


def table_parts(content: Content, type_: Type) -> list[Part]:
    """Return the tables; the first give way first."""
    return [Part(table.name, partial(table.box, type_), way) for way, table in enumerate(content.tables, 2)]


def notes_part(content: Content, type_: Type) -> Part:
    """Return the notes, which give way before any figures."""
    return Part("notes", partial(_notes, content, type_), 1)


def _bar(metres_per_mm: float, width: float) -> ScaleBar:
    most = min(BAR_MM[1], width - 10.0)
    return scale_bar(metres_per_mm, min(BAR_MM[0], most / 2), most)


def _keys(content: Content, type_: Type, metres: float) -> list[Part]:
    """Return the key; in two parts where other lines go before it."""
    if content.key_first is None:
        return [Part("key", lambda width, height: key_box(content.key, type_, width, height, metres), 4)]
    first = content.key_first
    also = partial(key_box, content.key, type_, metres_per_mm=metres, title=ALSO, many=CROWDED)
    return [
        Part("key", lambda width, height: first(type_, width, height, metres), 4),
        Part("also", lambda width, height: replace(also(width, height), name="also"), 4),
    ]


def _notes(content: Content, type_: Type, width: float, height: float) -> Box:
    """How figures were worked out, running on or each apart; where room is short the last sentences give way."""
    essential = content.essential
    said = (*((essential,) if essential else ()), *content.notes)
    least = 1 if essential else 0
    if not said:
        return Box("notes", 0, 0, width, 0, ())

    def made(kept: int) -> Box:
        texts = _kept(said, kept, content.notes_more)
        if not content.notes_apart:
            return _headed("notes", content.notes_title, (" ".join(texts),) if kept > least else texts, type_, width)
        style = type_.body if content.notes_large else type_.small
        return _bulleted("notes", content.notes_title, texts, type_, style, width)

    tries = (made(kept) for kept in range(len(said), least, -1))
    return next((box for box in tries if box.height <= height), made(max(least, 1)))


def _kept(said: tuple[str, ...], count: int, more: str) -> tuple[str, ...]:
    """Return the first sentences, and how many more there are where that is to be said."""
    left_out = len(said) - count
    return (*said[:count], *((f"And {left_out} more: {more}.",) if left_out and more else ()))


def _cautions(texts: tuple[str, ...], type_: Type, width: float) -> Box:
    return _headed("caution", "Caution", texts, type_, width)


def _headed(name: str, title: str, texts: tuple[str, ...], type_: Type, width: float) -> Box:
    style = type_.style(7.2, "bold")
    top = style.size_mm * 1.5
    items, high = paragraphs(texts, type_.small, width, type_.width)
    placed = tuple(item.moved(0, top) for item in items)
    return Box(name, 0, 0, width, top + high + 0.4, (Text(0, style.size_mm, title, style), *placed))


def _bulleted(name: str, title: str, texts: tuple[str, ...], type_: Type, style: TextStyle, width: float) -> Box:
    """Return texts under a heading, each after a bullet and set in from it."""
    head, indent = type_.style(7.2, "bold"), INDENT_MM * type_.times
    items, y = [Text(0, head.size_mm, title, head)], head.size_mm * 1.5
    for text in texts:
        (first, *rest), high = paragraphs((text,), style, width - indent, type_.width)
        items += [replace(first, x=0.0, text=BULLET).moved(0, y), *(line.moved(indent, y) for line in (first, *rest))]
        y += high + style.size_mm * 0.3
    return Box(name, 0, 0, width, y + 0.4, tuple(items))
