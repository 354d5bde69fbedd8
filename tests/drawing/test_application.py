import os
import subprocess
import sys

import pytest
from PySide6.QtGui import QGuiApplication

from farmmap.drawing.application import ensure_application

SCRIPT = """
from farmmap.drawing.application import ensure_application
first = ensure_application()
assert ensure_application() is first
print(first.platformName())
import sys
assert "PySide6.QtWidgets" not in sys.modules
"""


def test_the_running_application_is_kept():
    running = ensure_application()
    assert ensure_application() is running
    assert isinstance(running, QGuiApplication)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is always a screen")
@pytest.mark.parametrize("display", [None, ":4711"])
def test_without_a_screen_that_can_be_reached_one_is_started_that_needs_none(display):
    kept = {k: v for k, v in os.environ.items() if k not in {"DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"}}
    if display:
        kept["DISPLAY"] = display
    done = subprocess.run([sys.executable, "-c", SCRIPT], env=kept, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "offscreen"
