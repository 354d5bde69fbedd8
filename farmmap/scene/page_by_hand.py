"""Elements of a page that the grower put somewhere himself, or left out."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches
from itertools import combinations

from farmmap.editing.words import listed
from farmmap.errors import BadInput
from farmmap.scene.element_words import words_of
from farmmap.scene.page_items import Box, Shape
from farmmap.scene.page_moves import Moved
from farmmap.scene.page_stack import TALL_MM, Part
from farmmap.scene.paper import Paper

STAYS = {"caution": "what the map must not be used for", "map": "the map itself"}
"""Elements that no page does without."""

LEAST_MAP_MM = 20.0
PLATE_MM = 1.0
"""White ground that an element put upon the map has around it. [mm]"""

TOUCH_MM = 0.2
"""Elements that lie so little upon each other are not spoken of. [mm]"""

FRAME_PARTS = frozenset({"eastings", "northings", "longitudes", "latitudes"})
"""Elements that go with the map's frame."""

Rectangle = tuple[float, float, float, float]


def check_by_hand(moved: Sequence[Moved], left_out: Collection[str]) -> None:
    """Refuse what no page can be set with.

    Raises
    ------
    BadInput
        An element is left out that must stay, or was put where no number says.
    """
    for name, words in STAYS.items():
        if name in left_out:
            raise BadInput(f"{words} stays on every page and cannot be left out")
    for one in moved:
        numbers = [value for value in (one.x, one.y, one.width, one.height) if value is not None]
        if not all(math.isfinite(value) for value in numbers):
            raise BadInput(f"where the {one.name} is to stand on the page is not said in numbers; put it there anew")
        if one.name == "map" and min((one.width or LEAST_MAP_MM, one.height or LEAST_MAP_MM)) < LEAST_MAP_MM:
            raise BadInput(f"the map needs a frame of {LEAST_MAP_MM:.0f} mm each way at least; draw it larger")


def not_there(left_out: Collection[str], names: Sequence[str]) -> tuple[str, ...]:
    """Say which elements that are to be left out a page of such parts does not have."""
    known = {"title", "grid", *names, *FRAME_PARTS}
    unknown = sorted(set(left_out) - known)
    if not unknown:
        return ()
    may = [name for name in ("title", *names, "grid") if name not in STAYS]
    near = [close for name in unknown for close in get_close_matches(name, may, 1)]
    has = f"did you mean {listed(near)}?" if len(near) == len(unknown) else f"it has {listed(may, len(may))}"
    return (f"There is no {listed(unknown)} on this page to leave out; {has}",)


def without(parts: Iterable[Part], names: Collection[str]) -> list[Part]:
    """Return parts with those of some names taking no room."""
    return [_nothing(part.name) if part.name in names else part for part in parts]


def _nothing(name: str) -> Part:
    return Part(name, lambda width, _: Box(name, 0, 0, width, 0, ()))


def put_by_hand(parts: Iterable[Part], moved: Mapping[str, Moved], paper: Paper, natural: float) -> Iterator[Box]:
    """Yield parts that were moved, where they were put and set for the room that they were given.

    Parameters
    ----------
    parts : iterable of Part
        All parts of the page.
    moved : mapping of str to Moved
        By their names.
    paper : Paper
        The sheet.
    natural : float
        How wide a part is set that was given no width, where the paper allows. [mm]
    """
    for part in parts:
        one = moved.get(part.name)
        if one is not None:
            width = one.width or min(natural, max(paper.width_mm - one.x, 0.25 * natural))
            box = part.make(width, one.height or TALL_MM)
            if box.height > 0:
                yield box.placed(one.x, one.y)


def on_plates(boxes: Iterable[Box], frames: Sequence[Rectangle]) -> list[Box]:
    """Return boxes with white ground under those that lie upon a map."""
    return [_on_plate(box) if any(_meet(_rectangle(box), frame) for frame in frames) else box for box in boxes]


def _on_plate(box: Box) -> Box:
    left, top, right, bottom = box.x, box.y, box.x + box.width, box.y + box.height
    corners = (
        (left - PLATE_MM, top - PLATE_MM),
        (right + PLATE_MM, top - PLATE_MM),
        (right + PLATE_MM, bottom + PLATE_MM),
        (left - PLATE_MM, bottom + PLATE_MM),
    )
    return replace(box, items=(Shape(corners, closed=True, fill="#FFFFFF"), *box.items))


def said_by_hand(boxes: Sequence[Box], frame: Rectangle, moved: Collection[str], paper: Paper) -> tuple[str, ...]:
    """Say which elements that were moved reach over the edge of the paper or lie upon others.

    Parameters
    ----------
    boxes : sequence of Box
        All elements but the map.
    frame : tuple of float
        Left, top, width and height of the map. [mm]
    moved : collection of str
        Names of those that were moved.
    paper : Paper
        The sheet.
    """
    if not moved:
        return ()
    places = {"map": frame} | {box.name: _rectangle(box) for box in boxes if box.name not in FRAME_PARTS}
    over = [name for name, place in places.items() if name in moved and _leaves(place, paper)]
    pairs = [
        f"{_called(one)} and {_called(other)}"
        for one, other in combinations(places, 2)
        if _is_amiss(one, other, moved) and _meet(places[one], places[other])
    ]
    said = []
    if over:
        said.append(f"Over the edge of the paper: {listed([_called(name) for name in over])}")
    if pairs:
        said.append(f"Upon each other: {'; '.join(pairs)}")
    return tuple(said)


def _is_amiss(one: str, other: str, moved: Collection[str]) -> bool:
    """Whether two elements that meet were likely not meant to; what is put upon the map is."""
    if one == "map":
        return one in moved and other not in moved
    return one in moved or other in moved


def _called(name: str) -> str:
    words = words_of(name)
    return words[:1].lower() + words[1:]


def _leaves(place: Rectangle, paper: Paper) -> bool:
    left, top, wide, high = place
    return (
        min(left, top) < -TOUCH_MM or left + wide > paper.width_mm + TOUCH_MM or top + high > paper.height_mm + TOUCH_MM
    )


def _rectangle(box: Box) -> Rectangle:
    return box.x, box.y, box.width, box.height


def _meet(one: Rectangle, other: Rectangle) -> bool:
    return (
        one[0] + TOUCH_MM < other[0] + other[2]
        and other[0] + TOUCH_MM < one[0] + one[2]
        and one[1] + TOUCH_MM < other[1] + other[3]
        and other[1] + TOUCH_MM < one[1] + one[3]
    )
