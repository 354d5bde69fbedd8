"""Counts typed in plot by plot: species, diameter, Enter; the next tree."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QDate, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QDateEdit,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QMenu,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from farmmap.editing.proposed import Proposed
from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.figures.sampling.counts import plot_counts, size_words
from farmmap.figures.sampling.sampled import block_of_each_plot
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.sentences import sentence
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.sampling.counting import (
    counts_from_file,
    counts_from_map,
    counts_taken_away,
    plots_measured,
    plots_taken_away,
    tree_counted,
)

HEADS = ("Species", "Diam.\ncm", "Height\nm", "Trees", "Counts\nas")
WEIGHTS = (("1", 1.0), ("2, edge", 2.0), ("½, on the line", 0.5))


class CountedTrees(QTableWidget):
    """The trees that were counted in a plot; Delete takes one away."""

    taken_away = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, len(HEADS), parent)
        self.setHorizontalHeaderLabels(HEADS)
        self.setAccessibleName("Trees counted in the plot")
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QTableWidget.SelectionBehavior.SelectRows)
        self.setTabKeyNavigation(False)
        self.setAlternatingRowColors(True)
        self.verticalHeader().setVisible(False)
        self.verticalHeader().setDefaultSectionSize(round(self.fontMetrics().height() * 1.65))
        heading = self.horizontalHeader()
        heading.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        heading.setStyleSheet("QHeaderView::section { padding: 4px 2px; }")  # all fit into the narrowest column
        heading.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.setMinimumHeight(self.fontMetrics().height() * 8)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the chosen tree away by Delete."""
        item = self.item(self.currentRow(), 0)
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and item is not None:
            self.taken_away.emit(int(item.data(Qt.ItemDataRole.UserRole)))
        else:
            super().keyPressEvent(event)


