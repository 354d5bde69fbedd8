"""Photo points come in from a GPS or a table, with their bearings, each name once."""

import numpy as np
import pytest

from farmmap.farm.farm import shaped
from farmmap.farm.grids import transform
from farmmap.farm.schema import TABLES
from tests.files.conftest import EAST, NORTH

GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="a GPS" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="{lat}" lon="{lon}"><name>Ford</name><desc>at the post</desc></wpt></gpx>
"""


def test_points_with_bearings(brought, empty):
    text = f"point,x,y,bearing,height\nFord,{EAST},{NORTH},254,1.5\nGate,{EAST + 20},{NORTH},,\n"
    found, farm = brought(text, "photo_points", empty)
    points = farm.tables["photo_points"]
    assert found.came_in == 2
    assert points["name"].tolist() == ["Ford", "Gate"]
    assert points["bearing_deg"].tolist() == pytest.approx([254.0, np.nan], nan_ok=True)
    assert points["height_m"].iloc[0] == 1.5
    assert points["x"].tolist() == [EAST, EAST + 20]
    said = " ".join(found.said)
    assert "1 photo point has no bearing" in said
    assert "from grid north" in said


def test_a_gpx_of_waypoints(brought, empty):
    lon, lat = transform([EAST], [NORTH], 2193, 4326)
    _, farm = brought(GPX.format(lon=lon[0], lat=lat[0]), "photo_points", empty, "from.gpx")
    (point,) = farm.tables["photo_points"].to_dict("records")
    assert (point["name"], point["note"]) == ("Ford", "at the post")
    assert (point["x"], point["y"]) == pytest.approx((EAST, NORTH), abs=0.05)


def test_what_cannot_be_is_set_aside(brought, empty):
    there = shaped(TABLES["photo_points"], {"name": ["Ford"], "x": [EAST], "y": [NORTH]}, np.array([1]), empty.grid)
    farm = empty.with_tables(photo_points=there)
    rows = (("ford", 1), ("A", 2), ("A", 3), ("B", 400), ("", 3))
    text = "\n".join(["name,x,y,bearing", *(f"{name},{EAST},{NORTH},{bearing}" for name, bearing in rows)])
    found, after = brought(text, "photo_points", farm)
    assert after.tables["photo_points"]["name"].tolist() == ["Ford", "A", "Photo point 1"]
    reasons = " ".join(row.reason for row in found.bad)
    assert "there is a photo point 'ford' already" in reasons
    assert "there is a photo point 'A' already" in reasons
    assert "400" in reasons
    assert len(found.bad) == 3
