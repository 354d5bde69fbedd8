"""Photographs in the window: adding, naming, dating and taking out; photo points drawn, moved, turned and picked."""

import shutil

import numpy as np
import pytest
from PySide6.QtCore import Qt

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.resource_files import sample_farm_files
from farmmap.window.fields_box import FieldsBox
from farmmap.window.photos_dialog import PhotosDialog
from farmmap.window.tools.photo_points import PhotoPointTool
from tests.conftest import days, small_farm
from tests.photo_files import write_photo
from tests.place import EAST, NORTH
from tests.window.conftest import WAIT_MS
from tests.window.tool_hand import Hand

SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def farm_path(tmp_path):
    """The small farm with two photo points, and two photographs from the first."""
    farm, ids = small_farm(), np.array([1, 2])
    points = {
        "name": ["Ford", "Gate"],
        "bearing_deg": [60.0, np.nan],
        "x": [EAST + 20, EAST + 150],
        "y": [NORTH + 50, NORTH + 50],
    }
    photos = {
        "photo_point": [1, 1],
        "path": ["late.jpg", "early.jpg"],
        "taken_on": days("2026-05-01", "2016-05-01"),
        "caption": ["Planted", "Bare"],
    }
    for name in photos["path"]:
        write_photo(tmp_path / name)
    farm = farm.with_tables(
        photo_points=shaped(TABLES["photo_points"], points, ids, farm.grid),
        photos=shaped(TABLES["photos"], photos, ids, farm.grid),
    )
    path = tmp_path / "photographed.gpkg"
    write_farm(farm, path)
    return path


@pytest.fixture
def dialog(opened, dialog_of):
    opened.show_photos()
    return dialog_of(opened, PhotosDialog)


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


def photos(window):
    return window.session.farm.tables["photos"]


def points(farm):
    return farm.tables["photo_points"]


def test_before_and_after_stand_beside_each_other(opened, dialog, qtbot):
    assert [dialog.points.item(n).text() for n in range(dialog.points.count())] == ["Ford  (2)", "Gate  (0)"]
    assert [dialog.photos.item(n).text() for n in range(2)] == [
        "Before, 1 May 2016\nBare",
        "After, 1 May 2026\nPlanted",
    ]
    assert dialog.view.text() == "Looking north-east (60° from grid north)"
    qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=WAIT_MS)
    icon = dialog.photos.item(0).icon().pixmap(dialog.photos.iconSize()).toImage()
    middle = icon.pixelColor(icon.width() // 4, icon.height() // 3)
    assert middle.red() > 150 > middle.blue()


def test_caption_and_day_are_edits_that_can_be_undone(opened, dialog, qtbot):
    dialog.photos.setCurrentRow(1)
    assert dialog.taken_on.text() == "2026-05-01"
    dialog.caption.setText("Fenced")
    dialog.caption.editingFinished.emit()
    qtbot.waitUntil(lambda: photos(opened)["caption"].tolist() == ["Fenced", "Bare"], timeout=WAIT_MS)
    assert read_farm(opened.session.path).tables["photos"]["caption"].tolist() == ["Fenced", "Bare"]
    assert dialog.photos.currentRow() == 1
    dialog.taken_on.setText("some day")
    dialog.taken_on.editingFinished.emit()
    assert "some day" in dialog.said.text()
    assert photos(opened)["taken_on"].dt.year.tolist() == [2026, 2016]
    opened.files.undo()
    qtbot.waitUntil(lambda: photos(opened)["caption"].tolist() == ["Planted", "Bare"], timeout=WAIT_MS)


def test_adding_and_taking_out(opened, dialog, qtbot, tmp_path):
    dialog.points.setCurrentRow(1)
    dialog.add([write_photo(tmp_path / "new.jpg", taken="2025:03:04 10:00:00")])
    qtbot.waitUntil(lambda: len(photos(opened)) == 3, timeout=WAIT_MS)
    row = photos(opened).iloc[-1]
    assert (row["photo_point"], row["path"], str(row["taken_on"])[:10]) == (2, "new.jpg", "2025-03-04")
    qtbot.waitUntil(lambda: dialog.photos.count() == 1, timeout=WAIT_MS)
    dialog.remove_button.click()
    qtbot.waitUntil(lambda: len(photos(opened)) == 2, timeout=WAIT_MS)
    assert (tmp_path / "new.jpg").is_file()
    (tmp_path / "broken.jpg").write_bytes(b"\xff\xd8 no photograph")
    dialog.add([tmp_path / "broken.jpg"])
    qtbot.waitUntil(lambda: "cannot be read as a photograph" in dialog.said.text(), timeout=WAIT_MS)
    assert dialog.add_button.isEnabled()
    assert len(photos(opened)) == 2


def test_a_photograph_whose_file_is_gone_says_so(opened, tmp_path, dialog_of, qtbot):
    (tmp_path / "early.jpg").unlink()
    opened.show_photos()
    dialog = dialog_of(opened, PhotosDialog)
    assert "early.jpg is not in" in dialog.trouble.text()
    qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=WAIT_MS)
    dialog.photos.setCurrentRow(1)
    assert not dialog.trouble.isVisible()
    assert not dialog.where_button.isVisible()


