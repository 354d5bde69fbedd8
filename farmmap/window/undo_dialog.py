"""Everything that was done since the farm was opened, to take it back to some point."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QListWidget, QVBoxLayout, QWidget

from farmmap.window.farm_files import FarmFiles
from farmmap.window.messages import hint


class UndoDialog(QDialog):
    """A list, the last first; taking back to a line takes back that line and all above it."""

    def __init__(self, files: FarmFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._files = files
        self.setWindowTitle("What was done")
        self.resize(520, 420)
        heading = QLabel("Done since the farm was opened, the last first")
        heading.setProperty("heading", True)
        self.list = QListWidget()
        self.list.setAccessibleName("What was done")
        self.words = hint("")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.back_button = buttons.addButton("Take back to here", QDialogButtonBox.ButtonRole.ActionRole)
        self.back_button.clicked.connect(self._take_back)
        buttons.rejected.connect(self.reject)
        self.list.currentRowChanged.connect(self._follow)
        column = QVBoxLayout(self)
        for widget in (heading, self.list, self.words, buttons):
            column.addWidget(widget)
        files.history_changed.connect(self._fill)
        self._fill()

    def _fill(self) -> None:
        self.list.clear()
        self.list.addItems(list(self._files.done_names))
        self.list.setCurrentRow(-1)
        self._follow(-1)

    def _follow(self, row: int) -> None:
        self.back_button.setEnabled(row >= 0)
        if not self.list.count():
            self.words.setText("Nothing was changed yet.")
        elif row < 0:
            self.words.setText("Choose a line to take it back, and with it everything above it.")
        elif row == 0:
            self.words.setText("Takes back the last change. It can be done again.")
        else:
            later = "the one" if row == 1 else f"the {row}"
            self.words.setText(f"Takes back this change and {later} after it. They can be done again.")

    def _take_back(self) -> None:
        row = self.list.currentRow()
        if row >= 0:
            self.back_button.setEnabled(False)
            self._files.undo(row + 1)
