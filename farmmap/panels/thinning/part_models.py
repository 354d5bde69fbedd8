"""The tables of a thinning: each figure, and each species, before, taken and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import shown
from farmmap.panels.thinning.figures import SpeciesCount, ThinningFigures

AnyIndex = QModelIndex | QPersistentModelIndex
HEADS = ("Before", "Taken", "After")
SHOWN = (
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "mean_spacing_m",
    "crown_cover_percent",
    "stems_percent",
    "basal_area_percent",
    "thinning_ratio",
)
_NOWHERE = QModelIndex()


class _Parts(QAbstractTableModel):
    """What at the left, then its value before, taken and after."""

    def __init__(self, first: str, parent: Any = None) -> None:
        super().__init__(parent)
        self._first = first

    def columnCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """Count what it is and three parts."""
        return 0 if parent.isValid() else 1 + len(HEADS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the heading of a column."""
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _side(section)
        return (self._first, *HEADS)[section] if role == Qt.ItemDataRole.DisplayRole else None

    def data(self, index: AnyIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return the text of a cell."""
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _side(index.column())
        if role == Qt.ItemDataRole.DisplayRole:
            return self.text(index.row(), index.column())
        return self.tip(index.row()) if role == Qt.ItemDataRole.ToolTipRole else None

    def text(self, row: int, column: int) -> str:
        """Return what a cell says."""
        raise NotImplementedError

    def tip(self, row: int) -> str | None:  # noqa: ARG002 - for those who override
        """Return what is said of a row under the pointer."""
        return None


class PartsModel(_Parts):
    """One row a figure."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__("", parent)
        self._names: tuple[str, ...] = ()
        self._rows: Sequence[Mapping[str, object]] = ()

    def show_parts(self, table: ThinningFigures) -> None:
        """Show a thinning; nothing if there is none."""
        names = tuple(name for name in SHOWN if table.made is not None and name in table.columns)
        self._rows = table.rows
        if names and names == self._names:
            self.dataChanged.emit(self.index(0, 0), self.index(len(names) - 1, len(HEADS)))
            return
        self.beginResetModel()
        self._names = names
        self.endResetModel()

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a figure."""
        return 0 if parent.isValid() else len(self._names)

    def figure_at(self, row: int, column: int) -> tuple[str, Mapping[str, object], str]:
        """Return the key of a figure, all that is known of its part, and the name of that part."""
        part = max(column - 1, 0)
        name = self._names[row]
        if self._rows[part].get(name) is None:  # some are told of what is taken alone
            part = next((place for place, of in enumerate(self._rows) if of.get(name) is not None), part)
        return name, self._rows[part], HEADS[part].lower()

    def value(self, name: str, part: int) -> object:
        """Return a figure of a part, 0 before, 1 taken, 2 after."""
        return self._rows[part].get(name)

    def text(self, row: int, column: int) -> str:
        """Return a figure's name with its unit, or its value."""
        name = self._names[row]
        figure = CATALOGUE[name]
        if column == 0:
            words = " ".join(figure.heading.split())
            joined = "" if figure.unit.startswith("/") else " " if figure.unit == "%" else ", "
            return f"{words}{joined}{figure.unit}" if figure.unit else words
        value = self._rows[column - 1].get(name)
        return "" if value is None else shown(name, value)

    def tip(self, row: int) -> str | None:
        """Return what the figure means."""
        return CATALOGUE[self._names[row]].words or CATALOGUE[self._names[row]].title


class SpeciesModel(_Parts):
    """Stems of each species."""

    def __init__(self, parent: Any = None) -> None:
        super().__init__("Species", parent)
        self.counts: list[SpeciesCount] = []

    def show_species(self, counts: list[SpeciesCount]) -> None:
        """Show these."""
        self.beginResetModel()
        self.counts = counts
        self.endResetModel()

    def rowCount(self, parent: AnyIndex = _NOWHERE) -> int:
        """One row a species."""
        return 0 if parent.isValid() else len(self.counts)

    def text(self, row: int, column: int) -> str:
        """Return the name of a species, or its stems."""
        one = self.counts[row]
        return one.name if column == 0 else str((one.before, one.taken, one.after)[column - 1])


def _side(column: int) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignRight if column else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter
