"""Words that wrap and always get the height that they need."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QWidget


class WrappedLabel(QLabel):
    """A label of plain words; unlike Qt's own it keeps its height in splitters and scroll areas."""

    def __init__(self, words: str = "", parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)

    def setText(self, words: str) -> None:
        """Show other words."""
        super().setText(words)
        self._take_height()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height that the words need at this width."""
        super().resizeEvent(event)
        self._take_height()

    def _take_height(self) -> None:
        self.setMinimumHeight(0)  # else Qt answers with the height taken before
        self.setMinimumHeight(max(0, self.heightForWidth(self.width())))
