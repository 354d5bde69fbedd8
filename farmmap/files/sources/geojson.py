"""GeoJSON as RFC 7946 has it: features with properties, always in longitude and latitude."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from farmmap.errors import BadInput, GridError
from farmmap.farm.grids import LON_LAT, parse_grid
from farmmap.files.sources.source import BadRow, Source, numbers_from_one, shapes_array, table_of
from farmmap.files.sources.text import decoded

_GEOMETRY_TYPES = ("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon")


def read_geojson(path: Path, content: bytes) -> Source:
    """Read GeoJSON: a FeatureCollection, one Feature, or a bare geometry.

    An old ``crs`` member is honoured and said, though the standard of today has none.

    Raises
    ------
    BadInput
        It is broken off, or is JSON of another kind.
    """
    text, _ = decoded(content, path)
    try:
        whole = json.loads(text)
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{path.name} is broken GeoJSON at line {error.lineno}: {error.msg}. It may be cut short; fetch it again"
        ) from error
    except (RecursionError, ValueError) as error:
        raise BadInput(
            f"{path.name} is not GeoJSON that can be read: its brackets or numbers are out of all bounds"
        ) from error
    features = _features(whole, path)
    said: list[str] = []
    epsg = _old_crs(whole, path, said)
    records: list[dict[str, str]] = []
    shapes: list[BaseGeometry | None] = []
    bad: list[BadRow] = []
    numbers: list[int] = []
    for number, feature in enumerate(features, start=1):
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            bad.append(BadRow(number, "is no GeoJSON feature", {"json": json.dumps(feature)[:500]}))
            continue
        record = _record(feature)
        try:
            shapes.append(_shape(feature.get("geometry")))
        except (ValueError, TypeError, AttributeError, KeyError, shapely.errors.ShapelyError) as error:
            reason = str(error) if isinstance(error, _OddShape) else "its coordinates are not as GeoJSON writes them"
            bad.append(BadRow(number, reason, record))
            continue
        records.append(record)
        numbers.append(number)
    return Source(
        path,
        "GeoJSON",
        table_of(records),
        numbers_from_one(len(features))[[n - 1 for n in numbers]],
        shapes_array(shapes),
        epsg or LON_LAT,
        by_standard=epsg is None,
        bad=tuple(bad),
        said=tuple(said),
    )


class _OddShape(ValueError):
    """A geometry that cannot be made, with the reason in words."""


def _features(whole: Any, path: Path) -> list[Any]:
    kind = whole.get("type") if isinstance(whole, dict) else None
    if kind == "FeatureCollection":
        features = whole.get("features")
        if not isinstance(features, list):
            raise BadInput(f"{path.name} is GeoJSON without its list of features")
        if not features:
            raise BadInput(f"{path.name} holds no features")
        return features
    if kind == "Feature":
        return [whole]
    if kind in _GEOMETRY_TYPES:
        return [{"type": "Feature", "properties": {}, "geometry": whole}]
    if kind == "GeometryCollection":
        parts = whole.get("geometries")
        if isinstance(parts, list) and parts:
            return [{"type": "Feature", "properties": {}, "geometry": part} for part in parts]
    raise BadInput(f"{path.name} is JSON, but not GeoJSON: it has no features")


def _record(feature: Mapping[str, Any]) -> dict[str, str]:
    properties = feature.get("properties")
    record = {str(k): _written(v) for k, v in properties.items()} if isinstance(properties, dict) else {}
    if "id" in feature and "id" not in record:
        record["id"] = _written(feature["id"])
    return record


def _written(value: Any) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case str():
            return value
        case float() | int():
            return repr(value)
        case _:
            return json.dumps(value, ensure_ascii=False)


def _shape(geometry: Any) -> BaseGeometry | None:
    if geometry is None:
        return None
    if not isinstance(geometry, dict):
        raise _OddShape("its geometry is no GeoJSON geometry")
    kind = geometry.get("type")
    if kind == "GeometryCollection":
        return shapely.GeometryCollection([_shape(part) for part in geometry["geometries"]])
    if kind not in _GEOMETRY_TYPES:
        raise _OddShape(f"'{str(kind)[:40]}' is no kind of GeoJSON geometry")
    return _MAKERS[kind](geometry["coordinates"])


def _xy(position: Any) -> tuple[float, float]:
    if not isinstance(position, list) or len(position) < 2:
        raise _OddShape("a position needs two numbers")
    x, y = position[0], position[1]
    if isinstance(x, bool) or isinstance(y, bool) or not isinstance(x, int | float) or not isinstance(y, int | float):
        raise _OddShape("a position needs two numbers")
    try:
        return float(x), float(y)
    except OverflowError as error:
        raise _OddShape("a coordinate is out of all bounds") from error


def _line(coordinates: Any) -> shapely.LineString:
    if len(coordinates) < 2:
        raise _OddShape("a line needs two points")
    return shapely.LineString([_xy(c) for c in coordinates])


def _polygon(rings: Any) -> shapely.Polygon:
    if not rings:
        raise _OddShape("an outline without corners")
    corners = [[_xy(c) for c in ring] for ring in rings]
    if any(len(ring) < 3 for ring in corners):
        raise _OddShape("an outline needs three corners")
    return shapely.Polygon(corners[0], corners[1:])


def _point(position: Any) -> shapely.Point:
    return shapely.Point(_xy(position)) if position else shapely.Point()


_MAKERS: dict[str, Callable[[Any], BaseGeometry]] = {
    "Point": _point,
    "MultiPoint": lambda positions: shapely.MultiPoint([_xy(position) for position in positions]),
    "LineString": _line,
    "MultiLineString": lambda lines: shapely.MultiLineString([_line(line) for line in lines]),
    "Polygon": _polygon,
    "MultiPolygon": lambda polygons: shapely.MultiPolygon([_polygon(rings) for rings in polygons]),
}


def _old_crs(whole: Mapping[str, Any], path: Path, said: list[str]) -> int | None:
    crs = whole.get("crs")
    if not isinstance(crs, dict):
        return None
    properties = crs.get("properties")
    name = str(properties.get("name", "")) if isinstance(properties, dict) else ""
    if name.upper().endswith("CRS84"):
        return None
    digits = re.search(r"EPSG:+(?:[\d.]*:)?(\d+)$", name, re.IGNORECASE)
    try:
        epsg = parse_grid(digits[1]) if digits else None
    except GridError:
        epsg = None
    if epsg is None:
        said.append(f"{path.name} names a grid '{name[:60]}' that is not known; longitude and latitude are taken.")
    elif epsg != LON_LAT:
        said.append(f"{path.name} says that it is on EPSG:{epsg}, and is taken so.")
    return epsg