class CountPage(QWidget):
    """One plot at a time, its trees in the order in which they are typed."""

    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._block, self._may_edit = -1, True
        self.plot = QComboBox()
        self.plot.setAccessibleName("Plot")
        self.plot.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.plot.setMinimumContentsLength(12)
        self.next_plot = QPushButton("Next plot")
        self.day = QDateEdit(QDate.currentDate())
        self.day.setDisplayFormat("d MMM yyyy")
        self.day.setCalendarPopup(True)
        self.day.setMaximumDate(QDate.currentDate())
        self.day.setAccessibleName("Day of the measurement")
        self.species = QComboBox()
        self.species.setEditable(True)
        self.species.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.species.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.species.setMinimumContentsLength(8)
        self.species.setAccessibleName("Species")
        self.dbh = _line("Diameter in cm")
        self.height_ = _line("Height in m, if measured")
        self.trees = _line("How many such trees")
        self.trees.setText("1")
        self.weight = QComboBox()
        self.weight.setAccessibleName("How often it counts")
        self.weight.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.weight.setMinimumContentsLength(6)
        for words, value in WEIGHTS:
            self.weight.addItem(words, value)
        self.add = QPushButton("Count it")
        self.table = CountedTrees()
        self.about = WrappedLabel()
        self.about.setProperty("quiet", True)
        self.none_there = QPushButton("No tree stands in it")
        self.more = QPushButton("Counts from…")
        menu = QMenu(self.more)
        self.from_file = menu.addAction("A CSV file…")
        self.from_map = menu.addAction("The trees on the map")
        self.more.setMenu(menu)
        self.take_away = QPushButton("Take plot away")
        self.answer = AnswerLabel()
        self._lay_out()
        self.plot.currentIndexChanged.connect(self._turn)
        self.next_plot.clicked.connect(self.go_on)
        self.add.clicked.connect(self.count)
        for line in (self.dbh, self.height_, self.trees):
            line.returnPressed.connect(self.count)
        self.table.taken_away.connect(self._take_tree_away)
        self.none_there.clicked.connect(self._nothing_there)
        self.take_away.clicked.connect(self._take_away)
        self.from_file.triggered.connect(self._ask_file)
        self.from_map.triggered.connect(self._count_map)

    def _lay_out(self) -> None:
        leave_wheel(self.plot, self.day, self.species, self.weight)
        top = QHBoxLayout()
        top.addWidget(self.plot, 1)
        top.addWidget(self.next_plot)
        entry = QGridLayout()
        fields = (
            ("Species", self.species, 0, 0, 2),
            ("Diam. cm", self.dbh, 0, 2, 1),
            ("Height m", self.height_, 2, 0, 1),
            ("Trees", self.trees, 2, 1, 1),
            ("Counts as", self.weight, 2, 2, 1),
            ("Measured on", self.day, 4, 0, 2),
        )
        for words, field, row, column, wide in fields:
            label = QLabel(words)
            label.setBuddy(field)
            entry.addWidget(label, row, column, 1, wide)
            entry.addWidget(field, row + 1, column, 1, wide)
        entry.addWidget(self.add, 5, 2)
        for column in range(3):
            entry.setColumnStretch(column, 1)
        below = QGridLayout()
        below.addWidget(self.none_there, 0, 0)
        below.addWidget(self.take_away, 0, 1)
        below.addWidget(self.more, 1, 0)
        below.setColumnStretch(2, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 4, 0, 0)
        outer.addLayout(top)
        outer.addWidget(self.about)
        outer.addLayout(entry)
        outer.addWidget(self.answer)
        outer.addWidget(self.table, 1)
        outer.addLayout(below)

    def show_block(self, farm: Farm, block: int) -> None:
        """Show the plots of a block, staying on the one that is being counted."""
        other = self._farm is None or self._farm.species is not farm.species
        self._farm = farm
        was = self.plot.currentData() if block == self._block else None
        if block != self._block:
            self.answer.say("")
        self._block = block
        self.plot.blockSignals(True)
        self.plot.clear()
        counts, of = plot_counts(farm), block_of_each_plot(farm)
        for one, name, where, counted in zip(
            counts.ids.tolist(), counts.names, of.tolist(), counts.counted.tolist(), strict=True
        ):
            if where == block:
                self.plot.addItem(f"Plot {name}" + ("" if counted else " (to measure)"), one)
        self.plot.setCurrentIndex(max(self.plot.findData(was), 0) if self.plot.count() else -1)
        self.plot.blockSignals(False)
        if other:
            self._list_species(farm)
        self._show_plot()

    def let_edit(self, may: bool) -> None:
        """Offer what is typed and what is taken away, or do not."""
        self._may_edit = may
        entry = (self.species, self.dbh, self.height_, self.trees, self.weight, self.day)
        for part in (*entry, self.add, self.none_there, self.more, self.take_away):
            part.setEnabled(may and self.plot.currentData() is not None)

    def count(self) -> None:
        """Put the tree that was typed into the plot, and be ready for the next."""
        plot = self.plot.currentData()
        if plot is None:
            return
        values = {
            "species": self._species_typed(),
            "dbh_cm": self.dbh.text(),
            "height_m": self.height_.text(),
            "trees": self.trees.text(),
            "counts": self.weight.currentData(),
        }
        on = self._on()
        if self._want(lambda farm: tree_counted(farm, int(plot), values, on)):
            self.dbh.clear()
            self.height_.clear()
            self.trees.setText("1")
            self.weight.setCurrentIndex(0)
        self.dbh.setFocus()

    def go_on(self) -> None:
        """Go to the next plot."""
        if self.plot.count():
            self.plot.setCurrentIndex((self.plot.currentIndex() + 1) % self.plot.count())
        self.dbh.setFocus()

    def bring_in(self, path: Path) -> None:
        """Take the counts of a file in."""
        on, block = self._on(), self._block
        self._want(lambda farm: counts_from_file(farm, path, on, block))

    def _take_tree_away(self, row: int) -> None:
        if self._may_edit:
            self._want(lambda farm: counts_taken_away(farm, [row]))

    def _nothing_there(self) -> None:
        plot, on = self.plot.currentData(), self._on()
        if plot is not None and self._want(lambda farm: plots_measured(farm, [int(plot)], on)):
            self.go_on()

    def _take_away(self) -> None:
        plot = self.plot.currentData()
        if plot is not None:
            self._want(lambda farm: plots_taken_away(farm, [int(plot)]))

    def _count_map(self) -> None:
        plots, on = [int(self.plot.itemData(place)) for place in range(self.plot.count())], self._on()
        if plots:
            self._want(lambda farm: counts_from_map(farm, plots, on))

    def _on(self) -> dt.date:
        day = self.day.date()
        return dt.date(day.year(), day.month(), day.day())

    def _species_typed(self) -> str:
        text = self.species.currentText().strip()
        place = self.species.findText(text, Qt.MatchFlag.MatchFixedString)
        return str(self.species.itemData(place)) if place >= 0 else text

    def _list_species(self, farm: Farm) -> None:
        text = self.species.currentText()
        self.species.clear()
        for code, name in zip(farm.species["code"], farm.species["name"], strict=True):
            self.species.addItem(str(name or code), str(code))
        self.species.setEditText(text or (self.species.itemText(0) if self.species.count() else ""))

    def _want(self, make: Callable[[Farm], Proposed]) -> bool:
        """Ask for an edit of the farm as it will be once what was asked for before is done."""
        if self._farm is None:
            return False
        try:
            proposed = make(self._farm)
            self._farm = proposed.edit.apply(self._farm)
        except (FarmmapError, OSError) as error:
            self.answer.say(str(error), warning=True)
            return False
        self.answer.say(" ".join(map(sentence, proposed.notes)))
        self.show_block(self._farm, self._block)
        self.edit_wanted.emit(proposed.edit)
        return True

    def _turn(self) -> None:
        """Turn to another plot, of which nothing was said yet."""
        self.answer.say("")
        self._show_plot()

    def _show_plot(self) -> None:
        farm, plot = self._farm, self.plot.currentData()
        has = farm is not None and plot is not None
        self.next_plot.setEnabled(has)
        self.let_edit(self._may_edit)
        self.table.setRowCount(0)
        if not has or farm is None:
            self.about.setText("No plots are laid out in this block yet.")
            return
        counts = plot_counts(farm)
        place = int((counts.ids == plot).argmax())
        day = farm.plots["measured_on"].loc[plot]
        measured = "not measured yet" if day != day else f"measured {day:%Y-%m-%d}"  # noqa: PLR0124 - no day is not itself
        self.about.setText(f"{size_words(counts.shapes[place])}; {measured}")
        names = dict(zip(farm.species["code"], farm.species["name"], strict=True))
        rows = farm.plot_trees[(farm.plot_trees["plot"] == plot).to_numpy(bool)]
        self.table.setRowCount(len(rows))
        for line, (one, row) in enumerate(zip(rows.index.tolist(), rows.to_dict("records"), strict=True)):
            species = str(names.get(row["species"]) or row["species"] or "–")
            cells = (species, _shown(row["dbh_cm"]), _shown(row["height_m"]), str(row["trees"]), f"{row['counts']:g}")
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                if column:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                else:
                    item.setData(Qt.ItemDataRole.UserRole, one)
                    item.setToolTip(text)
                self.table.setItem(line, column, item)
        if len(rows):
            self.table.scrollToBottom()

    def _ask_file(self) -> None:
        dialog = QFileDialog(self, "Bring in counts", "", "Table (*.csv *.txt)")
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(lambda chosen: self.bring_in(Path(chosen)))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()


def _line(name: str) -> QLineEdit:
    made = QLineEdit()
    made.setAccessibleName(name)
    made.setMinimumWidth(made.fontMetrics().averageCharWidth() * 7)
    return made


def _shown(value: float) -> str:
    return "–" if value != value else f"{value:g}"  # noqa: PLR0124 - what is not known is not itself
