"""Convergence and declination against worked examples and tables that others published.

Signs. farmmap and PROJ count convergence from true north to grid north, positive where grid north lies east of true.
Ordnance Survey's booklet, the Defense Mapping Agency's manual north of the equator and the US National Geodetic Survey
write it so, too. The Australian manual writes what is added to an azimuth to get a grid bearing: the same angle with
the other sign. The Defense Mapping Agency's manual counts it positive east of the middle meridian on both sides of the
equator, so south of it with the other sign.
"""

import datetime as dt

import pyproj
import pytest

from farmmap.farm.grids import Grid
from farmmap.figures.magnetic import MODELS, declination


def angle(degrees, minutes, seconds):
    return degrees + minutes / 60 + seconds / 3600


SECOND = 1 / 3600

ORDNANCE_SURVEY = [
    # Ordnance Survey (1983) Transverse Mercator Projection: Constants, Formulae and Methods; OSGB36 / National Grid.
    # Read in a public test file that cites it.
    ("Framingham", 626_238.249, 302_646.415, angle(2, 39, 10.4692)),
    ("Caister water tower", 651_409.903, 313_177.271, angle(2, 57, 26.5562)),
]

AUSTRALIAN_MANUAL = [
    # ICSM, Geocentric Datum of Australia Technical Manual, worked example on GDA94 / MGA zone 55, with its own sign.
    # Flinders Peak was read in public test files that cite it, Buninyong is from memory.
    ("Flinders Peak", 273_741.297, 5_796_489.777, -angle(1, 35, 3.65)),
    ("Buninyong", 228_854.052, 5_828_259.038, -angle(1, 52, 43.22)),
]

UNIVERSAL_GRIDS = [
    # Defense Mapping Agency (1989) Technical Manual 8358.2, The Universal Grids, worked examples on the International
    # ellipsoid: zone, whether south, easting, northing, convergence. Read in public test files that cite it.
    (38, False, 500_000.00, 8_100_702.90, 0.0),
    (48, False, 210_577.93, 3_322_624.35, -angle(1, 30, 3.76)),
    (12, False, 400_000.00, 8_000_000.01, -angle(2, 46, 15.31)),
    (47, False, 789_411.59, 3_322_824.08, angle(1, 30, 3.96)),
    (31, False, 200_000.00, 1_000_000.00, -angle(0, 25, 43.95)),
    (43, False, 500_000.00, 9_000_000.00, 0.0),
    (31, True, 307_758.89, 4_000_329.42, -angle(2, 22, 58.83)),
]


@pytest.mark.parametrize(("place", "east", "north", "published"), ORDNANCE_SURVEY)
def test_convergence_of_the_british_national_grid(place, east, north, published):
    assert Grid(27700).convergence_deg(east, north) == pytest.approx(published, abs=0.001 * SECOND), place


@pytest.mark.parametrize(("place", "east", "north", "published"), AUSTRALIAN_MANUAL)
def test_convergence_of_the_map_grid_of_australia_has_the_other_sign(place, east, north, published):
    assert Grid(28355).convergence_deg(east, north) == pytest.approx(-published, abs=0.01 * SECOND), place


@pytest.mark.parametrize(("zone", "south", "east", "north", "published"), UNIVERSAL_GRIDS)
def test_convergence_of_universal_grids(zone, south, east, north, published, monkeypatch):
    """No EPSG code has these zones on this ellipsoid, so the grid's definition is put in the place of one."""
    monkeypatch.setattr(Grid, "crs", pyproj.CRS(f"+proj=utm +zone={zone} {'+south' if south else ''} +ellps=intl"))
    expected = -published if south else published
    assert Grid(32600 + zone).convergence_deg(east, north) == pytest.approx(expected, abs=0.02 * SECOND)


def test_convergence_of_a_conic_grid():
    """A grid that is no transverse Mercator one: South Dakota North, Lambert's conformal conic.

    By the US National Geodetic Survey's coordinate conversion, printed in J. Mahun, Open Access Surveying Library,
    Coordinate Systems, self study 3, question 1: 1,002,231.06 and 735,056.25 US survey feet, convergence -2°40'53.5".
    """
    foot = 1200 / 3937
    turn = Grid(6571).convergence_deg(1_002_231.06 * foot, 735_056.25 * foot)
    assert turn == pytest.approx(-angle(2, 40, 53.5), abs=0.05 * SECOND)


def test_convergence_is_nothing_on_the_middle_meridian_of_new_zealands_grid():
    """By its definition (LINZS25002): the middle meridian is 173° E, where the easting is 1 600 000 m."""
    assert Grid(2193).convergence_deg(1_600_000.0, 5_461_242.9) == pytest.approx(0.0, abs=1e-9)


PLACES = [(80, 0), (0, 120), (-80, 240)]
"""Latitudes and longitudes of the published test values, each at the sea and 100 km above it. [degrees]"""

TABLES = {
    # NOAA and the British Geological Survey, test values of the World Magnetic Models: declinations and their yearly
    # change, in the order of PLACES, first at 0 then at 100 km. Read in public test files that cite the tables; yearly
    # changes for 2010 are there in minutes of arc, those for 2025 were not found.
    dt.date(2010, 1, 1): ([-6.13, 0.97, 70.21, -6.57, 0.94, 69.62],
                          [change / 60 for change in (22.25, -1.98, -4.20, 22.48, -1.91, -4.11)]),
    dt.date(2012, 7, 2): ([-5.21, 0.88, 70.04, -5.63, 0.86, 69.45],
                          [change / 60 for change in (22.26, -1.98, -4.19, 22.50, -1.91, -4.10)]),
    dt.date(2015, 1, 1): ([-3.90, 0.55, 69.81, -4.32, 0.54, 69.22], [0.52, -0.07, -0.09, 0.52, -0.07, -0.08]),
    dt.date(2017, 7, 2): ([-2.59, 0.37, 69.59, -3.01, 0.36, 69.01], [0.53, -0.07, -0.08, 0.53, -0.07, -0.08]),
    dt.date(2020, 1, 1): ([-1.28, 0.16, 69.36, -1.70, 0.16, 68.78], [0.51, -0.09, -0.10, 0.51, -0.09, -0.09]),
    dt.date(2022, 7, 2): ([0.01, -0.06, 69.13, -0.41, -0.05, 68.55], [0.52, -0.09, -0.09, 0.52, -0.09, -0.09]),
    dt.date(2025, 1, 1): ([1.28, -0.16, 68.78, 0.85, -0.15, 68.21], None),
    dt.date(2027, 7, 2): ([2.59, -0.24, 68.49, 2.16, -0.23, 67.93], None),
}  # fmt: skip


@pytest.mark.parametrize("on", TABLES)
def test_declination_and_its_change_are_the_published_ones(on):
    """The tables are for the middle of the year, 12 hours after 2 July begins: under 0.001° at the fastest place."""
    published, changes = TABLES[on]
    found = [declination(lat, lon, height, on) for height in (0.0, 100_000.0) for lat, lon in PLACES]
    assert [one.degrees for one in found] == pytest.approx(published, abs=0.0065)
    if changes is not None:
        assert [one.yearly_change_deg for one in found] == pytest.approx(changes, abs=0.0065)


def test_every_model_has_been_set_beside_its_table():
    assert {on.year // 5 * 5 for on in TABLES} == set(MODELS)
