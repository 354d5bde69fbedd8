"""Saying what went wrong: in plain words where the words are known, else with a report that can be copied."""

from __future__ import annotations

import platform
import traceback

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QMessageBox, QPlainTextEdit, QVBoxLayout, QWidget

from farmmap import __version__
from farmmap.errors import FarmmapError

CAUTION = (
    "A map to work by, not a survey: outlines and areas are as good as the points they were drawn from. "
    "Before digging, felling or planting near a power line, pipe or boundary, ask its owner where it runs and how "
    "far to keep away."
)
"""What every reader of a map should know."""

POWER_LINE = (
    "There is a power line on this farm. Keep people, trees and machines clear of it, and ask the network company "
    "before you plant, prune or fell near it."
)
"""What is said where a power line is on the map."""


def tell(parent: QWidget, error: BaseException) -> QDialog:
    """Show an error over a window, which goes on; return the dialog.

    Parameters
    ----------
    parent : QWidget
        The window.
    error : BaseException
        A `FarmmapError` is shown as it stands, any other with its report.
    """
    if isinstance(error, FarmmapError):
        box = QMessageBox(QMessageBox.Icon.Warning, "farmmap", str(error), QMessageBox.StandardButton.Ok, parent)
        box.setTextFormat(Qt.TextFormat.PlainText)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()
        return box
    return show_report(parent, "Something went wrong in farmmap itself.", report_of(error))


def show_report(parent: QWidget, words: str, report: str) -> ReportDialog:
    """Show a report over a window, which goes on; return the dialog."""
    dialog = ReportDialog(words, report, parent)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()
    return dialog


def report_of(error: BaseException) -> str:
    """Return what somebody needs to know to put an error right."""
    told = "".join(traceback.format_exception(error))
    return f"farmmap {__version__}, Python {platform.python_version()}, {platform.system()}\n\n{told}"


class ReportDialog(QDialog):
    """Words about what went wrong, and a report that can be copied."""

    def __init__(self, words: str, report: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("farmmap")
        self.resize(640, 380)
        label = QLabel(f"{words}\nWhoever looks after farmmap for you can use this report:")
        label.setWordWrap(True)
        self.report = QPlainTextEdit(report)
        self.report.setReadOnly(True)
        self.report.setTabChangesFocus(True)
        self.report.setAccessibleName("Report")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.copy_button = buttons.addButton("Copy the report", QDialogButtonBox.ButtonRole.ActionRole)
        self.copy_button.clicked.connect(lambda: QGuiApplication.clipboard().setText(report))
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        for widget in (label, self.report, buttons):
            column.addWidget(widget)


def hint(words: str, *, warning: bool = False) -> QLabel:
    """Return a label of quiet or warning words that wraps."""
    label = QLabel(words)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setProperty("warning" if warning else "quiet", True)
    return label
