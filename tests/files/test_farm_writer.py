import contextlib
import os
import shutil
import sqlite3
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

from farmmap.errors import FarmFileError
from farmmap.farm.edits import Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import TABLES
from farmmap.files import farm_writer
from farmmap.files.checks import check_farm
from farmmap.files.farm_file import read_farm, write_edit, write_edit_beside, write_farm
from farmmap.files.farm_tables import apply_edit
from farmmap.files.farm_writer import FarmWriter
from tests.files.random_edits import first_farm, next_edit
from tests.files.test_killed import same
from tests.files.troubles import fill, mounted, ordinary_user

PAGE = 4096


@pytest.fixture
def path(tmp_path: Path, farm: Farm) -> Path:
    path = tmp_path / "pipit.gpkg"
    write_farm(farm, path)
    return path


def noted(farm: Farm, note: str) -> Edit:
    rows = farm.trees.copy()
    rows["note"] = note
    return rows_changed(farm, "Note trees", "trees", rows)


def planted(farm: Farm, count: int) -> Edit:
    """Many trees, which do not fit where there is little room."""
    values = {"tag": ["x" * 50] * count, "x": np.full(count, 1.8e6), "y": np.full(count, 5.4e6)}
    rows = shaped(TABLES["trees"], values, next_ids(farm.trees, count), farm.grid)
    return rows_put_in(farm, "Plant many", {"trees": rows})


def refuses(writer: FarmWriter, edit: Edit, words: str) -> str:
    with pytest.raises(FarmFileError, match=words) as refused:
        writer.write(edit)
    assert str(refused.value).startswith(f"'{edit.name}' was not written")
    return str(refused.value)


def test_a_stream_of_edits_and_back_again(tmp_path):
    path, farm = tmp_path / "farm.gpkg", first_farm()
    write_farm(farm, path)
    edits = []
    with FarmWriter(path, cache_pages=4) as writer:
        for _ in range(25):
            edits.append(next_edit(farm))
            writer.write(edits[-1])
            farm = edits[-1].apply(farm)
        same(read_farm(path), farm)
        assert check_farm(path) == []
        for edit in reversed(edits):
            writer.write(edit.turned_round())
    same(read_farm(path), first_farm())
    assert check_farm(path) == []
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_nothing_but_the_file_lies_there_between_edits(path, farm):
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_any_thread_may_write(path, farm):
    errors = []

    def write(writer: FarmWriter) -> None:
        try:
            for _ in range(5):
                writer.write(noted(farm, threading.current_thread().name))
        except BaseException as error:  # noqa: BLE001
            errors.append(error)

    with FarmWriter(path) as writer:
        threads = [threading.Thread(target=write, args=(writer,)) for _ in range(4)]
        for thread in threads:
            thread.start()
        while any(thread.is_alive() for thread in threads):
            assert len(set(read_farm(path).trees["note"])) == 1
        for thread in threads:
            thread.join()
    assert errors == []


def test_settings_changed_by_another_program_are_seen(path, farm):
    """A newer farmmap wrote into the file meanwhile: this one must not."""
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        with contextlib.closing(sqlite3.connect(path)) as other:
            other.execute("UPDATE farm SET schema_version = 99")
            other.commit()
        with pytest.raises(FarmFileError, match="newer farmmap"):
            writer.write(noted(farm, "b"))


def test_an_edit_that_does_not_fit_leaves_the_writer_in_order(path, farm):
    with FarmWriter(path) as writer:
        writer.write(rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
        before = path.read_bytes()
        with pytest.raises(FarmFileError, match="changed by another program"):
            writer.write(rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}))
        assert path.read_bytes() == before
        writer.write(rows_taken_away(farm, "Fell", {"trees": farm.trees.index[1:2]}))
    assert len(read_farm(path).trees) == len(farm.trees) - 2


def test_a_writer_that_was_closed_refuses(path, farm):
    writer = FarmWriter(path)
    writer.close()
    writer.close()
    refuses(writer, noted(farm, "a"), "is closed")


