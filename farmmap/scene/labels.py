"""Where names go, so that none lies on another, leaves the picture or wanders off its thing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from farmmap.scene.label_room import EDGE_MM, LabelRoom
from farmmap.scene.scene import UNMEASURED, LabelLayer, TreeLayer, Wording
from farmmap.scene.styles import TextStyle
from farmmap.scene.view import Floats, View

Measure = Callable[[str, TextStyle], tuple[float, float]]
"""Width and height of a text, which may have several lines. [mm]"""

LEAST_ROOM_MM = 4.0
"""Things that cover less of the picture are not named. [mm]"""

GAP_MM = 0.6
TAGS_FROM_M_PER_MM = 0.35
MOST_TAGS = 250
__all__ = ["EDGE_MM", "Label", "Measure", "place"]


@dataclass(frozen=True)
class Label:
    """A name in its place.

    Attributes
    ----------
    text : str
        What is written; lines are parted by a line feed.
    style : TextStyle
        How.
    x_mm, y_mm : float
        Its middle, right of and below the picture's upper left corner. [mm]
    width_mm, height_mm : float
        Its size. [mm]
    angle_deg : float
        Turn clockwise about the middle. [degrees]
    """

    text: str
    style: TextStyle
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    angle_deg: float = 0.0

    def corners(self, wider_mm: float = 0.0) -> Floats:
        """Return its corners in turn, ndarray of shape (4, 2). [mm]."""
        across, down = self.width_mm / 2 + wider_mm, self.height_mm / 2 + wider_mm
        box = np.array([[-across, -down], [across, -down], [across, down], [-across, down]])
        angle = np.radians(self.angle_deg)
        cos, sin = np.cos(angle), np.sin(angle)
        return box @ np.array([[cos, sin], [-sin, cos]]) + (self.x_mm, self.y_mm)


def _no_pause() -> None:
    """Nobody else waits for a turn."""


def place(
    layer: LabelLayer,
    view: View,
    measure: Measure,
    pause: Callable[[], None] = _no_pause,
    blocked_mm: tuple[float, float, float, float] | None = None,
) -> list[Label]:
    """Return the names that find room in a view, the more important having had first choice.

    Parameters
    ----------
    layer : LabelLayer
        What is to be named.
    view : View
        The picture.
    measure : callable
        Gives a text's width and height. [mm]
    pause : callable
        Called between slices of work; may raise to stop.
    blocked_mm : tuple of float, optional
        Left, top, right and bottom of a part of the picture where no name is wanted. [mm]
    """
    room = LabelRoom(view.width_mm, view.height_mm)
    if blocked_mm is not None:
        room.block(*blocked_mm)
    labels: list[Label] = []
    for wording, x_mm, y_mm in _named(layer, view):
        pause()
        found = (
            next((label for label in _along(wording, view, measure) if _accepts(room, label)), None)
            if wording.along
            else _around(wording, x_mm, y_mm, view, measure, room)
        )
        if found is not None:
            labels.append(found)
    if layer.tagged is not None and view.metres_per_mm <= TAGS_FROM_M_PER_MM:
        labels += _tags(layer.tagged, layer.tag_style, view, measure, room, pause)
    return labels


def _named(layer: LabelLayer, view: View) -> Iterator[tuple[Wording, float, float]]:
    """Wordings that may be written in a view, and where each one's first point lies. [mm]."""
    if not layer.wordings:
        return
    west, south, east, north = view.ground_bounds()
    boxes, rooms, far = layer.boxes, layer.rooms_m, layer.farthest_m_per_mm
    seen = (boxes[:, 0] <= east) & (boxes[:, 2] >= west) & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    seen &= (view.metres_per_mm <= far) & (rooms / view.metres_per_mm >= LEAST_ROOM_MM)
    which = np.flatnonzero(seen)
    first = layer.first_points[which]
    x, y = view.to_mm(first[:, 0], first[:, 1])
    for one, across, down in zip(which.tolist(), x.tolist(), y.tolist(), strict=True):
        yield layer.wordings[one], across, down


def _accepts(room: LabelRoom, label: Label) -> bool:
    return room.take(label.corners(GAP_MM / 2), upright=label.angle_deg == 0)


_ABOUT = ((0, 0), (1, 0), (-1, 0), (2, 0), (-2, 0), (0, 0.35), (0, -0.35), (1, 0.35), (-1, -0.35))


