"""A quiet band over the map: why the farm may only be looked at, or what could not be done for its safety."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from farmmap.window.session import Session


class HoldingBand(QFrame):
    """Shown only while there is something to say."""

    again_wanted = Signal()
    """The farm is to be opened again, to see whether it may be changed now."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._notice = ""
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.again_button = QPushButton("Try again")
        self.again_button.setToolTip("Opens the farm again, to change it if nobody else has it open any more")
        self.again_button.clicked.connect(self.again_wanted)
        self.close_button = QPushButton("Close")
        self.close_button.clicked.connect(lambda: self.show_notice(""))
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 10, 6)
        row.addWidget(self.words, 1)
        row.addWidget(self.again_button, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self.close_button, 0, Qt.AlignmentFlag.AlignVCenter)
        session.may_edit_changed.connect(self._follow)
        self._follow()

    def show_trouble(self, error: BaseException) -> None:
        """Say quietly what went wrong."""
        self.show_notice(str(error))

    def show_notice(self, words: str) -> None:
        """Say something until it is closed; "" says nothing."""
        self._notice = words
        self._follow()

    def _follow(self) -> None:
        held = self._session.held_by
        self.words.setText(f"To look at only. {held}" if held else self._notice)
        self.again_button.setVisible(bool(held))
        self.close_button.setVisible(not held)
        self.setVisible(bool(held or self._notice))
