"""Asking where pages go, and handing them on in the background: into a file, or to a printer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QDialog, QFileDialog, QWidget

from farmmap.progress import Progress
from farmmap.sheets.page import Document
from farmmap.window.jobs import Jobs
from farmmap.window.printing.handing_on import AT_FULL_SIZE, KINDS, make_ready, print_pages, write_pages

if TYPE_CHECKING:  # brought in when somebody prints
    from PySide6.QtPrintSupport import QPrinter

Work = Callable[[Progress], Document]
"""Gives the pages; runs in the background, and may have to compose them first."""

KEY = "sheet"
_NOT_IN_NAMES = '/\\:*?"<>|'


class HandingOut(QObject):
    """Writes and prints, one thing at a time.

    Parameters
    ----------
    jobs : Jobs
        Where it runs.
    window : QWidget
        Over which it asks.
    """

    said = Signal(str)
    """What came of it, in words."""
    refused = Signal(object)
    busy_changed = Signal(bool)

    def __init__(self, jobs: Jobs, window: QWidget) -> None:
        super().__init__(window)
        self._jobs, self._window = jobs, window

    def ask_file(self, folder: Path, name: str, then: Callable[[Path], None], kinds: str = KINDS) -> None:
        """Ask for a file, and go on with it."""
        called = "".join("-" if letter in _NOT_IN_NAMES else letter for letter in name).strip() or "map"
        dialog = QFileDialog(self._window, "Write file", str(folder / f"{called}.pdf"), kinds)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("pdf")
        dialog.filterSelected.connect(lambda kind: dialog.setDefaultSuffix(kind.rpartition("*.")[2].rstrip(")")))
        dialog.fileSelected.connect(lambda path: then(Path(path)))
        _open(dialog)

    def write(self, work: Work, path: Path) -> None:
        """Write pages into a file."""

        def work_out(progress: Progress) -> Path:
            return write_pages(work(progress), path, progress)

        self.run(work_out, lambda written: f"Written into {written}.", "Writing the file")

    def ask_printer(self, document: Document) -> None:
        """Ask for a printer, set to the size of the pages, and print them there."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        make_ready(printer, document)
        dialog = QPrintDialog(printer, self._window)
        dialog.setWindowTitle("Print")
        dialog.setOption(QPrintDialog.PrintDialogOption.PrintPageRange, len(document.pages) > 1)
        dialog.setMinMax(1, len(document.pages))
        dialog.accepted.connect(lambda: self.print_on(document, printer))
        self.said.emit(AT_FULL_SIZE)
        _open(dialog)

    def print_on(self, document: Document, printer: QPrinter) -> None:
        """Print pages on a printer that was chosen."""

        def words(many: int) -> str:
            return f"Sent to the printer: {many} page{'' if many == 1 else 's'}. {AT_FULL_SIZE}"

        self.run(lambda progress: print_pages(document, printer, progress), words, "Printing")

    def run(self, work: Callable[[Progress], Any], words: Callable[[Any], str], what: str) -> None:
        """Do something in the background, and say what came of it.

        Parameters
        ----------
        work : callable
            What is done.
        words : callable
            Says what came of it, given its answer.
        what : str
            What is being done, for a person who waits.
        """

        def done(answer: Any) -> None:
            self.busy_changed.emit(False)
            self.said.emit(words(answer))

        def refused(error: BaseException) -> None:
            self.busy_changed.emit(False)
            self.refused.emit(error)

        def stopped() -> None:
            self.busy_changed.emit(False)
            self.said.emit("Stopped; nothing was handed on.")

        self.busy_changed.emit(True)
        self._jobs.start(KEY, work, done, refused, what, self, stopped=stopped)


def _open(dialog: QDialog) -> None:
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    QDialog.open(dialog)  # that of printing hides it behind one of its own
