"""Areas and scales against published geodesy."""

from __future__ import annotations

import pytest
from shapely import LineString, box

from farmmap.farm.grids import LON_LAT, Grid, transform
from farmmap.figures.areas import areas_m2, ground_scale, lengths_m, perimeters_m


@pytest.mark.parametrize(
    ("east", "area", "around"), [(300_000, 999819.478, 3999.639), (500_000, 1000800.474, 4001.601)]
)
def test_a_square_kilometre_of_grid(east: float, area: float, around: float) -> None:
    """MGA zone 55, computed with PROJ's geodesics; the first is 1e6 over the square of the scale at its middle."""
    grid = Grid(7855)
    square = box(east, 5_850_000, east + 1000, 5_851_000)
    assert areas_m2([square], grid)[0] == pytest.approx(area, abs=0.1)
    assert perimeters_m([square], grid)[0] == pytest.approx(around, abs=1e-3)
    assert 1e6 / ground_scale(square, grid) ** 2 == pytest.approx(area, abs=0.2)


@pytest.mark.parametrize(
    ("east", "scale", "hectare"),
    [
        (500_000, 0.99960000, 10008.005),
        (400_000, 0.99972318, 10005.539),
        (300_000, 1.00009273, 9998.146),
        (250_000, 1.00036993, 9992.605),
        (200_000, 1.00070877, 9985.840),
        (166_000, 1.00097439, 9980.541),
    ],
)
def test_a_hectare_of_grid_is_more_or_less_on_the_ground(east: float, scale: float, hectare: float) -> None:
    """Point scale across MGA zone 55 near 37.5 degrees south, GDA technical manual's formulas through PROJ."""
    grid = Grid(7855)
    _, north = transform([147.0], [-37.5], LON_LAT, 7855)
    square = box(east - 50, north[0] - 50, east + 50, north[0] + 50)
    assert ground_scale(square, grid) == pytest.approx(scale, abs=2e-6)
    assert areas_m2([square], grid)[0] == pytest.approx(hectare, abs=0.05)


def test_a_degree_on_the_equator() -> None:
    """WGS 84 cell of one degree, and one degree of the equator: 111319.4908 m."""
    grid = Grid(32631)
    x, y = transform([0, 1, 1, 0], [0, 0, 1, 1], LON_LAT, 32631)
    cell = box(0, 0, 1, 1).__class__(list(zip(x, y, strict=True)))
    assert areas_m2([cell], grid)[0] == pytest.approx(12308778361.469, rel=1e-9)
    assert perimeters_m([cell], grid)[0] == pytest.approx(443770.9172, abs=1e-3)
    side = LineString([(x[0], y[0]), (x[1], y[1])])
    assert lengths_m([side], grid)[0] == pytest.approx(111319.4908, abs=1e-3)


def test_a_degree_at_38_south() -> None:
    """GRS80: 110996.4837 m along the meridian; 87832.0385 m between two meridians, as the shortest line."""
    grid = Grid(7855)
    x, y = transform([145, 145, 146], [-37.5, -38.5, -38.0], 4283, 7855)
    west, _ = transform([145], [-38.0], 4283, 7855)
    _, middle = transform([145], [-38.0], 4283, 7855)
    assert lengths_m([LineString([(x[0], y[0]), (x[1], y[1])])], grid)[0] == pytest.approx(110996.4837, abs=1e-2)
    assert lengths_m([LineString([(west[0], middle[0]), (x[2], y[2])])], grid)[0] == pytest.approx(87832.0385, abs=1e-2)


def test_flinders_peak_to_buninyong() -> None:
    """GDA technical manual: ellipsoidal distance 54972.271 m."""
    grid = Grid(7855)
    line = LineString([(273741.297, 5796489.777), (228854.052, 5828259.038)])
    assert lengths_m([line], grid)[0] == pytest.approx(54972.271, abs=2e-3)
