"""The Growth panel: trees with the chosen one's forecast, the calendar of ready trees, species and targets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtWidgets import (
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from farmmap.farm.farm import Farm
from farmmap.figures.growth.outlook_trees import NO_ADVICE
from farmmap.figures.result import FigureTable
from farmmap.panels.growth.calendar_chart import MOST_BARS, CalendarChart, stacks_of
from farmmap.panels.growth.course_chart import CourseChart
from farmmap.panels.growth.curve_chart import CurveChart
from farmmap.panels.growth.figures import GrowthFigures
from farmmap.panels.growth.target_form import TargetForm
from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.panels.panel_view import PanelView
from farmmap.panels.registry import Options, Panel
from farmmap.panels.sentences import sentence
from farmmap.panels.table_view import FigureTableView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.scene import Chosen
from farmmap.scene.symbols import SpeciesSymbol, species_symbols

CHOOSE = "Choose a block or a tree on the map for its own."
PAGES = ("Trees", "Calendar", "Species", "Targets")


LEAST_LINES = 7
"""Lines of text that a table is at least high, its heading among them."""
CELL_ROOM_PX = 26
"""Room beside the words of a cell. [px]"""

READY_WORDS = "2041 (2036 to 2050)"
"""What the column of words when a tree is ready must have room for."""


class ShortTable(FigureTableView):
    """A table whose conventions are shown only when they are asked for, as what matters most stands above the pages."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self.column.setContentsMargins(0, 4, 0, 4)
        self.table.setMinimumHeight(self.fontMetrics().height() * LEAST_LINES)

    def _size_columns(self) -> None:
        super()._size_columns()
        if "ready" in self.model.columns:
            column = self.model.columns.index("ready")
            least = self.table.fontMetrics().horizontalAdvance(READY_WORDS) + CELL_ROOM_PX
            self.table.setColumnWidth(column, max(least, self.table.columnWidth(column)))

    def _show_notes(self) -> None:
        super()._show_notes()
        notes = () if self.model.table is None else self.model.table.notes
        self.more_notes.setVisible(bool(notes))
        self.notes.setVisible(self.more_notes.isChecked())


