"""Tables of figures as text, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest

from farmmap.figures.result import ColumnRows, FigureTable, plain_list, shown

ROWS = (
    {"name": "North, Terrace", "stems": 12, "qmd_cm": 30.123456789, "species": [{"species": "tōtara", "stems": 12}]},
    {"name": "Ridge", "stems": None, "qmd_cm": None, "species": []},
)
TABLE = FigureTable("blocks", "Blocks", ("name", "stems", "qmd_cm"), ROWS, (4, 9), ("Measured once.",))


def test_text_is_aligned_with_units_and_notes() -> None:
    lines = TABLE.as_text().splitlines()
    assert lines[0] == "Blocks"
    assert "cm" in lines[3]
    assert lines[5].startswith("North, Terrace")
    assert lines[5].endswith("30.1")
    assert lines[6].endswith("–")
    assert lines[-1] == "Measured once."


def test_csv_reads_back() -> None:
    rows = list(csv.DictReader(io.StringIO(TABLE.as_csv())))
    assert rows[0] == {"name": "North, Terrace", "stems": "12", "qmd_cm": "30.123457"}
    assert rows[1]["qmd_cm"] == ""


def test_json_keeps_numbers_in_full_and_nested_lists() -> None:
    rows = json.loads(TABLE.as_json())
    assert rows[0]["qmd_cm"] == pytest.approx(30.123456789, abs=1e-9)
    assert rows[0]["species"][0]["species"] == "tōtara"
    assert rows[1]["stems"] is None
    odd = FigureTable("x", "x", ("stems",), ({"stems": float("nan")},), (1,))
    assert json.loads(odd.as_json()) == [{"stems": None}]


def test_rows_are_found_by_id() -> None:
    assert TABLE.row_of(9) is ROWS[1]
    assert TABLE.row_of(1) is None


def test_rows_kept_as_columns() -> None:
    days = np.array(["2020-01-02", "NaT"], "datetime64[D]")
    rows = ColumnRows(
        {"name": ["a", "b"], "qmd_cm": np.array([1.5, np.nan]), "measured_on": days, "stems": np.array([1, 2])}
    )
    assert len(rows) == 2
    assert rows[0] == {"name": "a", "qmd_cm": 1.5, "measured_on": "2020-01-02", "stems": 1}
    assert rows[-1]["qmd_cm"] is None
    assert rows[1]["measured_on"] is None
    assert [row["name"] for row in rows] == ["a", "b"]
    assert rows[1:][0]["name"] == "b"
    assert type(rows[0]["stems"]) is int
    table = FigureTable("x", "x", ("name", "qmd_cm"), rows, (1, 2))
    assert table.column("qmd_cm") == [1.5, None]
    assert json.loads(table.as_json())[0]["stems"] == 1


def test_what_is_not_known_is_a_dash() -> None:
    assert (shown("qmd_cm", None), shown("name", ""), shown("qmd_cm", float("nan"))) == ("–", "–", "–")
    assert shown("qmd_cm", 12.34) == "12.3"
    assert shown("stems", 7) == "7"
    assert plain_list([1.0, float("nan"), "a"]) == [1.0, None, "a"]


def test_readings_stay_as_read_in_json_and_worked_out_figures_in_full() -> None:
    noisy = 30.000000000000004
    names = ("dbh_cm", "height_m", "crown_m", "pruned_m")
    table = FigureTable("x", "x", (*names, "qmd_cm"), (dict.fromkeys((*names, "qmd_cm"), noisy),), (1,))
    assert json.loads(table.as_json()) == [dict.fromkeys(names, 30.0) | {"qmd_cm": noisy}]
