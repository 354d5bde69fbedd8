"""Pictures from above and grids of ground heights: what their files say, and whether they can lie under a map.

Only the head of a file is read here; `farmmap.files.raster_reading` reads what a view needs of the rest.
"""

from __future__ import annotations

import math
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
from numpy.typing import NDArray
from pyproj.exceptions import CRSError

from farmmap.errors import BadInput, GridError
from farmmap.farm.grids import Grid, parse_grid
from farmmap.files.sources.text import decoded
from farmmap.files.world_files import is_odd, place_in, usual_name, world_file_of

Bounds = tuple[float, float, float, float]
Floats = NDArray[np.float64]

PICTURE, ELEVATION = "picture", "elevation"
LARGE_DOTS = 60_000_000
"""A larger file without smaller versions of itself inside is slow to show as a whole."""

CACHE_MB = 64
"""So much of files is kept as it was read; tiles are kept elsewhere. [MB]"""

_EDGE_POINTS = 21
_opening = threading.Lock()


@dataclass(frozen=True)
class RasterFile:
    """What the head of a file says.

    Attributes
    ----------
    path : Path
        Where it is.
    kind : str
        ``picture`` or ``elevation``: what it was said to be, or else what it looks like.
    width, height : int
        Columns and rows.
    affine : tuple of float
        a, b, c, d, e, f of x = a·column + b·row + c, y = d·column + e·row + f, on the file's grid.
    crs : str
        The file's grid as WKT, "" if it is on the farm's own plane.
    bounds : tuple of float
        Smallest upright rectangle around it on the farm's grid. [m]
    cell_m : float
        Side of a cell on the farm's grid, in the middle of the file. [m]
    stamp : tuple of int
        When the file was last changed, and its size.
    one_band : bool
        Whether it holds one number a cell, as heights are.
    said : tuple of str
        What was taken for granted, for people.
    """

    path: Path
    kind: str
    width: int
    height: int
    affine: tuple[float, ...]
    crs: str
    bounds: Bounds
    cell_m: float
    stamp: tuple[int, int]
    one_band: bool
    said: tuple[str, ...] = ()


def look_at(path: str | Path, grid: Grid, named_grid: str = "", kind: str = "") -> RasterFile:
    """Read the head of a picture or elevation grid, and find where it lies on the farm's grid.

    Parameters
    ----------
    path : str or Path
        A GeoTIFF, or any other raster file with a world file beside it.
    grid : Grid
        The farm's grid.
    named_grid : str
        Grid of a file that names none, such as ``EPSG:27200``; "" for the farm's own.
    kind : str
        What it is to be taken for; "" for what it looks like.

    Raises
    ------
    BadInput
        It is not there, is no picture, is damaged, says nowhere where it lies, or lies on a grid that cannot be
        carried to the farm's. The message says which, and what to do.
    """
    path = Path(path)
    stamp = stamp_of(path)
    with opened(path) as file:
        if any(kept.startswith("complex") for kept in file.dtypes):
            raise BadInput(
                f"{path.name} holds complex numbers, as radar measures them, which are neither a picture nor heights; "
                "ask whoever made it for a picture"
            )
        width, height = int(file.width), int(file.height)
        affine = _affine(file, path)
        said: list[str] = []
        crs = _crs(file, path, grid, named_grid, said)
        kind, one_band = kind or _kind(file), file.count == 1
        if kind == PICTURE and _is_plain(file) and file.dtypes[0] == "uint16":
            said.append(
                f"{path.name} is shown as a picture, though it may hold heights as well; if it does, say that it "
                "holds heights of the ground."
            )
        if width * height > LARGE_DOTS and not file.overviews(1) and file.driver != "JPEG":
            said.append(
                f"{path.name} is large and holds no smaller versions of itself, so showing all of it takes a while."
            )
    if kind == ELEVATION and one_band:
        said.append(f"The heights in {path.name} are taken to be in metres.")
    bounds, cell_m = _place(path, (width, height), affine, crs, grid)
    return RasterFile(path, kind, width, height, affine, crs, bounds, cell_m, stamp, one_band, tuple(said))


