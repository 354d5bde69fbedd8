"""What shows on the screen is in the file; copies are kept; one window at a time changes a farm."""

import json
import shutil
import sqlite3
import threading

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog

from farmmap.errors import FarmFileError
from farmmap.farm.edits import rows_changed
from farmmap.files.copies import copies_of, keep_copy
from farmmap.files.farm_file import read_farm
from farmmap.files.farm_writer import FarmWriter
from farmmap.files.holding import holder_of
from farmmap.window.copies_dialog import CopiesDialog, size_in_words
from farmmap.window.farm_files import copies_folder
from farmmap.window.farm_window import FarmWindow
from farmmap.window.open_file import OpenFile
from farmmap.window.trouble import TroubleBox

WAIT_MS = 30_000


def press(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def renamed(farm, block, name):
    after = farm.blocks.loc[[block]].copy()
    before, after["name"] = after["name"].iloc[0], name
    return rows_changed(farm, f"Rename {before}", "blocks", after)


def names_in(path):
    return list(read_farm(path).blocks["name"])


def button_of(box, words):
    return next(button for button in box.buttons() if button.text() == words)


@pytest.fixture
def written(qtbot):
    """Return what carries an edit out and waits until it is in the file."""

    def wait(window, edit):
        done = []
        window.files.carry_out(edit, lambda: done.append(True))
        qtbot.waitUntil(lambda: bool(done), timeout=WAIT_MS)

    return wait


@pytest.fixture
def other_window(qtbot, preferences):
    """Return a second window without a farm."""
    made = FarmWindow(preferences)
    qtbot.addWidget(made)
    made.resize(1200, 760)
    made.show()
    made.load_panels()
    qtbot.waitUntil(lambda: made.panels.count() >= 3, timeout=WAIT_MS)
    yield made
    made.close()


# A change that is shown is in the file


def test_at_every_change_of_the_screen_the_file_holds_what_is_shown(qtbot, opened, farm_path, written):
    seen = []
    opened.session.farm_changed.connect(
        lambda: seen.append(names_in(farm_path) == list(opened.session.farm.blocks["name"]))
    )
    for name in ("One", "Two", "Three"):
        written(opened, renamed(opened.session.farm, 1, name))
    assert seen == [True, True, True]


def deleted(path):
    path.unlink()


def replaced(path):
    beside = path.with_suffix(".other")
    shutil.copy(path, beside)
    beside.replace(path)


def made_read_only(path):
    path.chmod(0o444)


def rows_deleted(path):
    with sqlite3.connect(path) as connection:
        for name in ("rtree_blocks_geom_delete",):
            connection.execute(f"DROP TRIGGER IF EXISTS {name}")
        connection.execute("DELETE FROM blocks WHERE id = 1")
    connection.close()


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (deleted, "is not there any more"),
        (replaced, "has been replaced"),
        (made_read_only, "read-only"),
        (rows_deleted, "changed by another program"),
    ],
)
def test_a_change_that_cannot_be_written_is_told_and_not_shown(qtbot, opened, farm_path, dialog_of, harm, said):
    shown = opened.session.farm
    harm(farm_path)
    before = farm_path.read_bytes() if farm_path.exists() else None
    opened.files.carry_out(renamed(shown, 1, "Upper Terrace"))
    box = dialog_of(opened, TroubleBox)
    assert said in box.text()
    assert "Rename North Terrace" in box.text()
    assert "without this change" in box.informativeText()
    assert opened.session.farm is shown
    assert opened.contents.now.farm is shown
    assert opened.files.undo_name == ""
    assert (farm_path.read_bytes() if farm_path.exists() else None) == before
    box.reject()


