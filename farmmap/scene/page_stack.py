"""Parts of a page set one under the other, giving way where room is short."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import accumulate, combinations, pairwise
from typing import TypeVar

from farmmap.scene.page_items import Box

TALL_MM = 1e6

Line = TypeVar("Line")

TIGHT = 0.25
"""Gaps between parts may shrink to this share of themselves before anything is left out."""


@dataclass(frozen=True)
class Part:
    """Something that can be set as wide and as high as there is room.

    Attributes
    ----------
    name : str
        What it is.
    make : callable
        Sets it, given width and height. [mm]
    gives_way : int
        Parts of a lower number are shortened first; 0 never. 1 is for text that only explains.
    split : callable or None
        Sets it in several pieces no higher than they may be, given width and height, where it may go on elsewhere. [mm]
    measure : callable or None
        Says how high what `make` sets would be, in less time than setting it takes. [mm]
    high : callable
        Height that it has in a room, given width and height. [mm]
    """

    name: str
    make: Callable[[float, float], Box]
    gives_way: int = 0
    split: Callable[[float, float], list[Box]] | None = None
    measure: Callable[[float, float], float] | None = None
    high: Callable[[float, float], float] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Remember what was set or measured before, as arrangements are tried over and over."""
        make, measure = cache(self.make), self.measure
        object.__setattr__(self, "make", make)
        object.__setattr__(self, "high", cache(measure or (lambda width, height: make(width, height).height)))

    def natural(self, width: float) -> float:
        """Height that it has when nothing is left out. [mm]."""
        return self.high(width, TALL_MM)

    def least(self, width: float) -> float:
        """Height that it cannot do without. [mm]."""
        return self.high(width, 0.0) if self.gives_way else self.natural(width)


def in_pieces(lines: Sequence[Line], make: Callable[[Sequence[Line], bool], Box], height: float) -> list[Box]:
    """Set lines in as few boxes as can be that are no higher than given, at least one line in each.

    Parameters
    ----------
    lines : sequence
        What is set, in its order.
    make : callable
        Sets some of the lines, given whether they are the first.
    height : float
        How high a box may be. [mm]
    """
    boxes: list[Box] = []
    first = 0
    while first < len(lines):
        last = first + 1
        box = make(lines[first:last], not first)
        while last < len(lines):
            longer = make(lines[first : last + 1], not first)
            if longer.height > height:
                break
            box, last = longer, last + 1
        boxes.append(box)
        first = last
    return boxes


@dataclass(frozen=True)
class Row(Box):
    """Boxes side by side, set as one.

    Attributes
    ----------
    boxes : tuple of Box
        From the upper left corner of the row.
    """

    boxes: tuple[Box, ...] = ()


def side_by_side(one: Part, other: Part, share: float, gap: float) -> Part:
    """Return two parts set as one, the first with a share of the width and the other with the rest."""

    def made(width: float, height: float) -> Box:
        first = one.make(width * share, height)
        second = other.make(width * (1 - share) - gap, height)
        if not (first.height and second.height):
            return first if first.height else second
        boxes = (first, second.placed(width * share + gap, 0.0))
        return Row(one.name, 0, 0, width, max(box.height for box in boxes), (), boxes)

    return Part(one.name, made)


@dataclass(frozen=True)
class Stack:
    """Parts in one column.

    Attributes
    ----------
    parts : tuple of (Part, float)
        What is set, and how high each may be. [mm]
    tops : tuple of float
        How far each box lies below the top of the column. [mm]
    height : float
        Of all, with the gaps between. [mm]
    short_mm : float
        How much was left out for want of room; text that only explains counts a quarter. [mm]
    cut : tuple of str
        Names of the parts from which something was left out.
    fits : bool
        Whether it is no higher than it may be.
    width : float
        Of the column. [mm]
    filled_mm : float
        How much of its height something stands on. [mm]
    """

    parts: tuple[tuple[Part, float], ...]
    tops: tuple[float, ...]
    height: float
    short_mm: float
    cut: tuple[str, ...]
    fits: bool
    width: float = 0.0
    filled_mm: float = 0.0

    @property
    def boxes(self) -> list[Box]:
        """What is set, not yet in its place."""
        return [part.make(self.width, high) for part, high in self.parts]

    def placed(self, x: float, y: float) -> list[Box]:
        """Return the boxes with the column's upper left corner at a place."""
        placed = [box.placed(x, y + top) for box, top in zip(self.boxes, self.tops, strict=True)]
        return [one for box in placed for one in _each(box)]


