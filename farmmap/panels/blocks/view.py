"""The Blocks panel: its table, and charts of diameters and species under it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.blocks.distribution import Distribution, classes_of, species_of
from farmmap.panels.chart import Bar, BarChart, Share, ShareChart, number
from farmmap.panels.registry import Options, Panel
from farmmap.panels.table_view import FigureTableView
from farmmap.scene.scene import Chosen
from farmmap.scene.symbols import UNKNOWN_COLOUR, species_symbols


class BlocksView(FigureTableView):
    """A row a block; beneath, what grows in the block that is chosen, or in all of them."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self.diameters = BarChart("Diameters", "Diameter at breast height, cm", "Trees")
        self.species = ShareChart("Species")
        self._colours: dict[str, str] = {}
        self._listed: set[str] = set()
        self._all = Distribution()
        self._farm: Farm | None = None
        self._chosen: Chosen | None = None
        shares = QScrollArea()
        shares.setViewport(QWidget())  # as in `PanelPage`
        shares.setWidget(self.species)
        self.species.setAutoFillBackground(False)
        shares.setWidgetResizable(True)
        shares.setFrameShape(QFrame.Shape.NoFrame)
        shares.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        shares.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        shares.setAccessibleName("Species")
        charts = QSplitter(Qt.Orientation.Vertical)
        charts.setChildrenCollapsible(False)
        charts.addWidget(self.diameters)
        charts.addWidget(shares)
        charts.setStretchFactor(0, 3)
        charts.setStretchFactor(1, 2)
        self.below = QStackedWidget()
        self.below.addWidget(charts)
        upper = QWidget()
        column = QVBoxLayout(upper)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.table, self.working, self.choices, self.notes):
            self.column.removeWidget(widget)  # at once: while an old layout item lives, Qt keeps stale heights of words
            column.addWidget(widget)
        column.setStretch(0, 1)
        self.below.addWidget(self.working.text)
        self.working.button.toggled.connect(lambda shown: self.below.setCurrentIndex(1 if shown else 0))
        self.split = QSplitter(Qt.Orientation.Vertical)
        self.split.setChildrenCollapsible(False)
        self.split.addWidget(upper)
        self.split.addWidget(self.below)
        self.split.setStretchFactor(0, 3)
        self.split.setStretchFactor(1, 2)
        self.column.addWidget(self.split)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the table and the charts under it."""
        before, self._farm, self._chosen = self._farm, farm, options.chosen
        super().show_figures(farm, options, table)
        self._all.count(table.rows)
        self._choose_colours(before, farm)
        self._show_charts()

    def _choose_colours(self, before: Farm | None, farm: Farm) -> None:
        """Look the colours up again; those of listed species rest on the list alone, so the trees are let be."""
        if before is None or before.species is not farm.species:
            self._listed = {"", *farm.species["code"]}
        elif before.trees is farm.trees or self._listed.issuperset(code for _, code, _ in self._all.species()):
            return
        self._colours = {code: symbol.colour for code, symbol in species_symbols(farm).items()}

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Show what grows in the block that was chosen."""
        super().show_chosen(chosen)
        self._chosen = chosen
        self._show_charts()

    def _show_charts(self) -> None:
        table = self.model.table
        if table is None:
            return
        of, classes, species = "all blocks", self._all.classes(), self._all.species()
        if self._chosen is not None and self._chosen.kind == "block":
            row = table.row_of(self._chosen.id)
            if row is not None:
                of, classes, species = str(row["name"]), classes_of([row]), species_of([row])
        bars = [
            Bar(low, high, count, f"{number(low)} to {number(high)} cm: {count} trees") for low, high, count in classes
        ]
        self.diameters.show_bars(f"Diameters, {of}", bars, "No tree was measured by this date.")
        total = sum(count for *_, count in species)
        shares = [
            Share(
                name, count / total, f"{count:,} stems".replace(",", "\u202f"), self._colours.get(code, UNKNOWN_COLOUR)
            )
            for name, code, count in species
        ]
        self.species.show_shares(f"Species, {of}", shares, "No tree stood here on this date.")
