"""How fast stems are cut into products on a farm of a million trees, beside the standing figures of the same farm.

Run by hand on an idle machine::

    python tests/benchmarks/products_speed.py [TREES]

Everything is measured in one run; the last column is the ratio to working out
which trees stand, what was read of them and which block each stands in.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np
from big_farm import big_farm

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_of_each_tree
from farmmap.figures.grounds import grounds
from farmmap.figures.standing import standing
from farmmap.plans.harvest.carbon import carbon_of
from farmmap.plans.harvest.harvest import standing_tally
from farmmap.plans.harvest.standing_tables import standing_table
from farmmap.plans.harvest.timber import timber_of

Answer = TypeVar("Answer")


def _timed(words: str, work: Callable[[], Answer], beside_s: float | None = None) -> tuple[Answer, float]:
    began = time.perf_counter()
    answer = work()
    took = time.perf_counter() - began
    ratio = "" if beside_s is None else f"{took / beside_s:10.2f}"
    sys.stdout.write(f"{words:<44}{took:8.2f} s{ratio}\n")
    return answer, took


def _with_heights(farm: Farm, share: float = 0.05) -> Farm:
    """Measure the height of a few trees, along a curve with some scatter."""
    chance = np.random.default_rng(5)
    tape = farm.measurements.copy(deep=False)
    dbh = tape["dbh_cm"].to_numpy()
    height = 1.4 + (dbh / (1.4 + 0.19 * dbh)) ** 2 * chance.normal(1.0, 0.05, len(dbh))
    tape["height_m"] = np.where(chance.random(len(dbh)) < share, height, np.nan)
    return farm.with_tables(measurements=tape)


def main() -> None:
    """Print how long each step takes."""
    trees = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    farm = _with_heights(big_farm(trees))
    sys.stdout.write(f"{trees:,} trees, {len(farm.blocks)} blocks\n\n")
    _, members = _timed("which block each tree stands in", lambda: block_of_each_tree(farm))
    _, stands = _timed("which trees stand, what was read of them", lambda: standing(farm))
    beside = members + stands
    sys.stdout.write(f"{'together':<44}{beside:8.2f} s{1:10.2f}\n")
    timber, _ = _timed("heights and stem volumes", lambda: timber_of(farm), beside)
    _timed("all stems cut into products and added up", lambda: standing_tally(farm), beside)
    grounds(farm)
    _timed("carbon", lambda: carbon_of(farm, timber), beside)
    _timed("table by species", lambda: standing_table(farm), beside)
    _timed("table by block", lambda: standing_table(farm, by="block"), beside)


if __name__ == "__main__":
    main()
