"""How long the rings and crosses on marked trees take beside painting the trees themselves.

Run by hand on an idle machine::

    python tests/benchmarks/signs_speed.py [--trees 100000 1000000]

The same farm is painted unmarked, with one block's worth of trees marked and
with half of all trees marked, in turn, in one process: the ratios hold on any
machine. Unmarked must cost nothing beside a farm that knows no marks.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.tree_painter import TreePainter
from farmmap.figures.standing import standing
from farmmap.scene.scene import CROP, LEFT, TAKE, TreeLayer
from farmmap.scene.styles import theme
from farmmap.scene.trees import tree_layer
from farmmap.scene.view import View
from farmmap.window.start import make_application

if __package__ in {None, ""}:
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.big_farm import big_farm

WIDE, HIGH, DOTS = 1600, 1000, 96 / 25.4
ON = dt.date(2025, 1, 1)
ROUNDS = 15
A_BLOCK = 500


def layers_of(trees: TreeLayer) -> dict[str, TreeLayer]:
    """Return the trees unmarked, some near each other marked, and half of all."""
    chance = np.random.default_rng(5)
    block, half = np.zeros((2, len(trees.x)), np.int8)
    middle = len(block) // 2
    block[middle : middle + A_BLOCK] = np.where(np.arange(A_BLOCK) % 3, TAKE, CROP)
    half[:] = chance.choice((LEFT, CROP, TAKE), len(half), p=(0.5, 0.2, 0.3))
    return {"unmarked": trees, "a block marked": replace(trees, marks=block), "half marked": replace(trees, marks=half)}


def painted_ms(painter: TreePainter, trees: TreeLayer, view: View) -> float:
    """Return how long one picture takes. [ms]"""
    image = blank_image(WIDE, HIGH)
    dots = pixels_of(image)
    start = time.perf_counter()
    painter.stamp_trees(dots, trees, view, theme("light"), DOTS, lambda: None)
    return (time.perf_counter() - start) * 1000


def main() -> None:
    """Paint, and print how long it took."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, nargs="+", default=[100_000, 1_000_000])
    application = make_application()
    for many in parser.parse_args().trees:
        farm = big_farm(many)
        trees = tree_layer(farm, ON, standing(farm, ON), frozenset())
        assert trees is not None
        whole = View.fitting(farm.bounds(), WIDE / DOTS, HIGH / DOTS)
        for seen, view in (("the whole farm", whole), ("1:2 000", replace(whole, metres_per_mm=2.0))):
            painter, best = TreePainter(), dict.fromkeys(layers_of(trees), np.inf)
            made = layers_of(trees)
            for _ in range(ROUNDS):
                for name, layer in made.items():
                    best[name] = min(best[name], painted_ms(painter, layer, view))
            told = ", ".join(f"{name} {ms:.1f} ms ({ms / best['unmarked']:.2f})" for name, ms in best.items())
            sys.stdout.write(f"{many} trees, {seen}: {told}\n")
    del application


if __name__ == "__main__":
    main()
