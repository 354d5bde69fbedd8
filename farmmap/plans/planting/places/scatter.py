"""Plants scattered evenly, as if by chance, none nearer to another than the spacing."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.figures.prepared import prepared
from farmmap.plans.planting.places.lattice import Lie, cells_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TILE = 40.0
"""Side of the square that is repeated, in spacings."""

SCATTER_DENSITY = 0.6675
"""Plants for a square of the spacing, as counted on the tile: open ground of area A holds 0.6675 A / s²."""

FIRST_THROWN = 12_000
THROWN = 4_000
ROUNDS = 60
"""How many places are tried, so many times over."""

CELL = 2.0
"""Side of the cells by which the tile's places are sorted, in spacings."""


def scattered(clear: shapely.Geometry, apart: float, seed: int) -> tuple[Floats, Floats]:
    """Places scattered over ground, none nearer to another than ``apart``.

    A square of places at least ``apart`` from one another, in which no more find room, is laid over the ground again
    and again, turned and shifted by chance (the seed). It joins onto itself without a seam.

    Source: R. L. Cook (1986), Stochastic sampling in computer graphics, ACM Transactions on Graphics 5, 51-72 (dart
    throwing); R. Bridson (2007), Fast Poisson disk sampling in arbitrary dimensions, ACM SIGGRAPH sketches (trying
    beside places that stand already); repeated tiles after M. A. Z. Dippé and E. H. Wold (1985), Antialiasing through
    stochastic sampling, Computer Graphics 19, 69-78.

    Parameters
    ----------
    clear : shapely Polygon or MultiPolygon
        Ground to plant. [grid m]
    apart : float
        Least distance. [grid m]
    seed : int
        Another number gives another scatter.

    Returns
    -------
    x, y : ndarray, shape (n,)
    """
    random = np.random.default_rng(seed)
    turned, (right, up) = random.uniform(0, math.pi), random.uniform(0, TILE, 2) * apart
    middle = shapely.get_coordinates(shapely.centroid(clear))[0]
    lie = Lie(float(middle[0]) + right, float(middle[1]) + up, turned)
    there = lie.laid(clear)
    rows, columns, sure = cells_of(there, CELL * apart)
    at, cell = _of_cells(rows, columns)
    places = (at + np.column_stack([columns, rows])[cell] // _ACROSS * TILE) * apart
    inside = sure[cell]
    there = prepared(there)
    unsure = np.flatnonzero(~inside)
    inside[unsure] = shapely.intersects_xy(there, places[unsure, 0], places[unsure, 1])
    return lie.back(places[inside, 0], places[inside, 1])


_ACROSS = round(TILE / CELL)


@cache
def tile() -> Floats:
    """Places of the square that is repeated, shape (n, 2), by cell; lengths in spacings."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy: a farm is opened before it is needed

    random = np.random.default_rng(2007)
    kept = np.empty((0, 2))
    for number in range(ROUNDS):
        if number % 2 and len(kept):  # beside places that stand already
            beside = kept[random.integers(len(kept), size=THROWN)]
            turn, far = random.uniform(0, 2 * math.pi, THROWN), np.sqrt(random.uniform(1.0, 4.0, THROWN))
            thrown = (beside + far[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])) % TILE
        else:
            thrown = random.uniform(0, TILE, (THROWN if len(kept) else FIRST_THROWN, 2))
        if len(kept):
            far_off, _ = cKDTree(kept, boxsize=TILE).query(thrown, distance_upper_bound=1.0)
            thrown = thrown[far_off >= 1.0]
        pairs = cKDTree(thrown, boxsize=TILE).query_pairs(1.0, output_type="ndarray")
        kept = np.concatenate([kept, thrown[_first_come(pairs, len(thrown))]])
    cell = np.floor(kept / CELL).astype(np.intp)
    return kept[np.lexsort((kept[:, 0], cell[:, 0], cell[:, 1]))]


def _first_come(pairs: NDArray[np.intp], count: int) -> Bools:
    """Which places stay if each in turn does that is too near no earlier one that stays."""
    keep, open_ = np.zeros(count, bool), np.ones(count, bool)
    pairs = np.sort(pairs, axis=1)
    while open_.any():
        waits = np.zeros(count, bool)
        waits[pairs[:, 1]] = True
        chosen = open_ & ~waits
        keep |= chosen
        beaten = pairs[chosen[pairs[:, 0]], 1]
        open_ &= ~chosen
        open_[beaten] = False
        pairs = pairs[open_[pairs].all(axis=1)]
    return keep


def _of_cells(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> tuple[Floats, NDArray[np.intp]]:
    """Places of the tile that lie in some cells, and the number of the cell of each."""
    places = tile()
    key = np.floor(places / CELL).astype(np.intp) @ np.array([1, _ACROSS])
    ends = np.searchsorted(key, np.arange(_ACROSS**2 + 1))
    wanted = rows % _ACROSS * _ACROSS + columns % _ACROSS
    count = ends[wanted + 1] - ends[wanted]
    cell = np.repeat(np.arange(len(wanted)), count)
    first = np.repeat(ends[wanted] - (np.cumsum(count) - count), count)
    return places[first + np.arange(len(cell))], cell
