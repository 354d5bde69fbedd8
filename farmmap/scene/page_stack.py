"""Parts of a page set one under the other, giving way where room is short."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

from farmmap.scene.page_items import Box

TALL_MM = 1e6

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
    """

    name: str
    make: Callable[[float, float], Box]
    gives_way: int = 0

    def __post_init__(self) -> None:
        """Remember what was set before, as arrangements are tried over and over."""
        object.__setattr__(self, "make", cache(self.make))

    def natural(self, width: float) -> float:
        """Height that it has when nothing is left out. [mm]."""
        return self.make(width, TALL_MM).height

    def least(self, width: float) -> float:
        """Height that it cannot do without. [mm]."""
        return self.make(width, 0.0).height if self.gives_way else self.natural(width)


@dataclass(frozen=True)
class Stack:
    """Parts in one column.

    Attributes
    ----------
    boxes : tuple of Box
        What is set, not yet in its place.
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
    """

    boxes: tuple[Box, ...]
    tops: tuple[float, ...]
    height: float
    short_mm: float
    cut: tuple[str, ...]
    fits: bool

    def placed(self, x: float, y: float) -> list[Box]:
        """Return the boxes with the column's upper left corner at a place."""
        return [box.placed(x, y + top) for box, top in zip(self.boxes, self.tops, strict=True)]


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
            set_high = parts[place].make(width, settled[place]).height
            if set_high < heights[place]:
                cut.append(parts[place].name)
                short += (heights[place] - set_high) * (0.25 if parts[place].gives_way == 1 else 1.0)
            over -= heights[place] - set_high
            heights[place] = set_high
    boxes: list[Box] = []
    tops: list[float] = []
    y = 0.0
    for place, part in enumerate(parts):
        if place == len(parts) - bottom and bottom:
            rest = sum(heights[place:]) + gap * max(sum(high > 0 for high in heights[place:]) - 1, 0)
            y = max(y, height - rest)
        if heights[place] > 0:
            boxes.append(part.make(width, settled[place]))
            tops.append(y)
            y += heights[place] + gap
    return Stack(tuple(boxes), tuple(tops), max(y - gap, 0.0), short, tuple(cut), over <= 1e-6)


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

    def height(first: int, last: int) -> float:
        return sum(heights[first:last]) + gap * max(sum(high > 0 for high in heights[first:last]) - 1, 0)

    def ends(cut: tuple[int, ...]) -> list[tuple[int, int]]:
        return list(zip((0, *cut), (*cut, len(parts)), strict=True))

    best = min(
        combinations(range(1, len(parts)), min(count, len(parts)) - 1),
        key=lambda cut: sorted((height(first, last) for first, last in ends(cut)), reverse=True),
    )
    stacks = [stack(parts[first:last], width, most_high, gap) for first, last in ends(best)]
    return stacks, max(made.height for made in stacks)
