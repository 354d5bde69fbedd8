import contextlib
import datetime as dt
import sqlite3
import tempfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from farmmap.errors import FarmFileError, Stopped
from farmmap.farm.edits import Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import Farm, Settings, new_farm, next_ids, shaped
from farmmap.farm.schema import SCHEMA_VERSION, TABLES, Geometry, Kind
from farmmap.files.farm_file import read_farm, write_edit, write_farm
from tests.place import EAST, NORTH


@pytest.fixture
def path(tmp_path, farm):
    path = tmp_path / "pipit's farm ü.gpkg"
    write_farm(farm, path)
    return path


def same(one, other):
    for name in TABLES:
        pd.testing.assert_frame_equal(one.tables[name], other.tables[name])
    assert one.settings == other.settings


def test_a_farm_comes_back_as_it_was_written(path, farm):
    same(read_farm(path), farm)
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_an_empty_farm_comes_back(tmp_path):
    farm = new_farm("Empty", 27700)
    write_farm(farm, tmp_path / "empty.gpkg")
    same(read_farm(tmp_path / "empty.gpkg"), farm)


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)
NUMBER = st.floats(allow_nan=True, allow_infinity=False, width=64)


@st.composite
def tables(draw):
    """Rows of any table with any values its columns can hold."""
    table = draw(st.sampled_from(list(TABLES.values())))
    ids = draw(st.lists(st.integers(1, 2**31 - 1), unique=True, max_size=6))
    values = {}
    for column in table.columns:
        day = st.one_of(
            st.just(np.datetime64("NaT", "s")),
            st.dates(dt.date(1800, 1, 1), dt.date(2300, 1, 1)).map(lambda d: np.datetime64(d, "s")),
        )
        kinds = {
            Kind.TEXT: TEXT,
            Kind.WHEN: st.sampled_from(["", "2004", "2004-07"]),
            Kind.WHOLE: st.integers(-(2**31), 2**31 - 1),
            Kind.NUMBER: NUMBER,
            Kind.DAY: day,
        }
        values[column.name] = [draw(kinds[column.kind]) for _ in ids]
    place = st.floats(-1e7, 1e7)
    corners = [(draw(place), draw(place)) for _ in ids]
    if table.geometry is Geometry.POINT:
        values["x"], values["y"] = [x for x, _ in corners], [y for _, y in corners]
    elif table.geometry:
        make = {
            Geometry.POLYGON: lambda x, y: (
                MultiPolygon([box(x, y, x + 1, y + 1), box(x + 2, y, x + 3, y + 1)])
                if x > 0
                else box(x, y, x + 1, y + 2)
            ),
            Geometry.LINE: lambda x, y: shapely.LineString([(x, y), (x + 1, y), (x + 1, y + 1)]),
            Geometry.ANY: lambda x, y: shapely.Point(x, y) if x > 0 else box(x, y, x + 1, y + 1),
        }[table.geometry]
        values["geometry"] = [make(x, y) for x, y in corners]
    return table, values, np.array(sorted(ids), np.int64)


@settings(max_examples=25)
@given(tables())
def test_any_rows_come_back_as_they_were_written(made):
    table, values, ids = made
    farm = new_farm("Any", 32633)
    farm = farm.with_tables(**{table.name: shaped(table, values, ids, farm.grid)})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.gpkg"
        write_farm(farm, path)
        same(read_farm(path), farm)
        edit = rows_taken_away(farm, "Take away", {table.name: farm.tables[table.name].index})
        write_edit(path, edit)
        same(read_farm(path), edit.apply(farm))
        write_edit(path, edit.turned_round())
        same(read_farm(path), farm)


def test_a_file_that_is_there_is_not_replaced_unasked(path, farm):
    before = path.read_bytes()
    with pytest.raises(FarmFileError, match="there already"):
        write_farm(farm, path)
    assert path.read_bytes() == before
    write_farm(new_farm("Other", 2193), path, replace=True)
    assert read_farm(path).settings.name == "Other"


def test_a_place_that_cannot_be_written_to_is_said(tmp_path, farm):
    with pytest.raises(FarmFileError, match="cannot be written"):
        write_farm(farm, tmp_path / "no such folder" / "farm.gpkg")


