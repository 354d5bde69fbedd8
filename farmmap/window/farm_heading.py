"""The farm's name above the map."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QLabel


def farm_heading() -> QLabel:
    """Return an empty label in larger, stronger type."""
    label = QLabel()
    font = QFont(label.font())
    font.setPointSizeF(font.pointSizeF() * 1.25)
    font.setWeight(QFont.Weight.DemiBold)
    label.setFont(font)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
