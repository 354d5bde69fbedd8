"""What stands in the window while no farm is open: what to do first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

WIDE_CHARACTERS = 62
"""Width of the column of words, in characters."""


class Welcome(QWidget):
    """A few friendly words and the ways to begin."""

    new_wanted = Signal()
    open_wanted = Signal()
    sample_wanted = Signal()
    path_wanted = Signal(object)
    copies_wanted = Signal(object)
    """Path of a farm whose earlier copies are wanted."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        heading = QLabel("Your farm's trees on one map")
        font = heading.font()
        font.setPointSizeF(font.pointSizeF() * 1.7)
        heading.setFont(font)
        words = _quiet(
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
        self.copies: list[QPushButton] = []
        self._rows: list[QWidget] = []
        self._recent = QVBoxLayout()
        self._recent_heading = _quiet("Opened before:")
        box = QWidget()
        box.setFixedWidth(self.fontMetrics().averageCharWidth() * WIDE_CHARACTERS)
        column = QVBoxLayout(box)
        column.setSpacing(12)
        for widget in (heading, words, self.sample, self.open, self.new):
            column.addWidget(widget)
        column.addSpacing(10)
        column.addWidget(self._recent_heading)
        column.addLayout(self._recent)
        self._begin = box
        self._opening = QLabel()
        self._opening.setVisible(False)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        middle = QHBoxLayout()
        middle.addStretch(1)
        middle.addWidget(self._opening)
        middle.addStretch(1)
        outer.addLayout(middle)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(box)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addStretch(3)
        self.show_recent(())

    def show_opening(self, path: Path | None) -> None:
        """Show nothing but that a farm is being opened; None shows the ways to begin."""
        self._opening.setText("" if path is None else f"Opening {path.stem.replace('<', ' ')} …")
        self._opening.setVisible(path is not None)
        self._begin.setVisible(path is None)

    def show_recent(self, paths: Sequence[Path]) -> None:
        """Offer farm files that were opened before, or the copies of one that is not there any more."""
        for row in self._rows:
            self._recent.removeWidget(row)
            row.hide()
            row.deleteLater()
        self._rows, self.recent, self.copies = [], [], []
        for path in paths:
            row = QWidget()
            line = QHBoxLayout(row)
            line.setContentsMargins(0, 0, 0, 0)
            if path.is_file():
                button = _button(path.stem, str(path))
                button.setFlat(True)
                button.clicked.connect(lambda _checked=False, path=path: self.path_wanted.emit(path))
                line.addWidget(button, 1)
                self.recent.append(button)
            else:
                gone = _button(f"{path.stem} (not there any more)", str(path))
                gone.setFlat(True)
                gone.setEnabled(False)
                line.addWidget(gone, 1)
            copies = QPushButton("Earlier copies…")
            copies.setToolTip(f"Go back to an earlier copy of {path}")
            copies.setFlat(True)
            copies.clicked.connect(lambda _checked=False, path=path: self.copies_wanted.emit(path))
            line.addWidget(copies)
            self._recent.addWidget(row)
            self._rows.append(row)
            self.copies.append(copies)
        self._recent_heading.setVisible(bool(paths))


def _quiet(words: str) -> QLabel:
    label = QLabel(words)
    label.setWordWrap(True)
    label.setProperty("quiet", True)
    return label


def _button(words: str, more: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(more)
    button.setAccessibleDescription(more)
    button.setStyleSheet("QPushButton { text-align: left; padding: 10px 14px; }")
    return button
