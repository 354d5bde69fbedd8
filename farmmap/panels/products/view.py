"""The Products panel: its tables, the chart of harvests, forms for the grower's own figures, and a log calculator."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.page_stack import PageStack
from farmmap.panels.panel_view import PanelView
from farmmap.panels.products.equation_page import EquationPage
from farmmap.panels.products.harvest_stacks import harvest_stacks
from farmmap.panels.products.lines_form import LinesForm
from farmmap.panels.products.log_calculator import LogCalculator
from farmmap.panels.products.shown import TABLES, block_of
from farmmap.panels.products.stacked_chart import StackedChart
from farmmap.panels.registry import Options, Panel
from farmmap.panels.table_view import FigureTableView
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.symbols import species_symbols

OWN_PRODUCTS = "Your products and prices"
OWN_VOLUMES = "Your stem volumes"
OWN_EQUATION = "Your equation from felled stems"
CALCULATOR = "Volume of measured logs"
HARVEST_TABLE = "harvest"
"""Name of the table that has the chart above it."""


class TablePage(FigureTableView):
    """One table at a time, of several that have other columns."""

    def show_table(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show a table; the columns are measured again if they are others than before."""
        before = self.model.table
        if before is None or before.name != table.name or before.columns != table.columns:
            self._sized = 0
            self.model.sort(-1)
        self.show_figures(farm, options, table)


class ProductsView(PanelView):
    """A list of what can be shown, and the one that was chosen under it."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self._farm: Farm | None = None
        self._options: Options | None = None
        self._table: FigureTable | None = None
        self._table_is = ""
        self.heading = WrappedLabel()
        self.heading.setProperty("heading", True)
        self.shown = QComboBox()
        leave_wheel(self.shown)
        self.shown.setAccessibleName("What is shown")
        self.shown.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.shown.setMinimumContentsLength(16)
        self.shown.addItems([*TABLES, OWN_PRODUCTS, OWN_VOLUMES, OWN_EQUATION, CALCULATOR])
        label = QLabel("Show:")
        label.setBuddy(self.shown)
        choice = QHBoxLayout()
        choice.addWidget(label)
        choice.addWidget(self.shown, 1)
        self.figures = TablePage(panel)
        self.figures.column.setContentsMargins(0, 0, 0, 0)
        self.chart = StackedChart("Harvest", "Stem volume over bark, m³")
        self.chart.setVisible(False)
        self.products = LinesForm("products")
        self.volumes = LinesForm("volumes")
        self.equation = EquationPage()
        self.calculator = LogCalculator()
        tables = QWidget()
        column = QVBoxLayout(tables)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.chart, 3)
        column.addWidget(self.figures, 4)
        self._page_of = {
            OWN_PRODUCTS: self.products,
            OWN_VOLUMES: self.volumes,
            OWN_EQUATION: self.equation,
            CALCULATOR: self.calculator,
        }
        self._tables = tables
        self.pages = PageStack(tables, *self._page_of.values())
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 8, 8, 8)
        outer.addWidget(self.heading)
        outer.addLayout(choice)
        outer.addWidget(self.pages, 1)
        for form in (self.products, self.volumes, self.equation):
            form.edit_wanted.connect(self.edit_wanted)
        self.shown.currentTextChanged.connect(lambda _text: self._turn())

    def asked(self) -> object:
        """Return which table is wanted."""
        return self.shown.currentText()

    def choose(self, what: str) -> None:
        """Show one of the list."""
        self.shown.setCurrentText(what)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the table that was worked out, and the farm's own figures in the forms."""
        self._farm, self._options, self._table = farm, options, table
        self._table_is = str(options.asked)
        block = block_of(farm, options)
        of = "All blocks" if block is None else str(farm.blocks["name"].get(block, "")) or f"Block {block}"
        self.heading.setText(f"{of}: volumes and products")
        self.products.show_lines(farm)
        self.volumes.show_lines(farm)
        self.equation.show_farm(farm)
        self._show_table(of)

    def let_edit(self, may: bool) -> None:
        """Offer the grower's own figures to be changed, or do not."""
        for form in (self.products, self.volumes, self.equation):
            form.let_edit(may)

    def _turn(self) -> None:
        """Turn to what was chosen in the list; a table follows when it is worked out."""
        what = self.shown.currentText()
        self.pages.setCurrentWidget(self._page_of.get(what, self._tables))
        if what in TABLES and what != self._table_is:
            self.asks_anew.emit()

    def _show_table(self, of: str) -> None:
        if self._farm is None or self._options is None or self._table is None:
            return
        is_harvest = self._table.name == HARVEST_TABLE
        self.chart.setVisible(is_harvest)
        if is_harvest:
            stacks, kinds = harvest_stacks(self._table.rows, species_symbols(self._farm))
            nothing = "No harvest can be told yet: set target diameters, and measure again in later years."
            self.chart.show_stacks(
                f"Harvest by five years, {'all blocks' if block_of(self._farm, self._options) is None else of}",
                stacks,
                kinds,
                nothing,
            )
        self.figures.show_table(self._farm, self._options, self._table)
