"""``farmmap photos``: lists, adds, refuses in words, and prints the sheet."""

import json
import shutil

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.resource_files import sample_farm_files
from tests.photo_files import write_photo


@pytest.fixture
def sample(tmp_path):
    for path in sample_farm_files():
        shutil.copyfile(path, tmp_path / path.name)
    return tmp_path / "pipit_downs.gpkg"


def run(*words, code=0):
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exit_code == code, result.output
    return result.output


def test_photographs_are_listed_by_point(sample):
    text = run("photos", sample)
    assert "Creek bend: looking west (254° from grid north), camera 1.5 m above the ground\n  2016-05-17  " in text
    assert "Gully mouth: " in text
    rows = json.loads(run("photos", sample, "--format", "json"))
    assert [row["taken_on"] for row in rows] == ["2016-05-17", "2026-05-06", "2026-05-06"]
    assert not any(row["trouble"] for row in rows)
    (sample.parent / "creek_bend_2016.jpg").unlink()
    assert "creek_bend_2016.jpg is not in" in run("photos", sample, "--format", "csv")


def test_one_is_added_and_stays_where_it_is(sample):
    path = write_photo(sample.parent / "new.jpg", taken="2025:04:01 10:00:00")
    said = run("photos", sample, "--add", path, "--point", "gully mouth", "--caption", "Rush Gully")
    assert said == "Add photograph new.jpg: done\n"
    row = read_farm(sample).tables["photos"].iloc[-1]
    assert (row["photo_point"], row["path"], row["caption"]) == (3, "new.jpg", "Rush Gully")
    assert "among the photographs already" in run("photos", sample, "--add", path, code=1)
    assert "there is no photo point Nowhere; there are Creek bend" in run(
        "photos", sample, "--add", path, "--point", "Nowhere", code=1
    )
    (sample.parent / "bad.png").write_text("words")
    assert "bad.png cannot be read as a photograph" in run("photos", sample, "--add", sample.parent / "bad.png", code=1)
    assert "give --add" in run("photos", sample, "--caption", "x", code=2)
    assert len(read_farm(sample).tables["photos"]) == 4


def test_points_of_one_name_each_list_their_own(sample):
    farm = read_farm(sample)
    points = farm.tables["photo_points"]
    write_farm(farm.with_tables(photo_points=points.assign(name="Ford").astype(points.dtypes)), sample, replace=True)
    assert run("photos", sample).count("Ridge Pines from the look-out") == 1


def test_the_folder_of_a_lost_file_is_named_in_full(sample, monkeypatch):
    (sample.parent / "look_out_2026.jpg").unlink()
    monkeypatch.chdir(sample.parent)
    assert f"look_out_2026.jpg is not in {sample.parent};" in run("photos", sample.name)


def test_a_photograph_is_not_printed_over(sample):
    path = write_photo(sample.parent / "new.png", driver="PNG")
    before = path.read_bytes()
    assert "new.png is a photograph" in run("photos", sample, "--add", path, "--out", path, code=2)
    assert path.read_bytes() == before
