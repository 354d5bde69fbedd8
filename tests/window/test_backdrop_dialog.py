"""Backdrops in the window: the dialog, the map, the key and the Ground panel."""

import shutil

import numpy as np
import pytest
from PySide6.QtCore import Qt

from farmmap.files.farm_file import read_farm, write_farm
from farmmap.window.backdrop_dialog import BackdropDialog
from tests.files.raster_files import north_up, raster_file
from tests.place import EAST, NORTH
from tests.scene.backdrop_farm import backdrop_farm
from tests.window.conftest import WAIT_MS


@pytest.fixture
def hilly(qtbot, window, tmp_path, settle):
    """A window on a small farm with a picture and heights under it."""
    write_farm(backdrop_farm(tmp_path), tmp_path / "hilly.gpkg")
    window.open_farm(tmp_path / "hilly.gpkg")
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: bool(window.contents.now and window.contents.now.backdrops.all), timeout=WAIT_MS)
    settle(window)
    return window


@pytest.fixture
def dialog(hilly, dialog_of):
    hilly.show_backdrops()
    return dialog_of(hilly, BackdropDialog)


def shade(window):
    """Colour of the map where nothing but backdrops lies, north of the farm."""
    return window.map_view.grab().toImage().pixelColor(window.map_view.place_of(EAST + 100, NORTH + 140).toPoint())


def backdrops(window):
    return window.session.farm.tables["backdrops"]


def test_picture_relief_and_key_stand_in_the_window(hilly, qtbot, settle):
    assert {"backdrops", "relief", "contours"} <= set(hilly.key_view.ticks)
    with_picture = shade(hilly)
    hilly.session.show_layer("backdrops", False)
    settle(hilly)
    without = shade(hilly)
    assert with_picture != without
    assert with_picture.green() > with_picture.red()
    hilly.session.show_layer("relief", False)
    settle(hilly)
    assert shade(hilly) != without


def test_ticks_are_edits_that_can_be_undone(hilly, dialog, qtbot, settle):
    before = shade(hilly)
    assert [dialog.list.item(n).text() for n in range(2)] == ["Hills", "From above"]
    dialog.list.setCurrentRow(1)
    dialog.list.setFocus()
    qtbot.keyClick(dialog.list, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: backdrops(hilly)["shown"].tolist() == ["yes", "no"], timeout=WAIT_MS)
    settle(hilly)
    assert shade(hilly) != before
    assert read_farm(hilly.session.path).tables["backdrops"]["shown"].tolist() == ["yes", "no"]
    assert hilly.files.undo_name == "Hide backdrop From above"
    hilly.files.undo()
    qtbot.waitUntil(lambda: backdrops(hilly)["shown"].tolist() == ["yes", "yes"], timeout=WAIT_MS)
    qtbot.waitUntil(lambda: dialog.list.item(1).checkState() == Qt.CheckState.Checked, timeout=WAIT_MS)


def test_strength_name_and_contours_are_written_once_they_rest(hilly, dialog, qtbot, settle):
    dialog.list.setCurrentRow(0)
    assert dialog.kind.currentText() == "Heights of the ground"
    assert "in metres" in dialog.taken.text()
    assert dialog.contour.text() == "to suit the ground"
    dialog.strength.stepBy(-3)
    dialog.contour.setValue(2.0)
    qtbot.waitUntil(lambda: backdrops(hilly).loc[1, "contour_m"] == 2.0, timeout=WAIT_MS)
    assert backdrops(hilly).loc[1, "opacity_percent"] == 70.0
    settle(hilly)
    assert any(entry.words == "contour every 2 m" for entry in hilly.contents.now.scene.key)
    dialog.name.setText("Back hills")
    dialog.name.editingFinished.emit()
    qtbot.waitUntil(lambda: backdrops(hilly).loc[1, "name"] == "Back hills", timeout=WAIT_MS)
    dialog.strength.setValue(40)
    dialog.accept()
    qtbot.waitUntil(lambda: backdrops(hilly).loc[1, "opacity_percent"] == 40.0, timeout=WAIT_MS)


def test_what_a_file_holds_can_be_put_right(hilly, dialog, qtbot, settle):
    dialog.list.setCurrentRow(1)
    dialog.kind.setCurrentIndex(1)
    dialog.kind.activated.emit(1)
    qtbot.waitUntil(lambda: backdrops(hilly).loc[2, "kind"] == "elevation", timeout=WAIT_MS)
    qtbot.waitUntil(lambda: "call it a picture" in dialog.trouble.text(), timeout=WAIT_MS)
    settle(hilly)


