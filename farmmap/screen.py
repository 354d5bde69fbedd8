"""Whether there is a screen to open a window on, and whether Qt can be loaded at all."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys

from farmmap.errors import FarmmapError

_PROBE = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"


def has_screen() -> bool:
    """Whether a window can be opened.

    A display that is named but cannot be reached makes Qt end the whole
    process, so it is tried in a process of its own.
    """
    if os.environ.get("QT_QPA_PLATFORM", "").split(":")[0] in {"offscreen", "minimal", "vnc"}:
        return False
    if sys.platform.startswith("linux"):
        if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
            return False
        tried = subprocess.run([sys.executable, "-c", _PROBE], capture_output=True, check=False)  # noqa: S603
        return tried.returncode == 0
    return True


def need_qt() -> None:
    """Make sure that Qt can be loaded.

    Raises
    ------
    FarmmapError
        PySide6 or a system library that it needs is not installed; the message says which.
    """
    try:
        importlib.import_module("PySide6.QtGui")
    except ModuleNotFoundError as error:
        raise FarmmapError(
            "drawing a map needs PySide6, which is not installed; install it with: pip install 'farmmap[window]'"
        ) from error
    except ImportError as error:
        raise FarmmapError(
            f"drawing a map needs a system library that is not installed ({error}); "
            "on Debian or Ubuntu install: apt-get install -y libegl1 libgl1 libxkbcommon0 libdbus-1-3 libfontconfig1"
        ) from error
