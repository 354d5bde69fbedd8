"""What a planting will change along the creek: cover, gaps without a crown, and shade on the water."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.bank_walk import BankWalk, walk
from farmmap.figures.banks import SIDES, pieces
from farmmap.figures.blocks import crown_map
from farmmap.figures.standing import standing
from farmmap.figures.united import united
from farmmap.plans.planting.ground.stretch import CreekPart, find_part
from farmmap.plans.planting.outcome.cover import CoverForecast, expected_cover
from farmmap.plans.planting.outcome.growth import Kinds, sizes_of_kinds
from farmmap.plans.planting.outcome.shade import (
    ENOUGH_PERCENT,
    HIGH_ENOUGH,
    LOWEST_SUN_DEG,
    Crowns,
    declination_deg,
    midsummer,
    shade_share,
    sun_through_day,
    water_of,
)
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.progress import SILENT, Progress

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BEFORE = -1.0
"""Years since planting that stand for today: nothing of the plan has a crown."""

ONE_WAY = 0.7
"""A bank lies to one side of the water if its steps, put together, point so far that way; 1 if it is straight."""

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

SHADE_WORDS = (
    f"Shade: direct sun of a clear day, above {LOWEST_SUN_DEG:g} degrees, kept off the water; flat ground, crowns from "
    "the ground up that let no sun through, each plant at its own place."
)
ENOUGH_WORDS = (
    f"{ENOUGH_PERCENT:.0f} % shade stops nuisance weed and extreme warmth in small streams; creeks that run east and "
    "west get less from the same plants than those that run north and south."
)
LINE_ONLY_WORDS = "Where the channel's width is not known, shade is that of the creek's line."


@dataclass(frozen=True)
class Change:
    """One figure before and after.

    Attributes
    ----------
    name : str
        Key: ``cover_percent``, ``with_low_percent``, ``longest_gap_m``, ``bank_under_crowns_percent``,
        ``high_enough_percent``, ``shade_percent``, ``shade_by_bank_percent``.
    what : str
        In words.
    bank : str
        ``left``, ``right``, or "" for all of the planting.
    unit : str
        ``%`` or ``m``.
    before, after : float or None
        None where it is not known.
    """

    name: str
    what: str
    bank: str
    unit: str
    before: float | None
    after: float | None


@dataclass(frozen=True, eq=False)
class BeforeAfter:
    """What a planting will have changed so many years on.

    Attributes
    ----------
    year : float
        Years since planting.
    rows : tuple of Change
        Cover first, then gaps, then shade.
    notes : tuple of str
        What holds for the figures.
    """

    year: float
    rows: tuple[Change, ...]
    notes: tuple[str, ...]

    @property
    def heads(self) -> tuple[str, ...]:
        """Heads of the columns of `as_words`."""
        return ("Along the creek", "Bank", "Today", f"After {self.year:g} year{'' if self.year == 1 else 's'}", "")

    def as_words(self) -> tuple[tuple[str, ...], ...]:
        """Return the rows as people read them: what, bank, before, after, unit."""
        return tuple(
            (row.what, row.bank or "all", _shown(row.before), _shown(row.after), row.unit) for row in self.rows
        )


@dataclass(frozen=True, eq=False)
class _Bank:
    """One bank of the stretch: its steps, how far each looks, and how wide the channel is there, in grid m."""

    side: int
    walked: BankWalk
    look: Floats
    channel: Floats


def before_after(
    farm: Farm,
    plan: PlantingPlan,
    kinds: Kinds,
    year: float,
    *,
    on: dt.date | None = None,
    quick: bool = False,
    cover: CoverForecast | None = None,
    progress: Progress = SILENT,
) -> BeforeAfter:
    """Return what a planting will have changed so many years on.

    Parameters
    ----------
    farm : Farm
        The farm, with the creek and what stands there.
    plan : PlantingPlan
        The plan.
    kinds : Kinds
        What is known of the growth of kinds of plants.
    year : float
        Years since planting.
    on : date or None
        The day whose sun is looked at; None for midsummer where the farm lies.
    quick : bool
        As for `farmmap.plans.planting.outcome.cover.expected_cover`.
    cover : CoverForecast, optional
        Of this plan, for `BEFORE` and the year among others, if it is at hand.
    progress : Progress
        Told of each step.

    Raises
    ------
    BadInput
        The plan's stretch of creek is no longer there.
    """
    part = find_part(farm, plan.stretch)
    sizes = sizes_of_kinds(plan, kinds, (year,))
    old, heights_missing = _standing_crowns(farm, plan, part)
    kin = plan.plants.kin
    half = plan.scale / 2 * sizes.crown_m[kin, 0]
    new = Crowns(plan.plants.x, plan.plants.y, half, plan.scale * sizes.height_m[kin, 0])
    woody = _some(new, ~sizes.low[kin])
    years = (BEFORE, year)
    cover = (cover or expected_cover(farm, plan, kinds, years, quick=quick, progress=progress)).of_years(years)
    banks = [bank for side in plan.banks if (bank := _bank(plan, part, side)) is not None]
    rows = [*_cover_rows(plan, cover)]
    for bank in banks:
        progress.step(bank.side, 3, "Looking along the banks")
        rows += _bank_rows(bank, old, _both(old, woody), plan.scale)
    shade, notes = _shade_rows(farm, plan, part, (old, new), on, progress)
    if heights_missing:
        notes += (
            f"Trees that stand there without a height ({heights_missing}) shade only what lies under their crowns.",
        )
    gaps = "Gap: bank with no crown of a tree or shrub on the planting's ground in front of it, as the crowns reach."
    return BeforeAfter(float(year), (*rows, *shade), (*cover.notes, gaps, *notes))


def _cover_rows(plan: PlantingPlan, cover: CoverForecast) -> list[Change]:
    """Cover of each bank, and of all where there are two."""
    out = []
    for name, what in (
        ("cover_percent", "Ground under trees and shrubs"),
        ("with_low_percent", "Ground under trees, shrubs and low growth"),
    ):
        for side in sorted({strip.side for strip in plan.strips}):
            own = [strip for strip in cover.by_strip if strip.side == side]
            area = np.array([strip.area_m2 for strip in own])
            shares = np.array([getattr(strip, name) for strip in own])
            before, after = (area @ shares / area.sum() if area.sum() > 0 else np.zeros(2)).tolist()
            out.append(Change(name, what, SIDES[side], "%", before, after))
        if len(plan.banks) > 1:
            before, after = getattr(cover, name)
            out.append(Change(name, what, "", "%", before, after))
    return out


def _bank_rows(bank: _Bank, before: Crowns, after: Crowns, scale: float) -> list[Change]:
    """Longest gap, bank under crowns, and bank along which plants are high enough."""
    side = SIDES[bank.side]
    gaps, under, high = [], [], []
    for crowns in (before, after):
        met, tallest = _seen(bank, crowns)
        gaps.append(bank.walked.longest_run(~met) / scale)
        under.append(100.0 * float(bank.walked.length[met].sum()) / bank.walked.total)
        wide = np.where(bank.channel > 0, bank.channel, np.nan)
        enough = bank.walked.length[tallest >= HIGH_ENOUGH * wide].sum()
        high.append(100.0 * float(enough) / bank.walked.total if (bank.channel > 0).all() else None)
    return [
        Change("longest_gap_m", "Longest gap without a crown", side, "m", gaps[0], gaps[1]),
        Change("bank_under_crowns_percent", "Bank with a crown", side, "%", under[0], under[1]),
        Change("high_enough_percent", "Bank with plants as high as the channel is wide", side, "%", high[0], high[1]),
    ]


def _shade_rows(
    farm: Farm,
    plan: PlantingPlan,
    part: CreekPart,
    crowns: tuple[Crowns, Crowns],
    on: dt.date | None,
    progress: Progress,
) -> tuple[list[Change], tuple[str, ...]]:
    """Shade on the water before and after, by the new plants of each bank alone, and what is to be said of it."""
    if farm.grid.local:
        return [], ("Shade is not worked out: a farm measured from a corner post has no known latitude.",)
    west, south, east, north = part.line.bounds
    x, y = (west + east) / 2, (south + north) / 2
    latitude = float(farm.grid.lon_lat(x, y)[1])
    day = on or midsummer(latitude)
    sun = sun_through_day(latitude, declination_deg(day), farm.grid.convergence_deg(x, y))
    if not len(sun.weight):
        words = f"Shade is not worked out: on {day.day} {day:%B} the sun stays below {LOWEST_SUN_DEG:g} degrees."
        return [], (words,)
    water, (old, new) = water_of(part.reaches), crowns

    def percent(of: Crowns) -> float:
        progress.step(2, 3, "Following the sun")
        return 100.0 * shade_share(water, of, sun)

    what = f"Sun kept off the water on {day.day} {day:%B}"
    rows = [Change("shade_percent", what, "", "%", percent(old), percent(_both(old, new)))]
    side_of_plant = np.array([strip.side for strip in plan.strips], np.intp)[plan.plants.strip]
    for side in sorted(plan.banks):
        own = percent(_some(new, side_of_plant == side))
        facing = _facing(plan, part, side, farm.grid.convergence_deg(x, y))
        alone = f"Sun kept off by the new plants of this bank alone{facing}"
        rows.append(Change("shade_by_bank_percent", alone, SIDES[side], "%", None, own))
    unknown = not all(reach.half > 0 for reach in part.reaches)
    return rows, (SHADE_WORDS, ENOUGH_WORDS, *((LINE_ONLY_WORDS,) if unknown else ()))


def _bank(plan: PlantingPlan, part: CreekPart, side: int) -> _Bank | None:
    """Return the steps of a bank, None if there are none."""
    line, ground = plan.banks[side], united([s.outline for s in plan.strips if s.side == side])
    having = [reach for reach in part.reaches if reach.reach(side) > 0]
    if line.is_empty or not line.length > 0 or not having:
        return None
    walked = walk(line, part.reaches, side)
    if not walked.total > 0:
        return None
    begins, ends, _ = pieces(shapely.get_parts(line))
    bank = shapely.STRtree(shapely.linestrings(np.stack([begins, ends], axis=1)))
    corners = shapely.points(shapely.get_coordinates(ground))
    _, away = bank.query_nearest(corners, return_distance=True, all_matches=False)
    far = np.full(len(walked.at), float(np.max(away, initial=0.0)))
    lines = shapely.STRtree([reach.line for reach in having])
    nearest = lines.query_nearest(shapely.points(walked.at), all_matches=False)[1]
    channel = 2 * np.array([reach.half for reach in having])[nearest]
    return _Bank(side, walked, walked.clear(ground, part.line, far), channel)


def _seen(bank: _Bank, crowns: Crowns) -> tuple[Bools, Floats]:
    """Which steps of a bank see a crown, and the height of the highest that each sees, in grid m."""
    met, tallest = np.zeros(len(bank.look), bool), np.zeros(len(bank.look))
    seeing, there = np.flatnonzero(bank.look > 0), np.flatnonzero(crowns.radius > 0)
    if len(seeing) and len(there):
        looks = shapely.STRtree(bank.walked.looks(bank.look)[seeing])
        points = shapely.points(crowns.x[there], crowns.y[there])
        crown, step = looks.query(points, "dwithin", distance=crowns.radius[there])
        met[seeing[step]] = True
        np.maximum.at(tallest, seeing[step], np.nan_to_num(crowns.height[there[crown]]))
    return met, tallest


def _standing_crowns(farm: Farm, plan: PlantingPlan, part: CreekPart) -> tuple[Crowns, int]:
    """Return the crowns that stand near the water and on the planting's ground, and how many have no height."""
    there = standing(farm)
    crowns = crown_map(there)
    tallest = float(np.nanmax(there.height_m[there.crown_m > 0], initial=0.0)) if len(there) else 0.0
    far = plan.scale * tallest / np.tan(np.radians(LOWEST_SUN_DEG)) + 1.0
    ground = [strip.outline for strip in plan.strips]
    near = crowns.reaching(united([part.line.buffer(far), *ground]), plan.scale)
    height = there.height_m[near]
    of = Crowns(crowns.x[near], crowns.y[near], crowns.radius[near] * plan.scale, np.nan_to_num(height) * plan.scale)
    return of, int(np.isnan(height).sum())


def _both(one: Crowns, other: Crowns) -> Crowns:
    return Crowns(
        np.concatenate([one.x, other.x]),
        np.concatenate([one.y, other.y]),
        np.concatenate([one.radius, other.radius]),
        np.concatenate([one.height, other.height]),
    )


def _some(crowns: Crowns, of: Bools) -> Crowns:
    return Crowns(crowns.x[of], crowns.y[of], crowns.radius[of], crowns.height[of])


def _facing(plan: PlantingPlan, part: CreekPart, side: int, convergence_deg: float) -> str:
    """Say on which side of the water a bank lies, nothing where the creek winds about."""
    walked = walk(plan.banks[side], part.reaches, side)
    if not walked.total > 0:
        return ""
    east, north = (walked.outward * walked.length[:, None]).sum(axis=0) / walked.total
    if np.hypot(east, north) < ONE_WAY:
        return ""
    bearing = np.degrees(np.arctan2(east, north)) + convergence_deg
    return f" ({COMPASS[int(np.rint(bearing / 45.0)) % 8]} of the water)"


def _shown(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f}"


__all__ = ["BeforeAfter", "Change", "before_after"]
