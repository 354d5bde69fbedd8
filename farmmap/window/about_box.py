"""What the program is, and what a map is not."""

from PySide6.QtWidgets import QMessageBox, QWidget

from farmmap import __version__
from farmmap.window.messages import CAUTION


def about_box(parent: QWidget) -> QMessageBox:
    """Return a box that says what this program is, and what a map is not."""
    box = QMessageBox(parent)
    box.setWindowTitle("About farmmap")
    box.setText(f"farmmap {__version__}\nA map of a farm's trees.")
    box.setInformativeText(CAUTION)
    return box
