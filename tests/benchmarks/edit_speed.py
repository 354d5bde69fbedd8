"""How soon an edit is in the file and every figure right again, beside working the figures out anew with geopandas.

Run by hand on an idle machine::

    python tests/benchmarks/edit_speed.py [--trees 100000 1000000] [--edits 15]

A random farm of 1,000 blocks is opened in the window, offscreen. For one
corner of a block moved, one tree placed and one diameter measured it prints
the medians of: the edit made (``propose``), tried (``apply``), written and
synced (``write``), the figures carried over (``figures``), what the map shows
(``contents``), and map, key, panel and menus put in place by the window's
thread (``swap``). ``in the file`` is measured by the clock, from handing the
edit to the window until it is written and synced and every figure is right
again, whichever comes last; ``in all`` until the window has taken it over.
Meanwhile the window waits for events as it does in use, and between two edits
it comes to rest. ``sjoin`` is `geopandas.sjoin` of the trees with the
blocks and a groupby for stems and basal area; the last column is how many
times as fast the figures alone are.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
from big_farm import big_farm
from PySide6.QtCore import QEventLoop, QSettings, QTimer
from PySide6.QtWidgets import QApplication

from farmmap.editing.corners import corners_of
from farmmap.editing.reshape import corner_moved
from farmmap.editing.tape_entry import measured
from farmmap.editing.trees import tree_placed
from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.figures import after_edit
from farmmap.figures.blocks import block_figures
from farmmap.files.farm_file import write_farm
from farmmap.window import map_contents
from farmmap.window.farm_window import FarmWindow
from farmmap.window.open_file import OpenFile
from farmmap.window.preferences import Preferences
from farmmap.window.session import Session
from farmmap.window.start import make_application

PARTS = ("propose", "apply", "write", "figures", "contents", "swap", "in the file", "in all")
TICK_MS = 20
"""How often it is asked whether what is waited for is done, if nothing else happens. [ms]"""
REST_S = 0.3
"""How long the window is left alone before an edit. [s]"""
LONGEST_WAIT_S = 600
Times = dict[str, list[float]]


@contextmanager
def timed_parts(times: Times) -> Iterator[list[float]]:
    """Note how long each part of every edit takes, and when it was written and the figures were right. [s]"""
    places: tuple[tuple[Any, str, str], ...] = (
        (Edit, "apply", "apply"),
        (OpenFile, "write", "write"),
        (after_edit, "carry_over", "figures"),
        (map_contents, "make_contents_after", "contents"),
        (Session, "replace_farm", "swap"),
    )
    ends: list[float] = []
    kept = [getattr(holder, name) for holder, name, _ in places]

    def noting(do: Callable[..., Any], part: str) -> Callable[..., Any]:
        def noted(*args: Any, **kwargs: Any) -> Any:
            began = time.perf_counter()
            try:
                return do(*args, **kwargs)
            finally:
                ended = time.perf_counter()
                times[part].append(ended - began)
                if part in {"write", "figures"}:
                    ends.append(ended)

        return noted

    for (holder, name, part), do in zip(places, kept, strict=True):
        setattr(holder, name, noting(do, part))
    try:
        yield ends
    finally:
        for (holder, name, _), do in zip(places, kept, strict=True):
            setattr(holder, name, do)


def until(app: QApplication, done: Callable[[], bool]) -> None:
    """Let the window run until something is done; it sleeps between events, as a window that asked without end would
    keep Python's lock from those who work for it."""
    began = time.perf_counter()
    tick = QTimer()
    tick.start(TICK_MS)
    while not done():
        app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        if time.perf_counter() - began > LONGEST_WAIT_S:
            raise SystemExit("nothing came of it")


def still(window: FarmWindow) -> bool:
    """Whether all of a farm is shown and nothing runs."""
    page = window.panels.currentWidget()
    shown = window.session.farm is not None and window.map_view.is_up_to_date
    return shown and page is not None and page.is_up_to_date and not window.jobs.is_busy()


def corner(farm: Farm, number: int) -> Edit:
    """Move one corner of a block by 0.3 m."""
    block = int(farm.blocks.index[(number * 37) % len(farm.blocks)])
    one = corners_of(farm, "blocks", block)[3]
    return corner_moved(farm, one, one.x + 0.3, one.y + 0.1).edit


def tree(farm: Farm, number: int) -> Edit:
    """Place a tree inside a block."""
    inside = farm.blocks.geometry.iloc[(number * 37) % len(farm.blocks)].representative_point()
    return tree_placed(farm, inside.x, inside.y, {"species": "TOTA"}).edit


