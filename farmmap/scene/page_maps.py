"""Where the map lies in its room on a page, or two maps of the same ground at the same scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from farmmap.scene.page_items import Box, Text, Type, elided
from farmmap.scene.page_moves import Moved
from farmmap.scene.scales import fitting_scale, round_scale
from farmmap.scene.view import Bounds, View

Rectangle = tuple[float, float, float, float]

INSIDE_MM = 3.0
"""Map left free between the farm and the frame. [mm]"""

RIM_MM = 9.0
"""Ground around the farm that a map may show without looking empty, on A4. [mm]"""

THIN = 0.2
"""Ground is a strip if it is narrower than this share of its length."""

STRIP_RIM_MM, STRIP_SHAPE = 22.0, 0.3
"""Ground shown on each side of a strip at most, on A4, but where the frame is no deeper than this share of it. [mm]"""

TIGHT_SCALES = 3
"""So many round scales are tried with a map no larger than the farm."""

NAMES = ("map", "map 2")
"""Names of the maps of a page as its elements."""


@dataclass(frozen=True)
class MapRoom:
    """What a page's maps show, and what they need around them.

    Attributes
    ----------
    bounds : tuple of float
        Ground to show. [grid m]
    scale : int or None
        The N of a scale 1:N that is asked for.
    near, far : float
        Room for coordinates: left of a map and below it, and right of it and above. [mm]
    titles : tuple of str
        What each of two maps is called; empty for one map.
    type_ : Type
        Sizes of type.
    """

    bounds: Bounds
    scale: int | None
    near: float
    far: float
    titles: tuple[str, ...]
    type_: Type

    @property
    def _title_mm(self) -> float:
        return self.type_.heading.size_mm * 1.6 if self.titles else 0.0

    @property
    def _apart_mm(self) -> float:
        return 1.2 * self.type_.gap

    @property
    def _around_mm(self) -> tuple[float, float]:
        """What a map needs beside it, across and down. [mm]."""
        beside = self.near + self.far
        return beside, beside + self._title_mm

    def corners(self, room: Rectangle) -> tuple[list[tuple[float, float]], View]:
        """Return the upper left corner of each map in a room, and what they show. [mm]."""
        left, top, wide, high = room
        ways = ((1, 1),) if not self.titles else ((2, 1), (1, 2))
        tries = [self._split(wide, high, across, down) for across, down in ways]
        view, across, down = min(tries, key=lambda one: (one[0].scale_denominator, self.empty_mm2(one[0])))
        beside, over = self._around_mm
        corners = [
            (
                left + self.near + column * (view.width_mm + beside + self._apart_mm),
                top + self.far + self._title_mm + row * (view.height_mm + over + self._apart_mm),
            )
            for row in range(down)
            for column in range(across)
        ]
        return corners, view

    def spare(self, room: Rectangle) -> tuple[float, float]:
        """Return how much of the width and height of a room its maps leave free. [mm]."""
        corners, view = self.corners((0.0, 0.0, *room[2:]))
        wide = max(x for x, _ in corners) + view.width_mm + self.far
        high = max(y for _, y in corners) + view.height_mm + self.near
        return max(room[2] - wide, 0.0), max(room[3] - high, 0.0)

    def blank_mm2(self, room: Rectangle) -> float:
        """How much of a room its maps leave free. [mm²]."""
        over, below = self.spare(room)
        return room[2] * room[3] - (room[2] - over) * (room[3] - below)

    def _split(self, wide: float, high: float, across: int, down: int) -> tuple[View, int, int]:
        beside, over = self._around_mm
        each_wide = (wide - (across - 1) * self._apart_mm) / across - beside
        each_high = (high - (down - 1) * self._apart_mm) / down - over
        return self.view(each_wide, each_high), across, down

    def view(self, wide: float, high: float) -> View:
        """Return what a frame of so many millimetres shows."""
        west, south, east, north = self.bounds
        least = 1.0  # a room too small for any map is refused by its scale
        fits = self.scale or fitting_scale(
            self.bounds, max(wide - 2 * INSIDE_MM, least), max(high - 2 * INSIDE_MM, least)
        )
        wide, high = self._framed(max(wide, least), max(high, least), fits / 1000)
        return View((west + east) / 2, (south + north) / 2, fits / 1000, wide, high)

    def _framed(self, wide: float, high: float, metres: float) -> tuple[float, float]:
        """Return the size of a frame in a room of some size, which a strip of ground need not fill. [mm]."""
        west, south, east, north = self.bounds
        across, down = (east - west) / metres, (north - south) / metres
        rim = 2 * STRIP_RIM_MM * self.type_.times
        if down < THIN * across:
            high = min(high, max(down + rim, STRIP_SHAPE * wide))
        elif across < THIN * down:
            wide = min(wide, max(across + rim, STRIP_SHAPE * high))
        return wide, high

    def tight(self, area: Rectangle) -> list[tuple[float, float]]:
        """Return sizes of the room in which the ground lies at the largest round scales that an area has room for."""
        if self.scale:
            return []
        west, south, east, north = self.bounds
        beside, over = self._around_mm
        _, view = self.corners((0.0, 0.0, *area[2:]))
        found: list[tuple[float, float]] = []
        scale = round(view.scale_denominator)
        for _ in range(TIGHT_SCALES):
            shown = 1000 / scale * (1 + 1e-9)
            each = (east - west) * shown + beside + 2 * INSIDE_MM, (north - south) * shown + over + 2 * INSIDE_MM
            found.append(each)
            if self.titles:
                wide, high = each
                found += [(2 * wide + self._apart_mm, high), (wide, 2 * high + self._apart_mm)]
            scale = round_scale(scale * 1.01)
        return found

    def is_whole(self, view: View) -> bool:
        """Whether a view shows all of the ground."""
        west, south, east, north = self.bounds
        wide, high = max(view.width_mm - 2, 1e-3), max(view.height_mm - 2, 1e-3)
        needs = max((east - west) / wide, (north - south) / high) * 1000
        return view.scale_denominator >= needs * (1 - 1e-9)

    def empty_mm2(self, view: View) -> float:
        """How much of a map lies farther than a rim from the ground to show, or is missing of that. [mm²]."""
        west, south, east, north = self.bounds
        rim = RIM_MM * self.type_.times
        wide, high = (east - west) / view.metres_per_mm, (north - south) / view.metres_per_mm
        missing = wide * high - min(wide, view.width_mm) * min(high, view.height_mm)
        filled = min(wide + 2 * rim, view.width_mm) * min(high + 2 * rim, view.height_mm)
        return (view.width_mm * view.height_mm - filled + missing) * max(len(self.titles), 1)

    def placed(self, room: Rectangle, moved: dict[str, Moved]) -> list[tuple[str, tuple[float, float], View]]:
        """Return name, upper left corner and view of each map: in its room, or where it was put by hand. [mm]."""
        corners, view = self.corners(room)
        made: list[tuple[str, tuple[float, float], View]] = []
        for name, corner in zip(NAMES, corners, strict=False):
            one = moved.get(name)
            if one is not None:
                shown = self.view(one.width or view.width_mm, one.height or view.height_mm)
                if made:  # the second map keeps the scale of the first
                    shown = View(shown.centre_x, shown.centre_y, made[0][2].metres_per_mm, *_size(shown))
                made.append((name, (one.x, one.y), shown))
            else:
                made.append((name, corner, made[0][2] if made else view))
        return made

    def title_boxes(self, placed: list[tuple[str, tuple[float, float], View]]) -> Iterator[Box]:
        """Yield what each of two maps is called, above it."""
        style = self.type_.heading
        for title, (name, (left, top), view) in zip(self.titles, placed, strict=True):
            words = elided(title, style, view.width_mm, self.type_.width)
            text = Text(left, top - self.far - style.size_mm * 0.55, words, style)
            high = self._title_mm
            yield Box(f"{name} title", left, top - self.far - high, view.width_mm, high - 0.2, (text,))


def _size(view: View) -> tuple[float, float]:
    return view.width_mm, view.height_mm
