"""The application object that fonts and painting need, also where there is no screen."""

from __future__ import annotations

import os
import sys

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QGuiApplication

_kept: list[QGuiApplication] = []


def has_display() -> bool:
    """Whether windows can be shown here."""
    if sys.platform in {"win32", "darwin"}:
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))


def ensure_application() -> QCoreApplication:
    """Return the running application, or start one that needs no screen.

    ``QT_QPA_PLATFORM`` is set to ``offscreen`` only where there is no display
    and nobody has set it.
    """
    running = QCoreApplication.instance()
    if running is not None:
        return running
    if not has_display():
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    _kept.append(QGuiApplication(["farmmap"]))
    return _kept[-1]
