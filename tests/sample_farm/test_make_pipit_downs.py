"""The sample farm holds what is promised, and the files in the repository are what the script makes."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from farmmap.farm.schema import TABLES
from farmmap.files.checks import check_farm
from farmmap.files.farm_file import read_farm


@pytest.mark.parametrize("name", list(TABLES))
def test_the_file_holds_what_the_script_builds(built, folder, name):
    farm, _ = built
    ours, theirs = farm.tables[name], read_farm(folder / "pipit_downs.gpkg").tables[name]
    assert (len(ours) > 0) == (name not in {"plans", "sheets", "pack_parts"})
    if isinstance(ours, gpd.GeoDataFrame):
        assert shapely.equals_exact(ours.geometry.to_numpy(), theirs.geometry.to_numpy(), 1e-6).all()
        ours, theirs = pd.DataFrame(ours.drop(columns="geometry")), pd.DataFrame(theirs.drop(columns="geometry"))
    pd.testing.assert_frame_equal(ours, theirs[ours.columns], rtol=1e-9)


def test_settings_of_the_file(built, folder):
    assert read_farm(folder / "pipit_downs.gpkg").settings == built[0].settings


def test_nothing_is_wrong_with_the_file(folder):
    assert check_farm(folder / "pipit_downs.gpkg") == []


def test_files_stay_small(folder):
    kilobytes = {name: (folder / name).stat().st_size / 1000 for name in ("elevation.tif", "picture.tif")}
    assert kilobytes["elevation.tif"] < 300
    assert kilobytes["picture.tif"] < 400
    assert (folder / "pipit_downs.gpkg").stat().st_size < 3_000_000


def test_size_and_place(built):
    farm, where = built
    assert farm.settings.epsg == 2193
    assert farm.settings.breast_height_m == 1.4
    assert farm.boundary.geometry.area.sum() / 1e4 == pytest.approx(150, abs=5)
    assert where.boundary.centroid.distance(shapely.Point(1_812_000, 5_478_000)) < 100


def test_blocks_are_sound(built):
    farm, where = built
    shapes = farm.blocks.geometry.to_numpy()
    assert len(shapes) >= 12
    assert farm.blocks["name"].is_unique
    assert shapely.is_valid(shapes).all()
    assert shapely.coverage_is_valid(shapes)
    assert shapely.contains(where.boundary, shapes).all()
    channel = shapely.union_all([where.sedge.buffer(1.78), where.rush.buffer(0.58)])
    assert shapely.area(shapely.intersection(shapes, channel)).max() < 0.5


def test_neighbouring_blocks_share_corners(built):
    blocks = dict(zip(built[0].blocks["name"], built[0].blocks.geometry, strict=True))
    for one, other in (
        ("Ridge Pines", "North Terrace"),
        ("Poplar Face", "Ridge Pines"),
        ("Lusitanica Corner", "Stringybark Spur"),
        ("Lower Flat", "Sedge Right Bank"),
    ):
        edge = blocks[one].intersection(blocks[other])
        assert edge.length > 50
        corners = {tuple(corner) for corner in shapely.get_coordinates(edge)}
        for block in (blocks[one], blocks[other]):
            assert corners <= {tuple(corner) for corner in shapely.get_coordinates(block)}


def test_creeks(built):
    farm, where = built
    assert where.sedge.intersection(where.boundary).length == pytest.approx(1600, abs=100)
    assert where.sedge.intersection(where.boundary).length > 1.1 * 1400
    assert where.rush.coords[-1] in list(where.sedge.coords)
    assert where.sedge.crosses(where.boundary)
    assert not where.sedge.crosses(where.rush)
    assert set(farm.creeks["flows"]) == {"as drawn"}


def test_trees_in_number_and_kind(built):
    farm, _ = built
    trees = farm.trees
    existing = trees[trees["stage"] == "existing"]
    assert 3800 <= (existing["status"] == "alive").sum() <= 4400
    assert existing["tag"].is_unique
    assert {"dead", "felled"} <= set(existing["status"])
    assert (existing["stems"] > 1).sum() > 50
    assert set(trees["species"]) == set(farm.species["code"])
    assert set(farm.species["origin"]) == {"native", "introduced"}
    blocks = farm.blocks.geometry.to_numpy()
    inside = shapely.STRtree(blocks).query(shapely.points(trees["x"], trees["y"]), predicate="intersects")
    assert len(np.unique(inside[0])) == len(trees)


def test_what_is_planned(built):
    farm, _ = built
    blocks = farm.blocks
    assert (blocks["stage"] == "planned").sum() == 1
    assert (farm.trees["stage"] == "planned").sum() > 100
    assert set(farm.fences["stage"]) == {"existing", "planned"}
    left = blocks.geometry[blocks["name"] == "Sedge Left Bank"].iloc[0]
    there = farm.trees[shapely.contains_xy(left, farm.trees["x"], farm.trees["y"])]
    assert (there["stage"] == "existing").mean() == pytest.approx(0.5, abs=0.05)


def test_poles_stand_about_a_hundred_a_hectare(built):
    farm, where = built
    face = where.blocks["Poplar Face"]
    poles = shapely.contains_xy(face, farm.trees["x"], farm.trees["y"])
    assert poles.sum() / (face.area / 1e4) == pytest.approx(90, abs=15)


def test_surveys(built):
    readings = built[0].measurements
    per_tree = readings.groupby("tree")["measured_on"].nunique()
    assert per_tree.max() == 4
    assert (per_tree == 4).sum() > 1000
    days = readings["measured_on"]
    assert days.max() - days.min() > pd.Timedelta(days=365 * 14.9)
    assert days.max() < pd.Timestamp("2026-11-01")
    assert not readings.duplicated(["tree", "measured_on", "stem"]).any()
    assert 0.1 < readings["height_m"].notna().mean() < 0.45


def test_saplings_below_breast_height_have_no_diameter(built):
    farm, where = built
    terrace = where.blocks["Tōtara Terrace"]
    young = farm.trees.index[shapely.contains_xy(terrace, farm.trees["x"], farm.trees["y"])]
    readings = farm.measurements[farm.measurements["tree"].isin(young)]
    assert len(readings) > 100
    assert readings["dbh_cm"].isna().all()
    assert readings["height_m"].max() < 1.4


def test_trees_grow_believably(built):
    readings = built[0].measurements.dropna(subset="dbh_cm").sort_values(["tree", "stem", "measured_on"])
    stems = readings.groupby(["tree", "stem"])
    alone = readings["tree"].map(built[0].trees["stems"]) == 1
    gained = stems["dbh_cm"].diff()[alone]
    years = stems["measured_on"].diff()[alone].dt.days / 365.25
    yearly = (gained / years).dropna()
    assert len(yearly) > 5000
    assert yearly.min() > -0.7
    assert yearly.max() < 5
    assert (yearly > 0).mean() > 0.95
    assert (yearly < 0).any()


def test_no_tree_is_measured_after_its_end(built):
    farm, _ = built
    ends = farm.measurements["tree"].map(farm.trees["status_on"])
    assert ends.notna().any()
    assert not (farm.measurements["measured_on"] >= ends).any()


def test_thinning_took_the_thin(built):
    farm, _ = built
    before = farm.measurements[farm.measurements["measured_on"] == "2016-05-17"].set_index("tree")["dbh_cm"]
    felled = farm.trees["status"].reindex(before.index) == "felled"
    assert before[felled].mean() < before[~felled].mean() - 3


def test_pruned_heights_only_rise(built):
    readings = built[0].measurements.dropna(subset="pruned_m").sort_values("measured_on")
    assert (readings.groupby("tree")["pruned_m"].diff().dropna() >= 0).all()
    assert readings.groupby("tree")["pruned_m"].nunique().max() >= 3


def test_what_the_grower_wrote_down(built):
    farm, where = built
    assert set(farm.trees["form"]) == {"", "good", "fair", "poor"}
    assert set(farm.trees["mark"]) == {""}
    stubs = farm.measurements[farm.measurements["dos_cm"].notna()]
    assert len(stubs) > 300
    assert stubs["pruned_m"].notna().all()
    assert {"targets", "regimes", "products", "volumes"} <= {name for name, table in farm.tables.items() if len(table)}
    assert set(farm.tables["targets"]["species"]) <= set(farm.species["code"])
    block = where.blocks["Kānuka Remnant"]
    assert shapely.contains_xy(block, farm.plots["x"], farm.plots["y"]).all()
    assert set(farm.plot_trees["plot"]) == set(farm.plots.index)
    assert set(farm.plot_trees["counts"]) == {1.0, 2.0}
