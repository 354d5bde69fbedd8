"""Areas and lengths on the ellipsoid against pyproj.Geod itself."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box

from farmmap.farm.grids import LON_LAT, Grid, transform
from farmmap.figures.areas import (
    areas_m2,
    ground_scale,
    lengths_m,
    perimeters_m,
    planar_areas_m2,
    polygons_only,
)

PLACES = [
    *[(2193, lat, lon) for lat in (-35.0, -41.0, -47.0) for lon in (167.5, 173.0, 178.0)],
    *[(27700, lat, lon) for lat in (50.5, 55.0, 60.0) for lon in (-5.5, -2.0, 1.0)],
    *[(7855, lat, lon) for lat in (-10.0, -25.0, -45.0) for lon in (144.2, 147.0, 149.8)],
    *[(32633, lat, lon) for lat in (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0) for lon in (12.2, 15.0, 17.8)],
]


def _shape_at(epsg: int, lat: float, lon: float) -> Polygon:
    x, y = transform([lon], [lat], LON_LAT, epsg)
    place = np.array([x[0], y[0]])
    outer = [(0, 0), (900, -150), (1300, 700), (400, 1100), (-200, 600)]
    hole = [(200, 200), (500, 250), (300, 600)]
    return Polygon(np.array(outer) + place, [np.array(hole) + place])


@pytest.mark.parametrize(("epsg", "lat", "lon"), PLACES)
def test_area_and_perimeter_agree_with_geod(epsg: int, lat: float, lon: float) -> None:
    grid, shape = Grid(epsg), _shape_at(epsg, lat, lon)
    on_earth = shapely.transform(shape, lambda c: np.column_stack(grid.lon_lat(c[:, 0], c[:, 1])))
    area, perimeter = grid.geod.geometry_area_perimeter(shapely.orient_polygons(on_earth))
    assert areas_m2([shape], grid)[0] == pytest.approx(area, rel=1e-9)
    assert perimeters_m([shape], grid)[0] == pytest.approx(perimeter, rel=1e-9)


@pytest.mark.parametrize(("epsg", "lat", "lon"), PLACES[::4])
def test_length_agrees_with_geod(epsg: int, lat: float, lon: float) -> None:
    grid = Grid(epsg)
    line = LineString(_shape_at(epsg, lat, lon).exterior.coords)
    on_earth = shapely.transform(line, lambda c: np.column_stack(grid.lon_lat(c[:, 0], c[:, 1])))
    assert lengths_m([line], grid)[0] == pytest.approx(grid.geod.geometry_length(on_earth), rel=1e-9)


def test_direction_of_rings_does_not_matter() -> None:
    grid, shape = Grid(2193), _shape_at(2193, -41, 175)
    turned = Polygon(shape.exterior.coords[::-1], [ring.coords[::-1] for ring in shape.interiors])
    half = Polygon(shape.exterior.coords[::-1], [ring.coords for ring in shape.interiors])
    measured = areas_m2([shape, turned, half], grid)
    assert measured == pytest.approx(np.full(3, measured[0]), rel=1e-12)


def test_parts_and_holes_add_up() -> None:
    grid = Grid(7855)
    x, y = 300_000.0, 5_850_000.0
    far = box(x + 5000, y, x + 5400, y + 300)
    holed = Polygon(box(x, y, x + 1000, y + 1000).exterior, [box(x + 100, y + 100, x + 300, y + 300).exterior.coords])
    outer, hole = areas_m2([box(x, y, x + 1000, y + 1000), box(x + 100, y + 100, x + 300, y + 300)], grid)
    both = areas_m2([MultiPolygon([holed, far])], grid)[0]
    assert both == pytest.approx(outer - hole + areas_m2([far], grid)[0], rel=1e-12)


def test_nothing_measures_nothing() -> None:
    grid = Grid(2193)
    assert areas_m2([], grid).shape == (0,)
    assert areas_m2([Polygon(), None, Point(1, 2)], grid).tolist() == [0, 0, 0]
    assert lengths_m([LineString(), None], grid).tolist() == [0, 0]
    assert lengths_m([], grid).shape == (0,)


def test_lengths_do_not_run_from_line_to_line() -> None:
    grid, x, y = Grid(2193), 1_600_000.0, 5_500_000.0
    lines = [LineString([(x, y), (x + 100, y)]), LineString([(x + 5000, y), (x + 5100, y)])]
    together = shapely.MultiLineString(lines)
    apart = lengths_m(lines, grid)
    assert apart == pytest.approx([100 / 0.9996] * 2, rel=1e-6)
    assert lengths_m([together], grid)[0] == pytest.approx(apart.sum())


@given(
    st.lists(st.tuples(st.floats(0, 1000), st.floats(0, 1000)), min_size=3, max_size=12),
    st.floats(100, 900),
)
def test_two_parts_of_a_field_sum_to_the_whole(corners: list[tuple[float, float]], cut: float) -> None:
    grid = Grid(32633)
    whole = shapely.MultiPoint(np.array(corners) + np.array([450_000, 5_000_000])).convex_hull
    if whole.geom_type != "Polygon" or whole.area < 1:
        return
    west = whole.intersection(box(449_000, 4_990_000, 450_000 + cut, 5_010_000))
    east = whole.intersection(box(450_000 + cut, 4_990_000, 460_000, 5_010_000))
    parts = areas_m2([polygons_only(west), polygons_only(east)], grid)
    bend_of_two_sides_m2 = 0.2
    assert parts.sum() == pytest.approx(areas_m2([whole], grid)[0], rel=1e-6, abs=bend_of_two_sides_m2)


@pytest.mark.parametrize(("epsg", "lat", "lon"), PLACES[::5])
def test_scale_turns_ground_into_grid(epsg: int, lat: float, lon: float) -> None:
    grid, shape = Grid(epsg), _shape_at(epsg, lat, lon)
    scale = ground_scale(shape, grid)
    assert planar_areas_m2([shape])[0] / scale**2 == pytest.approx(areas_m2([shape], grid)[0], rel=3e-5)
    assert ground_scale(None, grid) == 1
    assert ground_scale(Polygon(), grid) == 1


def test_polygons_only_drops_lines_and_points() -> None:
    mixed = shapely.GeometryCollection([box(0, 0, 2, 2), LineString([(0, 0), (9, 9)]), Point(5, 5), box(3, 3, 4, 4)])
    assert polygons_only(mixed).area == 5
    assert polygons_only(LineString([(0, 0), (1, 1)])).is_empty
    assert polygons_only(box(0, 0, 1, 1)).geom_type == "Polygon"


def test_polygons_only_keeps_several_polygons_as_they_are_and_drops_empty_ones() -> None:
    two = MultiPolygon([box(0, 0, 1, 1), box(2, 0, 3, 1)])
    assert polygons_only(two) is two
    assert polygons_only(MultiPolygon([box(0, 0, 1, 1)])).geom_type == "Polygon"
    assert polygons_only(MultiPolygon([box(0, 0, 1, 1), Polygon()])).geom_type == "Polygon"
    assert polygons_only(MultiPolygon()).is_empty
