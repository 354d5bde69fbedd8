"""Edits carried out one after the other, each made from the farm as the last one left it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

from farmmap.errors import BadInput
from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.window.farm_files import FarmFiles
from farmmap.window.session import Session


def _nothing(_edit: Edit | None) -> None:
    """Nobody waits for it."""


class EditLine(QObject):
    """Edits of one dialog; what is still to be written when that is left is written all the same.

    Parameters
    ----------
    session : Session
        The farm.
    files : FarmFiles
        Writes edits.
    """

    changed = Signal()
    """An edit is in the file, or was refused."""
    refused = Signal(object)

    def __init__(self, session: Session, files: FarmFiles) -> None:
        super().__init__(files)
        self._session, self._files = session, files
        self._waiting: list[Callable[[], None]] = []
        self._busy = self._leaves = False

    @property
    def is_busy(self) -> bool:
        """Whether something is still to be written."""
        return self._busy

    def propose(self, make: Callable[[Farm], Edit], settled: Callable[[Edit | None], None] = _nothing) -> None:
        """Carry out an edit when its turn comes.

        Parameters
        ----------
        make : callable
            Makes the edit from the farm as it is then; may raise `BadInput`.
        settled : callable, optional
            Given the edit once it is in the file, or None if it is not.
        """
        self.when_free(lambda: self._carry_out(make, settled))

    def when_free(self, does: Callable[[], None]) -> None:
        """Do something when no edit is on its way."""
        if self._busy:
            self._waiting.append(does)
        else:
            does()

    def leave(self) -> None:
        """Write what is still to be written, and be gone."""
        self._leaves = True
        self._go_on()

    def _carry_out(self, make: Callable[[Farm], Edit], settled: Callable[[Edit | None], None]) -> None:
        farm = self._session.farm
        if farm is None:
            return
        try:
            edit = make(farm)
        except BadInput as error:
            settled(None)
            self.refused.emit(error)
            self.changed.emit()
            return

        def done() -> None:
            self._busy = False
            settled(edit)
            self.changed.emit()
            self._go_on()

        def failed(error: BaseException) -> None:
            self._busy = False
            settled(None)
            self.refused.emit(error)
            self.changed.emit()
            self._go_on()

        self._busy = True
        self._files.carry_out(edit, done, failed, self)

    def _go_on(self) -> None:
        while self._waiting and not self._busy:
            self._waiting.pop(0)()
        if self._leaves and not self._busy:
            self.deleteLater()
