"""The list of a farm's trees, read straight from its tables so that a million of them cost nothing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from farmmap.farm.farm import Farm
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import shown
from farmmap.panels.trees.rows import TreeRows, tree_rows

AnyIndex = QModelIndex | QPersistentModelIndex
COLUMNS = ("tag", "species", "block", "dbh_cm")
_NOWHERE = QModelIndex()


class TreeList(QAbstractTableModel):
    """Trees that stand on a day and whose tag, species or block fits what is looked for."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self.ids = np.empty(0, np.int64)
        self._words = ""
        self.trees: TreeRows | None = None
        self._rows = np.empty(0, np.int64)
        self._sorted = (-1, Qt.SortOrder.AscendingOrder)

    def show_trees(self, farm: Farm, on: dt.date) -> None:
        """List the trees that stand on a day."""
        trees = tree_rows(farm, on)
        self.beginResetModel()
        self.trees, self.ids = trees, trees.ids
        self._rows = self._fitting()
        self.endResetModel()

    def look_for(self, words: str) -> None:
        """List only trees that fit."""
        self.beginResetModel()
        self._words = words.strip().casefold()
        self._rows = self._fitting()
        self.endResetModel()

    def row_of(self, tree: int) -> int | None:
        """Return the row of a tree, None if it is not listed."""
        place = int(np.searchsorted(self.ids, tree))
        if place >= len(self.ids) or self.ids[place] != tree:
            return None
        rows = np.flatnonzero(self._rows == place)
        return int(rows[0]) if len(rows) else None

    def tree_at(self, row: int) -> int:
        """Return the id of the tree in a row."""
        return int(self.ids[self._rows[row]])

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a tree."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """Tag, species, block and diameter."""
        return 0 if parent.isValid() else len(COLUMNS)

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the text of a cell."""
        name = COLUMNS[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return shown(name, self._value(name, index.row()))
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if name == "dbh_cm" else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the heading of a column."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        figure = CATALOGUE[COLUMNS[section]]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if figure.places is not None else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.DisplayRole:
            return f"{figure.heading}\n{figure.unit}"
        if role == Qt.ItemDataRole.ToolTipRole:
            return figure.words
        return None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort by a column; what is not known comes last."""
        self._sorted = (column, order)
        self.layoutAboutToBeChanged.emit()
        before = self.persistentIndexList()
        places = [int(self._rows[index.row()]) for index in before]
        self._rows = self._fitting()
        where = {int(place): row for row, place in enumerate(self._rows)} if before else {}
        after = [self.index(where[place], old.column()) for place, old in zip(places, before, strict=True)]
        self.changePersistentIndexList(before, after)
        self.layoutChanged.emit()

    def _value(self, name: str, row: int) -> object:
        if self.trees is None:
            return None
        value = self.trees.column(name).iloc[int(self._rows[row])]
        return None if pd.isna(value) else value

    def _fitting(self) -> np.ndarray:
        rows, trees = np.arange(len(self.ids)), self.trees
        if trees is None:
            return rows
        if self._words and len(rows):
            fits = trees.tag_lower.str.startswith(self._words).to_numpy(bool, copy=True)
            for kinds in (trees.species.cat, trees.block.cat):
                wanted = np.array([*(self._words in str(kind).casefold() for kind in kinds.categories), False], bool)
                fits |= wanted[kinds.codes.to_numpy()]
            rows = rows[fits]
        column, order = self._sorted
        if column < 0 or not len(rows):
            return rows
        values = trees.column(COLUMNS[column]).iloc[rows]
        values = values.replace("", None) if column == 0 else values
        falling = order == Qt.SortOrder.DescendingOrder
        return values.sort_values(ascending=not falling, kind="stable", na_position="last").index.to_numpy(np.int64)
