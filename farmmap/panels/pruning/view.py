"""The Pruning panel: what is due, what is pruned so far, and the lifts, one page each."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QSizePolicy, QStackedWidget, QToolButton, QVBoxLayout, QWidget

from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
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
        self.pages = QStackedWidget()
        self._buttons = QButtonGroup(self)
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        pages: tuple[tuple[str, QWidget], ...] = (
            ("Due", self.due),
            ("Pruned so far", self.pruned),
            ("Lifts", self.lifts),
        )
        for place, (words, page) in enumerate(pages):
            button = QToolButton()
            button.setText(words)
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            self._buttons.addButton(button, place)
            row.addWidget(button)
            self.pages.addWidget(page)
        self._buttons.idClicked.connect(self.pages.setCurrentIndex)
        self.show_page(0)
        self.due.picked.connect(self.picked)
        self.pruned.picked.connect(self.picked)
        self.due.edit_wanted.connect(self.edit_wanted)
        self.lifts.edit_wanted.connect(self.edit_wanted)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 8)
        column.addLayout(row)
        column.addWidget(self.pages, 1)

    def show_page(self, place: int) -> None:
        """Bring a page into sight: 0 what is due, 1 what is pruned so far, 2 the lifts."""
        self._buttons.button(place).setChecked(True)
        self.pages.setCurrentIndex(place)

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show all three pages."""
        self.due.show_figures(farm, options, table)
        self.pruned.show_farm(farm, options)
        self.lifts.show_farm(farm)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Follow what was chosen on the map."""
        self.due.show_chosen(chosen)
        self.pruned.show_chosen(chosen)
