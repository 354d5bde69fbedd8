"""What a page is made of besides the map: text, rules, shapes and samples, placed in millimetres."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

from farmmap.scene.scene import Sample
from farmmap.scene.styles import POINT_MM, TextStyle, Theme
from farmmap.scene.symbols import SpeciesSymbol

Width = Callable[[str, TextStyle], float]
"""Width of one line of text. [mm]"""

LINE_SPACING = 1.25
"""From one line of text to the next, in sizes of type."""

CLOSER = 1.0
"""A line may be shorter by so much than its words and spaces by themselves, in sizes of type."""


@dataclass(frozen=True)
class Text:
    """One line of text.

    Attributes
    ----------
    x, y : float
        Left, middle or right end of its base line, from the upper left corner. [mm]
    text : str
        What is written.
    style : TextStyle
        How.
    align : str
        ``left``, ``middle`` or ``right``.
    upright : bool
        False where it is turned to read upwards.
    """

    x: float
    y: float
    text: str
    style: TextStyle
    align: str = "left"
    upright: bool = True

    def moved(self, dx: float, dy: float) -> Text:
        """Return it elsewhere."""
        return Text(self.x + dx, self.y + dy, self.text, self.style, self.align, self.upright)


@dataclass(frozen=True)
class Shape:
    """Straight strokes or a filled outline.

    Attributes
    ----------
    points : tuple of (float, float)
        Its corners. [mm]
    closed : bool
        Whether the last corner is joined to the first.
    line : str
        Colour of the stroke, "" for none.
    line_mm : float
        Its weight. [mm]
    fill : str
        Colour inside, "" for none.
    """

    points: tuple[tuple[float, float], ...]
    closed: bool = False
    line: str = ""
    line_mm: float = 0.2
    fill: str = ""

    def moved(self, dx: float, dy: float) -> Shape:
        """Return it elsewhere."""
        points = tuple((x + dx, y + dy) for x, y in self.points)
        return Shape(points, self.closed, self.line, self.line_mm, self.fill)


@dataclass(frozen=True)
class Disc:
    """A circle, such as a stem in the key to sizes; place is its middle. [mm]."""

    x: float
    y: float
    diameter: float
    line: str
    line_mm: float
    fill: str

    def moved(self, dx: float, dy: float) -> Disc:
        """Return it elsewhere."""
        return Disc(self.x + dx, self.y + dy, self.diameter, self.line, self.line_mm, self.fill)


@dataclass(frozen=True)
class Sampled:
    """A sample of the key in a rectangle. [mm]."""

    x: float
    y: float
    width: float
    height: float
    sample: Sample

    def moved(self, dx: float, dy: float) -> Sampled:
        """Return it elsewhere."""
        return Sampled(self.x + dx, self.y + dy, self.width, self.height, self.sample)


@dataclass(frozen=True)
class Symbol:
    """The symbol of a species, as wide as it is said; place is its middle. [mm]."""

    x: float
    y: float
    size: float
    symbol: SpeciesSymbol

    def moved(self, dx: float, dy: float) -> Symbol:
        """Return it elsewhere."""
        return Symbol(self.x + dx, self.y + dy, self.size, self.symbol)


@dataclass(frozen=True)
class Picture:
    """A photograph in a rectangle of its own shape, turned the right way up; path is its file. [mm]."""

    x: float
    y: float
    width: float
    height: float
    path: str

    def moved(self, dx: float, dy: float) -> Picture:
        """Return it elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)


Item = Text | Shape | Disc | Sampled | Symbol | Picture


@dataclass(frozen=True)
class Box:
    """Items that belong together and the rectangle that they need.

    Attributes
    ----------
    name : str
        What it is, such as ``key``.
    x, y, width, height : float
        The rectangle. [mm]
    items : tuple of Item
        Placed from the same corner as the rectangle.
    """

    name: str
    x: float
    y: float
    width: float
    height: float
    items: tuple[Item, ...]

    def moved(self, dx: float, dy: float) -> Box:
        """Return it elsewhere, with all that is in it."""
        return replace(self, x=self.x + dx, y=self.y + dy, items=tuple(item.moved(dx, dy) for item in self.items))

    def placed(self, x: float, y: float) -> Box:
        """Return it with its upper left corner at a place."""
        return self.moved(x - self.x, y - self.y)


@dataclass(frozen=True)
class Type:
    """The sizes of type on one page.

    Attributes
    ----------
    theme : Theme
        Colours.
    times : float
        How many times the size on A4.
    width : callable
        Measures text.
    """

    theme: Theme
    times: float
    width: Width

    def style(self, points: float, weight: str = "regular", *, italic: bool = False, faint: bool = False) -> TextStyle:
        """Return a style of so many points on A4, larger on larger paper."""
        wanted = (points, weight, italic, faint)
        if wanted not in self._styles:
            colour = self.theme.faint if faint else self.theme.ink
            self._styles[wanted] = TextStyle(colour, points * self.times * POINT_MM, weight, italic)
        return self._styles[wanted]

    @cached_property
    def _styles(self) -> dict[tuple[float, str, bool, bool], TextStyle]:
        """Styles that were asked for, each one object, so that widths in it are found again at once."""
        return {}

    @cached_property
    def body(self) -> TextStyle:
        """Style of most text."""
        return self.style(6.6)

    @cached_property
    def small(self) -> TextStyle:
        """Style of notes."""
        return self.style(6.2, faint=True)

    @cached_property
    def heading(self) -> TextStyle:
        """Style of headings."""
        return self.style(8.6, "bold")

    @property
    def gap(self) -> float:
        """Room between boxes. [mm]."""
        return 3.4 * self.times


def elided(text: str, style: TextStyle, room: float, width: Width) -> str:
    """Return text cut to fit a room, with … where it is cut.

    Parameters
    ----------
    text : str
        One line.
    style : TextStyle
        How it is written.
    room : float
        How wide it may be. [mm]
    width : callable
        Measures text.
    """
    if width(text, style) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + "…", style) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def wrapped(text: str, style: TextStyle, room: float, width: Width) -> list[str]:
    """Return text in lines that fit a room; a single word that does not is cut.

    Parameters
    ----------
    text, style, room, width
        As for `elided`.
    """
    words = text.split()
    space = width(" ", style)
    ends = list(accumulate((width(word, style) + space for word in words), initial=0.0))
    lines: list[str] = []
    first = 0
    while first < len(words):
        last = max(bisect_right(ends, ends[first] + room + space) - 1, first + 1)
        line = " ".join(words[first:last])
        while last > first + 1 and width(line, style) > room:  # letters lie closer or wider beside a space
            last -= 1
            line = " ".join(words[first:last])
        while last < len(words) and ends[last + 1] - ends[first] - space - room < CLOSER * style.size_mm:
            longer = f"{line} {words[last]}"
            if width(longer, style) > room:
                break
            last, line = last + 1, longer
        lines.append(line)
        first = last
    return [elided(line, style, room, width) for line in lines]


def paragraphs(texts: Sequence[str], style: TextStyle, room: float, width: Width) -> tuple[tuple[Text, ...], float]:
    """Return paragraphs of wrapped text from the upper left corner, and how high they are together. [mm]."""
    step = style.size_mm * LINE_SPACING
    items: list[Text] = []
    y = 0.0
    for text in texts:
        for line in wrapped(text, style, room, width):
            items.append(Text(0.0, y + style.size_mm * 0.95, line, style))
            y += step
        y += step * 0.25
    return tuple(items), max(y - step * 0.25, 0.0) if texts else 0.0
