"""Where a planned fence crosses creeks, its own among them, and whether it goes round both banks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.banks import SIDES
from farmmap.plans.planting.fences.outline import free_ends
from farmmap.plans.planting.ground.stretch import CreekPart
from farmmap.plans.planting.plan import FenceLine, PlantingPlan

Floats = NDArray[np.float64]

TIP_M = 2.0
"""So near its tips, and half a channel more, an open fence ends at the bank rather than crosses the creek. [grid m]"""

JOINED_M = 5.0
"""A creek that ends so near the middle of another one runs into it. [grid m]"""

LOOKED_AT = 40
"""At so many places along a closed fence it is looked at which bank's ground is nearest."""

BOTH = 0.1
"""A closed fence along each bank for so great a part of it goes round both."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Where one fence crosses creeks.

    Attributes
    ----------
    own, others : ndarray, shape (n, 2)
        Where it crosses the creek along which it is built, and others. [grid m]
    both : bool
        Whether it goes round both banks.
    """

    own: Floats
    others: Floats
    both: bool


def own_water(part: CreekPart, further: float, others: shapely.Geometry) -> shapely.Geometry:
    """Return the middle of the whole creek, drawn on by so much at ends from or to which water may run.

    It is not drawn on where it comes to one of the other creeks.
    """
    lines = [reach.line for reach in part.creek.reaches]
    ends = [
        shapely.LineString([end.tip, end.tip + further * end.way])
        for end in free_ends(part.creek.reaches)
        if not shapely.dwithin(others, shapely.Point(end.tip), JOINED_M)
    ]
    return shapely.multilinestrings([*lines, *ends])


def crossings_of(
    line: shapely.LineString,
    own: shapely.Geometry,
    others: shapely.Geometry,
    grounds: Mapping[int, shapely.Geometry],
    half: float,
) -> Crossings:
    """Return where a fence crosses creeks.

    Parameters
    ----------
    line : LineString
        The fence; its tips at the bank are no crossings.
    own, others : shapely geometry
        Middle lines of its own creek and of others.
    grounds : mapping of int to shapely geometry
        Ground of the planting beside each bank.
    half : float
        Half the width of the creek's channel. [grid m]
    """
    own_met = _met(line, own)
    if not line.is_closed and len(own_met):
        tips = shapely.points(shapely.get_coordinates(line)[[0, -1]])
        off = shapely.distance(shapely.points(own_met)[:, None], tips[None, :]).min(axis=1)
        own_met = own_met[off > TIP_M + half]
    return Crossings(own_met, _met(line, others), line.is_closed and _beside_both(line, grounds))


def bank_of_fence(plan: PlantingPlan, fence: FenceLine) -> str:
    """Return along which bank a fence of a plan runs, looking downstream: ``left``, ``right`` or ``both``."""
    if fence.line.is_closed:
        parts = [
            [part for strip in plan.strips if strip.side == side for part in shapely.get_parts(strip.outline)]
            for side in (0, 1)
        ]
        if _beside_both(fence.line, {side: shapely.multipolygons(found) for side, found in enumerate(parts)}):
            return "both"
    return SIDES[fence.side]


def bank_words(bank: str) -> str:
    """Return a bank as people say it: ``left bank``, ``right bank`` or ``both banks``."""
    return "both banks" if bank == "both" else f"{bank} bank"


def _met(line: shapely.LineString, creeks: shapely.Geometry) -> Floats:
    if not shapely.intersects(creeks, line):
        return np.zeros((0, 2))
    return shapely.get_coordinates(shapely.extract_unique_points(shapely.intersection(creeks, line)))


def _beside_both(line: shapely.LineString, grounds: Mapping[int, shapely.Geometry]) -> bool:
    shapes = [ground for ground in grounds.values() if not ground.is_empty]
    if len(shapes) < 2:
        return False
    places = shapely.line_interpolate_point(line, (np.arange(LOOKED_AT) + 0.5) / LOOKED_AT, normalized=True)
    nearest = np.argmin([shapely.distance(shape, places) for shape in shapes], axis=0)
    return bool(BOTH <= nearest.mean() <= 1 - BOTH)
