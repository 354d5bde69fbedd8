"""A place typed while drawing: length and bearing, a length alone, coordinates, or steps east and north."""

from __future__ import annotations

import math
import re

from farmmap.editing.guard import guarded
from farmmap.editing.words import quoted
from farmmap.errors import BadInput
from farmmap.farm.grids import Grid

IN_METRES = {"": 1.0, "m": 1.0, "km": 1000.0, "ft": 0.3048}
"""Units in which a length may be typed; the international foot."""

MOST_M = 100_000.0
"""A length or step that is typed is no longer than this. [m]"""

WAYS = (
    "write a length and a grid bearing (25 @ 90), a length towards the pointer (25), "
    "coordinates (E 1812000 N 5478000), or steps east and north (+12 -5)"
)

_NUMBER = r"\d+(?:[.,]\d+)?"
_LENGTH = re.compile(rf"({_NUMBER})\s*([a-z]*)")
_POLAR = re.compile(rf"(-?{_NUMBER})\s*([a-z]*)\s*(?:@|,|;|\s)\s*([-+]?{_NUMBER})\s*(?:°|deg|degrees|º)?")
_STEPS = re.compile(rf"([-+]{_NUMBER})\s*m?\s*(?:[,;]\s*|\s+)([-+]{_NUMBER})\s*m?")
_THOUSANDS = re.compile(r"(?<=\d)[ \u00a0\u202f](?=\d{3}(?!\d))")


@guarded
def place_from_words(
    text: str, start: tuple[float, float] | None, grid: Grid, toward: tuple[float, float] | None = None
) -> tuple[float, float]:
    """Return the place that was typed.

    Lengths and steps are metres of ground, turned into grid metres by the
    grid's scale there. Bearings are grid bearings: degrees from grid north,
    clockwise.

    Parameters
    ----------
    text : str
        ``25 @ 90``, ``25 m at 90``, ``25 m 90°``, ``25``, ``E 1812000 N 5478000``, ``1 812 000 5 478 000`` or
        ``+12 -5``.
    start : tuple of float or None
        Where lengths and steps begin: the last corner. [m]
    grid : Grid
        The farm's grid.
    toward : tuple of float, optional
        Where the pointer is, for a length alone. [m]

    Returns
    -------
    x, y : float
        On the farm's grid. [m]

    Raises
    ------
    BadInput
        It cannot be read, or there is nothing to measure from.
    """
    words = text.strip().casefold().replace("−", "-").replace("\u2009", " ").replace(" at ", " @ ")
    if not words:
        raise BadInput(f"nothing is written; {WAYS}")
    if found := _STEPS.fullmatch(words):
        return _steps(_start(start, text), float(_point(found[1])), float(_point(found[2])), grid)
    if ("@" in words or "°" in words or "º" in words or "deg" in words) and (found := _POLAR.fullmatch(words)):
        length = _length_m(found[1], found[2], text)
        return _along(_start(start, text), length, _bearing(found[3], text), grid)
    coordinates = _coordinates(words)
    if coordinates is not None:
        return _on_grid(coordinates, grid, text)
    if found := _LENGTH.fullmatch(words):
        length = _length_m(found[1], found[2], text)
        begin = _start(start, text)
        if toward is None or math.dist(begin, toward) == 0:
            raise BadInput(f"{quoted(text)} is a length alone; point which way it goes, or add a bearing (25 @ 90)")
        bearing = math.degrees(math.atan2(toward[0] - begin[0], toward[1] - begin[1]))
        return _along(begin, length, bearing, grid)
    raise BadInput(f"{quoted(text)} cannot be read as a place; {WAYS}")


def ground_to_grid(start: tuple[float, float], east_m: float, north_m: float, grid: Grid) -> tuple[float, float]:
    """Return where steps of ground metres lead on the grid; the scale is taken half-way.

    Parameters
    ----------
    start : tuple of float
        Where they begin. [m]
    east_m, north_m : float
        Steps towards grid east and grid north, metres of ground. [m]
    grid : Grid
        The farm's grid.
    """
    x, y = start
    scale = _scale(grid, x + east_m / 2, y + north_m / 2)
    return x + east_m * scale, y + north_m * scale


def _scale(grid: Grid, x: float, y: float) -> float:
    scale = grid.scale(x, y)
    return scale if math.isfinite(scale) and scale > 0 else 1.0


def _steps(start: tuple[float, float], east_m: float, north_m: float, grid: Grid) -> tuple[float, float]:
    if east_m == 0 and north_m == 0:
        raise BadInput("steps of 0 m lead nowhere; give how far east and north")
    if max(abs(east_m), abs(north_m)) > MOST_M:
        raise BadInput(f"steps go up to {MOST_M / 1000:g} km; look whether these are coordinates (E 1812000 N 5478000)")
    return ground_to_grid(start, east_m, north_m, grid)


