"""Every panel fits into the narrowest column, and the wheel scrolls past its fields instead of changing them."""

import datetime as dt
import importlib

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLineEdit,
    QScrollArea,
    QSpinBox,
    QStyle,
    QVBoxLayout,
    QWidget,
)

from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.panels.registry import Options, find_panels
from farmmap.panels.table_view import HEADING_ROOM_PX, FigureTableView
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.theme import LIGHT, put_on, set_type

PANELS = find_panels()[0]
NARROWEST_CHARACTERS = 46
"""The column of panels is never narrower, see `FarmWindow`."""
FRAME_PX = 2


@pytest.fixture
def themed(qapp):
    """Put the window's own style on."""
    sheet, font = qapp.styleSheet(), qapp.font()
    set_type(qapp)
    put_on(qapp, LIGHT)
    yield qapp
    qapp.setStyleSheet(sheet)
    qapp.setFont(font)


def view_of(qtbot, panel):
    view_class = FigureTableView
    if panel.view is not None:
        module, _, name = panel.view.partition(":")
        view_class = getattr(importlib.import_module(module), name)
    view = view_class(panel)
    qtbot.addWidget(view)
    return view


def wheel_over(field):
    """Turn the wheel over a field; whether the field took it."""
    middle = QPointF(field.rect().center())
    event = QWheelEvent(
        middle,
        QPointF(field.mapToGlobal(middle)),
        QPoint(),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(field, event)
    return event.isAccepted()


def value_of(field):
    return field.currentIndex() if isinstance(field, QComboBox) else field.text()


@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: panel.name)
def test_a_panel_is_no_wider_than_the_narrowest_column(qtbot, themed, panel):
    view = view_of(qtbot, panel)
    bar = view.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
    column = view.fontMetrics().averageCharWidth() * NARROWEST_CHARACTERS
    assert view.minimumSizeHint().width() <= column - bar - FRAME_PX


@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: panel.name)
def test_the_wheel_changes_no_field_of_a_panel(qtbot, panel):
    view = view_of(qtbot, panel)
    fields = [*view.findChildren(QComboBox), *view.findChildren(QAbstractSpinBox)]
    for field in fields:
        if isinstance(field, QComboBox):
            field.addItems(["one", "another"])
            field.setCurrentIndex(0)
        before = value_of(field)
        wheel_over(field)
        assert value_of(field) == before, field.accessibleName()


def test_a_field_takes_the_wheel_once_it_has_the_keyboard(qtbot):
    holder, field, other = QWidget(), QSpinBox(), QLineEdit()
    column = QVBoxLayout(holder)
    column.addWidget(other)
    column.addWidget(field)
    field.setValue(50)
    leave_wheel(field)
    qtbot.addWidget(holder)
    holder.show()
    qtbot.waitExposed(holder)
    other.setFocus()
    assert not wheel_over(field)
    assert field.value() == 50
    field.setFocus()
    qtbot.waitUntil(field.hasFocus)
    assert wheel_over(field)
    assert field.value() == 49


def test_words_of_page_buttons_are_whole_in_a_narrow_row(qtbot, themed):
    row = PageRow(("Trees", "Calendar", "Species", "Targets"), PageStack(*(QWidget() for _ in range(4))))
    qtbot.addWidget(row)
    row.show()
    row.resize(row.minimumSizeHint())
    for button in row.buttons.buttons():
        assert button.width() >= button.fontMetrics().horizontalAdvance(button.text()) + 2 * 7


def test_a_short_page_is_not_made_long_by_another(qtbot):
    short, long = QWidget(), QWidget()
    for page, high in ((short, 40), (long, 900)):
        line = QLineEdit()
        line.setFixedHeight(high)
        column = QVBoxLayout(page)
        column.addWidget(line)
        column.addWidget(WrappedLabel("Words that wrap where there is little room. " * 3))
    pages, area, view = PageStack(short, long), QScrollArea(), QWidget()
    QVBoxLayout(view).addWidget(pages)
    area.setWidget(view)
    area.setWidgetResizable(True)
    qtbot.addWidget(area)
    area.resize(300, 300)
    area.show()
    bar = area.verticalScrollBar()
    qtbot.waitUntil(lambda: bar.maximum() == 0)
    pages.setCurrentWidget(long)
    qtbot.waitUntil(lambda: bar.maximum() >= 600)
    pages.setCurrentWidget(short)
    qtbot.waitUntil(lambda: bar.maximum() == 0)


@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: panel.name)
def test_notes_that_get_shorter_give_their_room_back(qtbot, themed, panel):
    view = view_of(qtbot, panel)
    if not isinstance(view, FigureTableView):
        return
    view.resize(320, 800)
    view.notes.setText("Words that wrap where there is little room. " * 8)
    view.show()
    qtbot.waitExposed(view)
    qtbot.waitUntil(lambda: view.notes.height() >= view.notes.heightForWidth(view.notes.width()))
    tall = view.notes.height()
    view.notes.setText("Words that wrap where there is little room. " * 2)
    qtbot.waitUntil(lambda: view.notes.height() < tall)
    qtbot.waitUntil(lambda: view.notes.height() == view.notes.heightForWidth(view.notes.width()))
    assert view.table.geometry().bottom() < view.working.geometry().top()


def test_headings_of_a_table_without_rows_are_whole(qtbot, themed, farm):
    panel = next(panel for panel in PANELS if panel.name == "Blocks")
    view = view_of(qtbot, panel)
    view.table.horizontalHeader().setDefaultSectionSize(40)
    empty = farm.with_tables(blocks=farm.blocks.iloc[:0])
    on = dt.date(2021, 1, 1)
    for shown in (empty, farm, empty):
        options = Options(on)
        view.show_figures(shown, options, panel.work_out(shown, options))
        for column in range(view.model.columnCount()):
            words = str(view.model.headerData(column, Qt.Orientation.Horizontal)).split("\n")
            needed = max(view.table.fontMetrics().horizontalAdvance(line) for line in words)
            assert view.table.columnWidth(column) >= needed + HEADING_ROOM_PX
