import os
import subprocess
import sys

from PySide6.QtGui import QGuiApplication

from farmmap.drawing.application import ensure_application, has_display

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


def test_without_a_screen_one_is_started_that_needs_none():
    kept = {k: v for k, v in os.environ.items() if k not in {"DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"}}
    done = subprocess.run([sys.executable, "-c", SCRIPT], env=kept, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    if sys.platform == "linux":
        assert done.stdout.strip() == "offscreen"


def test_a_screen_is_known_by_its_name(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not has_display()
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert has_display()
