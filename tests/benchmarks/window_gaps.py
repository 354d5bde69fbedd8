"""How long the window's event loop stands still at most while a farm is opened and worked with.

Run by hand on an idle machine::

    python tests/benchmarks/window_gaps.py FARM.gpkg

A timer of the window's own thread ticks every few milliseconds; the longest
pause between two ticks, less the tick itself, is how long a person would have
felt the window freeze. With ``--where`` the stack of the window's thread is
printed for each pause of more than 100 ms.
"""

from __future__ import annotations

import argparse
import datetime as dt
import shutil
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEventLoop, QPointF, QSettings, Qt, QTimer
from PySide6.QtWidgets import QApplication

from farmmap.farm.edits import rows_changed
from farmmap.scene.scene import Chosen
from farmmap.window.farm_window import FarmWindow
from farmmap.window.preferences import Preferences
from farmmap.window.start import make_application

TICK_MS = 5
LONG_S = 0.1
LONGEST_WAIT_S = 300


class Ticks:
    """Longest pause of the event loop since it was last asked for."""

    def __init__(self, *, where: bool) -> None:
        self._last = time.perf_counter()
        self._longest = 0.0
        self._timer = QTimer()
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._timer.start()
        if where:
            threading.Thread(target=self._watch, args=(threading.get_ident(),), daemon=True).start()

    def take(self) -> float:
        """Return the longest pause, and start anew. [s]"""
        longest, self._longest = self._longest, 0.0
        return longest

    def _tick(self) -> None:
        now = time.perf_counter()
        self._longest = max(self._longest, now - self._last - TICK_MS / 1000)
        self._last = now

    def _watch(self, thread: int) -> None:
        told = 0.0
        while True:
            time.sleep(0.01)
            last = self._last
            if time.perf_counter() - last > LONG_S and last != told:
                told = last
                stack = traceback.format_stack(sys._current_frames()[thread])[-5:]
                sys.stdout.write("  still in:\n" + "".join(stack))


def until(app: QApplication, done: Callable[[], bool]) -> float:
    """Let the window run until something is done; return how long that took. [s]"""
    start = time.perf_counter()
    while not done():
        app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents | QEventLoop.ProcessEventsFlag.AllEvents)
        if time.perf_counter() - start > LONGEST_WAIT_S:
            raise SystemExit("nothing came of it")
    return time.perf_counter() - start


def rename(window: FarmWindow, name: str) -> None:
    """Give the first block another name, on a copy of the farm that nobody misses."""
    farm = window.session.farm
    assert farm is not None
    after = farm.blocks.iloc[:1].copy()
    after["name"] = name
    window.files.carry_out(rows_changed(farm, name, "blocks", after))


def main() -> None:
    """Open a farm, move, pick, slide the date and hide a layer, and print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("farm", type=Path)
    parser.add_argument("--where", action="store_true", help="print what the window was doing in long pauses")
    asked = parser.parse_args()
    app = make_application()
    folder = Path(tempfile.mkdtemp())
    settings = QSettings(str(folder / "farmmap.ini"), QSettings.Format.IniFormat)
    farm_file = folder / asked.farm.name
    shutil.copyfile(asked.farm, farm_file)
    window = FarmWindow(Preferences(settings))
    window.resize(1600, 1000)
    ticks = Ticks(where=asked.where)

    def step(words: str, do: Callable[[], object], done: Callable[[], bool]) -> None:
        ticks.take()
        do()
        took = until(app, done)
        sys.stdout.write(f"{words:<34}{took * 1000:>9.0f} ms   longest pause {ticks.take() * 1000:>6.0f} ms\n")
        sys.stdout.flush()

    def still() -> bool:
        page = window.panels.currentWidget()
        return window.map_view.is_up_to_date and page.is_up_to_date and not window.jobs.is_busy()

    step("first paint", window.show, window.isVisible)
    step("panels found", window.load_panels, lambda: window.panels.count() >= 3)
    view = window.map_view
    step("farm read", lambda: window.open_farm(farm_file), lambda: window.session.farm is not None)
    step("map and block figures shown", lambda: None, still)
    for words in ("block renamed", "and again"):
        step(words, lambda words=words: rename(window, words), lambda words=words: window.files.undo_name == words)
    step("taken back", window.undo, lambda: window.files.undo_name == "block renamed")
    step("pan 40 times", lambda: [(view.pan(8, 3), app.processEvents()) for _ in range(40)], still)
    step("zoom 20 times", lambda: [(view.zoom(1.2, QPointF(500, 400)), app.processEvents()) for _ in range(20)], still)
    step("whole farm", view.whole_farm, still)
    step("block chosen", lambda: window.session.choose(Chosen("block", 2)), still)
    step("margin chosen", lambda: window.session.choose(Chosen("margin", 0)), still)
    step("tree chosen", lambda: window.session.choose(Chosen("tree", 7)), still)
    step("date set back", lambda: window.session.set_date(dt.date(2016, 6, 1)), still)
    step("blocks hidden", lambda: window.session.show_layer("blocks", shown=False), still)
    window.close()


if __name__ == "__main__":
    main()
