"""How fast figures are worked out, beside general-purpose libraries on the same farm in the same run.

Run by hand on an idle machine::

    python tests/benchmarks/figures_speed.py

An invented farm of 1,000 blocks (about 50 corners each, real shared edges) and
1,000,000 trees is made. Every comparison is run several times, the two sides
in turn, and the medians are set beside each other. The last column says
whether both sides came to the same numbers.
"""

from __future__ import annotations

import argparse
import datetime as dt
import functools
import itertools
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from farmmap.editing.tape_entry import measured
from farmmap.editing.trees import fields_changed, tree_placed, trees_moved
from farmmap.farm.edits import Edit, rows_changed
from farmmap.farm.farm import Farm, Settings, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES
from farmmap.figures.after_edit import carry_over
from farmmap.figures.blocks import block_figures, members_of, tree_index
from farmmap.figures.canopy import covered_area
from farmmap.figures.crown_rows import covered_by_rows
from farmmap.figures.grounds import Grounds, grounds
from farmmap.figures.margins import margin_figures
from farmmap.figures.members import Members
from farmmap.figures.membership import block_of_trees
from farmmap.figures.recount import members_between
from farmmap.figures.standing import Standing, standing
from farmmap.figures.stocking import Stock, Stocking
from farmmap.figures.tree_index import TreeIndex
from farmmap.figures.whole_farm import farm_figures
from farmmap.files.farm_file import read_farm, write_farm
from farmmap.files.farm_writer import FarmWriter

WEST, SOUTH = 1_800_000.0, 5_470_000.0
SIDE_M = 140.0
CORNERS_A_SIDE = 12
ON = dt.date(2021, 1, 1)
Row = tuple[str, float, float, str, str]
EQUAL_AREA = float(np.sqrt((2 * np.pi / 64) / np.sin(2 * np.pi / 64)))
"""A 64-sided polygon drawn this much wider has the area of the circle that it stands for."""


class Clock:
    """What time is taken by: the wall, or the processor's own on a machine that does other work."""

    now = staticmethod(time.perf_counter)


CLOCK = Clock()


def outlines(across: int, up: int, random: np.random.Generator) -> np.ndarray:
    """Return blocks in rows, their crooked edges shared corner by corner."""
    nodes = np.stack(np.meshgrid(np.arange(across + 1.0), np.arange(up + 1.0)), -1) * SIDE_M
    nodes += random.uniform(-0.15, 0.15, nodes.shape) * SIDE_M + np.array([WEST, SOUTH])

    def edges(begins: np.ndarray, ends: np.ndarray) -> np.ndarray:
        part = np.linspace(0, 1, CORNERS_A_SIDE + 1)[:, None]
        lines = begins[..., None, :] * (1 - part) + ends[..., None, :] * part
        lines[..., 1:-1, :] += random.uniform(-0.02, 0.02, lines[..., 1:-1, :].shape) * SIDE_M
        return lines

    flat, upright = edges(nodes[:, :-1], nodes[:, 1:]), edges(nodes[:-1], nodes[1:])
    return np.array(
        [
            shapely.Polygon(
                np.concatenate([flat[j, i], upright[j, i + 1][1:], flat[j + 1, i][::-1][1:], upright[j, i][::-1][1:]])
            )
            for j in range(up)
            for i in range(across)
        ],
        object,
    )


