"""What was chosen one after the other while a sheet is composed, to go back and forth in it."""

from __future__ import annotations

import time

from farmmap.sheets.chosen import SheetChoices

TOGETHER_S = 1.5
"""Changes of the same kind that follow each other within this time are one step. [s]"""


class ChoicesHistory:
    """Choices as they are now, those before, and those that were taken back.

    Parameters
    ----------
    first : SheetChoices
        What is chosen at first.
    """

    def __init__(self, first: SheetChoices) -> None:
        self.now = first
        self._before: list[SheetChoices] = []
        self._after: list[SheetChoices] = []
        self._kind = ""
        self._changed_at = 0.0

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return bool(self._before)

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back."""
        return bool(self._after)

    def change(self, choices: SheetChoices, kind: str = "") -> bool:
        """Go on to other choices; return whether they are other.

        Parameters
        ----------
        choices : SheetChoices
            What is chosen now.
        kind : str
            Kind of change, such as typing in one field: those of a kind that follow each other at once are one step.
        """
        if choices == self.now:
            return False
        moment = time.monotonic()
        together = bool(kind) and kind == self._kind and moment - self._changed_at < TOGETHER_S and self._before
        if not together:
            self._before.append(self.now)
        self._kind, self._changed_at = kind, moment
        self._after.clear()
        self.now = choices
        return True

    def undo(self) -> None:
        """Go a step back."""
        if self._before:
            self._after.append(self.now)
            self.now = self._before.pop()
            self._kind = ""

    def redo(self) -> None:
        """Do again what was taken back."""
        if self._after:
            self._before.append(self.now)
            self.now = self._after.pop()
            self._kind = ""

    def begin_with(self, choices: SheetChoices) -> None:
        """Begin anew, as with another sheet."""
        self.now, self._kind = choices, ""
        self._before.clear()
        self._after.clear()