def test_a_file_that_was_moved_is_found_again(opened, tmp_path, dialog_of, qtbot):
    (tmp_path / "old").mkdir()
    (tmp_path / "early.jpg").rename(tmp_path / "old" / "2016.jpg")
    opened.show_photos()
    dialog = dialog_of(opened, PhotosDialog)
    assert dialog.where_button.isVisible()
    dialog.found(tmp_path / "late.jpg")
    assert "late.jpg is among the photographs already" in dialog.said.text()
    dialog.found(tmp_path / "old" / "2016.jpg")
    qtbot.waitUntil(lambda: photos(opened)["path"].tolist() == ["late.jpg", "old/2016.jpg"], timeout=WAIT_MS)
    assert photos(opened)["caption"].tolist() == ["Planted", "Bare"]
    assert not dialog.where_button.isVisible()
    qtbot.waitUntil(lambda: not opened.jobs.is_busy(), timeout=WAIT_MS)


def test_a_photo_point_is_drawn_by_two_clicks(hand):
    tool = hand.take("Draw", "photo point")
    assert isinstance(tool, PhotoPointTool)
    hand.click(60, 30)
    assert "where the camera looks" in hand.words
    hand.click(60, 80)
    farm = hand.wait_for_edit()
    point = points(farm).iloc[-1]
    assert point["name"] == "P3"
    assert point["bearing_deg"] == pytest.approx(0, abs=2) or point["bearing_deg"] == pytest.approx(360, abs=2)
    assert hand.window.bench.picks.rows == (("photo_points", 3),)
    assert len(points(hand.file())) == 3
    hand.click(30, 80)
    hand.enter()
    assert np.isnan(points(hand.wait_for_edit())["bearing_deg"].iloc[-1])


def test_a_bearing_can_be_typed(hand):
    hand.take("Draw", "photo point")
    hand.click(60, 30)
    hand.type("10 at 90")
    hand.enter()
    assert points(hand.wait_for_edit())["bearing_deg"].iloc[-1] == pytest.approx(90, abs=0.1)


def test_dragging_moves_and_turns_and_a_click_picks(hand):
    hand.take("Draw", "photo point")
    hand.drag((20, 50), (40, 70), Qt.KeyboardModifier.ControlModifier)
    farm = hand.wait_for_edit()
    assert points(farm)["x"].iloc[0] == pytest.approx(EAST + 40, abs=1.5)
    assert points(farm)["bearing_deg"].iloc[0] == 60
    hand.drag((40, 70), (80, 70), SHIFT)
    farm = hand.wait_for_edit()
    assert points(farm)["bearing_deg"].iloc[0] == pytest.approx(90, abs=4)
    assert points(farm)["x"].iloc[0] == pytest.approx(EAST + 40, abs=1.5)
    hand.click(150, 50)
    assert hand.window.bench.picks.rows == (("photo_points", 2),)
    hand.window.files.undo()
    assert points(hand.wait_for_edit())["bearing_deg"].iloc[0] == 60


def test_fields_of_a_photo_point_are_changed_as_those_of_all_else(hand, dialog_of):
    hand.click(150, 50)
    hand.window.change_fields()
    box = dialog_of(hand.window, FieldsBox)
    assert list(box.fields) == ["name", "bearing_deg", "height_m", "note"]
    box.fields["bearing_deg"].line.setText("210")
    box.fields["height_m"].line.setText("1,5")
    box.change_button.click()
    farm = hand.wait_for_edit()
    assert points(farm)["bearing_deg"].tolist() == [60, 210]
    assert points(hand.file())["height_m"].iloc[1] == 1.5


def test_a_picked_photo_point_is_taken_away_and_its_photographs_stay(hand):
    hand.click(20, 50)
    assert hand.window.bench.picks.rows == (("photo_points", 1),)
    hand.key(Qt.Key.Key_Delete)
    assert "2 photographs stay, without a photo point" in hand.words
    hand.enter()
    farm = hand.wait_for_edit()
    assert points(farm)["name"].tolist() == ["Gate"]
    assert farm.tables["photos"]["photo_point"].tolist() == [0, 0]


def test_the_sample_farm_has_its_photographs(tmp_path):
    for path in sample_farm_files():
        shutil.copyfile(path, tmp_path / path.name)
    farm = read_farm(tmp_path / "pipit_downs.gpkg")
    assert all((tmp_path / name).is_file() for name in farm.tables["photos"]["path"])
