"""Maps, charts and photographs among what flows down pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from farmmap.scene.page_flow import MapSet, Piece
from farmmap.scene.page_grid import grid_ticks
from farmmap.scene.page_items import Box, Item, Picture, Shape, Text, Type, wrapped
from farmmap.scene.page_key import scale_bar_box
from farmmap.scene.page_north import North, north_box
from farmmap.scene.scales import BAR_MM, fitting_scale, scale_bar
from farmmap.scene.scene import Scene
from farmmap.scene.view import Bounds, View

FRAME_LINE_MM = 0.35
INSIDE_MM = 4.0
"""Map left free between what it must show and the frame. [mm]"""

BAR_COLUMN_MM = 62.0
"""Room below a map for the scale bar and the north arrow; the key stands right of them. [mm]"""

UNDER_MM = 1.2
ABOVE_MM = 46.0
"""Room that a heading and a few lines need above a map. [mm]"""

LARGER = 1.5
"""A map that is so many times as large on a page of its own goes there."""

LEAST_MAP_MM, MOST_MAP_MM = 78.0, 168.0
MOST_TRIES = 4
CAPTION_POINTS, WORDS_POINTS, PICTURE_POINTS = 9.2, 7.4, 8.0
PICTURE_MOST_MM = 78.0
"""No photograph is higher. [mm]"""

Drawn = tuple[Scene, tuple[Item, ...]]
"""A map, and what is drawn upon it from its upper left corner."""


@dataclass(frozen=True, eq=False)
class MapRoom:
    """Room for a map, which takes as much height as there is.

    Attributes
    ----------
    name : str
        What it is.
    caption : str
        Written above it.
    bounds : tuple of float
        Ground that it must show. [m]
    drawn : callable
        Draws it, given sizes of type and what it shows.
    key : callable
        Sets its key, given sizes of type, width [mm] and what the map shows, as only that stands in it.
    north : North
        Which north, and which grid.
    words : tuple of str
        Lines below the north arrow.
    paper : str
        Paper at which the ratio holds.
    least_mm, most_mm : float
        How high the map itself is. [mm]
    """

    name: str
    caption: str
    bounds: Bounds
    drawn: Callable[[Type, View], Drawn]
    key: Callable[[Type, float, View], Box]
    north: North
    words: tuple[str, ...] = ()
    paper: str = "A4"
    least_mm: float = LEAST_MAP_MM
    most_mm: float = MOST_MAP_MM

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in one piece, which grows to the room that there is."""
        head = self._caption(type_, width)
        belows: dict[View, Box] = {}
        made: dict[View, Piece] = {}

        def below(view: View) -> Box:
            if view not in belows:
                belows[view] = self._below(type_, width, view)
            return belows[view]

        def rest(view: View) -> float:
            return below(view).height + head.height + type_.body.size_mm * 1.5 + UNDER_MM

        def piece(view: View) -> Piece:
            if view not in made:
                made[view] = self._piece(type_, width, head, below(view), view)
            return made[view]

        def grown(room: float) -> Piece:
            return piece(self._largest(type_, width, room, least, rest))

        least = self._view(type_, width, self.least_mm)
        most = self._view(type_, width, min(self.most_mm, height - rest(least) - ABOVE_MM))
        if least.metres_per_mm >= LARGER * most.metres_per_mm:  # rather on a page of its own
            least = most
        whole = least.height_mm + rest(least)
        if whole > height:  # a long key: the map gives way
            return (grown(height),)
        return (Piece(whole, above=4.0, most=height, grown=grown),)

    def _largest(self, type_: Type, width: float, room: float, least: View, rest: Callable[[View], float]) -> View:
        """Return the highest map that fits some room with what stands below it, which grows with what the map shows.

        ``rest`` gives the height of all but the map itself. [mm]
        """
        view = least
        for _ in range(MOST_TRIES):
            view = self._view(type_, width, min(room - rest(view), self.most_mm))
            if view.height_mm + rest(view) <= room + 1e-6:
                return view
        return least if least.height_mm + rest(least) <= room + 1e-6 else view

    def _view(self, type_: Type, width: float, map_mm: float) -> View:
        """Return what the map shows, no higher than it needs at the largest round scale."""
        west, south, east, north = self.bounds
        wide = width - type_.body.size_mm * 1.5
        scale = fitting_scale(self.bounds, wide - 2 * INSIDE_MM, max(map_mm, 40.0) - 2 * INSIDE_MM)
        needed = (north - south) * 1000 / scale + 5 * INSIDE_MM
        high = round(min(max(map_mm, 40.0), max(needed, self.least_mm)), 2)
        return View((west + east) / 2, (south + north) / 2, scale / 1000, wide, high)

    def _piece(self, type_: Type, width: float, head: Box, below: Box, view: View) -> Piece:
        band = type_.body.size_mm * 1.5
        left, top = width - view.width_mm, head.height
        ticks, boxes = grid_ticks(view, type_, (left, top), band)
        scene, upon = self.drawn(type_, view)
        frame = (left, top, view.width_mm, view.height_mm)
        under = top + view.height_mm + band + UNDER_MM
        items = [*head.items, *(item for box in boxes for item in box.items), *below.moved(0, under).items]
        outline = _outline(frame, type_)
        over = (*(item.moved(left, top) for item in upon), *ticks, outline)
        one = MapSet(frame, view, scene, over, self.name)
        return Piece(under + below.height, tuple(items), above=4.0, maps=(one,))

    def _caption(self, type_: Type, width: float) -> Box:
        style = type_.style(CAPTION_POINTS, "semibold")
        lines = wrapped(self.caption, style, width, type_.width)
        step = style.size_mm * 1.3
        items = tuple(Text(0, at * step + style.size_mm, line, style) for at, line in enumerate(lines))
        return Box("caption", 0, 0, width, len(lines) * step + 1.6, items)

    def _below(self, type_: Type, width: float, view: View) -> Box:
        """Scale bar, north arrow and words at the left, the key at the right."""
        bar = scale_bar(view.metres_per_mm, BAR_MM[0], BAR_COLUMN_MM - 6.0)
        ratio = f"1:{round(view.scale_denominator):,} at {self.paper}".replace(",", "\u202f")
        boxes = [scale_bar_box(bar, type_, ratio), north_box(type_, self.north, BAR_COLUMN_MM)]
        items: list[Item] = []
        y = 0.0
        for box in boxes:
            items += box.moved(0, y).items
            y += box.height + 2.6
        style = type_.style(WORDS_POINTS, faint=True)
        for text in self.words:
            for line in wrapped(text, style, BAR_COLUMN_MM, type_.width):
                items.append(Text(0, y + style.size_mm, line, style))
                y += style.size_mm * 1.3
        left = BAR_COLUMN_MM + 8.0
        key = self.key(type_, width - left, view)
        items += key.moved(left, 0).items
        return Box("below", 0, 0, width, max(y, key.height), tuple(items))


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart with its name above it.

    Attributes
    ----------
    title : str
        Its name.
    make : callable
        Sets it, given sizes of type and its width. [mm]
    """

    title: str
    make: Callable[[Type, float], Box]

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return it in one piece."""
        del height
        style = type_.style(CAPTION_POINTS, "semibold")
        lines = wrapped(self.title, style, width, type_.width)
        step = style.size_mm * 1.3
        top = len(lines) * step + 1.8
        made = self.make(type_, width)
        words = tuple(Text(0, at * step + style.size_mm, line, style) for at, line in enumerate(lines))
        return (Piece(top + made.height + 1.0, (*words, *made.moved(0, top).items), above=6.0),)


