"""How fast the map is painted, moved and edited.

Run by hand on an idle machine::

    python tests/benchmarks/map_speed.py [--trees 100000 1000000]

The same random farm is used for everything, with 1,000 blocks of some 50
corners and 1,000 lines. Trees are painted beside pyqtgraph and matplotlib in
turn, in one process, so that the ratios hold on any machine.
"""

from __future__ import annotations

import argparse
import datetime as dt
import gc
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import shapely

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEventLoop, QPointF, QTimer
from PySide6.QtGui import QImage, QPainter

from farmmap.drawing.map_painter import MapPainter
from farmmap.farm.edits import Edit, rows_changed, rows_put_in
from farmmap.farm.farm import Farm
from farmmap.figures.after_edit import carry_over
from farmmap.progress import SILENT
from farmmap.scene.scene import Scene, TreeLayer
from farmmap.scene.view import View
from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import Contents, MapContents, make_contents, make_contents_after
from farmmap.window.map_view import MapView
from farmmap.window.session import Session
from farmmap.window.start import make_application

if __package__ in {None, ""}:
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.big_farm import big_farm

WIDE, HIGH = 1600, 1000
DOTS = 96 / 25.4
ON = dt.date(2025, 1, 1)
FRAME_S = 1 / 60
FRAMES = 180
NAP_S = 0.0005
SHORT_S = 0.0015
MISSING = "install what the benchmarks set farmmap beside: python -m pip install 'farmmap[benchmark]'"


def say(words: str = "") -> None:
    """Print a line at once."""
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def timed(do: Callable[[], object]) -> float:
    """Return how long something takes. [ms]"""
    start = time.perf_counter()
    do()
    return (time.perf_counter() - start) * 1000


def others() -> tuple[object, object]:
    """Return pyqtgraph and matplotlib, or end with what to install."""
    try:
        import matplotlib as mpl
        import pyqtgraph
    except ImportError as error:
        raise SystemExit(f"{error.name} is missing; {MISSING}") from None
    mpl.use("Agg")
    return pyqtgraph, mpl


class OurTrees:
    """The layer of trees painted into an image by `MapPainter`."""

    def __init__(self, scene: Scene, trees: TreeLayer) -> None:
        self.scene, self.trees = scene, trees
        self.view = View.fitting(scene.bounds, WIDE / DOTS, HIGH / DOTS)
        self.image = QImage(WIDE, HIGH, QImage.Format.Format_RGB32)
        self.image.fill(0xFFFFFFFF)
        self.painter = MapPainter()
        self.step = 0

    def frame(self) -> None:
        """Paint one, the view a dot further on each time."""
        self.step += 1
        view = self.view.panned((self.step % 20) / DOTS, 0)
        painter = QPainter(self.image)
        self.painter.paint(painter, self.scene, view, DOTS, [self.trees])
        painter.end()


class PyqtgraphTrees:
    """The same trees as a ScatterPlotItem in a PlotWidget, a brush for each species, sizes by class."""

    def __init__(self, pyqtgraph: object, app: object, ours: OurTrees) -> None:
        trees, self.app = ours.trees, app
        brushes = np.array([pyqtgraph.mkBrush(symbol.colour) for symbol in trees.symbols], object)
        species = np.array([group.species for group in trees.groups])
        sizes = np.maximum(trees.sizes_mm(ours.view.metres_per_mm) * DOTS, 1.0)
        self.widget = pyqtgraph.PlotWidget()
        self.widget.resize(WIDE, HIGH)
        item = pyqtgraph.ScatterPlotItem(
            x=trees.x - trees.x.min(),
            y=trees.y - trees.y.min(),
            size=sizes[trees.group],
            brush=brushes[species[trees.group]].tolist(),
            pen=None,
            pxMode=True,
        )
        self.widget.addItem(item)
        self.widget.show()
        self.app.processEvents()
        self.step = ours.view.metres_per_mm / DOTS

    def frame(self) -> None:
        """Push the view on by a dot and paint."""
        self.widget.getViewBox().translateBy(x=self.step)
        self.widget.repaint()
        self.app.processEvents()