def test_shapes_left_alone_are_not_written_and_moved_ones_are(path, farm):
    """An edit of fields alone must not call the index's triggers, which cost more than all the rest."""
    calls = []
    with FarmWriter(path) as writer:
        writer._connection.create_function("ST_MinX", 1, lambda _: calls.append(1) or 0.0)
        writer.write(noted(farm, "a"))
        assert not calls
        rows = farm.trees.iloc[:1].copy()
        rows["note"], rows["x"] = "a", rows["x"] + 1
        writer.write(rows_changed(farm, "Move", "trees", rows))
        assert calls


@pytest.mark.parametrize("take_away", [Path.unlink, lambda path: path.rename(path.with_name("elsewhere.gpkg"))])
def test_a_file_taken_away_is_said_at_once(path, farm, take_away):
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        take_away(path)
        refuses(writer, noted(farm, "b"), "is not there any more")
        assert not path.exists()
        if path.with_name("elsewhere.gpkg").exists():
            path.with_name("elsewhere.gpkg").rename(path)
            writer.write(noted(farm, "c"))
            assert set(read_farm(path).trees["note"]) == {"c"}


def test_a_file_replaced_by_another_is_left_alone(path, farm):
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        other = path.with_name("other.gpkg")
        shutil.copyfile(path, other)
        other.replace(path)
        before = path.read_bytes()
        refuses(writer, noted(farm, "b"), "has been replaced by another file")
        assert path.read_bytes() == before
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "c"))


def test_a_file_replaced_while_an_edit_waits_for_its_turn(path, farm, monkeypatch):
    """Whoever replaces a file holds its lock till then; a writer that waited must look again before it writes."""
    with FarmWriter(path, busy_s=30) as writer, contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN IMMEDIATE")
        refused, looked, look = [], threading.Event(), writer._still_there

        def still_there() -> None:
            look()
            looked.set()

        monkeypatch.setattr(writer, "_still_there", still_there)

        def write() -> None:
            with pytest.raises(FarmFileError, match="has been replaced") as error:
                writer.write(noted(farm, "b"))
            refused.append(error)

        thread = threading.Thread(target=write)
        thread.start()
        assert looked.wait(30), "it never began"
        new = path.with_name("new.gpkg")
        shutil.copyfile(path, new)
        new.replace(path)
        other.rollback()
        thread.join()
        assert refused


def test_a_file_taken_away_in_the_middle_of_an_edit(path, farm, monkeypatch):
    """The edit goes into the file that was taken away; it must not be taken for one that is at the path."""

    def then_taken_away(connection: sqlite3.Connection, edit: Edit, epsg: int) -> None:
        apply_edit(connection, edit, epsg)
        path.rename(path.with_name("elsewhere.gpkg"))

    with FarmWriter(path) as writer:
        monkeypatch.setattr(farm_writer, "apply_edit", then_taken_away)
        with pytest.raises(FarmFileError, match="taken away or replaced while 'Note trees'"):
            writer.write(noted(farm, "a"))
    assert check_farm(path.with_name("elsewhere.gpkg")) == []


def test_a_file_that_another_program_left_with_a_log_is_one_file_again(path, farm):
    with contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA journal_mode = WAL")
    with FarmWriter(path) as writer:
        writer.write(noted(farm, "a"))
        assert [entry.name for entry in path.parent.iterdir()] == [path.name]
        with contextlib.closing(sqlite3.connect(path)) as other:
            assert other.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_a_file_made_read_only_is_said_and_written_again_afterwards(path, farm):
    with FarmWriter(path) as writer:
        path.chmod(0o444)
        before = path.read_bytes()
        refuses(writer, noted(farm, "b"), "is read-only")
        assert path.read_bytes() == before
        with pytest.raises(FarmFileError, match="is read-only"):
            write_edit_beside(path, noted(farm, "b"))
        assert path.read_bytes() == before
        path.chmod(0o644)
        writer.write(noted(farm, "c"))
    assert set(read_farm(path).trees["note"]) == {"c"}


