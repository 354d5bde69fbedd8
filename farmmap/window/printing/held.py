"""An element of a page while it is moved or drawn larger: where it was, where it is, and the lines it snapped to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from farmmap.scene.page_snapping import (
    SNAP_MM,
    Grip,
    Guide,
    Place,
    Surroundings,
    move_snapped,
    resize_snapped,
)

GRIPS: tuple[Grip, ...] = ((-1, -1), (0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0))
"""Corners and middles of edges by which an element is drawn larger or smaller."""

WHOLE: Grip = (0, 0)
"""The element is moved as it is."""


@dataclass
class Held:
    """An element that is held by the pointer.

    Attributes
    ----------
    before : Place
        Where it was. [mm]
    grip : tuple of int
        What is drawn; `WHOLE` while all of it is moved.
    around : Surroundings
        What it snaps to.
    place : Place
        Where it is now. [mm]
    guides : tuple of Guide
        Lines that it lies on.
    """

    before: Place
    grip: Grip
    around: Surroundings
    place: Place
    guides: tuple[Guide, ...] = ()

    @classmethod
    def taken(cls, before: Place, grip: Grip, around: Surroundings) -> Held:
        """Take hold of an element where it is."""
        return cls(before, grip, around, before)

    def draw(self, dx: float, dy: float, *, snaps: bool) -> None:
        """Put it where the pointer has drawn it from where it was. [mm]."""
        within = SNAP_MM if snaps else 0.0
        if self.grip == WHOLE:
            snapped = move_snapped(self.before.moved(dx, dy), self.around, within)
        else:
            snapped = resize_snapped(self.before, self.grip, dx, dy, self.around, within)
        self.place = snapped.place
        self.guides = snapped.guides if snaps else ()

    @property
    def has_moved(self) -> bool:
        """Whether it is elsewhere, or larger or smaller, than it was."""
        return self.place != self.before


def grip_place(place: Place, grip: Grip) -> tuple[float, float]:
    """Return where a corner or the middle of an edge lies. [mm]."""
    return place.x + place.width * (1 + grip[0]) / 2, place.y + place.height * (1 + grip[1]) / 2


def grips_of(place: Place, apart_mm: float) -> tuple[Grip, ...]:
    """Return the corners of an element, and the middles of edges that are so long that there is room for one. [mm]."""
    wide, high = place.width >= apart_mm, place.height >= apart_mm
    return tuple(grip for grip in GRIPS if all(grip) or (grip[0] == 0 and wide) or (grip[1] == 0 and high))


def nearest_grip(place: Place, grips: Iterable[Grip], x: float, y: float, within_mm: float) -> Grip | None:
    """Return the one of some corners and edges that is nearest to a point, if within reach of it; else None. [mm]."""
    far = {grip: _far(grip_place(place, grip), x, y) for grip in grips}
    grip = min(far, key=lambda one: (far[one], one.count(0)))
    return grip if far[grip] <= within_mm else None


def _far(at: tuple[float, float], x: float, y: float) -> float:
    return max(abs(at[0] - x), abs(at[1] - y))
