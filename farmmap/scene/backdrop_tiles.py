"""Square pieces of pictures under the map, read once and kept while they may be of use again."""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from farmmap.errors import BadInput
from farmmap.files.raster_reading import pictures
from farmmap.files.rasters import RasterFile
from farmmap.scene.raster_layer import Dots, Patch, RasterLayer
from farmmap.scene.view import Bounds, View

TILE = 256
"""Dots along each side of a tile."""

MOST_BYTES = 320_000_000
"""Tiles are let go, those not used for longest first, when all together hold more than this."""

FINEST_DOTS_PER_MM = 12.0
"""A picture is never read more finely than for 300 dots to the inch."""

MOST_DOTS = 12_000_000
"""A view on the screen that would take more dots is given a coarser picture."""

MOST_PRINTED_DOTS = 40_000_000
"""The same for a page."""

COARSER = 7
"""So many coarser resolutions are looked through for a picture to show until the right one is there."""


@dataclass(frozen=True)
class Tile:
    """One piece: the dots of level n are 2ⁿ m wide, and tiles are counted from the origin of the farm's grid."""

    file: RasterFile
    epsg: int
    level: int
    column: int
    row: int

    @property
    def bounds(self) -> Bounds:
        """Ground that it covers. [m]."""
        side = TILE * 2.0**self.level
        return self.column * side, self.row * side, (self.column + 1) * side, (self.row + 1) * side


class BackdropTiles:
    """Gives painters the pictures of `RasterLayer`, from tiles that it keeps; may be asked by several threads.

    Parameters
    ----------
    when_missing : callable, optional
        Given tiles that are missing; `read` is then to be called for them in a thread that may wait, and the view
        painted again. Without it they are read at once, as for a page.
    """

    def __init__(self, when_missing: Callable[[Sequence[Tile]], None] | None = None) -> None:
        self._when_missing = when_missing
        self._most_dots = MOST_PRINTED_DOTS if when_missing is None else MOST_DOTS
        self._kept: OrderedDict[Tile, Dots] = OrderedDict()
        self._bytes = 0
        self._failed: dict[RasterFile, str] = {}
        self._lock = threading.Lock()

    @property
    def troubles(self) -> tuple[str, ...]:
        """Why pictures could not be read, in words."""
        with self._lock:
            return tuple(dict.fromkeys(self._failed.values()))

    def holds(self, tile: Tile) -> bool:
        """Whether a tile is kept."""
        with self._lock:
            return tile in self._kept

    def fetch(self, layer: RasterLayer, view: View, dots_per_mm: float) -> Patch | None:
        """Return the picture of a layer in a view; as far as it is at hand if missing tiles are read elsewhere."""
        if layer.held:
            return _nearest(layer.held, view, dots_per_mm)
        if layer.file is None:
            return None
        tiles = tiles_of(layer.file, layer.epsg, view, dots_per_mm, self._most_dots)
        if not tiles:
            return None
        with self._lock:
            missing = [tile for tile in tiles if tile not in self._kept] if layer.file not in self._failed else []
        if missing:
            if self._when_missing is None:
                found = dict(self._all(tiles))
                return _laid_together(tiles, found) if found else None
            self._when_missing(missing)
        return self._at_hand(tiles)

    def read(
        self,
        tiles: Iterable[Tile],
        step: Callable[[int, int], None] = lambda _done, _total: None,
        for_s: float = math.inf,
    ) -> bool:
        """Read tiles and keep them; return whether there is anything new to be seen.

        Parameters
        ----------
        tiles : iterable of Tile
            Those that are here already are passed over.
        step : callable
            Told how many of how many are done; may raise to stop.
        for_s : float
            No more are begun after so many seconds. [s]
        """
        began = time.monotonic()
        with self._lock:
            wanted = [tile for tile in tiles if tile not in self._kept]
        done = 0
        for tile, dots in self._reading(wanted):
            self._keep(tile, dots)
            done += 1
            step(done, len(wanted))
            if time.monotonic() - began > for_s:
                break
        return done > 0

    def _all(self, tiles: Sequence[Tile]) -> Iterable[tuple[Tile, Dots]]:
        """Tiles with their dots: those that are kept, and those that have to be read, which are kept then."""
        with self._lock:
            here = {tile: self._kept[tile] for tile in tiles if tile in self._kept}
        yield from here.items()
        for tile, dots in self._reading([tile for tile in tiles if tile not in here]):
            self._keep(tile, dots)
            yield tile, dots

    def _reading(self, tiles: Sequence[Tile]) -> Iterable[tuple[Tile, Dots]]:
        """Read tiles, each file opened once; a file that cannot be read is remembered and not tried again."""
        for file in dict.fromkeys(tile.file for tile in tiles):
            of_file = [tile for tile in tiles if tile.file == file]
            parts = [(tile.bounds, (TILE, TILE)) for tile in of_file]
            try:
                yield from zip(of_file, pictures(file, of_file[0].epsg, parts), strict=True)
            except BadInput as error:
                self._fail(file, str(error))
            except Exception as error:
                self._fail(file, f"{file.path.name} cannot be shown: {error}")
                raise

    def _fail(self, file: RasterFile, words: str) -> None:
        with self._lock:
            self._failed[file] = words

    def _keep(self, tile: Tile, dots: Dots) -> None:
        with self._lock:
            if tile in self._kept:
                return
            self._kept[tile] = dots
            self._bytes += dots.nbytes
            while self._bytes > MOST_BYTES and len(self._kept) > 1:
                self._bytes -= self._kept.popitem(last=False)[1].nbytes

    def _at_hand(self, tiles: Sequence[Tile]) -> Patch | None:
        """Tiles that are kept, with coarser ones in place of those that are not."""
        found: dict[Tile, Dots] = {}
        with self._lock:
            for tile in tiles:
                dots = self._kept.get(tile)
                if dots is not None:
                    self._kept.move_to_end(tile)
                else:
                    dots = self._coarser(tile)
                if dots is not None:
                    found[tile] = dots
        return _laid_together(tiles, found) if found else None

    def _coarser(self, tile: Tile) -> Dots | None:
        for up in range(1, COARSER + 1):
            over = Tile(tile.file, tile.epsg, tile.level + up, tile.column >> up, tile.row >> up)
            dots = self._kept.get(over)
            if dots is not None:
                side = TILE >> up
                left = (tile.column - (over.column << up)) * side
                top = ((1 << up) - 1 - (tile.row - (over.row << up))) * side
                part = dots[top : top + side, left : left + side]
                return part.repeat(1 << up, axis=0).repeat(1 << up, axis=1)
        return None


