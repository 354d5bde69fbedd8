"""Shares of cells inside shapes, against shapely's own intersections."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.heights import Heights
from farmmap.figures.cells import cells_inside

GRID = Heights(np.zeros((12, 15)), 1000.0, 5084.0, 10.0, 7.0)


def whole(shape):
    cells = cells_inside(shape, GRID)
    out = np.zeros(GRID.values.shape)
    out[cells.rows, cells.columns] = cells.shares
    return out


def by_shapely(shape):
    row, column = np.mgrid[0:12, 0:15]
    boxes = shapely.box(1000 + column * 10, 5084 - (row + 1) * 7, 1000 + (column + 1) * 10, 5084 - row * 7)
    return shapely.area(shapely.intersection(boxes, shape)) / 70


corners = st.lists(st.tuples(st.integers(990, 1160), st.integers(4990, 5094)), min_size=3, max_size=9)


@given(corners, st.booleans())
def test_shares_are_those_of_the_intersections(points, holed):
    shape = shapely.make_valid(shapely.Polygon(points))
    if holed:
        shape = shapely.difference(shape, shapely.Point(1070, 5040).buffer(17))
    shape = shapely.MultiPolygon([part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"])
    np.testing.assert_allclose(whole(shape), by_shapely(shape), atol=1e-9)


@pytest.mark.parametrize(
    "shape",
    [
        shapely.box(1010, 5014, 1050, 5063),  # along the grid's own lines
        shapely.box(1000, 5000, 1150, 5084),
        shapely.box(1013, 5020, 1014, 5021),  # within one cell
        shapely.box(1013, 5020, 1013.5, 5080),
        shapely.box(0, 0, 9000, 9000),
        shapely.Polygon(),
        shapely.box(0, 0, 10, 10),
        shapely.Polygon([(1010, 5010), (1140, 5010), (1140, 5070), (1010, 5070)], [[(1030, 5030), (1100, 5030), (1100, 5050)]]),
    ],
)  # fmt: skip
def test_special_shapes(shape):
    np.testing.assert_allclose(whole(shape), by_shapely(shape), atol=1e-9)


def test_parts_are_added_up():
    parts = [shapely.box(1005, 5010, 1032, 5040), shapely.box(1032, 5040, 1100, 5080)]
    np.testing.assert_allclose(whole(shapely.MultiPolygon(parts)), sum(map(by_shapely, parts)), atol=1e-9)
