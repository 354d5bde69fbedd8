"""Area that discs cover together inside a polygon, exactly and without drawing them as polygons.

By Green's theorem the area of a shape is ½∮(x·dy − y·dx) along its edge. The
edge of what the discs cover inside the polygon is made of two kinds of pieces:
arcs of circles that lie inside no other disc and inside the polygon, and
stretches of the polygon's sides that lie inside a disc. The free arcs do not
depend on the polygon: they are worked out tile by tile of ground when first
needed, and kept. No disc is ever counted twice, and the answer carries
rounding errors only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.discs import TURN, Discs
from farmmap.figures.rectangles import FEW, bounds_met
from farmmap.figures.tree_index import NO_BOUNDS, Bounds, TreeIndex

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

DISCS_A_TILE = 64
"""Discs in a tile of ground, on average."""

MANY_TILES = 200
"""From so many tiles on it is worth while to leave out those that the polygon does not reach."""

GIANT_M = 100.0
"""Discs of sizes beyond this radius belong to no tile. No crown is so wide: such a figure is mistyped. [m]"""

UNEVEN = 0.5 * (np.sqrt(5) - 1)
"""Where along an arc it is looked at: not the middle, which may be where a circle touches a side of a neat outline."""

BY_A_HAIR = 1e-9
"""Part of a side by which a crossing may miss its end and still count as one."""


@dataclass(frozen=True, eq=False)
class Tile:
    """Discs whose middles lie in one tile of ground.

    Attributes
    ----------
    discs : ndarray, shape (n, 6)
        Middle, radius, and the sums over its free arcs from a to b of r²·(b − a), r·(sin b − sin a) and
        −r·(cos b − cos a). [m, m², m]
    flag : ndarray of bool, shape (n,)
        Whether each disc is marked.
    owner : ndarray of int, shape (k,)
        Number of the disc of each free arc.
    arcs : ndarray, shape (k, 2)
        Its ends. [radians]
    """

    discs: Floats
    flag: Bools
    owner: Places
    arcs: Floats


@dataclass(frozen=True)
class Cover:
    """What discs cover of a polygon.

    Attributes
    ----------
    area : float
        Ground covered. [m²]
    reaching, marked : int
        Discs that reach over the polygon, and how many of them are marked.
    """

    area: float
    reaching: int
    marked: int


class Canopy:
    """Discs and their free arcs, kept by tiles of ground.

    Parameters
    ----------
    discs : Discs
        The discs.
    marked : ndarray of bool, shape (n,)
        Discs that are counted apart.
    tile_m : float or None
        Side of a tile; None for one that holds some dozens of discs. [m]
    """

    def __init__(self, discs: Discs, marked: Bools, tile_m: float | None = None) -> None:
        self.discs, self._marked = discs, marked
        self.tile_m = tile_m or _tile_size(discs)
        self._levels = [level for level in discs.levels.values() if level.largest <= GIANT_M]
        self._giants = [level for level in discs.levels.values() if level.largest > GIANT_M]
        self.widest = max((level.largest for level in self._levels), default=0.0)
        self._tiles: dict[tuple[int, int], Tile] = {}
        self._giant_tile: Tile | None = None

    def after(self, discs: Discs, marked: Bools, changed: Floats) -> Canopy:
        """Return the canopy after an edit, keeping the tiles that it did not touch.

        Parameters
        ----------
        discs, marked
            As for `Canopy`, after the edit.
        changed : ndarray, shape (k, 3)
            Middle and radius of the discs that were there before or are there after. [m]
        """
        out = Canopy(discs, marked, self.tile_m)
        x, y, radius = changed[np.isfinite(changed).all(axis=1)].T
        wide = radius + max(self.widest, out.widest)
        boxes = np.column_stack([x - wide, y - wide, x + wide, y + wide])
        out._tiles = out._untouched(self._tiles, boxes)
        return out

    def _untouched(self, tiles: dict[tuple[int, int], Tile], boxes: Floats) -> dict[tuple[int, int], Tile]:
        """Return the tiles that meet none of some rectangles."""
        touched = [self._touched(*box) for box in boxes.tolist()] if len(boxes) <= FEW else []
        if len(boxes) > FEW or sum(len(columns) * len(rows) for columns, rows in touched) > len(tiles):
            keys = list(tiles)
            corners = np.array(keys, np.float64).reshape(-1, 2)
            met = bounds_met(np.concatenate([corners, corners + 1], axis=1) * self.tile_m, boxes)
            return {keys[at]: tiles[keys[at]] for at in np.flatnonzero(~met)}
        kept = dict(tiles)
        for columns, rows in touched:
            for key in product(columns, rows):
                kept.pop(key, None)
        return kept

    def cover(self, region: shapely.Geometry) -> Cover:
        """Return what the discs cover of a valid Polygon or MultiPolygon."""
        if region is None or region.is_empty or not self.discs.levels:
            return Cover(0.0, 0, 0)
        discs, flag, owner, arcs = self._near(region)
        if not len(discs):
            return Cover(0.0, 0, 0)
        west, south, east, north = region.bounds
        middle = np.array([(west + east) / 2, (south + north) / 2])
        shapely.prepare(region)
        within = shapely.contains_xy(region, discs[:, 0], discs[:, 1])
        begins, ends = _sides(region)
        side, disc = _beside(begins, ends, discs)
        reaching = within.copy()
        reaching[disc] = True
        discs[:, :2] -= middle
        begins, ends = begins - middle, ends - middle
        first, last, real = _chord(begins[side], ends[side], discs[disc])
        side, disc, first, last = side[real], disc[real], first[real], last[real]
        area = _sides_part(begins, ends, side, np.clip(first, 0, 1), np.clip(last, 0, 1))
        crossed = np.zeros(len(discs), bool)
        crossed[disc] = True
        whole = discs[within & ~crossed]
        area += float((whole[:, 3] + whole[:, 0] * whole[:, 4] + whole[:, 1] * whole[:, 5]).sum() / 2)
        cuts = _crossings(begins, ends, discs, (side, disc, first, last))
        on_side = crossed[owner]
        area += _cut_arcs_part(discs, owner[on_side], arcs[on_side], cuts, (region, middle))
        return Cover(
            float(min(max(area, 0.0), region.area)), int(reaching.sum()), int(np.count_nonzero(flag & reaching))
        )

    def _near(self, region: shapely.Geometry) -> tuple[Floats, Bools, Places, Floats]:
        """Discs whose rectangles meet that of a polygon, with their marks and free arcs."""
        west, south, east, north = region.bounds
        wide = self.widest
        columns, rows = self._touched(west - wide, south - wide, east + wide, north + wide)
        keys = [(column, row) for row in rows for column in columns]
        if len(keys) > MANY_TILES:
            corners = np.array(keys) * self.tile_m
            boxes = shapely.box(*(corners - wide).T, *(corners + self.tile_m + wide).T)
            keys = [keys[at] for at in np.flatnonzero(shapely.intersects(region, boxes))]
        self._work_out([key for key in keys if key not in self._tiles])
        tiles = [tile for tile in map(self._tiles.__getitem__, keys) if len(tile.flag)] + self._of_giants()
        if not tiles:
            return np.empty((0, 6)), np.empty(0, bool), np.empty(0, np.intp), np.empty((0, 2))
        discs = np.concatenate([tile.discs for tile in tiles])
        x, y, r = discs[:, 0], discs[:, 1], discs[:, 2]
        kept = (x + r >= west) & (x - r <= east) & (y + r >= south) & (y - r <= north)
        number = np.cumsum(kept) - 1
        before = np.cumsum([0, *(len(tile.flag) for tile in tiles[:-1])])
        owner = np.concatenate([tile.owner for tile in tiles]) + np.repeat(before, [len(tile.owner) for tile in tiles])
        arcs = np.concatenate([tile.arcs for tile in tiles])
        of_kept = kept[owner]
        flag = np.concatenate([tile.flag for tile in tiles])
        return discs[kept], flag[kept], number[owner[of_kept]], arcs[of_kept]

    @cached_property
    def _bounds(self) -> Bounds:
        """West, south, east and north of a rectangle around the discs of all tiles, kept ones too, in m."""
        each = np.array([level.index.bounds for level in self._levels] or [NO_BOUNDS])
        west, south = each[:, :2].min(axis=0).tolist()
        east, north = each[:, 2:].max(axis=0).tolist()
        return west, south, east, north

    def _touched(self, west: float, south: float, east: float, north: float) -> tuple[range, range]:
        """Columns and rows of the tiles that a rectangle meets, none where there are no discs."""
        left, low, right, top = self._bounds
        west, south, east, north = max(west, left), max(south, low), min(east, right), min(north, top)
        if west > east or south > north:
            return range(0), range(0)
        size = self.tile_m
        return range(int(west // size), int(east // size) + 1), range(int(south // size), int(north // size) + 1)

    def _work_out(self, keys: list[tuple[int, int]]) -> None:
        """Find the free arcs of all discs in some tiles."""
        if not keys:
            return
        corners = np.array(keys, np.float64)
        boxes = np.concatenate([corners, corners + 1], axis=1) * self.tile_m
        found = []
        for level in self._levels:
            tile, at = level.index.near_boxes(boxes)
            here = np.flatnonzero(
                (np.floor(level.index.x[at] / self.tile_m) == corners[tile, 0])
                & (np.floor(level.index.y[at] / self.tile_m) == corners[tile, 1])
            )
            found.append((tile[here], level.index.order[at[here]]))
        tile = np.concatenate([part[0] for part in found])
        disc = np.concatenate([part[1] for part in found])
        order = np.lexsort((disc, tile))
        self._tiles.update(zip(keys, self._made(tile[order], disc[order], len(keys)), strict=True))

    def _of_giants(self) -> list[Tile]:
        """Return the discs that are too wide for tiles, as one."""
        if not self._giants:
            return []
        if self._giant_tile is None:
            disc = np.sort(np.concatenate([level.index.order for level in self._giants]))
            self._giant_tile = self._made(np.zeros(len(disc), np.intp), disc, 1)[0]
        return [self._giant_tile] if len(self._giant_tile.flag) else []

    def _made(self, tile: Places, disc: Places, count: int) -> list[Tile]:
        """Make tiles of discs, given the number of the tile of each, increasing."""
        row, from_, to = self.discs.free_arcs(disc)
        r = self.discs.radius_of(disc)
        sums = np.empty((len(disc), 6))
        sums[:, 0], sums[:, 1], sums[:, 2] = self.discs.x[disc], self.discs.y[disc], r
        sums[:, 3] = r * r * np.bincount(row, to - from_, len(disc))
        sums[:, 4] = r * np.bincount(row, np.sin(to) - np.sin(from_), len(disc))
        sums[:, 5] = -r * np.bincount(row, np.cos(to) - np.cos(from_), len(disc))
        flag, arcs = self._marked[disc], np.column_stack([from_, to])
        ends = np.searchsorted(tile, np.arange(count + 1))
        arc_ends = np.searchsorted(row, ends)
        made = []
        for begin, end, first, last in zip(ends[:-1], ends[1:], arc_ends[:-1], arc_ends[1:], strict=True):
            made.append(Tile(sums[begin:end], flag[begin:end], row[first:last] - begin, arcs[first:last]))
        return made


def covered_area(x: ArrayLike, y: ArrayLike, radius: ArrayLike, region: shapely.Geometry) -> float:
    """Area of a region that lies under discs, each spot counted once.

    Parameters
    ----------
    x, y, radius : array_like, shape (n,)
        Middles and radii of the discs; those without a radius cover nothing. [m]
    region : shapely Polygon or MultiPolygon
        Valid.

    Returns
    -------
    float
        Between 0 and the region's area. [m²]
    """
    discs = np.column_stack([np.ravel(x), np.ravel(y), np.ravel(radius)]).astype(np.float64)
    discs = discs[np.isfinite(discs).all(axis=1) & (discs[:, 2] > 0)]
    return Canopy(Discs(*discs.T), np.zeros(len(discs), bool)).cover(region).area


def _tile_size(discs: Discs) -> float:
    middles = [(level.index.x, level.index.y) for level in discs.levels.values() if len(level.index.order)]
    if not middles:
        return 1.0
    x, y = (np.concatenate(values) for values in zip(*middles, strict=True))
    area = max(float(np.ptp(x)), 1.0) * max(float(np.ptp(y)), 1.0)
    return max((area * DISCS_A_TILE / len(x)) ** 0.5, 1.0)


def _sides(region: shapely.Geometry) -> tuple[Floats, Floats]:
    """Sides of the polygon with its ground on their left: begins and ends, shape (m, 2)."""
    parts = shapely.orient_polygons(shapely.get_parts(region))
    corners, ring = shapely.get_coordinates(shapely.get_rings(parts), return_index=True)
    same = ring[1:] == ring[:-1]
    begins, ends = corners[:-1][same], corners[1:][same]
    long_enough = (begins != ends).any(axis=1)
    return begins[long_enough], ends[long_enough]


def _beside(begins: Floats, ends: Floats, discs: Floats) -> tuple[Places, Places]:
    """Pairs of sides and discs that touch."""
    giant = discs[:, 2] > GIANT_M
    if not giant.any():
        return _beside_some(begins, ends, discs)
    found = []
    for places in (np.flatnonzero(~giant), np.flatnonzero(giant)):
        side, disc = _beside_some(begins, ends, discs[places])
        found.append((side, places[disc]))
    side, disc = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return side, disc


def _beside_some(begins: Floats, ends: Floats, discs: Floats) -> tuple[Places, Places]:
    """Pairs of sides and discs that touch, quick for discs of about one size."""
    widest = float(discs[:, 2].max(initial=0.0))
    index = TreeIndex(discs[:, 0], discs[:, 1], widest)
    low, high = np.minimum(begins, ends) - widest, np.maximum(begins, ends) + widest
    side, at = index.near_boxes(np.concatenate([low, high], axis=1))
    disc = index.order[at]
    step = (ends - begins)[side]
    away_x, away_y = index.x[at] - begins[side, 0], index.y[at] - begins[side, 1]
    along = (away_x * step[:, 0] + away_y * step[:, 1]) / (step[:, 0] ** 2 + step[:, 1] ** 2)
    along = np.minimum(np.maximum(along, 0.0), 1.0)
    off_x, off_y = away_x - along * step[:, 0], away_y - along * step[:, 1]
    near = np.flatnonzero(off_x * off_x + off_y * off_y <= discs[disc, 2] ** 2)
    return side[near], disc[near]


def _chord(begins: Floats, ends: Floats, discs: Floats) -> tuple[Floats, Floats, Bools]:
    """Where the line through each side enters and leaves each disc, as parts of the side, and whether it meets it."""
    step = ends - begins
    length = np.hypot(step[:, 0], step[:, 1])
    away = discs[:, :2] - begins
    along = (away * step).sum(axis=1) / length
    off = (step[:, 0] * away[:, 1] - step[:, 1] * away[:, 0]) / length
    half = np.sqrt(np.maximum(discs[:, 2] ** 2 - off**2, 0.0))
    first, last = (along - half) / length, (along + half) / length
    return first, last, (half > 0) & (last >= -BY_A_HAIR) & (first <= 1 + BY_A_HAIR)


def _sides_part(begins: Floats, ends: Floats, side: Places, first: Floats, last: Floats) -> float:
    """½∮(x·dy − y·dx) along the covered stretches of the sides."""
    row, from_, to, covers = _stretches(side, np.column_stack([first, last]), (np.empty(0, np.intp), np.empty(0)), 2.0)
    under = covers > 0.5
    covered = np.bincount(row[under], (to - from_)[under], minlength=len(begins))
    cross = begins[:, 0] * ends[:, 1] - begins[:, 1] * ends[:, 0]
    return float((cross * covered).sum() / 2)


def _crossings(
    begins: Floats, ends: Floats, discs: Floats, met: tuple[Places, Places, Floats, Floats]
) -> tuple[Places, Floats]:
    """Where circles cross sides: the disc, and the angle on its circle."""
    side, disc, first, last = met
    owners, angles = [], []
    for part in (first, last):
        on_side = (part >= -BY_A_HAIR) & (part <= 1 + BY_A_HAIR)
        at, of = side[on_side], disc[on_side]
        point = begins[at] + part[on_side][:, None] * (ends[at] - begins[at]) - discs[of, :2]
        owners.append(of)
        angles.append(np.arctan2(point[:, 1], point[:, 0]) % TURN)
    return np.concatenate(owners), np.concatenate(angles)


def _cut_arcs_part(
    discs: Floats, owner: Places, arcs: Floats, cuts: tuple[Places, Floats], region: tuple[shapely.Geometry, Floats]
) -> float:
    """½∮(x·dy − y·dx) along the parts inside the polygon of free arcs of circles that cross its sides."""
    row, from_, to, covers = _stretches(owner, arcs, cuts, 8.0)
    free = np.flatnonzero((covers > 0.5) & (to > from_))
    row, from_, to = row[free], from_[free], to[free]
    x, y, r = discs[row, 0], discs[row, 1], discs[row, 2]
    within, (shape, middle) = from_ + UNEVEN * (to - from_), region
    inside = shapely.contains_xy(shape, x + r * np.cos(within) + middle[0], y + r * np.sin(within) + middle[1])
    each = r * r * (to - from_) + r * x * (np.sin(to) - np.sin(from_)) - r * y * (np.cos(to) - np.cos(from_))
    return float(each[inside].sum() / 2)


def _stretches(
    row: Places, spans: Floats, cuts: tuple[Places, Floats], apart: float
) -> tuple[Places, Floats, Floats, Floats]:
    """Cut each row where spans begin and end, and at ``cuts``.

    Parameters
    ----------
    row, spans : ndarray, shape (n,) and (n, 2)
        Row of each span, and its ends.
    cuts : tuple of ndarray, shape (m,)
        Row and place of each cut.
    apart : float
        More than the greatest end; a power of 2.

    Returns
    -------
    row, from_, to, covers : ndarray, shape (k,)
        Row and ends of each stretch, and how many spans cover it.
    """
    owner = np.concatenate([row, row, cuts[0]])
    at = np.concatenate([spans[:, 0], spans[:, 1], cuts[1]])
    weight = np.concatenate([np.ones(len(row)), -np.ones(len(row)), np.zeros(len(cuts[0]))])
    order = np.argsort(owner * apart + at)
    owner, at = owner[order], at[order]
    covers = np.cumsum(weight[order])
    same = owner[1:] == owner[:-1]
    return owner[:-1][same], at[:-1][same], at[1:][same], covers[:-1][same]


__all__ = ["Canopy", "Cover", "Tile", "covered_area"]