@pytest.mark.skipif(sys.platform == "win32", reason="other permissions there")
def test_a_folder_made_read_only_is_said_and_written_again_afterwards(path, farm):
    with FarmWriter(path) as writer:  # whatever is loaded late is loaded now: an ordinary user may not read all
        writer.write(noted(farm, "a"))
    write_edit_beside(path, noted(farm, "a"))
    same(read_farm(path), noted(farm, "a").apply(farm))
    with ordinary_user() as folder:
        path = folder / "pipit.gpkg"
        write_farm(farm, path)
        with FarmWriter(path) as writer:
            writer.write(noted(farm, "a"))
            before = path.read_bytes()
            folder.chmod(0o555)
            refuses(writer, noted(farm, "b"), "make its folder writable")
            with pytest.raises(FarmFileError, match="was not written"):
                write_edit_beside(path, noted(farm, "b"))
            assert path.read_bytes() == before
            assert set(read_farm(path).trees["note"]) == {"a"}
            folder.chmod(0o755)
            writer.write(noted(farm, "c"))
        assert set(read_farm(path).trees["note"]) == {"c"}


def test_a_full_disk_is_said_and_the_file_is_as_it_was(tmp_path, farm):
    with mounted(tmp_path, "size=1m") as made:
        if not made:
            pytest.skip("no small disk can be made here; the two tests below stand in for it")
        path = tmp_path / "pipit.gpkg"
        write_farm(farm, path)
        with FarmWriter(path, cache_pages=4) as writer:
            writer.write(noted(farm, "a"))
            before = path.read_bytes()
            stuffing = fill(tmp_path)
            refuses(writer, planted(farm, 3000), "the disk is full; free some space")
            refuses(writer, noted(farm, "b"), "free some space")
            for write in (write_edit_beside, write_edit):
                with pytest.raises(FarmFileError, match="free some space"):
                    write(path, planted(farm, 3000))
            assert path.read_bytes() == before
            assert sorted(entry.name for entry in tmp_path.iterdir()) == [path.name, "stuffing"]
            stuffing.unlink()
            writer.write(noted(farm, "c"))
        assert set(read_farm(path).trees["note"]) == {"c"}
        assert check_farm(path) == []


def test_a_file_that_may_not_grow(path, farm):
    with FarmWriter(path, cache_pages=4) as writer:
        connection = writer._connection
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 5}")
        before = path.read_bytes()
        refuses(writer, planted(farm, 3000), "the disk is full")
        assert path.read_bytes() == before
        connection.execute("PRAGMA max_page_count = 1000000")
        writer.write(planted(farm, 3000))
    assert len(read_farm(path).trees) == len(farm.trees) + 3000


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_write_that_fails_half_way(path, farm):
    """The system refuses to let the file grow in mid-transaction, after pages have been written into it."""
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    with FarmWriter(path, cache_pages=4) as writer:
        before = path.read_bytes()
        resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 20 * PAGE, hard))
        try:
            refuses(writer, planted(farm, 5000), "not full")
            with pytest.raises(FarmFileError, match="was not written"):
                write_edit_beside(path, planted(farm, 5000))
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert read_farm(path).trees.equals(farm.trees)
        assert check_farm(path) == []
        writer.write(planted(farm, 5000))
        assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_a_read_only_drive_opens_to_look_only(tmp_path, farm):
    with mounted(tmp_path, "size=1m") as made:
        if not made:
            pytest.skip("no drive of its own can be made here")
        path = tmp_path / "pipit.gpkg"
        write_farm(farm, path)
        os.sync()
        os.system(f"mount -o remount,ro {tmp_path}")
        same(read_farm(path), farm)
        with pytest.raises(FarmFileError, match="read-only"):
            FarmWriter(path)
        with pytest.raises(FarmFileError, match="read-only"):
            write_edit_beside(path, noted(farm, "a"))


def test_what_is_no_farm_file_is_refused(tmp_path):
    with pytest.raises(FarmFileError, match="is not there"):
        FarmWriter(tmp_path / "none.gpkg")
    (tmp_path / "odd.gpkg").write_bytes(b"hello, this is no database at all")
    with pytest.raises(FarmFileError, match="no farm file"):
        FarmWriter(tmp_path / "odd.gpkg")
