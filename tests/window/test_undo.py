"""Taking back and doing again, over the whole session, by keys, menu and list."""

import shutil
import sqlite3

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from farmmap.farm.edits import rows_changed, rows_taken_away
from farmmap.figures.blocks import block_figures
from farmmap.files.farm_file import read_farm
from farmmap.window import open_file
from farmmap.window.undo_dialog import UndoDialog

WAIT_MS = 30_000
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def renamed(farm, block, name):
    after = farm.blocks.loc[[block]].copy()
    before, after["name"] = after["name"].iloc[0], name
    return rows_changed(farm, f"Rename {before}", "blocks", after)


def widened(farm, by_m):
    """Move the right edge of Far Slope."""
    after = farm.blocks.loc[[2]].copy()
    west, south, east, north = after.geometry.iloc[0].bounds
    from shapely import box

    after["geometry"] = [box(west, south, east + by_m, north)]
    return rows_changed(farm, "Move corner of Far Slope", "blocks", after)


@pytest.fixture
def carried_out(qtbot):
    """Return what carries an edit out and waits until it is shown."""

    def wait(window, edit):
        done, failed = [], []
        window.files.carry_out(edit, lambda: done.append(True), failed.append)
        qtbot.waitUntil(lambda: bool(done or failed), timeout=WAIT_MS)
        assert failed == []

    return wait


@pytest.fixture
def pressed(qtbot):
    """Return what presses keys and waits until another farm is shown."""

    def wait(window, key, modifiers=CTRL):
        before = window.session.farm
        qtbot.keyClick(window, key, modifiers)
        qtbot.waitUntil(lambda: window.session.farm is not before, timeout=WAIT_MS)

    return wait


def same_farm(one, other):
    return one.settings == other.settings and all(one.tables[name].equals(other.tables[name]) for name in one.tables)


def test_undo_and_redo_by_keys(opened, farm_path, carried_out, pressed):
    first = opened.session.farm
    carried_out(opened, renamed(first, 1, "Upper Terrace"))
    carried_out(opened, widened(opened.session.farm, 20))
    last = opened.session.farm
    pressed(opened, Qt.Key.Key_Z)
    assert list(opened.session.farm.blocks["name"]) == ["Upper Terrace", "Far Slope"]
    pressed(opened, Qt.Key.Key_Z)
    assert same_farm(opened.session.farm, first)
    assert same_farm(read_farm(farm_path), first)
    pressed(opened, Qt.Key.Key_Y)
    pressed(opened, Qt.Key.Key_Z, CTRL | SHIFT)
    assert same_farm(opened.session.farm, last)
    assert same_farm(read_farm(farm_path), last)


