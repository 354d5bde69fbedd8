"""Further pages, for the tables and notes that have no room beside a map."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from farmmap.scene.page_items import Box, Type
from farmmap.scene.page_stack import TALL_MM, Part, columns
from farmmap.scene.page_tables import LEAST_ROWS, PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import DOT, MARGIN_MM, Content, notes_part, page_head, table_parts

MOST_COLUMNS = 4


@dataclass(frozen=True)
class SecondPage:
    """A page of tables and notes.

    Attributes
    ----------
    boxes : tuple of Box
        All that is on it, none lying on another.
    cut : tuple of str
        Names of the boxes from which something was left out.
    """

    boxes: tuple[Box, ...]
    cut: tuple[str, ...]


def further_pages(
    paper: Paper, content: Content, type_: Type, things: Iterable[PageTable | Part]
) -> tuple[tuple[Box, ...], ...]:
    """Set tables and other parts in columns over as many pages as they take; long tables go on from page to page.

    Parameters
    ----------
    paper : Paper
        The sheet.
    content : Content
        Its title and subtitle are used.
    type_ : Type
        Sizes of type.
    things : iterable of PageTable or Part
        What is set, in its order.
    """
    wide = paper.width_mm - 2 * MARGIN_MM
    head = page_head(content, type_, wide)
    top = MARGIN_MM + head.height + type_.gap
    whole = list(things)
    tables = [thing for thing in whole if isinstance(thing, PageTable)]
    count, each = _columns(wide, max([_natural(table, type_) for table in tables] + [62 * type_.times]), type_)
    room = _Room(count, paper.height_mm - MARGIN_MM - top, 1.6 * type_.gap)
    for thing in whole:
        if isinstance(thing, Part):
            split = thing.split if thing.natural(each) > room.high else None
            for box in split(each, room.high) if split else [thing.make(each, room.high)]:
                room.put(box)
            continue
        for table in thing.narrow(type_, each):
            _put_table(room, table, type_, each)
    return tuple(
        (head, *(box.placed(MARGIN_MM + column * (each + _apart(type_)), top + y) for box, column, y in page))
        for page in room.pages
    )


class _Room:
    """Columns of pages that are filled one after the other."""

    def __init__(self, count: int, high: float, gap: float) -> None:
        self.count, self.high, self.gap = count, high, gap
        self.pages: list[list[tuple[Box, int, float]]] = [[]]
        self.column, self.y = 0, 0.0

    @property
    def left(self) -> float:
        """Height that is left in the column. [mm]."""
        return self.high - self.y

    def go_on(self) -> None:
        """Begin the next column."""
        self.column, self.y = self.column + 1, 0.0
        if self.column == self.count:
            self.column = 0
            self.pages.append([])

    def put(self, box: Box) -> None:
        """Set a box below what is there, or in the next column."""
        if not box.height:
            return
        if box.height > self.left + 1e-6 and self.y:
            self.go_on()
        self.pages[-1].append((box, self.column, self.y))
        self.y += box.height + self.gap


def _put_table(room: _Room, table: PageTable, type_: Type, width: float) -> None:
    rest = table
    while rest.box(type_, width, TALL_MM).height > room.left + 1e-6:
        fit = min(rest.fitting_rows(type_, width, room.left), len(rest.cells) - 1)
        if fit < LEAST_ROWS and room.y:
            room.go_on()
            continue
        fit = max(fit, 1)
        if fit >= len(rest.cells):
            break
        room.put(rest.rows(0, fit).box(type_, width, TALL_MM))
        rest = rest.rows(fit, len(rest.cells))
        room.go_on()
    room.put(rest.box(type_, width, TALL_MM))


def _natural(table: PageTable, type_: Type) -> float:
    return table.natural_width(type_, 34 * type_.times)


def _apart(type_: Type) -> float:
    return 2.4 * type_.gap


def _columns(wide: float, natural: float, type_: Type) -> tuple[int, float]:
    """Return how many columns a page has, and how wide each is. [mm]."""
    count = min(max(int((wide + _apart(type_)) / (natural + _apart(type_))), 1), MOST_COLUMNS)
    return count, (wide - _apart(type_) * (count - 1)) / count


def second_page(paper: Paper, content: Content, type_: Type, more: tuple[PageTable | Part, ...] = ()) -> SecondPage:
    """Set tables and notes in columns of their own width, notes as large as the tables if there is room.

    Parameters
    ----------
    paper : Paper
        The sheet.
    content : Content
        Its title, subtitle, tables and notes are used.
    type_ : Type
        Sizes of type.
    more : tuple of PageTable or Part
        What is set before the notes if there is room for all of it; the last are left out first.
    """
    made = SecondPage((), ())
    for kept in range(len(more), -1, -1):
        for large in (True, False):
            made = _set(paper, replace(content, notes_large=large), type_, more[:kept])
            if not made.cut:
                return made
    return made


def _set(paper: Paper, content: Content, type_: Type, more: tuple[PageTable | Part, ...]) -> SecondPage:
    wide, gap = paper.width_mm - 2 * MARGIN_MM, _apart(type_)
    head = page_head(replace(content, subtitle=DOT.join(("Second page", content.subtitle))), type_, wide)
    top = MARGIN_MM + head.height + type_.gap
    content = replace(content, tables=(*content.tables, *(table for table in more if isinstance(table, PageTable))))
    count, each = _columns(wide, max([_natural(table, type_) for table in content.tables] + [62 * type_.times]), type_)
    others = [part for part in more if isinstance(part, Part)]
    parts = [*table_parts(content, type_), *others, notes_part(replace(content, essential=""), type_)]
    stacks, _ = columns(parts, count, each, paper.height_mm - MARGIN_MM - top, 1.6 * type_.gap)
    boxes = [box for place, made in enumerate(stacks) for box in made.placed(MARGIN_MM + place * (each + gap), top)]
    return SecondPage((head, *boxes), tuple(name for made in stacks for name in made.cut))
