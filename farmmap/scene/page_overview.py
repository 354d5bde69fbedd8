"""A small map of the whole farm beside one of a part of it, with the frame of the large one marked."""

from __future__ import annotations

import math
from functools import partial

from farmmap.scene.page_items import Box, Item, Shape, Text, Type
from farmmap.scene.page_stack import Part
from farmmap.scene.scales import fitting_scale
from farmmap.scene.view import Bounds, View

NAME = "overview"
"""Name of its box on the page."""

MOST_HIGH_MM = 62.0
OF_WIDTH = 0.7
LEAST_HIGH_MM = 16.0
"""Heights of the small map on A4, and in shares of its width. [mm]"""

AROUND_MM = 1.6
"""Ground about the farm. [mm]"""

FRAME_MM, LEAST_FRAME_MM = 0.5, 2.0
"""Line of the large map's frame, and how wide and high that is drawn at least. [mm]"""

IN_THE_WAY = 1
"""It gives way like text that only explains, unless it was asked for."""


def overview_part(bounds: Bounds, type_: Type, title: str, *, stays: bool) -> Part:
    """Return the room of an overview.

    Parameters
    ----------
    bounds : tuple of float
        The whole farm. [grid m]
    type_ : Type
        Sizes of type.
    title : str
        Its heading.
    stays : bool
        Whether it has room in any case.
    """
    return Part(NAME, partial(_box, bounds, type_, title, stays), 0 if stays else IN_THE_WAY)


def _box(bounds: Bounds, type_: Type, title: str, stays: bool, width: float, height: float) -> Box:
    top = _top(type_)
    most = MOST_HIGH_MM * type_.times
    room = min(OF_WIDTH * width, most, most if stays else height - top - 0.5)
    if room < LEAST_HIGH_MM * type_.times:
        return Box(NAME, 0, 0, width, 0, ())
    view = overview_view(bounds, width, room)
    high = min((bounds[3] - bounds[1]) / view.metres_per_mm + 2 * AROUND_MM, room)
    wide = min(max((bounds[2] - bounds[0]) / view.metres_per_mm + 2 * AROUND_MM, min(0.5 * width, 3 * high)), width)
    scale = f"{view.scale_denominator:,.0f}".replace(",", "\u202f")
    corners = ((0.0, top), (wide, top), (wide, top + high), (0.0, top + high))
    tries = (f"{title}, 1:{scale}", f"Overview, 1:{scale}", f"1:{scale}")
    said = next((one for one in tries if type_.width(one, type_.heading) <= width), tries[-1])
    heading = Text(0, type_.heading.size_mm, said, type_.heading)
    frame = Shape(corners, closed=True, line=type_.theme.ink, line_mm=0.3)
    words = type_.width(heading.text, type_.heading)
    return Box(NAME, 0, 0, min(max(wide, words), width), top + high + 0.5, (heading, frame))


def overview_frame(box: Box) -> tuple[float, float, float, float]:
    """Return left, top, width and height of the map within its box. [mm]."""
    frame = next(item for item in box.items if isinstance(item, Shape) and item.line)
    (left, top), _, (right, bottom), _ = frame.points
    return left, top, right - left, bottom - top


def overview_view(bounds: Bounds, width: float, height: float) -> View:
    """Return the whole farm at the largest round scale that fits so many millimetres."""
    west, south, east, north = bounds
    scale = fitting_scale(bounds, max(width - 2 * AROUND_MM, 1.0), max(height - 2 * AROUND_MM, 1.0))
    return View((west + east) / 2, (south + north) / 2, scale / 1000, width, height)


def frame_mark(ground: Bounds, view: View, type_: Type) -> tuple[Item, ...]:
    """Return where the ground of the large map lies on the small one, from its upper left corner. [mm]."""
    west, south, east, north = ground
    across, down = (values.tolist() for values in view.to_mm([west, east], [north, south]))
    left, right = _at_least(across, view.width_mm)
    top, bottom = _at_least(down, view.height_mm)
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return (
        Shape(corners, closed=True, line=type_.theme.inside, line_mm=2.2 * FRAME_MM),
        Shape(corners, closed=True, line=type_.theme.ink, line_mm=FRAME_MM),
    )


def _at_least(ends: list[float], room: float) -> tuple[float, float]:
    """Return the ends of a frame's side within a map, so far apart that they can be seen."""
    low, high = (min(max(end, 0.0), room) for end in ends)
    more = max(LEAST_FRAME_MM - (high - low), 0.0) / 2
    return low - more, high + more


def _top(type_: Type) -> float:
    return type_.heading.size_mm * 1.6


def holds(outer: Bounds, inner: Bounds) -> bool:
    """Whether a rectangle of ground holds another, but for a thousandth of its size."""
    slack = 1e-3 * math.hypot(inner[2] - inner[0], inner[3] - inner[1])
    return (
        outer[0] <= inner[0] + slack
        and outer[1] <= inner[1] + slack
        and outer[2] >= inner[2] - slack
        and outer[3] >= inner[3] - slack
    )