def test_edits_are_written_and_read_back(path, farm):
    rows = farm.trees.loc[[2, 4]].copy()
    rows["x"] += 3.0
    rows["note"] = "moved"
    blocks = farm.blocks.iloc[:1].copy()
    blocks["geometry"] = [box(EAST, NORTH, EAST + 90, NORTH + 100)]
    new = shaped(TABLES["trees"], {"tag": ["77"], "x": [EAST], "y": [NORTH]}, next_ids(farm.trees, 1), farm.grid)
    edits = [
        rows_changed(farm, "Move trees", "trees", rows),
        rows_changed(farm, "Move corner", "blocks", blocks),
        rows_put_in(farm, "Plant", {"trees": new}),
        rows_taken_away(farm, "Take fence away", {"fences": farm.fences.index}),
        Edit("Breast height", {}, (farm.settings, Settings("Small Pipit", 2193, 1.3))),
    ]
    for edit in edits:
        farm = edit.apply(farm)
        write_edit(path, edit)
        same(read_farm(path), farm)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for name in ("trees", "blocks", "fences"):
            assert connection.execute(f"SELECT rtreecheck('rtree_{name}_geom')").fetchone() == ("ok",)
        assert connection.execute("SELECT minx, maxx FROM rtree_trees_geom WHERE id = 2").fetchone()[
            0
        ] == pytest.approx(EAST + 23, abs=0.2)
        assert connection.execute("SELECT count(*) FROM rtree_fences_geom").fetchone() == (0,)
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_an_edit_that_does_not_fit_changes_nothing(path, farm):
    write_edit(path, rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
    before = path.read_bytes()
    rows = farm.trees.iloc[:2].copy()
    rows["note"] = "x"
    two = Edit(
        "Two",
        {
            **rows_taken_away(farm, "", {"fences": farm.fences.index}).changes,
            **rows_changed(farm, "", "trees", rows).changes,
        },
    )
    for edit in (
        two,
        rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}),
        rows_put_in(farm.with_tables(trees=farm.trees.iloc[:0]), "Plant", {"trees": farm.trees.iloc[1:2]}),
    ):
        with pytest.raises(FarmFileError):
            write_edit(path, edit)
    assert path.read_bytes() == before


