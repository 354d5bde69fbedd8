"""How long a planting takes to plan, beside plain parallel offset and clip of the same rows, and how it grows.

    python tests/benchmarks/planting_speed.py [--km 1 5 20] [--repeats 15]

A meandering creek (a sine-generated curve, Langbein and Leopold 1966), both banks, three zones in rows along it. The
plain way is given the strips of ground, and makes `shapely.offset_curve` for each row, cuts it to its strip, and sets
places in equal steps along what is left, with nothing done about bends, corners and plants too near one another. It
works on pieces of 1 km each, which is the friendlier way for it: on one long line its time grows faster than length.

Beside it in the same run, by turns: the whole plan (ground of each zone, fence, what is kept clear, places, mix,
areas), for a width that it has not met, at rest and while something is dragged (``quick``); the places alone on the
very same strips; the sketch that may be shown of a long stretch meanwhile; the expected cover at four ages; and plan
and sketch of the recipe sedge_edge_10m.toml of the sample farm, whose zones are in other patterns. Medians; a ratio is
ours over plain.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

sys.path.insert(0, str(Path(__file__).parents[2]))

from farmmap.farm.farm import Farm
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.ground.stretch import CreekPart, Stretch, find_part
from farmmap.plans.planting.ground.strips import zone_reach
from farmmap.plans.planting.ground.widths import steady
from farmmap.plans.planting.make import make_plan, plan_sketch
from farmmap.plans.planting.outcome.cover import expected_cover
from farmmap.plans.planting.places.places import places
from farmmap.plans.planting.places.rows import row_distances
from farmmap.plans.planting.places.spacing import kept_apart, least_apart_m
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import PlantKinds, plant_kinds
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Recipe, WidthRule, Zone
from farmmap.plans.planting.recipes.recipe_file import read_recipe
from farmmap.resource_files import sample_farm_path
from tests.plans.meanders import creek_farm, sine_generated_creek

MIX = (Kin("CSEC", 0.6), Kin("MANU", 0.4))
ZONES = (
    Zone("water's edge", share=0.1, between_m=1.0, within_m=1.0, mix=MIX),
    Zone("bank", share=0.3, between_m=2.0, within_m=1.5, mix=MIX),
    Zone("timber", share=0.6, between_m=4.0, within_m=2.5, mix=MIX),
)
ROWS = Recipe("rows", (WidthRule(width_m=20.0),), ZONES, fence=FenceWish(set_back_m=1.0))
BOTH = Stretch("Sedge Creek", SIDES)
YEARS = (1.0, 5.0, 10.0, 20.0)
CORNER_M = 5.0
PIECE_M = 1000.0
STEP_M = 0.01
FRAME_MS = 1000 / 60

HEAD = (
    "km",
    "plants",
    "plain",
    "plan, dragged",
    "ratio",
    "plan, at rest",
    "ratio",
    "places",
    "ratio",
    "sketch",
    "cover",
)


@dataclass(frozen=True)
class Piece:
    """A piece of creek for the plain way: its middle line, half its channel's width, and its strips."""

    line: shapely.LineString
    half: float
    strips: tuple[tuple[int, Zone, shapely.Geometry, tuple[float, float]], ...]


def plain(pieces: list[Piece]) -> int:
    """Rows by parallel offset, clipped, with places in equal steps."""
    count = 0
    for piece in pieces:
        for side, zone, ground, (least, most) in piece.strips:
            for distance in row_distances(least, most, zone.between_m):
                off = (piece.half + distance) * (1 if side == 0 else -1)
                cut = shapely.intersection(shapely.offset_curve(piece.line, off), ground)
                for run in shapely.get_parts(cut):
                    if run.length > 0:
                        at = np.arange(zone.within_m / 2, run.length, zone.within_m)
                        count += len(shapely.line_interpolate_point(run, at))
    return count


def places_alone(part: CreekPart, plan: PlantingPlan, reach: tuple[tuple[float, float], ...]) -> int:
    """All places on the strips of a plan, kept apart."""
    fresh = CreekPart(part.stretch, part.creek, part.reaches, part.starts_m, part.line)  # nothing is remembered of it
    zones = plan.recipe.zones
    found = [
        places(zones[strip.zone], strip.clear, reach[strip.zone], fresh, strip.side, plan.scale, None, 1)
        for strip in plan.strips
    ]
    apart = [np.full(len(one), least_apart_m(zones[strip.zone])) for one, strip in zip(found, plan.strips, strict=True)]
    patch = np.repeat(
        [place if one.known_apart else -1 for place, one in enumerate(found)], [len(one) for one in found]
    )
    x, y = (np.concatenate([getattr(one, axis) for one in found]) for axis in "xy")
    return int(kept_apart(x, y, np.concatenate(apart), patch).sum())


