"""The command that tells what is to be pruned."""

import csv
import io
import json

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import write_farm
from tests.plans.pruning.prunable import prunable


@pytest.fixture
def farm_file(tmp_path):
    readings = [
        {"tree": 1, "height_m": 6.0, "dbh_cm": 8.0},
        {"tree": 2, "height_m": 9.5, "dbh_cm": 16.0, "pruned_m": 2.0, "dos_cm": 13.0},
    ]
    path = tmp_path / "prune hill.gpkg"
    write_farm(prunable([{}] * 2, readings), path)
    return path


def run(*words):
    return CliRunner().invoke(main, ["pruning", *map(str, words)])


def test_by_block_and_year_with_cautions(farm_file):
    told = run(farm_file)
    assert told.exit_code == 0, told.output
    assert "now" in told.output
    assert told.output.count("Ladders and saws above the head") == 1


@pytest.mark.parametrize("of", ["years", "trees", "blocks", "heights"])
def test_every_table_in_every_form(farm_file, of):
    assert run(farm_file, "--of", of, "--block", "north").exit_code == 0
    rows = json.loads(run(farm_file, "--of", of, "--format", "json").output)
    lines = list(csv.DictReader(io.StringIO(run(farm_file, "--of", of, "--format", "csv").output)))
    assert len(rows) == len(lines) > 0


def test_tree_by_tree_on_a_day(farm_file):
    rows = json.loads(run(farm_file, "--of", "trees", "--on", "2021-01-01", "--format", "json").output)
    assert [(row["tag"], row["lift"]) for row in rows] == [("1", 1), ("2", 2)]


def test_what_cannot_be_is_refused_in_words(farm_file):
    told = run(farm_file, "--block", "Nowhere")
    assert told.exit_code != 0
    assert "no block 'Nowhere'" in told.output + told.stderr
    assert "is not a day" in run(farm_file, "--on", "spring").output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "sheet.pdf"), "--block NAME"),
        (("--block", "North", "--out", "sheet.csv"), "ends in none of .pdf, .png"),
        (("--block", "North", "--year", "2021"), "--year is for the field sheet"),
        (("--block", "North", "--paper", "A3"), "--paper is for a printed sheet"),
        (("--block", "North", "--compass"), "--compass is for a printed sheet, and no file is written"),
    ],
)
def test_what_a_sheet_cannot_be(farm_file, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    told = run(farm_file, *words)
    assert told.exit_code != 0
    assert said in told.output
    assert not (tmp_path / "sheet.pdf").exists()
