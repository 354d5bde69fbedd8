"""Text that flows down pages: headings, paragraphs, lists, and lines to fill in."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from farmmap.scene.page_flow import Piece, Place, hairline
from farmmap.scene.page_items import Item, Shape, Text, Type, wrapped
from farmmap.scene.styles import TextStyle

BODY_POINTS, NOTE_POINTS = 9.4, 8.0
STEP = 1.42
"""From one line of running text to the next, in sizes of type."""

MEASURE_MM = 150.0
"""Running text is set no wider than this, so that the eye finds the next line. [mm]"""

HEADING_POINTS = {1: 15.0, 2: 11.0, 3: 9.4}
HEADING_ABOVE_MM = {1: 11.0, 2: 6.5, 3: 4.5}
HEADING_NEEDS_MM = {1: 62.0, 2: 34.0, 3: 20.0}
"""A heading begins a new page where less than this is left below it. [mm]"""

_EMPTY_LINE = re.compile(r"\n\s*\n")
LEAST_LINES = 2
"""Lines of a paragraph that stand alone at the foot or the head of a page at least."""


@dataclass(frozen=True)
class Title:
    """What stands above the first page: the title, and lines below it.

    Attributes
    ----------
    words : str
        The title.
    below : tuple of str
        Lines below it.
    """

    words: str
    below: tuple[str, ...] = ()

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in one piece, a rule below it."""
        del height
        points = next((p for p in (26.0, 22.0, 19.0) if type_.width(self.words, type_.style(p, "bold")) <= width), 19.0)
        style, small = type_.style(points, "bold"), type_.style(10.4, faint=True)
        items: list[Item] = []
        y = 0.0
        for line in _in_lines(self.words, style, width, type_):
            items.append(Text(0, y + style.size_mm * 0.95, line, style))
            y += style.size_mm * 1.18
        y += 1.2
        for text in self.below:
            for line in wrapped(text, small, width, type_.width):
                items.append(Text(0, y + small.size_mm, line, small))
                y += small.size_mm * 1.4
        y += 3.0
        items.append(Shape(((0.0, y), (width, y)), line=type_.theme.ink, line_mm=0.6))
        return (Piece(y + 1.0, tuple(items)),)


@dataclass(frozen=True)
class Heading:
    """A heading, which stays with what follows.

    Attributes
    ----------
    words : str
        What it says.
    level : int
        1 for a part, 2 for a part of one, 3 for the name of a table.
    needs_mm : float
        It begins a new page where less than this is left; 0 for what is usual for its level.
    """

    words: str
    level: int = 1
    needs_mm: float = 0.0

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in one piece."""
        style = type_.style(HEADING_POINTS[self.level], "bold")
        items: list[Item] = []
        y = 0.0
        for line in wrapped(self.words, style, width, type_.width):
            items.append(Text(0, y + style.size_mm * 0.95, line, style))
            y += style.size_mm * 1.2
        y += 1.4 if self.level < 3 else 0.2
        needs = min(self.needs_mm or HEADING_NEEDS_MM[self.level], height)
        place = Place(self.words, self.level) if self.level < 3 else None
        above = HEADING_ABOVE_MM[self.level]
        return (Piece(y, tuple(items), above=above, with_next=True, needs=needs, place=place),)


@dataclass(frozen=True)
class Paragraph:
    """Running text.

    Attributes
    ----------
    words : str
        What it says; an empty line begins a new paragraph, a line feed a new line.
    note : bool
        Whether it is smaller and fainter, as beside a table.
    with_next : bool
        Whether it stays with what follows.
    """

    words: str
    note: bool = False
    with_next: bool = False

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return its lines."""
        del height
        style = type_.style(NOTE_POINTS, faint=True) if self.note else type_.style(BODY_POINTS)
        out: list[Piece] = []
        for words in filter(str.strip, _EMPTY_LINE.split(self.words)):
            out += _lines(words, style, min(width, MEASURE_MM), type_, 0.0, 1.6 if self.note else 2.4, self.with_next)
        return out


