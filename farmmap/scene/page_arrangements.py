"""Ways to share a page between the map and all that explains it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from farmmap.scene.page_items import Box
from farmmap.scene.page_stack import Part, Stack, columns, side_by_side, stack

Rectangle = tuple[float, float, float, float]
"""Left, top, width and height. [mm]"""

LEAST_MAP_MM = 45.0
LEAST_MAP_SHARE = 0.3
"""Least width and height of a map, and in shares of the area where that is less."""

BAR_STRIP_MM = 78.0
STRIP_SHARES = (0.64, 0.56, 0.48, 0.4)
"""How much of what a strip below the map has beside the scale bar the notes may take; the cautions have the rest."""

SHARES = (0.56, 0.46, 0.38)
"""How much of the page's height columns below the map may take."""

CROWDED_SHARES = (0.76, 0.66)
"""The same where nothing else has room for everything."""

SIDES = (1.0, 1.1, 1.2, 1.3, 1.45)
"""Widths of a column beside the map, in those at which tables need not be cut."""

LEAST_SIDE, MOST_SIDE = 0.94, 1.75
"""Narrowest and widest column beside the map, likewise, where that makes the map as wide as the farm."""

LEAST_LOW = 0.1
"""Least share of the page's height that things below the map are set in."""

KEY_SIDE_MM = 64.0
"""Width of a column beside the map that holds nothing but the key, on A4. [mm]"""

MOST_BELOW = 6
"""Most columns below the map."""

WIDEST = 2.2
"""Columns below the map are no wider than so many times the tables' own width if there may be more of them."""

PAIR_MM, PAIR_SHARE = 68.0, 0.5
"""Columns this wide on A4 may hold scale bar and north arrow side by side, and what share the bar then has. [mm]"""

FOOT = 6
"""How many of the last parts may stand below the map: scale bar, north, notes, caution, credits and version."""


@dataclass(frozen=True)
class Arrangement:
    """One way to fill a page.

    Attributes
    ----------
    room : tuple of float
        Where the map goes. [mm]
    stacks : tuple of (Stack, float, float)
        Columns of other things, and the upper left corner of each. [mm]
    empty_mm2 : float
        Paper beside the map on which nothing stands. [mm²]
    """

    room: Rectangle
    stacks: tuple[tuple[Stack, float, float], ...]
    empty_mm2: float = 0.0

    @property
    def short_mm(self) -> float:
        """How much is left out for want of room. [mm]."""
        return sum(made.short_mm for made, _, _ in self.stacks)

    @property
    def cut(self) -> tuple[str, ...]:
        """Names of the parts from which something is left out."""
        return tuple(name for made, _, _ in self.stacks for name in made.cut)

    def boxes(self, spare: tuple[float, float] = (0.0, 0.0)) -> list[Box]:
        """Return everything but the map in its place, closer to the map by what it leaves free of its room. [mm]."""
        left, top, wide, high = self.room
        return [
            box
            for made, x, y in self.stacks
            for box in made.placed(x - spare[0] * (x >= left + wide), y - spare[1] * (y >= top + high))
        ]


@dataclass(frozen=True)
class Paperwork:
    """What is to be arranged, and in what room.

    Attributes
    ----------
    parts : sequence of Part
        Key and tables, then scale bar, north, notes, caution, credits and version.
    keys : int
        How many of the first parts are the key.
    area : tuple of float
        What may be filled. [mm]
    natural : float
        Width at which tables need not be cut. [mm]
    narrowest : float
        Width under which tables would reach over their columns. [mm]
    times : float
        How many times the size of type on A4.
    gap : float
        Between parts. [mm]
    maps : sequence of (float, float)
        Widths and heights of a map that holds the farm at round scales, and no more. [mm]
    """

    parts: Sequence[Part]
    keys: int
    area: Rectangle
    natural: float
    narrowest: float
    times: float
    gap: float
    maps: Sequence[tuple[float, float]] = ()

    @cached_property
    def paired(self) -> list[Part]:
        """The parts, with the north arrow beside the scale bar."""
        *others, bar, north = self.parts[: 2 - FOOT]
        return [*others, side_by_side(bar, north, PAIR_SHARE, self.gap), *self.parts[2 - FOOT :]]

    @property
    def least_map(self) -> float:
        """Least width and height of a map. [mm]."""
        return min(LEAST_MAP_MM, LEAST_MAP_SHARE * min(self.area[2:]))

    def sides(self) -> list[float]:
        """Return widths of a column beside the map. [mm]."""
        wide = self.area[2] - self.gap
        tight = [wide - width for width, _ in self.maps]
        wanted = [
            side for side in tight if max(LEAST_SIDE * self.natural, self.narrowest) <= side <= MOST_SIDE * self.natural
        ]
        wanted += [self.natural * times for times in SIDES]
        return [side for side in wanted if wide - side >= max(self.least_map, 0.35 * self.area[2])]

    def lows(self, shares: Sequence[float]) -> list[float]:
        """Return how high what stands below the map may be. [mm]."""
        high = self.area[3]
        tight = [high - self.gap - map_high for _, map_high in self.maps]
        return sorted({*(high * share for share in shares), *(low for low in tight if LEAST_LOW * high < low)})


