"""From the command line to a window on the screen."""

from __future__ import annotations

import gc
import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication

from farmmap.screen import import_plainly, why_no_window
from farmmap.window.farm_window import FarmWindow
from farmmap.window.theme import set_type

THREADS_SWITCH_S = 0.001
"""How soon a busy background thread gives way to the window's. Python's own 5 ms would add up in every paint. [s]"""

STYLE = ("-style", "fusion")
"""Asked for as on a command line: to ask for it by Qt's names takes as long as all of them to load."""

STARTED_MS = 2_500
"""How long after the first paint all is brought in that will be used, on most computers. [ms]"""


def open_window(path: Path | None) -> int:
    """Open the window, with a farm if a path is given, and stay until it is closed.

    Parameters
    ----------
    path : Path or None
        Farm file to open.

    Returns
    -------
    int
        0 when the window was closed.
    """
    import_plainly()
    gc.disable()  # what is brought in stays: looking for rubbish in it again and again takes a tenth of the start
    app = make_application()
    window = FarmWindow(opening=path)
    sys.excepthook = _tell_in(window)
    window.first_painted.connect(lambda: _after_first_paint(window, path))
    window.show()
    try:
        return app.exec()
    finally:
        gc.enable()


def make_application() -> QApplication:
    """Return the application, made if there is none yet, with its name and type."""
    sys.setswitchinterval(THREADS_SWITCH_S)
    found = QApplication.instance()
    app = found if isinstance(found, QApplication) else _started()
    app.setApplicationName("farmmap")
    app.setApplicationDisplayName("farmmap")
    app.setDesktopFileName("farmmap")
    set_type(app)
    return app


def _started() -> QApplication:
    """Start Qt, which ends the process where it has no screen: then with words that say what to do."""
    said: list[str] = []

    def hear(kind: QtMsgType, _where: object, message: str) -> None:
        said.append(message)
        if kind == QtMsgType.QtFatalMsg:
            _tell_console(f"Error: {why_no_window(said)}")
            os._exit(1)

    qInstallMessageHandler(hear)
    try:
        app = QApplication([*sys.argv[:1], *STYLE])
    finally:
        qInstallMessageHandler(None)
    if said:
        _tell_console("\n".join(said))
    return app


def _tell_console(words: str) -> None:
    if sys.stderr is not None:  # a program without a console has none
        sys.stderr.write(f"{words}\n")
        sys.stderr.flush()


def _after_first_paint(window: FarmWindow, path: Path | None) -> None:
    if path is not None:
        window.open_farm(path)
    window.load_panels()
    QTimer.singleShot(STARTED_MS, window, gc.enable)


def _tell_in(window: FarmWindow) -> Callable[[type[BaseException], BaseException, TracebackType | None], None]:
    def hook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        sys.__excepthook__(kind, error, trace)
        if issubclass(kind, Exception) and threading.current_thread() is threading.main_thread():
            from farmmap.window.messages import tell

            tell(window, error)

    return hook
