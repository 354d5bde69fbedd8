"""Grids against published worked examples."""

import numpy as np
import pytest

from farmmap.errors import GridError
from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, Grid, farm_grid, parse_grid, transform
from tests.place import EAST, NORTH


def degrees(d, m, s):
    return (abs(d) + m / 60 + s / 3600) * (-1 if d < 0 else 1)


# GDA technical manual, worked examples: Flinders Peak and Buninyong, MGA zone 55.
FLINDERS = (degrees(144, 25, 29.52440), degrees(-37, 57, 3.72030), 273741.297, 5796489.777)
BUNINYONG = (degrees(143, 55, 35.38390), degrees(-37, 39, 10.15610), 228854.052, 5828259.038)


@pytest.mark.parametrize("grid", ["EPSG:7855", "EPSG:28355"])
@pytest.mark.parametrize(("lon", "lat", "east", "north"), [FLINDERS, BUNINYONG])
def test_lon_lat_on_the_grids_own_datum(grid, lon, lat, east, north):
    found = farm_grid(grid).lon_lat(east, north)
    assert np.abs(np.array(found) - (lon, lat)).max() < 2e-8


def test_scale_and_convergence_at_flinders_peak():
    # The same manual: k 1.00023056, convergence 1 deg 35' 03.65", printed there with the survey sign.
    grid = farm_grid("EPSG:28355")
    assert grid.scale(*FLINDERS[2:]) == pytest.approx(1.00023056, abs=1e-8)
    assert grid.convergence_deg(*FLINDERS[2:]) == pytest.approx(degrees(1, 35, 3.65), abs=1e-5)


def test_geodesic_from_flinders_to_buninyong():
    # The same manual: 54 972.271 m, azimuth 306 52' 05.37".
    azimuth, _, metres = farm_grid("EPSG:7855").geod.inv(*FLINDERS[:2], *BUNINYONG[:2])
    assert metres == pytest.approx(54972.271, abs=1e-3)
    assert azimuth % 360 == pytest.approx(degrees(306, 52, 5.37), abs=1e-5)


def test_new_zealand_grid():
    # LINZ test point, as carried in public ports of its conversion code.
    x, y = transform([172.739193967], [-34.444065991], 4167, 2193)
    assert (x[0], y[0]) == (pytest.approx(1576041.150, abs=1e-3), pytest.approx(6188574.240, abs=1e-3))


def test_utm_31_north_reference_points():
    # Equator at 0, 3 and 6 degrees east; value from memory of published zone tables.
    x, _ = transform([0, 3, 6], [0, 0, 0], LON_LAT, 32631)
    assert np.abs(x - [166021.443, 500000, 833978.557]).max() < 1e-3


def test_the_same_grid_moves_nothing():
    x, y = transform([1.5], [2.5], 2193, 2193)
    assert (x[0], y[0]) == (1.5, 2.5)


@pytest.mark.parametrize(
    ("text", "code"), [("EPSG:2193", 2193), (" epsg:27700 ", 27700), (7855, 7855), ("32633", 32633)]
)
def test_ways_of_writing_a_grid(text, code):
    assert parse_grid(text) == code


@pytest.mark.parametrize("text", ["", "EPSG:", "EPSG:0", "NZTM", "2193.5", "-2193", "EPSG:123456789012", "²¹⁹³"])
def test_what_is_no_grid(text):
    with pytest.raises(GridError):
        parse_grid(text)


@pytest.mark.parametrize(
    ("grid", "bounds", "local"),
    [
        ("EPSG:2193", (0, 0, 56, 38), True),
        ("EPSG:7855", (-5, -8, 5, 2), True),
        ("EPSG:32633", (0, 0, 280, 280), True),
        ("EPSG:27700", (0, 0, 280, 280), True),
        ("EPSG:32633", (30_000, 100_000, 30_010, 100_020), False),
        ("EPSG:2193", (1812000, 5478000, 1812500, 5478500), False),
        ("EPSG:27700", (450000, 250000, 451000, 251000), False),
        ("EPSG:32633", (500000, 0, 501000, 1000), False),
        ("EPSG:2193", (1600000, 9_000_000, 1600100, 9_000_100), False),
    ],
)
def test_small_coordinates_off_the_grid_are_local(grid, bounds, local):
    assert farm_grid(grid).looks_local(*bounds) is local


def test_a_farm_in_local_coordinates_knows_it(farm):
    away = farm.trees.copy()
    away["x"] -= EAST
    away["y"] -= NORTH
    there = Farm(farm.settings, {"trees": away})
    assert there.grid.local
    assert there.grid.label == "local grid"
    assert there.grid.scale(1.0, 2.0) == 1.0
    assert np.isnan(there.grid.convergence_deg(1.0, 2.0))
    assert not farm.grid.local


@pytest.mark.parametrize("grid", ["EPSG:2193", "EPSG:27700", "EPSG:6571"])
def test_there_and_back_on_the_grids_own_datum(grid):
    found = farm_grid(grid)
    area = found.crs.area_of_use
    lon, lat = np.linspace(area.west, area.east, 5)[1:-1], np.linspace(area.south, area.north, 5)[1:-1]
    back = found.lon_lat(*found.east_north(lon, lat))
    assert np.abs(np.array(back) - (lon, lat)).max() < 1e-9


def test_a_grid_names_its_datum():
    assert farm_grid("EPSG:2193").datum == "NZGD2000"
    assert farm_grid("EPSG:27700").datum == "OSGB36"
    assert Grid(2193, local=True).datum == ""
