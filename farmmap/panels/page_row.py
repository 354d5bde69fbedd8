"""A row of buttons, one for each page of a panel."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QSizePolicy, QStackedWidget, QToolButton, QWidget


class PageRow(QWidget):
    """Buttons of which one is down; its page is in sight.

    Parameters
    ----------
    words : tuple of str
        What stands on each button.
    pages : QStackedWidget
        The pages, in the same order; they may be put in later.
    parent : QWidget, optional
        Where it is shown.
    """

    def __init__(self, words: tuple[str, ...], pages: QStackedWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.buttons = QButtonGroup(self)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        for place, called in enumerate(words):
            button = QToolButton()
            button.setText(called)
            button.setCheckable(True)
            button.setChecked(place == 0)
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            self.buttons.addButton(button, place)
            row.addWidget(button)
        self.buttons.idToggled.connect(lambda place, is_on: pages.setCurrentIndex(place) if is_on else None)

    def show_page(self, place: int) -> None:
        """Bring a page into sight."""
        self.buttons.button(place).setChecked(True)