def test_adding_taking_out_and_what_cannot_be_added(hilly, dialog, qtbot, tmp_path, settle):
    path = raster_file(tmp_path / "new.tif", np.full((3, 50, 50), 200, np.uint8), north_up(EAST, NORTH + 100, 2.0))
    dialog.add(path)
    qtbot.waitUntil(lambda: len(backdrops(hilly)) == 3, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: dialog.list.currentItem().text() == "new", timeout=WAIT_MS)
    dialog.add(raster_file(tmp_path / "lost.jpg", np.full((3, 9, 9), 9, np.uint8), None, None))
    qtbot.waitUntil(lambda: "does not say where on the ground it lies" in dialog.said.text(), timeout=WAIT_MS)
    assert dialog.add_button.isEnabled()
    qtbot.mouseClick(dialog.remove_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(backdrops(hilly)) == 2, timeout=WAIT_MS)
    assert path.is_file()
    settle(hilly)


def test_the_first_picture_of_an_empty_farm_comes_into_sight(qtbot, window, tmp_path, dialog_of, settle):
    window.files.start_new("New Pipit", "EPSG:2193", tmp_path / "new.gpkg")
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    settle(window)
    first = window.map_view.view
    window.show_backdrops()
    dialog = dialog_of(window, BackdropDialog)
    dialog.add(raster_file(tmp_path / "up.tif", np.full((3, 50, 50), 60, np.uint8), north_up(EAST, NORTH + 100, 2.0)))
    qtbot.waitUntil(lambda: window.contents.now.bounds is not None, timeout=WAIT_MS)
    settle(window)

    def seen():
        west, south, east, north = window.map_view.view.ground_bounds()
        return west < EAST and south < NORTH and EAST + 100 < east < EAST + 400 and north > NORTH + 100

    assert seen()
    window.map_view.show_ground(first.ground_bounds())
    assert not seen()
    window.whole_farm()
    assert seen()
    window.session.show_layer("backdrops", False)
    settle(window)
    assert window.contents.now.bounds is None


def test_a_file_that_went_away_is_explained_in_the_dialog(qtbot, window, tmp_path, dialog_of, settle):
    write_farm(backdrop_farm(tmp_path), tmp_path / "hilly.gpkg")
    (tmp_path / "above.tif").unlink()
    window.open_farm(tmp_path / "hilly.gpkg")
    qtbot.waitUntil(lambda: bool(window.contents.now and window.contents.now.backdrops.all), timeout=WAIT_MS)
    settle(window)
    window.show_backdrops()
    dialog = dialog_of(window, BackdropDialog)
    dialog.list.setCurrentRow(1)
    assert "above.tif is not in" in dialog.trouble.text()
    assert any("cannot be shown" in entry.words for entry in window.contents.now.scene.key)


def test_a_farm_without_backdrops_is_told_what_could_lie_there(opened, dialog_of):
    opened.show_backdrops()
    dialog = dialog_of(opened, BackdropDialog)
    assert dialog.nothing.isVisible()
    assert not dialog.chosen.isVisible()
    assert not dialog.remove_button.isEnabled()


def test_the_ground_panel_shows_the_heights_of_the_farms_folder(hilly, qtbot, settle):
    page = hilly.panels.page("Ground")
    hilly.panels.setCurrentWidget(page)
    settle(hilly)
    assert page.view.model.rowCount() == 2
    assert "in metres" in page.view.notes.text()


def test_opening_another_farm_leaves_the_pictures_of_the_first(hilly, qtbot, tmp_path, farm, settle):
    other = tmp_path / "other"
    other.mkdir()
    write_farm(farm, other / "bare.gpkg")
    hilly.open_farm(other / "bare.gpkg")
    qtbot.waitUntil(lambda: hilly.session.path == other / "bare.gpkg", timeout=WAIT_MS)
    settle(hilly)
    assert hilly.contents.now.backdrops.all == ()
    shutil.copy(tmp_path / "hills.tif", other / "hills.tif")
    assert "relief" not in hilly.key_view.ticks


def test_a_picture_that_cannot_be_read_any_more_is_told_once_and_the_map_goes_on(hilly, tmp_path, qtbot, settle):
    (tmp_path / "above.tif").unlink()
    hilly.map_view.show_ground((EAST, NORTH, EAST + 6000, NORTH + 6000))
    qtbot.waitUntil(lambda: "above.tif is not in" in hilly.holding_band.words.text(), timeout=WAIT_MS)
    settle(hilly)
