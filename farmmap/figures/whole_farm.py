"""Figures of the whole farm in one row."""

from __future__ import annotations

import datetime as dt

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, lengths_m
from farmmap.figures.blocks import Row, ground_notes, members_of
from farmmap.figures.grounds import Grounds, grounds, overlaps, polygons_of
from farmmap.figures.margins import margin_figures
from farmmap.figures.members import Members
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.remembered import Remembered
from farmmap.figures.result import FigureTable
from farmmap.figures.stand import mean, qmd_from_basal_area_cm
from farmmap.figures.standing import Standing, standing, the_day
from farmmap.figures.sums import sums
from farmmap.figures.united import united

COLUMNS = (
    "name",
    "boundary_area_ha",
    "blocks",
    "blocks_gross_area_ha",
    "blocks_net_area_ha",
    "stems",
    "stems_in_blocks",
    "species_count",
    "measured_percent",
    "basal_area_m2",
    "diameters",
    "qmd_cm",
    "mean_dbh_cm",
    "mean_height_m",
    "margin_area_ha",
    "margin_planted_ha",
    "margin_cover_percent",
    "bank_length_m",
    "bank_fenced_percent",
    "creek_length_m",
    "fence_length_m",
    "track_length_m",
)
BRIEF = (
    "name",
    "boundary_area_ha",
    "blocks",
    "blocks_net_area_ha",
    "stems",
    "measured_percent",
    "basal_area_m2",
    "margin_area_ha",
    "margin_cover_percent",
    "bank_fenced_percent",
)


def farm_figures(farm: Farm, on: dt.date | None = None) -> FigureTable:
    """Return the figures of the whole farm, in one row.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        The day; None for the day of the newest measurement.
    """
    there = standing(farm, the_day(farm, on))
    ground = grounds(farm)
    row = {"name": farm.settings.name} | _land(farm, ground) | _trees(farm, there) | _creeksides(farm, there.on)
    title = f"{farm.settings.name}, {there.on.isoformat()}"
    return FigureTable("farm", title, COLUMNS, (row,), (0,), ground_notes(farm, there, ground), BRIEF)


_GROUND: Remembered[Row] = Remembered(4)
_LINES: Remembered[Row] = Remembered(4)
_INSIDE: Remembered[int] = Remembered(4)
_UNIONS: dict[tuple[object, ...], tuple[NDArray[np.object_], float]] = {}

MOST_UNIONS = 2_000
"""Of so many groups of blocks that overlap the area is kept."""


def _land(farm: Farm, ground: Grounds) -> Row:
    tables = (farm.boundary, farm.creeks, farm.fences, farm.tracks)
    return _GROUND.get((ground,), (farm.grid,), lambda: _blocks_together(farm, ground)) | _LINES.get(
        tables, (farm.grid,), lambda: _boundary_and_lines(farm)
    )


def _blocks_together(farm: Farm, ground: Grounds) -> Row:
    shared = overlaps(ground)
    return {
        "blocks": int(ground.existing.sum()),
        "blocks_gross_area_ha": _together_ha(farm, ground, (ground.outlines, ground.gross_ha), shared.outline_m2),
        "blocks_net_area_ha": _together_ha(farm, ground, (ground.net, ground.net_ha), shared.net_m2),
    }


def _boundary_and_lines(farm: Farm) -> Row:
    boundary = united(polygons_of(farm.boundary.geometry.to_numpy()))
    return {
        "boundary_area_ha": _ha(farm, boundary) if len(farm.boundary) else None,
        "creek_length_m": _length(farm, farm.creeks, boundary if len(farm.boundary) else None),
        "fence_length_m": _length(farm, farm.fences, None),
        "track_length_m": _length(farm, farm.tracks, None),
    }


def _trees(farm: Farm, there: Standing) -> Row:
    members = members_of(farm)
    inside = _INSIDE.get((there, members), (), lambda: _in_blocks(there, members))
    return _sums(there) | {"stems_in_blocks": inside}


