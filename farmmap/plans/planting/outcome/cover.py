"""How much of a planting's ground its crowns will cover, year by year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import crown_map
from farmmap.figures.canopy import Canopy
from farmmap.figures.crowns import CrownMap
from farmmap.figures.discs import Discs
from farmmap.figures.standing import standing
from farmmap.plans.planting.outcome.cover_points import near_pairs, points_inside
from farmmap.plans.planting.outcome.growth import Kinds, Sizes, sizes_of_kinds
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.progress import SILENT, Progress

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

YEARS = (0.0, 1.0, 5.0, 10.0, 20.0)
"""Years after planting that are told of."""

QUICK_POINTS = 4_000
"""Places looked at while something moves; the cover is then right within about 1 % of the ground."""

LEAST_POINTS = 100
"""At least so many in each strip."""


@dataclass(frozen=True, eq=False)
class StripCover:
    """Cover of one strip.

    Attributes
    ----------
    side, zone : int
        As for `farmmap.plans.planting.plan.Strip`.
    name : str
        Name of the zone.
    area_m2 : float
        Its ground. [m2]
    cover_percent, with_low_percent : tuple of float
        As for `CoverForecast`, of the strip.
    """

    side: int
    zone: int
    name: str
    area_m2: float
    cover_percent: tuple[float, ...]
    with_low_percent: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class CoverForecast:
    """Cover of a planting's ground, each spot counted once.

    Attributes
    ----------
    years : tuple of float
        Years since planting.
    cover_percent : tuple of float
        Ground of all strips under crowns of trees and shrubs, those that stand there already among them. [%]
    with_low_percent : tuple of float
        The same with the sedges and other low growth of the plan. [%]
    by_strip : tuple of StripCover
        In the order of `PlantingPlan.strips`.
    exact : bool
        Whether the cover is exact, or counted at sample places.
    notes : tuple of str
        What holds for the figures.
    """

    years: tuple[float, ...]
    cover_percent: tuple[float, ...]
    with_low_percent: tuple[float, ...]
    by_strip: tuple[StripCover, ...]
    exact: bool
    notes: tuple[str, ...]

    def of_years(self, years: Sequence[float]) -> CoverForecast:
        """Return the forecast of some of its years alone.

        Raises
        ------
        ValueError
            It was not made for one of them.
        """
        places = [self.years.index(float(year)) for year in years]

        def some(values: tuple[float, ...]) -> tuple[float, ...]:
            return tuple(values[place] for place in places)

        by_strip = tuple(
            replace(one, cover_percent=some(one.cover_percent), with_low_percent=some(one.with_low_percent))
            for one in self.by_strip
        )
        whole = some(self.cover_percent), some(self.with_low_percent)
        return CoverForecast(some(self.years), *whole, by_strip, self.exact, self.notes)


def expected_cover(
    farm: Farm,
    plan: PlantingPlan,
    kinds: Kinds,
    years: Sequence[float] = YEARS,
    *,
    quick: bool = False,
    progress: Progress = SILENT,
) -> CoverForecast:
    """Return the cover that a planting is expected to give.

    The figure of the farm's margins counts crowns of trees; so trees and
    shrubs make the cover here too, and what sedges and other low growth add is
    told apart. Crowns are discs on level ground. Every plant is taken to live
    (the dead are replaced), and crowns that stand there today stay as they are.

    Parameters
    ----------
    farm : Farm
        The farm, for the crowns that stand there.
    plan : PlantingPlan
        The plan.
    kinds : Kinds
        What is known of the growth of kinds of plants.
    years : sequence of float
        Years since planting.
    quick : bool
        Count it at sample places, right within about 1 % of the ground: for while something moves, and for curves of
        many years.
    progress : Progress
        Told of each year's crowns on each strip, unless it is quick.
    """
    asked = tuple(float(year) for year in years)
    sizes = sizes_of_kinds(plan, kinds, asked)
    there = standing(farm)
    standing_there = crown_map(there)
    woody, every = _at_places(plan, sizes, standing_there) if quick else _exactly(plan, sizes, standing_there, progress)
    area = np.array([strip.outline.area for strip in plan.strips])
    by_strip = tuple(
        StripCover(strip.side, strip.zone, plan.recipe.zones[strip.zone].name, strip.area_m2, _percent(w), _percent(e))
        for strip, w, e in zip(plan.strips, woody, every, strict=True)
    )
    notes = (
        "Cover: ground under crowns of trees and shrubs, each spot counted once; low growth is told apart.",
        f"Crowns that stand there on {in_words(there.on)} are counted as they are; every new plant is taken to live.",
        *(("Counted at sample places, right within about 1 % of the ground.",) if quick else ()),
        *sizes.notes,
    )
    return CoverForecast(asked, _whole(woody, area), _whole(every, area), by_strip, not quick, notes)


def _whole(shares: Floats, area: Floats) -> tuple[float, ...]:
    """Cover of all strips together from that of each, in per cent."""
    total = float(area.sum())
    return _percent(area @ shares / total if total > 0 else np.zeros(shares.shape[1]))


def _percent(shares: Floats) -> tuple[float, ...]:
    return tuple(np.clip(100.0 * shares, 0.0, 100.0).tolist())


def _exactly(plan: PlantingPlan, sizes: Sizes, crowns: CrownMap, progress: Progress) -> tuple[Floats, Floats]:
    """Shares of each strip under crowns, and under those or low growth, each of shape (strips, years)."""
    outlines = [strip.outline for strip in plan.strips]
    near = crowns.reaching(shapely.multipolygons(shapely.get_parts(outlines)), plan.scale)
    old = crowns.x[near], crowns.y[near], crowns.radius[near] * plan.scale
    x, y = np.concatenate([old[0], plan.plants.x]), np.concatenate([old[1], plan.plants.y])
    half = sizes.crown_m * (plan.scale / 2)
    out: list[Floats] = []
    for counted in (np.where(sizes.low[:, None], 0.0, half), half):
        if out and not sizes.low.any():
            out.append(out[0])
            break
        columns: list[list[float]] = []
        for year in range(half.shape[1]):
            if year and np.array_equal(counted[:, year], counted[:, year - 1]):
                columns.append(columns[-1])
                continue
            radius = np.concatenate([old[2], counted[plan.plants.kin, year]])
            canopy = Canopy(Discs(x, y, radius), np.zeros(len(x), bool))
            column: list[float] = []
            for outline in outlines:
                progress.step(len(out) * half.shape[1] + year, 2 * half.shape[1], "Joining crowns")
                column.append(canopy.cover(outline).area / (outline.area or 1.0))
            columns.append(column)
        out.append(np.array(columns).reshape(half.shape[1], len(outlines)).T)
    return out[0], out[1]


def _at_places(plan: PlantingPlan, sizes: Sizes, crowns: CrownMap) -> tuple[Floats, Floats]:
    """As `_exactly`, counted at sample places."""
    x, y, ends = points_inside([strip.outline for strip in plan.strips], QUICK_POINTS, LEAST_POINTS)
    woody, low = _covered(plan, sizes.crown_m * (plan.scale / 2), sizes.low, (x, y))
    woody |= crowns.cover_places(x, y, plan.scale)
    return _means(woody, ends), _means(woody | low, ends)


def _means(covered: Bools, ends: Places) -> Floats:
    """Share of the places of each strip that are covered, 0 where it has none."""
    counts = [np.count_nonzero(covered[:, begin:end], axis=1) / max(end - begin, 1) for begin, end in pairwise(ends)]
    return np.array(counts).reshape(len(ends) - 1, len(covered))


def _covered(plan: PlantingPlan, radius: Floats, low: Bools, places: tuple[Floats, Floats]) -> tuple[Bools, Bools]:
    """Whether each of some places lies under a crown, and under low growth, each of shape (years, places).

    ``radius`` are those of the crowns of each kind in each year, in grid m.
    """
    x, y = places
    under = np.zeros((radius.shape[1], 2 * len(x)), bool)
    widest, square = radius.max(axis=1, initial=0.0), radius.T**2
    size = Discs.size_of(widest)
    for one in np.unique(size[size >= 0]):
        own = np.flatnonzero((size == one)[plan.plants.kin])
        if not len(own):
            continue
        east, north, kin = plan.plants.x[own], plan.plants.y[own], plan.plants.kin[own]
        place, plant = near_pairs(x, y, (east, north), float(widest[size == one].max()))
        off_x, off_y, kind = east[plant] - x[place], north[plant] - y[place], kin[plant]
        away = off_x * off_x + off_y * off_y
        near = np.flatnonzero(away < np.take(widest * widest, kind))
        away, kind = away[near], kind[near]
        target = place[near] + np.take(np.where(low, len(x), 0), kind)
        for covered, reach in zip(under, square, strict=True):
            covered[target[away < np.take(reach, kind)]] = True
    return under[:, : len(x)], under[:, len(x) :]
