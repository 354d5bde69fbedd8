"""Reading what a view needs of a picture or an elevation grid, laid on the farm's grid.

The middle of each dot asked for is carried to the file's own grid, with the
same transformations that bring in vector data, so pictures and corners line
up. Only the window of the file that is needed is read, at the coarsest
resolution that will do, which takes smaller versions inside the file where it
has them; between its dots the picture is bilinear. Every call opens the file
for itself, so that threads share no handle.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.heights import Heights
from farmmap.files.rasters import Bounds, Floats, RasterFile, carrier, opened, stamp_of, to_cells
from farmmap.progress import SILENT, Progress

Dots = NDArray[np.uint8]

LATTICE = 16
"""Every so many dots one is carried from grid to grid; those between lie straight between them."""

MOST_READ_DOTS = 16_000_000
"""No more dots than this are held at once; a larger window is read more coarsely."""

STRIP = 512
"""Rows of heights that are read at a time."""

SAMPLED_DOTS = 512
"""Brightest and darkest of a picture of more than 8 bits are looked for among so many rows and columns."""

LOWEST_M, HIGHEST_M = -1_000.0, 9_500.0
"""No ground is lower or higher; files write such numbers where they know none. [m]"""

STRETCH_PERCENT = (2.0, 98.0)
"""So much of a picture of more than 8 bits may become plain black and plain white."""


def pictures(raster: RasterFile, epsg: int, parts: Iterable[tuple[Bounds, tuple[int, int]]]) -> Iterator[Dots]:
    """Read parts of a picture.

    Parameters
    ----------
    raster : RasterFile
        The file.
    epsg : int
        The farm's grid.
    parts : iterable of (bounds, (width, height))
        Ground of each part on the farm's grid, and how many dots it is to have.

    Yields
    ------
    ndarray of uint8, shape (height, width, 4)
        Red, green, blue and alpha, north first, the colours multiplied by alpha as they are to be laid on what lies
        beneath.

    Raises
    ------
    BadInput
        The file is not there any more, is another than it was, or is damaged.
    """
    if stamp_of(raster.path) != raster.stamp:
        raise BadInput(f"{raster.path.name} was changed meanwhile; open the farm again to see it as it is now")
    stretch = _stretch(raster)
    with opened(raster.path) as file:
        for bounds, size in parts:
            yield _picture(file, raster, epsg, bounds, size, stretch)


def heights_at(raster: RasterFile, epsg: int, bounds: Bounds, size: tuple[int, int]) -> Floats:
    """Read heights at the middles of cells.

    Parameters
    ----------
    raster, epsg
        As for `pictures`.
    bounds : tuple of float
        Ground on the farm's grid. [m]
    size : tuple of int
        Columns and rows.

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        North first; nan where the file has none. [m]
    """
    with opened(raster.path) as file:
        column, row = _places(raster, epsg, bounds, size)
        held = _held(file, raster, column, row, [1])
        scale, offset = float(file.scales[0]), float(file.offsets[0])
    if held is None:
        return np.full((size[1], size[0]), np.nan)
    values = held.bands.astype(np.float64) * scale + offset
    with np.errstate(invalid="ignore"):
        values[(held.mask[None] == 0) | (values < LOWEST_M) | (values > HIGHEST_M)] = np.nan
    out: Floats = _bilinear(values, held.column, held.row)[0]
    out[~held.inside] = np.nan
    return out


def heights_under(
    rasters: Sequence[RasterFile], epsg: int, bounds: Bounds, most_cells: int, progress: Progress = SILENT
) -> Heights | None:
    """Read the heights under a rectangle, at the first file's own resolution or as finely as a number allows.

    Cells are those of the first file where its grid is the farm's and lies
    upright; else square ones of the same size on the farm's grid. Where a file
    has no height, the next is asked.

    Parameters
    ----------
    rasters : sequence of RasterFile
        One or more, such as the sheets of a survey.
    epsg : int
        The farm's grid.
    bounds : tuple of float
        Ground on the farm's grid. [m]
    most_cells : int
        No more cells than this.
    progress : Progress
        Told before each strip is read.

    Returns
    -------
    Heights or None
        None if no file reaches there.

    Raises
    ------
    BadInput
        A file is not there any more, or is damaged.
    Stopped
        ``progress`` asked to stop.
    """
    boxes = [_shared(raster.bounds, bounds) for raster in rasters]
    reaching = [(raster, box) for raster, box in zip(rasters, boxes, strict=True) if box is not None]
    if not reaching:
        return None
    west, south = (min(box[side] for _, box in reaching) for side in (0, 1))
    east, north = (max(box[side] for _, box in reaching) for side in (2, 3))
    first = reaching[0][0]
    a, b, c, d, e, f = first.affine
    own = b == 0 and d == 0 and a > 0 and e < 0 and carrier(first.crs, epsg) is None
    across, down = (a, -e) if own else (first.cell_m, first.cell_m)
    start_x, start_y = (c, f) if own else (first.bounds[0], first.bounds[3])
    coarser = max(1, math.ceil(math.sqrt((east - west) * (north - south) / across / down / most_cells)))
    across, down = across * coarser, down * coarser
    left = start_x + math.floor((west - start_x) / across + 1e-9) * across
    top = start_y - math.floor((start_y - north) / down + 1e-9) * down
    columns, rows = math.ceil((east - left) / across - 1e-9), math.ceil((top - south) / down - 1e-9)
    values = np.full((rows, columns), np.nan)
    for start in range(0, rows, STRIP):
        progress.step(start, rows, "reading the heights of the ground")
        strip = values[start : start + STRIP]
        ground = (left, top - (start + len(strip)) * down, left + columns * across, top - start * down)
        for raster, _ in reaching:
            missing = np.isnan(strip)
            if missing.any():
                strip[missing] = heights_at(raster, epsg, ground, (columns, len(strip)))[missing]
    return Heights(values, left, top, across, down)


def _shared(one: Bounds, other: Bounds) -> Bounds | None:
    west, south = max(one[0], other[0]), max(one[1], other[1])
    east, north = min(one[2], other[2]), min(one[3], other[3])
    return (west, south, east, north) if west < east and south < north else None


def _picture(
    file: Any,
    raster: RasterFile,
    epsg: int,
    bounds: Bounds,
    size: tuple[int, int],
    stretch: tuple[float, float] | None,
) -> Dots:
    colours, alpha, palette = _bands(file)
    column, row = _places(raster, epsg, bounds, size)
    held = _held(file, raster, column, row, colours, alpha=alpha, nearest=palette is not None)
    if held is None:
        return np.zeros((size[1], size[0], 4), np.uint8)
    cover = held.mask.astype(np.float32)
    if palette is not None:
        dots = palette[np.minimum(held.bands[0], len(palette) - 1)].astype(np.float32)
        colour, cover = np.moveaxis(dots[..., :3], -1, 0), dots[..., 3] * (cover > 0)
    else:
        colour = held.bands.astype(np.float32)
        if stretch is not None:
            low, high = stretch
            colour = np.clip((colour - low) * (255.0 / (high - low)), 0, 255)
    colour = np.nan_to_num(colour) * (cover / 255.0)
    if len(colour) == 1:
        colour = np.repeat(colour, 3, axis=0)
    out = _bilinear(np.concatenate([colour, cover[None]]), held.column, held.row)
    out[:, ~held.inside] = 0
    return np.ascontiguousarray(np.moveaxis(np.clip(np.rint(out), 0, 255).astype(np.uint8), 0, -1))


def _bands(file: Any) -> tuple[list[int], int | None, Dots | None]:
    """Bands that hold the colours, the one that holds alpha, and the palette, if there are any."""
    from rasterio.enums import ColorInterp  # noqa: PLC0415

    meant = {colour: number for number, colour in reversed(list(enumerate(file.colorinterp, 1)))}
    alpha = meant.get(ColorInterp.alpha)
    if ColorInterp.palette in meant:
        number = meant[ColorInterp.palette]
        table = np.zeros((256, 4), np.uint8)
        for value, colour in file.colormap(number).items():
            if value < len(table):
                table[value] = colour
        return [number], alpha, table
    rgb = [meant.get(colour) for colour in (ColorInterp.red, ColorInterp.green, ColorInterp.blue)]
    found = [number for number in rgb if number is not None]
    if len(found) == 3:
        return found, alpha, None
    others = [number for number in range(1, file.count + 1) if number != alpha]
    return others[:3] if len(others) >= 3 else others[:1], alpha, None


@lru_cache(maxsize=64)
def _stretch(raster: RasterFile) -> tuple[float, float] | None:
    """Values of a picture of more than 8 bits that become black and white; None for one of 8 bits."""
    with opened(raster.path) as file:
        colours, _, palette = _bands(file)
        if palette is not None or all(file.dtypes[number - 1] == "uint8" for number in colours):
            return None
        size = min(SAMPLED_DOTS, file.height), min(SAMPLED_DOTS, file.width)
        seen = file.read(colours, out_shape=(len(colours), *size), masked=True)
    values = np.ma.masked_invalid(seen).compressed()
    if not len(values):
        return 0.0, 1.0
    low, high = np.percentile(values, STRETCH_PERCENT)
    return float(low), float(max(high, low + 1e-6))


@lru_cache(maxsize=64)
def _opaque(raster: RasterFile, alpha: int) -> float:
    """Value of alpha that lets nothing through: the largest of whole numbers, 1 or 255 of others as they go on."""
    with opened(raster.path) as file:
        kept = np.dtype(file.dtypes[alpha - 1])
        if kept.kind != "f":
            return float(np.iinfo(kept).max)
        size = min(SAMPLED_DOTS, file.height), min(SAMPLED_DOTS, file.width)
        seen = file.read(alpha, out_shape=size)
    return 255.0 if (seen > 1.0).any() else 1.0


def _places(raster: RasterFile, epsg: int, bounds: Bounds, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """Column and row of the file under the middle of each dot, shape (height, width)."""
    width, height = size
    west, south, east, north = bounds
    x_at, y_at = _lattice(width), _lattice(height)
    x, y = np.meshgrid(west + x_at * (east - west) / width, north - y_at * (north - south) / height)
    column, row = to_cells(x, y, raster.affine, raster.crs, epsg)
    middles_x, middles_y = (np.arange(count, dtype=np.float64) + 0.5 for count in size)
    return _filled(column, x_at, y_at, middles_x, middles_y), _filled(row, x_at, y_at, middles_x, middles_y)


def _lattice(count: int) -> Floats:
    return np.linspace(0.0, count, max(int(np.ceil(count / LATTICE)), 1) + 1)


def _filled(values: Floats, x_at: Floats, y_at: Floats, x: Floats, y: Floats) -> Floats:
    """Values at every dot from those on a lattice, straight between them."""
    return _across(_across(values, x_at, x).T, y_at, y).T


def _across(values: Floats, at: Floats, wanted: Floats) -> Floats:
    right = np.clip(np.searchsorted(at, wanted), 1, len(at) - 1)
    share = (wanted - at[right - 1]) / (at[right] - at[right - 1])
    with np.errstate(invalid="ignore"):  # inf beyond the use of the file's grid
        return values[:, right - 1] * (1 - share) + values[:, right] * share


@dataclass(frozen=True, eq=False)
class _Held:
    """The window of a file under some places: its bands, and 0 to 255 for how far each dot counts.

    ``column`` and ``row`` are the places in what was read, counted from the middle of its first dot; ``inside`` says
    which of them lie on the file at all.
    """

    bands: NDArray[Any]
    mask: Dots
    column: Floats
    row: Floats
    inside: NDArray[np.bool_]


def _held(
    file: Any,
    raster: RasterFile,
    column: Floats,
    row: Floats,
    bands: list[int],
    *,
    alpha: int | None = None,
    nearest: bool = False,
) -> _Held | None:
    """Read the window of a file under some places, not finer than they lie; None if none lies on it."""
    from rasterio.enums import Resampling  # noqa: PLC0415 - heavy, and most farms have no backdrop
    from rasterio.windows import Window  # noqa: PLC0415

    with np.errstate(invalid="ignore"):
        inside = (column >= 0) & (column < raster.width) & (row >= 0) & (row < raster.height)
    if not inside.any():
        return None
    window, (wide, high) = _window(column[inside], row[inside], _step(column, row), raster)
    left, top, right, bottom = window
    where = Window(left, top, right - left, bottom - top)
    finest = (wide, high) == (right - left, bottom - top)
    how = Resampling.nearest if nearest or finest else Resampling.average
    read = file.read(bands, window=where, out_shape=(len(bands), high, wide), resampling=how)
    if alpha is None:
        mask = file.read_masks(bands[0], window=where, out_shape=(high, wide))
    else:
        mask = file.read(alpha, window=where, out_shape=(high, wide), resampling=how)
        if mask.dtype != np.uint8:
            mask = np.clip(np.nan_to_num(mask) * (255.0 / _opaque(raster, alpha)), 0, 255).astype(np.uint8)
    column = np.where(inside, (column - left) * (wide / (right - left)), 0.5) - 0.5
    row = np.where(inside, (row - top) * (high / (bottom - top)), 0.5) - 0.5
    return _Held(read, mask, column, row, inside)


def _step(column: Floats, row: Floats) -> int:
    """How many cells of the file lie from one place to the next, at least 1."""
    with np.errstate(invalid="ignore"):
        steps = [np.hypot(np.diff(column, axis=axis), np.diff(row, axis=axis)) for axis in (0, 1)]
    known = [np.median(step[np.isfinite(step)]) for step in steps if np.isfinite(step).any()]
    return max(1, int(min(known, default=1.0) + 1e-6))


def _window(
    column: Floats, row: Floats, step: int, raster: RasterFile
) -> tuple[tuple[int, int, int, int], tuple[int, int]]:
    """Columns and rows to read around some places, and how many dots to make of them.

    Windows start and end at whole steps, so that neighbouring parts of a picture are made from the same dots.
    """
    while True:
        sides = []
        for places, most in ((column, raster.width), (row, raster.height)):
            first = int(places.min() - step) // step * step
            last = -(-int(places.max() + step + 1) // step) * step
            sides.append((max(first, 0), min(last, most)))
        (left, right), (top, bottom) = sides
        wide, high = (-(-(last - first) // step) for first, last in sides)
        if wide * high <= MOST_READ_DOTS:
            return (left, top, right, bottom), (wide, high)
        step *= 2


def _bilinear(values: NDArray[Any], column: Floats, row: Floats) -> NDArray[Any]:
    """Values of bands between the middles of their dots, shape (bands, height, width)."""
    _, rows, columns = values.shape
    column, row = np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)
    left, above = np.floor(column).astype(np.intp), np.floor(row).astype(np.intp)
    right, below = np.minimum(left + 1, columns - 1), np.minimum(above + 1, rows - 1)
    over, under = (column - left).astype(values.dtype), (row - above).astype(values.dtype)
    upper = _between(values[:, above, left], values[:, above, right], over)
    lower = _between(values[:, below, left], values[:, below, right], over)
    return _between(upper, lower, under)


def _between(first: NDArray[Any], second: NDArray[Any], share: NDArray[Any]) -> NDArray[Any]:
    """Value between two; one without weight does not count, even if it is not known."""
    return np.where(share < 1e-6, first, np.where(share > 1 - 1e-6, second, first * (1 - share) + second * share))
