"""Small things that the dialogs for printing share."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QDialog, QFrame, QPushButton, QScrollArea, QWidget

from farmmap.window.messages import hint

MOST_LINES = 4
"""Lines of warnings that are seen at once."""


def sentence(words: str) -> str:
    """Return words as a sentence: with a capital letter, and one full stop."""
    words = words.strip().rstrip(".")
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def single_shot(parent: QObject, after_ms: int, does: Callable[[], None]) -> QTimer:
    """Return a timer that does something once, so long after it was last started. [ms]."""
    timer = QTimer(parent)
    timer.setSingleShot(True)
    timer.setInterval(after_ms)
    timer.timeout.connect(does)
    return timer


def scrolled(page: QWidget) -> QScrollArea:
    """Return a page that is scrolled where there is no room for it."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setWidget(page)
    return area


def lay_out_now(dialog: QDialog) -> None:
    """Give all parts of a dialog their size before it is shown, as the first page is set for the room it will have."""
    layout = dialog.layout()
    assert layout is not None
    dialog.ensurePolished()
    layout.activate()


def enter_presses_nothing(dialog: QDialog) -> None:
    """Let Enter in a field of a dialog press none of its buttons."""
    for button in dialog.findChildren(QPushButton):
        button.setAutoDefault(False)


class Warnings(QScrollArea):
    """Words that warn, in as little room as they need, and scrolled where they are many."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words = hint("", warning=True)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidget(self._words)
        self.setAccessibleName("Warnings")
        self._fit()

    def text(self) -> str:
        """Return the words."""
        return self._words.text()

    def setText(self, words: str) -> None:
        """Show other words."""
        self._words.setText(words)
        self.setAccessibleDescription(words)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height that the words need in this width."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        needs = self._words.heightForWidth(max(self.viewport().width(), 1))
        self.setVisible(bool(self._words.text()))
        self.setFixedHeight(min(needs, self.fontMetrics().lineSpacing() * MOST_LINES) + 2)