def _outline(frame: tuple[float, float, float, float], type_: Type) -> Shape:
    left, top, wide, high = frame
    corners = ((left, top), (left + wide, top), (left + wide, top + high), (left, top + high))
    return Shape(corners, closed=True, line=type_.theme.ink, line_mm=FRAME_LINE_MM)


@dataclass(frozen=True)
class Shot:
    """A photograph with its caption.

    Attributes
    ----------
    path : str
        Its file.
    width, height : int
        Its size, for its shape. [px]
    caption : str
        Written below it.
    """

    path: str
    width: int
    height: int
    caption: str


@dataclass(frozen=True)
class Pictures:
    """Photographs, two in a row, each with its caption below.

    Attributes
    ----------
    shots : tuple of Shot
        The photographs.
    """

    shots: tuple[Shot, ...]

    def pieces(self, type_: Type, width: float, height: float) -> Sequence[Piece]:
        """Return a piece for each row."""
        gap, style = 8.0, type_.style(PICTURE_POINTS)
        each, out = (width - gap) / 2, []
        highest = min(PICTURE_MOST_MM, height / 2)
        for start in range(0, len(self.shots), 2):
            row = self.shots[start : start + 2]
            sizes = [_picture_size(shot, each, highest) for shot in row]
            high = max(size[1] for size in sizes)
            items: list[Item] = []
            most = 0
            for place, (shot, (wide, tall)) in enumerate(zip(row, sizes, strict=True)):
                left = place * (each + gap)
                items.append(Picture(left, high - tall, wide, tall, shot.path))
                lines = wrapped(shot.caption, style, each, type_.width)
                most = max(most, len(lines))
                step = style.size_mm * 1.3
                items += [
                    Text(left, high + 1.2 + at * step + style.size_mm, line, style) for at, line in enumerate(lines)
                ]
            out.append(Piece(high + 1.2 + most * style.size_mm * 1.3 + 1.0, tuple(items), above=5.0))
        return out


def _picture_size(shot: Shot, width: float, highest: float) -> tuple[float, float]:
    """Return width and height of a photograph in its own shape. [mm]."""
    shape = shot.height / max(shot.width, 1)
    wide = min(width, highest / max(shape, 1e-6))
    return wide, wide * shape
