"""Ground of blocks: outlines, what is taken out of them, and what is left to grow trees."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.farm.splice import column_of
from farmmap.figures.areas import M2_PER_HA, areas_m2, ground_scale, polygons_only
from farmmap.figures.rectangles import bounds_met
from farmmap.figures.remembered import Remembered
from farmmap.figures.tree_index import places_among
from farmmap.figures.united import united

Floats = NDArray[np.float64]

QUAD_SEGS = 32
"""Corners of a quarter circle where a width is drawn around a line."""

FEW = 20
"""So many rows are read one by one rather than as a column."""

SCALE_PLACES = 7
"""Decimals of the scale at which widths are drawn: a tenth of a micrometre on a metre, so that strips can be kept."""

WIDER = 1.5
"""Widths are first looked for this much wider, for the difference between grid metres and metres of ground."""

MOST_STRIPS = 20_000


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

    def outline_of(self, block: int) -> shapely.Geometry | None:
        """Outline of an existing block, None if there is no such block."""
        place = int(self.ids.searchsorted(block))
        there = place < len(self.ids) and self.ids[place] == block and self.existing[place]
        return self.outlines[place] if there else None

    @cached_property
    def bounds(self) -> Floats:
        """West, south, east and north of each outline; nan for an empty one, in m. Shape (n, 4), in columns."""
        return np.asfortranarray(np.asarray(shapely.bounds(self.outlines), np.float64).reshape(-1, 4))


@dataclass(frozen=True, eq=False)
class Overlaps:
    """Ground that two existing blocks claim, a row for each such pair.

    Attributes
    ----------
    pairs : ndarray of int64, shape (k, 2)
        Ids of the two blocks, the lower first.
    outline_m2, net_m2 : ndarray, shape (k,)
        Ground that their outlines share, and what is left of it to grow trees. [grid m²]
    """

    pairs: NDArray[np.int64]
    outline_m2: Floats
    net_m2: Floats

    @property
    def claimed_m2(self) -> float:
        """Ground claimed twice; slivers along shared edges below 1 m² in all count as none, in grid m²."""
        shared = float(self.outline_m2.sum())
        return shared if shared >= 1.0 else 0.0


@dataclass(frozen=True, eq=False)
class _InTheWay:
    """Shapes that grow no trees.

    Attributes
    ----------
    shapes : ndarray of shapely geometry, shape (n,)
        Their lines, points and polygons.
    reach : ndarray, shape (n,)
        How far they reach to each side. [m of ground]
    strips : dict
        Strips around some of them that were drawn already.
    """

    shapes: NDArray[np.object_]
    reach: Floats
    strips: dict[tuple[object, ...], shapely.Geometry]

    @cached_property
    def bounds(self) -> Floats:
        """Rectangles around the shapes with their reach, with room for any scale. Shape (n, 4)."""
        wide = self.reach[:, None] * np.array([-WIDER, -WIDER, WIDER, WIDER])
        return np.asarray(shapely.bounds(self.shapes), np.float64) + wide

    def near(self, outlines: NDArray[np.object_], scale: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Pairs of the shapes and of outlines that they reach."""
        some = np.arange(len(self.shapes))
        if len(outlines) <= FEW and scale < WIDER:
            some = np.flatnonzero(bounds_met(self.bounds, np.asarray(shapely.bounds(outlines), np.float64)))
        distance = self.reach[some] * scale
        shape, block = shapely.STRtree(outlines).query(self.shapes[some], predicate="dwithin", distance=distance)
        return some[shape], block

    def strip(self, places: tuple[int, ...], scale: float, within: tuple[float, ...]) -> shapely.Geometry:
        """Return the ground that some of the shapes take, cut to a rectangle; kept for when a corner moves."""
        key = (places, scale, within)
        found = self.strips.get(key)
        if found is None:
            rows = np.array(places)
            drawn = shapely.buffer(self.shapes[rows], self.reach[rows] * scale, cap_style="flat", quad_segs=QUAD_SEGS)
            found = shapely.intersection(united(drawn), shapely.box(*within))
            if len(self.strips) >= MOST_STRIPS:
                self.strips.clear()
            self.strips[key] = found
        return found


_GROUNDS: Remembered[Grounds] = Remembered(4)
_OVERLAPS: Remembered[Overlaps] = Remembered(4)
_IN_THE_WAY: Remembered[_InTheWay] = Remembered(4)


def _key(farm: Farm) -> tuple[tuple[object, ...], tuple[object, ...]]:
    return (farm.blocks, farm.tracks, farm.creeks, farm.hazards), (farm.grid,)


