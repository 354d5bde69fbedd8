"""A large random farm for benchmarks: blocks that share their edges, lines across them, trees measured once."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES

CORNER = np.array([1_800_000.0, 5_470_000.0])
"""South-west corner of the farm. [m]"""

SPECIES = ("TOTA", "REDW", "EUNI", "CULU", "RADI", "PODA")
MEASURED_ON = np.datetime64("2024-05-01", "s")


def big_farm(trees: int, blocks: int = 1000, lines: int = 1000, stems_per_ha: float = 1000.0, seed: int = 1) -> Farm:
    """Return a farm of about square blocks with wavy shared edges, some 50 corners each.

    Parameters
    ----------
    trees : int
        How many trees, scattered evenly; each is measured once.
    blocks : int
        How many blocks.
    lines : int
        How many fences and tracks together.
    stems_per_ha : float
        Sets the size of the farm. [1/ha]
    seed : int
        The same seed gives the same farm.
    """
    chance = np.random.default_rng(seed)
    farm = new_farm("Big Pipit", "EPSG:2193")
    side = float(np.sqrt(trees / stems_per_ha * 10_000))
    outlines = _blocks(blocks, side, chance)
    x, y = (CORNER + chance.uniform(0, side, (trees, 2))).T
    ids = np.arange(1, trees + 1)
    fences, tracks = _lines(lines // 2, side, chance), _lines(lines - lines // 2, side, chance)

    def table(kind: str, count: int, /, **values: object) -> pd.DataFrame:
        return shaped(TABLES[kind], values, np.arange(1, count + 1), farm.grid)

    return farm.with_tables(
        blocks=table(
            "blocks", len(outlines), name=[f"Block {n}" for n in range(1, len(outlines) + 1)], geometry=outlines
        ),
        fences=table("fences", len(fences), geometry=fences),
        tracks=table("tracks", len(tracks), width_m=np.full(len(tracks), 1.0), geometry=tracks),
        species=table("species", len(SPECIES), code=list(SPECIES), name=[code.lower() for code in SPECIES]),
        trees=table(
            "trees",
            trees,
            tag=ids.astype(str),
            species=np.array(SPECIES)[chance.integers(0, len(SPECIES), trees)],
            planted=np.array(["2004", "2010", "2012-07"])[chance.integers(0, 3, trees)],
            x=x,
            y=y,
        ),
        measurements=table(
            "measurements",
            trees,
            tree=ids,
            measured_on=np.full(trees, MEASURED_ON),
            dbh_cm=np.round(np.clip(chance.gamma(6.0, 5.0, trees), 1.0, 120.0), 1),
        ),
    )


def _blocks(count: int, side: float, chance: np.random.Generator) -> np.ndarray:
    """Polygons over a square, each edge of 12 legs shared with the neighbour corner for corner."""
    across = max(int(np.sqrt(count)), 1)
    down = -(-count // across)
    legs = 12
    wide, high = side / across, side / down
    grid = np.stack(np.meshgrid(np.arange(across + 1) * wide, np.arange(down + 1) * high, indexing="ij"), axis=-1)
    grid = grid + chance.uniform(-0.15, 0.15, grid.shape) * (wide, high)
    level = _wavy(grid[:-1], grid[1:], legs, chance, min(wide, high) * 0.03)
    upright = _wavy(grid[:, :-1], grid[:, 1:], legs, chance, min(wide, high) * 0.03)
    out = []
    for place in range(count):
        column, row = place % across, place // across
        ring = np.concatenate(
            [
                level[column, row, :-1],
                upright[column + 1, row, :-1],
                level[column, row + 1, :0:-1],
                upright[column, row, :0:-1],
            ]
        )
        out.append(shapely.Polygon(ring + CORNER))
    return np.array(out, object)


def _wavy(begin: np.ndarray, end: np.ndarray, legs: int, chance: np.random.Generator, far: float) -> np.ndarray:
    """Corners from one grid corner to the next, shape (..., legs + 1, 2)."""
    share = np.linspace(0.0, 1.0, legs + 1)[:, None]
    line = begin[..., None, :] * (1 - share) + end[..., None, :] * share
    line[..., 1:-1, :] += chance.uniform(-far, far, line[..., 1:-1, :].shape)
    return line


def _lines(count: int, side: float, chance: np.random.Generator) -> np.ndarray:
    """Lines of 20 legs that wander over the farm."""
    start = chance.uniform(0, side, (count, 1, 2))
    steps = chance.normal(0, side / 200, (count, 20, 2)) + chance.normal(0, side / 200, (count, 1, 2))
    corners = np.concatenate([start, start + np.cumsum(steps, axis=1)], axis=1) + CORNER
    return shapely.linestrings(corners)