def arrangements(
    work: Paperwork, may_win: Callable[[float, float], bool], shares: Sequence[float] = SHARES
) -> Iterator[Arrangement]:
    """Yield ways to fill an area in which everything has room.

    Parameters
    ----------
    work : Paperwork
        What is to be arranged.
    may_win : callable
        Says whether a map in a room no larger than this could be as good as one that was yielded before, given width
        and height. [mm]
    shares : sequence of float
        How much of the area's height columns below the map may take.
    """
    high = work.area[3]
    for side in work.sides():
        wide = work.area[2] - side - work.gap
        if may_win(wide, high):
            yield from _beside(work, side)
        if may_win(wide, high - 3 * work.gap):
            yield from _around(work, side)
    yield from _in_columns_beside(work)
    yield from _key_beside(work, shares)
    for count, each in _counts(work, work.area[2]):
        for low in work.lows(shares):
            made = _below(work, (count, each), low)
            if made is not None:
                yield made
                if not made.short_mm:  # with more room it would be the same
                    break


def _counts(work: Paperwork, wide: float) -> list[tuple[int, float]]:
    """Numbers of columns that things below the map may stand in, and the width of each."""
    widths = {count: (wide - (count - 1) * 1.5 * work.gap) / count for count in range(1, MOST_BELOW + 1)}
    least = work.natural * 0.92
    return [
        (count, each)
        for count, each in widths.items()
        if each >= work.narrowest
        and (each >= least or count <= 2)
        and not (each > WIDEST * work.natural and widths.get(count + 1, 0.0) >= least)
    ]


def _beside(work: Paperwork, side: float) -> Iterator[Arrangement]:
    """Everything in one column at the right of the map."""
    left, top, wide, high = work.area
    room = (left, top, wide - side - work.gap, high)
    for parts, foot in ((work.parts, FOOT), (work.paired, FOOT - 1)):
        column = stack(parts, side, high, work.gap, bottom=foot)
        if column.fits:
            yield Arrangement(room, ((column, left + wide - side, top),), side * (high - column.filled_mm))
        if not column.short_mm or side < PAIR_MM * work.times:
            break


def _in_columns_beside(work: Paperwork) -> Iterator[Arrangement]:
    """Everything in columns at the right of the map, where that leaves the map as wide as the farm or wider."""
    left, top, wide, high = work.area
    gap = work.gap
    for count in (2, 3):
        apart = gap + (count - 1) * 1.5 * gap
        for map_wide in sorted({max(map_wide, 0.3 * wide) for map_wide, _ in work.maps}):
            each = min((wide - map_wide - apart) / count, SIDES[-1] * work.natural)
            if each < max(LEAST_SIDE * work.natural, work.narrowest):
                continue
            stacks, _ = columns(work.parts, count, each, high, gap)
            if all(made.fits for made in stacks):
                room = (left, top, wide - apart - count * each, high)
                starts = [left + room[2] + gap + place * (each + 1.5 * gap) for place in range(len(stacks))]
                placed = tuple((made, start, top) for made, start in zip(stacks, starts, strict=True))
                empty = each * (high * count - sum(made.filled_mm for made in stacks))
                yield Arrangement(room, placed, empty)


