"""How a page is filled: title, map, key, tables and notes, each with room of its own.

Several arrangements are tried, with all that is not map beside it or below it,
and the one that shows the farm at the largest round scale is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from farmmap.errors import BadInput
from farmmap.farm.grids import Grid
from farmmap.progress import listener
from farmmap.scene.page_arrangements import CROWDED_SHARES, SHARES, Arrangement, Paperwork, Rectangle, arrangements
from farmmap.scene.page_by_hand import check_by_hand, not_there, on_plates, put_by_hand, said_by_hand, without
from farmmap.scene.page_grid import graticule, grid_ticks
from farmmap.scene.page_items import Box, Item, Shape, Text, Type, Width, elided
from farmmap.scene.page_key import key_box, key_height, scale_bar_box
from farmmap.scene.page_maps import NAMES, MapRoom
from farmmap.scene.page_moves import Moved
from farmmap.scene.page_north import North, north_box
from farmmap.scene.page_notes import headed, notes_box, notes_height
from farmmap.scene.page_stack import TALL_MM, Part, in_pieces
from farmmap.scene.page_tables import GOES_ON, PageTable
from farmmap.scene.paper import TIMES_A4, Paper
from farmmap.scene.scales import BAR_MM, ScaleBar, fitting_scale, scale_bar
from farmmap.scene.scene import KeyEntry
from farmmap.scene.styles import TextStyle, Theme
from farmmap.scene.view import Bounds, View

MARGIN_MM = 10.0
"""Paper left free at each edge. [mm]"""

BLANK = 1.8
"""Blank paper beside the map weighs so many times as much as ground around the farm."""

COLUMN_MM, COLUMN_SHARE = 62.0, 0.44
"""Width of a column without tables on A4, and in shares of the paper's width where that is less. [mm]"""

FRAME_LINE_MM = 0.4
ALSO = "Also on the map"
DOT = "   ·   "
"""Parts the pieces of a subtitle, which goes on in a second line from there."""

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
    north : North
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
        Returns lines of the key that go before the others, given sizes of type and the ground that a millimetre shows
        [m].
    more_parts : callable or None
        Returns what else is on the page, after the tables, given sizes of type and the ground that a millimetre shows
        [m].
    note, credits, version : str
        The grower's own words, whose work the page is, and which version of it; "" for none.
    graticule : Grid or None
        The farm's grid where lines of latitude and longitude are drawn; None where they are not.
    maps : tuple of str
        What each of two maps side by side is called; empty for one map.
    moved : tuple of Moved
        Elements that were put somewhere by hand.
    left_out : frozenset of str
        Names of elements that are left out; ``grid`` for ticks and coordinates.
    """

    title: str
    subtitle: str
    key: tuple[KeyEntry, ...]
    tables: tuple[PageTable, ...]
    notes: tuple[str, ...]
    essential: str
    cautions: tuple[str, ...]
    north: North
    bounds: Bounds
    notes_title: str = "How this was worked out"
    notes_apart: bool = False
    notes_large: bool = False
    notes_more: str = ""
    key_first: Callable[[Type, float], Part] | None = None
    more_parts: Callable[[Type, float], tuple[Part, ...]] | None = None
    note: str = ""
    credits: str = ""
    version: str = ""
    graticule: Grid | None = None
    maps: tuple[str, ...] = ()
    moved: tuple[Moved, ...] = ()
    left_out: frozenset[str] = frozenset()


@dataclass(frozen=True)
class MapBeside:
    """A second map of a page.

    Attributes
    ----------
    name : str
        Which element of the page it is.
    frame : tuple of float
        Left, top, width and height. [mm]
    view : View
        What it shows.
    over_map : tuple of Item
        Grid ticks and the frame, drawn upon it.
    """

    name: str
    frame: Rectangle
    view: View
    over_map: tuple[Item, ...]


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
    empty_mm2 : float
        How much paper is empty. [mm²]
    amiss : tuple of str
        What is wrong with elements that were put somewhere by hand.
    beside : tuple of MapBeside
        A second map of the same ground.
    """

    paper: Paper
    frame: tuple[float, float, float, float]
    view: View
    boxes: tuple[Box, ...]
    over_map: tuple[Item, ...]
    whole: bool
    short_mm: float
    cut: tuple[str, ...]
    empty_mm2: float
    amiss: tuple[str, ...] = ()
    beside: tuple[MapBeside, ...] = ()

    @property
    def scale(self) -> int:
        """The N of the scale 1:N."""
        return round(self.view.scale_denominator)