@dataclass(frozen=True)
class Bullets:
    """Texts one under the other, each after a bullet.

    Attributes
    ----------
    texts : tuple of str
        What they say.
    note : bool
        Whether they are smaller and fainter.
    """

    texts: tuple[str, ...]
    note: bool = False

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return their lines."""
        del height
        style = type_.style(NOTE_POINTS, faint=True) if self.note else type_.style(BODY_POINTS)
        indent = 3.6
        out: list[Piece] = []
        last = len(self.texts) - 1
        for place, text in enumerate(self.texts):
            lines = _lines(text, style, min(width, MEASURE_MM) - indent, type_, indent, 1.0, with_next=False)
            first, sign = lines[0], Text(0.6, style.size_mm, "•", style)
            lines[0] = replace(first, items=(sign, *first.items))
            if place < last and place in {0, last - 1}:  # none stands alone on a page
                lines[-1] = replace(lines[-1], with_next=True)
            out += lines
        return out


@dataclass(frozen=True)
class Fields:
    """Names with what is known beside them, and a line to write on where nothing is.

    Attributes
    ----------
    rows : tuple of (str, str)
        Name and value; "" for a line to fill in.
    name_mm : float
        Room for the names. [mm]
    """

    rows: tuple[tuple[str, str], ...]
    name_mm: float = 48.0

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return a row each."""
        del height
        name_style, style = type_.style(BODY_POINTS, faint=True), type_.style(BODY_POINTS)
        room, out = width - self.name_mm, []
        more = 0.7 if all(value for _, value in self.rows) else 1.3
        step = style.size_mm * STEP
        for name, value in self.rows:
            names = wrapped(name, name_style, self.name_mm - 3.0, type_.width)
            values = wrapped(value, style, room, type_.width)
            items: list[Item] = [Text(0, at * step + style.size_mm, line, name_style) for at, line in enumerate(names)]
            items += [Text(self.name_mm, at * step + style.size_mm, line, style) for at, line in enumerate(values)]
            high = max(len(names), len(values), 1) * step + more
            if not value:
                line = style.size_mm * 1.25
                items.append(Shape(((self.name_mm, line), (width, line)), line=hairline(type_), line_mm=0.2))
            out.append(Piece(high, tuple(items), above=0.6))
        if out:
            out[0] = replace(out[0], above=2.4)
        out[:-1] = [replace(piece, with_next=True) for piece in out[:-1]]
        return out


@dataclass(frozen=True)
class Lines:
    """Empty lines to write on.

    Attributes
    ----------
    count : int
        How many.
    """

    count: int

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return them in one piece."""
        del height
        step = 8.0
        lines = (
            Shape(((0.0, step * at), (width, step * at)), line=hairline(type_), line_mm=0.2)
            for at in range(1, self.count + 1)
        )
        return (Piece(step * self.count + 1.0, tuple(lines), above=1.0),)


@dataclass(frozen=True)
class PageBreak:
    """What follows begins a new page where less than some room is left.

    Attributes
    ----------
    needs_mm : float
        The room; as good as none by default, so that a new page begins in any case. [mm]
    """

    needs_mm: float = 1e6

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in one piece of no height."""
        del type_, width
        return (Piece(0.0, with_next=True, needs=min(self.needs_mm, height)),)


def _lines(
    words: str, style: TextStyle, width: float, type_: Type, left: float, above: float, with_next: bool
) -> list[Piece]:
    """Return the lines of a paragraph, of which neither the first nor the last stands alone on a page."""
    lines = _in_lines(words, style, width, type_) or [""]
    step = style.size_mm * STEP
    return [
        Piece(
            step,
            (Text(left, style.size_mm, line, style),),
            above=0.0 if at else above,
            with_next=at < min(LEAST_LINES, len(lines)) - 1
            or (len(lines) - LEAST_LINES <= at < len(lines) - 1)
            or (with_next and at == len(lines) - 1),
        )
        for at, line in enumerate(lines)
    ]


def _in_lines(words: str, style: TextStyle, width: float, type_: Type) -> list[str]:
    """Return text in lines, a new one at each line feed; nothing of a word that is wider than the page is lost."""
    out: list[str] = []
    for line in words.strip().splitlines():
        broken = " ".join(part for word in line.split() for part in _parted(word, style, width, type_))
        out += wrapped(broken, style, width, type_.width)
    return out


def _parted(word: str, style: TextStyle, width: float, type_: Type) -> Iterator[str]:
    """Yield a word in parts that each fit a line, as a long address or words of a script without spaces do not."""
    while word and type_.width(word, style) > width:
        fits = bisect_right(range(2, len(word)), width, key=lambda end: type_.width(word[:end], style))
        yield word[: fits + 1]
        word = word[fits + 1 :]
    if word:
        yield word
