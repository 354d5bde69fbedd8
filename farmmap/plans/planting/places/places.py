"""Where the plants of a zone stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.heights import Heights
from farmmap.figures.areas import polygons_only
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.ground.stretch import CreekPart
from farmmap.plans.planting.places.contour_rows import contour_runs
from farmmap.plans.planting.places.filling import row_plants
from farmmap.plans.planting.places.lattice import general_run, lattice
from farmmap.plans.planting.places.rows import creek_runs, points_along, row_distances
from farmmap.plans.planting.places.scatter import scattered
from farmmap.plans.planting.recipes.recipe import Pattern, Zone

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

MOST_PLANTS = 4_000_000
"""More in one zone are refused: the spacing was mistyped."""

_RUNS: Remembered[float] = Remembered(8)


@dataclass(frozen=True, eq=False)
class Places:
    """Where plants of a zone stand on one bank.

    Attributes
    ----------
    x, y : ndarray of float, shape (n,)
        On the grid, row by row. [grid m]
    row : ndarray of int, shape (n,)
        Number of its row within the zone, from 0 by the water; -1 where there are none.
    notes : tuple of str
        What the grower should know.
    known_apart : bool
        Whether no two of them can be nearer than the spacing, so that nobody need look.
    """

    x: Floats
    y: Floats
    row: Ints
    notes: tuple[str, ...] = ()
    known_apart: bool = False

    def __len__(self) -> int:
        """Return the number of places."""
        return len(self.x)


NOWHERE = Places(np.empty(0), np.empty(0), np.empty(0, np.intp))


def places(
    zone: Zone,
    clear: shapely.Geometry | None,
    band_reach: tuple[float, float],
    part: CreekPart,
    side: int,
    scale: float,
    heights: Heights | None,
    seed: int,
) -> Places:
    """Return the places of a zone's plants on one bank.

    Parameters
    ----------
    zone : Zone
        Its pattern and spacing. [ground m]
    clear : shapely geometry or None
        Ground of the zone that may be planted. [grid]
    band_reach : tuple of float
        How far from the bank the zone begins and ends at its furthest. [ground m]
    part : CreekPart
        The creek.
    side : int
        0 for the left bank, 1 for the right.
    scale : float
        Grid metres for a metre of ground.
    heights : Heights or None
        The ground, for rows along the contour.
    seed : int
        For the scatter; another number gives another one.

    Raises
    ------
    BadInput
        A spacing that is not above 0, or so small that the plants could not be counted.
    """
    if zone.pattern is Pattern.NONE or clear is None:
        return NOWHERE
    ground = polygons_only(clear if clear.is_valid else shapely.make_valid(clear))
    between, within = zone.between_m * scale, (zone.within_m or zone.between_m) * scale
    if not (between > 0 and within > 0):
        raise BadInput(f"zone “{zone.name}”: plants need a spacing above 0 m between and within rows")
    if ground.is_empty or ground.area <= 0:
        return NOWHERE
    if ground.area / (between * within) > MOST_PLANTS:
        raise BadInput(
            f"zone “{zone.name}”: {zone.between_m:g} × {zone.within_m or zone.between_m:g} m makes more than"
            f" {MOST_PLANTS} plants; is the spacing right?"
        )
    match zone.pattern:
        case Pattern.SQUARE | Pattern.TRIANGLE:
            triangle = zone.pattern is Pattern.TRIANGLE
            run = _RUNS.get((part,), (), lambda: general_run(part.line))
            return Places(*lattice(ground, between, run, triangle=triangle), known_apart=True)
        case Pattern.SCATTERED:
            x, y = scattered(ground, between, seed + side)
            return Places(x, y, np.full(len(x), -1, np.intp), known_apart=True)
        case _:
            return _in_rows(zone, ground, (band_reach[0] * scale, band_reach[1] * scale), part, scale, heights)


def _in_rows(
    zone: Zone,
    ground: shapely.Geometry,
    reach: tuple[float, float],
    part: CreekPart,
    scale: float,
    heights: Heights | None,
) -> Places:
    between, within = zone.between_m * scale, (zone.within_m or zone.between_m) * scale
    headland = zone.headland_m * scale
    notes: tuple[str, ...] = ()
    if zone.pattern is Pattern.CONTOUR:
        runs, why_not = contour_runs(heights, ground, between)
        if runs is not None:
            x, y, line = points_along(runs.lines, within, headland)
            return Places(x, y, runs.row[line])
        notes = (f"Zone “{zone.name}”: {why_not}, so its rows run along the creek.",)
    runs = creek_runs(part, ground, row_distances(*reach, between), zone.turn_m * scale)
    x, y, line = row_plants(runs, ground, between, within, headland)
    return Places(x, y, runs.row[line], notes, known_apart=True)


__all__ = ["NOWHERE", "Places", "places"]
