"""Whether there is a screen to open a window on, and whether Qt can be loaded at all."""

from __future__ import annotations

import builtins
import importlib
import os
import subprocess
import sys
from collections.abc import Sequence

from farmmap.errors import FarmmapError

NO_SCREEN = "there is no screen here to open the window on; the commands that need none are listed by: farmmap --help"
_PROBE = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"
_UNREACHED = ("could not connect to display", "failed to create wl_display")
_ON_X = "libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-render-util0 libxkbcommon-x11-0"
_IMPORT_BEFORE = builtins.__import__


def may_have_screen() -> bool:
    """Whether a screen is named at all; it may yet turn out that it cannot be reached."""
    if os.environ.get("QT_QPA_PLATFORM", "").split(":")[0] in {"offscreen", "minimal", "vnc"}:
        return False
    return not sys.platform.startswith("linux") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def has_screen() -> bool:
    """Whether a window can be opened.

    A display that is named but cannot be reached makes Qt end the whole
    process, so it is tried in a process of its own.
    """
    if not may_have_screen():
        return False
    if not sys.platform.startswith("linux"):
        return True
    return subprocess.run([sys.executable, "-c", _PROBE], capture_output=True, check=False).returncode == 0  # noqa: S603


def why_no_window(said: Sequence[str]) -> str:
    """Return why the window cannot be opened, and what to do.

    Parameters
    ----------
    said : sequence of str
        What Qt said before it gave up, the last thing last.
    """
    if any(words in message.lower() for message in said for words in _UNREACHED):
        return NO_SCREEN
    found = next(
        (message for message in said if "needed" in message or "not find" in message), said[-1] if said else ""
    )
    why = f"the window cannot be opened ({(found.splitlines() or ['Qt does not say why'])[0]})"
    return f"{why}; on Debian or Ubuntu install: apt-get install -y {_ON_X}"


def import_plainly() -> None:
    """Let modules be imported as they were before PySide6 came.

    It puts a way of its own in its place, which makes pandas a third slower to
    bring in; all that is lost is its ``from __feature__ import``, not used
    here. What anybody else put there is left alone.
    """
    if builtins.__import__ is getattr(builtins, "__feature_import__", None):
        builtins.__import__ = _IMPORT_BEFORE


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
