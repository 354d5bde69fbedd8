"""A table of figures as Qt's views read it, sorted by any column."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown

AnyIndex = QModelIndex | QPersistentModelIndex
_NOWHERE = QModelIndex()


class FigureModel(QAbstractTableModel):
    """Rows of a `FigureTable` in the order that was last asked for; what is not known always comes last."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self.table: FigureTable | None = None
        self.columns: tuple[str, ...] = ()
        self._all = False
        self._order: list[int] = []
        self._sorted: tuple[str, Qt.SortOrder] | None = None

    def show_table(self, table: FigureTable) -> None:
        """Show a table, in the order of the one before; of one about the same things only the rows that differ."""
        before = self.table
        if table is before:
            return
        columns = table.columns if self._all else table.brief or table.columns
        order = list(range(len(table.rows)))
        if self._sorted is not None and self._sorted[0] in columns:
            order = _ordered(table, *self._sorted)
        if before is not None and columns == self.columns and order == self._order and table.ids == before.ids:
            self.table = table
            differ = [new is not old for new, old in zip(table.rows, before.rows, strict=True)]
            for row, place in enumerate(order) if any(differ) else ():
                if differ[place]:
                    self.dataChanged.emit(self.index(row, 0), self.index(row, len(columns) - 1))
            return
        self.beginResetModel()
        self.table, self.columns, self._order = table, columns, order
        self.endResetModel()

    def show_all(self, everything: bool) -> None:
        """Show every column, or only those of the table's short form."""
        self._all = everything
        table, self.table = self.table, None
        if table is not None:
            self.show_table(table)

    def feature_at(self, row: int) -> int:
        """Return the id of the feature that a row stands for."""
        assert self.table is not None
        return self.table.ids[self._order[row]]

    def row_of(self, feature: int) -> int | None:
        """Return the row that stands for a feature, None if there is none."""
        if self.table is None:
            return None
        ids = list(self.table.ids)
        return self._order.index(ids.index(feature)) if feature in ids else None

    def numbers_at(self, row: int) -> dict[str, object]:
        """Return everything that the table knows of a row."""
        return dict(self._row(row))

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a feature."""
        return 0 if parent.isValid() else len(self._order)

    def columnCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One column a figure."""
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the text of a cell, how it is laid, or what it says at length."""
        name = self.columns[index.column()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return shown(name, self._row(index.row()).get(name))
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(name)
        if role == Qt.ItemDataRole.ToolTipRole:
            return _tip(name)
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the heading of a column, a word a line so that columns are narrow, with its unit beneath."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        name = self.columns[section]
        if role == Qt.ItemDataRole.DisplayRole:
            figure = CATALOGUE.get(name)
            return name if figure is None else "\n".join([*figure.heading.split(), figure.unit]).rstrip()
        if role == Qt.ItemDataRole.ToolTipRole:
            return _tip(name)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(name)
        return None

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort by a column."""
        if self.table is None or not 0 <= column < len(self.columns):
            return
        self._sorted = (self.columns[column], order)
        self.layoutAboutToBeChanged.emit()
        before = self.persistentIndexList()
        rows = [self._order[index.row()] for index in before]
        self._order = _ordered(self.table, *self._sorted)
        places = {row: place for place, row in enumerate(self._order)}
        after = [self.index(places[row], index.column()) for row, index in zip(rows, before, strict=True)]
        self.changePersistentIndexList(before, after)
        self.layoutChanged.emit()

    def _row(self, row: int) -> Mapping[str, object]:
        assert self.table is not None
        return self.table.rows[self._order[row]]


def _ordered(table: FigureTable, name: str, order: Qt.SortOrder) -> list[int]:
    return sorted_places(table.column(name), order == Qt.SortOrder.DescendingOrder)


def sorted_places(values: Sequence[object], falling: bool) -> list[int]:
    """Return the places of values in rising or falling order, those not known last either way.

    Parameters
    ----------
    values : sequence of str, int, float or None
        Numbers, or words; words are compared without case.
    falling : bool
        Largest first.
    """
    known = [place for place, value in enumerate(values) if not _is_missing(value)]
    missing = [place for place, value in enumerate(values) if _is_missing(value)]
    numeric = all(isinstance(values[place], int | float) for place in known)

    def weight(place: int) -> Any:
        return values[place] if numeric else str(values[place]).casefold()

    return [*sorted(known, key=weight, reverse=falling), *missing]


def _is_missing(value: object) -> bool:
    return value is None or value == "" or (isinstance(value, float) and math.isnan(value))


def _alignment(name: str) -> Qt.AlignmentFlag:
    is_number = name in CATALOGUE and CATALOGUE[name].places is not None
    return (Qt.AlignmentFlag.AlignRight if is_number else Qt.AlignmentFlag.AlignLeft) | Qt.AlignmentFlag.AlignVCenter


def _tip(name: str) -> str:
    figure = CATALOGUE.get(name)
    if figure is None:
        return ""
    unit = f" [{figure.unit}]" if figure.unit else ""
    return f"{figure.title}{unit}\n{figure.words}".strip()