def _each(box: Box) -> list[Box]:
    return [one.moved(box.x, box.y) for one in box.boxes] if isinstance(box, Row) else [box]


def stack(parts: Sequence[Part], width: float, height: float, gap: float, bottom: int = 0) -> Stack:
    """Set parts one under the other.

    Parameters
    ----------
    parts : sequence of Part
        What to set.
    width, height : float
        The room. [mm]
    gap : float
        Between parts; drawn closer before figures are left out. [mm]
    bottom : int
        How many of the last parts stand at the foot of the room.
    """
    heights = [part.natural(width) for part in parts]
    settled = [TALL_MM] * len(parts)
    between = max(sum(high > 0 for high in heights) - 1, 0)
    needed = sum(part.least(width) if part.gives_way == 1 else high for part, high in zip(parts, heights, strict=True))
    if between and needed + gap * between > height:
        gap = max((height - needed) / between, TIGHT * gap)
    over = sum(heights) + gap * between - height
    short, cut = 0.0, []
    for place in sorted((p for p in range(len(parts)) if parts[p].gives_way), key=lambda p: parts[p].gives_way):
        if over > 0:
            least = parts[place].least(width)
            settled[place] = max(heights[place] - over, least)
            set_high = parts[place].high(width, settled[place])
            if set_high < heights[place]:
                cut.append(parts[place].name)
                short += (heights[place] - set_high) * (0.25 if parts[place].gives_way == 1 else 1.0)
            over -= heights[place] - set_high
            heights[place] = set_high
    placed: list[tuple[Part, float]] = []
    tops: list[float] = []
    y = 0.0
    for place, part in enumerate(parts):
        if place == len(parts) - bottom and bottom:
            rest = sum(heights[place:]) + gap * max(sum(high > 0 for high in heights[place:]) - 1, 0)
            y = max(y, height - rest)
        if heights[place] > 0:
            placed.append((part, settled[place]))
            tops.append(y)
            y += heights[place] + gap
    return Stack(tuple(placed), tuple(tops), max(y - gap, 0.0), short, tuple(cut), over <= 1e-6, width, sum(heights))


def columns(parts: Sequence[Part], count: int, width: float, most_high: float, gap: float) -> tuple[list[Stack], float]:
    """Share parts out over columns of equal width, in their order, so that the highest is as low as can be.

    Parameters
    ----------
    parts : sequence of Part
        What to set.
    count : int
        How many columns.
    width : float
        Of each. [mm]
    most_high : float
        How high columns may be. [mm]
    gap : float
        Between parts. [mm]

    Returns
    -------
    stacks : list of Stack
        The columns.
    height : float
        Of the highest. [mm]
    """
    heights = [part.natural(width) for part in parts]
    sums = [0.0, *accumulate(high + gap if high > 0 else 0.0 for high in heights)]

    def worth(cut: tuple[int, ...]) -> list[float]:
        ends = (0, *cut, len(parts))
        return sorted((sums[last] - sums[first] for first, last in pairwise(ends)), reverse=True)

    best = min(combinations(range(1, len(parts)), min(count, len(parts)) - 1), key=worth)
    ends = (0, *best, len(parts))
    stacks = [stack(parts[first:last], width, most_high, gap) for first, last in pairwise(ends)]
    return stacks, max(made.height for made in stacks)
