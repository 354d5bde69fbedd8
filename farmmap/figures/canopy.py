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

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.discs import Discs
from farmmap.figures.outline_cover import GIANT_M, Felt, felt_of, middle_of, sides_of
from farmmap.figures.rectangles import FEW, bounds_met
from farmmap.figures.tree_index import NO_BOUNDS, Bounds, heart

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Places = NDArray[np.intp]

DISCS_A_TILE = 64
"""Discs in a tile of ground, on average."""

TILES_AT_ONCE = 256
"""Tiles worked out together."""

MANY_TILES = 200
"""From so many tiles on it is worth while to leave out those that the polygon does not reach."""

FELT_WITHIN = 1 + 1e-9
"""Discs that miss each other by a rounding error count as touching."""

MOST_FELT = 4_000
"""For so many polygons at most what was found is kept."""


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
    number : int
        Told apart by it; no two tiles have the same.
    """

    discs: Floats
    flag: Bools
    owner: Places
    arcs: Floats
    number: int = field(default_factory=itertools.count().__next__)

    def feels(self, x: float, y: float, radius: float) -> bool:
        """Whether any of its discs touches another one, in m."""
        off_x, off_y, reach = self.discs[:, 0] - x, self.discs[:, 1] - y, self.discs[:, 2] + radius
        return bool((off_x * off_x + off_y * off_y <= reach * reach * FELT_WITHIN).any())


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
        self._felt: dict[int, Felt] = {}
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
        changed = changed[np.isfinite(changed).all(axis=1)]
        out._tiles, out._felt = out._untouched(self._tiles, changed, max(self.widest, out.widest)), self._felt
        return out

    def _untouched(
        self, tiles: dict[tuple[int, int], Tile], changed: Floats, widest: float
    ) -> dict[tuple[int, int], Tile]:
        """Return the tiles that hold none of some discs, and no disc that touches one of them."""
        x, y, radius = changed.T
        wide = radius + widest
        boxes = np.column_stack([x - wide, y - wide, x + wide, y + wide])
        touched = [self._touched(*box) for box in boxes.tolist()] if len(boxes) <= FEW else []
        if len(boxes) > FEW or sum(len(columns) * len(rows) for columns, rows in touched) > len(tiles):
            keys = list(tiles)
            corners = np.array(keys, np.float64).reshape(-1, 2)
            met = bounds_met(np.concatenate([corners, corners + 1], axis=1) * self.tile_m, boxes)
            return {keys[at]: tiles[keys[at]] for at in np.flatnonzero(~met)}
        kept = dict(tiles)
        for (columns, rows), disc in zip(touched, changed.tolist(), strict=True):
            home = (int(disc[0] // self.tile_m), int(disc[1] // self.tile_m))
            for key in itertools.product(columns, rows):
                if key == home or (key in kept and kept[key].feels(*disc)):
                    kept.pop(key, None)
        return kept

    def cover(self, region: shapely.Geometry, was: shapely.Geometry | None = None, *, keep: bool = False) -> Cover:
        """Return what the discs cover of a polygon.

        Parameters
        ----------
        region : shapely Polygon or MultiPolygon
            Valid.
        was : shapely geometry, optional
            The polygon before a few of its corners moved; quick if it was asked about with ``keep``.
        keep : bool
            Whether to keep what was found for such a time.
        """
        if region is None or region.is_empty or not self.discs.levels:
            return Cover(0.0, 0, 0)
        tiles = self._near(region)
        if not tiles:
            return Cover(0.0, 0, 0)
        discs, flag, owner, arcs = _put_together(tiles)
        numbers = tuple([tile.number for tile in tiles])
        middle = middle_of(region)
        known = self._felt.get(id(was))
        if known is not None and not (
            known.region is was and known.tiles == numbers and np.array_equal(known.middle, middle)
        ):
            known = None
        begins, ends = sides_of(region)
        felt = felt_of((region, begins, ends), (discs, owner, arcs), (numbers, middle), known)
        if keep:
            if len(self._felt) >= MOST_FELT:
                self._felt.clear()
            self._felt.pop(id(was), None)
            self._felt[id(region)] = felt
        begins, ends = begins - middle, ends - middle
        area = ((begins[:, 0] * ends[:, 1] - begins[:, 1] * ends[:, 0]) * felt.covered).sum() + felt.arcs.sum()
        x, y, _, own, by_x, by_y = discs[felt.within & ~felt.crossed].T
        area += (own + (x - middle[0]) * by_x + (y - middle[1]) * by_y).sum()
        return Cover(
            float(min(max(area / 2, 0.0), region.area)),
            int(np.count_nonzero(felt.met)),
            int(np.count_nonzero(flag & felt.met)),
        )

    def make_ready(self, regions: Iterable[shapely.Geometry]) -> None:
        """Work out the tiles of many polygons together, which is quicker than one polygon after the other."""
        wanted = dict.fromkeys(key for region in regions if not region.is_empty for key in self._keys_near(region))
        keys = [key for key in wanted if key not in self._tiles]
        for first in range(0, len(keys), TILES_AT_ONCE):
            self._work_out(keys[first : first + TILES_AT_ONCE])

    def _near(self, region: shapely.Geometry) -> list[Tile]:
        """Tiles whose discs may reach over a polygon."""
        keys = self._keys_near(region)
        self._work_out([key for key in keys if key not in self._tiles])
        return [tile for tile in map(self._tiles.__getitem__, keys) if len(tile.flag)] + self._of_giants()

    def _keys_near(self, region: shapely.Geometry) -> list[tuple[int, int]]:
        west, south, east, north = region.bounds
        wide = self.widest
        columns, rows = self._touched(west - wide, south - wide, east + wide, north + wide)
        keys = [(column, row) for row in rows for column in columns]
        if len(keys) > MANY_TILES:
            corners = np.array(keys) * self.tile_m
            boxes = shapely.box(*(corners - wide).T, *(corners + self.tile_m + wide).T)
            keys = [keys[at] for at in np.flatnonzero(shapely.intersects(region, boxes))]
        return keys

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
    west, south, east, north = heart(x, y, (x.min(), y.min(), x.max(), y.max()))
    area = max(east - west, 1.0) * max(north - south, 1.0)
    return max((area * DISCS_A_TILE / len(x)) ** 0.5, 1.0)


def _put_together(tiles: list[Tile]) -> tuple[Floats, Bools, Places, Floats]:
    """Discs, flags, owners and arcs of tiles as of one."""
    counts = np.array([len(tile.flag) for tile in tiles])
    owner = np.concatenate([tile.owner for tile in tiles])
    owner += np.repeat(np.cumsum(counts) - counts, [len(tile.owner) for tile in tiles])
    return (
        np.concatenate([tile.discs for tile in tiles]),
        np.concatenate([tile.flag for tile in tiles]),
        owner,
        np.concatenate([tile.arcs for tile in tiles]),
    )


__all__ = ["GIANT_M", "Canopy", "Cover", "Tile", "covered_area"]
