"""What stands in the window while no farm is open: what to do first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from farmmap.window.messages import hint

WIDE_CHARACTERS = 62
"""Width of the column of words, in characters."""


class Welcome(QWidget):
    """A few friendly words and the ways to begin."""

    new_wanted = Signal()
    open_wanted = Signal()
    sample_wanted = Signal()
    path_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        heading = QLabel("Your farm's trees on one map")
        font = heading.font()
        font.setPointSizeF(font.pointSizeF() * 1.7)
        heading.setFont(font)
        words = hint(
            "Bring in a boundary, a creek, your blocks and a list of trees with their diameters. "
            "farmmap draws them and works out stocking, basal area and creek cover, block by block."
        )
        self.sample = _button("Look at the sample farm", "Pipit Downs, an invented hill farm with a few thousand trees")
        self.open = _button("Open a farm file…", "A farm that you have already (Ctrl+O)")
        self.new = _button("Start a new farm…", "An empty farm, into which you bring your own data (Ctrl+N)")
        self.sample.clicked.connect(self.sample_wanted)
        self.open.clicked.connect(self.open_wanted)
        self.new.clicked.connect(self.new_wanted)
        self.recent: list[QPushButton] = []
        self._recent = QVBoxLayout()
        self._recent_heading = hint("Opened before:")
        box = QWidget()
        box.setFixedWidth(self.fontMetrics().averageCharWidth() * WIDE_CHARACTERS)
        column = QVBoxLayout(box)
        column.setSpacing(12)
        for widget in (heading, words, self.sample, self.open, self.new):
            column.addWidget(widget)
        column.addSpacing(10)
        column.addWidget(self._recent_heading)
        column.addLayout(self._recent)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(box)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addStretch(3)
        self.show_recent(())

    def show_recent(self, paths: Sequence[Path]) -> None:
        """Offer farm files that were opened before."""
        for button in self.recent:
            self._recent.removeWidget(button)
            button.deleteLater()
        self.recent = []
        for path in paths:
            button = _button(path.stem, str(path))
            button.setFlat(True)
            button.clicked.connect(lambda _checked=False, path=path: self.path_wanted.emit(path))
            self._recent.addWidget(button)
            self.recent.append(button)
        self._recent_heading.setVisible(bool(paths))


def _button(words: str, more: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(more)
    button.setAccessibleDescription(more)
    button.setStyleSheet("QPushButton { text-align: left; padding: 10px 14px; }")
    return button
