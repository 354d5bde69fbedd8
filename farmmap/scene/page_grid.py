"""The edges of a map on a page: ticks at round coordinates of the grid, and lines of latitude and longitude."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from farmmap.farm.grids import Grid
from farmmap.scene.page_items import Box, Item, Shape, Text, Type
from farmmap.scene.scales import tick_spacing, tick_values
from farmmap.scene.view import Floats, View

TICK_MM = 2.5
CROSS_MM = 1.2
"""Half of a cross where two grid lines meet. [mm]"""

TICK_ROOM_MM = 48.0
"""Room from one written grid coordinate to the next, on A4. [mm]"""

LINE_ROOM_MM = 40.0
"""Room from one line of latitude or longitude to the next where the map is large enough for several, on A4. [mm]"""

LEAST_ROOM_MM = 10.0
"""Least room from line to line, on A4; what is written at some of them is left out then. [mm]"""

APART_MM = 4.0
"""Least room between two written angles, on A4. [mm]"""

SHARES = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0)
STEPS_S = (*SHARES, *(60.0 * share for share in SHARES[3:]), *(3600.0 * share for share in SHARES[3:]))
"""Steps of latitude and longitude that people count in. [seconds]"""

SAMPLES = 65
"""Points along a line of latitude or longitude: over 1200 mm of paper it lies within 0.02 mm of the true curve."""

STRAIGHT_MM = 0.01
"""Points of a line that lie so near to the straight are left out. [mm]"""

EDGE_MM = 0.05
"""A line that ends so near to an edge meets it. [mm]"""

LEAST_LINES = 2
"""Latitudes, and longitudes, that are written at a map where the steps allow it."""

Ticks = tuple[list[Item], list[Box]]


def grid_ticks(view: View, type_: Type, corner: tuple[float, float], band: float, *, crosses: bool = True) -> Ticks:
    """Return strokes at the frame and crosses in the map at round grid coordinates, and what is written at them.

    Eastings are written in the band below the map and northings in that left of it.

    Parameters
    ----------
    view : View
        What the map shows.
    type_ : Type
        Sizes of type.
    corner : tuple of float
        Upper left corner of the map on the page. [mm]
    band : float
        Width of the bands beside the map that are kept for coordinates. [mm]
    crosses : bool
        Whether the crosses are drawn.

    Returns
    -------
    items : list of Item
        Drawn upon the map. [mm of the page]
    boxes : list of Box
        ``eastings`` and ``northings``.
    """
    left, top = corner
    right, bottom = left + view.width_mm, top + view.height_mm
    west, south, east, north = view.ground_bounds()
    spacing = tick_spacing(view.metres_per_mm, TICK_ROOM_MM * type_.times)
    eastings, northings = tick_values(west, east, spacing), tick_values(south, north, spacing)
    across = [float(left + view.to_mm(x, south)[0]) for x in eastings]
    down = [float(top + view.to_mm(west, y)[1]) for y in northings]
    strokes = [((x, y), (x, y + way * TICK_MM)) for x in across for y, way in ((top, 1), (bottom, -1))]
    strokes += [((x, y), (x + way * TICK_MM, y)) for y in down for x, way in ((left, 1), (right, -1))]
    items: list[Item] = [Shape(stroke, line=type_.theme.ink, line_mm=0.25) for stroke in strokes]
    for x in across if crosses else ():
        for y in down:
            items.append(Shape(((x - CROSS_MM, y), (x + CROSS_MM, y)), line=type_.theme.faint, line_mm=0.13))
            items.append(Shape(((x, y - CROSS_MM), (x, y + CROSS_MM)), line=type_.theme.faint, line_mm=0.13))
    base = bottom + band * 0.75
    written = [Text(x, base, coordinate("E", e), type_.body, "middle") for x, e in zip(across, eastings, strict=True)]
    turned = [
        Text(left - band * 0.32, y, coordinate("N", n), type_.body, "middle", upright=False)
        for y, n in zip(down, northings, strict=True)
    ]
    fits = partial(_within, type_)
    return items, [
        Box("eastings", left, bottom + 0.2, view.width_mm, band - 0.2,
            tuple(text for text in written if fits(text.x, text.text, left, right))),
        Box("northings", left - band, top, band - 0.2, view.height_mm,
            tuple(text for text in turned if fits(text.y, text.text, top, bottom))),
    ]  # fmt: skip


def graticule(view: View, grid: Grid, type_: Type, corner: tuple[float, float], band: float) -> Ticks:
    """Return lines of latitude and longitude, curved as they run on the grid, and what is written at them.

    Longitudes are written in the band above the map and latitudes in that right of it, so that they never meet the
    coordinates of the grid. They are those of the grid's own datum.

    Parameters
    ----------
    view : View
        What the map shows.
    grid : Grid
        The farm's. On a local grid no latitude is known, and there are no lines.
    type_ : Type
        Sizes of type.
    corner : tuple of float
        Upper left corner of the map on the page. [mm]
    band : float
        Width of the bands beside the map that are kept for degrees. [mm]

    Returns
    -------
    items : list of Item
        Drawn upon the map. [mm of the page]
    boxes : list of Box
        ``longitudes`` and ``latitudes``; none on a local grid.
    """
    if grid.local:
        return [], []
    left, top = corner
    right = left + view.width_mm
    shown = _shown(view, grid, type_)
    items: list[Item] = [
        Shape(tuple((left + x, top + y) for x, y in line.points), line=type_.theme.faint, line_mm=0.13)
        for line in shown.lines
    ]
    above = [Text(left + at, top - band * 0.3, words, type_.body, "middle") for at, words in shown.above]
    beside = [
        Text(right + band * 0.8, top + at, words, type_.body, "middle", upright=False) for at, words in shown.beside
    ]
    return items, [
        Box("longitudes", left, top - band, view.width_mm, band - 0.2, tuple(above)),
        Box("latitudes", right + 0.2, top, band - 0.2, view.height_mm, tuple(beside)),
    ]


def coordinate(letter: str, metres: float) -> str:
    """Return a coordinate as it is written at the frame, such as ``E 1 811 500``, in whole metres."""
    return f"{letter}\u202f" + f"{metres:,.0f}".replace(",", "\u202f")


def degrees_words(seconds: float, letters: str, step_s: float) -> str:
    """Return a latitude or longitude in degrees and minutes, and seconds where the step between two needs them.

    Parameters
    ----------
    seconds : float
        The angle. [seconds]
    letters : str
        What is written after one that is positive, and after one that is negative, such as ``NS``.
    step_s : float
        From one written angle to the next. [seconds]
    """
    seconds = (seconds + 648_000.0) % 1_296_000.0 - 648_000.0  # counted on across 180 degrees
    tenths = round(abs(seconds) * 10)
    letter = letters[seconds < 0] if tenths % 6_480_000 else ""
    words = f"{tenths // 36000}°"
    if step_s % 3600:
        words += f"{tenths // 600 % 60:02d}′"
    if step_s % 60:
        words += f"{tenths // 10 % 60:02d}″" if not step_s % 1 else f"{tenths % 600 / 10:04.1f}″"
    return f"{words}\u202f{letter}" if letter else words


@dataclass(frozen=True)
class _Line:
    """One line of latitude or longitude in the map, and what is written where it meets an edge, which may be nowhere.

    Attributes
    ----------
    points : tuple of (float, float)
        From the map's upper left corner. [mm]
    at : float
        Where along the edge. [mm]
    words : str
        What is written there.
    """

    points: tuple[tuple[float, float], ...]
    at: float
    words: str


@dataclass(frozen=True)
class _Seen:
    """Ranges of longitude, counted on across 180 degrees, and of latitude that a map shows. [seconds]."""

    west: float
    south: float
    east: float
    north: float

    @classmethod
    def of(cls, view: View, grid: Grid) -> _Seen:
        """Return the ranges along the edges of a view."""
        share = np.linspace(0.0, 1.0, SAMPLES)
        ends = (np.zeros(SAMPLES), np.ones(SAMPLES))
        across, down = np.concatenate([share, share, *ends]), np.concatenate([*ends, share, share])
        lon, lat = grid.lon_lat(*view.to_ground(across * view.width_mm, down * view.height_mm))
        lon = (lon - lon[0] + 180.0) % 360.0 - 180.0 + lon[0]
        return cls(*(3600.0 * float(end) for end in (lon.min(), lat.min(), lon.max(), lat.max())))

    def steps_s(self, view: View, type_: Type) -> list[float]:
        """Return the steps that lines may have, those with most room first. [s]."""
        near = min(view.width_mm / (self.east - self.west), view.height_mm / (self.north - self.south)) / type_.times
        wide = next((step for step in STEPS_S if step * near >= LINE_ROOM_MM), STEPS_S[-1])
        return [step for step in reversed(STEPS_S) if step <= wide and step * near >= LEAST_ROOM_MM]


@dataclass(frozen=True)
class _Shown:
    """Lines of one step, and what is written above and beside the map: where along the edge, and the words."""

    lines: tuple[_Line, ...]
    above: tuple[tuple[float, str], ...]
    beside: tuple[tuple[float, str], ...]


def _shown(view: View, grid: Grid, type_: Type) -> _Shown:
    """Return lines wide apart, but nearer where fewer than two of a kind would be written; else as many as may be."""
    seen = _Seen.of(view, grid)
    tried: list[_Shown] = []
    for step in seen.steps_s(view, type_):
        east, north = _lines(view, grid, seen, step)
        above, beside = _written(east, view.width_mm, type_), _written(north, view.height_mm, type_)
        tried.append(_Shown((*east, *north), tuple(above), tuple(beside)))
        if min(len(tried[-1].above), len(tried[-1].beside)) >= LEAST_LINES:
            return tried[-1]
    return max(tried, key=lambda one: (min(len(one.above), len(one.beside)), len(one.above) + len(one.beside)))


def _lines(view: View, grid: Grid, seen: _Seen, step: float) -> tuple[list[_Line], list[_Line]]:
    """Return the lines of longitude and of latitude at multiples of a step."""
    lons, lats = np.linspace(seen.west, seen.east, SAMPLES), np.linspace(seen.south, seen.north, SAMPLES)
    east, north = tick_values(seen.west, seen.east, step), tick_values(seen.south, seen.north, step)
    return [
        _Line(points, next((x for x, y in points if y < EDGE_MM), math.nan), degrees_words(value, "EW", step))
        for value in east.tolist()
        for points in _in_map(view, grid, np.full(SAMPLES, value), lats)
    ], [
        _Line(points, next((y for x, y in points if x > view.width_mm - EDGE_MM), math.nan),
              degrees_words(value, "NS", step))
        for value in north.tolist()
        for points in _in_map(view, grid, lons, np.full(SAMPLES, value))
    ]  # fmt: skip


def _in_map(view: View, grid: Grid, lon: Floats, lat: Floats) -> Iterator[tuple[tuple[float, float], ...]]:
    """Yield the parts of a line that lie in the map, given in seconds. [mm]."""
    way = shapely.LineString(np.column_stack(view.to_mm(*grid.east_north(lon / 3600.0, lat / 3600.0))))
    inside = shapely.intersection(way, shapely.box(0.0, 0.0, view.width_mm, view.height_mm))
    for part in shapely.get_parts(shapely.simplify(inside, STRAIGHT_MM)):
        if shapely.length(part) > TICK_MM:
            yield tuple(map(tuple, shapely.get_coordinates(part).tolist()))


def _written(lines: Sequence[_Line], length: float, type_: Type) -> Iterator[tuple[float, str]]:
    """Yield what is written at an edge and where, leaving out what would meet its end or what is written before it."""
    free = 0.0
    for line in sorted((one for one in lines if not math.isnan(one.at)), key=lambda one: one.at):
        half = type_.width(line.words, type_.body) / 2
        if line.at - half >= free and line.at + half <= length:
            yield line.at, line.words
            free = line.at + half + APART_MM * type_.times


def _within(type_: Type, at: float, text: str, low: float, high: float) -> bool:
    """Whether text written with its middle at a place of an edge stays between two ends of it."""
    half = type_.width(text, type_.body) / 2
    return low <= at - half and at + half <= high
