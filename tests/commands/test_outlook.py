"""``farmmap outlook`` as people and scripts use it."""

import csv
import io
import json
import re

import numpy as np
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import read_farm, write_farm
from tests.figures.growth.grown_farm import PINES, grown_farm
from tests.place import EAST, NORTH

KEYS = [
    "tag", "species", "dbh_cm", "mean_annual_increment_cm", "recent_increment_cm", "target_cm", "ready_year",
    "ready_year_low", "ready_year_high", "method",
]  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    file = tmp_path_factory.mktemp("grown") / "grown pipit.gpkg"
    write_farm(grown_farm(), file)
    return file


def said(path, *options, code=0):
    result = CliRunner().invoke(main, ["outlook", str(path), *options])
    assert result.exit_code == code, result.output
    return result.output


def test_trees_as_json_csv_and_text(path):
    before = path.read_bytes()
    rows = json.loads(said(path, "--of", "trees", "--format", "json"))
    assert len(rows) == PINES + 6
    assert all(list(row) == KEYS for row in rows)
    assert rows[0]["target_cm"] == 60.0
    table = list(csv.DictReader(io.StringIO(said(path, "--of", "trees", "--format", "csv"))))
    assert [row["tag"] for row in table] == [row["tag"] for row in rows]
    assert list(table[0]) == KEYS
    text = said(path, "--of", "trees")
    assert "no advice" in text
    assert "80 % interval" in text
    assert path.read_bytes() == before


def test_species_farm_and_increments(path):
    species = json.loads(said(path, "--of", "species", "--format", "json"))
    assert next(row for row in species if row["code"] == "PRAD")["curve"]
    calendar = json.loads(said(path, "--of", "farm", "--format", "json"))
    assert sum(row["ready_trees"] for row in calendar) == PINES + 6
    assert "no target set" in said(path, "--of", "farm")
    assert "rooted cutting" in said(path, "--of", "increments")


def test_a_block_a_day_and_a_target(path):
    rows = json.loads(
        said(path, "--of", "trees", "--block", "odd corner", "--target", "5", "--more", "--format", "json")
    )
    assert len(rows) == 6
    assert {row["ready"] for row in rows} == {"ready now"}
    past = json.loads(said(path, "--of", "trees", "--on", "2018-01-01", "--more", "--format", "json"))
    assert past[0]["measured_on"] == "2016-06-01"
    assert said(path, "--of", "trees", "--product", "pruned log")
    assert "2400-01-01 is still to come" in said(path, "--of", "farm", "--on", "2400-01-01")


@pytest.mark.parametrize(
    ("options", "words", "code"),
    [
        (("--of", "trees", "--block", "Pin Rise"), "there are: Odd Corner, Pine Rise", 1),
        (("--of", "trees", "--on", "yesterday"), "write year, month and day", 2),
        (("--of", "trees", "--target", "0"), "between 1 and 400 cm", 1),
        (("--of", "trees", "--target", "thick"), "not a valid float", 2),
        (("--of", "farm", "--product", "veneer"), "there are: pruned log", 1),
        (("--of", "increments", "--target", "60"), "leave out --block", 1),
        (("--of", "rows"), "is not one of", 2),
        (("--of", "trees", "--more"), "--more is for trees as CSV or JSON", 2),
        ((), "Missing option '--of'", 2),
    ],
)
def test_bad_input_is_said_in_words(path, options, words, code):
    assert words in said(path, *options, code=code)


def test_a_block_called_as_another_and_a_farm_without_any(path, tmp_path):
    farm = read_farm(path)
    twice = farm.blocks.copy()
    twice["name"] = "Pine Rise"
    write_farm(farm.with_tables(blocks=twice), tmp_path / "twice.gpkg")
    assert "2 blocks are called" in said(tmp_path / "twice.gpkg", "--of", "farm", "--block", "Pine Rise", code=1)
    write_farm(farm.with_tables(blocks=farm.blocks.iloc[:0]), tmp_path / "none.gpkg")
    assert "has none yet" in said(tmp_path / "none.gpkg", "--of", "farm", "--block", "Pine Rise", code=1)
    assert "is not there" in said(tmp_path / "nowhere.gpkg", "--of", "farm", code=1)


@pytest.mark.parametrize(
    ("tree", "readings"),
    [
        ({}, []),
        ({"species": ""}, [("2020-01-01", 20.0)]),
        ({"species": "PRAD", "planted": "2010"}, [("2020-01-01", 20.0), ("2024-01-01", 15.0)]),
        ({"species": "PRAD"}, [("2020-01-01", 70.0)]),
    ],
)
def test_of_what_is_not_known_there_is_null_and_never_a_number(tmp_path, tree, readings):
    farm = grown_farm()
    columns = {name: [value] for name, value in ({"species": "PRAD"} | tree).items()}
    trees = shaped(TABLES["trees"], columns | {"x": [EAST], "y": [NORTH]}, np.array([1]), farm.grid)
    taken = farm.measurements.iloc[:0]
    if readings:
        days, dbh = zip(*readings, strict=True)
        columns = {"tree": [1] * len(days), "measured_on": np.array(days, "datetime64[s]"), "dbh_cm": list(dbh)}
        taken = shaped(TABLES["measurements"], columns, np.arange(1, len(days) + 1), farm.grid)
    write_farm(farm.with_tables(trees=trees, measurements=taken), tmp_path / "one.gpkg")
    text = said(tmp_path / "one.gpkg", "--of", "trees", "--format", "json")
    assert not {"NaN", "Infinity"} & set(re.findall(r"[A-Za-z]+", text))
    (row,) = json.loads(text)
    assert list(row) == KEYS
    assert (row["dbh_cm"] is None) == (not readings)
    assert row["ready_year"] is None or row["dbh_cm"] == 70.0
    assert isinstance(row["method"], str)
    assert row["method"]
    (line,) = csv.DictReader(io.StringIO(said(tmp_path / "one.gpkg", "--of", "trees", "--format", "csv")))
    assert [name for name, value in line.items() if value == ""] == [
        name for name, value in row.items() if value in {None, ""}
    ]
    write_farm(farm.with_tables(trees=trees.iloc[:0], measurements=taken.iloc[:0]), tmp_path / "bare.gpkg")
    assert json.loads(said(tmp_path / "bare.gpkg", "--of", "trees", "--format", "json")) == []
    header = said(tmp_path / "bare.gpkg", "--of", "trees", "--format", "csv").strip()
    assert header.split(",") == KEYS
