"""How soon a million trees are forecast, beside fitting a straight line to each of them.

Run by hand on an idle machine::

    python tests/benchmarks/growth_speed.py [--trees 1000000]

Trees of eight species, measured four times, are invented. Printed are the
seconds for fitting all species (``fit``), for each tree's own curve
(``own curves``), for a forecast with its interval (``forecast``), and for the
year in which each of a tenth of the trees is 60 cm thick (``ready``); each
also as a multiple of ``lines``: least-squares lines through the readings of
all trees by `numpy.bincount`, the least that any forecast has to do.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
from collections.abc import Callable

import numpy as np

from farmmap.figures.growth.farm_growth import growth_from
from farmmap.figures.growth.forecasts import forecast_from, ready_from
from farmmap.figures.growth.readings import Readings

SURVEYS = np.array([7.0, 11.0, 15.0, 19.0])
SPECIES = 8


def invented(trees: int) -> Readings:
    """Return trees that grow by Chapman-Richards curves of their species."""
    rng = np.random.default_rng(1)
    species = np.arange(trees) % SPECIES
    asymptote, rate = rng.uniform(45, 100, SPECIES)[species], rng.uniform(0.04, 0.09, SPECIES)[species]
    size = (1 - np.exp(-rate[:, None] * SURVEYS)) ** 1.3 * (asymptote * np.exp(rng.normal(0, 0.15, trees)))[:, None]
    size += rng.normal(0, 0.2, size.shape)
    many = len(SURVEYS)
    count = np.full(trees, many)
    return Readings(
        np.arange(1, trees + 1),
        species,
        tuple("ABCDEFGH"),
        np.full(trees, 2005.5),
        np.zeros(trees),
        np.zeros(trees, np.int64),
        ("seedling",),
        np.arange(trees) * many,
        count,
        np.repeat(np.arange(trees), many),
        np.tile(2005.5 + SURVEYS, trees),
        np.maximum(size, 0.5).ravel(),
    )


def lines(known: Readings) -> np.ndarray:
    """Return the slope of a straight line through the readings of each tree."""
    tree, many = known.tree, len(known.ids)
    year = known.year - (np.bincount(tree, known.year, many) / known.count)[tree]
    return np.bincount(tree, year * known.dbh_cm, many) / np.bincount(tree, year**2, many)


def seconds(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of a few runs."""
    found = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        found.append(time.perf_counter() - begin)
    return min(found)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, default=1_000_000)
    known = invented(parser.parse_args().trees)
    beside = seconds(lambda: lines(known))
    growth = growth_from(known, {})
    some = known.ids[::10]
    rows = {
        "lines": beside,
        "fit": seconds(lambda: growth_from(invented(len(known.ids) - 1), {}), 1),
        "own curves": seconds(lambda: (growth.curves, growth.rates), 1),
        "forecast": seconds(lambda: forecast_from(growth, dt.date(2040, 1, 1))),
        "ready": seconds(lambda: ready_from(growth, np.full(len(some), 60.0), some), 1),
    }
    sys.stdout.write(f"{len(known.ids):,} trees, {len(known.tree):,} readings\n")
    for name, took in rows.items():
        sys.stdout.write(f"{name:12} {took:7.2f} s {took / beside:8.1f} × lines\n")


if __name__ == "__main__":
    main()