@pytest.mark.parametrize("words", ["the disk is full", "another program is using the file"])
def test_after_trouble_that_passes_the_next_change_is_written(
    qtbot, opened, farm_path, dialog_of, written, monkeypatch, words
):
    write = FarmWriter.write

    def fail(writer, edit, *_on_sync):
        raise FarmFileError(f"'{edit.name}' was not written: {words}")

    monkeypatch.setattr(FarmWriter, "write", fail)
    opened.files.carry_out(renamed(opened.session.farm, 1, "Upper Terrace"))
    box = dialog_of(opened, TroubleBox)
    assert words in box.text()
    press(qtbot, box.button(TroubleBox.StandardButton.Ok))
    monkeypatch.setattr(FarmWriter, "write", write)
    written(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    assert names_in(farm_path) == ["Upper Terrace", "Far Slope"]


def test_what_waits_behind_a_change_that_was_not_written_is_dropped_and_told(
    qtbot, opened, farm_path, dialog_of, monkeypatch
):
    go, told = threading.Event(), []

    def fail(file, edit, *_on_sync):
        assert go.wait(20)
        raise FarmFileError(f"'{edit.name}' was not written: the disk is full")

    monkeypatch.setattr(OpenFile, "write", fail)
    farm = opened.session.farm
    opened.files.carry_out(renamed(farm, 1, "Upper Terrace"))
    opened.files.carry_out(renamed(farm, 2, "Lower Slope"), failed=told.append)
    opened.files.undo()
    go.set()
    box = dialog_of(opened, TroubleBox)
    assert "What waited behind it was not written either: “Rename Far Slope”, “Undo”." in box.text()
    assert [str(error) for error in told] == ["'Rename North Terrace' was not written: the disk is full"]
    box.reject()
    assert opened.session.farm is farm
    assert names_in(farm_path) == ["North Terrace", "Far Slope"]


def test_a_second_failure_joins_the_message_and_escape_closes_it(qtbot, opened, dialog_of, monkeypatch):
    def fail(_file, edit, *_on_sync):
        raise FarmFileError(f"'{edit.name}' was not written: the disk is full")

    monkeypatch.setattr(OpenFile, "write", fail)
    for block in (1, 2):
        opened.files.carry_out(renamed(opened.session.farm, block, "Other"))
        qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=WAIT_MS)
    assert len([box for box in opened.findChildren(TroubleBox) if box.isVisible()]) == 1
    box = dialog_of(opened, TroubleBox)
    assert "Rename North Terrace" in box.text()
    assert "Rename Far Slope" in box.text()
    qtbot.keyClick(box, Qt.Key.Key_Escape)
    assert not box.isVisible()


