"""KML 2.2: placemarks in folders, with what was written about them."""

from __future__ import annotations

import io
import math
import re
import zipfile
import zlib
from pathlib import Path
from xml.etree.ElementTree import Element

import shapely
from shapely.geometry.base import BaseGeometry

from farmmap.errors import BadInput
from farmmap.farm.grids import LON_LAT
from farmmap.files.sources.markup import child, children, parsed, text_of, word
from farmmap.files.sources.source import BadRow, Source, numbers_from_one, shapes_array, table_of

LARGEST_UNPACKED = 2**29
"""More than this in one packed KML is taken for a trap. [bytes]"""

_SHAPES = ("Point", "LineString", "LinearRing", "Polygon", "MultiGeometry")


def read_kml(path: Path, content: bytes) -> Source:
    """Read KML: a row for each placemark.

    Raises
    ------
    BadInput
        It is broken off, no KML, or holds no placemark.
    """
    root = parsed(content, path, "KML")
    if word(root) not in {"kml", "Document", "Folder", "Placemark"}:
        raise BadInput(f"{path.name} is XML, but not KML")
    placemarks: list[tuple[Element, str]] = []
    _gather(root, "", placemarks)
    if not placemarks:
        raise BadInput(f"{path.name} is KML without a placemark in it")
    records: list[dict[str, str]] = []
    shapes: list[BaseGeometry | None] = []
    bad: list[BadRow] = []
    numbers: list[int] = []
    for number, (placemark, folder) in enumerate(placemarks, start=1):
        record = _record(placemark, folder)
        try:
            shapes.append(_shape_of(placemark))
        except (ValueError, shapely.errors.ShapelyError) as error:
            bad.append(BadRow(number, str(error), record))
            continue
        records.append(record)
        numbers.append(number)
    return Source(
        path,
        "KML",
        table_of(records),
        numbers_from_one(len(placemarks))[[n - 1 for n in numbers]],
        shapes_array(shapes),
        LON_LAT,
        bad=tuple(bad),
    )


def read_packed_kml(path: Path, content: bytes) -> Source:
    """Read KMZ, which is KML in a zip.

    Raises
    ------
    BadInput
        It is damaged, holds no KML, or swells beyond all measure.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            unpacked = _unpacked(packed, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as error:
        raise BadInput(f"{path.name} is a damaged zip; fetch it again") from error
    return read_kml(path, unpacked)


def _unpacked(packed: zipfile.ZipFile, path: Path) -> bytes:
    inside = [info for info in packed.infolist() if info.filename.casefold().endswith(".kml")]
    if not inside:
        raise BadInput(f"{path.name} is a zip without a KML in it; unpack it and bring the file you want")
    if inside[0].file_size > LARGEST_UNPACKED:
        raise BadInput(f"{path.name} unpacks to more than {LARGEST_UNPACKED // 2**20} MB; not read")
    return packed.read(inside[0])


def _gather(element: Element, folder: str, found: list[tuple[Element, str]]) -> None:
    waiting = [(element, folder)]
    while waiting:
        current, within = waiting.pop()
        if word(current) == "Placemark":
            found.append((current, within))
            continue
        name = text_of(child(current, "name")) if word(current) == "Folder" else ""
        waiting.extend((part, name or within) for part in reversed(current))


def _record(placemark: Element, folder: str) -> dict[str, str]:
    record = {"name": text_of(child(placemark, "name"))}
    description = child(placemark, "description")
    record["description"] = " ".join(re.sub(r"<[^>]*>", " ", text_of(description)).split())
    for extended in children(placemark, "ExtendedData"):
        for data in extended.iter():
            if word(data) == "Data":
                record[data.get("name", "data")] = text_of(child(data, "value"))
            elif word(data) == "SimpleData":
                record[data.get("name", "data")] = text_of(data)
    stamp = child(placemark, "TimeStamp")
    if stamp is not None:
        record.setdefault("time", text_of(child(stamp, "when")))
    if folder:
        record.setdefault("folder", folder)
    return {name: text for name, text in record.items() if text}


def _shape_of(placemark: Element) -> BaseGeometry | None:
    found = [part for part in placemark if word(part) in _SHAPES]
    return _shape(found[0]) if found else None


def _shape(element: Element) -> BaseGeometry | None:
    match word(element):
        case "Point":
            corners = _corners(element)
            return shapely.Point(corners[0]) if corners else None
        case "LineString":
            corners = _corners(element)
            if len(corners) < 2:
                raise ValueError("a line needs two points")
            return shapely.LineString(corners)
        case "LinearRing":
            return shapely.Polygon(_ring(element))
        case "Polygon":
            outer = child(element, "outerBoundaryIs")
            if outer is None:
                raise ValueError("an outline without its outer boundary")
            holes = [_ring(child(inner, "LinearRing")) for inner in children(element, "innerBoundaryIs")]
            return shapely.Polygon(_ring(child(outer, "LinearRing")), holes)
        case _:
            parts = [_shape(part) for part in element if word(part) in _SHAPES]
            return _together([part for part in parts if part is not None])


def _together(parts: list[BaseGeometry]) -> BaseGeometry | None:
    if len(parts) < 2:
        return parts[0] if parts else None
    kinds = {part.geom_type for part in parts}
    if kinds == {"Polygon"}:
        return shapely.MultiPolygon([part for part in parts if isinstance(part, shapely.Polygon)])
    if kinds == {"LineString"}:
        return shapely.MultiLineString([shapely.get_coordinates(part) for part in parts])
    if kinds == {"Point"}:
        return shapely.MultiPoint(shapely.get_coordinates(parts))
    return shapely.GeometryCollection(parts)


def _ring(element: Element | None) -> list[tuple[float, float]]:
    corners = [] if element is None else _corners(element)
    if len(corners) < 3:
        raise ValueError("an outline needs three corners")
    return corners


def _corners(element: Element) -> list[tuple[float, float]]:
    corners: list[tuple[float, float]] = []
    for tuple_text in re.sub(r"\s*,\s*", ",", text_of(child(element, "coordinates"))).split():
        try:
            lon, lat = (float(part) for part in tuple_text.split(",")[:2])
        except ValueError as error:
            raise ValueError(f"'{tuple_text[:40]}' is no longitude and latitude") from error
        if not (math.isfinite(lon) and math.isfinite(lat)):
            raise ValueError(f"'{tuple_text[:40]}' is no longitude and latitude")
        corners.append((lon, lat))
    return corners
