"""Small raster files for tests."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from rasterio.errors import NotGeoreferencedWarning


def raster_file(path: Path, bands: np.ndarray, place: Affine | None, crs: str | None = "EPSG:2193", **more) -> Path:
    """Write bands, shape (bands, rows, columns), to a raster file; the driver follows from its name."""
    driver = {".tif": "GTiff", ".png": "PNG", ".jpg": "JPEG"}[path.suffix]
    colours = more.pop("colorinterp", None)
    palette = more.pop("palette", None)
    about = {"driver": driver, "count": len(bands), "height": bands.shape[1], "width": bands.shape[2]}
    about |= {"dtype": bands.dtype, "crs": crs, **({} if place is None else {"transform": place}), **more}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path, "w", **about) as file:
            file.write(bands)
            if colours is not None:
                file.colorinterp = colours
            if palette is not None:
                file.write_colormap(1, palette)
    path.with_suffix(path.suffix + ".aux.xml").unlink(missing_ok=True)
    return path


def north_up(west: float, north: float, cell_m: float) -> Affine:
    """Where an upright grid lies."""
    return Affine(cell_m, 0.0, west, 0.0, -cell_m, north)


def turned(west: float, north: float, cell_m: float, degrees: float) -> Affine:
    """Where a grid lies that is turned about its upper left corner, counter-clockwise."""
    cos, sin = np.cos(np.radians(degrees)) * cell_m, np.sin(np.radians(degrees)) * cell_m
    return Affine(cos, sin, west, sin, -cos, north)


def laid(place: Affine, column: float, row: float) -> tuple[float, float]:
    """Ground under a column and row."""
    return place.a * column + place.b * row + place.c, place.d * column + place.e * row + place.f
