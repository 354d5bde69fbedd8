"""How fast a map sheet and a whole pack become PDFs, and how large those are, beside matplotlib drawing the same trees.

Run by hand on an idle machine::

    python tests/benchmarks/print_speed.py [TREES]

matplotlib draws no more than the trees, one scatter of points with a size and
a colour each on paper of the same size, and for a pack one such figure for
each of its maps with trees. Everything is measured in one run, each as often
as the other and in turn, and the best of each counts; the first, with fonts
still to be read, is printed beside it. A sheet is composed and written twice
in a turn: for a farm of which nothing is remembered yet, and for one that is
open, whose figures were worked out before.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from big_farm import big_farm

from farmmap.drawing.application import ensure_application
from farmmap.farm.farm import Farm
from farmmap.scene.scene import TreeLayer
from farmmap.sheets.pack.compose import compose_pack
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.page import Document, MapOnPage
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import write_document

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MISSING = "install what the benchmarks set farmmap beside: python -m pip install 'farmmap[benchmark]'"
TURNS = 5
MM_PER_INCH = 25.4
COLOURS = np.array(["#4477AA", "#EE6677", "#228833", "#CCBB44", "#66CCEE", "#AA3377"])


@dataclass
class Timed:
    """Seconds of one way of doing something, and the size of what it made."""

    words: str
    path: Path
    seconds: list[float] = field(default_factory=list)

    def turn(self, work: Callable[[Path], None]) -> None:
        """Do it once more."""
        began = time.perf_counter()
        work(self.path)
        self.seconds.append(time.perf_counter() - began)

    @property
    def best(self) -> float:
        """The shortest time. [s]."""
        return min(self.seconds)

    @property
    def size(self) -> int:
        """Bytes that were written."""
        return self.path.stat().st_size

    def row(self) -> str:
        """Return it as a line of a table."""
        return f"{self.words:<46}{self.best:8.3f} s{self.seconds[0]:9.3f} s{self.size / 1e6:9.3f} MB\n"


def _points(farm: Farm, size_mm: tuple[float, float]) -> Figure:
    """Return the trees of a farm as points on paper of a size."""
    from matplotlib.figure import Figure

    trees = farm.trees
    species = np.unique(trees["species"], return_inverse=True)[1]
    figure = Figure(figsize=(size_mm[0] / MM_PER_INCH, size_mm[1] / MM_PER_INCH))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    axes.scatter(
        trees["x"],
        trees["y"],
        s=farm.measurements["dbh_cm"],
        c=COLOURS[species % len(COLOURS)],
        edgecolors="k",
        linewidths=0.3,
    )
    axes.set_aspect("equal")
    return figure


def _maps_with_trees(document: Document) -> list[MapOnPage]:
    maps = [one for page in document.pages for one in page.maps]
    return [one for one in maps if any(isinstance(layer, TreeLayer) for layer in one.scene.layers)]


def _sheet(trees: int, folder: Path) -> None:
    anew = Timed(f"A3 sheet of {trees:,} trees, figures to work out", folder / "anew.pdf")
    ours = Timed("the same once more, figures known", folder / "sheet.pdf")
    theirs = Timed("matplotlib, the points alone", folder / "points.pdf")
    for _ in range(TURNS):
        farm = big_farm(trees, blocks=40, lines=40)

        def write(path: Path, farm: Farm = farm) -> None:
            write_document(compose(farm, None, SheetOptions("A3")).document(), path)

        def draw(path: Path, farm: Farm = farm) -> None:
            _points(farm, (420.0, 297.0)).savefig(path)

        anew.turn(write)
        ours.turn(write)
        theirs.turn(draw)
    _print(theirs, anew, ours)


def _pack(trees: int, folder: Path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages

    farm = big_farm(trees, blocks=40, lines=40)
    document = compose_pack(farm, None, PackOptions())
    count = len(_maps_with_trees(document))
    ours = Timed(f"pack of {len(document.pages)} pages, {count} of its maps with trees", folder / "pack.pdf")
    theirs = Timed(f"matplotlib, the points alone on {count} pages", folder / "pages.pdf")
    for _ in range(max(TURNS - 2, 1)):
        fresh = big_farm(trees, blocks=40, lines=40)

        def write(path: Path, farm: Farm = fresh) -> None:
            write_document(compose_pack(farm, None, PackOptions()), path)

        def draw(path: Path, farm: Farm = fresh) -> None:
            with PdfPages(path) as pages:
                for _ in range(count):
                    pages.savefig(_points(farm, (210.0, 297.0)))

        ours.turn(write)
        theirs.turn(draw)
    _print(theirs, ours)


def _print(theirs: Timed, *ours: Timed) -> None:
    sys.stdout.write(theirs.row())
    for one in ours:
        times, share = theirs.best / one.best, one.size / theirs.size
        sys.stdout.write(f"{one.row()}{'':<4}{times:.1f} times as fast, {share:.2f} of the size\n")
    sys.stdout.write("\n")


def main() -> None:
    """Print times, sizes and ratios."""
    trees = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    try:
        import matplotlib as mpl
        from matplotlib.backends import backend_pdf  # noqa: F401 - its import is not timed
    except ImportError as error:
        raise SystemExit(f"{error.name} is missing; {MISSING}") from None
    mpl.use("pdf")
    ensure_application()
    sys.stdout.write(f"{'':<46}{'best':>10}{'first':>11}{'size':>12}\n")
    with tempfile.TemporaryDirectory() as folder:
        _sheet(trees, Path(folder))
        _pack(trees, Path(folder))


if __name__ == "__main__":
    main()
