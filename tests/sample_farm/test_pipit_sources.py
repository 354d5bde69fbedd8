"""The files to bring in are what the script makes, and come in as the README says."""

from __future__ import annotations

import filecmp
import json

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import read_farm

NAMES = ("boundary.gpx", "blocks.geojson", "creeks.kml", "trees.csv")


def test_files_are_what_the_script_makes(built, folder, tmp_path):
    from pipit_sources import write_sources

    write_sources(built[0], tmp_path / "bring")
    same, different, broken = filecmp.cmpfiles(folder / "bring", tmp_path / "bring", NAMES, shallow=False)
    assert (sorted(same), different, broken) == (sorted(NAMES), [], [])


def test_blocks_are_geojson_with_outer_rings_anticlockwise(built, folder):
    features = json.loads((folder / "bring" / "blocks.geojson").read_text("utf-8"))["features"]
    assert len(features) == len(built[0].blocks)
    for feature in features:
        assert shapely.is_ccw(shapely.LinearRing(feature["geometry"]["coordinates"][0]))


@pytest.fixture(scope="module")
def brought(folder, tmp_path_factory):
    """Bring all four files into a new farm; return it and what was said of the trees."""
    place = tmp_path_factory.mktemp("brought")
    for name in NAMES:
        (place / name).write_bytes((folder / "bring" / name).read_bytes())
    farm_file = str(place / "farm.gpkg")
    said = {}
    calls = [
        ["new", farm_file, "--name", "Pipit Downs", "--grid", "EPSG:2193"],
        *(["bring", str(place / name), "--into", farm_file, "--as", name.split(".")[0]] for name in NAMES),
    ]
    for call in calls:
        result = CliRunner().invoke(main, call)
        assert result.exit_code == 0, result.output
        said[call[-1]] = result.output
    return read_farm(farm_file), said["trees"], place


def test_boundary_and_blocks_come_back_where_they_were(built, brought):
    ours, theirs = built[0], brought[0]
    assert theirs.boundary.geometry.area.sum() == pytest.approx(ours.boundary.geometry.area.sum(), rel=1e-5)
    assert list(theirs.blocks["name"]) == list(ours.blocks["name"])
    assert np.allclose(theirs.blocks.geometry.area, ours.blocks.geometry.area, rtol=1e-4)
    assert list(theirs.creeks["channel_m"]) == list(ours.creeks["channel_m"])
    assert np.allclose(theirs.creeks.geometry.length, ours.creeks.geometry.length, rtol=1e-5)


def test_good_trees_come_in_and_bad_rows_are_set_aside(built, brought, folder):
    from pipit_sources import BAD_ROWS

    farm, said, place = brought
    rows = len((folder / "bring" / "trees.csv").read_text("utf-8").splitlines()) - 1
    assert len(farm.trees) == rows - len(BAD_ROWS)
    assert set(farm.species["code"]) == {"JNIG", "JREG"}
    assert str(len(BAD_ROWS)) in said
    assert len([path for path in place.iterdir() if path.name.startswith("trees")]) == 2
    diameters = built[0].measurements["dbh_cm"]
    assert set(farm.measurements["dbh_cm"].dropna()) <= set(diameters)