def test_a_farm_that_was_replaced_is_opened_again_on_request(qtbot, opened, farm_path, dialog_of, written):
    replaced(farm_path)
    shown = opened.session.farm
    opened.files.carry_out(renamed(shown, 1, "Upper Terrace"))
    box = dialog_of(opened, TroubleBox)
    press(qtbot, button_of(box, "Open the farm again"))
    qtbot.waitUntil(lambda: opened.session.farm is not shown, timeout=WAIT_MS)
    written(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    assert names_in(farm_path) == ["Upper Terrace", "Far Slope"]


def test_a_farm_whose_file_was_taken_away_is_written_to_another(qtbot, opened, farm_path, tmp_path, dialog_of, written):
    written(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    deleted(farm_path)
    opened.files.carry_out(renamed(opened.session.farm, 2, "Lower Slope"))
    box = dialog_of(opened, TroubleBox)
    press(qtbot, button_of(box, "Write the farm to another file…"))
    other = tmp_path / "kept.gpkg"
    dialog_of(opened, QFileDialog).fileSelected.emit(str(other))
    qtbot.waitUntil(lambda: opened.session.path == other, timeout=WAIT_MS)
    assert names_in(other) == ["Upper Terrace", "Far Slope"]
    assert opened.session.may_edit


def test_the_window_that_is_closed_tells_what_is_not_written(opened, farm_path, monkeypatch):
    told = []
    monkeypatch.setattr("PySide6.QtWidgets.QMessageBox.warning", lambda _parent, _title, words: told.append(words))
    go, write = threading.Event(), OpenFile.write

    def slow(file, edit, *on_sync):
        go.wait(1)
        write(file, edit, *on_sync)

    monkeypatch.setattr(OpenFile, "write", slow)
    farm = opened.session.farm
    deleted(farm_path)
    for block in (1, 2):
        opened.files.carry_out(renamed(farm, block, "Other"))
    opened.close()
    assert "is not there any more" in told[0]
    assert "“Rename Far Slope”" in told[0]


# One window at a time


def test_the_second_window_looks_only_until_the_first_has_closed(qtbot, opened, other_window, farm_path, settle):
    other_window.open_farm(farm_path)
    qtbot.waitUntil(lambda: other_window.session.farm is not None, timeout=WAIT_MS)
    settle(other_window)
    assert opened.session.may_edit
    assert not opened.holding_band.isVisible()
    assert not other_window.session.may_edit
    band = other_window.holding_band
    assert band.isVisible()
    assert "To look at only" in band.words.text()
    assert holder_of(farm_path).user in band.words.text()
    assert "since" in band.words.text()
    line = other_window.actions_by_name["bring_in"]
    assert not line.isEnabled()
    assert "open to" in line.toolTip()
    failed = []
    other_window.files.carry_out(renamed(other_window.session.farm, 1, "Theirs"), failed=failed.append)
    assert "“Rename North Terrace” was not done" in str(failed[0])
    assert names_in(farm_path) == ["North Terrace", "Far Slope"]
    opened.close_farm()
    qtbot.waitUntil(lambda: holder_of(farm_path) is None, timeout=WAIT_MS)
    press(qtbot, band.again_button)
    qtbot.waitUntil(lambda: other_window.session.may_edit, timeout=WAIT_MS)
    assert not band.isVisible()
    assert line.isEnabled()


def take_over(path):
    """Hold a farm as another machine would."""
    place = path.parent / f".{path.name}.held"
    said = {"user": "mere", "host": "shed", "since": "2026-11-25 06:10", "pid": 7, "machine": "another", "once": "1"}
    place.write_text(json.dumps(said))


def test_a_window_that_looks_only_says_when_the_farm_was_changed(
    qtbot, opened, other_window, farm_path, written, settle
):
    other_window.open_farm(farm_path)
    qtbot.waitUntil(lambda: other_window.session.farm is not None, timeout=WAIT_MS)
    settle(other_window)
    band = other_window.holding_band
    other_window.files.look_for_changes()
    qtbot.waitUntil(lambda: not other_window.jobs.is_busy(), timeout=WAIT_MS)
    assert "changed since" not in band.words.text()
    written(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    other_window.files.look_for_changes()
    qtbot.waitUntil(lambda: "changed since" in band.words.text(), timeout=WAIT_MS)
    press(qtbot, band.again_button)
    qtbot.waitUntil(lambda: "Upper Terrace" in list(other_window.session.farm.blocks["name"]), timeout=WAIT_MS)
    assert "changed since" not in band.words.text()


def test_a_farm_taken_over_by_another_is_looked_at_only(qtbot, opened, farm_path):
    take_over(farm_path)
    opened.files.refresh_hold()
    qtbot.waitUntil(lambda: not opened.session.may_edit, timeout=WAIT_MS)
    assert "mere on shed since 2026-11-25 06:10" in opened.holding_band.words.text()
    opened.close_farm()
    assert holder_of(farm_path).user == "mere", "what another holds is left alone"


def test_the_hold_is_looked_at_before_the_first_change_after_a_sleep(qtbot, opened, farm_path, written, dialog_of):
    written(opened, renamed(opened.session.farm, 2, "Lower Slope"))
    take_over(farm_path)
    opened.files._file.refreshed = 0.0
    opened.files.carry_out(renamed(opened.session.farm, 1, "Upper Terrace"))
    box = dialog_of(opened, TroubleBox)
    assert "mere" in box.text()
    box.reject()
    assert names_in(farm_path) == ["North Terrace", "Lower Slope"]
    assert not opened.session.may_edit
    assert not opened.actions_by_name["undo"].isEnabled()
    assert not opened.undo_line.undo_button.isVisible()


def test_a_read_only_file_is_looked_at_only(qtbot, window, farm_path):
    made_read_only(farm_path)
    window.open_farm(farm_path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    assert "is read-only" in window.holding_band.words.text()
    assert holder_of(farm_path) is None
    farm_path.chmod(0o644)
    window.open_again()
    qtbot.waitUntil(lambda: window.session.may_edit, timeout=WAIT_MS)


# Copies


def copies(path):
    return copies_of(path, copies_folder())


def test_a_copy_is_kept_at_opening(qtbot, opened, farm_path):
    qtbot.waitUntil(lambda: len(copies(farm_path)) == 1, timeout=WAIT_MS)
    assert names_in(copies(farm_path)[0].path) == ["North Terrace", "Far Slope"]


def test_the_copy_is_kept_before_the_first_change(qtbot, window, farm_path, written):
    window.map_view.painted.disconnect(window.files.keep_copy)
    window.open_farm(farm_path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    written(window, renamed(window.session.farm, 1, "Upper Terrace"))
    assert names_in(copies(farm_path)[-1].path) == ["North Terrace", "Far Slope"]


def test_a_copy_that_cannot_be_kept_is_told_quietly_and_work_goes_on(qtbot, window, farm_path, written):
    copies_folder().parent.mkdir(parents=True, exist_ok=True)
    copies_folder().write_text("in the way")
    window.open_farm(farm_path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    qtbot.waitUntil(window.holding_band.isVisible, timeout=WAIT_MS)
    assert "No copy of" in window.holding_band.words.text()
    written(window, renamed(window.session.farm, 1, "Upper Terrace"))
    assert names_in(farm_path) == ["Upper Terrace", "Far Slope"]
    press(qtbot, window.holding_band.close_button)
    assert not window.holding_band.isVisible()


def test_going_back_to_a_copy_keeps_what_is_there_now(qtbot, opened, farm_path, written, dialog_of):
    qtbot.waitUntil(lambda: len(copies(farm_path)) == 1, timeout=WAIT_MS)
    written(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    opened.actions_by_name["show_copies"].trigger()
    dialog = dialog_of(opened, CopiesDialog)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 1, timeout=WAIT_MS)
    assert [dialog.table.item(0, column).text() for column in (1, 2)] == ["2", "6"]
    assert not dialog.back_button.isEnabled()
    dialog.table.selectRow(0)
    shown = opened.session.farm
    press(qtbot, dialog.back_button)
    qtbot.waitUntil(lambda: opened.session.farm is not shown, timeout=WAIT_MS)
    assert list(opened.session.farm.blocks["name"]) == ["North Terrace", "Far Slope"]
    assert names_in(farm_path) == ["North Terrace", "Far Slope"]
    assert ["Upper Terrace", "Far Slope"] in [names_in(copy.path) for copy in copies(farm_path)]
    assert opened.files.undo_name == "", "what was done before belongs to what was there before"
    assert opened.note_strip.words.startswith("Went back to the copy of ")
    assert "What was there is kept as a copy" in opened.note_strip.words
    written(opened, renamed(opened.session.farm, 1, "Lower Terrace"))
    assert names_in(farm_path) == ["Lower Terrace", "Far Slope"]


def test_a_damaged_farm_goes_back_to_a_copy_from_its_message(qtbot, window, farm_path, dialog_of):
    keep_copy(farm_path, copies_folder())
    content = farm_path.read_bytes()
    farm_path.write_bytes(content[:20_000])
    window.open_farm(farm_path)
    box = dialog_of(window, TroubleBox)
    press(qtbot, button_of(box, "Earlier copies…"))
    dialog = dialog_of(window, CopiesDialog)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 1, timeout=WAIT_MS)
    dialog.table.selectRow(0)
    press(qtbot, dialog.back_button)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    assert names_in(farm_path) == ["North Terrace", "Far Slope"]
    assert window.session.may_edit


def test_a_farm_that_is_gone_offers_its_copies_on_the_first_page(qtbot, opened, farm_path, dialog_of):
    qtbot.waitUntil(lambda: len(copies(farm_path)) == 1, timeout=WAIT_MS)
    opened.close_farm()
    qtbot.waitUntil(lambda: holder_of(farm_path) is None, timeout=WAIT_MS)
    deleted(farm_path)
    opened.welcome.show_recent(opened.preferences.remembered)
    assert opened.welcome.recent == []
    press(qtbot, opened.welcome.copies[0])
    dialog = dialog_of(opened, CopiesDialog)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 1, timeout=WAIT_MS)
    dialog.table.selectRow(0)
    press(qtbot, dialog.back_button)
    qtbot.waitUntil(lambda: opened.session.farm is not None, timeout=WAIT_MS)
    assert names_in(farm_path) == ["North Terrace", "Far Slope"]


def test_a_farm_that_is_looked_at_only_does_not_go_back(qtbot, window, farm_path, dialog_of):
    keep_copy(farm_path, copies_folder())
    take_over(farm_path)
    window.open_farm(farm_path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    window.actions_by_name["show_copies"].trigger()
    dialog = dialog_of(window, CopiesDialog)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 1, timeout=WAIT_MS)
    dialog.table.selectRow(0)
    assert not dialog.back_button.isEnabled()
    assert "only be looked at" in dialog.words.text()
    dialog.reject()
    before = farm_path.read_bytes()
    window.files.go_back(farm_path, copies(farm_path)[0])
    box = dialog_of(window, QDialog)
    assert "was left as it is" in box.text()
    box.reject()
    assert farm_path.read_bytes() == before


@pytest.mark.parametrize(("size", "words"), [(900, "900 bytes"), (1_400_000, "1.4 MB"), (113_000_000, "113 MB")])
def test_sizes_in_words(size, words):
    assert size_in_words(size) == words
