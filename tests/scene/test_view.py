import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.grids import Grid
from farmmap.scene.view import View, first_ground

VIEW = View(1_812_000.0, 5_478_000.0, 5.0, 200.0, 120.0)
TURNED = View(1_812_000.0, 5_478_000.0, 5.0, 200.0, 120.0, rotation=30.0)


def test_the_middle_lies_in_the_middle_and_north_is_up():
    assert [float(v) for v in VIEW.to_mm(1_812_000.0, 5_478_000.0)] == [100.0, 60.0]
    assert [float(v) for v in VIEW.to_mm(1_812_050.0, 5_478_100.0)] == [110.0, 40.0]
    assert VIEW.scale_denominator == 5000.0


def test_a_turned_view_turns_north_clockwise():
    x, y = TURNED.to_mm(1_812_000.0, 5_478_000.0 + 100.0)
    assert float(x) == pytest.approx(100 + 20 * np.sin(np.radians(30)))
    assert float(y) == pytest.approx(60 - 20 * np.cos(np.radians(30)))


@given(
    st.floats(-5000, 5000),
    st.floats(-5000, 5000),
    st.floats(0.01, 100),
    st.floats(-180, 180),
    st.floats(0.1, 20),
)
def test_ground_comes_back(dx, dy, metres, rotation, dots):
    view = View(1_812_000.0, 5_478_000.0, metres, 200.0, 120.0, rotation)
    x, y = 1_812_000.0 + dx, 5_478_000.0 + dy
    back = view.to_ground(*view.to_mm(x, y))
    assert float(back[0]) == pytest.approx(x, abs=1e-6)
    assert float(back[1]) == pytest.approx(y, abs=1e-6)
    mm = np.array(view.to_mm(x, y))
    assert np.array(view.to_dots(x, y, dots)) == pytest.approx(mm * dots, rel=1e-9, abs=1e-4)


@given(st.floats(0.1, 10), st.floats(0, 200), st.floats(0, 120), st.floats(-180, 180))
def test_zooming_keeps_the_ground_under_the_pointer(factor, x_mm, y_mm, rotation):
    view = View(1_812_000.0, 5_478_000.0, 5.0, 200.0, 120.0, rotation)
    closer = view.zoomed(factor, (x_mm, y_mm))
    assert closer.metres_per_mm == pytest.approx(5.0 / factor)
    assert np.array(closer.to_ground(x_mm, y_mm)) == pytest.approx(np.array(view.to_ground(x_mm, y_mm)), abs=1e-6)


def test_zooming_stops_at_both_ends():
    assert VIEW.zoomed(1e9).metres_per_mm == 0.05
    assert VIEW.zoomed(1e-9).metres_per_mm == 5000.0


@pytest.mark.parametrize("view", [VIEW, TURNED])
def test_pushing_the_picture_moves_the_ground_along(view):
    pushed = view.panned(12.0, -7.0)
    before = view.to_ground(50.0, 50.0)
    assert np.array(pushed.to_mm(*before)).tolist() == pytest.approx([62.0, 43.0])


def test_fitting_shows_all_with_its_margin():
    view = View.fitting((0.0, 0.0, 1000.0, 300.0), 210.0, 110.0, 5.0)
    west, south, east, north = view.ground_bounds()
    assert view.metres_per_mm == pytest.approx(5.0)
    assert (west, east) == pytest.approx((-25.0, 1025.0))
    assert south < 0
    assert north > 300


def test_fitting_nothing_and_a_single_point_still_gives_a_view():
    assert View.fitting(None, 200, 100).metres_per_mm > 0
    assert View.fitting((5.0, 5.0, 5.0, 5.0), 200, 100).metres_per_mm > 0
    assert View.fitting((0, 0, 100, 100), 4, 4, 5).metres_per_mm == pytest.approx(50.0)


@pytest.mark.parametrize("epsg", [2193, 32760, 3857, 27700, 3832])
def test_a_farm_with_nothing_drawn_begins_where_its_grid_is_in_use(epsg):
    grid = Grid(epsg)
    west, south, east, north = first_ground(grid)
    assert (east - west, north - south) == pytest.approx((1000.0, 1000.0))
    lon, lat = grid.lon_lat([(west + east) / 2], [(south + north) / 2])
    area = grid.crs.area_of_use
    assert area.south < lat[0] < area.north
    assert (lon[0] - area.west) % 360 < ((area.east - area.west) % 360 or 360)


def test_a_farm_measured_from_a_corner_post_begins_at_the_post():
    assert first_ground(Grid(2193, local=True)) == (-500.0, -500.0, 500.0, 500.0)


def test_ground_bounds_of_a_turned_view_hold_its_corners():
    west, south, east, north = TURNED.ground_bounds(2.0)
    x, y = TURNED.to_ground(np.array([0.0, 200.0, 200.0, 0.0]), np.array([0.0, 0.0, 120.0, 120.0]))
    assert west < x.min()
    assert x.max() < east
    assert south < y.min()
    assert y.max() < north


def test_a_resized_and_a_centred_view():
    assert VIEW.sized(10, 20) == View(1_812_000.0, 5_478_000.0, 5.0, 10, 20)
    assert VIEW.centred(1.0, 2.0).to_ground(100, 60) == (1.0, 2.0)
