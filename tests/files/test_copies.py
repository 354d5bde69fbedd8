import datetime as dt
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace

import pytest

from farmmap.errors import FarmFileError
from farmmap.files import copies
from farmmap.files.copies import copies_of, go_back, keep_copy
from farmmap.files.farm_file import read_farm, write_edit, write_edit_beside, write_farm
from farmmap.files.farm_writer import FarmWriter
from tests.conftest import small_farm
from tests.files.test_farm_writer import noted
from tests.files.test_killed import same
from tests.files.troubles import fill, mounted


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "farm" / "Pipit ü.gpkg"
    path.parent.mkdir()
    write_farm(small_farm(), path)
    return path


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "data" / "copies"


def names(folder):
    return {entry.name for entry in folder.iterdir()}


def note_of(path):
    (note,) = set(read_farm(path).trees["note"])
    return note


def with_notes(path, folder, *notes):
    farm = read_farm(path)
    for note in notes:
        edit = noted(farm, note)
        write_edit(path, edit)
        farm = edit.apply(farm)
        keep_copy(path, folder)


def test_a_copy_is_kept_and_named_by_its_day(path, folder, farm):
    before = path.read_bytes()
    kept = keep_copy(path, folder)
    assert path.read_bytes() == before
    same(read_farm(kept), farm)
    (copy,) = copies_of(path, folder)
    assert (copy.path, copy.bytes) == (kept, kept.stat().st_size)
    assert abs(copy.taken - dt.datetime.now().astimezone()) < dt.timedelta(minutes=1)
    assert copy.counts() == (2, 6)
    assert names(kept.parent) == {kept.name}


def test_an_unchanged_file_is_not_copied_again(path, folder):
    assert keep_copy(path, folder) is not None
    assert keep_copy(path, folder) is None
    with_notes(path, folder, "a")
    assert len(copies_of(path, folder)) == 2


def test_the_last_ten_are_kept(path, folder):
    with_notes(path, folder, *"abcdefghijklm")
    kept = copies_of(path, folder)
    assert [note_of(copy.path) for copy in kept] == list("mlkjihgfed")
    assert sorted(kept, key=lambda copy: copy.taken, reverse=True) == list(kept)


def test_many_copies_of_one_second_keep_their_order(path, folder, monkeypatch):
    class Stopped(dt.datetime):
        @classmethod
        def now(cls, tz=None):
            return cls(2026, 11, 25, 12, tzinfo=tz)

    monkeypatch.setattr(copies, "dt", SimpleNamespace(datetime=Stopped))
    with_notes(path, folder, *"abcdefghijklm")
    assert [note_of(copy.path) for copy in copies_of(path, folder)] == list("mlkjihgfed")


def test_two_farms_of_one_name_do_not_share_copies(path, folder, tmp_path):
    other = tmp_path / path.name
    shutil.copyfile(path, other)
    keep_copy(path, folder)
    keep_copy(other, folder)
    assert len(copies_of(path, folder)) == len(copies_of(other, folder)) == 1


def test_going_back_keeps_what_was_there(path, folder):
    with_notes(path, folder, "a", "b")
    write_edit(path, noted(read_farm(path), "c"))
    newest, oldest = copies_of(path, folder)
    go_back(path, oldest)
    assert note_of(path) == "a"
    assert sorted(note_of(copy.path) for copy in copies_of(path, folder)) == ["a", "b", "c"]
    go_back(path, newest)
    go_back(path, oldest)
    assert len(copies_of(path, folder)) == 3
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_going_back_to_the_oldest_of_ten_does_not_lose_it(path, folder):
    with_notes(path, folder, *"abcdefghij")
    write_edit(path, noted(read_farm(path), "k"))
    go_back(path, copies_of(path, folder)[-1])
    assert note_of(path) == "a"
    assert {note_of(copy.path) for copy in copies_of(path, folder)} == set("abcdefghijk")


def test_a_writer_of_the_file_that_was_there_refuses_after_going_back(path, folder, farm):
    keep_copy(path, folder)
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        go_back(path, copies_of(path, folder)[0])
        with pytest.raises(FarmFileError, match="has been replaced"):
            writer.write(noted(farm, "b"))
    same(read_farm(path), farm)


def test_a_damaged_farm_is_kept_as_it_is_and_gone_back_from(path, folder, farm):
    keep_copy(path, folder)
    path.write_bytes(b"SQLite format 3\x00" + bytes(5000))
    damaged = path.read_bytes()
    go_back(path, copies_of(path, folder)[0])
    same(read_farm(path), farm)
    (place,) = folder.iterdir()
    assert [entry.read_bytes() for entry in place.glob("* damaged.gpkg")] == [damaged]
    assert len(copies_of(path, folder)) == 1


