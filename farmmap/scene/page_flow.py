"""What flows down pages: headings, paragraphs, tables, charts and maps, with a foot line on every page.

Each thing makes pieces that are never cut. Pieces are set one under the other;
one that stays with the next is not left alone at the foot of a page, and a
piece of a table brings the table's head with it to the next page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from farmmap.scene.page_items import Box, Item, Shape, Text, Type, elided
from farmmap.scene.paper import Paper
from farmmap.scene.scene import Scene
from farmmap.scene.styles import mixed
from farmmap.scene.view import View

SIDE_MM, TOP_MM, FOOT_MM = 20.0, 17.0, 19.0
"""Paper left free at the sides, above, and below, the foot line in it. [mm]"""

FOOT_POINTS = 7.2
COLUMN_GAP_MM = 10.0
"""Between two columns of contents. [mm]"""

TIGHT = (1.0, 0.85, 0.7)
"""Space between things is drawn closer, to these shares of itself, where that saves a page with little on it."""

CLOSEST = 0.62
"""Space between things on a page is drawn closer, down to this share of itself, to keep a last few lines on it."""

LITTLE = 0.3
"""A last page that is filled less than this has little on it."""


@dataclass(frozen=True, eq=False)
class MapSet:
    """A map in its frame with what is drawn upon it.

    Attributes
    ----------
    frame : tuple of float
        Left, top, width and height. [mm]
    view : View
        What it shows.
    scene : Scene
        The map.
    over_map : tuple of Item
        Drawn upon it, from the same corner as the frame.
    name : str
        What it is.
    """

    frame: tuple[float, float, float, float]
    view: View
    scene: Scene
    over_map: tuple[Item, ...]
    name: str

    def moved(self, dx: float, dy: float) -> MapSet:
        """Return it elsewhere."""
        left, top, width, height = self.frame
        frame = (left + dx, top + dy, width, height)
        return replace(self, frame=frame, over_map=tuple(item.moved(dx, dy) for item in self.over_map))


@dataclass(frozen=True)
class Place:
    """A place that the table of contents or a reader of the file goes to.

    Attributes
    ----------
    words : str
        What it is called.
    level : int
        1 for a part, 2 for a part of one.
    y : float
        How far down. [mm]
    """

    words: str
    level: int
    y: float = 0.0


@dataclass(frozen=True, eq=False)
class Piece:
    """Something that stands on one page.

    Attributes
    ----------
    height : float
        How high it is. [mm]
    items : tuple of Item
        What is in it, from its upper left corner.
    above : float
        Space above it, unless it is the first on its page. [mm]
    with_next : bool
        Whether it may not be the last on its page.
    again : tuple of Piece
        What is set above it once more where it comes first on a page.
    most : float
        How high it may be made where there is room. [mm]
    grown : callable or None
        Makes it so high. [mm]
    needs : float
        It begins a new page where less than this is left. [mm]
    maps : tuple of MapSet
        Maps in it.
    place : Place or None
        What it is the beginning of.
    """

    height: float
    items: tuple[Item, ...] = ()
    above: float = 0.0
    with_next: bool = False
    again: tuple[Piece, ...] = ()
    most: float = 0.0
    grown: Callable[[float], Piece] | None = None
    needs: float = 0.0
    maps: tuple[MapSet, ...] = ()
    place: Place | None = None


class Flowing(Protocol):
    """Something that flows down pages."""

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in pieces for a column so wide, on pages so high. [mm]."""


