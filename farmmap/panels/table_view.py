"""The ready-made view of a panel: its table, which sorts, and how each figure is worked out."""

from __future__ import annotations

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QHBoxLayout,
    QHeaderView,
    QMenu,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from farmmap.farm.farm import Farm
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable
from farmmap.panels.figure_model import FigureModel
from farmmap.panels.panel_view import PanelView
from farmmap.panels.registry import Options, Panel
from farmmap.panels.working_view import WorkingView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.scene import Chosen

FIRST_NOTES = 2
"""Conventions that always stand beside the table: the date, and how diameters were taken."""
HEADING_ROOM_PX = 22
"""Room beside a heading's words: its padding and the arrow that shows the order. [px]"""
LEAST_LINES = 9
"""Lines of text that a table is at least high."""
GRID_PX = 1
"""The line between two columns. [px]"""
MEASURED_ROWS = 60
"""Rows that are measured to find how wide a column must be."""
WIDENED_AFTER_MS = 200
"""How long figures stay before columns that they do not fit into are widened. [ms]"""
_NAMES = ("name", "creek", "tag")


def heading_px(table: QTableView, column: int) -> int:
    """Return how wide a column must be for its heading, which may have several lines [px]."""
    words = str(table.model().headerData(column, Qt.Orientation.Horizontal))
    return max(map(table.fontMetrics().horizontalAdvance, words.split("\n"))) + HEADING_ROOM_PX


class Table(QTableView):
    """A table in which Enter and F1 ask how a figure is worked out."""

    working_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setSortingEnabled(True)
        self.setShowGrid(True)
        self.setAlternatingRowColors(True)
        self.setWordWrap(False)
        self.verticalHeader().setVisible(False)
        self.setMinimumHeight(self.fontMetrics().height() * LEAST_LINES)
        self.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.65))
        heading = self.horizontalHeader()
        heading.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        heading.setHighlightSections(False)
        heading.setResizeContentsPrecision(MEASURED_ROWS)
        heading.setMinimumSectionSize(36)
        heading.setSortIndicatorClearable(True)
        heading.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        heading.setDefaultAlignment(Qt.AlignmentFlag.AlignRight)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Ask for the working by Enter or F1."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_F1):
            self.working_wanted.emit()
        else:
            super().keyPressEvent(event)


