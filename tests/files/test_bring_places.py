"""Grids, and sources that lie where they cannot be meant to lie."""

import datetime as dt
import json

import geopandas as gpd
import numpy as np
import pytest
import shapely

from farmmap.errors import BadInput, GridError, Stopped
from farmmap.farm.farm import new_farm
from farmmap.farm.grids import transform
from farmmap.files.bring import bring

E, N = 1812000.0, 5478000.0
TODAY = dt.date(2026, 5, 31)


def table(x, y, head="x,y"):
    return f"{head}\n" + "".join(f"{a},{b}\n" for a, b in zip(np.atleast_1d(x), np.atleast_1d(y), strict=True))


XS, YS = E + np.array([0.0, 50, 100]), N + np.array([0.0, 30, 60])
LON, LAT = transform(XS, YS, 2193, 4326)


@pytest.fixture
def settled(brought):
    """The farm with a boundary at Pipit Downs."""
    return brought(f'wkt\n"{shapely.box(E - 500, N - 500, E + 500, N + 500).wkt}"\n', "boundary")[1]


def there(farm):
    return np.allclose(farm.trees[["x", "y"]].to_numpy(), np.column_stack([XS, YS]), atol=0.01)


@pytest.mark.parametrize("head", ["lon,lat", "Longitude,Latitude", "long,lat"])
def test_longitude_and_latitude(brought, settled, head):
    assert there(brought(table(LON, LAT, head), "trees", settled)[1])


def test_a_grid_that_is_named(brought, settled):
    utm = transform(XS, YS, 2193, 32760)
    found, farm = brought(table(*utm), "trees", settled, grid="EPSG:32760")
    assert there(farm)
    found, farm = brought("grid," + table(*utm).replace("\n", "\nEPSG:2193,")[:-10], "trees", settled, grid=32760)
    assert there(farm)
    assert any("EPSG:32760 was taken, as you said" in said for said in found.said)
    with pytest.raises(GridError):
        brought(table(XS, YS), "trees", settled, grid="EPSG:999999")


def test_the_farms_grid_is_taken_and_said(brought, settled):
    found, farm = brought(table(XS, YS), "trees", settled)
    assert there(farm)
    assert any("taken as on the farm's own, EPSG:2193" in said for said in found.said)


@pytest.mark.parametrize("empty_farm", [True, False])
def test_swapped_axes_are_noticed_and_the_remedy_works(brought, settled, empty, empty_farm):
    farm = empty if empty_farm else settled
    with pytest.raises(BadInput, match=r"x and y seem to be swapped: bring it with --column x=y --column y=x"):
        brought(table(YS, XS), "trees", farm)
    assert there(brought(table(YS, XS), "trees", farm, columns={"x": "y", "y": "x"})[1])
    with pytest.raises(BadInput, match=r"Longitude and latitude seem to be swapped: .*lon=lat"):
        brought(table(LAT, LON, "lon,lat"), "trees", farm)
    assert there(brought(table(LAT, LON, "lon,lat"), "trees", farm, columns={"lon": "lat", "lat": "lon"})[1])


@pytest.mark.parametrize("empty_farm", [True, False])
def test_degrees_under_x_and_y_are_noticed(brought, settled, empty, empty_farm):
    farm = empty if empty_farm else settled
    with pytest.raises(BadInput, match=r"longitude and latitude: bring it with --grid EPSG:4326"):
        brought(table(LON, LAT), "trees", farm)
    assert there(brought(table(LON, LAT), "trees", farm, grid="EPSG:4326")[1])


def test_another_grid_of_the_country_is_recognised(brought, settled):
    old = transform(XS, YS, 2193, 27200)
    with pytest.raises(BadInput, match=r"another grid, .*--grid EPSG:27200"):
        brought(table(*old), "trees", settled)


def test_a_neighbouring_zone_is_recognised(brought):
    farm = new_farm("Pipit Downs", "EPSG:32633")
    farm = brought(f'wkt\n"{shapely.box(5e5, 5.4e6, 5.01e5, 5.401e6).wkt}"\n', "boundary", farm)[1]
    x, y = transform([5e5, 5.0005e5], [5.4e6, 5.4e6], 32633, 32632)
    with pytest.raises(BadInput, match=r"UTM zone 32"):
        brought(table(x, y), "trees", farm)


def test_shapes_with_swapped_axes(brought, settled):
    geometry = {"type": "MultiPoint", "coordinates": [[LAT[0], LON[0]]]}
    with pytest.raises(BadInput, match="--column lon=lat --column lat=lon"):
        brought(json.dumps(geometry), "trees", settled)
    _, farm = brought(json.dumps(geometry), "trees", settled, columns={"lon": "lat", "lat": "lon"})
    assert farm.trees["x"].iloc[0] == pytest.approx(E, abs=0.01)


def test_far_off_without_a_cause_comes_only_if_told(brought, settled):
    with pytest.raises(BadInput, match=r"lies 1[0-9]{2} km from the farm, so nothing was brought in"):
        brought(table(XS - 40_000, YS + 150_000), "trees", settled)
    assert len(brought(table(XS - 40_000, YS + 150_000), "trees", settled, anyway=True)[1].trees) == 3


def test_local_coordinates_come_in_as_they_are(brought, empty, settled):
    local = table([0, 28, 56], [0, 20, 38])
    found, farm = brought(local, "trees", empty)
    assert farm.trees["x"].tolist() == [0, 28, 56]
    assert any("measured from a corner post" in said for said in found.said)
    square = {"type": "Polygon", "coordinates": [[[0, 0], [56, 0], [56, 38], [0, 38], [0, 0]]]}
    for into in (farm, empty):
        _, after = brought(json.dumps(square), "blocks", into)
        assert after.blocks.geometry.area.tolist() == [2128]
    _, after = brought(f'wkt\n"{shapely.box(0, 0, 56, 38).wkt}"\n', "blocks", farm)
    assert after.blocks.geometry.area.tolist() == [2128]
    with pytest.raises(BadInput, match=r"--origin"):
        brought(local, "trees", settled)
    _, after = brought(local, "trees", settled, origin=(E, N))
    assert after.trees["x"].tolist() == [E, E + 28, E + 56]
    with pytest.raises(BadInput, match="either a grid or an origin"):
        brought(local, "trees", settled, origin=(E, N), grid=4326)


def test_a_unit_square_is_local_too(brought, empty):
    found, farm = brought(table([0.1, 0.5, 0.9], [0.2, 0.3, 0.9]), "trees", empty)
    assert len(farm.trees) == 3
    assert any("corner post" in said for said in found.said)


def test_feet(brought, empty):
    _, farm = brought(table([0, 100], [0, 50], "x_ft,y_ft"), "trees", empty)
    assert farm.trees["x"].tolist() == pytest.approx([0, 30.48])


def test_shapes_in_metres_under_a_standard_that_says_degrees(brought, settled):
    shape = json.loads(json.dumps(shapely.geometry.mapping(shapely.box(E, N, E + 10, N + 10))))
    found, farm = brought(json.dumps(shape), "blocks", settled)
    assert farm.blocks.geometry.area.tolist() == pytest.approx([100])
    assert any("no longitudes and latitudes" in said for said in found.said)


def test_single_points_off_the_earth_are_bad_rows(brought, settled):
    found, farm = brought(table([*LON, 300.0], [*LAT, 95.0], "lon,lat"), "trees", settled)
    assert there(farm)
    assert found.bad[0].row_number == 5


def test_a_layer_brings_its_grid_along(tmp_path, settled):
    path = tmp_path / "trees.gpkg"
    x, y = transform(XS, YS, 2193, 27200)
    points = gpd.points_from_xy(x, y, crs=27200)
    gpd.GeoDataFrame({"tag": [7, 8, 9], "DBH": [1.5, np.nan, 3.0]}, geometry=points).to_file(path, layer="stems")
    found = bring(settled, path, "trees", today=TODAY)
    farm = found.edit.apply(settled)
    assert there(farm)
    assert farm.trees["tag"].tolist() == ["7", "8", "9"]
    assert farm.measurements["dbh_cm"].tolist() == [1.5, 3.0]


def test_it_can_be_stopped(put, settled):
    class Stopper:
        def step(self, done, total, what):
            raise Stopped(f"stopped at {done} of {total}: {what}")

    with pytest.raises(Stopped, match=r"reading stop.csv"):
        bring(settled, put("stop.csv", table(XS, YS)), "trees", progress=Stopper())
