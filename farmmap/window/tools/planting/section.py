"""A part of the planting box that is opened and folded, with a summary beside its name."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QVBoxLayout, QWidget


class Summary(QLabel):
    """Words that are cut short where there is no room for all of them; the tip has them whole."""

    def __init__(self) -> None:
        super().__init__()
        self._words = ""
        self.setProperty("quiet", True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def say(self, words: str) -> None:
        """Show words."""
        self._words = words
        self.setToolTip(words)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as much as there is room for."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setText(self.fontMetrics().elidedText(self._words, Qt.TextElideMode.ElideRight, max(self.width(), 0)))


class Section(QFrame):
    """One part of the box.

    Parameters
    ----------
    words : str
        Its name.
    """

    opened = Signal()

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words
        self.button = QToolButton()
        self.button.setText(words)
        self.button.setCheckable(True)
        self.button.setProperty("plain", True)
        self.button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.button.setArrowType(Qt.ArrowType.RightArrow)
        self.button.setAccessibleName(words)
        self.button.toggled.connect(self._toggled)
        self.summary = Summary()
        head = QHBoxLayout()
        head.setContentsMargins(0, 0, 4, 0)
        head.addWidget(self.button)
        head.addWidget(self.summary, 1)
        self.body = QWidget()
        self.column = QVBoxLayout(self.body)
        self.column.setContentsMargins(12, 2, 4, 10)
        self.column.setSpacing(8)
        self.body.hide()
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(head)
        whole.addWidget(self.body)

    @property
    def is_open(self) -> bool:
        """Whether its fields are shown."""
        return self.button.isChecked()

    def open(self, shown: bool = True) -> None:
        """Show its fields, or fold them."""
        self.button.setChecked(shown)

    def say(self, words: str) -> None:
        """Say beside its name what it comes to."""
        self.summary.say(words)
        self.button.setAccessibleDescription(words)

    def _toggled(self, shown: bool) -> None:
        self.button.setArrowType(Qt.ArrowType.DownArrow if shown else Qt.ArrowType.RightArrow)
        self.body.setVisible(shown)
        if shown:
            self.opened.emit()
