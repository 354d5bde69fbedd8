"""The head line's end: what would be taken back or done again, and buttons that do it."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QWidget

from farmmap.window.farm_files import FarmFiles
from farmmap.window.session import Session

WIDEST_CHARACTERS = 44
"""Characters of a change's name that are shown at most."""


class UndoLine(QWidget):
    """Two buttons; each names what it does, shortened where there is little room."""

    def __init__(self, session: Session, files: FarmFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._files = session, files
        self.undo_button = _button()
        self.redo_button = _button()
        self.undo_button.clicked.connect(lambda _checked: files.undo())
        self.redo_button.clicked.connect(lambda _checked: files.redo())
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(_GAP_PX)
        row.addStretch(1)
        row.addWidget(self.undo_button)
        row.addWidget(self.redo_button)
        self.undo_button.setText("Undo")
        self.setMinimumHeight(self.undo_button.sizeHint().height())  # the map does not move when they come and go
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        files.history_changed.connect(self.follow)
        session.may_edit_changed.connect(self.follow)
        self.follow()

    def sizeHint(self) -> QSize:
        """As wide as a name of usual length."""
        return QSize(self.fontMetrics().averageCharWidth() * WIDEST_CHARACTERS, super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:
        """Nothing, where there is no room at all."""
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Shorten the names to what there is room for."""
        super().resizeEvent(event)
        self.follow()

    def follow(self) -> None:
        """Name what can be taken back and what can be done again."""
        may_edit = self._session.may_edit
        undo, redo = (self._files.undo_name, self._files.redo_name) if may_edit else ("", "")
        needs = _needed(self, "Undo", undo), _needed(self, "Redo", redo)
        room = self.width() - _GAP_PX
        redo_px = min(needs[1], max(room - needs[0], room // 2))
        for button, word, name, keys, px in (
            (self.undo_button, "Undo", undo, "Ctrl+Z", room - redo_px),
            (self.redo_button, "Redo", redo, "Ctrl+Y", redo_px),
        ):
            button.setVisible(bool(name))
            words = f"{word}: {name}"
            shown = self.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, px - _PAD_PX)
            button.setText(shown.replace("&", "&&"))
            button.setToolTip(f"{words} ({keys})")
            button.setAccessibleName(words)


_GAP_PX = 6
_PAD_PX = 36
"""What a button takes beside its words. [px]"""


def _needed(line: UndoLine, word: str, name: str) -> int:
    """Return how wide a button is that shows the whole name [px]."""
    return line.fontMetrics().horizontalAdvance(f"{word}: {name}") + _PAD_PX if name else 0


def _button() -> QPushButton:
    button = QPushButton()
    button.setAutoDefault(False)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