def _along(start: tuple[float, float], length_m: float, bearing_deg: float, grid: Grid) -> tuple[float, float]:
    angle = math.radians(bearing_deg)
    return ground_to_grid(start, length_m * math.sin(angle), length_m * math.cos(angle), grid)


def _start(start: tuple[float, float] | None, text: str) -> tuple[float, float]:
    if start is None:
        raise BadInput(
            f"there is no corner yet to measure {quoted(text)} from; click the first one or write its coordinates"
        )
    return start


def _length_m(number: str, unit: str, text: str) -> float:
    if unit not in IN_METRES:
        raise BadInput(f"{quoted(text)}: {unit} is no unit of length here; write metres, such as 25 m")
    length = float(_point(number)) * IN_METRES[unit]
    if length <= 0:
        raise BadInput(f"{quoted(text)}: a length is more than 0 m")
    if length > MOST_M:
        raise BadInput(f"{quoted(text)}: a length is up to {MOST_M / 1000:g} km; look whether a point is missing")
    return length


def _bearing(number: str, text: str) -> float:
    bearing = float(_point(number))
    if not 0 <= bearing <= 360:
        raise BadInput(f"{quoted(text)}: a bearing is 0 to 360 degrees from grid north, clockwise")
    return bearing


def _point(number: str) -> str:
    return number.replace(",", ".")


def _coordinates(words: str) -> tuple[float, float] | None:
    """Return easting and northing, None if the words are no pair of them."""
    labelled = re.fullmatch(
        r"([en])[a-z]*[:=]?\s*(-?[\d.,\s\u00a0\u202f]+?)\s*m?[,;]?\s*([en])[a-z]*[:=]?\s*(-?[\d.,\s\u00a0\u202f]+?)\s*m?",
        words,
    )
    if labelled and labelled[1] != labelled[3]:
        pair = {labelled[1]: labelled[2], labelled[3]: labelled[4]}
        return _pair(pair["e"], pair["n"])
    trailing = re.fullmatch(
        r"(-?[\d.,\s\u00a0\u202f]+?)\s*m?\s*([en])[a-z]*[,;]?\s*(-?[\d.,\s\u00a0\u202f]+?)\s*m?\s*([en])[a-z]*", words
    )
    if trailing and trailing[2] != trailing[4]:
        pair = {trailing[2]: trailing[1], trailing[4]: trailing[3]}
        return _pair(pair["e"], pair["n"])
    for split in (r"\s*;\s*", r",\s+", r"\s{2,}", r"\s+", r","):
        numbers = [part for part in re.split(split, words) if part]
        if len(numbers) == 2 and (found := _pair(*numbers)) is not None:
            return found
    return _grouped(words)


def _pair(east: str, north: str) -> tuple[float, float] | None:
    x, y = _number(east), _number(north)
    return None if x is None or y is None else (x, y)


def _number(text: str) -> float | None:
    bare = _THOUSANDS.sub("", text.strip())
    if re.fullmatch(r"-?\d{1,3}(,\d{3})+(\.\d+)?", bare):
        bare = bare.replace(",", "")
    return float(_point(bare)) if re.fullmatch(rf"-?{_NUMBER}", bare) else None


def _grouped(words: str) -> tuple[float, float] | None:
    """Read two numbers written in groups of three digits: the second starts where the groups are shared out evenly."""
    groups = words.split()
    if len(groups) < 4 or not all(re.fullmatch(r"-?\d{1,3}([.,]\d+)?", group) for group in groups):
        return None
    fits = []
    for cut in range(1, len(groups)):
        east, north = groups[:cut], groups[cut:]
        whole = all(re.fullmatch(r"\d{3}([.,]\d+)?", group) for group in east[1:] + north[1:])
        if whole and not any(re.search(r"[.,]", group) for group in east[:-1] + north[:-1]):
            fits.append((abs(len(east) - len(north)), _pair("".join(east), "".join(north))))
    fits.sort(key=lambda fit: fit[0])
    if not fits or (len(fits) > 1 and fits[0][0] == fits[1][0]):
        return None
    return fits[0][1]


def _on_grid(place: tuple[float, float], grid: Grid, text: str) -> tuple[float, float]:
    if grid.local:
        return place
    lon, lat = grid.lon_lat([place[0]], [place[1]])
    area = grid.crs.area_of_use
    known = math.isfinite(lon[0]) and math.isfinite(lat[0])
    if known and area is not None:
        width = (area.east - area.west) % 360
        known = (lon[0] - area.west + 2) % 360 <= width + 4 and area.south - 2 <= lat[0] <= area.north + 2
    if not known:
        raise BadInput(
            f"{quoted(text)} does not lie on the farm's grid ({grid.label}); give east before north, in metres, "
            "or a length and a bearing as 25 @ 90"
        )
    return place
