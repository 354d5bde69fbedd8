"""Ground of blocks: outlines, what is taken out of them, and what is left to grow trees."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA, areas_m2, ground_scale, polygons_only
from farmmap.figures.remembered import Remembered

Floats = NDArray[np.float64]

QUAD_SEGS = 32
"""Corners of a quarter circle where a width is drawn around a line."""


@dataclass(frozen=True, eq=False)
class Grounds:
    """Ground of all blocks, a row each, in the order of ``farm.blocks``.

    Attributes
    ----------
    ids : ndarray of int64, shape (n,)
        Ids of the blocks.
    outlines, net : ndarray of shapely geometry, shape (n,)
        Outline, and what is left of it after tracks, creeks and hazards.
    gross_ha, net_ha : ndarray, shape (n,)
        Their areas on the ellipsoid. [ha]
    scales : ndarray, shape (n,)
        Grid metres for a metre of ground at the middle of each.
    existing : ndarray of bool, shape (n,)
        Whether the block stands on the ground or is only planned.
    """

    ids: NDArray[np.int64]
    outlines: NDArray[np.object_]
    net: NDArray[np.object_]
    gross_ha: Floats
    net_ha: Floats
    scales: Floats
    existing: NDArray[np.bool_]


_GROUNDS: Remembered[Grounds] = Remembered(4)


def grounds(farm: Farm) -> Grounds:
    """Return the ground of all blocks; the last few answers are kept."""
    same = (farm.blocks, farm.tracks, farm.creeks, farm.hazards)
    return _GROUNDS.get(same, (farm.settings.epsg,), lambda: grounds_of(farm, farm.blocks))


def grounds_of(farm: Farm, blocks: gpd.GeoDataFrame) -> Grounds:
    """Return the ground of some of a farm's blocks, worked out afresh.

    Parameters
    ----------
    farm : Farm
        The farm, whose tracks, creeks and hazards are taken out.
    blocks : GeoDataFrame
        Rows of its blocks.
    """
    outlines = polygons_of(blocks.geometry.to_numpy())
    scales = np.array([ground_scale(outline, farm.grid) for outline in outlines], np.float64)
    net = _net(farm, outlines, scales)
    gross_ha = areas_m2(outlines, farm.grid) / M2_PER_HA
    untouched = net == outlines
    net_ha = gross_ha.copy()
    net_ha[~untouched] = areas_m2(net[~untouched], farm.grid) / M2_PER_HA
    return Grounds(
        blocks.index.to_numpy(np.int64),
        outlines,
        net,
        gross_ha,
        net_ha,
        scales,
        (blocks["stage"] == "existing").to_numpy(bool),
    )


def polygons_of(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return shapes as valid polygons: none missing, loops of an outline that crosses itself kept as parts."""
    out = np.where(shapely.is_missing(shapes), shapely.Polygon(), shapes) if len(shapes) else shapes
    broken = ~shapely.is_valid(out)
    if broken.any():
        out = out.copy()
        out[broken] = [polygons_only(shape) for shape in shapely.make_valid(out[broken])]
    return out


def _net(farm: Farm, outlines: NDArray[np.object_], scales: Floats) -> NDArray[np.object_]:
    """Outlines less tracks, creek channels and hazards, each drawn at the scale of its block."""
    shapes, reach = _in_the_way(farm)
    if not len(shapes) or not len(outlines):
        return outlines
    found = shapely.STRtree(outlines).query(shapes, predicate="dwithin", distance=reach * scales.max())
    shape, block = found[0], found[1]
    order = np.lexsort((shape, block))
    shape, block = shape[order], block[order]
    strips = shapely.buffer(shapes[shape], reach[shape] * scales[block], cap_style="flat", quad_segs=QUAD_SEGS)
    out = outlines.copy()
    for place in np.unique(block):
        begin, end = np.searchsorted(block, [place, place + 1])
        strip = shapely.union_all(strips[begin:end])
        if not strip.is_empty:
            out[place] = polygons_only(shapely.difference(outlines[place], strip))
    return out


def _in_the_way(farm: Farm) -> tuple[NDArray[np.object_], Floats]:
    """Shapes that grow no trees, and how far they reach to each side in metres of ground."""
    tracks, creeks, hazards = farm.tracks, farm.creeks, farm.hazards
    creeks = creeks[(creeks["drawn_as"] == "centre line") & (creeks["stage"] == "existing")]
    tracks = tracks[tracks["stage"] == "existing"]
    hazards = hazards[hazards["stage"] == "existing"]
    shapes = np.concatenate([frame.geometry.to_numpy() for frame in (tracks, creeks, hazards)])
    widths = [tracks["width_m"] / 2, creeks["channel_m"] / 2, hazards["clear_m"]]
    reach = np.concatenate([width.fillna(0.0).to_numpy(np.float64) for width in widths])
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return shapes[there], np.maximum(reach[there], 0.0)
