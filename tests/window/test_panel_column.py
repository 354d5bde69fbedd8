"""Ten panels and more fit the column: every tab can be read, and is come to by mouse and by keys."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from farmmap.panels.registry import Panel
from farmmap.window.tab_rows import TabRows

MORE = ("Growth", "Room", "Thinning", "Pruning", "Products", "Plots", "Windbreaks", "Honey")


@pytest.fixture
def many(opened):
    panel = Panel("More", frozenset(), opened.panels.page("Blocks").panel.work_out)
    have = {opened.panels.tabText(place) for place in range(opened.panels.count())}
    opened.panels.show_panels(tuple(replace(panel, name=name) for name in MORE if name not in have), ())
    return opened


def readable(tabs):
    """Whether every tab lies inside the column, wide enough for its words, and over no other."""
    for tab in tabs.tabs:
        metrics = tab.fontMetrics()
        assert tab.width() >= metrics.horizontalAdvance(tab.text()) + 8, tab.text()
        assert tabs.rect().contains(tab.geometry()), tab.text()
    shapes = [tab.geometry() for tab in tabs.tabs]
    assert not any(one.intersects(other) for place, one in enumerate(shapes) for other in shapes[:place])


def test_all_tabs_can_be_read_at_any_width(qtbot, many):
    column, rows = many.panels, set()
    for share in (0.1, 0.35, 0.45, 0.9):
        many.splitter.setSizes([round(1000 * (1 - share)), round(1000 * share)])
        qtbot.waitUntil(lambda: column.tabs.height() == column.tabs.heightForWidth(column.tabs.width()))
        readable(column.tabs)
        rows.add(len(column.tabs.rows(column.tabs.width())))
        assert column.widget(column.currentIndex()).isVisible()
    assert len(rows) > 1


def test_rows_are_as_few_as_hold_all_and_filled_evenly(qtbot):
    tabs = TabRows()
    qtbot.addWidget(tabs)
    for name in ("One", "Two", "Three", "Four", "Five", "Six"):
        tabs.add(name)
    assert len(tabs.rows(2000)) == 1
    two = tabs.rows(round(tabs.sizeHint().width() * 0.7))
    assert [len(row) for row in two] == [3, 3]
    assert [len(row) for row in tabs.rows(1)] == [1] * 6
    assert [place for row in tabs.rows(150) for place in row] == list(range(6))


def test_larger_type_takes_more_rows(qtbot, many):
    column = many.panels
    before = len(column.tabs.rows(column.tabs.width()))
    font = column.font()
    font.setPointSizeF(font.pointSizeF() * 2)
    column.tabs.setFont(font)
    qtbot.waitUntil(lambda: column.tabs.height() == column.tabs.heightForWidth(column.tabs.width()))
    assert len(column.tabs.rows(column.tabs.width())) > before
    readable(column.tabs)


def test_a_click_on_a_tab_brings_its_panel(qtbot, many):
    for place, tab in enumerate(many.panels.tabs.tabs):
        qtbot.mouseClick(tab, Qt.MouseButton.LeftButton)
        assert many.panels.currentIndex() == place
        assert many.panels.currentWidget().isVisible()
        assert [other.isChecked() for other in many.panels.tabs.tabs].count(True) == 1


def test_arrow_keys_go_through_all_tabs(qtbot, many):
    tabs = many.panels.tabs
    many.panels.setCurrentIndex(0)
    tabs.tabs[0].setFocus()
    for place in range(1, many.panels.count()):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Right)
        assert many.panels.currentIndex() == place
        assert tabs.tabs[place].hasFocus()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Right)
    assert many.panels.currentIndex() == 0
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_End)
    assert many.panels.currentIndex() == many.panels.count() - 1
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Home)
    assert many.panels.currentIndex() == 0
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Down)
    assert tabs.tabs[many.panels.currentIndex()].y() > tabs.tabs[0].y()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Up)
    assert tabs.tabs[many.panels.currentIndex()].y() == tabs.tabs[0].y()


def test_tab_comes_to_the_panel_that_is_chosen_and_into_it(qtbot, many, settle):
    many.panels.setCurrentWidget(many.panels.page("Trees"))
    many.date_line.earlier.click()
    settle(many)
    many.date_line.later.setFocus()
    qtbot.keyClick(many.date_line.later, Qt.Key.Key_Tab)
    chosen = many.panels.tabs.tabs[many.panels.currentIndex()]
    assert QApplication.focusWidget() is chosen
    qtbot.keyClick(chosen, Qt.Key.Key_Tab)
    assert many.panels.page("Trees").isAncestorOf(QApplication.focusWidget())
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab, Qt.KeyboardModifier.ControlModifier)
    assert many.panels.currentWidget() is many.panels.page("Ground")
