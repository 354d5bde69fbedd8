"""Edits go into the file they were made for, whatever is opened meanwhile and whatever is stopped."""

import shutil
import threading

import numpy as np
import pytest

from farmmap.farm.edits import rows_put_in
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import read_farm
from farmmap.files.holding import holder_of
from farmmap.window.open_file import OpenFile

WAIT_MS = 30_000


def species_edit(farm, id_):
    code = f"ZZZ{id_}"
    ids = np.array([id_], dtype=np.int64)
    rows = shaped(TABLES["species"], {"code": [code], "name": [code]}, ids, farm.grid)
    return rows_put_in(farm, code, {"species": rows})


def codes_in(path):
    return {code for code in read_farm(path).species["code"] if code.startswith("ZZZ")}


@pytest.fixture
def held(monkeypatch):
    """Hold every write until the event is set."""
    go, write = threading.Event(), OpenFile.write

    def slow(file, edit, *on_sync):
        assert go.wait(20)
        write(file, edit, *on_sync)

    monkeypatch.setattr(OpenFile, "write", slow)
    return go


def test_waiting_edits_go_into_their_own_file_when_another_farm_is_opened(qtbot, opened, farm_path, tmp_path, held):
    other, done, failed = tmp_path / "heron.gpkg", [], []
    shutil.copy(farm_path, other)
    for id_ in (901, 902):
        edit = species_edit(opened.session.farm, id_)
        opened.files.carry_out(edit, lambda id_=id_: done.append(id_), failed.append)
    opened.open_farm(other)
    qtbot.waitUntil(lambda: opened.session.path == other, timeout=WAIT_MS)
    shown = opened.session.farm
    assert holder_of(farm_path) is not None, "it is held while edits wait"
    held.set()
    qtbot.waitUntil(lambda: len(done) == 2, timeout=WAIT_MS)
    assert failed == []
    assert opened.session.farm is shown
    assert codes_in(farm_path) == {"ZZZ901", "ZZZ902"}
    assert codes_in(other) == set()
    qtbot.waitUntil(lambda: holder_of(farm_path) is None, timeout=WAIT_MS)


def test_a_farm_opened_again_is_read_after_what_waits_was_written(qtbot, opened, farm_path, held):
    done = []
    opened.files.carry_out(species_edit(opened.session.farm, 901), lambda: done.append(1))
    before = opened.session.farm
    opened.open_farm(farm_path)
    held.set()
    qtbot.waitUntil(lambda: bool(done) and opened.session.farm is not before, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: not opened.jobs.is_busy("open"), timeout=WAIT_MS)
    assert "ZZZ901" in set(opened.session.farm.species["code"])
    opened.files.carry_out(species_edit(opened.session.farm, 902), lambda: done.append(2))
    qtbot.waitUntil(lambda: done == [1, 2], timeout=WAIT_MS)
    assert codes_in(farm_path) == {"ZZZ901", "ZZZ902"}


def test_a_write_is_not_stopped_and_the_next_goes_on(qtbot, opened, farm_path, held):
    done = []
    opened.files.carry_out(species_edit(opened.session.farm, 901), lambda: done.append(1))
    qtbot.waitUntil(opened.busy_strip.isVisible, timeout=WAIT_MS)
    assert not opened.busy_strip.stop_button.isVisible()
    opened.jobs.stop("write")
    held.set()
    qtbot.waitUntil(lambda: done == [1], timeout=WAIT_MS)
    assert "ZZZ901" in set(opened.session.farm.species["code"])
    opened.files.carry_out(species_edit(opened.session.farm, 902), lambda: done.append(2))
    qtbot.waitUntil(lambda: done == [1, 2], timeout=WAIT_MS)
    assert codes_in(farm_path) == {"ZZZ901", "ZZZ902"}


def test_edits_are_written_when_the_farm_and_the_window_are_closed(qtbot, opened, farm_path, held):
    for id_ in (901, 902):
        opened.files.carry_out(species_edit(opened.session.farm, id_))
    opened.close_farm()
    assert opened.session.farm is None
    held.set()
    opened.close()
    assert codes_in(farm_path) == {"ZZZ901", "ZZZ902"}
    assert holder_of(farm_path) is None
    assert not list(farm_path.parent.glob(".*")), "nothing is left beside the farm"


def test_the_same_file_by_another_name_is_the_same_farm(qtbot, opened, farm_path):
    other = farm_path.parent / "elsewhere" / ".." / farm_path.name
    (farm_path.parent / "elsewhere").mkdir()
    before = opened.session.farm
    opened.open_farm(other)
    qtbot.waitUntil(lambda: opened.session.farm is not before, timeout=WAIT_MS)
    assert opened.session.may_edit