def invented_farm(across: int, up: int, trees: int) -> Farm:
    """Return a farm of across × up blocks, with trees, tracks, fences and creeks all over."""
    random, grid = np.random.default_rng(1), Grid(2193)
    blocks = outlines(across, up, random)
    size = np.array([across, up]) * SIDE_M
    xy = random.uniform(0, 1, (trees, 2)) * size + np.array([WEST, SOUTH])

    def rows(table: str, count: int, **values: Any) -> Any:
        return shaped(TABLES[table], values, np.arange(1, count + 1), grid)

    lines = [
        shapely.LineString(
            random.uniform(0, 1, 2) * size
            + np.array([WEST, SOUTH])
            + np.cumsum(random.uniform(-30, 30, (8, 2)), axis=0)
        )
        for _ in range(1000)
    ]
    return Farm(
        Settings("Pipit Flats", 2193),
        {
            "blocks": rows("blocks", len(blocks), name=[f"Block {n + 1}" for n in range(len(blocks))], geometry=blocks),
            "tracks": rows("tracks", 450, geometry=lines[:450]),
            "fences": rows("fences", 540, geometry=lines[450:990]),
            "creeks": rows("creeks", 10, name=[f"Creek {n + 1}" for n in range(10)], geometry=lines[990:]),
            "species": rows("species", 2, code=["TOTA", "REDW"], name=["tōtara", "coast redwood"]),
            "trees": rows(
                "trees",
                trees,
                tag=np.arange(trees).astype(str),
                species=random.choice(["TOTA", "REDW", "ALDR"], trees),
                planted=random.choice(["2004", "2010-07"], trees),
                x=xy[:, 0],
                y=xy[:, 1],
            ),
            "measurements": rows(
                "measurements",
                trees,
                tree=np.arange(1, trees + 1),
                measured_on=np.full(trees, "2020-05-01", "datetime64[s]"),
                dbh_cm=random.uniform(5, 50, trees),
                height_m=np.where(random.random(trees) < 0.3, random.uniform(5, 30, trees), np.nan),
            ),
        },
    )


def in_turn(times: int, *of: Callable[[], object]) -> list[float]:
    """Median time of each of several things, done in turn. [s]"""
    taken: list[list[float]] = [[] for _ in of]
    for _ in range(times):
        for place, do in enumerate(of):
            start = CLOCK.now()
            do()
            taken[place].append(CLOCK.now() - start)
    return [statistics.median(each) for each in taken]


def joined(points: gpd.GeoDataFrame, blocks: gpd.GeoDataFrame) -> np.ndarray:
    """Stems, basal area and quadratic mean diameter of each block by geopandas. [1, m², cm]"""
    found = gpd.sjoin(points, blocks[["geometry"]], predicate="intersects")
    block = found.columns[-1]
    sums = found.groupby(block).agg(stems=("basal", "size"), basal=("basal", "sum")).reindex(blocks.index)
    return np.column_stack([sums["stems"], sums["basal"], np.sqrt(sums["basal"] / sums["stems"] * 40_000 / np.pi)])


def ours(there: Standing, members: Members, ids: np.ndarray) -> np.ndarray:
    """Return the same by farmmap."""
    found = Stocking(there, members, ids)
    return np.column_stack([found.stems, found.basal_area_m2, found.qmd_cm])


def agree(one: np.ndarray, other: np.ndarray, within: float) -> str:
    """Say how far two arrays are apart."""
    apart = float(np.max(np.abs(one / other - 1)))
    return f"{'yes' if apart <= within else 'NO'}, within {apart:.0e}"