def test_menu_and_head_line_name_what_is_taken_back(qtbot, opened, carried_out, pressed):
    undo, redo = (opened.actions_by_name[name] for name in ("undo", "redo"))
    assert (undo.text(), undo.isEnabled(), redo.isEnabled()) == ("Undo", False, False)
    assert not opened.undo_line.undo_button.isVisible()
    high = opened.map_view.height()
    carried_out(opened, widened(opened.session.farm, 5))
    assert opened.undo_line.undo_button.isVisible()
    assert opened.map_view.height() == high
    assert (undo.text(), undo.isEnabled()) == ("Undo: Move corner of Far Slope", True)
    assert opened.undo_line.undo_button.text().startswith("Undo: Move corner")
    before = opened.session.farm
    qtbot.mouseClick(opened.undo_line.undo_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: opened.session.farm is not before, timeout=WAIT_MS)
    assert (undo.text(), undo.isEnabled()) == ("Undo", False)
    assert (redo.text(), redo.isEnabled()) == ("Redo: Move corner of Far Slope", True)
    assert opened.undo_line.redo_button.text() == "Redo: Move corner of Far Slope"
    assert opened.note_strip.words == "Taken back: move corner of Far Slope."
    qtbot.mouseClick(opened.undo_line.redo_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(undo.isEnabled, timeout=WAIT_MS)
    assert opened.note_strip.words == "Done again: move corner of Far Slope."
    carried_out(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    assert not redo.isEnabled()


def test_figures_and_map_are_those_of_the_farm_at_every_step(opened, carried_out, pressed, settle):
    blocks = opened.panels.page("Blocks").view.model

    def check():
        scratch = block_figures(read_farm(opened.session.path), opened.session.on, 5.0)
        shown = {blocks.feature_at(row): blocks.numbers_at(row) for row in range(blocks.rowCount())}
        for block, numbers in zip(scratch.ids, scratch.rows, strict=True):
            plain = {key: value for key, value in numbers.items() if isinstance(value, float)}
            assert {key: shown[block][key] for key in plain} == pytest.approx(plain, rel=1e-9, nan_ok=True)
            assert {key: value for key, value in shown[block].items() if key not in plain} == {
                key: value for key, value in numbers.items() if key not in plain
            }
        assert opened.contents.now.farm is opened.session.farm

    carried_out(opened, widened(opened.session.farm, 30))
    check()
    carried_out(opened, rows_taken_away(opened.session.farm, "Remove tree 4", {"trees": [4], "measurements": [5]}))
    check()
    pressed(opened, Qt.Key.Key_Z)
    check()
    pressed(opened, Qt.Key.Key_Z)
    settle(opened)
    check()


def test_a_list_of_what_was_done_takes_back_to_any_line(qtbot, opened, carried_out, dialog_of):
    first = opened.session.farm
    for name in ("One", "Two", "Three"):
        carried_out(opened, renamed(opened.session.farm, 1, name))
    opened.actions_by_name["show_history"].trigger()
    dialog = dialog_of(opened, UndoDialog)
    assert [dialog.list.item(row).text() for row in range(3)] == ["Rename Two", "Rename One", "Rename North Terrace"]
    assert not dialog.back_button.isEnabled()
    dialog.list.setCurrentRow(1)
    assert "the one after it" in dialog.words.text()
    qtbot.mouseClick(dialog.back_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: opened.session.farm.blocks["name"].loc[1] == "One", timeout=WAIT_MS)
    assert dialog.list.count() == 1
    dialog.list.setCurrentRow(0)
    qtbot.mouseClick(dialog.back_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: same_farm(opened.session.farm, first), timeout=WAIT_MS)
    assert "Nothing was changed" in dialog.words.text()
    dialog.reject()


def test_another_farm_has_a_history_of_its_own(qtbot, opened, farm_path, tmp_path, carried_out):
    other = tmp_path / "heron.gpkg"
    shutil.copy(farm_path, other)
    carried_out(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    opened.open_farm(other)
    qtbot.waitUntil(lambda: opened.session.path == other, timeout=WAIT_MS)
    assert opened.files.undo_name == ""
    assert not opened.actions_by_name["undo"].isEnabled()
    carried_out(opened, renamed(opened.session.farm, 2, "Lower Slope"))
    assert opened.files.undo_name == "Rename Far Slope"
    assert list(read_farm(farm_path).blocks["name"]) == ["Upper Terrace", "Far Slope"]


def test_a_farm_read_again_keeps_its_history(qtbot, opened, farm_path, carried_out, pressed):
    first = opened.session.farm
    carried_out(opened, widened(first, 12))
    carried_out(opened, rows_taken_away(opened.session.farm, "Remove tree 6", {"trees": [6], "measurements": [6]}))
    shown = opened.session.farm
    opened.open_farm(farm_path)
    qtbot.waitUntil(lambda: opened.session.farm is not shown, timeout=WAIT_MS)
    pressed(opened, Qt.Key.Key_Z)
    pressed(opened, Qt.Key.Key_Z)
    assert same_farm(opened.session.farm, first)


def test_what_was_changed_elsewhere_since_is_not_undone(qtbot, opened, farm_path, carried_out, dialog_of):
    carried_out(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    with sqlite3.connect(farm_path) as connection:
        connection.create_function("ST_IsEmpty", 1, lambda _shape: 0)
        for name in ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            connection.create_function(name, 1, lambda _shape: 0.0)
        connection.execute("UPDATE species SET name = 'totara' WHERE id = 1")
        connection.execute("UPDATE blocks SET name = 'Theirs' WHERE id = 1")
    connection.close()
    shown = opened.session.farm
    opened.open_farm(farm_path)
    qtbot.waitUntil(lambda: opened.session.farm is not shown, timeout=WAIT_MS)
    qtbot.keyClick(opened, Qt.Key.Key_Z, CTRL)
    box = dialog_of(opened, QMessageBox)
    assert "cannot be taken back any more" in box.text()
    box.reject()
    assert opened.files.undo_name == ""
    assert read_farm(farm_path).blocks["name"].loc[1] == "Theirs"


def test_a_large_edit_is_written_beside_and_can_be_taken_back(opened, farm_path, carried_out, pressed, monkeypatch):
    monkeypatch.setattr(open_file, "MOST_ROWS_IN_PLACE", 2)
    first, inode = opened.session.farm, farm_path.stat().st_ino
    trees = first.trees.copy()
    trees["planted"] = "2001"
    carried_out(opened, rows_changed(first, "Bring in trees", "trees", trees))
    assert farm_path.stat().st_ino != inode, "a new file took the place of the old"
    carried_out(opened, renamed(opened.session.farm, 1, "Upper Terrace"))
    assert set(read_farm(farm_path).trees["planted"]) == {"2001"}
    pressed(opened, Qt.Key.Key_Z)
    pressed(opened, Qt.Key.Key_Z)
    assert same_farm(read_farm(farm_path), first)
