"""Lengths, bearings and areas along the ground, as they are read at the pointer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from farmmap.editing.ground import area_m2, grid_bearing_deg, length_m
from farmmap.farm.farm import Farm
from farmmap.figures.areas import M2_PER_HA

_LONG_M = 1000.0
_LARGE_M2 = 1000.0


def length_words(farm: Farm, points: Sequence[tuple[float, float]], *, with_bearing: bool = False) -> str:
    """Return the length of a line along the ground, and its grid bearing: ``25.0 m, bearing 90.0°``.

    The bearing is the one that is typed: from grid north, clockwise.

    Parameters
    ----------
    farm : Farm
        Gives the grid.
    points : sequence of (x, y)
        Corners. [m]
    with_bearing : bool
        Whether to add the bearing from the first point to the last, if they are not at one place.
    """
    metres = float(length_m(farm, np.array(points, float)))
    words = f"{metres:.1f} m" if metres < _LONG_M else f"{metres / 1000:.3f} km"
    bearing = grid_bearing_deg(points[0], points[-1]) if with_bearing else np.nan
    return f"{words}, bearing {bearing % 360:.1f}°" if np.isfinite(bearing) else words


def area_words(farm: Farm, points: Sequence[tuple[float, float]]) -> str:
    """Return the area within corners along the ground: ``1.234 ha`` or ``85 m²``.

    Parameters
    ----------
    farm : Farm
        Gives the grid.
    points : sequence of (x, y)
        Corners, the first not repeated. [m]
    """
    area = float(area_m2(farm, np.array(points, float)))
    if not np.isfinite(area):
        return "the outline crosses itself"
    return f"{area / M2_PER_HA:.3f} ha" if area >= _LARGE_M2 else f"{area:.0f} m²"
