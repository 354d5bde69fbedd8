"""The window as a whole: the sample farm, dates, layers, menus, themes and what goes wrong."""

import datetime as dt

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QMessageBox

from farmmap.errors import BadInput
from farmmap.scene.scene import Chosen
from farmmap.window.explain_dialog import ExplainDialog, TextDialog
from farmmap.window.messages import ReportDialog, tell


def press(qtbot, widget):
    qtbot.mouseClick(widget, Qt.MouseButton.LeftButton, pos=widget.rect().center())


def test_starts_with_friendly_words_and_no_farm(window):
    assert window.stack.currentWidget() is window.welcome
    assert window.windowTitle().startswith("farmmap")
    assert not window.actions_by_name["print_map"].isEnabled()


def test_the_sample_farm_opens_by_its_button_as_the_users_own_copy(qtbot, window, settle):
    press(qtbot, window.welcome.sample)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    settle(window)
    assert window.farm_name.text() == "Pipit Downs"
    assert "sample_farm" not in str(window.session.path)
    blocks = window.panels.page("Blocks").view.model
    assert blocks.rowCount() >= 12
    assert len(window.key_view.ticks) > 10


def test_a_farm_opened_before_is_offered_again(qtbot, opened):
    opened.close_farm()
    assert [button.text() for button in opened.welcome.recent] == ["small pipit"]
    press(qtbot, opened.welcome.recent[0])
    qtbot.waitUntil(lambda: opened.session.farm is not None, timeout=30_000)


def test_date_line_takes_everything_back(qtbot, opened, settle):
    blocks = opened.panels.page("Blocks").view.model
    assert blocks.numbers_at(0)["basal_area_m2"] == pytest.approx(3.14159265 / 40000 * (22.5**2 + 18**2))
    press(qtbot, opened.date_line.earlier)
    settle(opened)
    assert opened.session.on == dt.date(2012, 5, 1)
    assert blocks.numbers_at(0)["basal_area_m2"] == pytest.approx(3.14159265 / 40000 * (12**2 + 10**2))
    assert blocks.numbers_at(0)["stems"] == 3
    assert opened.contents.now.on == dt.date(2012, 5, 1)
    assert "2012-05-01" in opened.panels.page("Blocks").view.notes.text()


def test_date_slider_by_mouse_and_keyboard(qtbot, opened, settle):
    slider = opened.date_line.slider
    mark = slider.x_of(dt.date(2012, 5, 1))
    qtbot.mouseClick(slider, Qt.MouseButton.LeftButton, pos=slider.rect().center().__class__(round(mark), 15))
    assert opened.session.on == dt.date(2012, 5, 1)
    slider.setFocus()
    qtbot.keyClick(slider, Qt.Key.Key_Right)
    assert opened.session.on == dt.date(2012, 6, 1)
    qtbot.keyClick(slider, Qt.Key.Key_PageUp)
    assert opened.session.on == dt.date(2020, 5, 1)
    qtbot.keyClick(slider, Qt.Key.Key_PageDown)
    assert opened.session.on == dt.date(2012, 5, 1)
    assert opened.date_line.field.date().year() == 2012
    settle(opened)


def test_unticking_a_layer_takes_it_off_the_map(qtbot, opened, settle):
    tick = opened.key_view.ticks["blocks"]
    tick.setFocus()
    qtbot.keyClick(tick, Qt.Key.Key_Space)
    settle(opened)
    assert opened.session.hidden == {"blocks"}
    assert "blocks" not in {layer.name for layer in opened.contents.now.scene.layers}
    middle = opened.session.farm.blocks.geometry.loc[2].centroid
    place = opened.map_view.place_of(middle.x, middle.y).toPoint()
    qtbot.mouseClick(opened.map_view, Qt.MouseButton.LeftButton, pos=place)
    assert opened.session.chosen is None
    qtbot.keyClick(opened.key_view.ticks["blocks"], Qt.Key.Key_Space)
    settle(opened)
    assert "blocks" in {layer.name for layer in opened.contents.now.scene.layers}