def _around(wording: Wording, x_mm: float, y_mm: float, view: View, measure: Measure, room: LabelRoom) -> Label | None:
    """Find a free place in or about the middle of an area; a long name is broken if that helps."""
    wide = wording.room_m / view.metres_per_mm
    texts = [wording.text]
    broken = _broken(wording.text)
    if broken != wording.text:
        texts.insert(0 if measure(wording.text, wording.style)[0] > wide else 1, broken)
    beside = wide == np.inf  # a mark is not written upon
    sizes = [(text, *measure(text, wording.style)) for text in texts]
    sizes = [size for size in sizes if beside or size[1] <= 2.2 * wide + 4.0]
    for down, across in _ABOUT:
        for text, width, height in sizes:
            x, y = x_mm + across * width, y_mm - 3.0 * beside + down * 0.7 * height
            half_wide, half_high = (width + GAP_MM) / 2, (height + GAP_MM) / 2
            if room.take_upright(x - half_wide, y - half_high, x + half_wide, y + half_high):
                return Label(text, wording.style, x, y, width, height)
    return None


@lru_cache(maxsize=20_000)
def _broken(text: str) -> str:
    """Return the text in two lines of about the same length, if it has several words."""
    spaces = [place for place, letter in enumerate(text) if letter == " "]
    if not spaces or len(text) < 9:
        return text
    middle = min(spaces, key=lambda place: abs(place - len(text) / 2))
    return f"{text[:middle]}\n{text[middle + 1 :]}"


def _along(wording: Wording, view: View, measure: Measure) -> Iterable[Label]:
    """Places beside the straighter stretches of a line that are in the picture."""
    x, y = view.to_mm(wording.points[:, 0], wording.points[:, 1])
    run = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    width, height = measure(wording.text, wording.style)
    if run[-1] < width * 1.05:
        return
    starts = np.linspace(0.0, run[-1] - width, min(max(int((run[-1] - width) / 4.0), 3), 120))
    steps = starts[:, None] + np.linspace(0.0, width, 7)
    across, down = np.interp(steps, run, x), np.interp(steps, run, y)
    dx, dy = across[:, -1] - across[:, 0], down[:, -1] - down[:, 0]
    chord = np.hypot(dx, dy)
    bend = np.abs(dx[:, None] * (down - down[:, :1]) - dy[:, None] * (across - across[:, :1])).max(axis=1)
    bend /= np.maximum(chord, 1e-9)
    middle = np.abs(starts + width / 2 - run[-1] / 2) / run[-1]
    usable = (chord > 0.92 * width) & (bend < height)
    for one in np.argsort(bend + middle * height)[:40]:
        if usable[one]:
            wide = wording.width_m / view.metres_per_mm
            inside = wide - 2 * bend[one] > 1.5 * height
            out = 0.0 if inside else height / 2 + 0.7 + bend[one] + wide / 2
            yield from _beside(wording, across[one], down[one], out, (width, height))


def _beside(wording: Wording, across: Floats, down: Floats, out: float, size: tuple[float, float]) -> Iterable[Label]:
    """So far above and below one stretch of line, reading from the left."""
    if across[-1] < across[0]:
        across, down = across[::-1], down[::-1]
    angle = float(np.degrees(np.arctan2(down[-1] - down[0], across[-1] - across[0])))
    turned = np.radians(angle)
    for side in (1.0, -1.0):
        x = float((across[0] + across[-1]) / 2 + side * out * np.sin(turned))
        y = float((down[0] + down[-1]) / 2 - side * out * np.cos(turned))
        yield Label(wording.text, wording.style, x, y, *size, angle)


def _tags(
    trees: TreeLayer,
    style: TextStyle,
    view: View,
    measure: Measure,
    room: LabelRoom,
    pause: Callable[[], None],
) -> list[Label]:
    runs = trees.cells.slices(view.ground_bounds())
    if not runs or sum(last - first for first, last in runs) > 4 * MOST_TAGS:
        return []
    which = np.concatenate([np.arange(first, last) for first, last in runs])
    tagged = trees.group_shown() & np.array([group.drawn_as <= UNMEASURED for group in trees.groups])
    which = which[tagged[trees.group[which]]]
    x, y = view.to_mm(trees.x[which], trees.y[which])
    inside = (x > 0) & (x < view.width_mm) & (y > 0) & (y < view.height_mm)
    which, x, y = which[inside], x[inside], y[inside]
    if len(which) > MOST_TAGS:
        return []
    size = trees.sizes_mm(view.metres_per_mm)[trees.group[which]]
    labels: list[Label] = []
    order = np.argsort(-size, kind="stable")
    for one, tag in zip(order, trees.tags_of(which[order]), strict=True):
        pause()
        if tag:
            width, height = measure(tag, style)
            right, up = size[one] / 2 + width / 2 + 0.5, size[one] / 2 + height / 2
            choices = ((right, 0.0), (-right, 0.0), (0.0, -up), (0.0, up))
            tries = (Label(tag, style, float(x[one] + dx), float(y[one] + dy), width, height) for dx, dy in choices)
            labels += [label for label in [next((t for t in tries if _accepts(room, t)), None)] if label is not None]
    return labels
