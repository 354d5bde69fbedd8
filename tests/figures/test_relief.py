"""Slope, aspect, shade and surface against planes and surfaces whose answers calculus gives."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.relief import aspect_deg, gradients, hillshade, mean_direction, slope_deg, surface_ratio

ACROSS, DOWN = 5.0, 7.0


def ground(rise, rows=30, columns=40, across=ACROSS, down=DOWN):
    """Heights at the middles of cells of a surface z(x, y), and those x and y."""
    x, y = np.meshgrid((np.arange(columns) + 0.5) * across, (rows - np.arange(rows) - 0.5) * down)
    return rise(x, y), x, y


@pytest.mark.parametrize("facing", [0, 30, 45, 90, 135, 180, 200, 270, 315])
@pytest.mark.parametrize("steep", [1.0, 12.0, 30.0, 60.0])
def test_a_tilted_plane(facing, steep):
    """Everywhere, to the last cell at the edge: slope and aspect by Horn (1981), surface = plan / cos slope."""
    fall = math.tan(math.radians(steep))
    away = math.radians(facing)
    z, *_ = ground(lambda x, y: 500 - fall * (x * math.sin(away) + y * math.cos(away)))
    east, north = gradients(z, ACROSS, DOWN)
    np.testing.assert_allclose(slope_deg(east, north), steep, atol=1e-9)
    off = (aspect_deg(east, north) - facing + 180) % 360 - 180
    assert np.abs(off).max() < 1e-7
    np.testing.assert_allclose(surface_ratio(z, ACROSS, DOWN), 1 / math.cos(math.radians(steep)), rtol=1e-12)


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(0.2, 50), st.floats(0.2, 50))
def test_any_plane(p, q, across, down):
    z, *_ = ground(lambda x, y: p * x + q * y, 6, 5, across, down)
    east, north = gradients(z, across, down)
    np.testing.assert_allclose(east, p, atol=1e-9)
    np.testing.assert_allclose(north, q, atol=1e-9)
    np.testing.assert_allclose(surface_ratio(z, across, down), math.sqrt(1 + p * p + q * q), rtol=1e-9)


def test_level_ground_faces_nowhere():
    z = np.full((4, 5), 12.0)
    east, north = gradients(z, 1, 1)
    assert (slope_deg(east, north) == 0).all()
    assert np.isnan(aspect_deg(east, north)).all()
    assert (surface_ratio(z, 1, 1) == 1).all()


def test_a_paraboloid_has_the_slope_that_calculus_gives():
    """z = (x² + 2y²) / 500: Horn's differences are exact for surfaces of the second order."""
    z, x, y = ground(lambda x, y: (x**2 + 2 * y**2) / 500)
    east, north = gradients(z, ACROSS, DOWN)
    inner = (slice(1, -1), slice(1, -1))
    np.testing.assert_allclose(east[inner], (2 * x / 500)[inner], rtol=1e-9)
    np.testing.assert_allclose(north[inner], (4 * y / 500)[inner], rtol=1e-9)


def test_a_cone_has_one_slope_and_the_surface_of_its_side():
    """A cone of 25°: the side over a ring of the plan is the plan over the cosine, away from the tip and the rim."""
    fall = math.tan(math.radians(25))
    z, x, y = ground(lambda x, y: -fall * np.hypot(x - 300, y - 300), 600, 600, 1.0, 1.0)
    far = np.hypot(x - 300, y - 300)
    ring = (far > 60) & (far < 250)
    east, north = gradients(z, 1.0, 1.0)
    np.testing.assert_allclose(slope_deg(east, north)[ring], 25, atol=0.02)
    out = np.degrees(np.arctan2(x - 300, y - 300)) % 360
    off = (aspect_deg(east, north)[ring] - out[ring] + 180) % 360 - 180
    assert np.abs(off).max() < 0.02
    assert surface_ratio(z, 1.0, 1.0)[ring].mean() == pytest.approx(1 / math.cos(math.radians(25)), rel=1e-4)


def test_jenness_by_hand():
    """One cell of 100 m among eight: Jenness' method worked through with the three sides of each triangle (Heron)."""
    z = np.array([[190.0, 170, 155], [183, 165, 145], [175, 160, 122]])
    side = 100.0
    middle = (1, 1)
    around = [(0, 0), (0, 1), (0, 2), (1, 2), (2, 2), (2, 1), (2, 0), (1, 0)]

    def edge(one, other):
        plan = math.hypot(one[0] - other[0], one[1] - other[1]) * side
        return math.hypot(plan, z[one] - z[other]) / 2

    total = 0.0
    for one, other in zip(around, around[1:] + around[:1], strict=True):
        a, b, c = edge(middle, one), edge(middle, other), edge(one, other)
        s = (a + b + c) / 2
        total += math.sqrt(s * (s - a) * (s - b) * (s - c))
    assert surface_ratio(z, side, side)[1, 1] == pytest.approx(total / side**2, rel=1e-12)


def test_beside_a_hole_nothing_is_known():
    z, *_ = ground(lambda x, y: 0.1 * x, 7, 7)
    z[3, 3] = np.nan
    hole = np.zeros((7, 7), bool)
    hole[2:5, 2:5] = True
    east, north = gradients(z, ACROSS, DOWN)
    for values in (slope_deg(east, north), surface_ratio(z, ACROSS, DOWN), hillshade(east, north)):
        np.testing.assert_array_equal(np.isnan(values), hole)


@pytest.mark.parametrize("shape", [(1, 1), (1, 6), (6, 1), (2, 2)])
def test_the_smallest_grids(shape):
    z = np.add.outer(np.zeros(shape[0]), np.arange(shape[1]) * 3.0)
    east, _ = gradients(z, 3.0, 3.0)
    np.testing.assert_allclose(east, 1.0 if shape[1] > 1 else 0.0)
    assert surface_ratio(z, 3.0, 3.0).shape == shape


def test_shade_is_the_cosine_to_the_light():
    assert hillshade(0.0, 0.0) == pytest.approx(math.sin(math.radians(45)))
    lit = math.tan(math.radians(45)) * np.array([1, -1]) / math.sqrt(2)
    assert hillshade(lit[0], lit[1]) == pytest.approx(1.0)  # rises to the south-east, faces the light full on
    assert hillshade(-3.0, 3.0) == 0.0  # turned away
    assert hillshade(0.0, 0.0, 90, 20) == pytest.approx(math.sin(math.radians(20)))


def test_mean_direction():
    assert mean_direction([350, 10], [1, 1]) == pytest.approx((0.0, math.cos(math.radians(10))), abs=1e-9)
    assert mean_direction([90, np.nan], [2, 5]) == pytest.approx((90, 1))
    assert mean_direction([0, 180], [1, 1])[1] == pytest.approx(0, abs=1e-12)
    assert math.isnan(mean_direction([np.nan], [1])[0])
    assert mean_direction([0, 90], [1, 3])[0] == pytest.approx(math.degrees(math.atan2(3, 1)))