def test_a_farm_that_is_gone_is_gone_back_to(path, folder, farm):
    """A journal that was left where the farm was must not be taken for the new file's."""
    keep_copy(path, folder)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 2")
        connection.execute("BEGIN")
        connection.execute("CREATE TABLE junk AS SELECT hex(randomblob(900)) FROM gpkg_data_columns")
        shutil.copyfile(f"{path}-journal", f"{path}-kept")
    path.unlink()
    Path(f"{path}-kept").rename(f"{path}-journal")
    go_back(path, copies_of(path, folder)[0])
    same(read_farm(path), farm)
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def half_done(path, folder):
    """Leave a farm file as a process leaves it that was killed in mid-transaction: half-done, its journal beside it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 2")
        connection.execute("BEGIN")
        connection.execute("UPDATE measurements SET note = hex(randomblob(9000))")
        folder.mkdir(parents=True, exist_ok=True)
        for ending in ("", "-journal"):
            shutil.copyfile(f"{path}{ending}", folder / f"half{ending}")
    assert (folder / "half").read_bytes() != path.read_bytes()
    (folder / "half").replace(path)
    (folder / "half-journal").replace(f"{path}-journal")


@pytest.mark.parametrize("then", ["copy", "edit beside", "back", "edit", "write"])
def test_a_change_left_half_done_is_taken_back_first(path, folder, farm, tmp_path, then):
    keep_copy(path, folder)
    half_done(path, tmp_path / "half")
    if then == "copy":
        same(read_farm(keep_copy(path, folder) or copies_of(path, folder)[0].path), farm)
    elif then == "edit beside":
        write_edit_beside(path, noted(farm, "a"))
        farm = noted(farm, "a").apply(farm)
    elif then == "back":
        go_back(path, copies_of(path, folder)[0])
    elif then == "edit":
        write_edit(path, noted(farm, "a"))
        farm = noted(farm, "a").apply(farm)
    else:
        write_farm(farm, path, replace=True)
    assert not Path(f"{path}-journal").exists()
    same(read_farm(path), farm)


def test_a_damaged_copy_is_refused(path, folder, farm):
    kept = keep_copy(path, folder)
    raw = bytearray(kept.read_bytes())
    raw[8192:40000] = bytes(40000 - 8192)
    kept.write_bytes(raw)
    before = path.read_bytes()
    with pytest.raises(FarmFileError, match="copy"):
        go_back(path, copies_of(path, folder)[0])
    assert path.read_bytes() == before


def test_a_copy_that_is_gone_is_said(path, folder):
    keep_copy(path, folder)
    (copy,) = copies_of(path, folder)
    copy.path.unlink()
    before = path.read_bytes()
    for ask in (lambda: go_back(path, copy), copy.counts):
        with pytest.raises(FarmFileError, match=r"is not there any more: .* Choose another copy"):
            ask()
    assert path.read_bytes() == before
    assert copies_of(path, folder) == ()


def test_what_else_lies_in_the_folder_is_left_alone(path, folder):
    place = keep_copy(path, folder).parent
    for name in ("notes.txt", "2026-13-45 999999.gpkg", "my copy.gpkg"):
        (place / name).write_text("mine")
    with_notes(path, folder, *"abcdefghijkl")
    assert {"notes.txt", "2026-13-45 999999.gpkg", "my copy.gpkg"} <= names(place)
    assert len(copies_of(path, folder)) == 10


def test_a_place_that_cannot_be_written_to_is_said(path, folder):
    folder.parent.mkdir(parents=True)
    folder.write_text("a file where the folder should be")
    with pytest.raises(FarmFileError, match="is not harmed"):
        keep_copy(path, folder)
    assert copies_of(path, folder) == ()
    with pytest.raises(FarmFileError, match="No copy"):
        keep_copy(path.with_name("none.gpkg"), folder.with_name("others"))


def test_a_full_disk_loses_no_copy_and_harms_no_farm(path, tmp_path, farm):
    small = tmp_path / "small"
    small.mkdir()
    with mounted(small, "size=1m") as made:
        if not made:
            pytest.skip("no small disk can be made here")
        keep_copy(path, small)
        write_edit(path, noted(farm, "a"))
        fill(small)
        with pytest.raises(FarmFileError, match="the disk is full; free some space"):
            keep_copy(path, small)
        (copy,) = copies_of(path, small)
        same(read_farm(copy.path), farm)
        with pytest.raises(FarmFileError, match="the disk is full; free some space"):
            go_back(path, copy)  # what is there now has to be kept first
        assert note_of(path) == "a"
        assert names(copy.path.parent) == {copy.path.name}