def page_type(paper: Paper, theme: Theme, width: Width) -> Type:
    """Return the sizes of type for a sheet."""
    return Type(theme, TIMES_A4[paper.name], _remembering(width))


def _remembering(width: Width) -> Width:
    """Return a measure of text that finds again at once what it measured in the very same style."""
    known: dict[int, tuple[TextStyle, dict[str, float]]] = {}

    def measured(text: str, style: TextStyle) -> float:
        _, widths = known.get(id(style)) or known.setdefault(id(style), (style, {}))
        found = widths.get(text)
        if found is None:
            found = widths[text] = width(text, style)
        return found

    return measured


def plan_page(
    paper: Paper, content: Content, type_: Type, scale: int | None = None, parts: PageParts | None = None
) -> PagePlan:
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
    parts : PageParts, optional
        The parts of the page, where they were set before, as for the same sheet the other way round.

    Raises
    ------
    BadInput
        There is no room for all of it, or it cannot be set as the grower put it.
    """
    check_by_hand(content.moved, content.left_out)
    parts = parts or PageParts(content, type_)
    guess = scale or fitting_scale(content.bounds, paper.width_mm * 0.6, paper.height_mm * 0.6)
    plan = _best(paper, parts, guess, scale)
    for _ in range(2):  # the bar and the stem sizes are set for a guess of the scale
        if plan.scale != guess:
            guess = plan.scale
            plan = _best(paper, parts, guess, scale)
    return plan


def _best(paper: Paper, of_page: PageParts, guess: int, scale: int | None) -> PagePlan:
    """Return the page that shows the farm largest, then leaves out least, then has least empty paper."""
    content, type_ = of_page.content, of_page.type_
    moved = {one.name: one for one in content.moved}
    parts = without(of_page.at(guess, paper), content.left_out)
    tables = [table for table in content.tables if table.name not in moved and table.name not in content.left_out]
    least = min(COLUMN_MM * type_.times, COLUMN_SHARE * paper.width_mm)
    natural = max([table.natural_width(type_, 34 * type_.times) for table in tables] + [least])
    top, heads = _head(content, type_, paper, moved.get("title"))
    area = (MARGIN_MM, top, paper.width_mm - 2 * MARGIN_MM, paper.height_mm - MARGIN_MM - top)
    band = 0.0 if "grid" in content.left_out else type_.body.size_mm * 1.5
    maps = MapRoom(content.bounds, scale, band, band if content.graticule is not None else 0.0, content.maps, type_)
    work = Paperwork(
        without(parts, moved),
        1 if content.key_first is None else 2,
        area,
        natural,
        max([table.least_width(type_) for table in tables] + [0.5 * least]),
        type_.times,
        type_.gap,
        maps.tight(area),
    )
    best = _best_arrangement(work, maps)
    if best is None:
        raise BadInput(f"there is no room on {paper.name} for the map, its key and its tables; take larger paper")
    placed = maps.placed(best.room, moved)
    frames = [(*corner, view.width_mm, view.height_mm) for _, corner, view in placed]
    edges = [_edges(content, name, view, type_, corner, band) for name, corner, view in placed]
    labels = [*maps.title_boxes(placed), *(box for _, boxes in edges for box in boxes)] if content.maps else edges[0][1]
    by_hand = [*(heads if "title" in moved else ()), *put_by_hand(parts, moved, paper, natural)]
    boxes = [*(() if "title" in moved else heads), *best.boxes(maps.spare(best.room))]
    is_moved = not moved.keys().isdisjoint(NAMES)
    over = [(*ticks, _frame(corner, view, type_)) for (_, corner, view), (ticks, _) in zip(placed, edges, strict=True)]
    view = placed[0][2]
    return PagePlan(
        paper=paper,
        frame=frames[0],
        view=view,
        boxes=(*(on_plates(boxes, frames) if is_moved else boxes), *labels, *on_plates(by_hand, frames)),
        over_map=over[0],
        whole=maps.is_whole(view),
        short_mm=best.short_mm,
        cut=best.cut,
        empty_mm2=maps.empty_mm2(view) + maps.blank_mm2(best.room) + best.empty_mm2,
        amiss=(
            *not_there(content.left_out, [part.name for part in parts]),
            *said_by_hand([*boxes, *by_hand], frames[0], moved, paper),
        ),
        beside=tuple(
            MapBeside(name, frame, view, items)
            for (name, _, view), frame, items in zip(placed[1:], frames[1:], over[1:], strict=True)
        ),
    )


def _head(content: Content, type_: Type, paper: Paper, moved: Moved | None) -> tuple[float, list[Box]]:
    """Return where everything else begins, and the title."""
    if "title" in content.left_out:
        return MARGIN_MM, []
    if moved is not None:
        width = moved.width or paper.width_mm - 2 * MARGIN_MM
        return MARGIN_MM, [page_head(content, type_, width).placed(moved.x, moved.y)]
    head = page_head(content, type_, paper.width_mm - 2 * MARGIN_MM)
    return MARGIN_MM + head.height + 2.0 * type_.times, [head]


def _best_arrangement(work: Paperwork, maps: MapRoom) -> Arrangement | None:
    """Return the arrangement with the largest map, of which least is left out, then with the least empty paper."""
    best: tuple[tuple[float, float, float], Arrangement] | None = None

    def worth(room: Rectangle) -> tuple[float, float]:
        _, view = maps.corners(room)
        empty = maps.empty_mm2(view) + BLANK * maps.blank_mm2(room)
        return view.scale_denominator * (1 if maps.is_whole(view) else 1000), empty

    def may_win(wide: float, high: float) -> bool:
        return best is None or round(worth((0.0, 0.0, wide, high))[0]) <= best[0][0]

    for shares in (SHARES, CROWDED_SHARES):
        for made in arrangements(work, may_win, shares):
            listener().step(0, 0, "")
            scale, empty = worth(made.room)
            value = (float(round(scale)), float(round(made.short_mm / 4)), BLANK * made.empty_mm2 + empty)
            best = min(best or (value, made), (value, made), key=lambda choice: choice[0])
        if best is not None:
            return best[1]
    return None


def _edges(
    content: Content, name: str, view: View, type_: Type, corner: tuple[float, float], band: float
) -> tuple[list[Item], list[Box]]:
    """Ticks or lines at round coordinates, and what is written at them."""
    if "grid" in content.left_out:
        return [], []
    items, boxes = grid_ticks(view, type_, corner, band, crosses=content.graticule is None)
    if content.graticule is not None:
        lines, more = graticule(view, content.graticule, type_, corner, band)
        items, boxes = [*lines, *items], [*boxes, *more]
    kept = [box for box in boxes if box.name not in content.left_out]
    return items, kept if name == "map" else [replace(box, name=f"{box.name} 2") for box in kept]


def _frame(corner: tuple[float, float], view: View, type_: Type) -> Shape:
    (left, top), wide, high = corner, view.width_mm, view.height_mm
    outline = ((left, top), (left + wide, top), (left + wide, top + high), (left, top + high))
    return Shape(outline, closed=True, line=type_.theme.ink, line_mm=FRAME_LINE_MM)


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


class PageParts:
    """All that is on a page besides the map, each set once for as long as only the scale changes.

    Parameters
    ----------
    content : Content
        What the page says.
    type_ : Type
        Sizes of type.
    """

    def __init__(self, content: Content, type_: Type) -> None:
        self.content, self.type_ = content, type_
        self._keys: dict[int, list[Part]] = {}
        self._tables = table_parts(content, type_)
        self._note = self._words("note", "Note", content.note.splitlines())
        self._north = Part("north", lambda width, _: north_box(type_, content.north, width))
        self._last = (
            notes_part(content, type_),
            self._words("caution", "Caution", content.cautions),
            self._words("credits", "", content.credits.splitlines()),
            self._words("version", "", content.version.splitlines()),
        )

    def _words(self, name: str, title: str, texts: Sequence[str]) -> Part:
        return Part(name, lambda width, _: headed(name, title, texts, self.type_, width))

    def at(self, guess: int, paper: Paper) -> list[Part]:
        """Return the parts, set for a guess of the N of the map's scale, in the order of one column."""
        content, type_, metres = self.content, self.type_, guess / 1000
        if guess not in self._keys:
            more = content.more_parts(type_, metres) if content.more_parts else ()
            self._keys[guess] = [*_keys(content, type_, metres), *self._tables, *more]
        ratio = f"1:{guess:,} at {paper.name}".replace(",", "\u202f")
        bar = Part("scale bar", lambda width, _: scale_bar_box(_bar(metres, width), type_, ratio))
        return [*self._keys[guess], self._note, bar, self._north, *self._last]


