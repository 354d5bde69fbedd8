"""A table of parts that is as high as its rows, whose first column wraps where it is narrow."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHeaderView

from farmmap.panels.table_view import Table
from farmmap.panels.thinning.part_models import HEADS, PartsModel, SpeciesModel

CELL_EDGE_PX = 14
"""Kept free at either side of a cell's words. [px]"""
NUMBER_EDGES_PX = 22
"""Kept free at both sides of a number together. [px]"""
ROW_EDGES_PX = 6
"""Kept free above and below them together. [px]"""


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
        self._soon = QTimer(self)  # the column has its new width only once the table has
        self._soon.setSingleShot(True)
        self._soon.timeout.connect(self.take_height)
        self.setSortingEnabled(False)
        self.setWordWrap(True)
        self.setModel(model)
        self.setAccessibleName(words)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        heading = self.horizontalHeader()
        heading.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        wide = self.fontMetrics().horizontalAdvance("0000.0") + NUMBER_EDGES_PX
        for column in range(1, 1 + len(HEADS)):
            heading.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            self.setColumnWidth(column, wide)

    def take_height(self) -> None:
        """Be as high as the rows that are to be seen at once."""
        self.resizeRowsToContents()
        self._give_room_for_words()
        rows = range(min(self.model().rowCount(), self._most))
        heading = self.horizontalHeader().sizeHint().height()
        self.setFixedHeight(heading + sum(map(self.rowHeight, rows)) + 2 * self.frameWidth())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Wrap anew."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._soon.start()

    def _give_room_for_words(self) -> None:
        """Make rows higher whose words wrap within the edges of their cell, which Qt leaves out of its account."""
        metrics = self.fontMetrics()
        room = QRect(0, 0, max(self.columnWidth(0) - 2 * CELL_EDGE_PX, 1), 10_000)
        for row in range(self.model().rowCount()):
            words = str(self.model().index(row, 0).data() or "")
            wrapped = metrics.boundingRect(room, Qt.TextFlag.TextWordWrap, words).height()
            self.setRowHeight(row, max(self.rowHeight(row), wrapped + ROW_EDGES_PX))
