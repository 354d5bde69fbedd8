"""Figures of the ground of blocks: slope, aspect, heights, surface, height above the creek."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.figures.areas import ground_scale
from farmmap.figures.cells import cells_inside
from farmmap.figures.creek_heights import CreekHeights
from farmmap.figures.grounds import grounds
from farmmap.figures.relief import FLAT_DEG, aspect_deg, gradients, mean_direction, slope_deg, surface_ratio
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable

Floats = NDArray[np.float64]

COLUMNS = (
    "name",
    "mean_slope_deg",
    "max_slope_deg",
    "steep_percent",
    "very_steep_percent",
    "main_aspect",
    "lowest_m",
    "highest_m",
    "gross_area_ha",
    "surface_area_ha",
    "above_creek_m",
    "above_creek_least_m",
    "heights_percent",
)
BRIEF = COLUMNS[:-1]

STEEP_DEG = 15.0
"""From here on wheeled machines need care; common practice, and other limits may be set."""

VERY_STEEP_DEG = 25.0
"""From here on hand work and slip-prone ground; common practice, and other limits may be set."""

HALF = 0.5
"""Cells at least so far inside count for the highest, lowest and steepest."""

ALL_BUT_ALL = 0.99
"""A surface is given only if heights are known for this share of the block."""

AGREEING = 0.4
"""Mean resultant length below which a block is said to face several ways."""

MOST_PLACES = 2_500
"""Height above the creek is taken at no more places of a block than about this."""

WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

NO_HEIGHTS = (
    "There is no elevation grid under this farm yet. Add one (a GeoTIFF of ground heights in metres): View, Backdrops…"
)


@dataclass(frozen=True, eq=False)
class Relief:
    """What is worked out once for a whole grid, cell by cell."""

    heights: Heights
    slope: Floats
    aspect: Floats
    ratio: Floats


_RELIEF: Remembered[Relief] = Remembered(2)


def relief_of(heights: Heights, scale: float) -> Relief:
    """Return slope and aspect [degrees] and surface over level area of every cell; the last two grids are kept.

    Parameters
    ----------
    heights : Heights
        The ground.
    scale : float
        Grid metres for a metre of ground.
    """

    def work_out() -> Relief:
        across, down = heights.across_m / scale, heights.down_m / scale
        east, north = gradients(heights.values, across, down)
        steep = slope_deg(east, north)
        facing = np.where(steep < FLAT_DEG, np.nan, aspect_deg(east, north))
        return Relief(heights, steep, facing, surface_ratio(heights.values, across, down))

    return _RELIEF.get((heights,), (scale,), work_out)


def ground_figures(
    farm: Farm,
    heights: Heights | None,
    steep_from_deg: float = STEEP_DEG,
    very_steep_from_deg: float = VERY_STEEP_DEG,
    said: tuple[str, ...] = (),
) -> FigureTable:
    """Return the figures of the ground of every block, planned ones too, a row each in the order of their ids.

    Parameters
    ----------
    farm : Farm
        The farm.
    heights : Heights or None
        Ground under it, on its grid; None if there is no elevation grid.
    steep_from_deg, very_steep_from_deg : float
        From which slope on ground is called steep and very steep. [degrees]
    said : tuple of str
        What is to be said of the heights, such as what was taken for granted.
    """
    title = f"Ground of the blocks of {farm.settings.name}"
    if heights is None:
        return FigureTable("ground", title, COLUMNS, (), (), (*said, NO_HEIGHTS), BRIEF)
    ground = grounds(farm)
    west, south, east, north = heights.bounds
    scale = ground_scale(shapely.box(west, south, east, north), farm.grid)
    middle = ((west + east) / 2, (south + north) / 2)
    turn = 0.0 if farm.grid.local else farm.grid.convergence_deg(*middle)
    relief, creeks = relief_of(heights, scale), CreekHeights(farm, heights)
    limits = {"steep_from_deg": float(steep_from_deg), "very_steep_from_deg": float(very_steep_from_deg)}
    rows = [
        {
            "name": name,
            "gross_area_ha": float(hectares),
            **limits,
            **_block(relief, creeks, outline, float(hectares), limits, turn),
        }
        for name, outline, hectares in zip(
            farm.blocks["name"].loc[ground.ids], ground.outlines, ground.gross_ha, strict=True
        )
    ]
    return FigureTable(
        "ground",
        title,
        COLUMNS,
        tuple(rows),
        tuple(map(int, ground.ids)),
        (*said, *_notes(farm, heights, scale, limits, rows)),
        BRIEF,
    )


def _block(
    relief: Relief,
    creeks: CreekHeights,
    outline: shapely.Geometry,
    area_ha: float,
    limits: dict[str, float],
    turn: float,
) -> dict[str, object]:
    """Figures of one block."""
    cells = cells_inside(outline, relief.heights)
    window = (cells.rows, cells.columns)
    height, slope, ratio = relief.heights.values[window], relief.slope[window], relief.ratio[window]
    known = np.isfinite(slope)
    weights = np.where(known, cells.shares, 0.0)
    total = float(weights.sum())
    cell_area = relief.heights.across_m * relief.heights.down_m
    share = total * cell_area / float(outline.area) if outline.area > 0 else 0.0
    out: dict[str, object] = dict.fromkeys(COLUMNS[1:-1]) | {"main_aspect": "", "aspect_deg": None}
    out["heights_percent"] = 100.0 * min(share, 1.0)
    del out["gross_area_ha"]
    if total <= 0:
        return out
    inside = weights >= min(HALF, float(weights.max()))
    flat = float(weights[known & (slope < FLAT_DEG)].sum()) / total
    facing, agree = mean_direction(relief.aspect[window], weights)
    facing = (facing + turn) % 360.0
    above = _above_creek(creeks, relief.heights, cells.rows, cells.columns, inside)
    return out | {
        "mean_slope_deg": float(np.nansum(weights * np.nan_to_num(slope)) / total),
        "max_slope_deg": float(slope[inside].max()),
        "steep_percent": 100.0 * float(weights[known & (slope >= limits["steep_from_deg"])].sum()) / total,
        "very_steep_percent": 100.0 * float(weights[known & (slope >= limits["very_steep_from_deg"])].sum()) / total,
        "main_aspect": _facing_words(facing, agree, flat),
        "aspect_deg": None if flat > HALF or math.isnan(facing) else facing,
        "lowest_m": float(height[inside].min()),
        "highest_m": float(height[inside].max()),
        "surface_area_ha": (
            area_ha * float((weights * np.nan_to_num(ratio)).sum()) / total if share >= ALL_BUT_ALL else None
        ),
        "above_creek_m": None if not len(above) else float(above.mean()),
        "above_creek_least_m": None if not len(above) else float(above.min()),
    }


def _above_creek(
    creeks: CreekHeights, heights: Heights, rows: slice, columns: slice, inside: NDArray[np.bool_]
) -> Floats:
    """Heights above the creek of the cells inside a block, of every second, third ... row and column if it is large."""
    every = max(1, math.isqrt(int(inside.sum()) // MOST_PLACES))
    row, column = np.nonzero(inside)
    taken = (row % every == 0) & (column % every == 0)
    row, column = row[taken] + rows.start, column[taken] + columns.start
    x = heights.west + (column + 0.5) * heights.across_m
    y = heights.north - (row + 0.5) * heights.down_m
    above = creeks.above(x, y, heights.values[row, column])
    return above[np.isfinite(above)]


def _facing_words(facing: float, agree: float, flat: float) -> str:
    if flat > HALF or math.isnan(facing):
        return "flat"
    if agree < AGREEING:
        return "several ways"
    return WINDS[round(facing / 45.0) % 8]


def _notes(
    farm: Farm, heights: Heights, scale: float, limits: dict[str, float], rows: list[dict[str, object]]
) -> tuple[str, ...]:
    cell = math.sqrt(heights.across_m * heights.down_m) / scale
    north = "the plan's north" if farm.grid.local else "true north"
    steep, very = limits["steep_from_deg"], limits["very_steep_from_deg"]
    notes = [
        f"Slopes by Horn (1981) from a height every {cell:.3g} m: a finer grid finds steeper and rougher ground.",
        (
            f"Steep from {steep:g}°, very steep from {very:g}°. Cells count by the share of them inside the block; "
            "steepest, lowest and highest by cells at least half inside."
        ),
        f"Aspect is the way the ground faces, from {north}; ground below {FLAT_DEG:g}° is flat.",
        "Surface by Jenness (2004), beside the level area that all rates per hectare use.",
        "Above the creek: height over the ground at the nearest point of the nearest existing creek.",
    ]
    if any(row["surface_area_ha"] is None for row in rows):
        notes.insert(0, "Where the elevation grid does not cover a block, its surface is not given.")
    return tuple(notes)
