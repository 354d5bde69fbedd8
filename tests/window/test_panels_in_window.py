"""Panels follow the map, sort, show their working, and are shut when they fail while the window goes on."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from farmmap.farm.edits import rows_changed
from farmmap.figures.blocks import block_figures
from farmmap.installed_parts import BrokenPart
from farmmap.panels.registry import Panel
from farmmap.scene.scene import Chosen
from farmmap.window.messages import ReportDialog
from farmmap.window.panel_page import ShutNotice


def names(view):
    return [view.model.data(view.model.index(row, 0)) for row in range(view.model.rowCount())]


def heading_place(table, column):
    heading = table.horizontalHeader()
    return heading.viewport(), heading.viewport().rect().topLeft().__class__(
        heading.sectionViewportPosition(column) + 12, heading.height() // 2
    )


def cell_place(table, row, column):
    return table.visualRect(table.model().index(row, column)).center()


def test_a_panel_is_worked_out_once_for_a_farm_that_is_opened(qtbot, window, farm_path, settle):
    asked, shown = [], []
    window.jobs.started.connect(lambda key, _words: asked.append(key))
    window.panels.page("Blocks").shown_figures.connect(lambda: shown.append(1))
    for many in (1, 2):
        window.open_farm(farm_path)
        qtbot.waitUntil(lambda: window.session.farm is not None)
        settle(window)
        assert (asked.count("panel Blocks"), len(shown)) == (many, many)
        window.close_farm()


@pytest.mark.parametrize("panel", ["Blocks", "Creek margins", "Ground"])
def test_columns_are_wide_enough_for_every_figure(sample, settle, panel):
    sample.panels.setCurrentWidget(sample.panels.page(panel))
    settle(sample)
    view = sample.panels.page(panel).view
    view.all_columns.setChecked(True)
    assert view.model.columnCount() > 8
    for column in range(view.model.columnCount()):
        assert view.table.columnWidth(column) >= view.table.sizeHintForColumn(column)


def test_a_click_on_a_heading_sorts(qtbot, opened):
    view = opened.panels.page("Blocks").view
    column = view.model.columns.index("basal_area_m2_per_ha")
    view.table.scrollTo(view.model.index(0, column))
    viewport, place = heading_place(view.table, column)
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=place)
    rising = names(view)
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=place)
    assert names(view) == rising[::-1]
    assert {"North Terrace", "Far Slope"} == set(rising)


def test_a_row_picked_is_chosen_on_the_map(qtbot, opened, settle):
    view = opened.panels.page("Blocks").view
    row = names(view).index("Far Slope")
    qtbot.mouseClick(view.table.viewport(), Qt.MouseButton.LeftButton, pos=cell_place(view.table, row, 0))
    assert opened.session.chosen == Chosen("block", 2)
    settle(opened)
    assert opened.session.chosen == Chosen("block", 2)
    assert view.table.currentIndex().row() == row


def test_enter_on_a_figure_shows_its_working(qtbot, opened):
    view = opened.panels.page("Blocks").view
    column = view.model.columns.index("qmd_cm")
    row = names(view).index("North Terrace")
    view.table.scrollTo(view.model.index(row, column))
    qtbot.mouseClick(view.table.viewport(), Qt.MouseButton.LeftButton, pos=cell_place(view.table, row, column))
    qtbot.keyClick(view.table, Qt.Key.Key_Return)
    words = view.working.text.toPlainText()
    assert view.working.text.isVisible()
    assert "Dq = √(" in words
    assert "= 20." in words
    assert "Source:" in words
    assert "not known" not in words


def test_a_heading_explains_its_figure(qtbot, opened):
    view = opened.panels.page("Blocks").view
    _viewport, place = heading_place(view.table, view.model.columns.index("stems_per_ha"))
    view.table.horizontalHeader().customContextMenuRequested.emit(place)
    menu = next(child for child in view.children() if type(child).__name__ == "QMenu")
    menu.actions()[0].trigger()
    menu.close()
    assert "Stems per hectare" in view.working.text.toPlainText()


def test_all_columns_and_all_conventions_on_demand(qtbot, opened):
    view = opened.panels.page("Blocks").view
    short = view.model.columnCount()
    view.all_columns.setFocus()
    qtbot.keyClick(view.all_columns, Qt.Key.Key_Space)
    assert view.model.columnCount() > short
    few = view.notes.text().count("\n")
    qtbot.keyClick(view.more_notes, Qt.Key.Key_Space)
    assert view.notes.text().count("\n") > few


def test_charts_follow_the_block_that_is_chosen(opened, settle):
    view = opened.panels.page("Blocks").view
    assert sum(bar.height for bar in view.diameters.bars) == 3
    opened.session.choose(Chosen("block", 1))
    settle(opened)
    assert [bar.words for bar in view.diameters.bars] == ["15 to 20 cm: 1 trees", "20 to 25 cm: 1 trees"]
    assert [share.name for share in view.species.shares] == ["tōtara"]


def test_class_width_is_chosen_in_the_panel(qtbot, opened, settle):
    page = opened.panels.page("Blocks")
    page.fields["class_cm"].setValue(10)
    settle(opened)
    assert {bar.end - bar.start for bar in page.view.diameters.bars} == {10.0}


def test_margins_panel_shows_both_banks(opened, settle):
    opened.session.choose(Chosen("margin", 1))
    settle(opened)
    view = opened.panels.page("Creek margins").view
    assert [view.model.numbers_at(row)["bank"] for row in range(2)] == ["left", "right"]
    assert view.table.currentIndex().row() == 1


def test_trees_panel_lists_looks_for_and_tells_of_one_tree(qtbot, opened, settle):
    opened.session.choose(Chosen("tree", 1))
    settle(opened)
    view = opened.panels.page("Trees").view
    assert view.trees.rowCount() == 5
    assert view.heading.text() == "Tree 1"
    assert [reading.value for reading in view.chart.readings] == [12.0, 22.5]
    record = {view.record_rows.figure_at(row)[0]: row for row in range(view.record_rows.rowCount())}
    assert view.record_rows.data(view.record_rows.index(record["dbh_cm"], 1)) == "22.5 cm"
    view.record.setCurrentIndex(view.record_rows.index(record["mean_annual_increment_cm"], 1))
    qtbot.keyClick(view.record, Qt.Key.Key_F1)
    assert "÷" in view.working.text.toPlainText()
    qtbot.keyClicks(view.looked_for, "redw")
    qtbot.waitUntil(lambda: view.trees.rowCount() == 2)
    view.charted.setCurrentIndex(1)
    assert [reading.value for reading in view.chart.readings] == [6.0, 11.0]


def test_no_head_of_the_list_of_trees_is_cut(opened, settle):
    opened.session.choose(Chosen("tree", 1))
    settle(opened)
    view = opened.panels.page("Trees").view
    for column in range(view.trees.columnCount()):
        words = view.trees.headerData(column, Qt.Orientation.Horizontal).split("\n")
        widest = max(map(view.list.horizontalHeader().fontMetrics().horizontalAdvance, words))
        assert view.list.columnWidth(column) >= widest + 12


def test_a_tree_that_died_is_said_not_to_stand(opened, settle):
    opened.session.choose(Chosen("tree", 3))
    settle(opened)
    view = opened.panels.page("Trees").view
    assert "did not stand on this day" in view.heading.text()
    assert view.record_rows.rowCount() == 0


def test_an_edit_is_written_and_followed(qtbot, opened, settle):
    farm = opened.session.farm
    after = farm.blocks.loc[[1]].copy()
    after["name"] = "Upper Terrace"
    opened.panels.page("Blocks").view.edit_wanted.emit(rows_changed(farm, "Rename North Terrace", "blocks", after))
    qtbot.waitUntil(lambda: opened.session.farm is not farm, timeout=30_000)
    settle(opened)
    assert "Upper Terrace" in names(opened.panels.page("Blocks").view)
    path = opened.session.path
    opened.open_farm(path)
    qtbot.waitUntil(lambda: opened.session.farm.blocks["name"].loc[1] == "Upper Terrace", timeout=30_000)


def failing(farm, options):
    if options.chosen is not None:
        raise ValueError("this panel always trips over what is chosen")
    return block_figures(farm, options.on)


@pytest.mark.parametrize(
    "panel",
    [
        Panel("Trips", frozenset(), failing, follows_choice=True),
        Panel("Trips", frozenset(), failing, view="nowhere.at_all:View"),
    ],
)
def test_a_failing_panel_is_shut_and_the_window_goes_on(qtbot, opened, settle, panel, dialog_of):
    opened.panels.show_panels((panel,), ())
    page = opened.panels.page("Trips")
    opened.panels.setCurrentWidget(page)
    opened.session.choose(Chosen("margin", 0))
    opened.panels.setCurrentWidget(page)
    qtbot.waitUntil(lambda: page.findChild(ShutNotice) is not None, timeout=30_000)
    notice = page.findChild(ShutNotice)
    qtbot.mouseClick(notice.show_button, Qt.MouseButton.LeftButton)
    report = next(child for child in notice.findChildren(ReportDialog))
    assert "trips over" in report.report.toPlainText() or "nowhere" in report.report.toPlainText()
    report.reject()
    opened.session.choose(Chosen("block", 1))
    settle(opened)
    assert opened.panels.page("Blocks").view.model.rowCount() == 2


def test_a_shut_panel_can_be_tried_again(qtbot, opened, settle):
    opened.panels.show_panels((Panel("Trips", frozenset(), failing, follows_choice=True),), ())
    page = opened.panels.page("Trips")
    opened.session.choose(Chosen("margin", 0))
    opened.panels.setCurrentWidget(page)
    qtbot.waitUntil(lambda: page.findChild(ShutNotice) is not None, timeout=30_000)
    opened.session.choose(None)
    qtbot.mouseClick(page.findChild(ShutNotice).again_button, Qt.MouseButton.LeftButton)
    settle(opened)
    assert page.view.model.rowCount() == 2


def test_a_panel_that_could_not_be_loaded_has_a_tab_that_says_so(opened):
    opened.panels.show_panels((), (BrokenPart("growth", "ImportError: no growth"),))
    page = opened.panels.widget(opened.panels.count() - 1)
    assert opened.panels.tabText(opened.panels.count() - 1) == "growth (shut)"
    assert "ran into trouble" in page.findChild(QLabel).text()
