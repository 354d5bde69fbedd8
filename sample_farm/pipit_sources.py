"""Files as a grower would have them, for trying ``farmmap bring``: GPX, GeoJSON, KML and CSV of Pipit Downs."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pandas as pd
import shapely

from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, transform

TREES_BLOCK = "Walnut Rows"
BAD_ROWS = (
    ("WR990", "black walnut", "", "", "24.1", "11.5", "2013", "2026-04-24"),
    ("WR991", "black walnut", "1811712,40", "5477671,10", "about 20", "", "2013", "2026-04-24"),
    ("WR992", "black walnut", "1811715,20", "5477672,80", "-18,3", "", "2013", "2026-04-24"),
    ("WR993", "common walnut", "1811718,60", "5477674,00", "17,9", "", "2013", "2026-13-40"),
)
"""Rows that cannot be used: no place, no number, a diameter below nothing, no such day."""


def write_sources(farm: Farm, folder: Path) -> None:
    """Write boundary.gpx, blocks.geojson, creeks.kml and trees.csv into a folder."""
    folder.mkdir(exist_ok=True)
    _gpx(farm, folder / "boundary.gpx")
    _geojson(farm, folder / "blocks.geojson")
    _kml(farm, folder / "creeks.kml")
    _csv(farm, folder / "trees.csv")


def _lon_lat(farm: Farm, shape: object) -> list[list[float]]:
    x, y = shapely.get_coordinates(shape).T
    lon, lat = transform(x, y, farm.settings.epsg, LON_LAT)
    return np.round(np.column_stack([lon, lat]), 8).tolist()


def _gpx(farm: Farm, path: Path) -> None:
    walked = _lon_lat(farm, shapely.segmentize(farm.boundary.geometry.iloc[0].exterior, 25))
    points = "\n".join(f'      <trkpt lat="{lat:.7f}" lon="{lon:.7f}"/>' for lon, lat in walked)
    _write(path, [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="sample farm of farmmap" xmlns="http://www.topografix.com/GPX/1/1">',
        "  <trk>", f"    <name>{escape(farm.settings.name)} boundary</name>", "    <trkseg>", points, "    </trkseg>",
        "  </trk>", "</gpx>",
    ])  # fmt: skip


def _geojson(farm: Farm, path: Path) -> None:
    features = []
    for name, purpose, planted, stage, shape in farm.blocks[
        ["name", "purpose", "planted", "stage", "geometry"]
    ].itertuples(index=False):
        about = {"block": name, "purpose": purpose, "year": planted[:4], "stage": stage}
        ring = _lon_lat(farm, shapely.orient_polygons(shape).exterior)
        features.append({
            "type": "Feature", "properties": about, "geometry": {"type": "Polygon", "coordinates": [ring]},
        })  # fmt: skip
    rows = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    _write(path, ['{"type": "FeatureCollection", "features": [', rows, "]}"])


def _kml(farm: Farm, path: Path) -> None:
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<kml xmlns="http://www.opengis.net/kml/2.2">', "<Document>"]
    for name, channel_m, shape in farm.creeks[["name", "channel_m", "geometry"]].itertuples(index=False):
        places = " ".join(f"{lon:.8f},{lat:.8f},0" for lon, lat in _lon_lat(farm, shape))
        lines += [
            "<Placemark>", f"  <name>{escape(name)}</name>",
            f'  <ExtendedData><Data name="channel_m"><value>{channel_m}</value></Data></ExtendedData>',
            f"  <LineString><coordinates>{places}</coordinates></LineString>", "</Placemark>",
        ]  # fmt: skip
    _write(path, [*lines, "</Document>", "</kml>"])


def _csv(farm: Farm, path: Path) -> None:
    """Write a table with semicolons and decimal commas, as a spreadsheet set to another country would."""
    block = farm.blocks.geometry[farm.blocks["name"] == TREES_BLOCK].iloc[0]
    trees = farm.trees[shapely.contains_xy(block, farm.trees["x"], farm.trees["y"])]
    newest = farm.measurements.sort_values("measured_on", kind="stable").groupby("tree").last()
    trees = trees.join(newest[["measured_on", "dbh_cm", "height_m"]])
    names = farm.species.set_index("code")["name"]
    heads = ("Tag", "Species", "x", "y", "dbh_cm", "height_m", "planted", "measured_on")
    rows: list[Sequence[str]] = [
        (tree.tag, names[tree.species], f"{tree.x:.2f}", f"{tree.y:.2f}", _number(tree.dbh_cm), _number(tree.height_m),
         tree.planted[:4], "" if pd.isna(tree.measured_on) else f"{tree.measured_on:%Y-%m-%d}")
        for tree in trees.itertuples()
    ]  # fmt: skip
    for place, bad in zip((20, 75, 130, 185), BAD_ROWS, strict=True):
        rows.insert(place, bad)
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, delimiter=";", lineterminator="\n")
        table.writerow(heads)
        table.writerows(
            [value.replace(".", ",") if at in {2, 3, 4, 5} else value for at, value in enumerate(row)] for row in rows
        )


def _number(value: float) -> str:
    return "" if pd.isna(value) else f"{value:.1f}"


def _write(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
