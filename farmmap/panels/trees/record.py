"""The record of one tree: each figure on a line of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown

AnyIndex = QModelIndex | QPersistentModelIndex
_NOWHERE = QModelIndex()


class RecordModel(QAbstractTableModel):
    """The first row of a table, turned upright: what it is at the left, its value at the right."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self._names: tuple[str, ...] = ()
        self._numbers: Mapping[str, object] = {}

    def show_record(self, table: FigureTable) -> None:
        """Show the first row of a table, nothing if it has none."""
        self.beginResetModel()
        self._numbers = table.rows[0] if len(table.rows) else {}
        self._names = table.columns if len(table.rows) else ()
        self.endResetModel()

    def figure_at(self, row: int) -> tuple[str, Mapping[str, object]]:
        """Return the key of the figure in a row, and everything that is known of the tree."""
        return self._names[row], self._numbers

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a figure."""
        return 0 if parent.isValid() else len(self._names)

    def columnCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """Two: what, and how much."""
        return 0 if parent.isValid() else 2

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return a name or a value with its unit."""
        name = self._names[index.row()]
        figure = CATALOGUE[name]
        if role == Qt.ItemDataRole.DisplayRole:
            if index.column() == 0:
                return figure.title
            value = self._numbers.get(name)
            unit = f" {figure.unit}" if figure.unit and value is not None else ""
            return f"{shown(name, value)}{unit}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return figure.words
        return None