def _in_blocks(there: Standing, members: Members) -> int:
    if len(there) == len(members):
        return members.inside
    return int((members.block[there.places] != NO_BLOCK).sum())


def _sums(there: Standing) -> Row:
    found = sums(there)
    stems, measured, diameters = found.stems, found.measured, found.diameters
    basal = float(np.nansum(there.basal_area_m2)) if found.basal_area_m2 is None else found.basal_area_m2.amount
    kinds = np.flatnonzero(found.of_species)
    dbh, height = found.dbh_cm, found.height_m
    return {
        "stems": stems,
        "species_count": sum(1 for kind in kinds if there.species_names[kind]) if stems else 0,
        "measured": measured,
        "measured_percent": 100.0 * measured / stems if stems else None,
        "basal_area_m2": basal if measured or not stems else None,
        "diameters": diameters,
        "qmd_cm": qmd_from_basal_area_cm(basal, diameters),
        "mean_dbh_cm": mean(there.dbh_cm) if dbh is None else dbh.mean,
        "mean_height_m": mean(there.height_m) if height is None else height.mean,
        "heights": int(np.isfinite(there.height_m).sum()) if height is None else height.count,
    }


def _creeksides(farm: Farm, on: dt.date) -> Row:
    table = margin_figures(farm, on)

    def total(name: str) -> float:
        return float(sum(value for value in table.column(name) if isinstance(value, float)))

    area, planted = total("area_ha"), total("crown_area_ha")
    length, fenced = total("length_m"), total("fenced_m")
    return {
        "margin_area_ha": area,
        "margin_planted_ha": planted,
        "margin_cover_percent": 100.0 * planted / area if area > 0 else None,
        "bank_length_m": length,
        "fenced_m": fenced,
        "bank_fenced_percent": 100.0 * fenced / length if length > 0 else None,
    }


def _together_ha(
    farm: Farm,
    ground: Grounds,
    of: tuple[NDArray[np.object_], NDArray[np.float64]],
    shared_m2: NDArray[np.float64],
) -> float:
    """Area of the existing blocks together, what two of them share counted once, in ha."""
    shapes, each_ha = of
    pairs = np.searchsorted(ground.ids, overlaps(ground).pairs[shared_m2 > 0])
    alone = ground.existing.copy()
    alone[pairs.ravel()] = False
    return float(each_ha[alone].sum()) + sum(_union_ha(farm, shapes[group]) for group in _groups(pairs))


def _groups(pairs: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Places of the blocks that hang together by overlapping, each group increasing."""
    group_of: dict[int, set[int]] = {}
    for one, other in pairs.tolist():
        both = group_of.get(one, {one}) | group_of.get(other, {other})
        group_of.update(dict.fromkeys(both, both))
    each = {min(group): group for group in group_of.values()}
    return [np.array(sorted(each[first]), np.intp) for first in sorted(each)]


def _union_ha(farm: Farm, shapes: NDArray[np.object_]) -> float:
    """Area of shapes together, kept while they stay, in ha."""
    key = (farm.grid, *map(id, shapes))
    found = _UNIONS.get(key)
    if found is None:
        if len(_UNIONS) >= MOST_UNIONS:
            _UNIONS.clear()
        found = _UNIONS[key] = (shapes, _ha(farm, united(shapes)))  # the shapes held, so are their ids
    return found[1]


def _ha(farm: Farm, shape: shapely.Geometry) -> float:
    return float(areas_m2([shape], farm.grid)[0]) / M2_PER_HA


def _length(farm: Farm, frame: gpd.GeoDataFrame, inside: shapely.Geometry | None) -> float:
    lines = frame.geometry.to_numpy()[(frame["stage"] == "existing").to_numpy(bool)]
    lines = lines[~shapely.is_missing(lines)]
    if inside is not None:
        lines = shapely.intersection(lines, inside)
    return float(lengths_m(lines, farm.grid).sum())
