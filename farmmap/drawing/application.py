"""The application object that fonts and painting need, also where there is no screen."""

from __future__ import annotations

import os
import sys

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QGuiApplication

_kept: list[QGuiApplication] = []


def ensure_application() -> QCoreApplication:
    """Return the running application, or start one that needs no screen.

    On Linux Qt ends the whole process where a screen is named that cannot be
    reached, so there a page is drawn without one, unless ``QT_QPA_PLATFORM``
    says otherwise.
    """
    running = QCoreApplication.instance()
    if running is not None:
        return running
    if sys.platform.startswith("linux"):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    _kept.append(QGuiApplication(["farmmap"]))
    return _kept[-1]
