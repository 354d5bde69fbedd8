"""Slope, aspect, shade and surface area from a grid of heights: pure functions on arrays.

Grids run from north to south and from west to east. At the outer edge of a
grid the ground is taken to go on as it came (the outermost cell mirrored
through the edge cell, which keeps a plane a plane). A cell that has no height,
or beside which one of the eight around has none, has no slope, aspect, shade
or surface.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

LIGHT_FROM_DEG = 315.0
LIGHT_ABOVE_DEG = 45.0
"""Maps are lit from the north-west by custom, half-way up the sky; hills seen otherwise turn into hollows."""

FLAT_DEG = 2.0
"""Ground flatter than this faces nowhere. [degrees]"""

_ROUND = ((-1, -1), (-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1))
"""The eight cells around one, row and column, clockwise from the north-west."""


def gradients(heights: ArrayLike, across_m: float, down_m: float) -> tuple[Floats, Floats]:
    """Rise of the ground towards east and towards north, in metres a metre.

    Source: B. K. P. Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69, 14-47: weighted
    differences over the eight cells around, those beside the cell counting double.

    Parameters
    ----------
    heights : array_like, shape (rows, columns)
        nan where not known. [m]
    across_m, down_m : float
        Width and height of a cell on the ground. [m]

    Returns
    -------
    east, north : ndarray, shape (rows, columns)
    """
    padded = _padded(heights)
    nw, n, ne, e, se, s, sw, w = (_moved(padded, *step) for step in _ROUND)
    unknown = np.where(np.isnan(_moved(padded, 0, 0)), np.nan, 0.0)
    east = ((ne + 2 * e + se) - (nw + 2 * w + sw)) / (8 * across_m) + unknown
    north = ((nw + 2 * n + ne) - (sw + 2 * s + se)) / (8 * down_m) + unknown
    return east, north


def slope_deg(east: ArrayLike, north: ArrayLike) -> Floats:
    """Steepness from the rise towards east and north: arctan √(p² + q²), 0 to 90, in degrees."""
    return np.degrees(np.arctan(np.hypot(np.asarray(east, np.float64), np.asarray(north, np.float64))))


def aspect_deg(east: ArrayLike, north: ArrayLike) -> Floats:
    """Direction that the ground faces, down the steepest slope: degrees clockwise from grid north, 0 to 360.

    nan where it is level.
    """
    p, q = np.asarray(east, np.float64), np.asarray(north, np.float64)
    facing = np.degrees(np.arctan2(-p, -q)) % 360.0
    return np.where((p == 0) & (q == 0), np.nan, facing)


def hillshade(
    east: ArrayLike, north: ArrayLike, from_deg: float = LIGHT_FROM_DEG, above_deg: float = LIGHT_ABOVE_DEG
) -> Floats:
    """How brightly the ground is lit: cosine of the angle between it and the light, 0 where turned away.

    Source: Horn (1981), as for `gradients`: the Lambertian surface.

    Parameters
    ----------
    east, north : array_like
        From `gradients`.
    from_deg : float
        Where the light comes from, clockwise from north. [degrees]
    above_deg : float
        How high it stands. [degrees]
    """
    p, q = np.asarray(east, np.float64), np.asarray(north, np.float64)
    azimuth, above = math.radians(from_deg), math.radians(above_deg)
    towards = p * math.sin(azimuth) + q * math.cos(azimuth)
    lit = (math.sin(above) - math.cos(above) * towards) / np.sqrt(1 + p * p + q * q)
    return np.where(np.isnan(lit), np.nan, np.maximum(lit, 0.0))


def surface_ratio(heights: ArrayLike, across_m: float, down_m: float) -> Floats:
    """Surface of each cell over its level area, 1 or more.

    Source: J. S. Jenness (2004), Calculating landscape surface area from digital elevation models, Wildlife Society
    Bulletin 32, 829-839: eight triangles between the middle of the cell and the middles of those around it, each
    cut to the part within the cell, a quarter of it. Their areas are taken here as half of a cross product, which is
    the same as by their three sides.

    Parameters
    ----------
    heights, across_m, down_m
        As for `gradients`.
    """
    padded = _padded(heights)
    middle = _moved(padded, 0, 0)
    total = np.zeros_like(middle)
    for first, second in zip(_ROUND, _ROUND[1:] + _ROUND[:1], strict=True):
        up_1, up_2 = _moved(padded, *first) - middle, _moved(padded, *second) - middle
        (y_1, x_1), (y_2, x_2) = ((row * down_m, column * across_m) for row, column in (first, second))
        total += np.sqrt((y_1 * up_2 - up_1 * y_2) ** 2 + (up_1 * x_2 - x_1 * up_2) ** 2 + (x_1 * y_2 - y_1 * x_2) ** 2)
    return total / (8 * across_m * down_m)  # half of each cross product, a quarter of each triangle


def mean_direction(degrees: ArrayLike, weights: ArrayLike) -> tuple[float, float]:
    """Circular mean of directions, and how much they agree.

    Source: K. V. Mardia and P. E. Jupp (2000), Directional Statistics, section 2.2.

    Parameters
    ----------
    degrees, weights : array_like, shape (n,)
        Directions and how much each counts; nan counts nothing.

    Returns
    -------
    direction, length : float
        0 to 360 [degrees], and the mean resultant length: 1 if all agree, 0 if they cancel out. nan and 0 for none.
    """
    angles, weights = np.radians(np.asarray(degrees, np.float64)), np.asarray(weights, np.float64)
    known = np.isfinite(angles)
    total = float(weights[known].sum())
    if total <= 0:
        return math.nan, 0.0
    east = float((weights[known] * np.sin(angles[known])).sum()) / total
    north = float((weights[known] * np.cos(angles[known])).sum()) / total
    direction = round(math.degrees(math.atan2(east, north)), 9) % 360.0  # a hair west of north is north, not 360
    return direction, math.hypot(east, north)


def _padded(heights: ArrayLike) -> Floats:
    """Heights with a cell more on every side, the ground going on as it came."""
    values = np.asarray(heights, np.float64)
    for axis in (0, 1):
        if values.shape[axis] == 1:
            values = np.repeat(values, 3, axis=axis)
        else:
            how: Any = {"mode": "reflect", "reflect_type": "odd"}
            values = np.pad(values, [(1, 1) if axis == one else (0, 0) for one in (0, 1)], **how)
    return values


def _moved(padded: Floats, row: int, column: int) -> Floats:
    rows, columns = padded.shape
    return padded[1 + row : rows - 1 + row, 1 + column : columns - 1 + column]