def grounds(farm: Farm) -> Grounds:
    """Return the ground of all blocks; the last few answers are kept."""
    return _GROUNDS.get(*_key(farm), lambda: grounds_of(farm, farm.blocks))


def overlaps(ground: Grounds) -> Overlaps:
    """Return which blocks overlap; the last few answers are kept."""
    return _OVERLAPS.get((ground,), (), lambda: _overlaps_of(ground, np.arange(len(ground.ids))))


def grounds_after(before: Farm, after: Farm, changed: NDArray[np.int64], boxes: Floats) -> NDArray[np.int64] | None:
    """Keep the ground of the blocks after an edit, working out again only what it touched.

    Parameters
    ----------
    before, after : Farm
        The farm before and after.
    changed : ndarray of int64
        Ids of blocks that were put in, taken away or altered.
    boxes : ndarray, shape (k, 4)
        Rectangles on which tracks, creeks and hazards changed, with their reach. [m]

    Returns
    -------
    ndarray of int64 or None
        Ids of the blocks that were worked out again or are gone; None if nothing was at hand or the grid changed.
    """
    old = _GROUNDS.find(*_key(before))
    if old is None or before.grid != after.grid:
        return None
    touched = np.zeros(len(old.ids), bool)
    touched[places_among(old.ids, changed)] = True
    touched |= bounds_met(old.bounds, boxes)
    ids = after.blocks.index.to_numpy(np.int64)
    kept = np.flatnonzero(~touched)
    is_new = np.ones(len(ids), bool)
    is_new[kept if np.array_equal(ids, old.ids) else places_among(ids, old.ids[kept])] = False
    again = np.flatnonzero(is_new)
    fresh = _worked_out(
        after, ids[again], np.asarray(column_of(after.blocks, "geometry"))[again], _existing(after.blocks, again)
    )
    out = Grounds(ids, *(_put_together(old, fresh, name, (ids, kept, again)) for name in _PARTS))
    out.__dict__["bounds"] = _put_together(old, fresh, "bounds", (ids, kept, again))
    _GROUNDS.put(*_key(after), out)
    shared = _OVERLAPS.find((old,))
    if shared is not None:
        _OVERLAPS.put((out,), (), _overlaps_after(shared, old.ids[touched], out, again))
    return either_id(ids[again], old.ids[touched])


