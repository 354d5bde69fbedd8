"""Where names go, so that none lies on another, leaves the picture or wanders off its thing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from farmmap.scene.label_about import cells_about
from farmmap.scene.label_curves import Letter, corners_of
from farmmap.scene.label_places import Measure, beside, places
from farmmap.scene.label_room import EDGE_MM, LabelRoom
from farmmap.scene.label_shifts import Written
from farmmap.scene.scene import UNMEASURED, LabelLayer, TreeLayer, Wording
from farmmap.scene.styles import TextStyle
from farmmap.scene.view import Floats, View

LEAST_ROOM_MM = 4.0
"""Things that cover less of the picture are not named. [mm]"""

GAP_MM = 0.6
TAGS_FROM_M_PER_MM = 0.35
MOST_TAGS = 250
_AT_ONCE = 32  # names whose places are worked out together
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
    letters : tuple of Letter
        Each letter in its place where the name bends; nothing where it is straight.
    of : str
        The whole name, of which a part is written where it is very long.
    """

    text: str
    style: TextStyle
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    angle_deg: float = 0.0
    letters: tuple[Letter, ...] = ()
    of: str = ""

    @property
    def name(self) -> str:
        """The whole name in one line."""
        return self.of or self.text.replace("\n", " ")

    def corners(self, wider_mm: float = 0.0) -> Floats:
        """Return its corners in turn, or those around all its letters, ndarray of shape (4, 2). [mm]."""
        box = np.array([[self.x_mm, self.y_mm, self.width_mm, self.height_mm, self.angle_deg]])
        return np.asarray(corners_of(box, wider_mm)[0])

    def outlines(self, wider_mm: float = 0.0) -> Floats:
        """Return the corners of what it covers, or of each of its letters, ndarray of shape (n, 4, 2). [mm]."""
        if not self.letters:
            return self.corners(wider_mm)[None]
        around = corners_of(np.array([letter[1:] for letter in self.letters]), wider_mm)
        around += (self.x_mm, self.y_mm)
        return around


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

    A name that finds none is looked at again: where another can make way for it without losing its own place on the
    map, it does.

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
    if layer.clear_of is not None:
        corners = layer.clear_of.reshape(-1, 4)[:, [[0, 1], [0, 3], [2, 1], [2, 3]]]
        points = np.stack(view.to_mm(corners[..., 0].ravel(), corners[..., 1].ravel()), axis=1).reshape(-1, 4, 2)
        for box in np.concatenate([points.min(axis=1), points.max(axis=1)], axis=1).tolist():
            room.block(*box)
    written = Written(room, GAP_MM)
    wanted: list[tuple[str, TextStyle]] = []
    named = list(_named(layer, view))
    for first in range(0, len(named), _AT_ONCE):
        pause()
        some = named[first : first + _AT_ONCE]
        about = cells_about(some, view.metres_per_mm, measure, room, GAP_MM)
        for (wording, x_mm, y_mm), cells in zip(some, about, strict=True):
            pause()
            wanted.append((wording.text, wording.style))
            choices = places(wording, x_mm, y_mm, view, measure)
            if cells is None:
                written.write(choices)
            else:
                written.write_about(choices, cells)
    if layer.tagged is not None and view.metres_per_mm <= TAGS_FROM_M_PER_MM:
        for tag, x_mm, y_mm, size_mm in _tags(layer.tagged, view):
            pause()
            wanted.append((tag, layer.tag_style))
            written.write(beside(tag, x_mm, y_mm, size_mm / 2 + 0.3, measure(tag, layer.tag_style)))
    written.look_again(pause)
    labels = []
    for one, (text, x, y, width, height, angle, *letters) in written.found():
        pause()
        labels.append(Label(text, wanted[one][1], x, y, width, height, angle, tuple(letters), wanted[one][0]))
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


def _tags(trees: TreeLayer, view: View) -> list[tuple[str, float, float, float]]:
    """Tags to be written in a view, those of the largest trees first: middle and width of the tree. [mm]."""
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
    order = np.argsort(-size, kind="stable")
    texts = trees.tags_of(which[order])
    found = zip(texts, x[order].tolist(), y[order].tolist(), size[order].tolist(), strict=True)
    return [one for one in found if one[0]]