def pieces_of(farm: Farm, km: float) -> list[Piece]:
    """Pieces of 1 km with the strips of ground that a plan makes of them."""
    out = []
    for begin in np.arange(0.0, km * 1000 - 1, PIECE_M):
        stretch = replace(BOTH, from_m=float(begin), to_m=float(min(begin + PIECE_M, km * 1000)))
        part, plan = find_part(farm, stretch), make_plan(farm, stretch, ROWS)
        reach = zone_reach(steady(part, 20.0), ZONES)
        strips = tuple((strip.side, ZONES[strip.zone], strip.clear, reach[strip.zone]) for strip in plan.strips)
        out.append(Piece(part.reaches[0].line, part.reaches[0].half, strips))
    return out


def _timed(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1e3


def _widths() -> Iterator[Recipe]:
    """The recipe in widths that no plan was made for yet."""
    width = 20.0
    while True:
        width += STEP_M
        yield replace(ROWS, widths=(WidthRule(width_m=width),))


def _measured(km: float, repeats: int, kinds: PlantKinds) -> tuple[list[str], float]:
    """A line of the table for a creek so long, and milliseconds for a redraw of it."""
    farm = creek_farm(sine_generated_creek(km * 1000, round(km * 1000 / CORNER_M) + 1, 60.0, 150.0), 2.0, local=True)
    pieces, part, widths = pieces_of(farm, km), find_part(farm, BOTH), _widths()
    plan = make_plan(farm, BOTH, next(widths), quick=True)
    reach = zone_reach(steady(part, 20.0), ZONES)
    works: list[Callable[[], object]] = [
        lambda: plain(pieces),
        lambda: make_plan(farm, BOTH, next(widths), quick=True),
        lambda: make_plan(farm, BOTH, next(widths)),
        lambda: places_alone(part, plan, reach),
        lambda: plan_sketch(farm, BOTH, next(widths)),
        lambda: expected_cover(farm, plan, kinds, YEARS, quick=True),
    ]
    turns = [[_timed(work) for work in works] for _ in range(repeats)]
    beside, dragged, rest, alone, sketch, cover = (statistics.median(column) for column in zip(*turns, strict=True))
    cells = (
        *(f"{km:g}", f"{len(plan.plants)}", f"{beside:.1f}", f"{dragged:.1f}", f"{dragged / beside:.2f}"),
        *(f"{rest:.1f}", f"{rest / beside:.2f}", f"{alone:.1f}", f"{alone / beside:.2f}"),
        *(f"{sketch:.1f}", f"{cover:.1f}"),
    )
    return list(cells), dragged


def _other_patterns(km: float, repeats: int, kinds: PlantKinds) -> str:
    """What a redraw takes for the sample farm's own recipe, while its width is dragged."""
    recipe = read_recipe(sample_farm_path().parent / "sedge_edge_10m.toml", kinds.find)
    farm = creek_farm(sine_generated_creek(km * 1000, round(km * 1000 / CORNER_M) + 1, 60.0, 150.0))
    wide = (replace(recipe, widths=(WidthRule(width_m=10.0 + STEP_M * step),)) for step in range(2 * repeats + 1))
    plan = make_plan(farm, BOTH, next(wide), quick=True)
    works = (lambda: make_plan(farm, BOTH, next(wide), quick=True), lambda: plan_sketch(farm, BOTH, next(wide)))
    took, sketch = (statistics.median(_timed(work) for _ in range(repeats)) for work in works)
    return f"{km:g} km by {recipe.title}: {took:.1f} ms dragged, {sketch:.1f} ms sketched, {len(plan.plants)} plants\n"


def main() -> None:
    """Time both and print them side by side."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--km", type=float, nargs="+", default=[1.0, 5.0, 20.0])
    asked.add_argument("--repeats", type=int, default=15)
    given = asked.parse_args()
    kinds, per_km = plant_kinds(), []
    sys.stdout.write("Milliseconds; ratios to the plain way\n" + " ".join(f"{word:>13}" for word in HEAD) + "\n")
    for km in given.km:
        cells, dragged = _measured(km, max(int(given.repeats / max(km / 2, 1)), 3), kinds)
        per_km.append(dragged / km)
        sys.stdout.write(" ".join(f"{cell:>13}" for cell in cells) + "\n")
        sys.stdout.flush()
    told = ", ".join(f"{km:g} km {one:.1f}" for km, one in zip(given.km, per_km, strict=True))
    sys.stdout.write(f"A kilometre, dragged: {told} ms (a frame is {FRAME_MS:.1f} ms)\n")
    for km in given.km:
        sys.stdout.write(_other_patterns(km, max(int(given.repeats / max(km / 2, 1)), 3), kinds))


if __name__ == "__main__":
    main()
