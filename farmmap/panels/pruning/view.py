"""The Pruning panel: what is due, what is pruned so far, and the lifts, one page each."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.panels.panel_view import PanelView
from farmmap.panels.pruning.due_page import DuePage
from farmmap.panels.pruning.lifts_page import LiftsPage
from farmmap.panels.pruning.pruned_page import PrunedPage
from farmmap.panels.registry import Options, Panel
from farmmap.scene.scene import Chosen


class PruningView(PanelView):
    """Three pages about one farm and day; what is picked or changed on any of them is handed on."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self.due = DuePage()
        self.pruned = PrunedPage(panel)
        self.lifts = LiftsPage()
        self.pages = PageStack(self.due, self.pruned, self.lifts)
        self.page_row = PageRow(("Due", "Pruned so far", "Lifts"), self.pages)
        self.due.picked.connect(self.picked)
        self.pruned.picked.connect(self.picked)
        self.due.edit_wanted.connect(self.edit_wanted)
        self.lifts.edit_wanted.connect(self.edit_wanted)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 8)
        column.addWidget(self.page_row)
        column.addWidget(self.pages, 1)

    def show_page(self, place: int) -> None:
        """Bring a page into sight: 0 what is due, 1 what is pruned so far, 2 the lifts."""
        self.page_row.show_page(place)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show all three pages."""
        self.due.show_figures(farm, options, table)
        self.pruned.show_farm(farm, options)
        self.lifts.show_farm(farm)

    def let_edit(self, may: bool) -> None:
        """Offer what is written down, or do not."""
        self.due.let_edit(may)
        self.lifts.let_edit(may)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Follow what was chosen on the map."""
        self.due.show_chosen(chosen)
        self.pruned.show_chosen(chosen)
