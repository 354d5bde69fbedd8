"""Tables that flow down pages: the head is set again on the next page, a row is never cut, wide ones are wrapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from farmmap.scene.page_flow import Piece, hairline
from farmmap.scene.page_items import Item, Shape, Text, Type, wrapped
from farmmap.scene.styles import TextStyle

TABLE_POINTS = 8.2
LEAST_POINTS = 6.8
"""Type of a table is made smaller, down to this, where its columns have no room."""

GAP_MM = 4.0
"""From one column to the next at least. [mm]"""

CLOSE_MM = 1.8
"""From a number to its unit. [mm]"""

MOST_GAP_MM = 13.0
"""Columns are set no farther apart than this to fill the page. [mm]"""

ROW = 1.62
"""Height of a row of one line, in sizes of type."""

BY_HAND_MM, MOST_BY_HAND_MM = 36.0, 66.0
"""Room that a column to write in has at least, and all of them together at most as long as others are short. [mm]"""

RULED_MM = 7.6
"""Height of a row that is to be written on. [mm]"""

BOX_MM = 3.3
"""Side of a box to tick. [mm]"""

WHOLE = 0.42
"""A table no higher than this share of a page is not parted."""

MOST_WORD_MM = 44.0
"""A single word that is longer is cut where its column has no room. [mm]"""

SMALL_GROUP = 8
"""A group of no more rows is not parted."""

LEAST_ROWS = 3
"""Of a table that is parted so many rows stay together at its beginning and its end."""


@dataclass(frozen=True)
class Row:
    """A row of a table.

    Attributes
    ----------
    cells : tuple of str
        One for each column.
    strong : bool
        Whether it is a sum.
    ruled : bool
        Whether a line is drawn above it.
    """

    cells: tuple[str, ...]
    strong: bool = False
    ruled: bool = False


@dataclass(frozen=True)
class Table:
    """A table on pages.

    Attributes
    ----------
    title : str
        Its name, "" for none.
    heads : tuple of tuple of str
        Lines of each column's head, its unit last.
    words : frozenset of int
        Columns that hold words, which stand to the left and are wrapped; numbers stand to the right.
    rows : tuple of Row
        What is in it.
    written_on : bool
        Whether its rows are high, with a line below each, to be written on.
    boxes : bool
        Whether a box to tick stands before each row.
    close : frozenset of int
        Columns that stand close to the one before, as a unit does to its number.
    """

    title: str
    heads: tuple[tuple[str, ...], ...]
    words: frozenset[int]
    rows: tuple[Row, ...]
    written_on: bool = False
    boxes: bool = False
    close: frozenset[int] = frozenset()

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return head and rows; the head comes again at the top of each further page."""
        if not self.rows:
            return ()
        points, columns = self._fitted(type_, width)
        letter, strong = type_.style(points), type_.style(points, "semibold")
        head = self._head(type_, points, columns)
        rows = [
            self._row(row, type_, strong if row.strong else letter, columns, last=row is self.rows[-1])
            for row in self.rows
        ]
        rows[-1] = _closed(rows[-1], columns.end, type_)
        title = self._title(type_, width)
        whole = sum(piece.height for piece in (*title, head, *rows)) <= WHOLE * height
        last = len(rows) - 1
        ends = {*range(LEAST_ROWS - 1), *range(last - LEAST_ROWS + 1, last)}
        out = [*title, head]
        for at, row in enumerate(rows):
            stays = at < last and (whole or at in ends or self._belong(at))
            out.append(Piece(row.height, row.items, with_next=stays, again=(head,)))
        return out

    def _belong(self, at: int) -> bool:
        """Whether a row stays with the next: a sum with what is above it, and the rows of a small group together."""
        following = self.rows[at + 1]
        if following.strong or following.ruled or not any(row.ruled for row in self.rows):
            return following.strong
        begins = [0, *(place for place, row in enumerate(self.rows) if row.ruled), len(self.rows)]
        return any(low <= at < high and high - low <= SMALL_GROUP for low, high in pairwise(begins))

    @property
    def _start(self) -> float:
        """Where the first column begins. [mm]."""
        return BOX_MM + 3.0 if self.boxes else 0.0

    def _title(self, type_: Type, width: float) -> tuple[Piece, ...]:
        if not self.title:
            return ()
        style = type_.style(TABLE_POINTS + 1.0, "semibold")
        step = style.size_mm * 1.3
        lines = wrapped(self.title, style, width, type_.width)
        items = tuple(Text(0, at * step + style.size_mm, line, style) for at, line in enumerate(lines))
        return (Piece(len(lines) * step + 0.8, items, above=5.0, with_next=True),)

    def _fitted(self, type_: Type, width: float) -> tuple[float, _Columns]:
        """Return the size of type and the columns."""
        points = TABLE_POINTS
        while True:
            natural, least = self._natural(type_, points), self._least(type_, points)
            room = width - self._start - sum(self._gaps(GAP_MM))
            if sum(least) <= room or points <= LEAST_POINTS:
                break
            points = max(points - 0.4, LEAST_POINTS)
        if sum(natural) > room:
            return points, _Columns(self._start, tuple(_shared(natural, least, room)), self._gaps(GAP_MM))
        spare, gaps = room - sum(natural), max(len(natural) - 1 - len(self.close), 1)
        blank = self._blank()
        if blank:  # columns to write in take all the room
            natural = [wide + spare / len(blank) * (place in blank) for place, wide in enumerate(natural)]
            spare = 0.0
        gap = min(GAP_MM + spare / gaps, MOST_GAP_MM)
        return points, _Columns(self._start, tuple(natural), self._gaps(gap))

    def _gaps(self, gap: float) -> tuple[float, ...]:
        """Gap before each column but the first. [mm]."""
        return tuple(CLOSE_MM if place in self.close else gap for place in range(1, len(self.heads)))

    def _blank(self) -> list[int]:
        """Return the columns that have nothing in them yet."""
        return [place for place in range(len(self.heads)) if not any(row.cells[place] for row in self.rows)]

    def _natural(self, type_: Type, points: float) -> list[float]:
        """Room that each column needs to be written in one line, or by hand. [mm]."""
        letter, strong, small = self._letters(type_, points)
        by_hand = self._blank() if self.written_on else []
        least = [
            min(BY_HAND_MM, MOST_BY_HAND_MM / max(len(by_hand), 1)) * (at in by_hand) for at in range(len(self.heads))
        ]
        return [
            max(
                (type_.width(text, style) for text, style in self._texts(place, letter, strong, small)),
                default=0.0,
            )
            if not least[place]
            else max(least[place], *(type_.width(line, small) for line in self.heads[place]))
            for place in range(len(self.heads))
        ]

    def _least(self, type_: Type, points: float) -> list[float]:
        """Room without which a word of a column would be cut. [mm]."""
        letter, strong, small = self._letters(type_, points)
        natural = self._natural(type_, points)
        out = []
        blank = self._blank()
        for place, whole in enumerate(natural):
            if place not in self.words or place in blank:
                out.append(whole)
                continue
            texts = self._texts(place, letter, strong, small)
            longest = max((type_.width(word, style) for text, style in texts for word in text.split()), default=0.0)
            out.append(min(longest, whole, MOST_WORD_MM))
        return out

    def _texts(self, place: int, letter: TextStyle, strong: TextStyle, small: TextStyle) -> list[tuple[str, TextStyle]]:
        cells = [(row.cells[place], strong if row.strong else letter) for row in self.rows]
        return [*((line, small) for line in self.heads[place]), *cells]

    def _letters(self, type_: Type, points: float) -> tuple[TextStyle, TextStyle, TextStyle]:
        return type_.style(points), type_.style(points, "semibold"), _head_style(type_, points)

    def _head(self, type_: Type, points: float, columns: _Columns) -> Piece:
        style = _head_style(type_, points)
        step, deep = style.size_mm * 1.18, max(map(len, self.heads))
        items: list[Item] = []
        for place, lines in enumerate(self.heads):
            for at, line in enumerate(lines, deep - len(lines)):
                items += self._cell(line, place, (at + 1) * step, style, columns)
        y = deep * step + 1.1
        items.append(Shape(((0.0, y), (columns.end, y)), line=type_.theme.ink, line_mm=0.3))
        return Piece(y + 0.5, tuple(items), above=1.6 if self.title else 4.0, with_next=True)

    def _row(self, row: Row, type_: Type, style: TextStyle, columns: _Columns, *, last: bool) -> Piece:
        step = style.size_mm * 1.28
        items: list[Item] = []
        most = 1
        for place, text in enumerate(row.cells):
            if not text:
                continue
            lines = [text]
            if place in self.words:
                lines = wrapped(text, style, columns.widths[place] + 1e-6, type_.width)
            most = max(most, len(lines))
            for at, line in enumerate(lines):
                items += self._cell(line, place, style.size_mm * 1.22 + at * step, style, columns)
        high = style.size_mm * ROW + (most - 1) * step
        if self.boxes:
            items.append(tick_box(style, type_))
        if self.written_on:
            high = max(high, RULED_MM)
        if self.written_on and not last:
            items.append(Shape(((0.0, high), (columns.end, high)), line=hairline(type_), line_mm=0.15))
        if row.ruled or row.strong:
            items.append(Shape(((0.0, 0.0), (columns.end, 0.0)), line=hairline(type_), line_mm=0.15))
        return Piece(high, tuple(items))

    def _cell(self, text: str, place: int, y: float, style: TextStyle, columns: _Columns) -> tuple[Item, ...]:
        if not text:
            return ()
        left = columns.lefts[place]
        if place in self.words:
            return (Text(left, y, text, style),)
        return (Text(left + columns.widths[place], y, text, style, "right"),)


