"""Real stem maps come in by `bring` with a block drawn around them; their figures equal what numpy alone makes of them."""

import csv
import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely

from farmmap.farm.farm import Farm, new_farm
from farmmap.figures.blocks import block_figures
from farmmap.files.bring import bring

DATA = Path(__file__).parent / "data"
EAST, NORTH = 1812000.0, 5478000.0
FOOT = 0.3048
DAY = dt.date(2026, 5, 31)
CLASS_CM = 5.0
BREAST_HEIGHT_M = 1.3

MAPS = {
    # name: metres for one of their units, window in metres, their heading for x, y and the diameter, cm in one of theirs
    "spruces": (1.0, (0, 0, 56, 38), {}, ("marks", 100.0)),
    "finpines": (1.0, (-5, -8, 5, 2), {}, ("diameter", 1.0)),
    "lansing": (924 * FOOT, (0, 0, 924 * FOOT, 924 * FOOT), {}, None),
    "nztrees": (FOOT, (0, 0, 153 * FOOT, 95 * FOOT), {"x_ft": "x", "y_ft": "y"}, None),
}


def numbers(name):
    """The columns of a stem map, read with the standard library alone."""
    with (DATA / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {head: [row[head] for row in rows] for head in rows[0]}


def source_of(name, tmp_path):
    """The stem map as it is; Lansing's unit square is first carried to metres, as a grower with a map would."""
    if name != "lansing":
        return DATA / f"{name}.csv"
    theirs = numbers(name)
    size = MAPS[name][0]
    path = tmp_path / "lansing_m.csv"
    lines = [
        f"{float(x) * size!r};{float(y) * size!r};{marks}"
        for x, y, marks in zip(theirs["x"], theirs["y"], theirs["marks"], strict=True)
    ]
    path.write_text("x;y;species\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def outline(name, tmp_path, corner, form):
    """The window of the stem map, as GeoJSON or well-known text on the farm's grid."""
    west, south, east, north = MAPS[name][1]
    box = shapely.box(corner[0] + west, corner[1] + south, corner[0] + east, corner[1] + north)
    if form == "csv":
        path = tmp_path / "block.csv"
        path.write_text(f'name,wkt\n{name},"{shapely.to_wkt(box, rounding_precision=-1)}"\n', encoding="utf-8")
        return path, box
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::2193"}}
    feature = {"type": "Feature", "properties": {"name": name}, "geometry": shapely.geometry.mapping(box)}
    path = tmp_path / "block.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]}), encoding="utf-8")
    return path, box


@pytest.fixture(params=[(name, place) for name in MAPS for place in ("local", "placed")], ids="-".join)
def stand(request, tmp_path):
    """A stem map on a farm of its own, with what numpy needs to know of it."""
    name, place = request.param
    corner = (0.0, 0.0) if place == "local" else (EAST, NORTH)
    farm = new_farm("Pipit Downs", "EPSG:2193")
    farm = Farm(replace(farm.settings, breast_height_m=BREAST_HEIGHT_M), farm.tables)  # as the saplings were measured
    path, box = outline(name, tmp_path, corner, "csv" if place == "local" else "geojson")
    first = bring(farm, path, "blocks")
    assert (first.read, first.came_in) == (1, 1)
    farm = first.edit.apply(farm)
    found = bring(
        farm,
        source_of(name, tmp_path),
        "trees",
        columns=MAPS[name][2],
        measured_on=DAY,
        origin=None if place == "local" else corner,
    )
    assert found.read == found.came_in
    assert not found.bad
    return name, place, found.edit.apply(farm), box, first.said + found.said


def diameters_cm(name):
    heads = MAPS[name][3]
    if heads is None:
        return np.empty(0)
    dbh = np.array(numbers(name)[heads[0]], float) * heads[1]
    height = np.array(numbers(name).get("height", np.full(len(dbh), 99.0)), float)
    return dbh[(dbh > 0) & (height >= BREAST_HEIGHT_M)]  # one sapling has a diameter, but is only 1.2 m high


def test_every_tree_stands_where_it_was_mapped(stand):
    name, place, farm, _, _ = stand
    theirs = numbers(name)
    corner = np.array((0.0, 0.0) if place == "local" else (EAST, NORTH))
    at = np.column_stack([np.array(theirs["x"], float), np.array(theirs["y"], float)]) * MAPS[name][0] + corner
    assert farm.trees[["x", "y"]].to_numpy() == pytest.approx(at, abs=1e-6)


def test_figures_equal_those_of_numpy_alone(stand):
    name, place, farm, box, _ = stand
    row = block_figures(farm, DAY, CLASS_CM).rows[0]
    dbh = diameters_cm(name)
    stems = len(numbers(name)["x"])
    assert row["stems"] == stems
    assert row["measured_percent"] == pytest.approx(100 * len(dbh) / stems)
    area_ha = row["net_area_ha"]
    if place == "placed":
        corners = np.array(box.exterior.coords)
        lon, lat = pyproj.Proj("EPSG:2193")(corners[:, 0], corners[:, 1], inverse=True)
        area_ha = abs(pyproj.Geod(ellps="GRS80").polygon_area_perimeter(lon, lat)[0]) / 10_000
        assert row["net_area_ha"] == pytest.approx(area_ha, rel=1e-9)
    assert row["stems_per_ha"] == pytest.approx(stems / area_ha)
    if not len(dbh):
        assert row["basal_area_m2_per_ha"] is None
        return
    basal = np.pi / 40_000 * dbh**2
    assert row["basal_area_m2_per_ha"] == pytest.approx(basal.sum() / area_ha)
    assert row["qmd_cm"] == pytest.approx(np.sqrt((dbh**2).mean()))
    got = {c["from_cm"]: c["stems"] for c in row["diameter_classes"] if c["stems"]}
    lower, counts = np.unique(np.floor(np.round(dbh, 9) / CLASS_CM) * CLASS_CM, return_counts=True)
    assert got == dict(zip(lower.tolist(), counts.tolist(), strict=True))


def test_what_was_taken_for_granted_is_said(stand):
    name, place, farm, _, said = stand
    said = " ".join(said)
    assert ("local coordinates" in said) is (place == "local")
    if name == "spruces":
        assert "taken as m." in said
    if name == "finpines":
        assert "8 rows have a diameter of 0" in said
        assert (farm.measurements["height_m"] < 1.3).sum() == 6
    if name == "lansing":
        _, counts = np.unique(farm.trees[["x", "y"]].to_numpy(), axis=0, return_counts=True)
        assert len(farm.trees) == 2251
        assert sorted(counts)[-2:] == [1, 2]
        assert len(farm.species) == 6
        rows = block_figures(farm, DAY).rows[0]["species"]
        assert sorted(r["stems"] for r in rows) == sorted(
            np.unique(numbers(name)["marks"], return_counts=True)[1].tolist()
        )


def test_river_lines_come_in_as_creeks_part_by_part():
    farm = new_farm("Pipit Downs", "EPSG:2154")
    found = bring(farm, DATA / "seine_lines.csv", "creeks")
    assert (found.read, found.came_in) == (658, 658)
    after = found.edit.apply(farm)
    theirs = numbers("seine_lines")
    lines = sorted({(a, b) for a, b in zip(theirs["line"], theirs["part"], strict=True)})
    assert len(after.creeks) == len(lines) == 3
    for shape, key in zip(after.creeks.geometry, lines, strict=True):
        mine = [(a, b) == key for a, b in zip(theirs["line"], theirs["part"], strict=True)]
        at = np.column_stack([np.array(theirs["x"], float)[mine], np.array(theirs["y"], float)[mine]])
        assert shapely.get_coordinates(shape) == pytest.approx(at)
