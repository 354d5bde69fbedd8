"""Heights at points of a grid."""

import numpy as np
import pytest

from farmmap.farm.heights import Heights


def test_between_the_middles_of_cells_heights_are_bilinear():
    row, column = np.mgrid[0:6, 0:8]
    grid = Heights(100 + 2.0 * column - 3.0 * row, 50.0, 200.0, 10.0, 5.0)
    assert grid.bounds == (50, 170, 130, 200)
    x, y = np.array([55.0, 71.0, 130.0, 50.0]), np.array([197.5, 180.0, 170.0, 200.0])
    want = 100 + 2 * ((x - 50) / 10 - 0.5) - 3 * ((200 - y) / 5 - 0.5)
    assert grid.at(x, y) == pytest.approx(want)


def test_outside_and_beside_holes_nothing_is_known():
    values = np.zeros((4, 4))
    values[1, 1] = np.nan
    grid = Heights(values, 0.0, 4.0, 1.0, 1.0)
    assert np.isnan(grid.at([-0.1, 4.1, 2, np.nan], [2, 2, 4.2, 1])).all()
    assert np.isnan(grid.at([1.7], [2.7]))
    assert grid.at([2.5, 0.5], [2.5, 0.5]).tolist() == [0, 0]  # exactly on a middle, its neighbours do not count


def test_one_cell():
    assert Heights(np.full((1, 1), 9.0), 0, 1, 1, 1).at([0.2], [0.9]).tolist() == [9.0]