@dataclass(frozen=True)
class Stays:
    """Something whose end stays on one page with what follows, as a table does with its notes.

    Attributes
    ----------
    thing : Flowing
        What it is.
    """

    thing: Flowing

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return its pieces, the last of which stays with the next."""
        made = list(self.thing.pieces(type_, width, height))
        return [*made[:-1], replace(made[-1], with_next=True)] if made else made


@dataclass(frozen=True)
class Contents:
    """The table of contents: every part of the first level, with its page.

    Attributes
    ----------
    title : str
        Its heading.
    lines : tuple of (str, int)
        Words and page, filled in by `flow`.
    """

    title: str = "Contents"
    lines: tuple[tuple[str, int], ...] = ()

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return its lines in two columns, the page at the end of each."""
        del height
        head, letter = type_.style(11.0, "bold"), type_.style(9.2)
        step, top = letter.size_mm * 1.62, head.size_mm * 1.9
        items: list[Item] = [Text(0, head.size_mm, self.title, head)]
        each, rows = (width - COLUMN_GAP_MM) / 2, (len(self.lines) + 1) // 2
        for place, (words, page) in enumerate(self.lines):
            column, row = divmod(place, rows)
            left, number = column * (each + COLUMN_GAP_MM), str(page)
            base, right = top + row * step + letter.size_mm, left + each
            room = each - type_.width(number, letter) - 4.0
            items += [Text(left, base, elided(words, letter, room, type_.width), letter)]
            items += [Text(right, base, number, letter, "right")]
            line = base + step * 0.28
            items.append(Shape(((left, line), (right, line)), line=hairline(type_), line_mm=0.1))
        return (Piece(top + rows * step + 1.0, tuple(items), above=7.0),)


def hairline(type_: Type) -> str:
    """Return the colour of a line that only parts things."""
    return mixed(type_.theme.faint, 0.45, type_.theme.inside)


@dataclass(frozen=True, eq=False)
class FlowPage:
    """A page with everything in its place.

    Attributes
    ----------
    boxes : tuple of Box
        What is on it besides maps.
    maps : tuple of MapSet
        Its maps.
    places : tuple of Place
        What begins on it, from top to bottom.
    """

    boxes: tuple[Box, ...]
    maps: tuple[MapSet, ...]
    places: tuple[Place, ...]


@dataclass(eq=False)
class _Filling:
    """A page as it fills: space above each piece, and the piece."""

    set_: list[tuple[float, Piece]] = field(default_factory=list)
    y: float = 0.0
    times: float = 1.0

    def closer(self, missing: float) -> bool:
        """Draw what is on the page closer together to gain some room; whether that could be had. [mm]."""
        spaces = sum(above for above, _ in self.set_)
        if missing > spaces * (1.0 - CLOSEST):
            return False
        times = 1.0 - missing / spaces if spaces else 1.0
        self.set_ = [(above * times, piece) for above, piece in self.set_]
        self.y -= missing
        self.times *= times
        return True


def flow(things: Sequence[Flowing], paper: Paper, type_: Type, foot: str) -> tuple[FlowPage, ...]:
    """Set things down as many pages as they need.

    Parameters
    ----------
    things : sequence of Flowing
        What to set, in order; a `Contents` among them is filled in.
    paper : Paper
        Of every page.
    type_ : Type
        Sizes of type.
    foot : str
        What stands at the foot of every page, before its number.
    """
    width, height = paper.width_mm - 2 * SIDE_MM, paper.height_mm - TOP_MM - FOOT_MM
    pieces = [list(thing.pieces(type_, width, height)) for thing in things]
    listed = [piece.place for of_thing in pieces for piece in of_thing if piece.place is not None]
    contents = {at: thing for at, thing in enumerate(things) if isinstance(thing, Contents)}
    for at, thing in contents.items():
        blank = replace(thing, lines=tuple((place.words, 0) for place in listed if place.level == 1))
        pieces[at] = list(blank.pieces(type_, width, height))
    tight, pages = _least_pages(pieces, height)
    if contents:
        numbers = tuple(
            (piece.place.words, number)
            for number, page in enumerate(pages, 1)
            for _, piece in page.set_
            if piece.place is not None and piece.place.level == 1
        )
        for at, thing in contents.items():
            pieces[at] = list(replace(thing, lines=numbers).pieces(type_, width, height))
        pages = _filled(pieces, height, tight)
    return tuple(_page(page, number, len(pages), paper, type_, foot) for number, page in enumerate(pages, 1))