class GrowthView(PanelView):
    """Four pages about the block that is chosen, or the whole farm."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self._farm: Farm | None = None
        self._options: Options | None = None
        self.figures: GrowthFigures | None = None
        self._code = ""
        self._symbols: dict[str, SpeciesSymbol] = {}
        self.about = WrappedLabel()
        self.about.setProperty("heading", True)
        self.caution = WrappedLabel(NO_ADVICE)
        self.caution.setProperty("quiet", True)
        self.pages = PageStack(self._trees_page(), self._calendar_page(), self._species_page(), self._targets_page())
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 8, 8, 8)
        self.page_row = PageRow(PAGES, self.pages)
        outer.addWidget(self.page_row)
        outer.addWidget(self.about)
        outer.addWidget(self.caution)
        outer.addWidget(self.pages, 1)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show everything that was worked out."""
        before, self._farm, self._options = self._farm, farm, options
        if not isinstance(table, GrowthFigures):
            return
        self.figures = table
        if before is None or before.species is not farm.species or before.trees is not farm.trees:
            self._symbols = species_symbols(farm)
        self.about.setText(_about(table))
        caution = NO_ADVICE if table.of or table.tree else f"{NO_ADVICE} {CHOOSE}"
        self.caution.setText(caution.replace(" %", "\u00a0%"))
        self.list.show_figures(farm, options, table)
        self.calendar_table.show_figures(farm, replace(options, chosen=None), table.calendar)
        self.species_table.show_figures(farm, replace(options, chosen=None), table.species)
        self.target_table.show_figures(farm, replace(options, chosen=None), table.target_table)
        stacks = stacks_of(table.calendar.rows, table.on.year, self._symbols)
        of = table.of or "whole farm"
        each = (
            "in five years"
            if stacks and stacks[-1].year + stacks[-1].years - stacks[0].year > MOST_BARS
            else "in a year"
        )
        self.calendar.show_stacks(f"Trees ready {each}, {of}", stacks, "No tree has a year in which it is ready.")
        self.form.show_farm(
            farm, table.targets, [(str(row["species"]), str(row["code"])) for row in table.species.rows]
        )
        if not self.species_table.table.currentIndex().isValid():
            self.species_table.table.setCurrentIndex(self.species_table.model.index(0, 0))
        self._show_tree()
        self._show_species()

    def let_edit(self, may: bool) -> None:
        """Offer the form of targets, or do not."""
        self.form.setEnabled(may)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Stand on the row of what was chosen; its chart follows when it is worked out."""
        self.list.show_chosen(chosen)

    def show_page(self, place: int) -> None:
        """Bring a page into sight."""
        self.page_row.show_page(place)

    def _trees_page(self) -> QWidget:
        self.list = ShortTable(replace(self.panel, name="Trees by outlook", rows_are="tree"))
        self.list.picked.connect(self.picked)
        self.tree_words = WrappedLabel()
        self.chart = CourseChart("Forecast")
        self.below_list = _below(_column(self.tree_words, self.chart), self.list)
        self.list.working.button.toggled.connect(self._show_below)
        return _split(self.list, self.below_list)

    def _calendar_page(self) -> QWidget:
        self.calendar = CalendarChart("Trees ready by year")
        self.calendar_table = ShortTable(replace(self.panel, name="Calendar of ready trees", rows_are=None))
        return _split(self.calendar, self.calendar_table)

    def _species_page(self) -> QWidget:
        self.species_table = ShortTable(replace(self.panel, name="Species by outlook", rows_are=None))
        self.species_table.table.selectionModel().currentChanged.connect(self._species_moved)
        self.species_words = WrappedLabel()
        self.curve = CurveChart("Growth curve")
        return _split(self.species_table, _below(_column(self.species_words, self.curve), self.species_table))

    def _targets_page(self) -> QWidget:
        self.target_table = ShortTable(replace(self.panel, name="Targets by species", rows_are=None))
        self.target_table.table.selectionModel().currentChanged.connect(self._target_moved)
        self.form = TargetForm()
        self.form.edit_wanted.connect(self.edit_wanted)
        return _column(self.target_table, self.form)

    def _show_tree(self) -> None:
        if self.figures is None or self._options is None:
            return
        row, course = self.figures.tree, self.figures.course
        self.tree_words.setText(_tree_words(row))
        self._show_below()
        name = "Forecast" if row is None else f"Forecast of tree {row['tag'] or 'without a tag'}, diameter"
        self.chart.show_course(name, course, row, self._options.on)

    def _show_below(self) -> None:
        """Give the list all the room while there is nothing to stand beneath it."""
        has_tree = self.figures is not None and self.figures.course is not None
        self.below_list.setVisible(has_tree or self.list.working.button.isChecked())

    def _species_moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid():
            self._code = str(self.species_table.model.numbers_at(current.row())["code"])
            self._show_species()

    def _target_moved(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid():
            self.form.choose(str(self.target_table.model.numbers_at(current.row())["code"]))

    def _show_species(self) -> None:
        if self.figures is None:
            return
        rows = self.figures.species.rows
        row = next((row for row in rows if row["code"] == self._code), rows[0] if len(rows) else None)
        code = "" if row is None else str(row["code"])
        target = self.figures.targets.of(code)
        name = "Growth curve" if row is None else f"Growth of {row['species']}, diameter by age"
        words = "No species stands on this day." if row is None else _species_words(row)
        self.species_words.setText(words)
        self.curve.show_curve(
            name,
            self.figures.courses.get(code),
            None if target is None else target.dbh_cm,
            words,
            words if row is None else "No tree of it was measured whose planting is known.",
        )


def _about(table: GrowthFigures) -> str:
    """Say what it is about: the block or the farm."""
    if not table.ids:
        return f"{table.of or 'Whole farm'}: no tree stands on this day."
    return f"{table.of or 'Whole farm'}: {table.calendar.notes[0] if table.calendar.notes else ''}".rstrip(": ")


def _tree_words(row: Mapping[str, Any] | None) -> str:
    """Say when a tree is ready, and what that rests on."""
    if row is None:
        return "This tree did not stand on this day."
    parts = [f"Tree {row['tag'] or 'without a tag'}, {row['species']}: {row['ready']}"]
    parts += [str(row["method"])] if row["ready_year"] is not None and row["ready"] != "ready now" else []
    parts += [str(row["reading_doubt"])] if row["reading_doubt"] else []
    return ". ".join(part[:1].upper() + part[1:] for part in parts) + "."


def _species_words(row: Mapping[str, Any]) -> str:
    """Say which curve was chosen and how well it tells."""
    if not row["curve"]:
        return sentence(f"{row['species']}: {row['method']}")
    error = row["left_out_error_cm"]
    meaning = str(row["curve_meaning"])
    parts = [f"{meaning[:1].upper()}{meaning[1:]}."] if meaning else []
    parts += [] if error is None else [f"The last readings, kept back, were told to within {error:.1f} cm."]
    parts += [f"Mean increment, cm a year: {row['increment_by_stock']}."] if row["increment_by_stock"] else []
    return " ".join([*parts, f"Curve: {row['curve']}, {row['parameters']}."])


def _below(usual: QWidget, table: FigureTableView) -> QStackedWidget:
    """Return what stands beneath a table: something usual, or how a figure is worked out while that is asked for."""
    table.column.removeWidget(table.working.text)
    stack = QStackedWidget()
    stack.addWidget(usual)
    stack.addWidget(table.working.text)
    table.working.button.toggled.connect(lambda shown: stack.setCurrentIndex(1 if shown else 0))
    return stack


def _column(*widgets: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 4, 0, 0)
    for widget in widgets:
        column.addWidget(widget, 1 if isinstance(widget, CourseChart | CurveChart | ShortTable) else 0)
    return holder


def _split(upper: QWidget, lower: QWidget) -> QWidget:
    split = QSplitter(Qt.Orientation.Vertical)
    split.setChildrenCollapsible(False)
    split.addWidget(upper)
    split.addWidget(lower)
    split.setStretchFactor(0, 1)
    split.setStretchFactor(1, 1)
    return split
