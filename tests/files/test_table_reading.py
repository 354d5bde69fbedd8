"""From the file's pages, row by row or in bulk, in one thread or several, a table reads as the same."""

import contextlib
import sqlite3
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings

from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.files import table_reading
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.placing import connected
from farmmap.files.table_reading import read_table
from tests.files.random_edits import first_farm
from tests.files.test_farm_file import tables

WAYS = ("from pages", "row by row", "in bulk", "in threads")


def read_each_way(path, monkeypatch):
    """Every table, in every way of reading."""
    found = {}
    for way in WAYS:
        with monkeypatch.context() as patch, contextlib.closing(connected(path, "ro")) as connection:
            if way != "from pages":
                patch.setattr(table_reading, "read_pages", lambda *_: None)
            if way in ("in bulk", "in threads"):
                patch.setattr(table_reading, "FEW_ROWS", -1)
            if way == "in threads":
                patch.setattr(table_reading, "ROWS_A_THREAD", 1)
                patch.setattr(table_reading.os, "cpu_count", lambda: 3)
            found[way] = {name: read_table(connection, path, table, 2193) for name, table in TABLES.items()}
    return found


def all_the_same(found):
    for way in WAYS[1:]:
        for name in TABLES:
            pd.testing.assert_frame_equal(found[way][name], found[WAYS[0]][name])


@settings(max_examples=20)
@given(tables())
def test_any_rows_read_the_same_in_every_way(made):
    table, values, ids = made
    farm = new_farm("Any", 2193)
    farm = farm.with_tables(**{table.name: shaped(table, values, ids, farm.grid)})
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as monkeypatch:
        path = Path(folder) / "any.gpkg"
        write_farm(farm, path)
        found = read_each_way(path, monkeypatch)
        all_the_same(found)
        pd.testing.assert_frame_equal(found[WAYS[0]][table.name], farm.tables[table.name])


def test_the_threads_share_out_every_row(tmp_path, monkeypatch):
    path, farm = tmp_path / "farm.gpkg", first_farm()
    ids = np.sort(np.random.default_rng(0).choice(10_000, len(farm.trees), replace=False)) + 1
    farm = farm.with_tables(trees=farm.trees.set_axis(pd.Index(ids, name="id")))
    write_farm(farm, path)
    found = read_each_way(path, monkeypatch)
    all_the_same(found)
    pd.testing.assert_frame_equal(found["in threads"]["trees"], farm.trees)


@pytest.mark.parametrize(
    "odd",
    [
        "UPDATE trees SET status_on = '2015-03-01T00:00:00Z'",
        "UPDATE trees SET tag = x'4142'",
        "UPDATE trees SET stems = 2.5",
        "UPDATE trees SET stems = 'many'",
        "UPDATE trees SET status_on = 'long ago....'",
        "UPDATE measurements SET dbh_cm = 'thick'",
        "UPDATE measurements SET measured_on = 5",
    ],
)
def test_what_another_program_wrote_in_its_own_way_is_left_to_the_general_reader(tmp_path, farm, monkeypatch, odd):
    path = tmp_path / "odd.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute(odd)
        connection.commit()
    found = read_each_way(path, monkeypatch)
    all_the_same(found)


def test_a_small_farm_is_read_without_the_general_reader(tmp_path, farm, monkeypatch):
    write_farm(farm, tmp_path / "farm.gpkg")
    monkeypatch.setattr(table_reading, "_in_bulk", None)
    assert len(read_farm(tmp_path / "farm.gpkg").trees) == 6
