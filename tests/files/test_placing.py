import contextlib
import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from farmmap.files.placing import clear_parts, kept_still, part_file, put_in_place
from farmmap.files.processes import Process, this_process
from farmmap.files.turns import turn


def gone():
    """A process that has ended."""
    code = "from farmmap.files.processes import this_process as p; print(p().pid, p().started)"
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
    said = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    pid, _, started = said.stdout.strip().partition(" ")
    return Process(this_process().machine, int(pid), started)


def part_of(path, process):
    part = path.with_name(f".{path.name}-{process.machine}-{process.pid}-{process.started}-01234567.part")
    part.write_text("half")
    return part


def test_processes_are_known_apart():
    me = this_process()
    assert me.is_running()
    assert gone().is_running() is False
    assert Process("ffffffffffff", me.pid, me.started).is_running() is None
    if me.started:
        assert Process(me.machine, me.pid, "0123456789ab").is_running() is False


def test_a_part_file_is_there_only_while_it_is_made(tmp_path):
    path = tmp_path / "farm.gpkg"
    with part_file(path) as part:
        part.write_text("new")
        put_in_place(part, path)
    assert path.read_text() == "new"
    with pytest.raises(KeyError), part_file(path):
        raise KeyError
    assert [entry.name for entry in tmp_path.iterdir()] == ["farm.gpkg"]


def test_parts_are_cleared_only_if_their_process_has_certainly_ended(tmp_path):
    path, me = tmp_path / "farm.gpkg", this_process()
    left = part_of(path, gone())
    kept = [
        part_of(path, me),
        part_of(path, Process("ffffffffffff", 1, "0123456789ab")),
        part_of(path.with_name("other.gpkg"), gone()),
        path.with_name(".farm.gpkg-1234.part"),
        path.with_name("farm.gpkg-notes.part"),
    ]
    for other in kept:
        other.write_text("mine")
    clear_parts(path)
    assert not left.exists()
    assert all(other.exists() for other in kept)
    clear_parts(tmp_path / "no such folder" / "farm.gpkg")


def test_nobody_writes_into_a_file_that_is_kept_still(tmp_path):
    path = tmp_path / "some.db"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE t (x)")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("INSERT INTO t VALUES (1)")
        connection.commit()
    with kept_still(path), contextlib.closing(sqlite3.connect(path, timeout=0)) as other:
        assert other.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert other.execute("SELECT x FROM t").fetchall() == [(1,)]
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("INSERT INTO t VALUES (2)")
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_one_at_a_time_whatever_the_file_is_called(tmp_path):
    path, link, order = tmp_path / "farm.gpkg", tmp_path / "link.gpkg", []
    path.write_text("")
    link.symlink_to(path)

    def other():
        with turn(link):
            order.append("other")

    with turn(path), turn(path):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join(0.1)
        order.append("first")
    thread.join()
    assert order == ["first", "other"]