def either_id(one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the ids of either array, increasing: `numpy.union1d`, but quick for a few."""
    return np.array(sorted({*one.tolist(), *other.tolist()}), np.int64)


_PARTS = ("outlines", "net", "gross_ha", "net_ha", "scales", "existing")


def _put_together(
    old: Grounds, fresh: Grounds, name: str, places: tuple[NDArray[np.int64], NDArray[np.intp], NDArray[np.intp]]
) -> NDArray[Any]:
    """One array of `Grounds` for these ids: rows that are kept of the old one, and those worked out again."""
    ids, kept, again = places
    was = getattr(old, name)
    if np.array_equal(ids, old.ids):
        out = was.copy(order="K")
    else:
        out = np.empty_like(was, shape=(len(ids), *was.shape[1:]))
        out[places_among(ids, old.ids[kept])] = was[kept]
    out[again] = getattr(fresh, name)
    return out


def _overlaps_of(ground: Grounds, places: NDArray[np.intp]) -> Overlaps:
    """Overlaps in which at least one block is among some places."""
    existing = ground.outlines.copy()
    existing[~ground.existing] = None
    looked, other = shapely.STRtree(existing).query(existing[places], predicate="intersects")
    first = places[looked]
    chosen = np.zeros(len(ground.ids), bool)
    chosen[places] = True
    once = (first != other) & (~chosen[other] | (first < other))
    first, other = first[once], other[once]
    apart = shapely.touches(existing[first], existing[other])  # neighbours: much quicker than cutting them
    first, other = first[~apart], other[~apart]
    outline = shapely.area(shapely.intersection(ground.outlines[first], ground.outlines[other]))
    real = np.flatnonzero(outline > 0)
    first, other, outline = first[real], other[real], outline[real]
    net = shapely.area(shapely.intersection(ground.net[first], ground.net[other]))
    pairs = np.sort(np.stack([ground.ids[first], ground.ids[other]], axis=1), axis=1)
    return Overlaps(pairs, outline, net)


def _overlaps_after(old: Overlaps, touched: NDArray[np.int64], ground: Grounds, again: NDArray[np.intp]) -> Overlaps:
    near = np.zeros(len(ground.ids), bool)
    near[again] = True
    near |= bounds_met(ground.bounds, ground.bounds[again])
    around = np.flatnonzero(near)
    some = Grounds(ground.ids[around], *(getattr(ground, name)[around] for name in _PARTS))
    new = _overlaps_of(some, np.searchsorted(around, again))
    if not len(old.pairs):
        return new
    stay = ~np.isin(old.pairs, np.concatenate([touched, ground.ids[again]])).any(axis=1)
    return Overlaps(
        np.concatenate([old.pairs[stay], new.pairs]),
        np.concatenate([old.outline_m2[stay], new.outline_m2]),
        np.concatenate([old.net_m2[stay], new.net_m2]),
    )


def grounds_of(farm: Farm, blocks: gpd.GeoDataFrame) -> Grounds:
    """Return the ground of some of a farm's blocks, worked out afresh.

    Parameters
    ----------
    farm : Farm
        The farm, whose tracks, creeks and hazards are taken out.
    blocks : GeoDataFrame
        Rows of its blocks.
    """
    every = np.arange(len(blocks))
    return _worked_out(farm, blocks.index.to_numpy(np.int64), blocks.geometry.to_numpy(), _existing(blocks, every))


def _existing(blocks: gpd.GeoDataFrame, places: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which blocks stand on the ground, shape (k,)."""
    stages = column_of(blocks, "stage")
    if len(places) > FEW:
        return np.asarray(stages[places] == "existing", bool)
    return np.array([stages[place] == "existing" for place in places], bool)


def _worked_out(
    farm: Farm, ids: NDArray[np.int64], shapes: NDArray[np.object_], existing: NDArray[np.bool_]
) -> Grounds:
    outlines = polygons_of(shapes)
    scales = np.array([ground_scale(outline, farm.grid) for outline in outlines], np.float64)
    net = _net(farm, outlines, scales)
    cut = np.array([left is not outline for left, outline in zip(net, outlines, strict=True)], bool)
    areas_ha = areas_m2(np.concatenate([outlines, net[cut]]), farm.grid) / M2_PER_HA
    gross_ha, net_ha = areas_ha[: len(ids)], areas_ha[: len(ids)].copy()
    net_ha[cut] = areas_ha[len(ids) :]
    return Grounds(ids, outlines, net, gross_ha, net_ha, scales, existing)


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
    ways = _IN_THE_WAY.get((farm.tracks, farm.creeks, farm.hazards), (), lambda: _in_the_way(farm))
    if not len(ways.shapes) or not len(outlines):
        return outlines
    near = np.round(scales, SCALE_PLACES)
    shape, block = ways.near(outlines, float(near.max()))
    order = np.lexsort((shape, block))
    shape, block = shape[order], block[order]
    bounds = _wider(shapely.bounds(outlines))
    out = outlines.copy()
    stops = [*np.flatnonzero(np.diff(block, prepend=-1)).tolist(), len(block)]
    for begin, end in itertools.pairwise(stops):
        place = int(block[begin])
        strip = ways.strip(tuple(shape[begin:end].tolist()), float(near[place]), tuple(bounds[place].tolist()))
        if not strip.is_empty:
            out[place] = polygons_only(shapely.difference(outlines[place], strip))
    return out


def _wider(bounds: Floats) -> Floats:
    """Rectangles with their sides moved outwards by at least a metre, to where they stay while a corner moves."""
    size = 4 ** np.ceil(np.log2(np.maximum(bounds[:, 2:] - bounds[:, :2], 1.0)).max(axis=1, keepdims=True) / 2 - 1)
    return np.concatenate([np.floor((bounds[:, :2] - 1) / size), np.ceil((bounds[:, 2:] + 1) / size)], axis=1) * size


def _in_the_way(farm: Farm) -> _InTheWay:
    """Shapes of tracks, creeks and hazards that grow no trees."""
    tracks, creeks, hazards = farm.tracks, farm.creeks, farm.hazards
    creeks = creeks[(creeks["drawn_as"] == "centre line") & (creeks["stage"] == "existing")]
    tracks = tracks[tracks["stage"] == "existing"]
    hazards = hazards[hazards["stage"] == "existing"]
    shapes = np.concatenate([frame.geometry.to_numpy() for frame in (tracks, creeks, hazards)])
    widths = [tracks["width_m"] / 2, creeks["channel_m"] / 2, hazards["clear_m"]]
    reach = np.concatenate([width.fillna(0.0).to_numpy(np.float64) for width in widths])
    there = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return _InTheWay(shapes[there], np.maximum(reach[there], 0.0), {})
