"""The dated copies of a farm, and going back to one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmFileError
from farmmap.farm.day_words import in_words
from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.messages import hint
from farmmap.window.status_line import in_threes

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.files.copies import DatedCopy

_Counted = tuple["DatedCopy", "tuple[int, int] | None"]


class CopiesDialog(QDialog):
    """A line a copy, the newest first: when it was made, its blocks and trees, its size."""

    wanted = Signal(object)
    """The `DatedCopy` to go back to."""

    def __init__(
        self, path: Path, folder: Path, jobs: Jobs, *, may_change: bool = True, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._may_change = may_change
        self._copies: list[DatedCopy] = []
        self.setWindowTitle("Go back to an earlier copy")
        self.resize(640, 460)
        heading = QLabel(f"Earlier copies of “{path.stem}”")
        heading.setProperty("heading", True)
        self.table = QTableWidget(0, 4)
        self.table.setHorizontalHeaderLabels(["Made", "Blocks", "Trees", "Size"])
        self.table.setAccessibleName("Earlier copies")
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        self.table.verticalHeader().setVisible(False)
        self.table.horizontalHeader().setHighlightSections(False)
        self.table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.words = hint("Looking for copies …")
        more = hint(
            "Going back puts the copy in the place of the farm file. What the file holds now is kept as a copy first, "
            "so you can come back to it. A copy is kept each time the farm is opened, the last ten of them."
        )
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.back_button = buttons.addButton("Go back to this copy", QDialogButtonBox.ButtonRole.AcceptRole)
        self.back_button.setEnabled(False)
        buttons.accepted.connect(self._go_back)
        buttons.rejected.connect(self.reject)
        self.table.itemSelectionChanged.connect(self._follow)
        column = QVBoxLayout(self)
        for widget in (heading, self.table, self.words, more, buttons):
            column.addWidget(widget)

        def look(progress: Progress) -> list[_Counted]:
            from farmmap.files.copies import copies_of

            copies = copies_of(path, folder)
            counted: list[_Counted] = []
            for done, copy in enumerate(copies):
                progress.step(done, len(copies), "looking into the copies")
                try:
                    counted.append((copy, copy.counts()))
                except FarmFileError:
                    counted.append((copy, None))
            return counted

        jobs.start("copies", look, self._show, lambda error: self.words.setText(str(error)), owner=self)

    def _show(self, counted: list[_Counted]) -> None:
        self._copies = [copy for copy, _ in counted]
        self.table.setRowCount(len(counted))
        for row, (copy, counts) in enumerate(counted):
            blocks, trees = ("cannot be read", "") if counts is None else map(in_threes, counts)
            for place, words in enumerate((moment_in_words(copy.taken), blocks, trees, size_in_words(copy.bytes))):
                item = QTableWidgetItem(words)
                if place:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, place, item)
        if not counted:
            self.words.setText("No copy of this farm is there yet.")
        elif self._may_change:
            self.words.setText("Choose the copy to go back to.")
        else:
            self.words.setText("This farm may only be looked at now, so it cannot be taken back to a copy.")
        self._follow()

    def _chosen(self) -> DatedCopy | None:
        rows = {index.row() for index in self.table.selectionModel().selectedRows()}
        return self._copies[rows.pop()] if rows else None

    def _follow(self) -> None:
        self.back_button.setEnabled(self._may_change and self._chosen() is not None)

    def _go_back(self) -> None:
        copy = self._chosen()
        if copy is not None:
            self.accept()
            self.wanted.emit(copy)


def moment_in_words(moment: dt.datetime) -> str:
    """Return a moment as people write it: ``25 November 2026, 17:31``."""
    return f"{in_words(moment.date())}, {moment:%H:%M}"


def size_in_words(size: int) -> str:
    """Return a number of bytes as people read it: ``1.4 MB``."""
    for unit, of in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if size >= of:
            return f"{size / of:.{1 if size < 100 * of else 0}f} {unit}"
    return f"{size} bytes"
