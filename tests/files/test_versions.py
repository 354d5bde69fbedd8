"""Farm files of an earlier version open as they are, and are brought up to this one by the first edit."""

import contextlib
import shutil
import sqlite3
from pathlib import Path

import pytest

from farmmap.errors import FarmFileError
from farmmap.farm.edits import rows_put_in, rows_taken_away
from farmmap.farm.farm import next_ids, shaped
from farmmap.farm.schema import SCHEMA_VERSION, TABLES
from farmmap.files import farm_tables
from farmmap.files.checks import check_farm
from farmmap.files.farm_file import read_farm, write_edit, write_edit_beside, write_farm
from farmmap.files.farm_writer import FarmWriter
from tests.conftest import small_farm
from tests.files.test_farm_writer import noted
from tests.files.test_killed import same
from tests.place import EAST, NORTH


def version_of(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT schema_version FROM farm").fetchone()[0]


TABLES_OF = {
    2: ["backdrops"],
    3: ["plans"],
    4: ["targets", "regimes", "products", "volumes", "plots", "plot_trees"],
    5: ["photo_points", "photos", "sheets", "pack_parts"],
}
"""Tables that came with each version."""

COLUMNS_OF = {
    3: [(table, "plan") for table in ("blocks", "fences", "trees", "notes")],
    4: [("trees", "mark"), ("trees", "form"), ("measurements", "dos_cm")],
}
"""Columns that older tables got with each version."""


def drop_table(connection, table):
    if connection.execute("SELECT 1 FROM gpkg_geometry_columns WHERE table_name = ?", (table,)).fetchone():
        connection.execute(f"DROP TABLE rtree_{table}_geom")
        connection.execute("DELETE FROM gpkg_extensions WHERE table_name = ?", (table,))
        connection.execute("DELETE FROM gpkg_geometry_columns WHERE table_name = ?", (table,))
    connection.execute(f"DROP TABLE {table}")
    connection.execute("DELETE FROM gpkg_contents WHERE table_name = ?", (table,))
    connection.execute("DELETE FROM gpkg_data_columns WHERE table_name = ?", (table,))
    connection.execute("DELETE FROM gpkg_data_column_constraints WHERE constraint_name LIKE ?", (f"{table}_%",))


def make_version(path, version):
    """Take out of a farm file all that came after a version."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        there = connection.execute("SELECT schema_version FROM farm").fetchone()[0]
        for later in range(version + 1, there + 1):
            for table in reversed(TABLES_OF.get(later, [])):
                drop_table(connection, table)
            for table, column in COLUMNS_OF.get(later, []):
                connection.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
                connection.execute(
                    "DELETE FROM gpkg_data_columns WHERE (table_name, column_name) = (?, ?)", (table, column)
                )
                connection.execute(
                    "DELETE FROM gpkg_data_column_constraints WHERE constraint_name = ?", (f"{table}_{column}",)
                )
        connection.execute("UPDATE farm SET schema_version = ?", (version,))
        connection.commit()


@pytest.fixture(params=range(1, SCHEMA_VERSION))
def version(request):
    return request.param


@pytest.fixture
def old(tmp_path, version):
    path = tmp_path / "old.gpkg"
    write_farm(small_farm(), path)
    make_version(path, version)
    return path


def layout(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        tables = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
        columns = connection.execute("SELECT * FROM gpkg_data_columns").fetchall()
        constraints = connection.execute("SELECT * FROM gpkg_data_column_constraints").fetchall()
        contents = connection.execute("SELECT table_name, data_type, identifier, srs_id FROM gpkg_contents").fetchall()
        return set(tables.fetchall()), sorted(map(str, columns)), sorted(map(str, constraints)), sorted(contents)


def test_an_old_file_opens_and_is_left_as_it_is(old, farm):
    before = old.read_bytes()
    found = read_farm(old)
    same(found, farm)
    assert len(found.tables["backdrops"]) == len(found.tables["plans"]) == 0
    assert set(found.trees["plan"]) == {""}
    assert check_farm(old) == []
    with FarmWriter(old):
        pass
    assert old.read_bytes() == before


@pytest.mark.parametrize("write", [write_edit, write_edit_beside])
def test_the_first_edit_brings_it_up(old, farm, tmp_path, write):
    edit = noted(farm, "a")
    write(old, edit)
    same(read_farm(old), edit.apply(farm))
    write_farm(farm, tmp_path / "new.gpkg")
    assert layout(old) == layout(tmp_path / "new.gpkg")
    assert version_of(old) == SCHEMA_VERSION
    assert check_farm(old) == []


@pytest.mark.parametrize(
    ("table", "values"),
    [
        ("backdrops", {"name": ["Hill"], "path": ["hill.tif"]}),
        ("photo_points", {"name": ["P1"], "bearing_deg": [40.0], "x": [EAST], "y": [NORTH]}),
        ("photos", {"path": ["photos/p1.jpg"], "caption": ["Creek"]}),
        ("pack_parts", {"part": ["summary"], "text": ["Ours."]}),
        ("plans", {"name": ["Lower"], "creek": ["Sedge Creek"], "recipe": ["title = 'Lower'"]}),
        ("trees", {"tag": ["L1"], "stage": ["planned"], "plan": ["Lower"], "x": [EAST], "y": [NORTH]}),
    ],
)
def test_the_first_edit_may_be_of_what_is_new(old, farm, table, values):
    rows = shaped(TABLES[table], values, next_ids(farm.tables[table], 1), farm.grid)
    edit = rows_put_in(farm, "Add", {table: rows})
    with FarmWriter(old) as writer:
        writer.write(edit)
        writer.write(edit.turned_round())
        writer.write(edit)
    same(read_farm(old), edit.apply(farm))


def test_an_edit_that_is_refused_leaves_it_at_its_version(old, farm, version):
    missing = rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]})
    write_edit(old, missing)
    make_version(old, version)
    before = old.read_bytes()
    for write in (write_edit, write_edit_beside, FarmWriter(old).write):
        with pytest.raises(FarmFileError, match="changed by another program"):
            write(old, missing) if write in (write_edit, write_edit_beside) else write(missing)
        assert old.read_bytes() == before


def test_an_old_file_without_a_table_of_its_own_version_is_damaged(old):
    with contextlib.closing(sqlite3.connect(old)) as connection:
        connection.execute("DROP TABLE notes")
        connection.commit()
    for use in (read_farm, FarmWriter):
        with pytest.raises(FarmFileError, match="its table notes is missing"):
            use(old)


def test_a_file_of_this_version_without_what_is_new_is_damaged(old, version):
    with contextlib.closing(sqlite3.connect(old)) as connection:
        connection.execute("UPDATE farm SET schema_version = ?", (SCHEMA_VERSION,))
        connection.commit()
    missing = {
        1: "its table backdrops is missing",
        2: "its table blocks has no plan",
        3: "its table measurements has no dos_cm",
        4: "its table pack_parts is missing",
    }
    with pytest.raises(FarmFileError, match=missing[version]):
        read_farm(old)


def test_a_file_of_a_newer_version_is_left_untouched(tmp_path):
    path = tmp_path / "newer.gpkg"
    write_farm(small_farm(), path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE farm SET schema_version = ?", (SCHEMA_VERSION + 1,))
        connection.commit()
    before = path.read_bytes()
    for use in (read_farm, FarmWriter):
        with pytest.raises(FarmFileError, match="written by a newer farmmap"):
            use(path)
    assert path.read_bytes() == before


def test_columns_that_came_later_get_their_defaults(old, farm, monkeypatch):
    """As if the purpose of a block and the width of a track had come with the new version."""
    for name in ("blocks.purpose", "tracks.width_m"):
        monkeypatch.setitem(farm_tables.CAME_WITH, name, SCHEMA_VERSION)
        table, _, column = name.partition(".")
        with contextlib.closing(sqlite3.connect(old)) as connection:
            connection.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
            connection.execute(
                "DELETE FROM gpkg_data_columns WHERE (table_name, column_name) = (?, ?)", (table, column)
            )
            connection.execute(
                "DELETE FROM gpkg_data_column_constraints WHERE constraint_name = ?", (f"{table}_{column}",)
            )
            connection.commit()
    found = read_farm(old)
    assert found.tracks["width_m"].tolist() == [4.0]
    assert found.blocks["purpose"].tolist() == ["", ""]
    write_edit(old, noted(farm, "a"))
    same(read_farm(old), noted(farm, "a").apply(farm))
    assert check_farm(old) == []


def test_the_sample_farm_of_an_earlier_version(tmp_path, version):
    sample = Path(__file__).parents[2] / "sample_farm" / "pipit_downs.gpkg"
    path = tmp_path / "pipit_downs.gpkg"
    shutil.copyfile(sample, path)
    make_version(path, version)
    before = read_farm(path)
    assert len(before.trees) > 1000
    edit = noted(before, "a")
    write_edit(path, edit)
    assert version_of(path) == SCHEMA_VERSION
    same(read_farm(path), edit.apply(before))