def diameter(farm: Farm, number: int) -> Edit:
    """Measure one tree."""
    one = int(farm.trees.index[(number * 7919) % len(farm.trees)])
    return measured(farm, one, dt.date(2026, 5, 1), dbh_cm=40.0).edit


def times_of(app: QApplication, window: FarmWindow, make: Callable[[Farm, int], Edit], edits: int) -> Times:
    """Carry out edits one after the other, each once the window is still, and return the times of its parts. [s]"""
    times: Times = {part: [] for part in PARTS}
    for number in range(edits + 2):
        if number == 2:  # the first may build what all later ones rest on
            times.update({part: [] for part in PARTS})
        rested = time.perf_counter() + REST_S
        until(app, lambda rested=rested: still(window) and time.perf_counter() > rested)
        farm = window.session.farm
        assert farm is not None
        began = time.perf_counter()
        edit = make(farm, number)
        times["propose"].append(time.perf_counter() - began)
        done: list[float] = []
        with timed_parts(times) as ends:
            began = time.perf_counter()
            window.files.carry_out(edit, lambda done=done: done.append(time.perf_counter()))
            until(app, lambda done=done: bool(done))
        times["in the file"].append(max(ends) - began)
        times["in all"].append(done[0] - began)
    return times


def sjoin(farm: Farm) -> float:
    """Return how long geopandas takes for stems and basal area of every block. [s]"""
    newest = farm.measurements.sort_values("measured_on").drop_duplicates("tree", keep="last")
    trees = gpd.GeoDataFrame(
        {"dbh_cm": newest.set_index("tree")["dbh_cm"].reindex(farm.trees.index).to_numpy()},
        geometry=gpd.points_from_xy(farm.trees["x"], farm.trees["y"], crs=farm.blocks.crs),
    )
    began = time.perf_counter()
    joined = gpd.sjoin(trees, farm.blocks[["geometry"]], predicate="within")
    joined["basal_area_m2"] = np.pi / 40000 * joined["dbh_cm"] ** 2
    joined.groupby("id").agg(stems=("dbh_cm", "size"), basal_area_m2=("basal_area_m2", "sum"))
    return time.perf_counter() - began


def check(window: FarmWindow) -> None:
    """Make sure that the figures shown are those worked out from scratch."""
    farm, model = window.session.farm, window.panels.page("Blocks").view.model
    assert farm is not None
    fresh = farm.with_tables(**{name: farm.tables[name].copy() for name in ("blocks", "trees", "measurements")})
    scratch = block_figures(fresh, window.session.on, farm.settings.class_cm)
    for block, row in zip(scratch.ids, scratch.rows, strict=True):
        shown = model.table.row_of(block)
        for key, value in row.items():
            if isinstance(value, float) and abs(shown[key] - value) > 1e-9 * max(1.0, abs(value)):
                raise SystemExit(f"block {block}: {key} is {shown[key]}, from scratch {value}")


def main() -> None:
    """Print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, nargs="*", default=[100_000, 1_000_000])
    parser.add_argument("--edits", type=int, default=15)
    asked = parser.parse_args()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    app = make_application()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HOME"] = os.environ["XDG_DATA_HOME"] = folder
        window = FarmWindow(Preferences(QSettings(f"{folder}/farmmap.ini", QSettings.Format.IniFormat)))
        window.resize(1600, 1000)
        window.show()
        window.load_panels()
        heads = [*PARTS, "sjoin", "times as fast"]
        sys.stdout.write("median ms" + " " * 27 + "".join(f"{head:>14}" for head in heads) + "\n")
        for size in asked.trees:
            path = Path(folder) / f"{size}.gpkg"
            write_farm(big_farm(size), path)
            window.open_farm(path)
            until(app, lambda path=path: window.session.path == path and still(window))
            until(app, lambda: not window.jobs.is_busy())
            for words, make in (("corner moved", corner), ("tree placed", tree), ("diameter measured", diameter)):
                times = times_of(app, window, make, asked.edits)
                middle = {part: statistics.median(values) for part, values in times.items()}
                assert window.session.farm is not None
                anew = min(sjoin(window.session.farm) for _ in range(3))
                cells = [*middle.values(), anew]
                sys.stdout.write(
                    f"{size:>9,} trees, {words:<19}"
                    + "".join(f"{cell * 1000:>14.2f}" for cell in cells)
                    + f"{anew / middle['figures']:>14,.0f}\n"
                )
                sys.stdout.flush()
            until(app, lambda: still(window))
            check(window)
        window.close()


if __name__ == "__main__":
    main()
