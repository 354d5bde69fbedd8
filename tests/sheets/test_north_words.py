"""Which norths a page shows and what it says of them."""

import datetime as dt

import numpy as np
import pytest

from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TREES
from farmmap.figures.magnetic import declination
from farmmap.scene.page_items import Text
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.page_words import north_words
from farmmap.sheets.sheet import compose

AT = (1_812_000.0, 5_478_000.0, 1_813_000.0, 5_479_000.0)
ON = dt.date(2026, 5, 7)


def asked(**more):
    return SheetOptions(printed_on=ON, declination=True, **more)


def stem_map():
    """Return a farm whose trees were measured from a corner post."""
    farm = new_farm("Post", "EPSG:2193")
    trees = {"tag": ["1", "2"], "x": np.array([3.0, 60.0]), "y": np.array([2.0, 40.0])}
    return farm.with_tables(trees=shaped(TREES, trees, np.array([1, 2]), farm.grid))


@pytest.fixture(scope="module")
def farm():
    return new_farm("Pipit", "EPSG:2193")


def test_the_needle_lies_as_declination_and_convergence_say(farm):
    north = north_words(farm, AT, asked())
    lon, lat = farm.grid.lon_lat(1_812_500.0, 5_478_500.0)
    turn = farm.grid.convergence_deg(1_812_500.0, 5_478_500.0)
    found = declination(float(lat), float(lon), 0.0, ON)
    assert turn < 0 < found.degrees  # in New Zealand's east grid north lies west of true north, the needle east
    assert north.true_deg == pytest.approx(-turn)
    assert north.needle_deg == pytest.approx(found.degrees - turn, abs=1e-4)
    said = " ".join(north.words)
    assert f"points {found.degrees - turn:.1f}° east of grid north on this map (7 May 2026; moves 0.1° a year" in said
    assert "a year eastwards; World Magnetic Model 2025, valid to the end of 2029)" in said
    assert f"From a bearing of the map to that of the compass: take off {found.degrees - turn:.1f}°." in said


def test_bearings_of_a_list_are_carried_from_true_north(farm):
    said = " ".join(north_words(farm, AT, asked(), true_bearings=True).words)
    lon, lat = farm.grid.lon_lat(1_812_500.0, 5_478_500.0)
    found = declination(float(lat), float(lon), 0.0, ON)
    assert f"From a listed bearing, which is from true north: take off {found.degrees:.1f}°." in said
    assert "listed" not in " ".join(north_words(farm, AT, asked()).words)


def test_where_the_needle_points_west_it_is_added():
    """Newfoundland, UTM zone 22: some 17° west."""
    lon, lat = -53.0, 47.6
    farm = new_farm("Rock", "EPSG:32622")
    x, y = farm.grid.east_north(lon, lat)
    north = north_words(farm, (float(x), float(y), float(x), float(y)), asked())
    assert -25 < north.needle_deg < -10
    said = " ".join(north.words)
    assert f"{-north.needle_deg:.1f}° west of grid north" in said
    assert f"add {-north.needle_deg:.1f}°" in said
    bearing_of_map = 90.0
    assert bearing_of_map - north.needle_deg == pytest.approx(bearing_of_map + -north.needle_deg)


def test_nothing_of_a_compass_is_said_unless_it_is_asked_for(farm):
    plain = north_words(farm, AT)
    assert plain.needle_deg is None
    assert "compass" not in " ".join(plain.words)
    assert "NZGD2000" not in plain.words[-1] or "EPSG:2193" in plain.words[-1]


def test_a_day_of_no_model_is_said_and_the_map_is_printed_all_the_same(farm):
    north = north_words(farm, AT, SheetOptions(printed_on=dt.date(2031, 1, 1), declination=True))
    assert north.needle_deg is None
    assert "known from 2010 to 2029, and not for 1 January 2031" in " ".join(north.words)


def test_a_local_grid_says_what_is_not_known():
    farm = stem_map()
    assert farm.grid.local
    north = north_words(farm, (0, 0, 100, 100), asked(graticule=True))
    said = " ".join(north.words)
    assert north.true_deg is None
    assert north.needle_deg is None
    for words in ("True north is not known", "compass needle lies to it is not known", "no latitudes and longitudes"):
        assert words in said


def test_on_small_paper_less_is_said_and_the_compass_is_not_drawn(farm):
    large, small = (north_words(farm, AT, asked(paper=paper)) for paper in ("A5", "a7"))
    assert small.needle_deg is None
    assert small.true_deg == large.true_deg
    said = " ".join(small.words)
    assert f"points {large.needle_deg:.1f}° east of grid north (7 May 2026; World Magnetic Model 2025)." in said
    assert "True north lies" in said
    assert len(said) < len(" ".join(large.words)) / 2


def test_the_datum_of_the_lines_is_named(farm):
    assert "Latitudes and longitudes are on NZGD2000." in north_words(farm, AT, SheetOptions(graticule=True)).words


def test_a_page_shows_it(hill_farm):
    sheet = compose(hill_farm, ON, SheetOptions("A3", printed_on=ON, declination=True, graticule=True))
    said = " ".join(item.text for box in sheet.plan.boxes for item in box.items if isinstance(item, Text))
    assert "A compass needle points" in said
    names = {box.name for box in sheet.plan.boxes}
    assert {"north", "longitudes", "latitudes"} <= names
