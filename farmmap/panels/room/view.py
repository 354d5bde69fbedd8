"""The Room panel: competitors of the chosen tree with a plan, or the density of blocks with its diagram."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any, cast

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.figures.room.diagram import density_diagram
from farmmap.figures.room.holding import HoldsBack
from farmmap.panels.page_stack import PageStack
from farmmap.panels.panel_view import PanelView
from farmmap.panels.registry import Options, Panel
from farmmap.panels.room.density_chart import DensityChart
from farmmap.panels.room.neighbour_plan import NeighbourPlan
from farmmap.panels.table_view import FigureTableView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.scene import Chosen
from farmmap.scene.symbols import species_symbols


class TreePage(FigureTableView):
    """What holds one tree back: its competitors, and a plan of them."""

    def __init__(self, panel: Panel) -> None:
        super().__init__(replace(panel, rows_are="tree"))
        self.heading = WrappedLabel()
        self.heading.setProperty("heading", True)
        self.plan = NeighbourPlan()
        self.onward = QPushButton("What holds this one back?")
        self.onward.setToolTip("Go on to the competitors of the tree that is chosen in the list")
        self.onward.setVisible(False)
        self.column.insertWidget(0, self.heading)
        self.column.insertWidget(2, self.onward, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.addWidget(self.plan, 4)
        self.working.button.toggled.connect(lambda shown: self.plan.setVisible(not shown))
        self.plan.picked.connect(lambda tree: self.picked.emit(Chosen("tree", tree)))

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the competitors, the strongest first."""
        super().show_figures(farm, options, table)
        is_told = isinstance(table, HoldsBack)
        self.heading.setText(table.title.rsplit(",", 1)[0] if is_told else "\n".join(table.notes))
        self.notes.setVisible(is_told)
        colours = {code: symbol.colour for code, symbol in species_symbols(farm).items()}
        around, reach = (table.around, table.reach_m) if isinstance(table, HoldsBack) else ((), 0.0)
        self.table.setVisible(is_told)
        self.working.setVisible(is_told)
        self.choices.setVisible(is_told)
        self.plan.setVisible(is_told and not self.working.button.isChecked())
        shares = dict(zip(table.ids, cast("list[float]", table.column("share_percent")), strict=True))
        own = around[0].tag or f"number {around[0].id}" if around else ""
        self.plan.show_trees(f"Around tree {own}" if own else "Neighbourhood", around, reach, shares, colours)
        self.show_chosen(options.chosen)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Mark the competitor that is chosen, in the list and on the plan."""
        super().show_chosen(chosen)
        table = self.model.table
        tree = chosen.id if chosen is not None and chosen.kind == "tree" else None
        other = tree is not None and isinstance(table, HoldsBack) and tree != table.tree
        self.plan.choose(tree if other else None)
        self.onward.setVisible(other)


class BlockPage(FigureTableView):
    """How dense blocks stand, with the density diagram of the one that is chosen."""

    def __init__(self, panel: Panel) -> None:
        super().__init__(replace(panel, rows_are="block"))
        self.competition = WrappedLabel()
        self.chart = DensityChart()
        self.column.insertWidget(1, self.competition)
        self.column.addWidget(self.chart, 3)
        self.working.button.toggled.connect(lambda shown: self.chart.setVisible(not shown))

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the table, and what is known of the block that is chosen."""
        super().show_figures(farm, options, table)
        self._show_block(options.chosen)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Show the diagram of the block that is chosen."""
        super().show_chosen(chosen)
        self._show_block(chosen)

    def _show_block(self, chosen: Chosen | None) -> None:
        table = self.model.table
        row: dict[str, Any] | None = None
        if table is not None and chosen is not None and chosen.kind == "block":
            found = table.row_of(chosen.id)
            row = None if found is None else dict(found)
        self.competition.setText("" if row is None else competition_words(row))
        self.competition.setVisible(bool(self.competition.text()))
        if row is None:
            is_block = chosen is not None and chosen.kind == "block"
            words = (
                "No tree of the block that is chosen was measured by this date."
                if is_block
                else "Choose a block, or a tree to see what holds it back."
            )
            self.chart.show_diagram("Density diagram", None, words)
        else:
            diagram = density_diagram(row, row.get("path", ()))
            name = f"Density diagram, {row['name']}; slanting lines: density index"
            self.chart.show_diagram(name, diagram, "No tree of this block was measured by this date.")


def competition_words(row: dict[str, Any]) -> str:
    """Return what is known of the competition within a block, "" if nothing.

    Parameters
    ----------
    row : dict
        Row of `farmmap.figures.room.blocks.block_with_competition`.
    """
    if row.get("mean_hegyi") is None:
        return ""
    words = f"Mean competition {row['mean_hegyi']:.2f} (Hegyi, within {row['reach_m']:.1f} m)"
    if row.get("mean_hegyi_corrected") is not None:
        words += f"; {row['mean_hegyi_corrected']:.2f} if trees stand beyond the mapped ground as they do on it"
    if row.get("space_low_m2") is not None:
        words += f". Half of the trees have {row['space_low_m2']:.0f} to {row['space_high_m2']:.0f} m² to themselves"
    return f"{words}.{_crowns_words(row)}"


def _crowns_words(row: dict[str, Any]) -> str:
    """Say when the crowns of a block meet."""
    share, meet = row.get("crown_to_spacing"), row.get("crowns_meet")
    if share is None:
        return ""
    if meet is not None:
        return f" Crowns meet in about {meet:.0f}: forecast, when the mean crown is as wide as the mean spacing."
    wide = f" The mean crown is {share:.1f} times as wide as the mean spacing"
    return f"{wide}." if share >= 1 or not row.get("path") else f"{wide}; forecast: they do not meet within 40 years."


class RoomView(PanelView):
    """One page for a tree, one for blocks."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self.of_tree, self.of_blocks = TreePage(panel), BlockPage(panel)
        self.pages = PageStack(self.of_blocks, self.of_tree)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.pages)
        self._shown: tuple[Farm, dt.date] | None = None
        self._looked_at: Chosen | None = None
        self._waiting: tuple[Farm, Options, FigureTable] | None = None
        self.of_tree.picked.connect(self._pick_competitor)
        self.of_blocks.picked.connect(self.picked)
        self.of_tree.onward.clicked.connect(self._go_on)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show the figures; a competitor picked in the list is marked, and the list stays."""
        same = self._shown is not None and self._shown[0] is farm and self._shown[1] == options.on
        if same and self._looked_at is not None and options.chosen == self._looked_at:
            self._waiting = (farm, options, table)
            self.of_tree.show_chosen(options.chosen)
            return
        self._looked_at = self._waiting = None
        self._shown = (farm, options.on)
        page = self.of_tree if table.name == "holds_back" else self.of_blocks
        page.show_figures(farm, options, table)
        self.pages.setCurrentWidget(page)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Follow what was chosen on the map; its figures come when they are worked out."""
        page = self.pages.currentWidget()
        if isinstance(page, FigureTableView):
            page.show_chosen(chosen)

    def _pick_competitor(self, chosen: Chosen) -> None:
        self._looked_at = chosen
        self.picked.emit(chosen)

    def _go_on(self) -> None:
        waiting, self._looked_at = self._waiting, None
        if waiting is not None:
            self.show_figures(*waiting)
