"""Outlines, lines and other shapes."""

import json

import numpy as np
import pytest
import shapely

from farmmap.farm.grids import transform

E, N = 1812000.0, 5478000.0


def gpx(*tracks):
    """Write tracks, each a list of segments of corners on the farm's grid, as GPX."""
    out = []
    for segments in tracks:
        parts = ""
        for corners in segments:
            lon, lat = transform(*np.array(corners).T, 2193, 4326)
            parts += (
                "<trkseg>"
                + "".join(f'<trkpt lat="{b:.9f}" lon="{a:.9f}"/>' for a, b in zip(lon, lat, strict=True))
                + "</trkseg>"
            )
        out.append(f"<trk>{parts}</trk>")
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{"".join(out)}</gpx>'


def at(*corners):
    return [(E + x, N + y) for x, y in corners]


def test_a_walk_that_nearly_closes_is_closed_and_said(brought):
    found, farm = brought(gpx([at((0, 0), (100, 0), (100, 100), (0, 100), (0, 5))]), "boundary")
    assert shapely.area(farm.boundary.geometry.iloc[0]) == pytest.approx(10_000, rel=1e-4)
    assert any("closed over a gap of 5.0 m." in said for said in found.said)


def test_a_wide_gap_is_closed_too_with_a_warning(brought):
    found, _ = brought(gpx([at((0, 0), (100, 0), (100, 100))]), "boundary")
    assert any("gap of 141.4 m; that is a wide gap" in said for said in found.said)


def test_the_pieces_of_a_walk_are_joined_and_closed_ones_stay_apart(brought):
    found, farm = brought(gpx([at((0, 0), (100, 0)), at((100, 100), (0, 100), (0, 0))]), "blocks")
    assert shapely.area(farm.blocks.geometry.iloc[0]) == pytest.approx(10_000, rel=1e-4)
    assert any("2 pieces were joined" in said for said in found.said)
    ring = ((0, 0), (10, 0), (10, 10), (0, 0))
    _, farm = brought(gpx([at(*ring), at(*[(x + 50, y) for x, y in ring])]), "blocks")
    assert farm.blocks.geometry.iloc[0].geom_type == "MultiPolygon"


def test_an_outline_that_crosses_itself_is_mended_and_one_without_ground_refused(brought):
    text = "name,wkt\n" + "".join(
        f'{name},"{shapely.affinity.translate(shapely.from_wkt(wkt), E, N).wkt}"\n'
        for name, wkt in {
            "bow": "POLYGON ((0 0, 10 10, 10 0, 0 10, 0 0))",
            "flat": "POLYGON ((0 0, 10 10, 20 20, 0 0))",
            "hole": "POLYGON ((0 0, 10 0, 10 10, 0 10, 0 0), (2 2, 2 4, 4 4, 4 2, 2 2))",
            "point": "POINT (1 1)",
            "high": "POLYGON Z ((0 0 9, 10 0 9, 10 10 9, 0 0 9))",
        }.items()
    )
    found, farm = brought(text, "blocks")
    assert farm.blocks["name"].tolist() == ["bow", "hole", "high"]
    assert farm.blocks.geometry.area.tolist() == pytest.approx([50, 96, 50])
    assert not farm.blocks.geometry.has_z.any()
    assert any(said.startswith("Row 2: it crossed itself") for said in found.said)
    assert {bad.row_number: bad.reason for bad in found.bad} == {
        3: "encloses no ground",
        5: "is a point, where an outline is needed",
    }


def test_shapes_without_a_name_get_one_that_is_free(brought):
    square = shapely.box(E, N, E + 10, N + 10).wkt
    farm = brought(f'name,wkt\nBlock 1,"{square}"\n', "blocks")[1]
    found, farm = brought(f'wkt\n"{square}"\n"{square}"\n', "blocks", farm)
    assert farm.blocks["name"].tolist() == ["Block 1", "Block 2", "Block 3"]
    assert any("were called Block 2 to Block 3" in said for said in found.said)


