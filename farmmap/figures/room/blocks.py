"""How dense blocks stand, and how much room the trees of one of them have."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures, ground_notes, members_of
from farmmap.figures.grounds import Grounds, grounds
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.room.density import (
    METRIC_CM,
    TEN_INCHES_CM,
    crown_competition_factor,
    crown_to_stem,
    relative_density,
    relative_spacing,
    spacing_m,
    stand_density_index,
    summed_density_index,
)
from farmmap.figures.room.indices import Indices, indices
from farmmap.figures.room.path import crowns_meet, forecast_path
from farmmap.figures.room.pattern import evenness
from farmmap.figures.room.space import growing_space
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.standing import Standing, crowns_of_stems_m, standing, the_day
from farmmap.figures.standing_ahead import is_growth_at_hand
from farmmap.figures.stocking import Stocking
from farmmap.figures.united import united

Row = dict[str, object]
Floats = NDArray[np.float64]

COLUMNS = (
    "name",
    "net_area_ha",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "stand_density_index",
    "stand_density_index_25",
    "summed_density_index",
    "relative_density",
    "mean_spacing_m",
    "top_height_m",
    "relative_spacing_percent",
    "crown_competition_percent",
    "crown_to_stem",
    "evenness",
)
BRIEF = (
    "name",
    "stems_per_ha",
    "qmd_cm",
    "stand_density_index",
    "mean_spacing_m",
    "relative_spacing_percent",
    "crown_competition_percent",
)

_MAPPED: Remembered[shapely.Geometry] = Remembered(2)
_TABLES: Remembered[FigureTable] = Remembered(4)


def mapped_ground(farm: Farm) -> shapely.Geometry:
    """Return the ground of all existing blocks together: beyond it nobody says which trees stand."""
    ground = grounds(farm)
    return _MAPPED.get((ground,), (), lambda: united(ground.outlines[ground.existing]))


def room_figures(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return how dense every existing block stands, a row each in the order of their ids.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    """
    day = the_day(farm, on)
    figures = block_figures(farm, day)
    return _TABLES.get((figures,), (), lambda: _work_out(farm, day, figures))


def _work_out(farm: Farm, day: dt.date, figures: FigureTable) -> FigureTable:
    there, ground = standing(farm, day), grounds(farm)
    here = np.flatnonzero(ground.existing)
    stock = Stocking(there, members_of(farm), ground.ids[here])
    free = crowns_of_stems_m(there, farm.species)
    rows: list[Row] = []
    for number, place in enumerate(here.tolist()):
        trees = stock.trees[stock.starts[number] : stock.starts[number + 1]]
        rows.append(dict(figures.rows[place]) | _density(there, free, trees, ground, place, figures.rows[place]))
    return FigureTable(
        "room",
        f"Room in the blocks of {farm.settings.name}, {day.isoformat()}",
        COLUMNS,
        tuple(rows),
        tuple(ground.ids[here].tolist()),
        (*ROOM_NOTES, *ground_notes(farm, there, ground)),
        BRIEF,
    )


ROOM_NOTES = (
    "Density index: stems a hectare that would be as dense at 25.4 cm (ten inches); that at 25 cm is 2.6 % more.",
    "Indices rest on the stems that were measured, for each hectare of net area.",
)


def _density(
    there: Standing, free_m: Floats, trees: NDArray[np.intp], ground: Grounds, place: int, of: Mapping[str, Any]
) -> Row:
    """Figures of density of one block, from its trees and the row of its other figures."""
    area, scale, sampled = float(ground.net_ha[place]), float(ground.scales[place]), "plots" in of
    ratio = crown_to_stem(
        np.where(there.crown_estimated[trees], np.nan, there.crown_m[trees]), _one_stem_cm(there, trees)
    )
    known = ratio[np.isfinite(ratio)]
    outline = ground.outlines[place]
    even = evenness(there.x[trees] / scale, there.y[trees] / scale, outline.area / scale**2, outline.length / scale)
    out: Row = dict.fromkeys(COLUMNS[5:10] + COLUMNS[11:])
    out |= {
        "crown_to_stem": float(np.median(known)) if len(known) else None,
        "crowns_measured": len(known),
        "evenness": None if even is None or sampled else even.corrected,
    }
    if of["stems_per_ha"]:
        out["mean_spacing_m"] = float(spacing_m(of["stems_per_ha"]))
        if of["top_height_m"]:
            out["relative_spacing_percent"] = 100.0 * float(relative_spacing(of["stems_per_ha"], of["top_height_m"]))
    if of["qmd_cm"] and of["basal_area_m2_per_ha"] and area > 0:
        stems = of["basal_area_m2_per_ha"] / float(basal_area_m2(of["qmd_cm"]))
        out |= {
            "measured_stems_per_ha": stems,
            "stand_density_index": float(stand_density_index(stems, of["qmd_cm"], TEN_INCHES_CM)),
            "stand_density_index_25": float(stand_density_index(stems, of["qmd_cm"], METRIC_CM)),
            "relative_density": float(relative_density(of["basal_area_m2_per_ha"], of["qmd_cm"])),
        }
        if not sampled:  # the trees of its plots stand for others that nobody measured
            out["summed_density_index"] = summed_density_index(there.dbh_cm[trees], area, there.diameters[trees])
            out["crown_competition_percent"] = crown_competition_factor(free_m[trees], area)
    return out


