"""Ways to share a page between the map and all that explains it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from farmmap.scene.page_items import Box
from farmmap.scene.page_stack import Part, Stack, columns, stack

Rectangle = tuple[float, float, float, float]
"""Left, top, width and height. [mm]"""

LEAST_MAP_MM = 45.0
BAR_STRIP_MM = 78.0
SHARES = (0.56, 0.46, 0.38)
"""How much of the page's height columns below the map may take."""

CROWDED_SHARES = (0.76, 0.66)
"""The same where nothing else has room for everything."""

WIDEST = 2.2
"""Columns below the map are no wider than so many times the tables' own width if there may be more of them."""

FOOT = 4
"""How many of the last parts may stand below the map: scale bar, north, notes and caution."""


@dataclass(frozen=True)
class Arrangement:
    """One way to fill a page.

    Attributes
    ----------
    room : tuple of float
        Where the map goes. [mm]
    stacks : tuple of (Stack, float, float)
        Columns of other things, and the upper left corner of each. [mm]
    """

    room: Rectangle
    stacks: tuple[tuple[Stack, float, float], ...]

    @property
    def short_mm(self) -> float:
        """How much is left out for want of room. [mm]."""
        return sum(made.short_mm for made, _, _ in self.stacks)

    @property
    def cut(self) -> tuple[str, ...]:
        """Names of the parts from which something is left out."""
        return tuple(name for made, _, _ in self.stacks for name in made.cut)

    def boxes(self) -> list[Box]:
        """Return everything but the map in its place."""
        return [box for made, x, y in self.stacks for box in made.placed(x, y)]


def arrangements(
    parts: Sequence[Part],
    area: Rectangle,
    natural: float,
    times: float,
    gap: float,
    shares: Sequence[float] = SHARES,
) -> Iterator[Arrangement]:
    """Yield ways to fill an area in which everything has room.

    Parameters
    ----------
    parts : sequence of Part
        Key and tables, then scale bar, north, notes and caution.
    area : tuple of float
        What may be filled. [mm]
    natural : float
        Width at which tables need not be cut. [mm]
    times : float
        How many times the size of type on A4.
    gap : float
        Between parts. [mm]
    shares : sequence of float
        How much of the area's height columns below the map may take.
    """
    wide, high = area[2], area[3]
    for side in (natural * times for times in (1.0, 1.1, 1.2, 1.3, 1.45)):
        if wide - side - gap >= max(LEAST_MAP_MM, 0.35 * wide):
            yield from _beside(parts, area, side, gap)
            yield from _around(parts, area, side, times, gap)
    widths = {count: (wide - (count - 1) * 1.5 * gap) / count for count in (2, 3, 4, 5)}
    for count, each in widths.items():
        more_fit = widths.get(count + 1, 0.0) >= natural * 0.92
        if (count == 2 or each >= natural * 0.92) and not (each > WIDEST * natural and more_fit):
            for share in shares:
                yield from _below(parts, area, (count, each), high * share, gap)


def _beside(parts: Sequence[Part], area: Rectangle, side: float, gap: float) -> Iterator[Arrangement]:
    """Everything in one column at the right of the map."""
    left, top, wide, high = area
    column = stack(parts, side, high, gap, bottom=FOOT)
    if column.fits:
        yield Arrangement((left, top, wide - side - gap, high), ((column, left + wide - side, top),))


def _around(parts: Sequence[Part], area: Rectangle, side: float, times: float, gap: float) -> Iterator[Arrangement]:
    """Key and tables at the right of the map, the rest in a strip below it."""
    left, top, wide, high = area
    column = stack(parts[:-FOOT], side, high, gap)
    map_wide = wide - side - gap
    bar_wide = min(BAR_STRIP_MM * times, map_wide / 3)
    rest = map_wide - bar_wide - 3.0 * gap
    widths = (bar_wide, rest * 0.56, rest * 0.44)
    bar, north, notes, caution = parts[-FOOT:]
    strip = [
        stack(shared, width, high, 0.6 * gap)
        for shared, width in zip(((bar, north), (notes,), (caution,)), widths, strict=True)
    ]
    low = max(made.height for made in strip)
    if not column.fits or high - low - gap < LEAST_MAP_MM or min(widths) < 40 * times:
        return
    starts = (left, left + widths[0] + 1.5 * gap, left + widths[0] + widths[1] + 3.0 * gap)
    placed = [(made, start, top + high - low) for made, start in zip(strip, starts, strict=True)]
    yield Arrangement((left, top, map_wide, high - low - gap), ((column, left + wide - side, top), *placed))


def _below(
    parts: Sequence[Part], area: Rectangle, shared: tuple[int, float], most_high: float, gap: float
) -> Iterator[Arrangement]:
    """Everything in columns below the map."""
    left, top, wide, high = area
    count, each = shared
    bar, north, *said = parts[-FOOT:]
    ordered = [bar, north, *parts[:-FOOT], *said]  # as one reads from column to column
    stacks, low = columns(ordered, count, each, most_high, gap)
    if all(made.fits for made in stacks) and high - low - gap >= LEAST_MAP_MM:
        placed = [(made, left + place * (each + 1.5 * gap), top + high - low) for place, made in enumerate(stacks)]
        yield Arrangement((left, top, wide, high - low - gap), tuple(placed))
