"""The row of buttons over the page: back and forth in what was done, in the pages, and how large the page is shown."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QWidget


class PageBar(QWidget):
    """Buttons for what is done with the page on the screen; who has it connects them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.undo_button = _button("Undo", "Take the last step back (Ctrl+Z)")
        self.redo_button = _button("Redo", "Do again what was taken back (Ctrl+Y)")
        self.anew_button = _button("Arrange anew", "Drop all places of your own, and arrange the page by itself")
        self.back_button = _button("◀", "The page before (Page Up)", "The page before")
        self.on_button = _button("▶", "The next page (Page Down)", "The next page")
        self.number_words = QLabel()
        self.smaller_button = _button("−", "Show the page smaller (−)", "Smaller")
        self.larger_button = _button("+", "Show the page larger (+)", "Larger")
        self.whole_button = _button("Whole page", "Show the whole page (Home)")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for group in (
            (self.undo_button, self.redo_button, self.anew_button),
            (self.back_button, self.number_words, self.on_button),
            (self.smaller_button, self.larger_button, self.whole_button),
        ):
            if row.count():
                row.addStretch(1)
            for part in group:
                row.addWidget(part)
        self.show_number(0, 1)

    def leave_out_steps(self) -> None:
        """Do without the buttons for what was done, where nothing is composed."""
        for button in (self.undo_button, self.redo_button, self.anew_button):
            button.hide()

    def show_number(self, number: int, many: int) -> None:
        """Say which page it is, from 0, of how many."""
        self.number_words.setText(f"Page {number + 1} of {many}" if many > 1 else "")
        for button in (self.back_button, self.on_button):
            button.setVisible(many > 1)
        self.back_button.setEnabled(number > 0)
        self.on_button.setEnabled(number < many - 1)


def _button(words: str, tip: str, name: str = "") -> QToolButton:
    button = QToolButton()
    button.setText(words)
    button.setToolTip(tip)
    button.setAccessibleName(name or words)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
