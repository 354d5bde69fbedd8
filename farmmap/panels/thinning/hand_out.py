"""What is done with marks that stand: the list is handed out, the trees are felled, or the marks are taken off."""

from __future__ import annotations

import datetime as dt
import re
import threading
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QDate, QTimer, Signal
from PySide6.QtWidgets import (
    QDateEdit,
    QFileDialog,
    QGridLayout,
    QMenu,
    QPushButton,
    QWidget,
)

from farmmap.editing.proposed import Proposed
from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.panels.wheel import leave_wheel
from farmmap.plans.thinning.marks import felled_as_marked, marks_cleared
from farmmap.plans.thinning.result import Thinning

KINDS = {
    "gpx": ("For a GPS or telephone (GPX)…", "Points for a GPS (*.gpx)"),
    "csv": ("As a table (CSV)…", "Table (*.csv)"),
    "pdf": ("Field sheet with a map (PDF)…", "Field sheet (*.pdf)"),
}
"""How the marking list is handed out: the ending, the words of the menu, and those of the dialog."""
LOOK_EVERY_MS = 30
"""How often it is looked whether a list is written. [ms]"""


class HandOut(QWidget):
    """Buttons for marks that stand on the trees of one block."""

    edit_wanted = Signal(object)
    """Works an edit out from the farm as it is: ``Farm -> Proposed``."""
    said = Signal(str)
    """What came of it, in words."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._made: Thinning | None = None
        self._may_edit = True
        self._writing: _Writing | None = None
        self._look = QTimer(self)
        self._look.setInterval(LOOK_EVERY_MS)
        self._look.timeout.connect(self._see_whether_written)
        self.list_button = QPushButton("Hand out the list")
        menu = QMenu(self.list_button)
        self.list_actions = {ending: menu.addAction(words) for ending, (words, _) in KINDS.items()}
        for ending, action in self.list_actions.items():
            action.triggered.connect(lambda _on=False, ending=ending: self._ask_where(ending))
        self.list_button.setMenu(menu)
        self.clear_button = QPushButton("Take marks off")
        self.clear_button.clicked.connect(self._clear)
        self.felled_button = QPushButton("Felled as marked")
        self.felled_button.setToolTip("Every tree that is marked to be taken out counts as felled on that day")
        self.felled_button.clicked.connect(self._fell)
        self.day = QDateEdit()
        leave_wheel(self.day)
        self.day.setDisplayFormat("d MMM yyyy")
        self.day.setCalendarPopup(True)
        self.day.setAccessibleName("Day of felling")
        self.day.setDate(QDate.currentDate())
        self.day.setMaximumDate(QDate.currentDate())
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.addWidget(self.list_button, 0, 0)
        grid.addWidget(self.clear_button, 0, 1)
        grid.addWidget(self.felled_button, 1, 0)
        grid.addWidget(self.day, 1, 1)
        grid.setColumnStretch(2, 1)

    def let_edit(self, may: bool) -> None:
        """Offer what changes the farm, or only the list."""
        self._may_edit = may
        self._enable()

    def show_thinning(self, farm: Farm, made: Thinning | None) -> None:
        """Be about the marks of a block as they stand; None while there are none to work with."""
        self._farm, self._made = farm, made
        self._enable()

    def _enable(self) -> None:
        made = self._made
        takes = made is not None and len(made.take_ids) > 0
        any_marks = made is not None and bool((made.mark != "").any())
        self.felled_button.setEnabled(self._may_edit and takes)
        self.day.setEnabled(self._may_edit and takes)
        self.list_button.setEnabled(any_marks and self._writing is None)
        self.clear_button.setEnabled(self._may_edit and any_marks)

    def write(self, path: Path) -> None:
        """Write the marking list, in the background: points, a table or a field sheet, by the ending of the name."""
        if self._farm is None or self._made is None or self._writing is not None:
            return
        self._writing = _Writing(self._farm, self._made, path)
        self._writing.start()
        self._look.start()
        self.list_button.setEnabled(False)

    def _see_whether_written(self) -> None:
        done = self._writing
        if done is None or done.is_alive():
            return
        self._look.stop()
        self._writing = None
        self._enable()
        if done.error is None:
            self.said.emit(f"The marking list of {done.made.name} is in {done.path.name}.")
        elif isinstance(done.error, FarmmapError | OSError):
            self.said.emit(f"The list could not be written: {done.error}")
        else:
            raise done.error

    def _ask_where(self, ending: str) -> None:
        if self._made is None:
            return
        name = re.sub(r"[^\w]+", "_", self._made.name).strip("_").lower() or "block"
        dialog = QFileDialog(self, "Hand out the marking list", f"marking_{name}.{ending}", KINDS[ending][1])
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(ending)
        dialog.fileSelected.connect(lambda chosen: self.write(Path(chosen)))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _clear(self) -> None:
        self._want(marks_cleared)

    def _fell(self) -> None:
        day = self.day.date()
        on = dt.date(day.year(), day.month(), day.day())
        self._want(lambda farm, block: felled_as_marked(farm, block, on))

    def _want(self, make: Callable[[Farm, int], Proposed]) -> None:
        if self._made is not None:
            block = self._made.block
            self.edit_wanted.emit(lambda farm: make(farm, block))


class _Writing(threading.Thread):
    """Writes one list or sheet."""

    def __init__(self, farm: Farm, made: Thinning, path: Path) -> None:
        super().__init__(name="marking list")
        self._farm, self.made, self.path = farm, made, path
        self.error: Exception | None = None

    def run(self) -> None:
        """Write it, and keep what went wrong."""
        from farmmap.plans.thinning.marking_list import write_marking
        from farmmap.sheets.marking_sheet import write_marking_sheet

        try:
            if self.path.suffix.lower() == ".pdf":
                write_marking_sheet(self._farm, self.made, self.path)
            else:
                write_marking(self._farm, self.made, self.path)
        except Exception as error:  # noqa: BLE001 - told in the window's thread
            self.error = error
