"""The elevation grid of Pipit Downs, and a picture of it from above, painted from its hills, blocks and trees."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
import rasterio.features
import shapely
from numpy.typing import NDArray
from pipit_ground import CORNER, EPSG, Ground, elevation_m
from rasterio.transform import Affine

from farmmap.farm.farm import Farm

AROUND_M = 60.0
ELEVATION_CELL_M = 10.0
PICTURE_CELL_M = 2.0
WEATHERED = 24
"""How many times the heights were evened out; each time reaches one cell further."""

SIZE_M = (1520.0, 1240.0)
"""Width and height of both, from 60 m south-west of the corner. [m]"""


def cell_centres(cell_m: float) -> tuple[NDArray[np.float64], NDArray[np.float64], Affine]:
    """Return x and y of the cells' middles, north first, shape (rows, columns), and where the grid lies."""
    west, north = CORNER[0] - AROUND_M, CORNER[1] - AROUND_M + SIZE_M[1]
    columns, rows = (round(size / cell_m) for size in SIZE_M)
    x = west + (np.arange(columns) + 0.5) * cell_m
    y = north - (np.arange(rows) + 0.5) * cell_m
    return *np.meshgrid(x, y), Affine(cell_m, 0.0, west, 0.0, -cell_m, north)


def elevation(where: Ground) -> tuple[NDArray[np.float32], Affine]:
    """Return the height of the ground on the elevation grid, rounded to centimetres [m], and where it lies.

    The valleys of `elevation_m` meet in sharp ridges, which weather has rounded off.
    """
    x, y, place = cell_centres(ELEVATION_CELL_M)
    beyond = ELEVATION_CELL_M * np.arange(1, WEATHERED + 1)
    x = np.concatenate([x[0, 0] - beyond[::-1], x[0], x[0, -1] + beyond])
    y = np.concatenate([y[0, 0] + beyond, y[:, 0], y[-1, 0] - beyond])
    height = elevation_m(where, *np.meshgrid(x, y))
    for _ in range(WEATHERED):
        height = (height[:-2] + 2 * height[1:-1] + height[2:]) / 4
        height = (height[:, :-2] + 2 * height[:, 1:-1] + height[:, 2:]) / 4
    return np.round(height, 2).astype(np.float32), place


def between_cells(
    height: NDArray[np.float32], place: Affine, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:  # fmt: skip
    """Return heights at points from an elevation grid, straight between the middles of its cells."""
    column, row = (x - place.c) / place.a, (y - place.f) / place.e
    column = np.clip(column - 0.5, 0, height.shape[1] - 1.001)
    row = np.clip(row - 0.5, 0, height.shape[0] - 1.001)
    left, top = column.astype(int), row.astype(int)
    right, down = column - left, row - top
    upper = height[top, left] * (1 - right) + height[top, left + 1] * right
    lower = height[top + 1, left] * (1 - right) + height[top + 1, left + 1] * right
    return upper * (1 - down) + lower * down


def picture(where: Ground, farm: Farm, rng: np.random.Generator) -> tuple[NDArray[np.uint8], Affine]:
    """Return a picture, shape (3, rows, columns), and where it lies."""
    x, y, place = cell_centres(PICTURE_CELL_M)
    height = between_cells(*elevation(where), x, y)
    down_y, right_x = np.gradient(height, PICTURE_CELL_M)
    # light from the north-west, 45 degrees above the ground
    light = (1 - (down_y * -1 + right_x * -1) * -0.70) / np.sqrt(1 + down_y**2 + right_x**2)
    light = np.clip(0.35 + 0.6 * light, 0.4, 1.25)
    speckle = rng.normal(0, 1, height.shape)
    for _ in range(3):
        speckle = (speckle + np.roll(speckle, 1, 0) + np.roll(speckle, 1, 1) + np.roll(speckle, -1, 0)) / 4
    dry = np.clip((height - height.min()) / np.ptp(height), 0, 1)
    colour = np.stack([108 + 44 * dry, 132 + 12 * dry, 74 + 16 * dry]) + 9 * speckle
    alive = farm.trees[(farm.trees["stage"] == "existing") & (farm.trees["status"] == "alive")]
    crowns = shapely.buffer(shapely.points(alive["x"], alive["y"]), 2.4)
    for shapes, tint in (
        ([line.buffer(2.2) for line in where.tracks.values()], (176, 160, 130)),
        (list(crowns), (44, 74, 42)),
        ([where.sedge.buffer(1.8), where.rush.buffer(1.2)], (58, 78, 92)),
        ([where.hazards["Woolshed"]], (168, 62, 52)),
    ):
        inside = rasterio.features.rasterize(shapes, height.shape, transform=place, all_touched=False).astype(bool)
        colour[:, inside] = np.array(tint, float)[:, None] + 10 * speckle[inside]
    return np.clip(colour * light, 0, 255).astype(np.uint8), place


def write_pictures(where: Ground, farm: Farm, rng: np.random.Generator, folder: Path) -> None:
    """Write elevation.tif and picture.tif into a folder."""
    height, place = elevation(where)
    about = {"driver": "GTiff", "crs": f"EPSG:{EPSG}", "height": height.shape[0], "width": height.shape[1]}
    with rasterio.open(
        folder / "elevation.tif", "w", **about, transform=place, count=1, dtype="float32", nodata=-9999.0,
        compress="deflate", predictor=3,
    ) as file:  # fmt: skip
        file.write(height, 1)
    colours, place = picture(where, farm, rng)
    about |= {"height": colours.shape[1], "width": colours.shape[2]}
    with rasterio.open(
        folder / "picture.tif", "w", **about, transform=place, count=3, dtype="uint8", compress="jpeg",
        jpeg_quality=82, photometric="ycbcr", tiled=True,
    ) as file:  # fmt: skip
        file.write(colours)
