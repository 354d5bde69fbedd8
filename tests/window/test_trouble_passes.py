"""Trouble that passes leaves nothing behind: the next change is made, and goes into the farm it was made for."""

import threading

import pytest

from farmmap.editing.fields import fields_changed
from farmmap.errors import FarmFileError
from farmmap.files import copies as copies_module
from farmmap.files.copies import copies_of
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.farm_writer import FarmWriter
from farmmap.window import open_file
from farmmap.window.farm_files import copies_folder
from farmmap.window.messages import ReportDialog
from farmmap.window.trouble import TroubleBox
from tests.conftest import small_farm

WAIT_MS = 30_000


def named(name):
    return lambda farm: fields_changed(farm, "blocks", [1], {"name": name})


def names_in(path):
    return list(read_farm(path).blocks["name"])


def test_a_tool_that_fails_does_not_keep_the_next_change_waiting(qtbot, opened, farm_path, dialog_of):
    def broken(farm):
        raise ZeroDivisionError("made up")

    opened.bench.propose(broken)
    opened.bench.propose(named("Upper Terrace"))
    qtbot.waitUntil(lambda: names_in(farm_path)[0] == "Upper Terrace", timeout=WAIT_MS)
    dialog = dialog_of(opened, ReportDialog)
    assert "made up" in dialog.report.toPlainText()
    dialog.reject()


def test_a_change_that_waits_does_not_go_into_another_farm(qtbot, opened, farm_path, tmp_path, monkeypatch):
    other, may_go_on, write = tmp_path / "other.gpkg", threading.Event(), FarmWriter.write
    write_farm(small_farm(), other)

    def slowly(writer, edit, *on_sync):
        may_go_on.wait(WAIT_MS / 1000)
        write(writer, edit, *on_sync)

    monkeypatch.setattr(FarmWriter, "write", slowly)
    refused = []
    opened.bench.propose(named("Upper Terrace"))
    opened.bench.propose(named("Lower Terrace"), refused=lambda error: refused.append(str(error)))
    opened.open_farm(other)
    qtbot.waitUntil(lambda: opened.session.path == other, timeout=WAIT_MS)
    may_go_on.set()
    qtbot.waitUntil(lambda: bool(refused), timeout=WAIT_MS)
    assert "Another farm was opened" in refused[0]
    assert names_in(other)[0] == "North Terrace"
    assert names_in(farm_path)[0] == "Upper Terrace"


def test_after_going_back_failed_the_farm_can_still_be_changed(qtbot, opened, farm_path, monkeypatch, dialog_of):
    qtbot.waitUntil(lambda: len(copies_of(farm_path, copies_folder())) == 1, timeout=WAIT_MS)
    copy = copies_of(farm_path, copies_folder())[0]

    def fails(path, back_to):
        raise FarmFileError("that copy is damaged")

    monkeypatch.setattr(copies_module, "go_back", fails)
    opened.files.go_back(farm_path, copy)
    box = dialog_of(opened, TroubleBox)
    assert "that copy is damaged" in box.text()
    box.reject()
    opened.bench.propose(named("Upper Terrace"))
    qtbot.waitUntil(lambda: names_in(farm_path)[0] == "Upper Terrace", timeout=WAIT_MS)


def test_a_hold_that_cannot_be_made_good_for_a_moment_is_kept(qtbot, opened, farm_path, monkeypatch):
    hold = opened.files._file.hold
    with monkeypatch.context() as patch:
        patch.setattr(type(hold), "refresh", lambda _hold: (_ for _ in ()).throw(FarmFileError("the drive is away")))
        opened.files.refresh_hold()
        qtbot.waitUntil(lambda: not opened.jobs.is_busy("hold"), timeout=WAIT_MS)
    assert opened.session.may_edit
    opened.bench.propose(named("Upper Terrace"))
    qtbot.waitUntil(lambda: names_in(farm_path)[0] == "Upper Terrace", timeout=WAIT_MS)


@pytest.mark.parametrize("opens_again", [True, False])
def test_a_large_change_is_in_the_file_whether_or_not_it_can_be_opened_again(
    qtbot, opened, farm_path, monkeypatch, opens_again
):
    monkeypatch.setattr(open_file, "MOST_ROWS_IN_PLACE", 0)
    if not opens_again:
        monkeypatch.setattr(open_file, "_writer_of", lambda _path: (None, "the drive is away"))
    done, failed = [], []
    edit = named("Upper Terrace")(opened.session.farm).edit
    opened.files.carry_out(edit, lambda: done.append(True), failed.append)
    qtbot.waitUntil(lambda: bool(done or failed), timeout=WAIT_MS)
    assert done
    assert names_in(farm_path)[0] == "Upper Terrace"
    opened.files.carry_out(named("Lower Terrace")(opened.session.farm).edit, lambda: done.append(True), failed.append)
    qtbot.waitUntil(lambda: len(done) + len(failed) == 2, timeout=WAIT_MS)
    assert [str(error).endswith("the drive is away") for error in failed] == ([] if opens_again else [True])
