"""GPX 1.1: the points, routes and tracks of a GPS."""

from __future__ import annotations

import math
from pathlib import Path
from xml.etree.ElementTree import Element

import shapely
from shapely.geometry.base import BaseGeometry

from farmmap.errors import BadInput
from farmmap.farm.grids import LON_LAT
from farmmap.files.sources.markup import child, children, parsed, text_of, word
from farmmap.files.sources.source import BadRow, Source, numbers_from_one, shapes_array, table_of

_TOLD = ("name", "cmt", "desc", "sym", "type")


def read_gpx(path: Path, content: bytes) -> Source:
    """Read GPX: a row for each point, route and track; the pieces of a track make one line of several parts.

    Raises
    ------
    BadInput
        It is broken off, no GPX, or holds nothing.
    """
    root = parsed(content, path, "GPX")
    if word(root) != "gpx":
        raise BadInput(f"{path.name} is XML, but not GPX")
    records: list[dict[str, str]] = []
    shapes: list[BaseGeometry | None] = []
    bad: list[BadRow] = []
    numbers: list[int] = []
    number = 0
    for element in root:
        kind = word(element)
        if kind not in {"wpt", "rte", "trk"}:
            continue
        number += 1
        record = _record(element)
        try:
            shapes.append(_shape(element, kind))
        except ValueError as error:
            bad.append(BadRow(number, str(error), record))
            continue
        records.append(record)
        numbers.append(number)
    if not number:
        raise BadInput(f"{path.name} is GPX without a point, route or track in it")
    return Source(
        path,
        "GPX",
        table_of(records),
        numbers_from_one(number)[[n - 1 for n in numbers]],
        shapes_array(shapes),
        LON_LAT,
        bad=tuple(bad),
    )


def _record(element: Element) -> dict[str, str]:
    record = {name: text_of(child(element, name)) for name in _TOLD}
    time = child(element, "time")
    if time is None:
        time = next((found for found in element.iter() if word(found) == "time"), None)
    record["time"] = text_of(time)
    return {name: text for name, text in record.items() if text}


def _shape(element: Element, kind: str) -> BaseGeometry | None:
    if kind == "wpt":
        return shapely.Point(_lon_lat(element))
    if kind == "rte":
        pieces = [[_lon_lat(point) for point in children(element, "rtept")]]
    else:
        pieces = [[_lon_lat(point) for point in children(part, "trkpt")] for part in children(element, "trkseg")]
    pieces = [piece for piece in pieces if piece]
    if not pieces:
        return None
    lines = [shapely.LineString(piece if len(piece) > 1 else piece * 2) for piece in pieces]
    return lines[0] if len(lines) == 1 else shapely.MultiLineString(lines)


def _lon_lat(point: Element) -> tuple[float, float]:
    try:
        lon, lat = float(point.attrib["lon"]), float(point.attrib["lat"])
    except (KeyError, ValueError) as error:
        raise ValueError("one of its points has no longitude and latitude") from error
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise ValueError("one of its points has no longitude and latitude")
    return lon, lat
