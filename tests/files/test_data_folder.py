"""A folder with data for others."""

import csv
import sqlite3

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.files.data_folder import (
    LAYERS_FILE,
    MARK,
    README_FILE,
    DataLayer,
    DataTable,
    Field,
    FolderOfData,
    write_data_folder,
)

FIELDS = (Field("name", "TEXT", "what it is called"), Field("area_ha", "DOUBLE", "its area"))


def data_of(rows, *, local=False, tables=("blocks",)):
    shapes = np.empty(len(rows), object)
    shapes[:] = [shapely.box(at, 0, at + 1, 2) for at in range(len(rows))]
    layer = DataLayer("blocks", "Blocks", "POLYGON", FIELDS, rows, shapes)
    made = tuple(DataTable(name, "Blocks", FIELDS, rows) for name in tables)
    return FolderOfData(("Data of Pipit Downs.",), 2193, local, (layer,), made)


names = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)
numbers = st.one_of(st.none(), st.floats(0, 1e6).map(lambda value: round(value, 6)))


@settings(max_examples=20)
@given(rows=st.lists(st.tuples(names, numbers), max_size=8))
def test_rows_come_back_from_the_layer_and_the_table(rows, tmp_path_factory):
    folder = tmp_path_factory.mktemp("out") / "data"
    write_data_folder(folder, data_of(rows))
    with sqlite3.connect(folder / LAYERS_FILE) as connection:
        assert connection.execute("SELECT name, area_ha FROM blocks ORDER BY id").fetchall() == rows
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    with (folder / "blocks.csv").open(encoding="utf-8-sig", newline="") as file:
        found = list(csv.reader(file))
    assert found[0] == ["name", "area_ha"]
    assert [(name, float(area) if area else None) for name, area in found[1:]] == rows


def test_another_program_reads_shapes_and_grid(tmp_path):
    write_data_folder(tmp_path / "data", data_of([("A", 1.0), ("B", None)]))
    found = gpd.read_file(tmp_path / "data" / LAYERS_FILE, layer="blocks")
    assert found.crs.to_epsg() == 2193
    assert found.geometry.area.tolist() == [2.0, 2.0]
    assert found["name"].tolist() == ["A", "B"]
    write_data_folder(tmp_path / "local", data_of([("A", 1.0)], local=True))
    with sqlite3.connect(tmp_path / "local" / LAYERS_FILE) as connection:
        assert connection.execute("SELECT srs_id FROM gpkg_geometry_columns").fetchone() == (-1,)
    connection.close()


def test_the_text_names_every_file_and_column(tmp_path):
    names = write_data_folder(tmp_path / "data", data_of([("A", 1.0)], tables=("blocks", "margins")))
    text = (tmp_path / "data" / README_FILE).read_text(encoding="utf-8")
    assert text.startswith(MARK)
    for words in (*names[1:], "what it is called", "its area", "Data of Pipit Downs."):
        assert words in text


def test_what_was_written_before_gives_way_and_all_else_stays(tmp_path):
    folder = tmp_path / "data"
    write_data_folder(folder, data_of([("A", 1.0)], tables=("blocks", "margins")))
    (folder / "notes.csv").write_text("mine", encoding="utf-8")
    write_data_folder(folder, data_of([("B", 2.0)], tables=("blocks",)))
    assert {path.name for path in folder.iterdir()} == {README_FILE, LAYERS_FILE, "blocks.csv", "notes.csv"}
    assert "B,2" in (folder / "blocks.csv").read_text(encoding="utf-8-sig")
    assert (folder / "notes.csv").read_text(encoding="utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["data"]


@pytest.mark.parametrize("name", [LAYERS_FILE, README_FILE, "blocks.csv"])
def test_a_file_of_another_kind_is_never_written_over(tmp_path, name):
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / name).write_text("mine", encoding="utf-8")
    with pytest.raises(BadInput, match="choose another folder"):
        write_data_folder(folder, data_of([("A", 1.0)]))
    assert [path.name for path in folder.iterdir()] == [name]
    assert (folder / name).read_text(encoding="utf-8") == "mine"


def test_trouble_while_writing_leaves_what_was_there(tmp_path, monkeypatch):
    folder = tmp_path / "data"
    write_data_folder(folder, data_of([("A", 1.0)]))
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def full(_file):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("farmmap.files.data_folder.csv.writer", full)
    with pytest.raises(BadInput, match="could not be written: No space left"):
        write_data_folder(folder, data_of([("B", 2.0)]))
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["data"]


@pytest.mark.parametrize("stuck", ["layers.gpkg", "creeks.csv", "README.txt"])
def test_a_writing_that_fails_on_the_way_leaves_the_old_files(stuck, tmp_path, monkeypatch):
    folder = tmp_path / "data"
    write_data_folder(folder, data_of([("A", 1.0)], tables=("blocks", "trees")))
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    whole = type(folder).replace

    def replace(path, target):
        if path.name == stuck and path.parent.name == "new":
            raise PermissionError(13, "in use by another program")
        return whole(path, target)

    monkeypatch.setattr(type(folder), "replace", replace)
    with pytest.raises(BadInput, match="in use by another program"):
        write_data_folder(folder, data_of([("B", 2.0), ("C", 3.0)], tables=("blocks", "creeks")))
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_folder_that_could_not_be_filled_is_not_left_behind(tmp_path):
    data = data_of([("A", 1.0)], tables=("no/such",))
    with pytest.raises(BadInput, match="could not be written"):
        write_data_folder(tmp_path / "data", data)
    assert not list(tmp_path.iterdir())
