"""What is due: a line a block, year and lift; beneath it its trees, and the form that writes their pruning down."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import cast

from PySide6.QtCore import QDate, QItemSelectionModel, QModelIndex, Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QDateEdit,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.figure_model import FigureModel
from farmmap.panels.pruning.due_trees import COLUMNS, TAG, DueTrees
from farmmap.panels.registry import Options
from farmmap.panels.sentences import sentence
from farmmap.panels.table_view import Table, heading_px
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.working_view import WorkingView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.scene import Chosen

LINE = ("name", "species", "due", "lift", "lift_to_m", "due_year")
MOST_LISTED = 2_000
"""Trees of one line that are listed; all of them are written down."""


class DuePage(QWidget):
    """A line that is picked lists its trees; those with a tick are written down as pruned in one edit."""

    picked = Signal(object)
    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._cautions: tuple[str, ...] = ()
        self._on: dt.date | None = None
        self._following = False
        self._may_edit = True
        self._line: tuple[object, ...] = ()
        self._ids: tuple[int, ...] = ()
        self._doubted = ""
        self._make_lines()
        self._make_trees()
        self._make_record()
        split = QSplitter(Qt.Orientation.Vertical)
        split.setChildrenCollapsible(False)
        split.addWidget(self.table)
        self.below = QStackedWidget()
        self.below.addWidget(_column(self.heading, self.list, self.advice, self.record, self.answer))
        self.below.addWidget(self.working.text)
        self.working.button.toggled.connect(lambda shown: self.below.setCurrentIndex(1 if shown else 0))
        split.addWidget(_column(self.working, self.below))
        split.setSizes([320, 480])
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.addWidget(split, 1)
        column.addWidget(self.cautions)
        column.addWidget(self.all_cautions)
        self.record.setEnabled(False)
        for quiet in (self.all, self.cautions, self.all_cautions):
            quiet.hide()

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show what is due on a day, staying on the line that was picked."""
        from farmmap.plans.pruning.cautions import cautions

        self._farm, self._on = farm, options.on
        self._following = True
        self.model.show_table(table)
        if table.rows:
            self._size_columns()
        self._cautions = cautions(farm, options.on)
        self._show_cautions()
        self._following = False
        row = self._row_of_line(self._line)
        if row is None:
            row = self._row_of(options.chosen)
        self._stand_on(row)

    def let_edit(self, may: bool) -> None:
        """Offer to write pruning down, or do not."""
        self._may_edit = may
        self._enable()

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Stand on a line of the block that was chosen, or on the tree."""
        if chosen is None:
            return
        if chosen.kind == "block":
            current = self.table.currentIndex()
            if not (current.isValid() and self.model.feature_at(current.row()) == chosen.id):
                row = self._row_of(chosen)
                if row is not None:
                    self._stand_on(row)
        elif chosen.kind == "tree":
            place = self.trees.row_of(chosen.id)
            if place is not None:
                self._following = True
                self.list.setCurrentIndex(self.trees.index(place, TAG))
                self._following = False

    # How it is put together

    def _make_lines(self) -> None:
        self.model = FigureModel(self)
        self.table = Table()
        self.table.setModel(self.model)
        self.table.setAccessibleName("Due by block and year")
        self._is_sized = False
        self.working = WorkingView()
        self.table.selectionModel().currentChanged.connect(self._line_moved)
        self.cautions = WrappedLabel()
        self.cautions.setProperty("warning", True)
        self.cautions.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.all_cautions = QCheckBox("All cautions, and seasons")
        self.all_cautions.toggled.connect(lambda _shown: self._show_cautions())

    def _make_trees(self) -> None:
        self.heading = WrappedLabel()
        self.heading.setProperty("heading", True)
        self.trees = DueTrees(self)
        self.list = Table()
        self.list.setSortingEnabled(False)
        self.list.setModel(self.trees)
        self.list.setAccessibleName("Trees of the line")
        self.advice = WrappedLabel()
        self.advice.setProperty("quiet", True)
        self.advice.hide()
        for table in (self.table, self.list):
            table.working_wanted.connect(self.working.open_working)
        self.list.selectionModel().currentChanged.connect(self._tree_moved)
        self.all = QCheckBox("All ticked")
        self.all.setChecked(True)
        self.all.clicked.connect(self.trees.tick_all)
        self.trees.changed.connect(self._count)

    def _make_record(self) -> None:
        self.height_field = QLineEdit()
        self.height_field.setAccessibleName("Pruned to, in m")
        self.height_field.setToolTip("Height to which the ticked trees were pruned")
        self.height_field.setMaximumWidth(self.fontMetrics().averageCharWidth() * 9)
        self.date = QDateEdit(QDate.currentDate())
        leave_wheel(self.date)
        self.date.setDisplayFormat("d MMM yyyy")
        self.date.setMaximumDate(QDate.currentDate())
        self.date.setAccessibleName("Day of pruning")
        self.record_button = QPushButton("Write down")
        self.record_button.clicked.connect(self._record)
        self.record = QWidget()
        rows = QGridLayout(self.record)
        rows.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        row.setSpacing(3)
        for widget in (QLabel("Pruned to"), self.height_field, QLabel("m on"), self.date):
            row.addWidget(widget)
        row.addStretch(1)
        rows.addWidget(self.all, 0, 0)
        rows.addWidget(self.record_button, 0, 1, Qt.AlignmentFlag.AlignRight)
        rows.addLayout(row, 1, 0, 1, 2)
        self.answer = AnswerLabel()
        for changed in (self.height_field.textEdited, self.date.dateChanged):
            changed.connect(lambda _value: self._say(""))

    def _size_columns(self) -> None:
        for column in range(self.model.columnCount()):
            needed = max(self.table.sizeHintForColumn(column), heading_px(self.table, column))
            if not self._is_sized or needed > self.table.columnWidth(column):
                self.table.setColumnWidth(column, needed)
        if self._is_sized:
            return
        for column, name in enumerate(COLUMNS):
            characters = {"tag": 13, "to_do": 40}.get(name, 8)
            self.list.setColumnWidth(column, self.table.fontMetrics().averageCharWidth() * characters)
        self._is_sized = True

    def _show_cautions(self) -> None:
        """Show the first caution, or all; that of a power line comes first."""
        words = self._cautions if self.all_cautions.isChecked() else self._cautions[:1]
        self.cautions.setText("\n".join(words))
        self.cautions.setVisible(bool(words))
        self.all_cautions.setVisible(len(self._cautions) > 1)

    # Lines

    def _row_of(self, chosen: Chosen | None) -> int | None:
        if chosen is not None and chosen.kind == "block":
            return self.model.row_of(chosen.id)
        return 0 if self.model.rowCount() and not self._line else None

    def _row_of_line(self, line: tuple[object, ...]) -> int | None:
        rows = range(self.model.rowCount())
        return next((row for row in rows if self._line_at(row) == line), None)

    def _line_at(self, row: int | None) -> tuple[object, ...]:
        """Return what a line is known by when the table is worked out anew; nothing for no line."""
        if row is None:
            return ()
        numbers = self.model.numbers_at(row)
        return self.model.feature_at(row), *(numbers[name] for name in LINE)

    def _stand_on(self, row: int | None) -> None:
        self._following = True
        if row is None:
            self.table.clearSelection()
            self.table.setCurrentIndex(QModelIndex())
        else:
            index = self.model.index(row, max(self.table.currentIndex().column(), 0))
            flags = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
            self.table.selectionModel().setCurrentIndex(index, flags)
            self.table.scrollTo(index)
        self._following = False
        self._show_line(row)

    def _line_moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        if self._following or not current.isValid():
            return
        self._show_line(current.row())
        block = self.model.feature_at(current.row())
        if self._farm is not None and block in self._farm.blocks.index:
            self.picked.emit(Chosen("block", block))

    def _show_line(self, row: int | None) -> None:
        numbers = {} if row is None else self.model.numbers_at(row)
        line = self._line_at(row)
        if line != self._line:
            self.trees.forget()
            self._say("")
            to_m = numbers.get("lift_to_m")
            self.height_field.setText("" if to_m is None else f"{to_m:g}")
        self._line = line
        self._ids = tuple(cast("Sequence[int]", numbers.get("tree_ids", ())))
        self._list_trees()
        if row is None:
            self.working.show_figure("", None, "")
            nothing = "Nothing is due and nothing comes due." if not self.model.rowCount() else "Choose a line."
            self.heading.setText(nothing)
        else:
            column = max(self.table.currentIndex().column(), 0)
            self.working.show_figure(self.model.columns[column], numbers, str(numbers["name"]))
        self._enable()
        self._count()

    def _enable(self) -> None:
        has_lift = bool(self._line) and self._line[1 + LINE.index("lift")] is not None
        self.record.setEnabled(self._may_edit and has_lift)

    def _list_trees(self) -> None:
        if self._farm is None or not self._ids:
            self.trees.show_trees(None)
            return
        import numpy as np

        from farmmap.plans.pruning.due import due

        wanted = np.array(self._ids[:MOST_LISTED], np.int64)
        self.trees.show_trees(due(self._farm, self._on, ids=wanted))

    def _tree_moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        numbers = dict(self.trees.numbers_at(current.row())) if current.isValid() else {}
        self.advice.setText(f"{numbers.get('tag') or 'This tree'}: {numbers['to_do']}." if numbers.get("to_do") else "")
        self.advice.setVisible(bool(numbers.get("to_do")))
        if not current.isValid():
            return
        self.working.show_figure(COLUMNS[current.column()], numbers, str(numbers.get("tag") or "tree without a tag"))
        if not self._following:
            self.picked.emit(Chosen("tree", self.trees.tree_at(current.row())))

    # Writing down

    def _ticked(self) -> list[int]:
        left_out = self.trees.left_out()
        return [tree for tree in self._ids if tree not in left_out]

    def _count(self) -> None:
        self._doubted = ""
        self.record_button.setText("Write down")
        ticked = len(self._ticked())
        self.all.setChecked(bool(self._ids) and ticked == len(self._ids))
        self.all.setVisible(bool(self._ids))
        self.record_button.setEnabled(ticked > 0)
        if not self._line:
            return
        numbers = dict(zip(LINE, self._line[1:], strict=True))
        lift = "form pruning" if numbers["lift"] is None else f"lift {numbers['lift']}"
        more = f"; the first {MOST_LISTED} are listed" if len(self._ids) > MOST_LISTED else ""
        of = f"{ticked} of {len(self._ids)}" if ticked < len(self._ids) else f"{ticked}"
        trees = "trees" if len(self._ids) > 1 else "tree"
        self.heading.setText(f"{numbers['name']}, {numbers['species']}, {lift}: {of} {trees} ticked{more}")

    def _record(self) -> None:
        from farmmap.editing.pruning import pruned_to

        if self._farm is None:
            return
        date = self.date.date()
        day = dt.date(date.year(), date.month(), date.day())
        try:
            found = pruned_to(self._farm, self._ticked(), self.height_field.text(), day, self.trees.read_cm())
        except BadInput as error:
            self._say(str(error), warning=True)
            return
        doubts = " ".join(map(sentence, found.notes))
        if doubts and doubts != self._doubted:
            self._say(doubts, warning=True)
            self._doubted = doubts
            self.record_button.setText("Write down all the same")
            return
        self._say(f"{found.edit.name}: done.")
        self.trees.forget()
        self.edit_wanted.emit(found.edit)

    def _say(self, words: str, *, warning: bool = False) -> None:
        self._doubted = ""
        self.record_button.setText("Write down")
        self.answer.say(words, warning=warning)


def _column(*widgets: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        column.addWidget(widget, 1 if isinstance(widget, Table | QStackedWidget) else 0)
    return holder
