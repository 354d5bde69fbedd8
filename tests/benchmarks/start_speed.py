"""How soon farmmap's window stands on the screen, beside programs that do nothing, and what opening larger farms takes.

Run by hand on an idle machine::

    python tests/benchmarks/start_speed.py [--runs 9] [--sizes 10000 100000 1000000]

Every start is a process of its own, measured from outside, from its start to
the line that it prints when its window was painted; the programs take turns.
farmmap is started by its command. Set QT_QPA_PLATFORM to another platform than
``offscreen`` to see it on a screen.

1. First paint of farmmap's window beside that of an empty QMainWindow; at
   most twice as long.
2. The sample farm painted in the window, with its panel filled, beside a
   program that imports PySide6.QtWidgets and geopandas and paints an empty
   window; at most twice as long.
3. Time and peak memory for opening farms of growing size: each row at most as
   much a tree as the one before, apart from what the start itself takes.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from big_farm import big_farm

from farmmap.files.farm_file import write_farm
from farmmap.resource_files import sample_farm_path

WHEN_PAINTED = """
class Painted(QObject):
    def eventFilter(self, watched, event):
        if event.type() == QEvent.Type.Paint:
            watched.removeEventFilter(self)
            QTimer.singleShot(0, shown)
        return False
"""

BARE = f"""
import sys
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
{WHEN_PAINTED}
app = QApplication(sys.argv)
window = QMainWindow()
window.resize(1360, 860)
def shown():
    print("shown", flush=True)
    app.quit()
painted = Painted()
window.installEventFilter(painted)
window.show()
app.exec()
"""

BARE_WITH_GEOPANDAS = BARE.replace("\napp =", "\nimport geopandas\napp =", 1)

BY_ITS_COMMAND = """
import os
import sys
from farmmap import screen
from farmmap.commands import main
if os.environ["QT_QPA_PLATFORM"] == "offscreen":
    screen.may_have_screen = lambda: True
screen.need_qt()
from farmmap.window import start
"""

FIRST_PAINT = f"""
{BY_ITS_COMMAND}
from PySide6.QtCore import QEvent, QObject, QTimer
{WHEN_PAINTED}
def shown():
    print("shown", flush=True)
    start.QApplication.instance().quit()
painted = Painted()
class Watched(start.FarmWindow):
    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.installEventFilter(painted)
start.FarmWindow = Watched
main([])
"""

FARM_SHOWN = (
    BY_ITS_COMMAND
    + """
from PySide6.QtCore import QTimer
class Watched(start.FarmWindow):
    def _begin(self):
        is_first = not hasattr(self, "files")
        super()._begin()
        if is_first:
            self.files.opened.connect(self.look)
    def look(self):
        page = self.panels.currentWidget()
        if self.map_view.is_up_to_date and page is not None and page.is_up_to_date:
            self.repaint()
            print("shown", flush=True)
            try:
                import resource
                print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, flush=True)
            except ImportError:
                print("nan", flush=True)
            self.close()
        else:
            QTimer.singleShot(2, self.look)
start.FarmWindow = Watched
main(sys.argv[1:])
"""
)


def timed(program: str, *args: Path, home: Path) -> tuple[float, str]:
    """Return how long a program took to paint its window [s], and what it said afterwards."""
    surroundings = {**os.environ, "HOME": str(home), "XDG_DATA_HOME": str(home), "XDG_CONFIG_HOME": str(home)}
    surroundings.setdefault("QT_QPA_PLATFORM", "offscreen")
    surroundings.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed farmmap is compiled, as the others are
    began = time.perf_counter()
    with subprocess.Popen(
        [sys.executable, "-c", program, *map(str, args)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=surroundings,
    ) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        took = time.perf_counter() - began
        rest = process.stdout.read().strip()
    if line.strip() != "shown":
        raise SystemExit("a window did not come up")
    return took, rest


def in_turns(runs: int, home: Path, **programs: tuple[str, tuple[Path, ...]]) -> dict[str, list[float]]:
    """Return the times of each program, all of them started in turns. [s]"""
    times: dict[str, list[float]] = {name: [] for name in programs}
    for run in range(runs + 1):
        for name, (program, args) in programs.items():
            took = timed(program, *args, home=home)[0]
            if run:  # the first fills the system's caches
                times[name].append(took)
    return times


def main() -> None:
    """Start the programs in turns and print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--sizes", type=int, nargs="*", default=[10_000, 100_000, 1_000_000])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        sample = home / "Pipit Downs.gpkg"
        shutil.copyfile(sample_farm_path(), sample)
        times = in_turns(
            asked.runs,
            home,
            **{
                "empty QMainWindow": (BARE, ()),
                "farmmap, first paint": (FIRST_PAINT, ()),
                "geopandas and an empty window": (BARE_WITH_GEOPANDAS, ()),
                "farmmap, sample farm shown": (FARM_SHOWN, (sample,)),
            },
        )
        middles = {name: statistics.median(values) for name, values in times.items()}
        for name, middle in middles.items():
            sys.stdout.write(f"{name:<34}{middle * 1000:>8.0f} ms   (best {min(times[name]) * 1000:.0f})\n")
        first, sample_shown = (
            middles[ours] / middles[theirs]
            for ours, theirs in (
                ("farmmap, first paint", "empty QMainWindow"),
                ("farmmap, sample farm shown", "geopandas and an empty window"),
            )
        )
        sys.stdout.write(f"{'first paint, times as long':<34}{first:>8.2f}      (at most 2)\n")
        sys.stdout.write(f"{'sample farm, times as long':<34}{sample_shown:>8.2f}      (at most 2)\n\n")
        for size in asked.sizes:
            path = home / f"{size}.gpkg"
            write_farm(big_farm(size), path)
            took, said = min(timed(FARM_SHOWN, path, home=home) for _ in range(3))
            more = (took - middles["farmmap, sample farm shown"]) / size * 1e6
            sys.stdout.write(
                f"{size:>9,} trees shown{took * 1000:>15.0f} ms{float(said):>8.0f} MB at most"
                f"{more:>8.2f} µs a tree beyond the sample farm\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
