"""What is read straight from a farm file's pages is what SQLite reads from them, or nothing."""

import contextlib
import functools
import sqlite3
import struct
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from farmmap.errors import FarmFileError
from farmmap.farm.edits import rows_changed
from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.files import table_pages, table_reading
from farmmap.files.farm_file import read_farm, write_edit, write_farm
from farmmap.files.placing import connected
from farmmap.files.table_pages import read_pages
from farmmap.files.table_reading import read_table
from tests.files.random_edits import first_farm, next_edit

TEXTS = {"tag", "species", "planted", "stock", "status", "stage", "note", "plan", "mark", "form"}
WHOLE = st.integers(-(2**63), 2**63 - 1)
NUMBER = st.floats(allow_nan=False) | WHOLE.map(float)
TEXT = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=80)


def pages(path, name):
    with contextlib.closing(connected(path, "ro")) as connection:
        return read_pages(connection, path, TABLES[name])


def in_words(read):
    ids, values = read
    plain = {name: value.to_pylist() if name in TEXTS else value.tolist() for name, value in values.items()}
    return repr({"id": ids.tolist(), **plain})  # in words, as nan is not the same as nan


def changed(path, *statements):
    """Change a farm file as another program might."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        for statement in statements:
            connection.execute(statement)
        connection.commit()


@functools.cache
def empty_file():
    with tempfile.TemporaryDirectory() as folder:
        write_farm(new_farm("Any", 2193), Path(folder) / "empty.gpkg")
        return (Path(folder) / "empty.gpkg").read_bytes()


def many_trees(rows):
    farm, draw = new_farm("Many", 2193), np.random.default_rng(rows)
    ids = np.sort(draw.choice(rows * 300, rows, replace=False)) + 1
    trees = {
        "tag": ["7" * long for long in draw.integers(0, 9, rows)],
        "species": draw.choice(["TOTA", "", "RADI"], rows),
        "stems": draw.choice([0, 1, 2, 50], rows),
        "status_on": draw.choice(np.array(["NaT", "1999-12-31", "2024-02-29"], "datetime64[s]"), rows),
        "note": draw.choice(["", "kōwhai beside it", "x" * 90], rows),
        "x": 1.8e6 + draw.random(rows),
        "y": 5.4e6 + draw.random(rows),
    }
    return farm.with_tables(trees=shaped(TABLES["trees"], trees, ids, farm.grid))


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(
            WHOLE,
            WHOLE,
            st.none() | st.dates(),
            st.none() | WHOLE,
            *[st.none() | NUMBER] * 5,
            st.none() | TEXT,
            st.none() | NUMBER,
        ),
        max_size=40,
        unique_by=lambda row: row[0],
    )
)
@example([(0, 0, *[None] * 9), (-(2**63), 0, *[None] * 9), (2**63 - 1, -(2**63), *[None] * 9)])
def test_any_value_is_read_to_the_last_bit(rows):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.gpkg"
        path.write_bytes(empty_file())
        with contextlib.closing(sqlite3.connect(path)) as connection:
            marks = ", ".join("?" * 11)
            plain = [(*row[:2], None if row[2] is None else row[2].isoformat(), *row[3:]) for row in rows]
            connection.executemany(f"INSERT INTO measurements VALUES ({marks})", plain)
            connection.commit()
            expected = connection.execute("SELECT * FROM measurements ORDER BY id").fetchall()
        ids, values = pages(path, "measurements")
    names = [column.name for column in TABLES["measurements"].columns]
    assert list(values) == names
    by_column = list(zip(*expected, strict=True)) or [()] * 11
    assert ids.tolist() == list(by_column[0])
    for name, column in zip(names, by_column[1:], strict=True):
        found = values[name]
        if name == "note":
            assert found.to_pylist() == [text or "" for text in column]
        elif name == "measured_on":
            assert found.tolist() == np.array([day or "NaT" for day in column], "datetime64[s]").tolist()
        elif found.dtype == np.int64:
            assert found.tolist() == [value or 0 for value in column]
        else:
            wanted = np.array([np.nan if value is None else value for value in column], np.float64)
            assert found.tobytes() == wanted.tobytes()


@pytest.mark.parametrize("rows", [0, 1, 40, 3000])
@pytest.mark.parametrize("pages_at_once", [1, 7, 512])
def test_rows_on_many_pages_are_all_read_in_their_order(tmp_path, monkeypatch, rows, pages_at_once):
    farm, path = many_trees(rows), tmp_path / "many.gpkg"
    write_farm(farm, path)
    monkeypatch.setattr(table_pages, "PAGES_AT_ONCE", pages_at_once)
    monkeypatch.setattr(table_reading, "_row_by_row", None)
    with contextlib.closing(connected(path, "ro")) as connection:
        pd.testing.assert_frame_equal(read_table(connection, path, TABLES["trees"], 2193), farm.trees)


@pytest.mark.parametrize("page_bytes", [512, 65_536])
def test_pages_of_every_size_are_read(tmp_path, page_bytes):
    farm, path = many_trees(500), tmp_path / "sizes.gpkg"
    write_farm(farm, path)
    before = pages(path, "trees")
    changed(path)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA page_size = {page_bytes}")
        connection.execute("VACUUM")
    assert in_words(pages(path, "trees")) == in_words(before)


def test_rows_are_read_after_any_edits(tmp_path, monkeypatch):
    farm, path = first_farm(), tmp_path / "edited.gpkg"
    write_farm(farm, path)
    monkeypatch.setattr(table_pages, "PAGES_AT_ONCE", 2)
    for _ in range(30):
        edit = next_edit(farm)
        write_edit(path, edit)
        farm = edit.apply(farm)
    for name in ("trees", "measurements"):
        assert pages(path, name) is not None
        pd.testing.assert_frame_equal(read_farm(path).tables[name], farm.tables[name])


@pytest.mark.parametrize(
    "odd",
    [
        "UPDATE trees SET note = printf('%.5000c', 'x')",
        "UPDATE trees SET tag = x'4142'",
        "UPDATE trees SET tag = CAST(x'C328' AS TEXT)",
        "UPDATE trees SET stems = 2.5",
        "UPDATE trees SET status_on = '2015-02-30'",
        "UPDATE trees SET status_on = '2015-2-3'",
        "UPDATE trees SET status_on = '2015/02/03'",
        "UPDATE trees SET geom = NULL",
        "UPDATE trees SET geom = substr(geom, 1, 20)",
        "UPDATE trees SET geom = x'00' || substr(geom, 2)",
        "ALTER TABLE trees ADD COLUMN colour TEXT",
        "ALTER TABLE trees DROP COLUMN note",
        "ALTER TABLE trees RENAME COLUMN note TO remark",
    ],
)
def test_nothing_is_made_of_what_farmmap_writes_otherwise(tmp_path, farm, odd):
    path = tmp_path / "odd.gpkg"
    write_farm(farm, path)
    changed(path, odd)
    assert pages(path, "trees") is None


def test_a_log_written_ahead_is_left_to_sqlite(tmp_path, farm):
    path = tmp_path / "log.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("UPDATE measurements SET dbh_cm = 77.5")
        assert pages(path, "measurements") is None
        assert (read_farm(path).measurements["dbh_cm"] == 77.5).all()


@pytest.mark.parametrize("pages_at_once", [1, 512])
def test_rows_from_before_a_column_came_hold_nothing_in_it(tmp_path, monkeypatch, pages_at_once):
    """Short rows and whole ones on the same pages, some with texts so long that their heads take more bytes."""
    farm, path = many_trees(700), tmp_path / "older.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("ALTER TABLE trees DROP COLUMN plan")
        connection.execute("ALTER TABLE trees ADD COLUMN plan TEXT")
        connection.commit()
    monkeypatch.setattr(table_pages, "PAGES_AT_ONCE", pages_at_once)
    assert set(pages(path, "trees")[1]["plan"].to_pylist()) == {""}
    for step, text in ((3, "Lower Sedge"), (5, None), (11, "Sedge by the bend " * 8)):
        rows = farm.trees.iloc[::step].copy()
        rows["plan"] = text or ""
        write_edit(path, rows_changed(farm, "Note the plan", "trees", rows))
        farm = rows_changed(farm, "Note the plan", "trees", rows).apply(farm)
        ids, values = pages(path, "trees")
        assert ids.tolist() == farm.trees.index.tolist()
        for name in TEXTS:
            assert values[name].to_pylist() == farm.trees[name].to_list()
        for axis in "xy":
            assert values[axis].tolist() == farm.trees[axis].to_list()
        assert values["stems"].tolist() == farm.trees["stems"].to_list()


def test_a_column_with_a_value_of_its_own_for_older_rows_is_left_to_sqlite(tmp_path, farm):
    path = tmp_path / "default.gpkg"
    write_farm(farm, path)
    changed(path, "ALTER TABLE trees DROP COLUMN plan", "ALTER TABLE trees ADD COLUMN plan TEXT DEFAULT 'Lower'")
    assert pages(path, "trees") is None
    assert set(read_farm(path).trees["plan"]) == {"Lower"}


def test_shapes_are_left_to_others(tmp_path, farm):
    write_farm(farm, tmp_path / "farm.gpkg")
    assert pages(tmp_path / "farm.gpkg", "blocks") is None


def test_a_half_done_change_of_another_program_is_not_seen(tmp_path, farm):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as writing:
        writing.execute("PRAGMA cache_size = 1")
        writing.execute("BEGIN IMMEDIATE")
        writing.execute("UPDATE measurements SET dbh_cm = 1")
        before = pages(path, "measurements")
        writing.execute("ROLLBACK")
    assert before is not None
    assert in_words(pages(path, "measurements")) == in_words(before)


def test_damaged_pages_are_never_read_as_if_they_were_whole(tmp_path):
    """Bytes turned into others anywhere in the table: the same rows, other values in their place, or nothing."""
    farm, path = many_trees(400), tmp_path / "whole.gpkg"
    write_farm(farm, path)
    whole, size = path.read_bytes(), struct.unpack(">H", path.read_bytes()[16:18])[0]
    with contextlib.closing(sqlite3.connect(path)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'trees'").fetchone()[0]
    first_leaf = struct.unpack(">I", whole[(root - 1) * size + 8 :][:4])[0]
    draw, refused = np.random.default_rng(5), 0
    for _ in range(400):
        damaged = bytearray(whole)
        for page in (root, first_leaf):
            for at in draw.integers(0, size, 3):
                damaged[(page - 1) * size + at] = draw.integers(0, 256)
        path.write_bytes(damaged)
        with contextlib.suppress(sqlite3.DatabaseError):
            read = pages(path, "trees")
            refused += read is None
            assert read is None or all(len(value) == len(read[0]) for value in read[1].values())
    assert refused > 40


def test_a_file_cut_short_is_told_of(tmp_path):
    path = tmp_path / "short.gpkg"
    write_farm(many_trees(2000), path)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 3])
    with pytest.raises(FarmFileError, match="damaged"):
        read_farm(path)


def test_texts_keep_their_type(tmp_path, farm):
    write_farm(farm, tmp_path / "farm.gpkg")
    _, values = pages(tmp_path / "farm.gpkg", "trees")
    assert values["tag"].type == pa.large_string()