def _one_stem_cm(there: Standing, trees: NDArray[np.intp]) -> Floats:
    """Diameter of one stem with the basal area of all of a tree's stems, in cm."""
    return there.dbh_cm[trees] * np.sqrt(np.maximum(there.diameters[trees], 1))


def competition_in(farm: Farm, block: int, on: dt.date | None = None) -> tuple[Indices, Indices, Floats]:
    """Return how hard the trees of a block are pressed: as mapped, corrected for the edge, and their growing space.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of an existing block.
    on : date or None
        The day; None for the day of the newest measurement.

    Returns
    -------
    mapped, corrected : Indices
        With every tree that is on the map; and corrected for the edge of the mapped ground.
    space_m2 : ndarray, shape (k,)
        Growing space of the same trees, cut to the block's net ground. [m²]
    """
    there, ground = standing(farm, the_day(farm, on)), grounds(farm)
    place = int(ground.ids.searchsorted(block))
    trees = np.sort(Stocking(there, members_of(farm), np.array([block])).trees)
    scale = float(ground.scales[place])
    near, own = _around(there, trees, scale)
    free = crowns_of_stems_m(near, farm.species)
    mapped = indices(near, free, scale=scale, chosen=own)
    corrected = indices(near, free, scale=scale, chosen=own, reach_m=mapped.reach_m, ground=mapped_ground(farm))
    space = growing_space(there.x[trees], there.y[trees], ground.net[place]) / scale**2
    return replace(mapped, places=trees), replace(corrected, places=trees), space


AROUND_M = 60.0
"""Trees up to this far from a block may press on its own. [m]"""


def _around(there: Standing, trees: NDArray[np.intp], scale: float) -> tuple[Standing, NDArray[np.intp]]:
    """Trees near some trees, and the places of those among them."""
    if not len(trees):
        return there.some(trees), trees
    x, y, wide = there.x[trees], there.y[trees], AROUND_M * scale
    west, south, east, north = (float(v) for v in (np.nanmin(x), np.nanmin(y), np.nanmax(x), np.nanmax(y)))
    inside = (there.x >= west - wide) & (there.x <= east + wide) & (there.y >= south - wide) & (there.y <= north + wide)
    inside[trees] = True
    near = np.flatnonzero(inside)
    return there.some(near), np.searchsorted(near, trees)


def block_with_competition(farm: Farm, block: int, on: dt.date | None = None) -> FigureTable:
    """Return `room_figures` with the row of one block telling of the competition among its trees too.

    And where it is forecast to stand in the density diagram, if it is known already how the trees grow.
    """
    table = room_figures(farm, on)
    if block not in table.ids:
        return table
    mapped, corrected, space = competition_in(farm, block, on)
    path = forecast_path(farm, block, on) if is_growth_at_hand(farm) else ()
    row = dict(table.rows[list(table.ids).index(block)])
    mean_crown, spacing = _mean(standing(farm, the_day(farm, on)).crown_m[mapped.places]), row["mean_spacing_m"]
    share = mean_crown / spacing if mean_crown and isinstance(spacing, float) else None
    row |= {
        "reach_m": mapped.reach_m,
        "mean_hegyi": _mean(mapped.hegyi),
        "mean_hegyi_corrected": _mean(corrected.hegyi),
        "mean_martin_ek": _mean(mapped.martin_ek),
        "mean_zone_overlap": _mean(mapped.zone_overlap),
        "mean_crown_overlap": _mean(mapped.crown_overlap),
        "space_low_m2": float(np.quantile(space, 0.25)) if len(space) else None,
        "space_high_m2": float(np.quantile(space, 0.75)) if len(space) else None,
        "path": path,
        "crown_to_spacing": share,
        "crowns_meet": None if share is None else crowns_meet(share, path),
    }
    rows = [row if one == block else other for one, other in zip(table.ids, table.rows, strict=True)]
    return replace(table, rows=tuple(rows))


def _mean(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else None
