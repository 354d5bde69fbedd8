"""The figures of the ground, and the sample farm with its pictures, from the command line."""

import json
import shutil

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.resource_files import sample_farm_files


@pytest.fixture
def sample(tmp_path):
    for path in sample_farm_files():
        shutil.copy(path, tmp_path / path.name)
    return tmp_path / "pipit_downs.gpkg"


def run(*arguments):
    result = CliRunner().invoke(main, [*map(str, arguments)])
    assert result.exit_code == 0, result.output
    return result.output


def test_the_ground_of_the_sample_farm(sample):
    rows = json.loads(run("figures", sample, "--of", "ground", "--format", "json"))
    assert len(rows) == 14
    bank = next(row for row in rows if row["name"] == "Sedge Left Bank")
    face = next(row for row in rows if row["name"] == "Poplar Face")
    assert face["mean_slope_deg"] > 3 * bank["mean_slope_deg"]
    assert abs(bank["above_creek_m"]) < 2 < face["above_creek_least_m"]
    assert all(row["surface_area_ha"] >= row["gross_area_ha"] for row in rows)
    said = run("figures", sample, "--of", "ground")
    assert "Horn (1981)" in said
    assert "Jenness (2004)" in said


def test_without_its_elevation_grid_it_says_what_is_missing(sample):
    (sample.parent / "elevation.tif").unlink()
    said = run("figures", sample, "--of", "ground")
    assert "elevation.tif is not in" in said
    assert "Nothing to show yet" in said


def test_every_figure_of_the_ground_is_explained():
    assert "Jenness" in run("explain", "surface_area_ha")
    assert "circular mean" in run("explain", "main", "aspect")
