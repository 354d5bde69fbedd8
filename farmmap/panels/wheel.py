"""The wheel scrolls a panel past its fields; it changes a field only once that has the keyboard."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QWidget


def leave_wheel(*fields: QWidget) -> None:
    """Let fields that the wheel would change leave it to the panel while the keyboard is elsewhere.

    Parameters
    ----------
    fields : QWidget
        Numbers, days and choices that stand in a panel which may be scrolled.
    """
    for field in fields:
        field.setFocusPolicy(Qt.FocusPolicy.StrongFocus)  # Qt's own would take the keyboard by the wheel
        field.installEventFilter(_Guard(field))


class _Guard(QObject):
    """Stands between the wheel and one field."""

    def eventFilter(self, field: QObject, event: QEvent) -> bool:
        """Leave the wheel to what lies behind the field."""
        if event.type() != QEvent.Type.Wheel or not isinstance(field, QWidget) or field.hasFocus():
            return False
        event.ignore()
        return True
