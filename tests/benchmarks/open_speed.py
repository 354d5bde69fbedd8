"""How long opening a farm takes, and how much memory, beside a general reader of the same trees.

Run by hand on an idle machine::

    python tests/benchmarks/open_speed.py [--folder WHERE_TO_KEEP_THE_FARMS] [TREES ...]

Each measurement of time and peak memory runs in a fresh process that has
geopandas and farmmap loaded, so the time holds what loading the general reader
takes, if it is used. One ratio is of best times in fresh processes, as a farm
is opened; another of best times taken in turn in one process, over and over,
where all that is made once is at hand.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

SIZES = (10_000, 100_000, 1_000_000)
BLOCKS = 1_000
TURNS = 5
FRESH = 5
EPSG = 2193

Work = Callable[[Path], object]


def farm_of(trees: int) -> object:
    """A farm of many trees with tag, species, planting year, status and one measurement each."""
    import numpy as np
    from shapely import box

    from farmmap.farm.farm import new_farm, shaped
    from farmmap.farm.schema import TABLES

    farm, draw = new_farm("Large", EPSG), np.random.default_rng(0)
    east, north, side, size = 1_812_000.0, 5_478_000.0, 32, 100.0
    ids, plots = np.arange(1, trees + 1), np.arange(BLOCKS)
    west, south = east + plots % side * size, north + plots // side * size
    blocks = {"name": [f"Block {i}" for i in plots], "geometry": box(west, south, west + size, south + size)}
    growing = {
        "tag": ids.astype(str),
        "species": np.array(["TOTA", "REDW", "RADI", "KAUR", "EUCA"])[draw.integers(0, 5, trees)],
        "planted": np.array(["2004", "2010-07-15", ""])[draw.integers(0, 3, trees)],
        "status": np.where(draw.random(trees) < 0.03, "dead", "alive"),
        "x": east + draw.random(trees) * side * size,
        "y": north + draw.random(trees) * side * size,
    }
    taped = {
        "tree": ids,
        "measured_on": np.full(trees, np.datetime64("2024-05-01", "s")),
        "dbh_cm": draw.uniform(5, 60, trees).round(1),
        "height_m": np.where(draw.random(trees) < 0.3, draw.uniform(3, 30, trees).round(1), np.nan),
    }
    return farm.with_tables(
        blocks=shaped(TABLES["blocks"], blocks, plots + 1, farm.grid),
        trees=shaped(TABLES["trees"], growing, ids, farm.grid),
        measurements=shaped(TABLES["measurements"], taped, ids, farm.grid),
    )


def read_whole(path: Path) -> object:
    from farmmap.files.farm_file import read_farm

    return read_farm(path)


def read_one(path: Path, name: str) -> object:
    from farmmap.farm.schema import TABLES
    from farmmap.files.placing import connected
    from farmmap.files.table_reading import read_table

    with contextlib.closing(connected(path, "ro")) as connection:
        return read_table(connection, path, TABLES[name], EPSG)


def read_trees(path: Path) -> object:
    return read_one(path, "trees")


def read_measurements(path: Path) -> object:
    return read_one(path, "measurements")


def general_trees(path: Path) -> object:
    import geopandas

    return geopandas.read_file(path, layer="trees", use_arrow=True)


def general_measurements(path: Path) -> object:
    import geopandas

    return geopandas.read_file(path, layer="measurements", use_arrow=True)


def loaded_only(path: Path) -> None:
    """Load what all others load, and read nothing: the memory that a farm's size has no part in."""
    import geopandas  # noqa: F401

    import farmmap.files.farm_file  # noqa: F401


WORK: dict[str, Work] = {
    work.__name__: work
    for work in (loaded_only, read_whole, read_trees, general_trees, read_measurements, general_measurements)
}


def measured(work: Work, path: Path) -> tuple[float, float]:
    """Return seconds and peak memory in MB of one piece of work, in this process, which did nothing before."""
    loaded_only(path)
    start = time.perf_counter()
    work(path)
    return time.perf_counter() - start, peak_mb()


def peak_mb() -> float:
    """Return the most memory that this process has held at once, in MB."""
    status = Path("/proc/self/status")
    if status.exists():  # what the system counts for a process started from a large one begins at that one's peak
        return next(int(line.split()[1]) for line in status.read_text().splitlines() if line.startswith("VmHWM")) / 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def in_fresh_process(name: str, path: Path) -> tuple[float, float]:
    command = [sys.executable, "-W", "ignore", __file__, "--work", name, str(path)]
    return tuple(json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout))


def in_turn(ours: Work, theirs: Work, path: Path) -> tuple[float, float]:
    """Best times of two pieces of work, done in turn in this process. [s]"""
    best = {ours: float("inf"), theirs: float("inf")}
    for _ in range(TURNS):
        for work in (ours, theirs):
            start = time.perf_counter()
            work(path)
            best[work] = min(best[work], time.perf_counter() - start)
    return best[ours], best[theirs]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("trees", nargs="*", type=int, default=list(SIZES))
    parser.add_argument("--folder", type=Path, help="where to keep the farms for another run")
    parser.add_argument("--work", nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    if asked.work:
        sys.stdout.write(json.dumps(measured(WORK[asked.work[0]], Path(asked.work[1]))))
        return
    with contextlib.ExitStack() as stack:
        folder = asked.folder or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        folder.mkdir(parents=True, exist_ok=True)
        compare(asked.trees, folder)


def compare(sizes: list[int], folder: Path) -> None:
    """Print a line for each farm and piece of work."""
    from farmmap.files.farm_file import write_farm

    for trees in sizes:
        path = folder / f"farm of {trees} trees.gpkg"
        if not path.exists():
            write_farm(farm_of(trees), path)
        say(f"\n{trees:,} trees, {BLOCKS:,} blocks, {trees:,} measurements ({path.stat().st_size / 1e6:.0f} MB)")
        _, base_mb = in_fresh_process("loaded_only", path)
        first: dict[str, float] = {}
        for name in list(WORK)[1:]:
            runs = [in_fresh_process(name, path) for _ in range(FRESH)]
            took, peak_mb = (min(figures) for figures in zip(*runs, strict=True))
            first[name] = took
            say(
                f"  {name.replace('_', ' '):<24}{took * 1e3:>9.0f} ms{took / trees * 1e6:>8.2f} µs a tree"
                f"{peak_mb - base_mb:>9.0f} MB more{(peak_mb - base_mb) / trees * 1e6:>8.0f} bytes a tree"
            )
        for words, ours, theirs in (
            ("trees", read_trees, general_trees),
            ("measurements", read_measurements, general_measurements),
        ):
            ratio = first[theirs.__name__] / first[ours.__name__]
            one, other = in_turn(ours, theirs, path)
            say(
                f"  {words}: {ratio:.1f} times as fast in a fresh process; over and over {one * 1e3:.1f} ms beside "
                f"{other * 1e3:.1f} ms, {other / one:.1f} times as fast"
            )


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
