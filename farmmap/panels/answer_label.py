"""What came of something that a person asked for, in words under the form that asked."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from farmmap.panels.sentences import sentence
from farmmap.panels.wrapped_label import WrappedLabel


class AnswerLabel(WrappedLabel):
    """Takes no room while there is nothing to say; a refusal has the colour of a warning."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("", parent)
        self.setVisible(False)

    def say(self, words: str, *, warning: bool = False) -> None:
        """Say something as a sentence; "" says nothing.

        Parameters
        ----------
        words : str
            What is said; it is given a capital and a full stop.
        warning : bool
            Whether something was refused or should be looked at.
        """
        self.setProperty("warning", warning)
        self.style().unpolish(self)
        self.style().polish(self)
        self.setText(sentence(words))
        self.setVisible(bool(words))
