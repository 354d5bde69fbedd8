"""Saying that a farm could not be opened or a change not written, with what can be done about it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QMessageBox, QPushButton

from farmmap.errors import FarmmapError

if TYPE_CHECKING:
    from farmmap.window.farm_window import FarmWindow

WITHOUT_IT = "The map shows the farm without this change."


class TroubleBox(QMessageBox):
    """A message with buttons that do something about it; the window goes on."""

    def __init__(self, window: FarmWindow, words: str, more: str = "") -> None:
        super().__init__(QMessageBox.Icon.Warning, "farmmap", words, QMessageBox.StandardButton.Ok, window)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setInformativeText(more)
        self.setEscapeButton(QMessageBox.StandardButton.Ok)  # with other buttons beside it, Qt would take none
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)

    def offer(self, words: str, do: Callable[[], None]) -> QPushButton:
        """Add a button that closes the message and does something."""
        button = self.addButton(words, QMessageBox.ButtonRole.ActionRole)
        button.clicked.connect(do)
        return button


def tell_not_written(window: FarmWindow, error: FarmmapError) -> None:
    """Say that a change is not in the file, and offer what may help; a message that still stands says it besides."""
    for standing in window.findChildren(TroubleBox):
        if standing.isVisible() and standing.informativeText() == WITHOUT_IT:
            if str(error) not in standing.text():
                standing.setText(f"{standing.text()}\n\n{error}")
            return
    path = window.session.path
    box = TroubleBox(window, str(error), WITHOUT_IT)
    if path is not None:
        if path.is_file():
            box.offer("Open the farm again", window.open_again)
        else:
            box.offer("Earlier copies…", lambda: window.copies_of(path))
        box.offer("Write the farm to another file…", lambda: write_elsewhere(window))
    box.open()


def tell_not_opened(window: FarmWindow, path: Path, error: FarmmapError) -> None:
    """Say that a farm could not be opened, and offer its earlier copies."""
    box = TroubleBox(window, str(error))
    box.offer("Earlier copies…", lambda: window.copies_of(path))
    box.open()


def write_elsewhere(window: FarmWindow) -> None:
    """Ask for a new file, write the farm as it is shown into it, and open that."""
    dialog = QFileDialog(window, "Write the farm to another file", str(Path.home()), "Farm files (*.gpkg)")
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix("gpkg")
    dialog.fileSelected.connect(lambda name: window.files.write_to(Path(name)))
    dialog.open()
