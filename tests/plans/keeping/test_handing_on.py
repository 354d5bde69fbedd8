"""Pegging lists and orders handed on, read again by our own readers and by general libraries."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.farm.grids import transform
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.sources.delimited import read_delimited
from farmmap.files.sources.geojson import read_geojson
from farmmap.files.sources.geopackage import read_geopackage
from farmmap.files.sources.gpx import read_gpx
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.handing_on import ORDER_COLUMNS, PEGGING_COLUMNS, write_order, write_pegging
from farmmap.plans.planting.keeping.pegging import pegging
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.plan import Plants
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, Recipe, StockOrder, WidthRule, Zone
from tests.plans.counted_plan import counted_plan
from tests.plans.made_plan import made_plan
from tests.plans.meanders import creek_farm, sine_generated_creek

GPX = "{http://www.topografix.com/GPX/1/1}"
GPX_ORDER = ["metadata", "wpt", "rte", "trk", "extensions"]
POINT_ORDER = ["ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix"]
TRACK_ORDER = ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"]


@pytest.fixture
def plan(farm):
    return made_plan(farm)


def rising(names: list[str], order: list[str]) -> bool:
    places = [order.index(name) for name in names]
    return places == sorted(places)


def nearest_m(plan, lon, lat, epsg=2193) -> float:
    """Greatest distance of places on the earth from the plants of a plan, in grid m."""
    x, y = transform(np.asarray(lon, float), np.asarray(lat, float), 4326, epsg)
    plants = shapely.MultiPoint(np.column_stack([plan.plants.x, plan.plants.y]))
    return float(shapely.distance(plants, shapely.points(x, y)).max())


def test_plants_are_numbered_as_they_are_walked(plan, farm):
    pegs = pegging(plan, farm)
    assert len(pegs) == 80
    assert [pegs.lots[lot].zone for lot in pegs.lot[[0, 39, 40, 79]]] == ["Bank", "Bank", "Timber rows", "Timber rows"]
    assert pegs.row.tolist() == [1] * 20 + [2] * 20 + [1] * 20 + [2] * 20
    assert (np.diff(pegs.x[:20]) > 0).all()
    assert (np.diff(pegs.x[20:40]) < 0).all()  # back again
    steps = np.hypot(np.diff(pegs.x), np.diff(pegs.y))
    assert steps[:39].max() == pytest.approx(2.0)
    assert {lot.code for lot in pegs.lots} >= {"TOTA", "REDW"}


def test_plants_in_no_rows_are_walked_to_in_lanes(plan, farm):
    random = np.random.default_rng(5)
    count = 400
    bank = plan.banks[0]
    west, south, east, _ = bank.bounds
    x, y = random.uniform(west, east, count), random.uniform(south, south + 8, count)
    none = np.zeros(count, np.intp)
    loose = replace(plan, plants=Plants(x, y, none, none, none - 1))
    pegs = pegging(loose, farm)
    walked = np.hypot(np.diff(pegs.x), np.diff(pegs.y)).sum()
    as_they_came = np.hypot(np.diff(x), np.diff(y)).sum()
    assert walked < as_they_came / 3
    assert (pegs.row == 0).all()
    assert sorted(zip(pegs.x, pegs.y, strict=True)) == sorted(zip(x, y, strict=True))


def zones_read(path) -> list[tuple[dict, shapely.Geometry]]:
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    zones = [feature for feature in features if feature["properties"]["kind"] == "zone"]
    return [(zone["properties"], shapely.from_geojson(json.dumps(zone["geometry"]))) for zone in zones]


def test_zones_stay_sound_when_rounded(plan, farm, tmp_path):
    """A slit narrower than a millimetre closes once longitudes and latitudes are rounded, and would cross itself."""
    path = tmp_path / "pegs.geojson"
    west, south, east, north = plan.strips[0].outline.bounds
    middle = (west + east) / 2
    slits = [
        shapely.Polygon([(middle + at, north + 1), (middle + at + 2e-4, north + 1), (middle + at + 3, south + 1)])
        for at in np.arange(-8.0, 8.0)
    ]
    slit = shapely.difference(shapely.box(west, south, east, north), shapely.union_all(slits))
    assert slit.is_valid
    write_pegging(replace(plan, strips=(replace(plan.strips[0], outline=slit), *plan.strips[1:])), farm, path)
    zones = zones_read(path)
    assert len(zones) == len(plan.strips)
    for _, shape in zones:
        assert shape.is_valid
        assert shape.geom_type in {"Polygon", "MultiPolygon"}
        at = shapely.get_coordinates(shape)
        assert (np.round(at, 8) == at).all()
    back = shapely.transform(zones[0][1], lambda at: np.column_stack(transform(*at.T, 4326, 2193)))
    assert back.area == pytest.approx(slit.area, abs=0.2)


@pytest.mark.parametrize("angle_deg", [60, 85, 105])
def test_zones_along_meanders_are_sound(angle_deg, tmp_path):
    farm = creek_farm(sine_generated_creek(600, 301, angle_deg), 2.0)
    zones = tuple(
        Zone(name, width_m=width_m, pattern=Pattern.SQUARE, between_m=6.0, within_m=6.0, mix=(Kin("mānuka", 1.0),))
        for name, width_m in (("Edge", 3.0), ("Rows", 6.0), ("Scatter", 3.0))
    )
    recipe = Recipe(title="Three zones", widths=(WidthRule(width_m=12.0),), zones=zones)
    made = make_plan(farm, Stretch("Sedge Creek", ("left", "right")), recipe)
    path = tmp_path / "pegs.geojson"
    write_pegging(made, farm, path)
    found = zones_read(path)
    assert len(found) == 6
    for strip, (said, shape) in zip(made.strips, found, strict=True):
        assert shape.is_valid
        back = shapely.transform(shape, lambda at: np.column_stack(transform(*at.T, 4326, 2193)))
        assert back.area == pytest.approx(strip.outline.area, rel=1e-3)
        assert said["area_m2"] == pytest.approx(strip.area_m2, abs=0.1)


def test_gpx(plan, farm, tmp_path):
    path = tmp_path / "pegs.gpx"
    write_pegging(replace(plan, name="Lower <Sedge> & \x07co"), farm, path)
    root = ET.parse(path).getroot()
    assert (root.tag, root.get("version"), root.get("creator")) == (f"{GPX}gpx", "1.1", "farmmap")
    assert rising([child.tag.removeprefix(GPX) for child in root], GPX_ORDER)
    for kind, order in (("wpt", POINT_ORDER), ("trk", TRACK_ORDER)):
        for element in root.findall(f"{GPX}{kind}"):
            assert rising([child.tag.removeprefix(GPX) for child in element], order)
    assert root.find(f"{GPX}metadata/{GPX}name").text == "Lower <Sedge> & co"
    points = root.findall(f"{GPX}wpt")
    plants = [point for point in points if point.find(f"{GPX}type").text == "plant"]
    assert len(plants) == 80
    assert plants[0].find(f"{GPX}name").text.startswith("1/1 ")
    assert plants[40].find(f"{GPX}name").text == "1/41 REDW"
    assert plants[40].find(f"{GPX}desc").text == "left bank, Timber rows, coast redwood, seedling"
    assert nearest_m(plan, [p.get("lon") for p in plants], [p.get("lat") for p in plants]) < 0.002
    assert [p.find(f"{GPX}type").text for p in points[80:]] == ["gate", "trough"]
    assert len(root.findall(f"{GPX}trk/{GPX}trkseg/{GPX}trkpt")) == 2


def test_gpx_read_again(plan, farm, tmp_path):
    path = tmp_path / "pegs.gpx"
    write_pegging(plan, farm, path)
    source = read_gpx(path, path.read_bytes())
    assert source.read == 83
    assert not source.bad
    waypoints = gpd.read_file(path, layer="waypoints")
    tracks = gpd.read_file(path, layer="tracks")
    assert (len(waypoints), len(tracks)) == (82, 1)
    assert tracks["name"].tolist() == ["Fence 1, left bank"]


def test_geojson(plan, farm, tmp_path):
    path = tmp_path / "pegs.geojson"
    write_pegging(plan, farm, path)
    whole = json.loads(path.read_text(encoding="utf-8"))
    assert whole["type"] == "FeatureCollection"
    assert "crs" not in whole  # RFC 7946 has longitude and latitude only
    kinds = [feature["properties"]["kind"] for feature in whole["features"]]
    assert [kinds.count(kind) for kind in ("zone", "fence", "gate", "trough", "plant")] == [2, 1, 1, 1, 80]
    frame = gpd.read_file(path)
    plants = frame[frame["kind"] == "plant"]
    assert nearest_m(plan, plants.geometry.x, plants.geometry.y) < 0.002
    assert plants["number"].tolist() == list(range(1, 81))
    zones = frame[frame["kind"] == "zone"]
    assert all(shapely.is_ccw(shape.exterior) for shape in zones.geometry)
    assert zones.to_crs(2193).area.tolist() == pytest.approx([s.outline.area for s in plan.strips], rel=1e-4)
    assert read_geojson(path, path.read_bytes()).read == 85


def test_a_ring_round_both_banks_is_named_so(farm, tmp_path):
    """Beside the ring, a fence of one bank keeps its name; so do gates and floodgates."""
    plan = made_plan(farm)
    (left,) = (shapely.union_all([strip.outline for strip in plan.strips]),)
    right = shapely.transform(left, lambda at: at - [0, 14])
    around = shapely.union_all([left, right]).envelope.buffer(1, join_style="mitre").exterior
    ring = replace(plan.fences[0], side=1, line=shapely.LineString(around.coords), angles_deg=np.zeros(5))
    both = replace(
        plan, strips=(*plan.strips, replace(plan.strips[0], side=1, outline=right)), fences=(ring, *plan.fences)
    )
    for name in ("p.gpx", "p.geojson", "p.gpkg"):
        write_pegging(both, farm, tmp_path / name)
    named = [track.find(f"{GPX}name").text for track in ET.parse(tmp_path / "p.gpx").getroot().iter(f"{GPX}trk")]
    assert named == ["Fence 1, both banks", "Fence 2, left bank"]
    features = json.loads((tmp_path / "p.geojson").read_text(encoding="utf-8"))["features"]
    assert [one["properties"]["bank"] for one in features if one["properties"]["kind"] == "fence"] == ["both", "left"]
    assert gpd.read_file(tmp_path / "p.gpkg", layer="fence")["bank"].tolist() == ["both", "left"]
    assert set(gpd.read_file(tmp_path / "p.gpkg", layer="gates")["bank"]) == {"both", "left"}


def test_sides_are_those_looking_downstream(tmp_path):
    """Along a creek that runs east the left bank lies to the north, whatever the file."""
    farm = creek_farm(shapely.LineString([(1_812_000, 5_478_000), (1_812_100, 5_478_000)]))
    recipe = Recipe(
        "",
        (WidthRule(width_m=8.0),),
        (Zone("Bank", share=1.0, between_m=2.0, within_m=2.0, mix=(Kin("tōtara", 1.0),)),),
    )
    plan = make_plan(farm, Stretch("Sedge Creek", ("left", "right")), recipe)
    write_pegging(plan, farm, tmp_path / "p.csv")
    write_pegging(plan, farm, tmp_path / "p.geojson")
    write_pegging(plan, farm, tmp_path / "p.gpkg")
    write_pegging(plan, farm, tmp_path / "p.gpx")
    with (tmp_path / "p.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["bank"] for row in rows} == {"left", "right"}
    assert all((float(row["y"]) > 5_478_000) == (row["bank"] == "left") for row in rows)
    for layer in ("plants", "zones", "fence", "gates"):
        found = gpd.read_file(tmp_path / "p.gpkg", layer=layer)
        north = found.geometry.representative_point().y > 5_478_000
        assert (north == (found["bank"] == "left")).all()
    banks = gpd.read_file(tmp_path / "p.geojson").to_crs(2193)
    banks = banks[banks["bank"].notna()]
    assert ((banks.geometry.representative_point().y > 5_478_000) == (banks["bank"] == "left")).all()
    for track in ET.parse(tmp_path / "p.gpx").getroot().iter(f"{GPX}trk"):
        points = list(track.iter(f"{GPX}trkpt"))
        _, y = transform(*(np.array([float(at.get(key)) for at in points]) for key in ("lon", "lat")), 4326, 2193)
        assert ("left" in track.find(f"{GPX}name").text) == (y.mean() > 5_478_000)


def test_csv(plan, farm, tmp_path):
    path = tmp_path / "pegs.csv"
    write_pegging(plan, farm, path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == PEGGING_COLUMNS
    assert [row["number"] for row in rows] == [str(number) for number in range(1, 81)]
    assert nearest_m(plan, [float(r["lon"]) for r in rows], [float(r["lat"]) for r in rows]) < 0.002
    pegs = pegging(plan, farm)
    assert [float(row["x"]) for row in rows] == pytest.approx(pegs.x.tolist(), abs=5e-4)
    assert {row["name"] for row in rows} >= {"tōtara", "coast redwood"}
    source = read_delimited(path, path.read_bytes())
    assert source.read == 80
    assert source.column("stock").tolist() == [row["stock"] for row in rows]


def test_geopackage(plan, farm, tmp_path):
    path = tmp_path / "pegs.gpkg"
    write_pegging(plan, farm, path)
    assert [name for name, _ in pyogrio.list_layers(path)] == ["plants", "zones", "fence", "gates"]
    layers = {name: gpd.read_file(path, layer=name) for name in ("plants", "zones", "fence", "gates")}
    assert {frame.crs.to_epsg() for frame in layers.values()} == {2193}
    assert [len(frame) for frame in layers.values()] == [80, 2, 1, 2]
    pegs = pegging(plan, farm)
    assert layers["plants"].geometry.x.tolist() == pegs.x.tolist()
    assert layers["fence"].geometry.iloc[0].equals(plan.fences[0].line)
    assert layers["fence"]["posts"].tolist() == [7]
    assert layers["gates"]["kind"].tolist() == ["gate", "trough"]
    near = gpd.read_file(path, layer="plants", bbox=tuple(shapely.Point(pegs.x[7], pegs.y[7]).buffer(0.5).bounds))
    assert len(near) == 1  # by the spatial index
    assert read_geopackage(path, "plants").read == 80


def test_a_planting_without_plants_and_fences(plan, farm, tmp_path):
    none = np.zeros(0)
    nothing = np.zeros(0, np.intp)
    empty = replace(plan, plants=Plants(none, none, nothing, nothing, nothing), fences=(), strips=())
    for ending in ("gpx", "geojson", "csv", "gpkg"):
        write_pegging(empty, farm, tmp_path / f"none.{ending}")
    assert [len(gpd.read_file(tmp_path / "none.gpkg", layer=name)) for name in ("plants", "zones")] == [0, 0]


def test_a_farm_measured_from_a_corner_post(plan, farm, tmp_path):
    local = replace(farm)
    at = plan.plants
    near = replace(plan, plants=replace(at, x=at.x - 1_812_000, y=at.y - 5_478_000))
    object.__setattr__(local, "grid", replace(farm.grid, local=True))
    with pytest.raises(BadInput, match="corner post"):
        write_pegging(near, local, tmp_path / "pegs.gpx")
    write_pegging(near, local, tmp_path / "pegs.csv")
    with (tmp_path / "pegs.csv").open(encoding="utf-8-sig", newline="") as file:
        first = next(csv.DictReader(file))
    assert (first["x"], first["lat"], first["lon"]) == (f"{near.plants.x[0]:.3f}", "", "")
    write_pegging(near, local, tmp_path / "pegs.gpkg")
    assert len(gpd.read_file(tmp_path / "pegs.gpkg", layer="plants")) == 80


def test_bad_places(plan, farm, tmp_path):
    with pytest.raises(BadInput, match=r"end its name in \.gpx"):
        write_pegging(plan, farm, tmp_path / "pegs.shp")
    with pytest.raises(BadInput, match="cannot be written"):
        write_pegging(plan, farm, tmp_path / "nowhere" / "pegs.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(BadInput, match="is a folder"):
        write_pegging(plan, farm, tmp_path / "folder.csv")
    assert not list(tmp_path.glob("*.part"))


def test_a_farm_file_is_never_written_over(plan, farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    before = path.read_bytes()
    with pytest.raises(BadInput, match="holds something else"):
        write_pegging(plan, farm, path)
    disguised = tmp_path / "farm.csv"
    disguised.write_bytes(before)
    for write in (lambda: write_pegging(plan, farm, disguised), lambda: write_order(plan, disguised)):
        with pytest.raises(BadInput, match="holds something else"):
            write()
    assert path.read_bytes() == disguised.read_bytes() == before
    assert len(read_farm(path).trees) == len(farm.trees)


def test_what_was_handed_on_is_replaced(plan, farm, tmp_path):
    for ending in ("gpx", "geojson", "csv", "gpkg"):
        path = tmp_path / f"pegs.{ending}"
        write_pegging(plan, farm, path)
        write_pegging(made_plan(farm, columns=3), farm, path)
    assert len(gpd.read_file(tmp_path / "pegs.gpkg", layer="plants")) == 12
    assert sorted(path.name for path in tmp_path.iterdir()) == ["pegs.csv", "pegs.geojson", "pegs.gpkg", "pegs.gpx"]


def test_a_failed_write_leaves_what_was_there(plan, farm, tmp_path, monkeypatch):
    path = tmp_path / "pegs.csv"
    path.write_text("kept", encoding="utf-8")

    def full(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("farmmap.plans.planting.keeping.handing_on.put_in_place", full)
    with pytest.raises(BadInput, match="No space left"):
        write_pegging(plan, farm, path)
    assert path.read_text(encoding="utf-8") == "kept"
    assert [found.name for found in tmp_path.iterdir()] == ["pegs.csv"]


def test_order(tmp_path):
    orders = {"seedling": StockOrder(lost_percent=20, pack=40, price=1.5), "pole": StockOrder(pack=5, price=9)}
    plan = counted_plan(
        [[("TOTA", "seedling", 50), ("willow", "pole", 12)], [("TOTA", "seedling", 30)]], orders, prices={"tota": 2.25}
    )
    path = tmp_path / "order.csv"
    write_order(plan, path)
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == ORDER_COLUMNS
    assert [(row["zone"], row["stock"], row["plants"]) for row in rows] == [
        ("Zone 1", "seedling", "50"),
        ("Zone 1", "pole", "12"),
        ("Zone 2", "seedling", "30"),
    ]
    tota = [row for row in rows if row["stock"] == "seedling"]
    assert sum(int(row["to_order"]) for row in tota) == 120  # 80 / 0.8 = 100, 3 trays of 40
    assert sum(float(row["packs"]) for row in tota) == pytest.approx(3, abs=1e-3)
    assert {row["lost_percent"] for row in tota} == {"20"}
    assert [row["price"] for row in rows] == ["2.25", "9", "2.25"]
    assert rows[1]["to_order"] == "15"