def test_lines_keep_their_columns_and_lose_corners_said_twice(brought):
    text = f'name,width,wkt\nSedge,3.5,"LINESTRING ({E} {N}, {E} {N}, {E + 9} {N})"\nstill,,"LINESTRING ({E} {N}, {E} {N})"\n,,"LINESTRING ({E} {N}, {E + 1} {N})"\n'
    found, farm = brought(text, "creeks")
    assert farm.creeks["channel_m"].tolist() == [3.5, 2.0]
    assert shapely.get_num_coordinates(farm.creeks.geometry.to_numpy()).tolist() == [2, 2]
    assert found.bad[0].reason == "has fewer than two points that differ"


def test_hazards_take_any_shape_and_kinds_that_are_not_known_are_other(brought):
    text = f'kind,wkt\nPower Line,"LINESTRING ({E} {N}, {E + 9} {N})"\nbee hive,"POINT ({E} {N})"\n,"{shapely.box(E, N, E + 1, N + 1).wkt}"\n'
    found, farm = brought(text, "hazards")
    assert farm.hazards["kind"].tolist() == ["power line", "other", "other"]
    assert any("came in as other" in said for said in found.said)


def test_corners_in_a_table_are_joined_by_name(brought):
    text = "name,x,y\n" + "".join(
        f"{name},{E + x},{N + y}\n"
        for name, x, y in [
            ("a", 0, 0),
            ("a", 10, 0),
            ("a", 10, 10),
            ("b", 0, 0),
            ("b", 20, 0),
            ("b", 20, 20),
            ("c", 1, 1),
        ]
    )
    found, farm = brought(text, "blocks")
    assert farm.blocks["name"].tolist() == ["a", "b"]
    assert farm.blocks.geometry.area.tolist() == pytest.approx([50, 200])
    assert (found.came_in, [bad.row_number for bad in found.bad]) == (6, [8])


def test_waypoints_at_the_corners_make_one_outline(brought):
    lon, lat = transform(*np.array(at((0, 0), (10, 0), (10, 10))).T, 2193, 4326)
    points = "".join(
        f'<wpt lat="{b}" lon="{a}"><name>P{i}</name></wpt>' for i, (a, b) in enumerate(zip(lon, lat, strict=True))
    )
    found, farm = brought(f"<gpx>{points}</gpx>", "boundary")
    assert farm.boundary.geometry.area.tolist() == pytest.approx([50], rel=1e-4)
    assert farm.boundary["name"].tolist() == [""]
    assert found.came_in == 3


def test_trees_from_points_and_what_is_no_point(brought):
    lon, lat = (float(v[0]) for v in transform([E], [N], 2193, 4326))
    features = [
        {
            "type": "Feature",
            "properties": {"tag": "1", "dbh": 30.5},
            "geometry": {"type": "Point", "coordinates": [lon, lat]},
        },
        {
            "type": "Feature",
            "properties": {"tag": "2"},
            "geometry": {"type": "MultiPoint", "coordinates": [[lon, lat]]},
        },
        {
            "type": "Feature",
            "properties": {"tag": "3"},
            "geometry": {"type": "LineString", "coordinates": [[lon, lat], [lon, lat]]},
        },
        {"type": "Feature", "properties": {"tag": "4"}, "geometry": None},
    ]
    found, farm = brought(json.dumps({"type": "FeatureCollection", "features": features}), "trees")
    assert farm.trees["tag"].tolist() == ["1", "2"]
    assert farm.trees["x"].tolist() == pytest.approx([E, E], abs=1e-3)
    assert farm.measurements["dbh_cm"].tolist() == [30.5]
    assert [bad.reason for bad in found.bad] == ["is no point, as trees must be", "has no shape"]
    assert found.bad[0].raw["wkt"].startswith("LINESTRING")
    assert found.bad[0].raw["grid"] == "EPSG:4326"