class FigureTableView(PanelView):
    """A panel's figures as a table that sorts, with notes and working beneath."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self.model = FigureModel(self)
        self.table = Table()
        self.table.setModel(self.model)
        self.table.setAccessibleName(panel.name)
        self.working = WorkingView()
        self.notes = WrappedLabel()
        self.notes.setProperty("quiet", True)
        self.notes.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.all_columns = QCheckBox("All columns")
        self.all_columns.setToolTip("Show every figure that is worked out, not only the main ones")
        self._sized = 0
        self._needed: list[int] = []
        self._widen_soon = QTimer(self)  # measuring takes too long for each step of a date that is slid along
        self._widen_soon.setSingleShot(True)
        self._widen_soon.setInterval(WIDENED_AFTER_MS)
        self._widen_soon.timeout.connect(self._widen)
        self._following = False
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(8, 8, 8, 8)
        self.column.addWidget(self.table, 3)
        self.column.addWidget(self.working)
        self.column.addWidget(self.working.text, 2)
        self.more_notes = QCheckBox("All conventions")
        self.more_notes.setToolTip("Show every convention that the figures follow, not only the first")
        choices = QHBoxLayout()
        choices.addWidget(self.all_columns)
        choices.addWidget(self.more_notes)
        choices.addStretch(1)
        self.choices = QWidget()
        self.choices.setLayout(choices)
        choices.setContentsMargins(0, 0, 0, 0)
        self.column.addWidget(self.choices)
        self.column.addWidget(self.notes)
        self._heading_menu()
        self.all_columns.toggled.connect(self._show_all)
        self.more_notes.toggled.connect(lambda _shown: self._show_notes())
        self.table.working_wanted.connect(self.working.open_working)
        self.table.doubleClicked.connect(lambda _index: self.working.open_working())
        self.table.selectionModel().currentChanged.connect(self._moved)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:  # noqa: ARG002 - others read it
        """Show a table, staying on the figure that was chosen."""
        current = self.table.currentIndex()
        column = max(current.column(), 0)
        self._following = True
        self.model.show_table(table)
        self._show_notes()
        self.all_columns.setVisible(bool(table.brief))
        self._size_columns()
        self._following = False
        self._select(options.chosen, column)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Stand on the row of what was chosen."""
        self._select(chosen, max(self.table.currentIndex().column(), 0))

    def _show_notes(self) -> None:
        notes = () if self.model.table is None else self.model.table.notes
        self.notes.setText("\n".join(notes if self.more_notes.isChecked() else notes[:FIRST_NOTES]))
        self.notes.setVisible(bool(notes))
        self.more_notes.setVisible(len(notes) > FIRST_NOTES)

    def _show_all(self, everything: bool) -> None:
        current = self.table.currentIndex()
        chosen = None
        if current.isValid() and self.panel.rows_are is not None:
            chosen = Chosen(self.panel.rows_are, self.model.feature_at(current.row()))
        self._following = True
        self.model.show_all(everything)
        self._following = False
        self._size_columns()
        self._select(chosen, 0)

    def _size_columns(self) -> None:
        if self._sized == self.model.columnCount():
            self._widen_soon.start()
            return
        self._needed = []
        for column in range(self.model.columnCount()):
            self._needed.append(max(self._width_of_figures(column), heading_px(self.table, column)))
            self.table.setColumnWidth(column, self._needed[column])
        self._sized = self.model.columnCount() if self.model.rowCount() else 0  # an empty one has headings only

    def _widen(self) -> None:
        """Make room for figures that have become longer; a column that was made narrow by hand stays so till then."""
        if len(self._needed) != self.model.columnCount():
            return
        for column, before in enumerate(self._needed):
            needed = self._width_of_figures(column)
            if needed > before:
                self._needed[column] = needed
                self.table.setColumnWidth(column, max(needed, self.table.columnWidth(column)))

    def _width_of_figures(self, column: int) -> int:
        """Return the width of the longest of the first figures of a column; only that one is asked of Qt. [px]."""
        metrics, model = self.table.fontMetrics(), self.model
        rows = range(min(model.rowCount(), MEASURED_ROWS))
        texts = [str(model.data(model.index(row, column))) for row in rows]
        longest = max(rows, key=lambda row: metrics.horizontalAdvance(texts[row]), default=None)
        if longest is None:
            return 0
        return self.table.sizeHintForIndex(model.index(longest, column)).width() + GRID_PX

    def _select(self, chosen: Chosen | None, column: int) -> None:
        row = None
        if chosen is not None and chosen.kind == self.panel.rows_are:
            row = self.model.row_of(chosen.id)
        self._following = True
        if row is None:
            self.table.clearSelection()
            self.table.setCurrentIndex(QModelIndex())
            self.working.show_figure("", None, "")
        else:
            index = self.model.index(row, min(column, self.model.columnCount() - 1))
            flags = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
            self.table.selectionModel().setCurrentIndex(index, flags)
            self.table.scrollTo(index)
            self._name_figure(index)
        self._following = False

    def _moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        if self._following or not current.isValid():
            return
        self._name_figure(current)
        if self.panel.rows_are is not None:
            self.picked.emit(Chosen(self.panel.rows_are, self.model.feature_at(current.row())))

    def _name_figure(self, index: QModelIndex) -> None:
        numbers = self.model.numbers_at(index.row())
        of = next((str(numbers[name]) for name in _NAMES if numbers.get(name)), "")
        if numbers.get("bank"):
            of = f"{of}, {numbers['bank']} bank"
        self.working.show_figure(self.model.columns[index.column()], numbers, of)

    def _heading_menu(self) -> None:
        heading = self.table.horizontalHeader()
        heading.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        heading.customContextMenuRequested.connect(self._ask_heading)

    def _ask_heading(self, place: QPoint) -> None:
        column = self.table.horizontalHeader().logicalIndexAt(place)
        if column < 0:
            return
        name = self.model.columns[column]
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        title = CATALOGUE[name].title if name in CATALOGUE else name
        menu.addAction(f"How is “{title}” worked out?", lambda: self._explain(name))
        menu.popup(self.table.horizontalHeader().mapToGlobal(place))

    def _explain(self, name: str) -> None:
        self.working.show_figure(name, None, "")
        self.working.open_working()
