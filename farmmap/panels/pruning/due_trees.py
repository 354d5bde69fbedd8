"""The trees of one line of the due list: ticked if they were pruned, with the diameter over stubs as it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown

AnyIndex = QModelIndex | QPersistentModelIndex
COLUMNS = ("tag", "prune_now_m", "stubs_cm", "dos_cm", "form", "to_do")
TAG, READ = COLUMNS.index("tag"), COLUMNS.index("dos_cm")
HEADINGS = {"stubs_cm": "Stubs\nabout\ncm", "dos_cm": "Stubs\nread\ncm", "prune_now_m": "Now\nto\nm"}
_NOWHERE = QModelIndex()


class DueTrees(QAbstractTableModel):
    """Ticks and typed diameters are kept by tree while its line is shown."""

    changed = Signal()
    """A tick or a diameter was changed."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__(parent)
        self.table: FigureTable | None = None
        self._ids: list[int] = []
        self._left_out: set[int] = set()
        self._read: dict[int, str] = {}

    def show_trees(self, table: FigureTable | None) -> None:
        """List other trees; ticks and diameters of those that stay are kept."""
        self.beginResetModel()
        self.table = table
        self._ids = [] if table is None else list(table.ids)
        self._left_out &= set(self._ids)
        self._read = {tree: text for tree, text in self._read.items() if tree in set(self._ids)}
        self.endResetModel()

    def forget(self) -> None:
        """Tick all, and forget what was typed."""
        self._left_out, self._read = set(), {}
        self._tell()

    def tick_all(self, ticked: bool) -> None:
        """Tick all trees or none."""
        self._left_out = set() if ticked else set(self._ids)
        self._tell()

    def left_out(self) -> set[int]:
        """Return the trees whose tick was taken off."""
        return set(self._left_out)

    def read_cm(self) -> Mapping[int, str]:
        """Return the diameters over stubs that were typed, by tree; those without a tick are left out."""
        return {tree: text for tree, text in self._read.items() if tree not in self._left_out}

    def tree_at(self, row: int) -> int:
        """Return the id of the tree in a row."""
        return self._ids[row]

    def row_of(self, tree: int) -> int | None:
        """Return the row of a tree, None if it is not listed."""
        return self._ids.index(tree) if tree in self._ids else None

    def numbers_at(self, row: int) -> Mapping[str, object]:
        """Return everything that is known of the tree in a row."""
        assert self.table is not None
        return self.table.rows[row]

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a tree."""
        return 0 if parent.isValid() else len(self._ids)

    def columnCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """Tag with its tick, and what is to be done."""
        return 0 if parent.isValid() else len(COLUMNS)

    def flags(self, index: AnyIndex) -> Qt.ItemFlag:
        """Tags are ticked, and the diameter that was read is typed."""
        flags = super().flags(index)
        if index.column() == TAG:
            flags |= Qt.ItemFlag.ItemIsUserCheckable
        if index.column() == READ:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the text of a cell, its tick, or what it says at length."""
        name, tree = COLUMNS[index.column()], self._ids[index.row()]
        if role == Qt.ItemDataRole.CheckStateRole and index.column() == TAG:
            return Qt.CheckState.Unchecked if tree in self._left_out else Qt.CheckState.Checked
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            if name == "dos_cm":
                return self._read.get(tree, "")
            value = self.numbers_at(index.row()).get(name)
            return "" if name in {"to_do", "form"} and not value else shown(name, value)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            is_number = CATALOGUE[name].places is not None
            side = Qt.AlignmentFlag.AlignRight if is_number else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.ToolTipRole:
            return str(self.numbers_at(index.row()).get("to_do") or "") if name == "to_do" else CATALOGUE[name].words
        return None

    def setData(self, index: AnyIndex, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take a tick, or a diameter as it was typed; it is read when the pruning is written down."""
        tree = self._ids[index.row()]
        if role == Qt.ItemDataRole.CheckStateRole and index.column() == TAG:
            if Qt.CheckState(value) == Qt.CheckState.Checked:
                self._left_out.discard(tree)
            else:
                self._left_out.add(tree)
        elif role == Qt.ItemDataRole.EditRole and index.column() == READ:
            text = str(value).strip()
            if text:
                self._read[tree] = text
            else:
                self._read.pop(tree, None)
        else:
            return False
        self.dataChanged.emit(index, index)
        self.changed.emit()
        return True

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the heading of a column."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        name = COLUMNS[section]
        figure = CATALOGUE[name]
        if role == Qt.ItemDataRole.DisplayRole:
            return HEADINGS.get(name, figure.heading)
        if role == Qt.ItemDataRole.ToolTipRole:
            return figure.words
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if figure.places is not None else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def _tell(self) -> None:
        if self._ids:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._ids) - 1, len(COLUMNS) - 1))
        self.changed.emit()
