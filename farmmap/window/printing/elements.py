"""The elements of a page that can be picked, moved and left out, and what they are called."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from farmmap.scene.element_words import MAP, words_of
from farmmap.scene.page_by_hand import FRAME_PARTS, STAYS
from farmmap.scene.page_items import Box
from farmmap.scene.page_snapping import Place, off_paper, over_each_other
from farmmap.sheets.page import MapOnPage, Page


@dataclass(frozen=True)
class Element:
    """Something on a page that can be picked.

    Attributes
    ----------
    name : str
        By which it is known, in `farmmap.scene.page_moves.Moved` too.
    place : Place
        Its rectangle. [mm]
    boxes : tuple of Box
        What it is painted from; none for the frame of a map.
    stays : bool
        Whether it cannot be left out.
    """

    name: str
    place: Place
    boxes: tuple[Box, ...] = ()
    stays: bool = False

    @property
    def is_picture(self) -> bool:
        """Whether it is made as high as it is drawn, where text takes the height that it needs."""
        return not self.boxes

    @property
    def is_map(self) -> bool:
        """Whether it is the frame of a main map."""
        return self.is_picture and _is_main(self.name)

    @property
    def words(self) -> str:
        """What it is called."""
        return words_of(self.name)


def elements_of(page: Page) -> tuple[Element, ...]:
    """Return what can be picked on a page, in the order of reading: from top to bottom, then from left to right."""
    boxes: dict[str, list[Box]] = {}
    for box in page.boxes:
        if not _goes_with_map(box.name) and box.width > 0 and box.height > 0:
            boxes.setdefault(box.name, []).append(box)
    found = [Element(name, _around(parts), tuple(parts), name in STAYS) for name, parts in boxes.items()]
    found += [_frame(one) for one in page.maps if one.name not in boxes]
    return tuple(sorted(found, key=lambda one: (round(one.place.y), one.place.x)))


def troubled(page: Page) -> frozenset[str]:
    """Return the names of elements that lie over each other or off the paper; what lies on the map is not meant."""
    places = [one.place for one in elements_of(page)]
    apart = over_each_other([place for place in places if place.name != MAP])
    off = off_paper(places, page.paper.width_mm, page.paper.height_mm)
    return frozenset((*off, *(name for pair in apart for name in pair)))


def element_called(elements: Collection[Element], name: str) -> Element | None:
    """Return the element of a name; None if there is none."""
    return next((one for one in elements if one.name == name), None)


def element_at(elements: Collection[Element], x: float, y: float) -> Element | None:
    """Return the element at a point of the page, the smallest of several; None if there is none. [mm]."""
    here = [one for one in elements if one.place.holds(x, y)]
    return min(here, key=lambda one: one.place.width * one.place.height, default=None)


def _goes_with_map(name: str) -> bool:
    """Whether a box is part of a map's frame: coordinates and titles of the first map, or of another, as ``map 2``."""
    return name.rstrip("0123456789 ") in FRAME_PARTS or (name.startswith(MAP) and name.endswith("title"))


def _frame(one: MapOnPage) -> Element:
    left, top, wide, high = one.frame
    return Element(one.name, Place(left, top, wide, high, one.name), (), _is_main(one.name))


def _is_main(name: str) -> bool:
    return name.rstrip("0123456789 ") == MAP


def _around(boxes: list[Box]) -> Place:
    left, top = min(box.x for box in boxes), min(box.y for box in boxes)
    right, bottom = max(box.x + box.width for box in boxes), max(box.y + box.height for box in boxes)
    return Place(left, top, right - left, bottom - top, boxes[0].name)
