"""Whether there is a screen to open a window on, and whether Qt can be loaded at all."""

from __future__ import annotations

import builtins
import importlib
import os
import subprocess
import sys
from collections.abc import Callable

from farmmap.errors import FarmmapError

_PROBE = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"
_PLAIN_IMPORT = builtins.__import__


def has_screen() -> bool:
    """Whether a window can be opened."""
    return try_screen()()


def try_screen() -> Callable[[], bool]:
    """Begin to find out whether a window can be opened; what is returned waits for the answer.

    A display that is named but cannot be reached makes Qt end the whole
    process, so it is tried in a process of its own, beside whatever is done
    meanwhile.
    """
    if os.environ.get("QT_QPA_PLATFORM", "").split(":")[0] in {"offscreen", "minimal", "vnc"}:
        return lambda: False
    if not sys.platform.startswith("linux"):
        return lambda: True
    if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return lambda: False
    trial = subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", _PROBE], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    return lambda: trial.wait() == 0


def import_plainly() -> None:
    """Let modules be imported in Python's own way.

    PySide6 puts a way of its own in its place, which makes pandas a third
    slower to bring in; all that is lost is its ``from __feature__ import``,
    not used here.
    """
    builtins.__import__ = _PLAIN_IMPORT


def need_qt() -> None:
    """Make sure that Qt can be loaded.

    Raises
    ------
    FarmmapError
        PySide6 or a system library that it needs is not installed; the message says which.
    """
    try:
        importlib.import_module("PySide6.QtGui")
        import_plainly()
    except ModuleNotFoundError as error:
        raise FarmmapError(
            "drawing a map needs PySide6, which is not installed; install it with: pip install 'farmmap[window]'"
        ) from error
    except ImportError as error:
        raise FarmmapError(
            f"drawing a map needs a system library that is not installed ({error}); "
            "on Debian or Ubuntu install: apt-get install -y libegl1 libgl1 libxkbcommon0 libdbus-1-3 libfontconfig1"
        ) from error
