"""Elevation and picture lie where the farm is and fit its creeks."""

from __future__ import annotations

import numpy as np
import rasterio
import shapely


def test_elevation_is_what_the_script_makes(built, folder):
    from pipit_pictures import elevation

    height, place = elevation(built[1])
    with rasterio.open(folder / "elevation.tif") as file:
        assert file.crs.to_epsg() == 2193
        assert file.transform == place
        assert np.abs(file.read(1) - height).max() < 0.02


def test_water_runs_downhill_in_a_valley(built, folder):
    from pipit_pictures import between_cells

    where = built[1]
    with rasterio.open(folder / "elevation.tif") as file:
        height, place = file.read(1), file.transform
    for creek in (where.sedge, where.rush):
        stations = shapely.line_interpolate_point(creek, np.arange(80, creek.length - 40, 60))
        bed = between_cells(height, place, shapely.get_x(stations), shapely.get_y(stations))
        assert bed[0] - bed[-1] > 10
        assert (np.diff(bed) < 0.5).all()
        rims = [creek.parallel_offset(150, side) for side in ("left", "right")]
        for rim in rims:
            corners = shapely.get_coordinates(rim)
            assert np.median(between_cells(height, place, *corners.T)) > np.median(bed) + 10


def test_picture_covers_the_farm(built, folder):
    with rasterio.open(folder / "picture.tif") as file:
        assert file.crs.to_epsg() == 2193
        assert shapely.box(*file.bounds).contains(built[1].boundary)
        colours = file.read()
    assert colours.shape[0] == 3
    assert colours.std() > 10