def _around(work: Paperwork, side: float) -> Iterator[Arrangement]:
    """Key and tables at the right of the map, the rest in a strip below it."""
    left, top, wide, high = work.area
    gap = work.gap
    column = stack(work.parts[:-FOOT], side, high, gap)
    map_wide = wide - side - gap
    if not column.fits:
        return
    natural = math.inf
    for most in (high, *work.lows(())):
        strip = _strip(work, map_wide, most) if most < natural else []
        if not strip:
            continue
        low = max(made.height for made, _ in strip)
        natural = min(natural, low)
        if high - low - gap < work.least_map or not all(made.fits for made, _ in strip):
            continue
        placed = [(made, left + start, top + high - low) for made, start in strip]
        filled = sum(made.filled_mm * made.width for made, _ in strip)
        empty = side * (high - column.filled_mm) + map_wide * low - filled
        yield Arrangement((left, top, map_wide, high - low - gap), ((column, left + wide - side, top), *placed), empty)


def _strip(work: Paperwork, wide: float, most_high: float) -> list[tuple[Stack, float]]:
    """Scale bar, notes and cautions side by side, as low as they can be, and where each begins; none without room."""
    gap, least = work.gap, 40 * work.times
    bar, north, notes, *caution = work.parts[-FOOT:]
    bar_wide = min(BAR_STRIP_MM * work.times, wide / 3)
    rest = wide - bar_wide - 3.0 * gap
    tries = [(bar_wide, rest * share, rest * (1 - share)) for share in STRIP_SHARES]
    made = [
        [
            stack(shared, width, most_high, 0.6 * gap)
            for shared, width in zip(((bar, north), (notes,), caution), widths, strict=True)
        ]
        for widths in tries
        if min(widths) >= least
    ]
    if not made:
        return []
    strip = min(made, key=lambda stacks: (sum(one.short_mm for one in stacks), max(one.height for one in stacks)))
    starts = (0.0, bar_wide + 1.5 * gap, bar_wide + strip[1].width + 3.0 * gap)
    return list(zip(strip, starts, strict=True))


def _key_beside(work: Paperwork, shares: Sequence[float]) -> Iterator[Arrangement]:
    """Set the key at the right of the map, all else in columns below both."""
    left, top, wide, high = work.area
    gap, side = work.gap, KEY_SIDE_MM * work.times
    keys, others = work.parts[: work.keys], work.parts[work.keys :]
    if wide - side - gap < max(work.least_map, 0.5 * wide):
        return
    for count, each in _counts(work, wide):
        for most in work.lows(shares[1:]):
            stacks, low = columns(_reading(others), count, each, most, gap)
            upper = high - low - 1.3 * gap
            column = stack(keys, side, upper, gap)
            if not column.fits or upper < work.least_map or not all(made.fits for made in stacks):
                continue
            placed = [(made, left + place * (each + 1.5 * gap), top + high - low) for place, made in enumerate(stacks)]
            empty = side * (upper - column.filled_mm) + sum(each * (low - made.filled_mm) for made in stacks)
            room = (left, top, wide - side - gap, upper)
            made = Arrangement(room, ((column, left + wide - side, top), *placed), empty)
            yield made
            if not made.short_mm:
                break


def _below(work: Paperwork, shared: tuple[int, float], most_high: float) -> Arrangement | None:
    """Everything in columns below the map."""
    left, top, wide, high = work.area
    gap, (count, each) = work.gap, shared
    stacks, low = columns(_reading(work.parts), count, each, most_high, gap)
    if not all(made.fits for made in stacks) or high - low - gap < work.least_map:
        return None
    placed = [(made, left + place * (each + 1.5 * gap), top + high - low) for place, made in enumerate(stacks)]
    empty = sum(each * (low - made.filled_mm) for made in stacks)
    return Arrangement((left, top, wide, high - low - gap), tuple(placed), empty)


def _reading(parts: Sequence[Part]) -> list[Part]:
    """Parts as one reads from column to column."""
    bar, north, *said = parts[-FOOT:]
    return [bar, north, *parts[:-FOOT], *said]
