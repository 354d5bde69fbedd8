"""Planted rows found from where the trees stand: which way they run, how far apart, and which tree is of which row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST = 12
"""Fewer trees show no rows."""

MOST_LOOKED_AT = 4000
"""Direction and spacing are found from no more trees than this, from the middle of the block."""

CLEAR = 0.60
"""How sharply trees must line up to be taken for rows: 0 for scattered at random, 1 for lines drawn with a ruler."""

CHANCES = 1e6
"""Few trees must line up better: in one of so many tries do n scattered ones line up to √(ln(tries) ÷ n)."""

FINEST, WIDEST = 0.5, 5.0
"""Distances between rows that are tried, in parts of the trees' distance to their nearest neighbour."""

CELLS, ACROSS = 6, 512
"""Cells for that distance, and cells of the whole square in which patterns are looked for."""

MIDDLE = 20.0
"""Patterns are first looked for so far around the middle of the block, in parts of the same distance."""

NEARLY = 0.8
"""Of patterns that line up nearly as sharply as the sharpest, to this part, the one with the widest rows is taken."""


@dataclass(frozen=True, eq=False)
class PlantedRows:
    """Rows of a block.

    Attributes
    ----------
    row : ndarray of int64, shape (n,)
        Row of each tree, from 1, from west to east; from south to north where rows run more east to west.
    bearing_deg : float
        Which way rows run from grid north, 0 to 180. [degrees]
    apart_m : float
        From one row to the next. [m]
    count : int
        How many rows there are, empty ones among them too.
    clearness : float
        How sharply the trees line up, 0 to 1.
    """

    row: Ints
    bearing_deg: float
    apart_m: float
    count: int
    clearness: float


def planted_rows(east_m: Floats, north_m: Floats) -> PlantedRows | None:
    """Find planted rows.

    For a direction and distance the places across the rows are wrapped around
    a circle of one row's width; the length of their mean vector says how
    sharply they line up (Rayleigh's measure: K. V. Mardia, Statistics of
    Directional Data, 1972, from memory). All directions and distances are
    tried at once by a Fourier transform of the trees of the middle; the best
    is then sharpened on more and more of the block.

    Parameters
    ----------
    east_m, north_m : ndarray, shape (n,)
        Where the trees stand. [m]

    Returns
    -------
    PlantedRows or None
        None if no rows can be told.
    """
    count = len(east_m)
    if count < FEWEST:
        return None
    at = np.column_stack([east_m, north_m])
    at = at - np.median(at, axis=0)
    order = np.argsort(np.hypot(*at.T), kind="stable")[:MOST_LOOKED_AT]
    middle = at[order]
    spacing = _nearest(middle)
    reach = float(np.hypot(*middle.T).max())
    found = _pattern(middle, spacing, reach) if spacing > 0 else None
    if found is None:
        return None
    angle, apart, within = found
    angle, apart, clear = _sharpened(middle, angle, apart, within, reach)
    if clear < max(CLEAR, np.sqrt(np.log(CHANCES) / len(middle))):
        return None
    return _numbered(at, angle, apart, clear)


def _nearest(at: Floats) -> float:
    """Median distance to the nearest tree. [m]."""
    from scipy.spatial import cKDTree  # noqa: PLC0415

    return float(np.median(cKDTree(at).query(at, k=2)[0][:, 1]))


def _across(at: Floats, angle: Floats | float) -> Floats:
    """How far trees lie across rows that run at angles from east towards north, shape (angles, n)."""
    turned = np.atleast_1d(angle)
    return np.outer(-np.sin(turned), at[:, 0]) + np.outer(np.cos(turned), at[:, 1])


def _clearness(across: Floats, apart: Floats) -> Floats:
    """Length of the mean vector for each angle and distance, shape (angles, distances)."""
    return np.stack([np.abs(np.exp(2j * np.pi / one * across).mean(axis=1)) for one in apart], axis=1)


def _pattern(at: Floats, spacing: float, reach: float) -> tuple[float, float, float] | None:
    """Return direction and distance of the rows around the middle, and how far they were looked at; None if none."""
    within = min(reach, MIDDLE * spacing)
    near = at[np.hypot(*at.T) <= within]
    if len(near) < FEWEST:
        near, within = at, reach
    cell = max(spacing / CELLS, 2.2 * within / ACROSS)
    counts = np.zeros((ACROSS, ACROSS))
    np.add.at(counts, tuple(np.floor(near / cell).astype(np.int64).T % ACROSS), 1.0)
    clear = np.abs(np.fft.rfft2(counts)) / len(near)
    east, north = np.meshgrid(np.fft.fftfreq(ACROSS, cell), np.fft.rfftfreq(ACROSS, cell), indexing="ij")
    waves = np.hypot(east, north)
    tried = (waves >= 1.0 / min(WIDEST * spacing, within)) & (waves <= 1.0 / (FINEST * spacing))
    if not tried.any():
        return None
    good = np.argwhere(tried & (clear >= NEARLY * clear[tried].max()))
    at_best = good[np.argmin(waves[tuple(good.T)])]
    # of the few cells around the widest pattern the sharpest
    near_it = good[np.abs(good - at_best).max(axis=1) <= 3]
    best = tuple(near_it[np.argmax(clear[tuple(near_it.T)])])
    across = np.arctan2(north[best], east[best])
    return float(across - np.pi / 2), float(1.0 / waves[best]), within


def _sharpened(at: Floats, angle: float, apart: float, within: float, reach: float) -> tuple[float, float, float]:
    """Refine direction and distance, out to the whole block step by step."""
    distance = np.hypot(*at.T)
    while True:
        near = at[distance <= within]
        near = near if len(near) >= FEWEST else at
        turn = wide = 0.5 * apart / max(within, apart)
        for _ in range(3):
            angles, aparts = angle + np.linspace(-turn, turn, 7), apart * (1 + np.linspace(-wide, wide, 7))
            found = _clearness(_across(near, angles), aparts)
            place = np.unravel_index(int(np.argmax(found)), found.shape)
            angle, apart, clear = float(angles[place[0]]), float(aparts[place[1]]), float(found[place])
            turn, wide = turn / 3, wide / 3
        if within >= reach:
            return angle, apart, clear
        within = min(2 * within, reach)


def _numbered(at: Floats, angle: float, apart: float, clear: float) -> PlantedRows:
    across = _across(at, angle)[0]
    phase = np.angle(np.exp(2j * np.pi / apart * across).mean()) / (2 * np.pi) * apart
    number = np.rint((across - phase) / apart).astype(np.int64)
    bearing = (90.0 - float(np.degrees(angle))) % 180.0
    normal_east, normal_north = -np.sin(angle), np.cos(angle)
    forward = normal_east > 0 if abs(normal_east) >= abs(normal_north) else normal_north > 0
    number = number if forward else -number
    number = number - number.min() + 1
    return PlantedRows(number, bearing, float(apart), int(number.max()), clear)
