"""Figures of the whole farm in one row."""

from __future__ import annotations

import datetime as dt

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, lengths_m
from farmmap.figures.blocks import block_of_each_tree, ground_notes
from farmmap.figures.grounds import Grounds, grounds, polygons_of
from farmmap.figures.margins import margin_figures
from farmmap.figures.membership import NO_BLOCK
from farmmap.figures.result import FigureTable
from farmmap.figures.stand import mean, qmd_from_basal_area_cm
from farmmap.figures.standing import Standing, standing, the_day

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


def _land(farm: Farm, ground: Grounds) -> dict[str, object]:
    outlines, net = ground.outlines[ground.existing], ground.net[ground.existing]
    boundary = shapely.union_all(polygons_of(farm.boundary.geometry.to_numpy()))
    return {
        "boundary_area_ha": _ha(farm, boundary) if len(farm.boundary) else None,
        "blocks": int(ground.existing.sum()),
        "blocks_gross_area_ha": _together_ha(farm, outlines, ground.gross_ha[ground.existing]),
        "blocks_net_area_ha": _together_ha(farm, net, ground.net_ha[ground.existing]),
        "creek_length_m": _length(farm, farm.creeks, boundary if len(farm.boundary) else None),
        "fence_length_m": _length(farm, farm.fences, None),
        "track_length_m": _length(farm, farm.tracks, None),
    }


def _trees(farm: Farm, there: Standing) -> dict[str, object]:
    stems, measured = len(there), int(there.measured.sum())
    basal, diameters = float(np.nansum(there.basal_area_m2)), int(there.diameters.sum())
    kinds = np.unique(there.species)
    return {
        "stems": stems,
        "stems_in_blocks": int((block_of_each_tree(farm)[there.places] != NO_BLOCK).sum()),
        "species_count": sum(1 for kind in kinds if there.species_names[kind]),
        "measured": measured,
        "measured_percent": 100.0 * measured / stems if stems else None,
        "basal_area_m2": basal if measured or not stems else None,
        "diameters": diameters,
        "qmd_cm": qmd_from_basal_area_cm(basal, diameters),
        "mean_dbh_cm": mean(there.dbh_cm),
        "mean_height_m": mean(there.height_m),
        "heights": int(np.isfinite(there.height_m).sum()),
    }


def _creeksides(farm: Farm, on: dt.date) -> dict[str, object]:
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


def _together_ha(farm: Farm, shapes: NDArray[np.object_], each_ha: NDArray[np.float64]) -> float:
    """Area of shapes together, what two of them share counted once, in ha."""
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    pairs = first < second
    shared = shapely.intersection(shapes[first[pairs]], shapes[second[pairs]])
    if not (shapely.area(shared) > 0).any():
        return float(each_ha.sum())
    return _ha(farm, shapely.union_all(shapes))


def _ha(farm: Farm, shape: shapely.Geometry) -> float:
    return float(areas_m2([shape], farm.grid)[0]) / M2_PER_HA


def _length(farm: Farm, frame: gpd.GeoDataFrame, inside: shapely.Geometry | None) -> float:
    lines = frame.geometry.to_numpy()[(frame["stage"] == "existing").to_numpy(bool)]
    lines = lines[~shapely.is_missing(lines)]
    if inside is not None:
        lines = shapely.intersection(lines, inside)
    return float(lengths_m(lines, farm.grid).sum())