def stamp_of(path: Path) -> tuple[int, int]:
    """When a file was last changed [ns] and how large it is [bytes].

    Raises
    ------
    BadInput
        It is not there.
    """
    try:
        found = path.stat()
    except OSError as error:
        raise BadInput(
            f"{path.name} is not in {path.absolute().parent}; put it back there, or take the backdrop out and add it "
            "from where it is now"
        ) from error
    if not path.is_file():
        raise BadInput(f"{path} is a folder, not a picture or an elevation grid; choose a file")
    return found.st_mtime_ns, found.st_size


@contextmanager
def opened(path: Path) -> Iterator[Any]:
    """Open a raster file for the thread that asks; the handle is not to be given to another.

    Raises
    ------
    BadInput
        It is no raster file, or what is asked of it cannot be read.
    """
    import rasterio  # noqa: PLC0415 - heavy, and most farms have no backdrop
    from rasterio.errors import NotGeoreferencedWarning, RasterioError  # noqa: PLC0415

    try:
        with _opening, warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # it is told in words of ours
            file = rasterio.open(path)
    except RasterioError as error:
        raise BadInput(
            f"{path.name} cannot be read as a picture or an elevation grid: it is damaged, or of another kind; "
            "GeoTIFF, and JPEG or PNG with a world file, can be used"
        ) from error
    try:
        with rasterio.Env(GDAL_CACHEMAX=CACHE_MB), file:
            yield file
    except RasterioError as error:
        raise BadInput(f"{path.name} is damaged and cannot be read to its end; get another copy of it") from error


@lru_cache(maxsize=32)
def carrier(crs: str, epsg: int, *, back: bool = False) -> pyproj.Transformer | None:
    """Return what carries points from a file's grid to the farm's, or back; None if they are the same."""
    if not crs:
        return None
    theirs, ours = pyproj.CRS.from_wkt(crs), pyproj.CRS.from_epsg(epsg)
    if theirs.equals(ours, ignore_axis_order=True):
        return None
    pair = (ours, theirs) if back else (theirs, ours)
    return pyproj.Transformer.from_crs(*pair, always_xy=True)


def _affine(file: Any, path: Path) -> tuple[float, ...]:
    """Where columns and rows lie.

    Raises
    ------
    BadInput
        The file does not say, or says something that cannot be.
    """
    place = tuple(float(value) for value in file.transform[:6])
    unknown, world = place == (1.0, 0.0, 0.0, 0.0, 1.0, 0.0), world_file_of(path)
    points = file.gcps[0] if unknown else []
    if len(points) >= 3:
        from rasterio.transform import from_gcps  # noqa: PLC0415

        place = tuple(float(value) for value in from_gcps(points)[:6])
    elif world is not None and (unknown or (file.driver != "GTiff" and is_odd(world))):
        place = place_in(world)
    elif unknown:
        raise BadInput(
            f"{path.name} does not say where on the ground it lies. Put its world file ({usual_name(path)}) into the "
            "same folder, or ask whoever made it for a GeoTIFF"
        )
    a, b, _, d, e, _ = place
    if not all(map(math.isfinite, place)) or abs(a * e - b * d) < 1e-24:
        raise BadInput(f"what {path.name} says of where it lies makes no sense; look at its world file")
    return place


def _crs(file: Any, path: Path, grid: Grid, named_grid: str, said: list[str]) -> str:
    """WKT of the file's grid, "" for the farm's own plane."""
    text = file.crs.to_wkt() if file.crs else file.gcps[1].to_wkt() if file.gcps[1] else _beside(path)
    if not text and named_grid:
        try:
            text = Grid(parse_grid(named_grid)).crs.to_wkt()
        except GridError as error:
            raise BadInput(f"{path.name}: {error}") from error
    if text:
        try:
            theirs = _grid_in(text)
        except (CRSError, GridError) as error:
            raise BadInput(
                f"{path.name} names a grid that is not known ({str(error)[:80]}); save it again on the farm's grid, "
                f"{grid.label}"
            ) from error
        if theirs.is_projected or theirs.is_geographic:
            if grid.local:
                raise BadInput(
                    f"{path.name} lies on {theirs.name}, but this farm is measured from a corner post, so nobody "
                    "knows where on that grid it is. A picture on the farm's own coordinates, with a world file and "
                    "no grid, can be used"
                )
            return str((theirs.sub_crs_list[0] if theirs.is_compound else theirs).to_wkt())
        if not theirs.is_engineering:  # as the plane of a survey without a grid is called
            raise BadInput(
                f"{path.name} lies on {theirs.name}, which is neither a plane grid nor longitude and latitude; save "
                f"it again on the farm's grid, {grid.label}"
            )
    said.append(f"{path.name} names no grid, so it is taken to be on the farm's own ({grid.label}).")
    return ""