def test_one_species_is_hidden_by_itself(qtbot, opened, settle):
    tick = opened.key_view.ticks["species:TOTA"]
    assert "tōtara" in tick.text()
    qtbot.mouseClick(tick, Qt.MouseButton.LeftButton, pos=tick.rect().center().__class__(24, tick.height() // 2))
    settle(opened)
    trees = next(layer for layer in opened.contents.now.scene.layers if layer.name == "trees")
    assert {symbol.code for symbol, shown in zip(trees.symbols, trees.shown, strict=True) if not shown} == {"TOTA"}
    hidden = opened.session.farm.trees.loc[1]
    place = opened.map_view.place_of(hidden["x"], hidden["y"]).toPoint()
    qtbot.mouseClick(opened.map_view, Qt.MouseButton.LeftButton, pos=place)
    assert opened.session.chosen != Chosen("tree", 1)


def test_find_box_goes_to_a_block_and_to_a_tag(qtbot, opened, settle):
    qtbot.keyClick(opened, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    box = opened.find_box
    qtbot.keyClicks(box, "far s")
    qtbot.keyClick(box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: opened.session.chosen == Chosen("block", 2))
    settle(opened)
    whole = opened.map_view.view.metres_per_mm
    block = opened.session.farm.blocks.geometry.loc[2]
    assert opened.map_view.ground_at(opened.map_view.rect().center()) == pytest.approx(block.centroid.coords[0], abs=60)
    box.clear()
    qtbot.keyClicks(box, "5")
    qtbot.keyClick(box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: opened.session.chosen == Chosen("tree", 5))
    settle(opened)
    assert opened.map_view.view.metres_per_mm < whole
    tree = opened.session.farm.trees.loc[5]
    assert opened.map_view.rect().contains(opened.map_view.place_of(tree["x"], tree["y"]).toPoint())


def test_find_box_offers_what_fits_while_typing(qtbot, opened):
    box = opened.find_box
    box.setFocus()
    qtbot.keyClicks(box, "terr")
    popup = box.completer().popup()
    qtbot.waitUntil(popup.isVisible)
    qtbot.keyClick(popup, Qt.Key.Key_Down)
    qtbot.keyClick(popup, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: opened.session.chosen == Chosen("block", 1))


def test_find_box_says_when_there_is_nothing(qtbot, opened):
    box = opened.find_box
    qtbot.keyClicks(box, "no such place")
    qtbot.keyClick(box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "Nothing on this farm" in box.toolTip())
    assert opened.session.chosen is None


def test_pointer_tells_coordinates_and_block(qtbot, opened):
    middle = opened.session.farm.blocks.geometry.loc[1].centroid
    qtbot.mouseMove(opened.map_view, opened.map_view.place_of(middle.x, middle.y).toPoint())
    qtbot.waitUntil(lambda: opened.status_line.block.text() == "North Terrace")
    assert opened.status_line.place.text().startswith("E 1 812 0")
    assert "N 5 478 0" in opened.status_line.place.text()


def test_colours_change_by_menu_and_stay_chosen(opened, settle):
    opened.actions_by_name["set_colours:dark"].trigger()
    settle(opened)
    assert opened.contents.now.scene.theme.name == "dark"
    assert QApplication.palette().window().color().lightness() < 100
    assert opened.preferences.colours == "dark"
    opened.actions_by_name["set_colours:light"].trigger()
    settle(opened)
    assert QApplication.palette().window().color().lightness() > 200


def test_view_menu_moves_the_map(opened):
    scale = opened.map_view.view.metres_per_mm
    opened.actions_by_name["larger"].trigger()
    assert opened.map_view.view.metres_per_mm < scale
    opened.actions_by_name["smaller"].trigger()
    opened.actions_by_name["whole_farm"].trigger()
    assert opened.map_view.view.metres_per_mm == pytest.approx(scale)


def test_a_file_that_is_no_farm_is_told_and_the_farm_stays(qtbot, opened, tmp_path, dialog_of):
    other = tmp_path / "letter.gpkg"
    other.write_text("Dear neighbour")
    farm = opened.session.farm
    opened.open_farm(other)
    box = dialog_of(opened, QMessageBox)
    assert "no farm file" in box.text()
    assert opened.session.farm is farm
    qtbot.mouseClick(box.button(QMessageBox.StandardButton.Ok), Qt.MouseButton.LeftButton)


def test_opening_can_be_stopped(qtbot, opened, farm_path):
    farm = opened.session.farm
    opened.open_farm(farm_path)
    opened.jobs.stop("open")
    qtbot.waitUntil(lambda: not opened.jobs.is_busy("open"), timeout=30_000)
    assert opened.session.farm is farm


def test_an_error_of_our_own_gives_a_report_that_can_be_copied(qtbot, window, dialog_of):
    try:
        1 / 0  # noqa: B018 - raised on purpose
    except ZeroDivisionError as error:
        tell(window, error)
    dialog = dialog_of(window, ReportDialog)
    qtbot.mouseClick(dialog.copy_button, Qt.MouseButton.LeftButton)
    assert "ZeroDivisionError" in QApplication.clipboard().text()
    dialog.reject()


def test_a_known_error_is_shown_in_its_own_words(window, dialog_of):
    tell(window, BadInput("the grid is unknown"))
    box = dialog_of(window, QMessageBox)
    assert box.text() == "the grid is unknown"
    box.reject()


def test_help_shows_figures_and_keys(qtbot, window, dialog_of):
    window.actions_by_name["explain_figures"].trigger()
    dialog = dialog_of(window, ExplainDialog)
    qtbot.keyClicks(dialog.looked_for, "quadratic")
    assert "Dq = √(Σd²" in dialog.text.toPlainText()
    dialog.reject()
    window.actions_by_name["show_keys"].trigger()
    keys = dialog_of(window, TextDialog)
    assert "Home" in keys.text.toPlainText()
    widest = max(map(keys.text.fontMetrics().horizontalAdvance, keys.text.toPlainText().splitlines()))
    assert keys.text.viewport().width() > widest, "no line is cut or wrapped"
    keys.reject()
    window.actions_by_name["show_about"].trigger()
    about = dialog_of(window, QMessageBox)
    assert "not a survey" in about.informativeText()
    about.reject()


def test_closing_the_farm_empties_the_window(opened):
    opened.actions_by_name["close_farm"].trigger()
    assert opened.stack.currentWidget() is opened.welcome
    assert opened.map_view.view is None
    assert not opened.key_view.isVisible()


def test_the_strip_keeps_its_height_whatever_it_says(opened, settle):
    strip, high = opened.note_strip, opened.map_view.height()
    words = "Every corner was looked at and found to be where it was " * 12
    strip.note(words)
    settle(opened)
    assert opened.map_view.height() == high
    assert strip.label.toolTip() == words
    assert strip.label.text().endswith(" …")
    assert strip.label.heightForWidth(strip.label.width()) <= strip.label.height()
    strip.note("Done.")
    assert strip.label.text() == "Done."


def test_tab_goes_from_the_map_to_its_tools(qtbot, opened):
    qtbot.waitUntil(lambda: "Measure" in opened.tool_row.buttons)
    opened.map_view.setFocus()
    qtbot.keyClick(opened.map_view, Qt.Key.Key_Tab)
    assert opened.focusWidget() is opened.tool_row.buttons["Pick"]
    qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_Tab)
    assert opened.focusWidget() is opened.tool_row.buttons["Draw"]


def test_the_caution_in_the_status_line_is_shortened_not_cut(opened):
    line = opened.status_line
    line.point_at((1_812_000.0, 5_478_000.0))
    for wide in (900, 420):
        line.resize(wide, line.height())
        line.layout().activate()
        words = line.caution.text()
        assert line.caution.fontMetrics().horizontalAdvance(words) <= line.caution.width()
        assert words.startswith("Power line")


def test_window_can_be_used_by_keyboard_alone(qtbot, opened):
    seen = set()
    opened.find_box.setFocus()
    for _ in range(60):
        seen.add(type(opened.focusWidget()).__name__)
        qtbot.keyClick(opened.focusWidget(), Qt.Key.Key_Tab)
    assert {"FindBox", "MapView", "DateSlider", "Table", "QCheckBox", "PanelTab"} <= seen
