"""Many rows put in or taken out at once go beside the triggers of the spatial index, and leave it and them right."""

import contextlib
import sqlite3

import numpy as np
import pytest
import shapely

from farmmap.errors import FarmFileError
from farmmap.farm.edits import Change, Edit, rows_put_in, rows_taken_away
from farmmap.farm.farm import next_ids, shaped
from farmmap.farm.schema import TABLES
from farmmap.files import farm_tables, geopackage
from farmmap.files.checks import check_farm
from farmmap.files.farm_file import read_farm, write_edit, write_edit_beside, write_farm
from tests.files.random_edits import first_farm, next_edit
from tests.files.test_killed import same
from tests.place import EAST, NORTH


def triggers(path):
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return set(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall())


def many(farm, count=2_500):
    draw = np.random.default_rng(3)
    x, y = EAST + draw.uniform(0, 900, count), NORTH + draw.uniform(0, 300, count)
    trees = shaped(TABLES["trees"], {"x": x, "y": y}, next_ids(farm.trees, count), farm.grid)
    lines = shapely.linestrings(np.stack([np.column_stack([x, y]), np.column_stack([x + 3, y])], axis=1))
    fences = shaped(TABLES["fences"], {"geometry": lines}, next_ids(farm.fences, count), farm.grid)
    return rows_put_in(farm, "Put in many", {"trees": trees, "fences": fences})


@pytest.mark.parametrize("write", [write_edit, write_edit_beside])
def test_many_rows_come_and_go_with_their_places_in_the_index(farm, tmp_path, write):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    before, edit = triggers(path), many(farm)
    for step in (edit, edit.turned_round(), edit):
        write(path, step)
        assert triggers(path) == before
        assert check_farm(path) == []
    after = edit.apply(farm)
    same(read_farm(path), after)
    some = rows_taken_away(after, "Fell", {"trees": after.trees.index[3:2300]})
    write(path, some)
    write(path, some.turned_round())
    same(read_farm(path), after)
    assert check_farm(path) == []


def test_it_is_right_for_any_edit(tmp_path, monkeypatch):
    monkeypatch.setattr(farm_tables, "MANY_ROWS", 1)
    farm, path = first_farm(), tmp_path / "edited.gpkg"
    write_farm(farm, path)
    for _ in range(25):
        edit = next_edit(farm)
        write_edit(path, edit)
        farm = edit.apply(farm)
    same(read_farm(path), farm)
    assert check_farm(path) == []


def test_rows_without_a_shape_have_no_place_in_the_index(farm, tmp_path, monkeypatch):
    monkeypatch.setattr(farm_tables, "MANY_ROWS", 2)
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    shapes = [shapely.LineString([(EAST, NORTH), (EAST + 9, NORTH)]), None, shapely.LineString()]
    rows = shaped(TABLES["fences"], {"geometry": shapes}, next_ids(farm.fences, 3), farm.grid)
    edit = rows_put_in(farm, "Put in", {"fences": rows})
    write_edit(path, edit)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM rtree_fences_geom").fetchone() == (2,)
    write_edit(path, edit.turned_round())
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM rtree_fences_geom").fetchone() == (1,)


def test_what_is_refused_leaves_triggers_and_index_as_they_were(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    edit = many(farm)
    write_edit(path, edit)
    before = path.read_bytes()
    with pytest.raises(FarmFileError):
        write_edit(path, edit)
    after = edit.apply(farm)
    gone = rows_taken_away(after, "Fell", {"trees": after.trees.index})
    odd = gone.changes["trees"].before.rename(index={1: 99_999})
    twice = Edit("Fell", {"trees": Change(odd, odd.iloc[:0])})
    with pytest.raises(FarmFileError, match="changed by another program"):
        write_edit(path, twice)
    assert path.read_bytes() == before


def test_a_file_without_these_triggers_is_written_all_the_same(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER rtree_trees_geom_insert")
        assert geopackage.trigger_taken_off(connection, "trees", "geom", "insert") == ""
        connection.commit()
    edit = many(farm)
    write_edit(path, edit)
    same(read_farm(path), edit.apply(farm))
