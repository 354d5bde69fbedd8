"""Keeping a composed sheet with the farm: what is changed is written as it is changed."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QTimer

from farmmap.editing.kept_sheets import free_name, kept_sheets, sheet_changed, sheet_kept, sheet_removed, sheet_renamed
from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.sheets.chosen import SheetChoices, written
from farmmap.window.farm_files import FarmFiles
from farmmap.window.printing.edit_line import EditLine
from farmmap.window.session import Session

WRITE_AFTER_MS = 800
"""How long a change waits for the next, so that a move by keys is one edit. [ms]"""


@dataclass(eq=False)
class _AtHand:
    """A sheet that is or was composed: its row once it is kept, and its choices that are not yet in the file."""

    row: int = 0
    coming: bool = False
    wanted: SheetChoices | None = None


class SheetKeeper(EditLine):
    """Writes sheets into the farm; one of them is at hand.

    Parameters
    ----------
    session, files
        As for `EditLine`.
    """

    def __init__(self, session: Session, files: FarmFiles) -> None:
        super().__init__(session, files)
        self._sheet = _AtHand()
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(WRITE_AFTER_MS)
        self._pause.timeout.connect(self.flush)
        session.farm_changed.connect(self.changed)

    @property
    def current(self) -> int:
        """Row of the sheet at hand; 0 if it is not kept, or no longer, as after a step back in the main window."""
        farm, row = self._session.farm, self._sheet.row
        return row if farm is not None and row in farm.tables["sheets"].index else 0

    @property
    def name(self) -> str:
        """Name of the sheet at hand; "" if it is not kept."""
        farm = self._session.farm
        kept = () if farm is None else kept_sheets(farm)
        return next((sheet.name for sheet in kept if sheet.id == self.current), "")

    @property
    def is_kept(self) -> bool:
        """Whether the sheet at hand is kept, or is just being kept."""
        return bool(self.current) or self._sheet.coming

    @property
    def is_busy(self) -> bool:
        """Whether something is still to be written."""
        return super().is_busy or self._pause.isActive()

    def keep(self, choices: SheetChoices, name: str, *, exactly: bool = True) -> None:
        """Keep the sheet at hand under a name; with a number behind it, unless just that name is wished for."""
        self.flush()
        sheet = self._sheet = _AtHand(coming=True)

        def make(farm: Farm) -> Edit:
            return sheet_kept(farm, name if exactly else free_name(farm, name), written(choices)).edit

        def settled(edit: Edit | None) -> None:
            sheet.coming = False
            if edit is not None:
                sheet.row = int(edit.changes["sheets"].after.index[0])

        self.propose(make, settled)

    def rename(self, name: str) -> None:
        """Give the sheet at hand another name."""
        row = self.current
        self.propose(lambda farm: sheet_renamed(farm, row, name).edit)

    def remove(self, row: int) -> None:
        """Keep a sheet no longer."""
        sheet = self._sheet

        def settled(edit: Edit | None) -> None:
            if edit is not None and sheet.row == row:
                sheet.row, sheet.wanted = 0, None

        self.propose(lambda farm: sheet_removed(farm, row).edit, settled)

    def take_up(self, row: int) -> None:
        """Go on with another sheet; 0 with one that is not kept."""
        self.flush()
        self._sheet = _AtHand(row)
        self.changed.emit()

    def follow(self, choices: SheetChoices) -> None:
        """Write what is chosen now soon, if the sheet at hand is kept."""
        if self.is_kept:
            self._sheet.wanted = choices
            self._pause.start()

    def flush(self) -> None:
        """Write at once what waits to be written."""
        self._pause.stop()
        sheet = self._sheet
        if sheet.wanted is not None:
            self.when_free(lambda: self._write(sheet))

    def leave(self) -> None:
        """Write what is still to be written, and be gone."""
        self.flush()
        super().leave()

    def _write(self, sheet: _AtHand) -> None:
        choices, sheet.wanted = sheet.wanted, None
        farm = self._session.farm
        there = () if farm is None else kept_sheets(farm)
        now = next((one for one in there if one.id == sheet.row), None)
        if choices is not None and now is not None and now.choices != written(choices):
            self.propose(lambda farm: sheet_changed(farm, sheet.row, written(choices)).edit)
