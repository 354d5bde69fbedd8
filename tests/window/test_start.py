"""From the command line to a window: what is brought in before the first paint, and what goes wrong later."""

import os
import subprocess
import sys

import pytest


def run(code, *args):
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, args)],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_the_window_is_there_before_heavy_libraries():
    done = run(
        "import sys; from farmmap.window.start import make_application; from farmmap.window.farm_window import FarmWindow; "
        "app = make_application(); window = FarmWindow(); window.show(); app.processEvents(); "
        "heavy = {'geopandas', 'pandas', 'numpy', 'shapely', 'pyproj', 'matplotlib'} & set(sys.modules); "
        "window.close(); sys.exit(', '.join(sorted(heavy)) or 0)"
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is always a screen")
@pytest.mark.parametrize("platform", [{}, {"QT_QPA_PLATFORM": "no such platform"}])
def test_a_screen_that_cannot_be_had_is_told_in_a_line(farm_path, platform):
    kept = {k: v for k, v in os.environ.items() if k not in {"WAYLAND_DISPLAY", "QT_QPA_PLATFORM"}}
    done = subprocess.run(
        [sys.executable, "-m", "farmmap", str(farm_path)],
        env={**kept, "DISPLAY": ":4711", **platform},
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert line.startswith("Error: the window cannot be opened (Could not find" if platform else "Error: the")


def test_what_comes_after_qt_is_imported_in_pythons_own_way():
    done = run(
        "import builtins; own = builtins.__import__; from farmmap.screen import need_qt; need_qt(); "
        "assert builtins.__import__ is own; "
        "import PySide6.QtWidgets; from farmmap.window.start import open_window; "
        "from PySide6.QtCore import QTimer; from PySide6.QtWidgets import QApplication; "
        "QTimer.singleShot(0, QApplication.quit); builtins.__import__ = builtins.__feature_import__; "
        "code = open_window(None); assert builtins.__import__ is own; "
        "from farmmap.screen import import_plainly; builtins.__import__ = other = lambda *a, **k: own(*a, **k); "
        "import_plainly(); assert builtins.__import__ is other; import sys; sys.exit(code)"
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("with_farm", [True, False])
def test_opens_and_closes(farm_path, with_farm):
    done = run(
        "import sys\n"
        "from pathlib import Path\n"
        "from PySide6.QtCore import QTimer\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from farmmap.window.start import make_application, open_window\n"
        "app = make_application()\n"
        "path = Path(sys.argv[1]) if len(sys.argv) > 1 else None\n"
        "def look():\n"
        "    window = next(w for w in app.topLevelWidgets() if type(w).__name__ == 'FarmWindow')\n"
        "    there = (window.session.farm is not None) if path else True\n"
        "    if there and window.panels.count() >= 3 and not window.jobs.is_busy():\n"
        "        print(window.windowTitle())\n"
        "        window.close()\n"
        "timer = QTimer()\n"
        "timer.timeout.connect(look)\n"
        "timer.start(50)\n"
        "sys.exit(open_window(path))\n",
        *([farm_path] if with_farm else []),
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1].startswith("Small Pipit" if with_farm else "farmmap")


def test_an_error_in_the_window_is_told_and_the_window_stays():
    done = run(
        "import sys\n"
        "from PySide6.QtCore import QTimer\n"
        "from farmmap.window.messages import ReportDialog\n"
        "from farmmap.window.start import make_application, open_window\n"
        "app = make_application()\n"
        "def fail():\n"
        "    raise RuntimeError('the wheels came off')\n"
        "def look():\n"
        "    window = next(w for w in app.topLevelWidgets() if type(w).__name__ == 'FarmWindow')\n"
        "    for dialog in window.findChildren(ReportDialog):\n"
        "        print(dialog.report.toPlainText().splitlines()[-1], window.isVisible())\n"
        "        dialog.reject()\n"
        "        window.close()\n"
        "QTimer.singleShot(300, fail)\n"
        "timer = QTimer()\n"
        "timer.timeout.connect(look)\n"
        "timer.start(100)\n"
        "sys.exit(open_window(None))\n"
    )
    assert done.returncode == 0, done.stderr
    assert "RuntimeError: the wheels came off True" in done.stdout
