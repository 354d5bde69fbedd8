"""Choosing crop trees among 100,000, beside making one STRtree of them and asking it for each tree's neighbours.

Both in one process, one after the other, the best of several turns each. Prints the ratio, and how near to the bound
the choice comes; then the same for blocks of usual size, without a ratio.

    python tests/benchmarks/thinning_speed.py
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from farmmap.plans.thinning.best_crop import CropChoice, best_crop

TREES = 100_000
TURNS = 3
LEAST_M = 8.0


def scattered(count: int, per_ha: float = 1000.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return trees scattered at random, and what each is worth."""
    draw = np.random.default_rng(1)
    side = np.sqrt(count / per_ha * 1e4)
    x, y = draw.random((2, count)) * side
    return x, y, draw.normal(1, 0.25, count).clip(0.05)


def in_rows(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return trees planted 4 × 2.5 m with a little scatter, and what each is worth."""
    draw = np.random.default_rng(1)
    long = round(np.sqrt(count * 1.6))
    x, y = np.meshgrid(np.arange(count // long) * 4.0, np.arange(long) * 2.5)
    x, y = (axis.ravel() + draw.normal(0, 0.25, axis.size) for axis in (x, y))
    return x, y, draw.normal(1, 0.25, len(x)).clip(0.05)


def even_grid(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return trees of like worth planted 4 × 2.5 m without any scatter."""
    long = round(np.sqrt(count * 1.6))
    x, y = np.meshgrid(np.arange(count // long) * 4.0, np.arange(long) * 2.5)
    return x.ravel(), y.ravel(), np.ones(x.size)


def in_clumps(count: int, each: int = 20, wide_m: float = 4.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return trees in clumps, clump after clump, and what each is worth."""
    draw = np.random.default_rng(1)
    side = np.sqrt(count * 10.0)
    middle = np.repeat(draw.random((-(-count // each), 2)) * side, each, axis=0)[:count]
    x, y = (middle + draw.normal(0, wide_m, middle.shape)).T
    return x, y, draw.normal(1, 0.25, count).clip(0.05)


def _mixed(trees: tuple[np.ndarray, np.ndarray, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Return trees in any order, as the STRtree is asked much more quickly row by row."""
    order = np.random.default_rng(2).permutation(len(trees[0]))
    return tuple(one[order] for one in trees)


def neighbours(x: np.ndarray, y: np.ndarray, least_m: float) -> int:
    """Make one STRtree and ask it for each tree's neighbours."""
    points = shapely.points(x, y)
    tree = shapely.STRtree(points)
    return tree.query(points, predicate="dwithin", distance=least_m).shape[1]


def main() -> None:
    """Print the ratios."""
    best_crop(*scattered(500), LEAST_M)  # libraries are brought in
    laid = [(f"scattered, {least_m:g} m apart", scattered(TREES), least_m) for least_m in (3.0, 5.0, LEAST_M)]
    laid.append((f"in rows, in any order, {LEAST_M:g} m apart", _mixed(in_rows(TREES)), LEAST_M))
    for name, trees in (
        ("in rows, row by row", in_rows(TREES)),
        ("in an even grid, all worth the same", even_grid(TREES)),
        ("in clumps", in_clumps(TREES)),
    ):
        laid += [(f"{name}, {least_m:g} m apart", trees, least_m) for least_m in (3.0, 5.0, LEAST_M)]
    for name, (x, y, worth), least_m in laid:
        tree_s, choice_s = [], []
        for _ in range(TURNS):
            began = time.perf_counter()
            neighbours(x, y, least_m)
            middle = time.perf_counter()
            found = best_crop(x, y, worth, least_m)
            tree_s.append(middle - began)
            choice_s.append(time.perf_counter() - middle)
        sys.stdout.write(
            f"{len(x):,} trees {name}: choice {min(choice_s):.2f} s, one STRtree and its neighbours "
            f"{min(tree_s):.2f} s, ratio {min(choice_s) / min(tree_s):.2f} (under 2 asked), {_how_good(found)}\n"
        )
    for count in (300, 1000, 5000):
        for name, trees in (("scattered", scattered(count)), ("in rows", in_rows(count))):
            began = time.perf_counter()
            found = best_crop(*trees, LEAST_M)
            took = time.perf_counter() - began
            sys.stdout.write(f"{len(trees[0]):,} trees {name}: {took:.2f} s, {_how_good(found)}\n")


def _how_good(found: CropChoice) -> str:
    below = 100 * (1 - found.worth / found.bound)
    return "the best there is" if found.exact else f"at most {below:.2f} % below the best"


if __name__ == "__main__":
    main()
