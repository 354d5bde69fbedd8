"""Readers: what each format may hold, and what is said of files that are broken."""

import io
import json
import zipfile

import geopandas as gpd
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.files.bring import read_source

GPX = """<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="-40.8" lon="175.6"><ele>12</ele><name>12</name></wpt>
<rte><name>r</name><rtept lat="-40.8" lon="175.6"/><rtept lat="-40.81" lon="175.61"/></rte>
<trk><name>walk</name><trkseg><trkpt lat="-40.8" lon="175.6"><ele>3</ele><time>2020-05-01T10:00:00Z</time></trkpt>
<trkpt lat="-40.8" lon="175.7"/></trkseg><trkseg><trkpt lat="-40.9" lon="175.7"/><trkpt lat="-40.9" lon="175.6"/></trkseg></trk>
</gpx>"""
KML = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>Blocks</name>
<Placemark><name>North</name><description>&lt;b&gt;steep&lt;/b&gt;</description><ExtendedData>
<Data name="planted"><value>2004</value></Data><SchemaData><SimpleData name="purpose">timber</SimpleData></SchemaData></ExtendedData>
<Polygon><outerBoundaryIs><LinearRing><coordinates>175.6,-40.8,0 175.61,-40.8,0 175.61,-40.81,0 175.6,-40.8,0</coordinates>
</LinearRing></outerBoundaryIs><innerBoundaryIs><LinearRing><coordinates>175.605,-40.801 175.608,-40.801 175.608,-40.803 175.605,-40.801
</coordinates></LinearRing></innerBoundaryIs></Polygon></Placemark></Folder>
<Placemark><name>m</name><MultiGeometry><Point><coordinates>175.6,-40.8</coordinates></Point><Point><coordinates>175.7,-40.8</coordinates></Point></MultiGeometry></Placemark>
<Placemark><name>l</name><LineString><coordinates>175.6,-40.8 175.7,-40.8</coordinates></LineString></Placemark>
<Placemark><name>bad</name><LineString><coordinates>175.6,-40.8</coordinates></LineString></Placemark>
</Document></kml>"""


def test_gpx_keeps_points_routes_and_the_pieces_of_a_track(put):
    source = read_source(put("a.gpx", GPX))
    assert source.kind == "GPX"
    assert source.epsg == 4326
    assert [shape.geom_type for shape in source.geometry] == ["Point", "LineString", "MultiLineString"]
    assert not shapely.has_z(source.geometry).any()
    assert source.rows["name"].tolist() == ["12", "r", "walk"]
    assert source.rows["time"].iloc[2] == "2020-05-01T10:00:00Z"


def test_kml_keeps_holes_data_and_folders(put):
    source = read_source(put("a.kml", KML))
    assert [shape.geom_type for shape in source.geometry] == ["Polygon", "MultiPoint", "LineString"]
    assert len(source.geometry[0].interiors) == 1
    first = source.rows.iloc[0]
    assert (first["planted"], first["purpose"], first["description"], first["folder"]) == (
        "2004",
        "timber",
        "steep",
        "Blocks",
    )
    assert [row.row_number for row in source.bad] == [4]
    assert source.read == 4


def test_kmz_is_unpacked(put):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        file.writestr("doc.kml", KML)
    assert len(read_source(put("a.kmz", packed.getvalue())).rows) == 3


def test_geojson_of_every_shape(put):
    shapes = [
        "POINT (1 2)", "MULTIPOINT (1 2, 3 4)", "LINESTRING (1 2, 3 4)", "MULTILINESTRING ((1 2, 3 4), (5 6, 7 8))",
        "POLYGON ((0 0, 4 0, 4 4, 0 0), (1 0.5, 2 0.5, 2 1, 1 0.5))", "MULTIPOLYGON (((0 0, 4 0, 4 4, 0 0)))",
        "GEOMETRYCOLLECTION (POINT (1 2), LINESTRING (1 2, 3 4))",
    ]  # fmt: skip
    made = shapely.from_wkt(shapes)
    features = [
        {
            "type": "Feature",
            "id": number,
            "properties": {"n": number, "t": True, "x": None},
            "geometry": shapely.geometry.mapping(shape),
            "foreign": [1],
        }
        for number, shape in enumerate(made)
    ]
    features.append({"type": "Feature", "properties": None, "geometry": None})
    source = read_source(put("a.json", json.dumps({"type": "FeatureCollection", "features": features, "more": {}})))
    assert shapely.equals_exact(source.geometry[:-1], made).all()
    assert source.geometry[-1] is None
    assert source.rows["t"].tolist() == ["yes"] * 7 + [""]


def test_a_bare_geometry_is_geojson_too(put):
    assert len(read_source(put("a.geojson", '{"type":"Point","coordinates":[175,-40,9]}')).rows) == 1


def test_the_old_crs_member_is_honoured_and_said(put):
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::2193"}}
    source = read_source(put("a.json", json.dumps({"type": "Feature", "crs": crs, "properties": {}, "geometry": None})))
    assert source.epsg == 2193
    assert "EPSG:2193" in source.said[0]


def test_odd_features_are_set_aside_with_their_number(put):
    features = [
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": ["a", 1]}},
        7,
        {"type": "Feature", "properties": {}, "geometry": {"type": "Blob", "coordinates": []}},
        {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [[[1, 2], [3, 4]]]}},
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point"}},
    ]
    source = read_source(put("a.json", json.dumps({"type": "FeatureCollection", "features": features})))
    assert [row.row_number for row in source.bad] == [1, 2, 3, 4, 5]


def test_a_geopackage_gives_the_layer_that_is_meant(tmp_path):
    path = tmp_path / "a.gpkg"
    frame = gpd.GeoDataFrame({"name": ["A"], "n": [3]}, geometry=[shapely.Point(1812000, 5478000)], crs=2193)
    frame.to_file(path, layer="trees")
    frame.to_file(path, layer="other")
    source = read_source(path, like="trees")
    assert (source.layer, source.epsg, source.rows["n"].tolist()) == ("trees", 2193, [3])
    assert read_source(path, layer="OTHER").layer == "other"
    with pytest.raises(BadInput, match=r"has no layer 'x'; it has trees, other"):
        read_source(path, layer="x")
    with pytest.raises(BadInput, match="several layers"):
        read_source(path, like="blocks")


BOMB = b'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx><wpt lat="1" lon="2"><name>&b;</name></wpt></gpx>'


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", b"", "empty"),
        ("a.csv", b"\xef\xbb\xbf\r\n", "empty"),
        ("a.csv", b"tag,x,y\n", "no rows"),
        ("a.csv", b"1,2,3\n4,5,6\n", "heading"),
        ("a.csv", bytes(range(256)) * 4, "not text"),
        ("a.csv", b"%PDF-1.7", "PDF"),
        ("a.xls", b"\xd0\xcf\x11\xe0aaaa", "save it as CSV"),
        ("a.gpx", b"<gpx><wpt lat='1' lon='2'>", "broken GPX"),
        ("a.gpx", b"<gpx></gpx>", "without a point"),
        ("a.gpx", BOMB, "entities"),
        ("a.kml", b"<kml><Document></Document></kml>", "without a placemark"),
        ("a.kml", b"<svg></svg>", "not KML"),
        ("a.html", b"<!doctype html><html></html>", "web page"),
        ("a.geojson", b'{"type": "FeatureCollection", "features": [', "broken GeoJSON"),
        ("a.geojson", b'{"type": "FeatureCollection", "features": []}', "no features"),
        ("a.geojson", b'{"a": 1}', "not GeoJSON"),
        ("a.geojson", b"[" * 100_000, "GeoJSON"),
        ("a.gpkg", b"SQLite format 3\0rubbish", "damaged"),
        ("a.gpkg", b"rubbish", "called a GeoPackage"),
        ("a.zip", b"PK\x03\x04rubbish", "damaged zip"),
    ],
)
def test_what_cannot_be_read_is_said(put, name, content, words):
    with pytest.raises(BadInput, match=words):
        read_source(put(name, content))


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(BadInput, match="no such file"):
        read_source(tmp_path / "none.csv")
    with pytest.raises(BadInput, match="folder"):
        read_source(tmp_path)
    path = tmp_path / "a.csv"
    path.write_text("a,b\n1,2\n")
    with pytest.raises(BadInput, match="no layers"):
        read_source(path, layer="x")
