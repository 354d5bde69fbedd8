"""A row of buttons, one for each page of a panel."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QSizePolicy, QToolButton, QWidget

from farmmap.panels.page_stack import PageStack

ROUND_WORDS_PX = 16
"""What a button takes at least beside its words, its edges among it. [px]"""


class PageRow(QWidget):
    """Buttons of which one is down; its page is in sight.

    Parameters
    ----------
    words : tuple of str
        What stands on each button.
    pages : PageStack
        The pages, in the same order.
    parent : QWidget, optional
        Where it is shown.
    """

    def __init__(self, words: tuple[str, ...], pages: PageStack, parent: QWidget | None = None) -> None:
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
            button.setProperty("tool", True)  # narrow edges: all pages fit into the narrowest column
            button.setMinimumWidth(button.fontMetrics().horizontalAdvance(called) + ROUND_WORDS_PX)
            self.buttons.addButton(button, place)
            row.addWidget(button)
        self.buttons.idToggled.connect(lambda place, is_on: pages.setCurrentIndex(place) if is_on else None)

    def show_page(self, place: int) -> None:
        """Bring a page into sight."""
        self.buttons.button(place).setChecked(True)
