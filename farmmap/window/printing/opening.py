"""The dialogs for printing, by what is to be printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QDialog, QWidget

from farmmap.window.printing.dialog import PrintDialog
from farmmap.window.printing.pack_dialog import PackDialog

if TYPE_CHECKING:
    from farmmap.window.farm_files import FarmFiles
    from farmmap.window.jobs import Jobs
    from farmmap.window.session import Session

PACK = "pack"


def printing_dialog(what: str, session: Session, jobs: Jobs, files: FarmFiles, parent: QWidget) -> QDialog:
    """Return the dialog in which a sheet is composed, or the one for the pack."""
    if what == PACK:
        return PackDialog(session, jobs, files, parent)
    return PrintDialog(session, jobs, files, parent)
