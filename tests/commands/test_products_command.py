"""``farmmap products``: text, CSV and JSON of what stands and what is cut, with words for what is not known."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.files.farm_file import write_farm
from farmmap.plans.harvest.harvest_table import HARVEST_COLUMNS
from farmmap.plans.harvest.standing_tables import STANDING_COLUMNS
from tests.conftest import small_farm
from tests.plans.harvest.grown import grow_evenly, planted, priced, with_rows


@pytest.fixture
def farm_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    grow_evenly(monkeypatch)
    trees = planted(small_farm(), [55.0, 47.0, 34.0], [25.0, 24.0, 20.0], ["TOTA", "TOTA", "REDW"])
    path = tmp_path / "farm.gpkg"
    write_farm(with_rows(priced(trees), "targets", species=["TOTA"], dbh_cm=[50.0]), path)
    return path


def _said(farm_file: Path, *options: str) -> str:
    answer = CliRunner().invoke(main, ["products", str(farm_file), *options])
    assert answer.exit_code == 0, answer.output
    return answer.output


@pytest.mark.parametrize("by", ["species", "block", "year"])
def test_text_names_products_and_warns(farm_file: Path, by: str) -> None:
    said = _said(farm_file, "--by", by)
    for words in ("log", "firewood", "Estimate, no advice.", "Products are the farm's own."):
        assert words in said


@pytest.mark.parametrize("by", ["species", "block"])
def test_csv_has_the_columns_of_what_stands(farm_file: Path, by: str) -> None:
    rows = list(csv.DictReader(io.StringIO(_said(farm_file, "--by", by, "--format", "csv"))))
    assert tuple(rows[0]) == STANDING_COLUMNS[by]
    assert sum(int(row["stems"]) for row in rows) == 3


def test_json_of_the_harvest(farm_file: Path) -> None:
    rows = json.loads(_said(farm_file, "--by", "year", "--rate", "3", "--format", "json", "--on", "2020-07-01"))
    assert set(HARVEST_COLUMNS) <= set(rows[0])
    first = next(row for row in rows if row["harvest_period"] == "2020 to 2024")
    assert first["species"] == "tōtara"
    assert first["stems"] == 2
    assert first["rate_percent"] == 3.0
    assert first["stem_volume_low_m3"] < first["stem_volume_m3"] < first["stem_volume_high_m3"]
    assert first["present_value"] < first["own_value"]
    assert {product["sold_as"] for product in first["products"]} <= {"log", "post", "firewood"}


def test_what_cannot_be_meant_is_said(farm_file: Path, tmp_path: Path) -> None:
    for options in (["--on", "soon"], ["--rate", "300"], ["--by", "moon"]):
        answer = CliRunner().invoke(main, ["products", str(farm_file), *options])
        assert answer.exit_code != 0
        assert "Traceback" not in answer.output
    gone = CliRunner().invoke(main, ["products", str(tmp_path / "none.gpkg")])
    assert gone.exit_code == 1
