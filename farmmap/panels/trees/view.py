"""The Trees panel: the list, the record of one tree, and its measurements over the years."""

from __future__ import annotations

import datetime as dt
from typing import Any

from PySide6.QtCore import QItemSelectionModel, QModelIndex, Qt, QTimer
from PySide6.QtWidgets import QComboBox, QHeaderView, QLabel, QLineEdit, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable
from farmmap.figures.trees import tree_history
from farmmap.panels.line_chart import LineChart, Reading
from farmmap.panels.panel_view import PanelView
from farmmap.panels.registry import Options, Panel
from farmmap.panels.table_view import Table, heading_px
from farmmap.panels.trees.record import RecordModel
from farmmap.panels.trees.tree_list import COLUMNS, TreeList
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.working_view import WorkingView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.scene import Chosen

NARROW_CHARACTERS = 11
"""Width of a column of tags or diameters, in characters."""
CHARTED = ("dbh_cm", "height_m", "crown_m", "pruned_m")


class TreesView(PanelView):
    """All trees that stand on the day, and everything about the one that is chosen."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self._farm: Farm | None = None
        self._on: dt.date | None = None
        self._chosen: Chosen | None = None
        self._history: FigureTable | None = None
        self._following = False
        self._make_list()
        self._make_record()
        self.chart = LineChart("Measurements", "")
        self.charted = QComboBox()
        leave_wheel(self.charted)
        for name in CHARTED:
            self.charted.addItem(CATALOGUE[name].title, name)
        self.charted.setAccessibleName("What the chart shows")
        self.charted.currentIndexChanged.connect(self._show_chart)
        split = QSplitter(Qt.Orientation.Vertical)
        split.setChildrenCollapsible(False)
        split.addWidget(_column(self.looked_for, self.count, self.list))
        split.addWidget(_column(self.heading, self.record, self.working))
        self.below = QStackedWidget()
        self.below.addWidget(_column(self.charted, self.chart))
        self.below.addWidget(self.working.text)
        self.working.button.toggled.connect(lambda shown: self.below.setCurrentIndex(1 if shown else 0))
        split.addWidget(self.below)
        for place, weight in enumerate((3, 3, 3)):
            split.setStretchFactor(place, weight)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 8, 8, 8)
        outer.addWidget(split)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the list of the day, and the record of the tree that is chosen."""
        self._following = True
        if farm is not self._farm or options.on != self._on:
            self._farm, self._on = farm, options.on
            self.trees.show_trees(farm, options.on)
            self._count()
        self._chosen = options.chosen
        self._select()
        self._following = False
        self._show_record(table)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Stand on the tree that was chosen; its record follows when it is worked out."""
        self._chosen = chosen
        self._following = True
        self._select()
        self._following = False

    def _make_list(self) -> None:
        self.trees = TreeList(self)
        self.looked_for = QLineEdit()
        self.looked_for.setPlaceholderText("Tag, species or block")
        self.looked_for.setAccessibleName("List trees by tag, species or block")
        self.looked_for.setClearButtonEnabled(True)
        self.count = QLabel()
        self.count.setProperty("quiet", True)
        self.list = Table()
        self.list.setModel(self.trees)
        self.list.setAccessibleName("Trees")
        heading = self.list.horizontalHeader()
        for column, name in enumerate(COLUMNS):
            if name in {"species", "block"}:
                heading.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)
            else:
                narrow = self.fontMetrics().averageCharWidth() * NARROW_CHARACTERS
                heading.resizeSection(column, max(narrow, heading_px(self.list, column)))
        self.list.selectionModel().currentChanged.connect(self._moved)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(150)
        self._pause.timeout.connect(self._look)
        self.looked_for.textChanged.connect(lambda _text: self._pause.start())

    def _make_record(self) -> None:
        self.heading = WrappedLabel()
        self.heading.setProperty("heading", True)
        self.record_rows = RecordModel(self)
        self.record = Table()
        self.record.setSortingEnabled(False)
        self.record.setModel(self.record_rows)
        self.record.setAccessibleName("Record of the tree")
        self.record.horizontalHeader().setVisible(False)
        self.record.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.working = WorkingView()
        self.record.working_wanted.connect(self.working.open_working)
        self.record.doubleClicked.connect(lambda _index: self.working.open_working())
        self.record.selectionModel().currentChanged.connect(self._name_figure)

    def _look(self) -> None:
        self._following = True
        self.trees.look_for(self.looked_for.text())
        self._count()
        self._select()
        self._following = False

    def _count(self) -> None:
        rows = self.trees.rowCount()
        of = "" if rows == len(self.trees.ids) else f" of {len(self.trees.ids):,}"
        self.count.setText(f"{rows:,}{of} trees".replace(",", "\u202f"))

    def _select(self) -> None:
        row = None
        if self._chosen is not None and self._chosen.kind == "tree":
            row = self.trees.row_of(self._chosen.id)
        if row is None:
            self.list.clearSelection()
            self.list.setCurrentIndex(QModelIndex())
            return
        index = self.trees.index(row, 0)
        flags = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
        self.list.selectionModel().setCurrentIndex(index, flags)
        self.list.scrollTo(index)

    def _moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        if not self._following and current.isValid():
            self.picked.emit(Chosen("tree", self.trees.tree_at(current.row())))

    def _show_record(self, table: FigureTable) -> None:
        tree = self._chosen.id if self._chosen is not None and self._chosen.kind == "tree" else None
        self.record_rows.show_record(table)
        self.working.show_figure("", None, "")
        self._history = None
        if tree is None or self._farm is None:
            self.heading.setText("Choose a tree in the list or on the map.")
        else:
            self._history = tree_history(self._farm, tree)
            missing = "" if len(table.rows) else " did not stand on this day"
            self.heading.setText(f"{self._history.title}{missing}")
        self._show_chart()

    def _name_figure(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid():
            name, numbers = self.record_rows.figure_at(current.row())
            self.working.show_figure(name, numbers, str(numbers.get("tag") or ""))

    def _show_chart(self) -> None:
        name: str = self.charted.currentData()
        figure = CATALOGUE[name]
        readings = [] if self._history is None else readings_of(self._history, name)
        title = (
            figure.title
            if self._history is None
            else f"{figure.title}, {self._history.title.replace('Tree', 'tree', 1)}"
        )
        nothing = "Choose a tree." if self._history is None else "Nothing was measured."
        self.chart.show_upright(figure.unit)
        self.chart.show_readings(title, readings, self._on or dt.date.min, nothing)


def readings_of(history: FigureTable, name: str) -> list[Reading]:
    """Return a tree's readings of one figure; of several stems measured on a day, the thickest.

    Parameters
    ----------
    history : FigureTable
        As `farmmap.figures.trees.tree_history` gives it.
    name : str
        Column of it.
    """
    unit = CATALOGUE[name].unit
    largest: dict[str, float] = {}
    for row in history.rows:
        value: Any = row[name]
        day = row["measured_on"]
        if value is not None and day is not None:
            largest[str(day)] = max(float(value), largest.get(str(day), float("-inf")))
    return [
        Reading(dt.date.fromisoformat(day), value, f"{day}: {value:.{CATALOGUE[name].places or 1}f} {unit}")
        for day, value in largest.items()
    ]


def _column(*widgets: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 4)
    for widget in widgets:
        column.addWidget(widget)
    return holder