@dataclass(frozen=True)
class _Columns:
    """Where the columns of a table stand: its left edge, their widths, and the gaps between them. [mm]."""

    start: float
    widths: tuple[float, ...]
    gaps: tuple[float, ...]

    @property
    def lefts(self) -> tuple[float, ...]:
        """Left edge of each."""
        steps = (wide + gap for wide, gap in zip(self.widths, self.gaps, strict=False))
        return tuple(accumulate(steps, initial=self.start))

    @property
    def end(self) -> float:
        """Right edge of the last."""
        return self.lefts[-1] + self.widths[-1]


def _shared(natural: list[float], least: list[float], room: float) -> list[float]:
    """Room of columns that have less than they would like: more for those with more words, by its square root."""

    def made(times: float) -> list[float]:
        return [max(min(want, times * want**0.5), need) for want, need in zip(natural, least, strict=True)]

    low, high = 0.0, max(natural) ** 0.5
    for _ in range(50):
        times = (low + high) / 2
        low, high = (low, times) if sum(made(times)) > room else (times, high)
    return made(low)


def tick_box(style: TextStyle, type_: Type) -> Shape:
    """Return a box to tick at the height of a first line of text."""
    top = style.size_mm * 0.9 - BOX_MM / 2
    corners = ((0.2, top), (0.2 + BOX_MM, top), (0.2 + BOX_MM, top + BOX_MM), (0.2, top + BOX_MM))
    return Shape(corners, closed=True, line=type_.theme.ink, line_mm=0.25)


def _head_style(type_: Type, points: float) -> TextStyle:
    return type_.style(points - 0.6, faint=True)


def _closed(row: Piece, width: float, type_: Type) -> Piece:
    """Return the last row with a rule below it."""
    line = Shape(((0.0, row.height + 0.5), (width, row.height + 0.5)), line=type_.theme.ink, line_mm=0.15)
    return Piece(row.height + 1.0, (*row.items, line))
