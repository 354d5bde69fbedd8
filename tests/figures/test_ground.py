"""Figures of the ground of blocks on surfaces whose answers are known."""

import json
import math

import numpy as np
import pytest
from affine import Affine
from shapely import LineString, box

from farmmap.farm.grids import transform
from farmmap.farm.heights import Heights
from farmmap.figures.catalogue import explain, working
from farmmap.figures.creek_heights import CreekHeights
from farmmap.figures.ground import BRIEF, COLUMNS, ground_figures
from farmmap.files.raster_reading import heights_under
from farmmap.files.rasters import look_at
from tests.conftest import small_farm
from tests.files.raster_files import raster_file
from tests.place import EAST, NORTH


def over(farm, rise, cell=4.0, beyond=100.0):
    """Heights of z(x, y) around the small farm, x and y from its corner."""
    west, north = EAST - 20 - beyond, NORTH + 120 + beyond
    columns, rows = round((240 + 2 * beyond) / cell), round((180 + 2 * beyond) / cell)
    x = west + (np.arange(columns) + 0.5) * cell - EAST
    y = north - (np.arange(rows) + 0.5) * cell - NORTH
    return Heights(rise(*np.meshgrid(x, y)), west, north, cell, cell)


def test_a_plane_that_faces_east(farm):
    scale = farm.grid.scale(EAST + 100, NORTH + 30)
    fall = math.tan(math.radians(20))
    table = ground_figures(farm, over(farm, lambda x, y: 300 - fall * x / scale + 0 * y))
    assert table.columns == COLUMNS
    assert table.brief == BRIEF
    first = table.rows[0]
    assert first["name"] == "North Terrace"
    assert first["mean_slope_deg"] == pytest.approx(20, abs=1e-4)
    assert first["max_slope_deg"] == pytest.approx(20, abs=1e-4)
    assert (first["steep_percent"], first["very_steep_percent"]) == pytest.approx((100, 0))
    assert first["main_aspect"] == "east"
    turn = farm.grid.convergence_deg(EAST + 100, NORTH + 30)
    assert first["aspect_deg"] == pytest.approx(90 + turn, abs=0.01)
    assert first["surface_area_ha"] == pytest.approx(first["gross_area_ha"] / math.cos(math.radians(20)), rel=1e-6)
    assert first["heights_percent"] == pytest.approx(100)
    assert first["highest_m"] == pytest.approx(300 - fall * 2, abs=0.02)
    assert first["lowest_m"] == pytest.approx(300 - fall * 98, abs=0.02)


def test_the_limits_of_steepness_may_be_set_and_cells_count_by_their_share(farm):
    """Flat west of x = 30 m and 30° steep east of it: 0.7 of the first block, whatever the cells."""
    fall = math.tan(math.radians(30))
    heights = over(farm, lambda x, y: np.where(x < 30, 0, (x - 30) * fall) + 0 * y, cell=1.0)
    row = ground_figures(farm, heights, 20.0, 29.0).rows[0]
    assert row["steep_percent"] == pytest.approx(70, abs=1.0)
    assert row["very_steep_percent"] == pytest.approx(69.5, abs=1.0)
    assert row["mean_slope_deg"] == pytest.approx(21, abs=0.3)
    assert ground_figures(farm, heights, 40.0).rows[0]["steep_percent"] == 0
    assert row["main_aspect"] == "west"


def test_shares_do_not_depend_on_where_the_cells_fall(farm):
    rise = lambda x, y: (x**2 + y**2) / 900  # noqa: E731
    means = []
    for shift in (0.0, 1.7, 3.1):
        heights = over(farm, lambda x, y, shift=shift: rise(x + shift, y))
        moved = Heights(heights.values, heights.west + shift, heights.north, 4.0, 4.0)
        means.append(ground_figures(farm, moved).rows[0]["mean_slope_deg"])
    assert means == pytest.approx([means[0]] * 3, rel=1e-3)


def test_flat_ground_and_a_ridge(farm):
    flat = ground_figures(farm, over(farm, lambda x, y: 7.0 + 0 * x * y)).rows[0]
    assert flat["main_aspect"] == "flat"
    assert flat["aspect_deg"] is None
    assert flat["surface_area_ha"] == pytest.approx(flat["gross_area_ha"])
    ridge = ground_figures(farm, over(farm, lambda x, y: -0.3 * abs(x - 50) + 0 * y)).rows[0]
    assert ridge["main_aspect"] == "several ways"


def test_height_above_the_creek(farm):
    """A valley 0.25 deep a metre along the creek at y = -30, which itself falls 0.01 a metre to the east."""
    heights = over(farm, lambda x, y: 50 - 0.01 * x + 0.25 * np.abs(y + 30))
    first, second = ground_figures(farm, heights).rows
    for row in (first, second):
        assert row["above_creek_m"] == pytest.approx(0.25 * 80, abs=0.02)
        assert row["above_creek_least_m"] == pytest.approx(0.25 * 32, abs=0.02)
    above = CreekHeights(farm, heights).above([EAST + 40, EAST + 40], [NORTH + 10, NORTH - 70], [75.0, 40.0])
    assert above == pytest.approx([75 - 49.6, 40 - 49.6], abs=0.51)  # the bed lies between the cells of 4 m
    planned = farm.with_tables(creeks=farm.creeks.assign(stage="planned"))
    assert ground_figures(planned, heights).rows[0]["above_creek_m"] is None


