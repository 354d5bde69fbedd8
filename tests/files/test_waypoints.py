"""Places handed on to a GPS."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.farm.grids import Grid
from farmmap.files.waypoints import (
    decimals,
    gpx,
    lon_lat,
    point_end,
    points,
    refuse_local,
    refuse_unplaced,
    route,
    track,
    xml_text,
)

SPACE = "{http://www.topografix.com/GPX/1/1}"


def test_longitudes_wrap_and_unknown_places_are_nan() -> None:
    grid = new_farm("Far", "EPSG:2193").grid  # its middle meridian is 173° east, false easting 1 600 000 m
    lon, lat = lon_lat(grid, np.array([1_600_000.0, 2_300_000.0, np.nan]), np.array([5_500_000.0, 5_500_000.0, 0.0]))
    assert lon[0] == pytest.approx(173.0, abs=1e-9)
    assert -180 < lon[1] < -178  # beyond the date line
    assert np.isnan(lon[2])
    assert np.isnan(lat[2])
    refuse_unplaced(lon[:2], "some stand")
    with pytest.raises(BadInput, match="some stand where the farm's grid has no longitude"):
        refuse_unplaced(lon, "some stand")


def test_a_local_grid_has_no_longitudes() -> None:
    grid = Grid(2193, local=True)
    lon, lat = lon_lat(grid, np.zeros(3), np.zeros(3))
    assert np.isnan(lon).all()
    assert np.isnan(lat).all()
    with pytest.raises(BadInput, match=r"list\.gpx needs longitudes .* write a \.csv$"):
        refuse_local("list.gpx", grid)
    refuse_local("list.gpx", new_farm("Far", "EPSG:2193").grid)


@given(st.text(max_size=20), st.text(max_size=20))
def test_any_name_makes_sound_xml(name, words) -> None:
    lon, lat = np.array([175.5, -0.000000001]), np.array([-40.8, 89.0])
    parts = points(lon, lat, [xml_text(name)] * 2, [point_end("tree", words)] * 2)
    parts += [route(lon, lat, name, words), track(lon, lat, name, "fence", words)]
    whole = ET.fromstring(gpx(name, parts))
    assert [child.tag.removeprefix(SPACE) for child in whole] == ["metadata", "wpt", "wpt", "rte", "trk"]
    first = whole.find(f"{SPACE}wpt")
    assert first.attrib == {"lat": "-40.80000000", "lon": "175.50000000"}
    assert first.find(f"{SPACE}type").text == "tree"
    for tag in ("rtept", "trkpt"):
        assert len(whole.findall(f".//{SPACE}{tag}")) == 2


def test_no_words_make_no_description() -> None:
    assert point_end("gate") == "</name><type>gate</type></wpt>\n"
    assert decimals(np.array([1.25, np.nan]), 1) == ["1.2", ""]