def table_parts(content: Content, type_: Type) -> list[Part]:
    """Return the tables; the first give way first."""
    return [
        Part(table.name, partial(table.box, type_), way, measure=partial(table.height, type_))
        for way, table in enumerate(content.tables, 2)
    ]


def notes_part(content: Content, type_: Type) -> Part:
    """Return the notes, which give way before any figures."""
    said = (content.notes_title, content.essential, content.notes, type_)
    apart, large, more = content.notes_apart, content.notes_large, content.notes_more

    def split(width: float, height: float) -> list[Box]:
        lines = [note for note in (content.essential, *content.notes) if note]

        def some(texts: Sequence[str], first: bool) -> Box:
            title = content.notes_title if first else f"{content.notes_title}{GOES_ON}"
            return notes_box(title, "", texts, type_, width, TALL_MM)

        return in_pieces(lines, some, height)

    made = partial(notes_box, *said, apart=apart, large=large, more=more)
    measure = partial(notes_height, *said, apart=apart, large=large, more=more)
    return Part("notes", made, 1, split, measure)


def _bar(metres_per_mm: float, width: float) -> ScaleBar:
    most = min(BAR_MM[1], width - 10.0)
    return scale_bar(metres_per_mm, min(BAR_MM[0], most / 1.6), most)


def _keys(content: Content, type_: Type, metres: float) -> list[Part]:
    """Return the key; in two parts where other lines go before it."""
    if content.key_first is None:
        made = partial(key_box, metres_per_mm=metres)

        def split(width: float, height: float) -> list[Box]:
            def some(lines: Sequence[KeyEntry], first: bool) -> Box:
                return made(lines, type_, width, TALL_MM, title="Key" if first else f"Key{GOES_ON}")

            return in_pieces(content.key, some, height)

        whole = partial(made, content.key, type_)
        return [Part("key", whole, 4, split, partial(key_height, content.key, type_, metres_per_mm=metres))]
    also = partial(key_box, content.key, type_, metres_per_mm=metres, title=ALSO, many=CROWDED)
    high = partial(key_height, content.key, type_, metres_per_mm=metres, many=CROWDED)
    return [
        content.key_first(type_, metres),
        Part("also", lambda width, height: replace(also(width, height), name="also"), 4, measure=high),
    ]