def _grid_in(text: str) -> pyproj.CRS:
    """Grid that is written as WKT, or by its EPSG number alone.

    Raises
    ------
    CRSError, GridError
        It is neither, or is not known.
    """
    number = re.fullmatch(r"(?:EPSG\s*:+\s*)?(\d+)", text.strip(), re.IGNORECASE)
    return Grid(parse_grid(number[1])).crs if number else pyproj.CRS.from_wkt(text)


def _beside(path: Path) -> str:
    """Return what a .prj file beside a picture says of its grid, "" if there is none."""
    for ending in (".prj", ".PRJ"):
        beside = path.with_suffix(ending)
        if beside.is_file():
            try:
                return decoded(beside.read_bytes(), beside)[0].strip()
            except (OSError, BadInput) as error:
                raise BadInput(
                    f"{beside.name} should say in words on which grid {path.name} lies, and cannot be read; take it "
                    "away, and name the grid when you add the picture"
                ) from error
    return ""


def _kind(file: Any) -> str:
    """One band of anything but bytes is a grid of heights; 16 bits without a sign are as likely a grey picture."""
    return ELEVATION if _is_plain(file) and file.dtypes[0] not in {"uint8", "uint16"} else PICTURE


def _is_plain(file: Any) -> bool:
    """Whether it holds one number a cell, which is not that of a colour."""
    from rasterio.enums import ColorInterp  # noqa: PLC0415

    return bool(file.count == 1 and file.colorinterp[0] is not ColorInterp.palette)


def _place(path: Path, size: tuple[int, int], affine: tuple[float, ...], crs: str, grid: Grid) -> tuple[Bounds, float]:
    """Bounds and size of a cell on the farm's grid."""
    width, height = size
    along = np.linspace(0.0, 1.0, _EDGE_POINTS)
    across, down = along * width, along * height
    column = np.concatenate([across, across, np.zeros_like(down), np.full_like(down, width)])
    row = np.concatenate([np.zeros_like(across), np.full_like(across, height), down, down])
    x, y = to_ground(column, row, affine, crs, grid.epsg)
    middle, below = width / 2 + np.array([0.0, 1.0, 0.0]), height / 2 + np.array([0.0, 0.0, 1.0])
    cell_x, cell_y = to_ground(middle, below, affine, crs, grid.epsg)
    if not all(np.isfinite(values).all() for values in (x, y, cell_x, cell_y)):
        raise BadInput(
            f"{path.name} lies where the farm's grid ({grid.label}) is of no use; choose a picture of the farm, or "
            "look at the grid that the file names"
        )
    sides = np.hypot(cell_x[1:] - cell_x[0], cell_y[1:] - cell_y[0])
    return (float(x.min()), float(y.min()), float(x.max()), float(y.max())), math.sqrt(float(sides.prod()))


def to_ground(column: Floats, row: Floats, affine: tuple[float, ...], crs: str, epsg: int) -> tuple[Floats, Floats]:
    """Points of a file, in columns and rows, on the farm's grid. [m]."""
    a, b, c, d, e, f = affine
    x, y = a * column + b * row + c, d * column + e * row + f
    carry = carrier(crs, epsg)
    if carry is None:
        return x, y
    east, north = carry.transform(x, y)
    return np.asarray(east, np.float64), np.asarray(north, np.float64)


def to_cells(x: Floats, y: Floats, affine: tuple[float, ...], crs: str, epsg: int) -> tuple[Floats, Floats]:
    """Points of the farm's grid in columns and rows of a file; inf where the file's grid is of no use."""
    carry = carrier(crs, epsg, back=True)
    if carry is not None:
        carried = carry.transform(x, y)
        x, y = np.asarray(carried[0], np.float64), np.asarray(carried[1], np.float64)
    a, b, c, d, e, f = affine
    whole = a * e - b * d
    return (e * (x - c) - b * (y - f)) / whole, (a * (y - f) - d * (x - c)) / whole