def corner_moved(farm: Farm, block: int, random: np.random.Generator, *, shared: bool) -> Edit:
    """Return the edit that moves one corner of a block, with that of its neighbours or without."""
    shapes = farm.blocks.geometry.to_numpy()
    old = shapely.get_coordinates(shapes[block])[CORNERS_A_SIDE + CORNERS_A_SIDE // 2]
    new = old + random.uniform(-6, 6, 2)
    hit = [bool((shapely.get_coordinates(shape) == old).all(axis=1).any()) for shape in shapes] if shared else None
    rows = farm.blocks[hit].copy() if hit is not None else farm.blocks.iloc[[block]].copy()
    rows["geometry"] = shapely.transform(
        rows.geometry.to_numpy(), lambda corners: np.where((corners == old).all(axis=1)[:, None], new, corners)
    )
    return rows_changed(farm, "Move a corner", "blocks", rows)


def from_scratch(farm: Farm, times: int) -> tuple[list[Row], float, Callable[[Farm], np.ndarray]]:
    """Figures of all blocks beside sjoin and groupby; with the time of the latter and a way to run it again."""
    there = standing(farm, ON)
    x, y = farm.trees["x"].to_numpy(), farm.trees["y"].to_numpy()
    points = gpd.GeoDataFrame({"basal": there.basal_area_m2}, geometry=gpd.points_from_xy(x, y), crs=farm.blocks.crs)
    ids, shapes = farm.blocks.index.to_numpy(), farm.blocks.geometry.to_numpy()
    answer: dict[str, np.ndarray] = {}

    def by_join() -> None:
        answer["join"] = joined(points, farm.blocks)

    def by_us(index: TreeIndex) -> None:
        fresh = shapely.from_wkb(shapely.to_wkb(shapes))
        answer["ours"] = ours(there, Members(block_of_trees(index, ids, fresh)), ids)

    index = TreeIndex(x, y)
    join, whole, with_index = in_turn(times, by_join, lambda: by_us(TreeIndex(x, y)), lambda: by_us(index))
    same = agree(answer["ours"], answer["join"], 1e-9)
    rows = [
        ("stocking from scratch, index and all / sjoin + groupby", whole, join, "4", same),
        ("stocking from scratch, index at hand / sjoin + groupby", with_index, join, "8", same),
    ]

    def again(after: Farm) -> np.ndarray:
        if after.trees is farm.trees and after.measurements is farm.measurements:
            return joined(points, after.blocks)
        there = standing(Farm(after.settings, {name: frame.copy() for name, frame in after.tables.items()}), ON)
        at = gpd.points_from_xy(there.x, there.y)
        now = gpd.GeoDataFrame({"basal": there.basal_area_m2}, geometry=at, crs=farm.blocks.crs)
        return joined(now, after.blocks)

    return rows, join, again


def margins_cover(times: int) -> list[Row]:
    """Cover of a long margin by rows and exactly beside the union of the crowns."""
    rows = []
    for number in (10_000, 100_000):
        random = np.random.default_rng(number)
        long = float(np.sqrt(number) * 40)
        along = np.linspace(0, long, 400)
        creek = shapely.LineString(np.column_stack([along, 60 * np.sin(along / 90)]))
        wide = number * 12.0 / long / 2
        margin = shapely.buffer(creek, wide, cap_style="flat", quad_segs=16).difference(creek.buffer(1.0, quad_segs=16))
        west, south, east, north = margin.bounds
        radius = random.uniform(1.0, 3.5, 40 * number)
        x, y = random.uniform(west - 4, east + 4, len(radius)), random.uniform(south - 4, north + 4, len(radius))
        shapely.prepare(margin)
        reaching = np.flatnonzero(shapely.dwithin(margin, shapely.points(x, y), radius))[:number]
        x, y, radius = x[reaching], y[reaching], radius[reaching]
        found: dict[str, float] = {}

        def by_union(x=x, y=y, radius=radius, margin=margin, found=found) -> None:  # type: ignore[no-untyped-def]
            drawn = shapely.buffer(shapely.points(x, y), radius * EQUAL_AREA, quad_segs=16)
            found["union"] = shapely.union_all(drawn).intersection(margin).area

        def by_rows(x=x, y=y, radius=radius, margin=margin, found=found) -> None:  # type: ignore[no-untyped-def]
            found["rows"] = covered_by_rows(x, y, radius, margin)

        def exactly(x=x, y=y, radius=radius, margin=margin, found=found) -> None:  # type: ignore[no-untyped-def]
            found["exact"] = covered_area(x, y, radius, margin)

        quick, exact, union = in_turn(1 if number > 10_000 else times, by_rows, exactly, by_union)
        off = [
            agree(np.array([found[a]]), np.array([found[b]]), 1e-3) for a, b in (("rows", "exact"), ("exact", "union"))
        ]
        asked = "5" if number == 10_000 else "15"
        words = f"cover of a margin, {len(x):,} crowns"
        rows += [
            (f"{words}, by rows / union_all", quick, union, asked, f"{off[0]} of the exact one"),
            (f"{words}, exact / union_all", exact, union, "", f"{off[1]} of the union"),
        ]
    return rows


def stocks_of(farm: Farm, there: Standing) -> dict[int, Stock]:
    """Return the stocking of each block."""
    ids = grounds(farm).ids
    found = Stocking(there, members_of(farm), ids)
    figures = zip(found.stems.tolist(), found.diameters.tolist(), found.basal_area_m2.tolist(), strict=True)
    return dict(zip(ids.tolist(), itertools.starmap(Stock, figures), strict=True))


def counted_again(
    trees: tuple[Standing, TreeIndex, Members],
    ground: tuple[Grounds, Grounds],
    blocks: np.ndarray,
    stocks: dict[int, Stock],
) -> dict[int, tuple[Stock, float]]:
    """Stocking and quadratic mean diameter [cm] of the blocks whose trees are others after an edit of outlines."""
    there, index, members = trees
    counted: dict[int, Stock] = {}
    for step in members_between(members, index, ground, blocks)[1]:
        for one, (lost, won) in step.items():
            counted[one] = counted.get(one, stocks[one]).after(there, lost, won)
    return {one: (stock, stock.qmd_cm) for one, stock in counted.items()}


def one_corner(farm: Farm, again: Callable[[Farm], np.ndarray], times: int, *, shared: bool) -> list[Row]:
    """One corner moved: the stocking alone, and all tables; every few turns geopandas works them out anew as well."""
    random = np.random.default_rng(3)
    there, ids = standing(farm, ON), grounds(farm).ids
    tables = [table(farm, ON) for table in (block_figures, margin_figures, farm_figures)]
    alone, whole, anew = [], [], []
    stocks, now = stocks_of(farm, there), farm
    for turn in range(4 * times):
        if turn % 4 == 0:
            anew += in_turn(1, lambda now=now: again(now))
        edit = corner_moved(now, int(random.integers(len(now.blocks))), random, shared=shared)
        after = edit.apply(now)
        blocks = edit.changes["blocks"].after.index.to_numpy(np.int64)
        ground = grounds(now), _with_outlines(grounds(now), after, blocks)
        trees = there, tree_index(now), members_of(now)
        count = functools.partial(counted_again, trees, ground, blocks, stocks)
        alone += in_turn(5, count)
        start = CLOCK.now()
        carry_over(now, after, edit, ON)
        tables = [table(after, ON) for table in (block_figures, margin_figures, farm_figures)]
        whole.append(CLOCK.now() - start)
        for one, (stock, qmd_cm) in count().items():
            row = tables[0].row_of(one)
            assert row is not None
            shown = (row["stems"], row["basal_area_m2"], row["qmd_cm"])
            assert shown == (stock.stems, stock.basal_area_m2, qmd_cm)
            stocks[one] = stock
        now = after
    figures = np.array([[row["stems"], row["basal_area_m2"], row["qmd_cm"]] for row in tables[0].rows], float)
    if shared:
        same = agree(figures, again(now), 1e-9)
    else:  # blocks overlap now, and geopandas counts a tree in each of them
        scratch = Members(block_of_trees(tree_index(now), ids, now.blocks.geometry))
        same = agree(figures, ours(there, scratch, ids), 1e-12)
    words = f"corner of {'two blocks' if shared else 'one block'} moved"
    middle, beside = statistics.median(alone), statistics.median(anew)
    return [
        (f"{words}, stocking alone / sjoin + groupby", middle, beside, "5000", same),
        (f"{words}, every table right again / one frame", statistics.median(whole), 0.0167, "1", same),
    ]


def in_the_file(farm: Farm, times: int) -> list[Row]:
    """One corner moved: applied, every table right again and the edit synced meanwhile, as the window does it."""
    random = np.random.default_rng(5)
    for table in (block_figures, margin_figures, farm_figures):
        table(farm, ON)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "farm.gpkg"
        write_farm(farm, path)
        now = farm
        with FarmWriter(path) as writer, ThreadPoolExecutor(1) as pen:
            for shared in (False, True):
                taken = []
                for turn in range(4 * times + 2):
                    edit = corner_moved(now, int(random.integers(len(now.blocks))), random, shared=shared)
                    start = CLOCK.now()
                    after = edit.apply(now)
                    at_disk = threading.Event()
                    written = pen.submit(writer.write, edit, at_disk.set)
                    at_disk.wait()
                    carry_over(now, after, edit, ON)
                    for table in (block_figures, margin_figures, farm_figures):
                        table(after, ON)
                    written.result()
                    if turn > 1:  # the first make what all later ones rest on
                        taken.append(CLOCK.now() - start)
                    now = after
                words = f"corner of {'two blocks' if shared else 'one block'} moved"
                found = f"{words}, applied, every table right and in the file / one frame"
                rows.append((found, statistics.median(taken), 0.0167, "1", ""))
        kept = read_farm(path).blocks.geometry.to_numpy()
        same = "yes" if shapely.equals_exact(kept, now.blocks.geometry.to_numpy()).all() else "NO"
    return [(*row[:4], same) for row in rows]


def one_tree(farm: Farm, join: float, again: Callable[[Farm], np.ndarray], times: int) -> list[Row]:
    """One tree placed, measured, given another species and moved: all tables."""
    for table in (block_figures, margin_figures, farm_figures):
        table(farm, ON)
    makers: dict[str, Callable[[Farm, int, int], Edit]] = {
        "tree placed": lambda farm, _, turn: (
            tree_placed(
                farm, *(farm.trees[axis].array[turn] + 1.5 for axis in "xy"), {"tag": f"new {turn}", "species": "TOTA"}
            ).edit
        ),
        "diameter measured": lambda farm, one, turn: measured(farm, one, ON, dbh_cm=30.0 + turn % 7).edit,
        "species changed": lambda farm, one, _: (
            fields_changed(
                farm, "trees", [one], {"species": "REDW" if farm.trees.at[one, "species"] == "TOTA" else "TOTA"}
            ).edit
        ),
        "tree moved": lambda farm, one, _: trees_moved(farm, [one], 3.0, 2.0).edit,
    }
    rows = []
    now = farm
    for words, make in makers.items():
        taken = []
        for turn in range(4 * times):
            edit = make(now, int(now.trees.index[(turn * 7_919 + 11) % len(now.trees)]), turn)
            after = edit.apply(now)
            start = CLOCK.now()
            carry_over(now, after, edit, ON)
            table = block_figures(after, ON)
            margin_figures(after, ON)
            farm_figures(after, ON)
            taken.append(CLOCK.now() - start)
            now = after
        figures = np.array([[row["stems"], row["basal_area_m2"]] for row in table.rows], float)
        same = agree(figures, again(now)[:, :2], 1e-9)
        rows.append((f"{words}, every table right again / sjoin + groupby", statistics.median(taken), join, "", same))
    return rows


def _with_outlines(before: Grounds, after: Farm, blocks: np.ndarray) -> Grounds:
    """Return grounds whose outlines are those after the edit, as the drawing of the corner hands them on."""
    places = np.searchsorted(before.ids, blocks)
    shapes = before.outlines.copy()
    shapes[places] = after.blocks.geometry.to_numpy()[places]
    out = Grounds(before.ids, shapes, before.net, before.gross_ha, before.net_ha, before.scales, before.existing)
    bounds = before.bounds.copy(order="K")
    bounds[places] = shapely.bounds(shapes[places])
    out.__dict__["bounds"] = bounds
    return out


def main() -> None:
    """Make the farm, run all comparisons and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--across", type=int, default=40, help="blocks side by side")
    parser.add_argument("--up", type=int, default=25, help="rows of blocks")
    parser.add_argument("--trees", type=int, default=1_000_000)
    parser.add_argument("--times", type=int, default=5, help="how often each comparison is run")
    parser.add_argument("--busy", action="store_true", help="take the processor's time: the machine does other work")
    asked = parser.parse_args()
    if asked.busy:
        Clock.now = staticmethod(time.process_time)
    farm = invented_farm(asked.across, asked.up, asked.trees)
    sys.stdout.write(f"{len(farm.blocks):,} blocks, {len(farm.trees):,} trees\n\n")
    scratch, join, again = from_scratch(farm, asked.times)
    rows = [
        *scratch,
        *one_corner(farm, again, asked.times, shared=False),
        *one_corner(farm, again, asked.times, shared=True),
        *in_the_file(farm, asked.times),
        *one_tree(farm, join, again, asked.times),
        *margins_cover(asked.times),
    ]
    wide = max(len(row[0]) for row in rows)
    sys.stdout.write(f"{'':<{wide}} {'ms':>10} {'beside ms':>10} {'times':>8} {'asked':>6}  same numbers\n")
    for words, mine, other, wanted, same in rows:
        line = f"{words:<{wide}} {mine * 1e3:>10.3f} {other * 1e3:>10.1f} {other / mine:>8.1f} {wanted:>6}  {same}\n"
        sys.stdout.write(line)


if __name__ == "__main__":
    main()
