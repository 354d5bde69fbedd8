"""What a file would bring: how many rows come in, which do not and why, and what was taken for granted."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHeaderView, QLabel, QPlainTextEdit, QTableWidget, QTableWidgetItem, QVBoxLayout, QWidget

from farmmap.farm.schema import TABLES
from farmmap.files.bring import Brought
from farmmap.window.messages import hint

MOST_SHOWN = 1000
"""Bad rows shown; all of them go into the file."""


class BringReport(QWidget):
    """The second page of bringing in."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.counts = QLabel()
        self.counts.setProperty("heading", True)
        self.counts.setWordWrap(True)
        self.said = QPlainTextEdit()
        self.said.setReadOnly(True)
        self.said.setTabChangesFocus(True)
        self.said.setAccessibleName("What was taken for granted")
        self._bad_heading = hint("")
        self.bad = QTableWidget(0, 3)
        self.bad.setHorizontalHeaderLabels(["Row", "Why it does not come in", "What stands there"])
        self.bad.setAccessibleName("Rows that do not come in")
        self.bad.verticalHeader().setVisible(False)
        self.bad.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.bad.setTabKeyNavigation(False)
        self.bad.setWordWrap(False)
        self.bad.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        self.bad.horizontalHeader().resizeSection(1, self.fontMetrics().averageCharWidth() * 46)
        self.bad.horizontalHeader().setStretchLastSection(True)
        self.bad.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        self.outcome = QLabel()
        self.outcome.setWordWrap(True)
        self.outcome.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.counts, self.said, self._bad_heading, self.bad, self.outcome):
            column.addWidget(widget)
        column.setStretch(1, 1)
        column.setStretch(3, 2)

    def show_brought(self, brought: Brought) -> None:
        """Show what a file would bring."""
        words = TABLES[brought.plan.table].words.lower()
        self.counts.setText(
            f"{brought.read} rows read: {brought.came_in} come in as {words}, {len(brought.bad)} do not."
        )
        self.said.setPlainText("\n".join(brought.said) or "Nothing had to be taken for granted.")
        shown = brought.bad[:MOST_SHOWN]
        self._bad_heading.setVisible(bool(shown))
        self.bad.setVisible(bool(shown))
        more = f" The first {MOST_SHOWN} are shown." if len(brought.bad) > MOST_SHOWN else ""
        self._bad_heading.setText(f"These rows are put into a file beside {brought.plan.source.path.name}.{more}")
        self.bad.setRowCount(len(shown))
        for row, one in enumerate(shown):
            raw = ", ".join(f"{key}: {value}" for key, value in one.raw.items() if value)
            for column, text in enumerate((str(one.row_number), one.reason, raw)):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                self.bad.setItem(row, column, item)
        self.outcome.setText("" if brought.edit is not None else "There is nothing in the file that could come in.")

    def show_set_aside(self, path: Path | None) -> None:
        """Say where the rows that do not come in were put."""
        self._bad_heading.setText("" if path is None else f"These rows are now in {path}.")

    def show_done(self) -> None:
        """Say that it is done."""
        self.outcome.setText("It is in the farm file now.")