def test_a_grid_that_covers_half_of_a_block_says_so(farm):
    heights = over(farm, lambda x, y: 0.1 * x + 0 * y)
    heights.values[:, heights.values.shape[1] // 2 - 12 :] = np.nan  # from about x = 52
    first, second = (table := ground_figures(farm, heights)).rows
    assert 40 < first["heights_percent"] < 60
    assert first["surface_area_ha"] is None
    assert first["mean_slope_deg"] == pytest.approx(math.degrees(math.atan(0.1)), rel=1e-3)
    assert (second["heights_percent"], second["mean_slope_deg"], second["main_aspect"]) == (0.0, None, "")
    assert any("does not cover" in note for note in table.notes)
    assert table.as_text()
    assert table.as_csv().count("\n") == 3


def test_without_heights_it_is_said_how_to_add_them(farm):
    table = ground_figures(farm, None, said=("elevation.tif is not there",))
    assert table.rows == ()
    assert table.notes[0] == "elevation.tif is not there"
    assert "Backdrops" in table.notes[1]
    assert "Nothing to show yet" in table.as_text()


def test_a_farm_measured_from_a_post_has_no_true_north():
    farm = small_farm()
    farm = farm.with_tables(
        **{
            name: frame.set_geometry(frame.geometry.translate(-EAST, -NORTH))
            for name, frame in farm.tables.items()
            if "geometry" in frame
        },
        trees=farm.trees.assign(x=farm.trees["x"] - EAST, y=farm.trees["y"] - NORTH),
    )
    assert farm.grid.local
    heights = over(farm, lambda x, y: -0.2 * x + 0 * y)
    moved = Heights(heights.values, heights.west - EAST, heights.north - NORTH, 4.0, 4.0)
    table = ground_figures(farm, moved)
    assert table.rows[0]["aspect_deg"] == pytest.approx(90)
    assert any("the plan's north" in note for note in table.notes)


def test_every_figure_is_explained_and_can_show_its_working(farm):
    table = ground_figures(farm, over(farm, lambda x, y: 0.1 * x + 0.05 * y))
    for row in json.loads(table.as_json()):
        for key in row:
            assert f"({key})" in explain(key).splitlines()[0]
            assert working(key, row)
    assert set(COLUMNS) <= set(table.rows[0])
    assert "Horn" in explain("mean slope")
    assert "Jenness" in explain("surface")


def test_blocks_with_holes_and_parts(farm):
    blocks = farm.blocks.copy()
    pond = box(EAST + 40, NORTH + 40, EAST + 60, NORTH + 60)
    blocks.loc[1, "geometry"] = blocks.loc[1, "geometry"].difference(pond)
    heights = over(farm, lambda x, y: np.where((abs(x - 50) < 10) & (abs(y - 50) < 10), 500.0, 0.1 * x))
    row = ground_figures(farm.with_tables(blocks=blocks), heights).rows[0]
    assert row["highest_m"] < 20
    creek = LineString([(EAST, NORTH - 30), (EAST + 1, NORTH - 30)])
    lone = farm.creeks.assign(geometry=[creek])
    assert ground_figures(farm.with_tables(creeks=lone), heights).rows[0]["above_creek_m"] is not None


@pytest.mark.parametrize("epsg", [4326, 32760])
def test_heights_on_another_grid_give_slopes_along_the_ground(farm, tmp_path, epsg):
    """A plane 18° steep that faces south, sampled on a grid in degrees and on a neighbouring zone of UTM."""
    fall = math.tan(math.radians(18)) / farm.grid.scale(EAST + 100, NORTH + 30)
    corners = [EAST - 300, EAST + 500, EAST - 300, EAST + 500], [NORTH - 300, NORTH - 300, NORTH + 400, NORTH + 400]
    x, y = transform(*map(np.array, corners), 2193, epsg)
    across, down = (x.max() - x.min()) / 200, (y.max() - y.min()) / 200
    column, row = np.meshgrid(np.arange(200) + 0.5, np.arange(200) + 0.5)
    _, north = transform(x.min() + column * across, y.max() - row * down, epsg, 2193)
    path = raster_file(
        tmp_path / "a.tif",
        (250 + fall * (north - NORTH)).astype(np.float64)[None],
        Affine(across, 0, x.min(), 0, -down, y.max()),
        f"EPSG:{epsg}",
    )
    file = look_at(path, farm.grid)
    heights = heights_under([file], 2193, (EAST - 100, NORTH - 100, EAST + 300, NORTH + 200), 100_000)
    assert heights.across_m == heights.down_m == pytest.approx(file.cell_m)
    for line in ground_figures(farm, heights).rows:
        assert line["mean_slope_deg"] == pytest.approx(18, abs=0.01)
        assert line["max_slope_deg"] == pytest.approx(18, abs=0.05)
        assert line["main_aspect"] == "south"
        assert line["surface_area_ha"] == pytest.approx(line["gross_area_ha"] / math.cos(math.radians(18)), rel=1e-4)
