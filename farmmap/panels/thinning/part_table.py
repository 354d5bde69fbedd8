"""A table of parts that is as high as its rows, whose first column wraps where it is narrow."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHeaderView

from farmmap.panels.table_view import Table
from farmmap.panels.thinning.part_models import HEADS, PartsModel, SpeciesModel


class PartTable(Table):
    """What at the left, and three columns of numbers.

    Parameters
    ----------
    model : PartsModel or SpeciesModel
        What it shows.
    words : str
        What it is, for people who do not see it.
    most : int
        So many rows are seen at once; the others are scrolled to.
    """

    def __init__(self, model: PartsModel | SpeciesModel, words: str, most: int = 12) -> None:
        super().__init__()
        self._most = most
        self.setSortingEnabled(False)
        self.setWordWrap(True)
        self.setModel(model)
        self.setAccessibleName(words)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        heading = self.horizontalHeader()
        heading.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        wide = self.fontMetrics().horizontalAdvance("0000.0") + 16
        for column in range(1, 1 + len(HEADS)):
            heading.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            self.setColumnWidth(column, wide)

    def take_height(self) -> None:
        """Be as high as the rows that are to be seen at once."""
        self.resizeRowsToContents()
        rows = range(min(self.model().rowCount(), self._most))
        heading = self.horizontalHeader().sizeHint().height()
        self.setFixedHeight(heading + sum(map(self.rowHeight, rows)) + 2 * self.frameWidth())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Wrap anew."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.take_height()