class MatplotlibTrees:
    """The same trees as a scatter drawn by Agg."""

    def __init__(self, ours: OurTrees) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        trees = ours.trees
        colours = np.array([symbol.colour for symbol in trees.symbols])
        species = np.array([group.species for group in trees.groups])
        points = trees.sizes_mm(ours.view.metres_per_mm) / 25.4 * 72
        figure = Figure(figsize=(WIDE / 96, HIGH / 96), dpi=96)
        self.canvas = FigureCanvasAgg(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.scatter(
            trees.x - trees.x.min(),
            trees.y - trees.y.min(),
            s=(points**2)[trees.group],
            c=colours[species[trees.group]],
            linewidths=0,
        )
        axes.set_aspect("equal")

    def frame(self) -> None:
        """Draw the figure."""
        self.canvas.draw()


def painting(app: object, made: Contents) -> None:
    """Print how long one frame of styled trees takes beside the others."""
    pyqtgraph, _ = others()
    trees = next(layer for layer in made.scene.layers if isinstance(layer, TreeLayer))
    ours = OurTrees(made.scene, trees)
    beside = [
        ("pyqtgraph ScatterPlotItem", PyqtgraphTrees(pyqtgraph, app, ours)),
        ("matplotlib Agg", MatplotlibTrees(ours)),
    ]
    ours.frame()
    own: list[float] = []
    taken: dict[str, list[float]] = {name: [] for name, _ in beside}
    rounds = 7 if len(trees.x) > 300_000 else 15
    for number in range(rounds):
        own += [timed(ours.frame) for _ in range(5)]
        for name, one in beside:
            if number == 0:
                one.frame()
            if name.startswith("pyqtgraph") or number < 3:
                taken[name].append(timed(one.frame))
    mine = float(np.median(own))
    say(f"  {'farmmap MapPainter':<28}{mine:>10.2f} ms a frame (best {min(own):.2f})")
    for name, _ in beside:
        other = float(np.median(taken[name]))
        say(f"  {name:<28}{other:>10.1f} ms a frame   {other / mine:>7.1f} times ours")
    beside[0][1].widget.close()


class Shown:
    """A map of its own on the farm."""

    def __init__(self, app: object, made: Contents) -> None:
        self.app = app
        self.session, self.jobs = Session(), Jobs()
        self.contents = MapContents(self.session, self.jobs)
        self.view = MapView(self.session, self.contents, self.jobs)
        self.view.resize(WIDE, HIGH)
        self.contents.changed.connect(self.view.follow_contents)
        self.session.farm, self.session.path, self.session.on = made.farm, Path("big farm"), ON
        self.view.show()
        app.processEvents()
        self.contents.now = made
        self.contents.changed.emit()
        self.idle()
        self.home = self.view.view

    def until(self, done: Callable[[], bool]) -> float:
        """Run the window until something is done. [ms]"""
        start = time.perf_counter()
        while not done():
            self.app.processEvents()
            time.sleep(NAP_S)
        return (time.perf_counter() - start) * 1000

    def exact(self) -> float:
        """Wait until the exact picture is on the screen, asleep between events as the program itself is. [ms]"""
        start = time.perf_counter()
        while not self.view.is_up_to_date:
            self.app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
        self.view.repaint()
        return (time.perf_counter() - start) * 1000

    def idle(self) -> None:
        """Wait until nothing is painted in the background."""
        self.until(lambda: self.view.is_up_to_date and not self.jobs.is_busy())

    def frames(self, move: Callable[[int], object]) -> list[float]:
        """Move and paint sixty times a second; return how long after it was due each frame stood, none left out. [ms]

        In between the window sleeps until there is something to do, as the
        program itself does. So a frame is the move, its painting, and whatever
        kept the window from beginning with it: other events, and the waits for
        the interpreter that another thread held.
        """
        taken: list[float] = []
        due = time.perf_counter()
        for number in range(FRAMES):
            self._sleep_until(due)
            move(number)
            self.view.repaint()
            taken.append((time.perf_counter() - due) * 1000)
            due = max(due + FRAME_S, time.perf_counter())
        return taken

    def _sleep_until(self, due: float) -> None:
        """Handle events as they come until it is time."""
        while (left := due - time.perf_counter()) > 0:
            if left < SHORT_S:
                time.sleep(left)
            else:
                QTimer.singleShot(int(left * 1000), lambda: None)
                self.app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def taken_by_others_s() -> float | None:
    """Processor time that the host of this machine gave to others since it was started, None if it does not say. [s]"""
    try:
        counts = Path("/proc/stat").read_text(encoding="utf-8").split("\n", 1)[0].split()
        return int(counts[8]) / os.sysconf("SC_CLK_TCK")
    except (OSError, IndexError, ValueError):
        return None


def moving(shown: Shown) -> None:
    """Print how long frames take while the map moves, and how soon the exact picture stands."""
    view = shown.view

    def push(number: int) -> None:
        view.pan(14 * np.cos(number / 15), 8 * np.sin(number / 20))

    def closer(number: int) -> None:
        view.zoom(1.04 if number % 90 < 45 else 1 / 1.04, QPointF(700, 420))

    before, every = taken_by_others_s(), list[float]()
    say(f"  {'[ms]':<12}{'panning':>27}{'zooming':>27}{'rest to exact':>18}")
    say(f"  {'':<12}" + f"{'median':>9}{'99 %':>9}{'worst':>9}" * 2 + f"{'median':>9}{'worst':>9}")
    for name, times in (("zoomed out", 1.0), ("half-way", 6.0), ("close", 40.0)):
        view.show_ground(shown.contents.now.scene.bounds)
        view.zoom(times)
        shown.idle()
        taken: list[list[float]] = []
        rests: list[float] = []
        for move in (push, closer):
            taken.append(shown.frames(move))
            rests.append(shown.exact())
            shown.idle()
        for number in range(4):
            for step in range(6):
                view.pan(31 - 12 * (number % 2), 17 - step)
                view.repaint()
            rests.append(shown.exact())
        shares = [f"{np.median(one):>9.1f}{np.percentile(one, 99):>9.1f}{max(one):>9.1f}" for one in taken]
        say(f"  {name:<12}{''.join(shares)}{np.median(rests):>9.0f}{max(rests):>9.0f}")
        every += [took for one in taken for took in one]
    late, after = sum(took > FRAME_S * 1000 for took in every), taken_by_others_s()
    say(f"  {late} of {len(every):,} frames took longer than a sixtieth of a second")
    if before is not None and after is not None:
        say(f"  meanwhile the host of this machine gave {(after - before) * 1000:.0f} ms of its processors to others")


def corner_moved(farm: Farm, number: int) -> Edit:
    """One block's corner, a metre and a half away."""
    rows = farm.blocks.iloc[[number]].copy()
    corners = shapely.get_coordinates(rows.geometry.iloc[0])
    corners[3] += 1.5
    shape = rows.geometry.copy()
    shape.iloc[0] = shapely.Polygon(corners)
    return rows_changed(farm, "Move corner", "blocks", rows.set_geometry(shape))


def tree_moved(farm: Farm, number: int) -> Edit:
    """One tree, two metres east."""
    rows = farm.trees.iloc[[number * 7]]
    return rows_changed(farm, "Move tree", "trees", rows.assign(x=rows["x"] + 2.0))


def tree_measured(farm: Farm, number: int) -> Edit:
    """One tree measured once more."""
    row = farm.measurements.iloc[[number * 11]]
    row = row.assign(measured_on=np.datetime64("2024-12-01", "s"), dbh_cm=row["dbh_cm"] + 6.0)
    return rows_put_in(
        farm, "Measure", {"measurements": row.set_axis(pd.Index([int(farm.measurements.index[-1]) + 1], name="id"))}
    )


def editing(shown: Shown) -> None:
    """Print how long the map takes to show an edit."""
    say(f"  {'after':<22}{'scene':>12}{'next frame':>14}{'exact picture':>18}")
    shown.view.show_ground(shown.contents.now.scene.bounds)
    shown.view.zoom(4.0)
    shown.idle()
    for name, make in (
        ("a corner moved", corner_moved),
        ("a tree moved", tree_moved),
        ("a tree measured", tree_measured),
    ):
        scenes, swaps, exacts = [], [], []
        for number in range(7):
            before = shown.contents.now
            edit = make(before.farm, 400 + number)
            after = edit.apply(before.farm)
            carry_over(before.farm, after, edit, ON)
            start = time.perf_counter()
            made = make_contents_after(before, after, edit, ON)
            scenes.append((time.perf_counter() - start) * 1000)
            shown.session.farm = after
            start = time.perf_counter()
            shown.contents.take(made)
            shown.view.repaint()
            swaps.append((time.perf_counter() - start) * 1000)
            exacts.append(shown.exact())
            shown.idle()
        say(
            f"  {name:<22}{np.median(scenes[1:]):>9.1f} ms{np.median(swaps[1:]):>11.1f} ms"
            f"{np.median(exacts[1:]):>15.0f} ms"
        )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, nargs="+", default=[100_000, 1_000_000])
    parser.add_argument("--only", choices=("painting", "moving", "editing"), help="only this table")
    asked = parser.parse_args()
    if asked.only in {None, "painting"}:
        others()
    app = make_application()
    for count in asked.trees:
        farm = big_farm(count)
        start = time.perf_counter()
        made = make_contents(farm, ON, "light", frozenset(), SILENT)
        say(f"\n{count:,} trees, {len(farm.blocks):,} blocks, {len(farm.fences) + len(farm.tracks):,} lines")
        say(f"  first scene {time.perf_counter() - start:.2f} s")
        gc.collect()
        if asked.only in {None, "painting"}:
            say(f"Painting the trees, {WIDE} x {HIGH}, all in view")
            painting(app, made)
        if asked.only in {None, "moving", "editing"}:
            shown = Shown(app, made)
            if asked.only in {None, "moving"}:
                say("A frame while the map moves (a sixtieth of a second is 16.7 ms)")
                moving(shown)
            if asked.only in {None, "editing"}:
                say("Showing an edit")
                editing(shown)
            shown.view.close()
            shown.jobs.close()


if __name__ == "__main__":
    main()