def _least_pages(pieces: list[list[Piece]], height: float) -> tuple[float, list[_Filling]]:
    """Fill pages; with less space between things where that does away with a last page that has little on it."""
    pages = _filled(pieces, height, 1.0)
    if len(pages) > 1 and pages[-1].y < LITTLE * height:
        for tight in TIGHT[1:]:
            closer = _filled(pieces, height, tight)
            if len(closer) < len(pages):
                return tight, closer
    return 1.0, pages


def _filled(pieces: list[list[Piece]], height: float, tight: float) -> list[_Filling]:
    """Put pieces on pages, those that belong together on one where they fit on one at all."""
    pages = [_Filling()]
    for group in _groups([piece for of_thing in pieces for piece in of_thing]):
        page = pages[-1]
        needed = _height(group, tight, first=page.y <= 0.0)
        left = height - page.y
        if page.y > 0.0 and (left < needed or left < max(piece.needs for piece in group)):
            goes_on = group[0].place is None and not group[0].needs
            if not (goes_on and page.closer(max(needed - left, 0.0))):
                page = _Filling()
                pages.append(page)
        rest = sum(piece.height + _above(piece, tight) for piece in group)  # of what must stand on the same page
        for piece in group:
            rest -= piece.height + _above(piece, tight)
            if page.y > 0.0 and page.y + _above(piece, tight) + piece.height > height + 1e-6:
                page = _Filling()
                pages.append(page)
            _put(page, piece, height - rest, tight)
    return pages


def _groups(pieces: list[Piece]) -> list[list[Piece]]:
    """Pieces that must not be parted, each with the first that may be the last of its page."""
    groups: list[list[Piece]] = [[]]
    for piece in pieces:
        groups[-1].append(piece)
        if not piece.with_next:
            groups.append([])
    return [group for group in groups if group]


def _height(group: list[Piece], tight: float, *, first: bool) -> float:
    first_above = 0.0 if first else _above(group[0], tight)
    return sum(piece.height for piece in group) + sum(_above(piece, tight) for piece in group[1:]) + first_above


def _above(piece: Piece, tight: float) -> float:
    return piece.above * tight


def _put(page: _Filling, piece: Piece, bottom: float, tight: float) -> None:
    above = _above(piece, tight) * page.times
    if page.y <= 0.0:
        above = 0.0
        for head in piece.again:
            page.set_.append((0.0, head))
            page.y += head.height
    if piece.grown is not None:
        room = min(bottom - page.y - above, piece.most)
        if room > piece.height:
            piece = piece.grown(room)
    page.set_.append((above, piece))
    page.y += above + piece.height


def _page(page: _Filling, number: int, count: int, paper: Paper, type_: Type, foot: str) -> FlowPage:
    boxes, maps, places = [], [], []
    width, y = paper.width_mm - 2 * SIDE_MM, TOP_MM
    for at, (above, piece) in enumerate(page.set_):
        y += above
        if piece.items:
            boxes.append(Box(f"piece {at + 1}", 0, 0, width, piece.height, piece.items).moved(SIDE_MM, y))
        maps += [one.moved(SIDE_MM, y) for one in piece.maps]
        if piece.place is not None:
            places.append(replace(piece.place, y=y))
        y += piece.height
    boxes.append(_foot(number, count, paper, type_, foot))
    return FlowPage(tuple(boxes), tuple(maps), tuple(places))


def _foot(number: int, count: int, paper: Paper, type_: Type, words: str) -> Box:
    width, style = paper.width_mm - 2 * SIDE_MM, type_.style(FOOT_POINTS, faint=True)
    of = f"page {number} of {count}"
    room = width - type_.width(of, style) - 6.0
    base = 2.4 + style.size_mm
    items = (
        Shape(((0.0, 0.0), (width, 0.0)), line=type_.theme.faint, line_mm=0.15),
        Text(0, base, elided(words, style, room, type_.width), style),
        Text(width, base, of, style, "right"),
    )
    return Box("foot", 0, 0, width, base + 1.0, items).placed(SIDE_MM, paper.height_mm - FOOT_MM + 6.5)
