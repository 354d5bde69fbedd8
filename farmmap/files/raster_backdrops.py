"""The backdrops that a farm names: where their files are, and the heights of the ground that they give."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.heights import Heights
from farmmap.files.raster_reading import heights_under
from farmmap.files.rasters import ELEVATION, PICTURE, Bounds, RasterFile, look_at, stamp_of
from farmmap.progress import SILENT, Progress

MOST_CELLS = 2_000_000
"""Heights are read no more finely than this allows; slopes and contours come from them."""

BESIDE_M = 400.0
"""Heights are read so far beyond the farm, so that shade and contours do not end at its fence. [m]"""

_ROUND_M = 500.0
"""Bounds are widened to whole steps of this, so that a corner that moves does not read the heights again. [m]"""


@dataclass(frozen=True, eq=False)
class Backdrop:
    """One row of a farm's backdrops with what its file says.

    Attributes
    ----------
    id : int
        Its row.
    name, kind : str
        What it is called; ``picture`` or ``elevation``.
    shown : bool
        Whether it lies under the map.
    opacity : float
        0 to 1.
    contour_m : float or None
        Height from one contour to the next; None to suit the ground. [m]
    file : RasterFile or None
        None if it cannot be used.
    trouble : str
        Why it cannot be used, "" if it can.
    """

    id: int
    name: str
    kind: str
    shown: bool
    opacity: float
    contour_m: float | None
    file: RasterFile | None
    trouble: str


def path_of(text: str, folder: Path | None) -> Path:
    """Path of a backdrop's file as the farm writes it, ``folder`` being that of the farm file."""
    path = Path(text)
    return path if path.is_absolute() or folder is None else folder / path


def path_text(path: Path, folder: Path | None) -> str:
    """Return what a farm writes of a path: from its own folder with forward slashes if it lies inside, else in full."""
    full = Path(os.path.abspath(path))  # noqa: PTH100 - links stay as they are
    if folder is not None:
        own = Path(os.path.abspath(folder))  # noqa: PTH100
        if full.is_relative_to(own):
            return full.relative_to(own).as_posix()
    return str(full)


def with_paths_from(farm: Farm, before: Path | None, after: Path) -> Farm:
    """Return a farm whose file moves from one folder to another, its backdrops and photographs found from there."""
    moved = {}
    for name in ("backdrops", "photos"):
        table = farm.tables[name]
        if len(table):
            paths = [path_text(path_of(text, before), after) for text in table["path"]]
            moved[name] = table.assign(path=paths).astype(table.dtypes)
    return farm.with_tables(**moved) if moved else farm


def backdrops_of(farm: Farm, folder: Path | None) -> tuple[Backdrop, ...]:
    """Backdrops of a farm, with the heads of their files read.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path or None
        Folder of its file; None if it has none yet.
    """
    return tuple(_backdrop(int(id_), row, farm, folder) for id_, row in farm.tables["backdrops"].iterrows())


def stamps_of(farm: Farm, folder: Path | None) -> tuple[object, ...]:
    """When each backdrop's file was changed and how large it is, None for those that are not there."""
    return tuple(_stamp(path_of(text, folder)) for text in farm.tables["backdrops"]["path"])


def elevation_of(
    backdrops: tuple[Backdrop, ...], farm: Farm, bounds: Bounds | None, progress: Progress = SILENT
) -> Heights | None:
    """Read the heights under and around a farm, from all its elevation grids together.

    Parameters
    ----------
    backdrops : tuple of Backdrop
        From `backdrops_of`; hidden ones count too.
    farm : Farm
        The farm.
    bounds : tuple of float or None
        From `bounds_around`; None for all that the grids hold.
    progress : Progress
        Told while the heights are read.

    Raises
    ------
    BadInput
        A file is damaged.
    Stopped
        ``progress`` asked to stop.
    """
    files = [one.file for one in backdrops if one.kind == ELEVATION and one.file is not None]
    if not files:
        return None
    return heights_under(files, farm.grid.epsg, bounds or files[0].bounds, MOST_CELLS, progress)


def bounds_around(farm: Farm) -> Bounds | None:
    """Ground under and around a farm, in whole steps; None if nothing is drawn yet. [m]."""
    bounds = farm.bounds()
    if bounds is None:
        return None
    west, south = (math.floor((side - BESIDE_M) / _ROUND_M) * _ROUND_M for side in bounds[:2])
    east, north = (math.ceil((side + BESIDE_M) / _ROUND_M) * _ROUND_M for side in bounds[2:])
    return west, south, east, north


def _backdrop(id_: int, row: pd.Series, farm: Farm, folder: Path | None) -> Backdrop:
    file, trouble = None, ""
    kind = ELEVATION if row["kind"] == ELEVATION else PICTURE
    try:
        file = look_at(path_of(str(row["path"]), folder), farm.grid, str(row["grid"]), kind)
    except BadInput as error:
        trouble = str(error)
    if file is not None and kind == ELEVATION and not file.one_band:
        trouble = f"{file.path.name} holds a picture in several colours, not heights; call it a picture"
        file = None
    opacity, contour = float(row["opacity_percent"]), float(row["contour_m"])
    return Backdrop(
        id_,
        str(row["name"]),
        kind,
        row["shown"] != "no",
        1.0 if math.isnan(opacity) else min(max(opacity / 100.0, 0.0), 1.0),
        None if math.isnan(contour) or contour <= 0 else contour,
        file,
        trouble,
    )


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        return stamp_of(path)
    except BadInput:
        return None