def test_an_edit_of_a_file_held_by_another_program_is_refused(path, farm, monkeypatch):
    real = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *args, **kwargs: real(*args, **{**kwargs, "timeout": 0.05}))
    with contextlib.closing(real(path)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(FarmFileError, match="as it was"):
            write_edit(path, rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
        with pytest.raises(FarmFileError, match="written by another program") as refused:
            read_farm(path)
        assert "damaged" not in str(refused.value)
    same(read_farm(path), farm)


def test_a_missing_file_is_said(tmp_path, farm):
    with pytest.raises(FarmFileError, match="not there"):
        read_farm(tmp_path / "none.gpkg")
    with pytest.raises(FarmFileError, match="was not written"):
        write_edit(tmp_path / "none.gpkg", rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
    assert not (tmp_path / "none.gpkg").exists()


def test_a_newer_file_is_left_untouched(path, farm):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE farm SET schema_version = ?", (SCHEMA_VERSION + 1,))
        connection.commit()
    before = path.read_bytes()
    with pytest.raises(FarmFileError, match="newer farmmap"):
        read_farm(path)
    with pytest.raises(FarmFileError, match="newer farmmap"):
        write_edit(path, rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "damage",
    [
        "DROP TABLE trees",
        "ALTER TABLE blocks DROP COLUMN purpose",
        "DELETE FROM farm",
        "UPDATE farm SET epsg = 4326",
        "UPDATE farm SET breast_height_m = 'high'",
        "UPDATE farm SET schema_version = 'x'",
        "UPDATE blocks SET geom = x'00112233445566778899'",
        "DROP TABLE gpkg_geometry_columns",
    ],
)
def test_a_damaged_file_is_said_and_left_untouched(path, damage):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute(damage)
        connection.commit()
    before = path.read_bytes()
    with pytest.raises(FarmFileError):
        read_farm(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"hello", b"SQLite format 3\x00", b"SQLite format 3\x00" + bytes(5000)])
def test_what_is_no_farm_file_is_said(tmp_path, content):
    path = tmp_path / "odd.gpkg"
    path.write_bytes(content)
    with pytest.raises(FarmFileError):
        read_farm(path)
    assert path.read_bytes() == content


@settings(max_examples=30)
@given(st.data())
def test_a_file_cut_short_or_scribbled_on_never_ends_in_another_error(data):
    farm = new_farm("Torn", 2193)
    values = {"tag": [str(i) for i in range(200)], "x": EAST + np.arange(200.0), "y": np.full(200, NORTH)}
    farm = farm.with_tables(trees=shaped(TABLES["trees"], values, np.arange(1, 201), farm.grid))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "torn.gpkg"
        write_farm(farm, path)
        raw = bytearray(path.read_bytes())
        if data.draw(st.booleans()):
            raw = raw[: data.draw(st.integers(0, len(raw) - 1))]
        else:
            at = data.draw(st.integers(0, len(raw) - 60))
            raw[at : at + 50] = data.draw(st.binary(min_size=50, max_size=50))
        path.write_bytes(raw)
        with contextlib.suppress(FarmFileError):
            read_farm(path)
        assert path.read_bytes() == bytes(raw)


def test_another_geopackage_is_not_taken_for_a_farm(tmp_path):
    path = tmp_path / "other.gpkg"
    gpd.GeoDataFrame({"a": [1]}, geometry=[box(0, 0, 1, 1)], crs=2193).to_file(path, layer="x")
    before = path.read_bytes()
    with pytest.raises(FarmFileError, match="farmmap bring"):
        read_farm(path)
    assert path.read_bytes() == before


def test_general_readers_open_it(path, farm):
    layers = dict(pyogrio.list_layers(path))
    assert set(layers) == {*TABLES, "farm"}
    assert layers["blocks"] == "MultiPolygon"
    trees = gpd.read_file(path, layer="trees")
    assert trees.crs.to_epsg() == 2193
    assert np.allclose(trees.geometry.x, farm.trees["x"])
    inside = gpd.read_file(path, layer="trees", bbox=(EAST + 15, NORTH, EAST + 115, NORTH + 20))
    assert sorted(inside["tag"]) == ["2", "3", "4"]
    assert gpd.read_file(path, layer="blocks").area.tolist() == [10000.0, 10000.0]


@pytest.mark.filterwarnings("ignore:Layer 'trees' has been declared:RuntimeWarning")
def test_a_general_writer_may_add_rows(path):
    """Another program adds a tree with its own kind of geometry header; it comes in, and the index holds."""
    tree = gpd.GeoDataFrame({"tag": ["Z"]}, geometry=gpd.points_from_xy([EAST + 1], [NORTH + 1], z=[5.0]), crs=2193)
    pyogrio.write_dataframe(tree, path, layer="trees", append=True)
    farm = read_farm(path)
    assert farm.trees["tag"].iloc[-1] == "Z"
    assert farm.trees["x"].iloc[-1] == EAST + 1
    assert farm.trees["status"].iloc[-1] == ""


def test_it_is_a_geopackage_by_the_letter(path):
    """OGC 12-128: application id, version, required tables, extents, and the schema extension's descriptions."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
        assert connection.execute("PRAGMA user_version").fetchone() == (10400,)
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert {row[0] for row in connection.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")} == {-1, 0, 4326, 2193}
        kinds = dict(connection.execute("SELECT table_name, data_type FROM gpkg_contents"))
        assert kinds["trees"] == "features"
        assert kinds["measurements"] == "attributes"
        assert connection.execute("SELECT min_x FROM gpkg_contents WHERE table_name = 'blocks'").fetchone() == (EAST,)
        allowed = connection.execute(
            "SELECT value FROM gpkg_data_column_constraints WHERE constraint_name = 'trees_status'"
        ).fetchall()
        assert [row[0] for row in allowed] == ["alive", "dead", "felled"]
        for (blob,) in connection.execute("SELECT geom FROM trees"):
            assert blob[:4] == b"GP\x00\x01"
            assert int.from_bytes(blob[4:8], "little") == 2193


def test_reading_can_be_stopped(path):
    class StopAtOnce:
        def step(self, done, total, what):
            raise Stopped

    with pytest.raises(Stopped):
        read_farm(path, StopAtOnce())


def test_read_only_files_open(path, farm):
    path.chmod(0o444)
    same(read_farm(path), farm)
    assert isinstance(read_farm(str(path)), Farm)


def test_a_file_replaced_while_it_is_read_is_read_again_from_the_start(tmp_path, path, farm):
    other = Farm(Settings("Another", farm.settings.epsg), {**farm.tables, "measurements": farm.measurements.iloc[:0]})
    write_farm(other, tmp_path / "other.gpkg")

    class Replacing:
        def step(self, done, _total, _what):
            if done == 2 and (tmp_path / "other.gpkg").exists():
                (tmp_path / "other.gpkg").replace(path)

    same(read_farm(path, Replacing()), other)