def tiles_of(file: RasterFile, epsg: int, view: View, dots_per_mm: float, most_dots: int = MOST_DOTS) -> list[Tile]:
    """Tiles that a view shows of a file, at the resolution of the view or at the file's own if that is coarser."""
    seen = view.ground_bounds()
    west, south = max(seen[0], file.bounds[0]), max(seen[1], file.bounds[1])
    east, north = min(seen[2], file.bounds[2]), min(seen[3], file.bounds[3])
    if west >= east or south >= north:
        return []
    dot_m = max(view.metres_per_mm / min(dots_per_mm, FINEST_DOTS_PER_MM), file.cell_m)
    dot_m = max(dot_m, math.sqrt((east - west) * (north - south) / most_dots) * 2)
    level = math.floor(math.log2(dot_m) + 1e-9)
    side = TILE * 2.0**level
    columns = range(math.floor(west / side), math.ceil(east / side))
    rows = range(math.floor(south / side), math.ceil(north / side))
    return [Tile(file, epsg, level, column, row) for row in reversed(rows) for column in columns]


def halved(dots: Dots, bounds: Bounds, times: int = 4) -> tuple[Patch, ...]:
    """Return a picture at its own resolution and at so many coarser ones, each half of the one before.

    Clear dots are added at its east and south, so that the halves come out even.
    """
    rows, columns = dots.shape[:2]
    whole = 1 << times
    more = (-rows) % whole, (-columns) % whole
    west, south, east, north = bounds
    east += more[1] * (east - west) / columns
    south -= more[0] * (north - south) / rows
    dots = np.pad(dots, ((0, more[0]), (0, more[1]), (0, 0)))
    patches = [Patch(dots, (west, south, east, north))]
    for _ in range(times):
        rows, columns = dots.shape[:2]
        quarters = dots.reshape(rows // 2, 2, columns // 2, 2, 4)
        dots = quarters.mean(axis=(1, 3), dtype=np.float32).astype(np.uint8)
        patches.append(Patch(dots, patches[0].bounds))
    return tuple(patches)


def _nearest(held: Sequence[Patch], view: View, dots_per_mm: float) -> Patch:
    """Return the coarsest picture that is no coarser than the view."""
    dot_m = view.metres_per_mm / dots_per_mm
    west, _, east, _ = held[0].bounds
    fine = [patch for patch in held if (east - west) / patch.dots.shape[1] <= dot_m]
    return fine[-1] if fine else held[0]


def _laid_together(tiles: Sequence[Tile], found: dict[Tile, Dots]) -> Patch:
    """Return tiles, row by row from the north-west, as one picture; clear where one is missing."""
    first, last = tiles[0], tiles[-1]
    columns, rows = last.column - first.column + 1, first.row - last.row + 1
    dots = np.zeros((rows * TILE, columns * TILE, 4), np.uint8)
    for tile, part in found.items():
        top, left = (first.row - tile.row) * TILE, (tile.column - first.column) * TILE
        dots[top : top + TILE, left : left + TILE] = part
    west, _, _, north = first.bounds
    _, south, east, _ = last.bounds
    return Patch(dots, (west, south, east, north))
