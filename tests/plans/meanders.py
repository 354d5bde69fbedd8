"""Creeks for the tests of plantings: meanders by a published model, real rivers made small, wanderings, and their farms.

The sine-generated curve: W. B. Langbein and L. B. Leopold (1966), River meanders: theory of minimum variance, U.S.
Geological Survey Professional Paper 422-H: the direction of a river is the sine of the way along it,
direction = w sin(2 pi s / M), with M the length of one meander along the river and w its greatest angle with the
valley. At w = 110 degrees the loops come close to their necks; from about 125 degrees on the curve crosses itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from shapely import LineString

from farmmap.farm.farm import Farm, new_farm, shaped
from farmmap.farm.schema import TABLES
from tests.place import EAST, NORTH

DATA = Path(__file__).parents[1] / "outside" / "data" / "seine_lines.csv"
RIVER_LINES = (1, 2, 3)


def sine_generated_creek(length_m: float, corners: int, angle_deg: float, meander_m: float = 100.0) -> LineString:
    """Return a meandering line of so many grid metres, its steps all alike, flowing east.

    Parameters
    ----------
    length_m : float
        Length along the creek. [grid m]
    corners : int
        Number of corners, both ends counted.
    angle_deg : float
        Greatest angle with the valley, 0 (straight) to 110 (close necks). [degrees]
    meander_m : float
        Length of one meander along the creek. [grid m]
    """
    step = length_m / (corners - 1)
    middle = (np.arange(corners - 1) + 0.5) * step
    direction = np.radians(angle_deg) * np.sin(2 * np.pi * middle / meander_m)
    steps = step * np.column_stack([np.cos(direction), np.sin(direction)])
    return LineString(np.vstack([np.zeros(2), np.cumsum(steps, axis=0)]) + np.array([EAST, NORTH]))


def seine_creek(line: int, scale: float = 0.1) -> LineString:
    """Return a real river line (Natural Earth, see tests/outside/data) made small, begun at the tests' own place.

    Parameters
    ----------
    line : int
        1 to 3: 175, 353 and 130 corners; 364, 636 and 219 km of river.
    scale : float
        0.1 makes 1 km of creek of 10 km of river.
    """
    rivers = pd.read_csv(DATA)
    corners = rivers[rivers["line"] == line][["x", "y"]].to_numpy()
    return LineString((corners - corners[0]) * scale + np.array([EAST, NORTH]))


def wandering_creek(seed: int, corners: int, step_m: float = 12.0, turn_deg: float = 60.0) -> LineString:
    """Return a random walk that turns by up to ``turn_deg`` at each corner; it may come back upon itself."""
    random = np.random.default_rng(seed)
    direction = np.cumsum(np.radians(random.uniform(-turn_deg, turn_deg, corners - 1)))
    steps = random.uniform(0.3, 1.0, corners - 1)[:, None] * step_m
    walked = np.cumsum(steps * np.column_stack([np.cos(direction), np.sin(direction)]), axis=0)
    return LineString(np.vstack([np.zeros(2), walked]) + np.array([EAST, NORTH]))


def creek_farm(
    lines: shapely.Geometry | Sequence[shapely.Geometry],
    channel_m: float | Sequence[float] = 2.0,
    *,
    name: str | Sequence[str] = "Sedge Creek",
    grid: str = "EPSG:2193",
    local: bool = False,
    boundary: shapely.Geometry | None = None,
    **columns: Sequence[object],
) -> Farm:
    """Return a farm with nothing but a creek of one or more rows.

    Parameters
    ----------
    lines : shapely geometry, or sequence of them
        A row of ``creeks`` each.
    channel_m : float, or sequence of float
        Width of the channel of all rows, or of each. [m]
    name : str, or sequence of str
        Name of all rows, or of each.
    grid : str
        The farm's grid.
    local : bool
        Whether the lines are moved so as to be measured from a corner post: then grid metres are ground metres.
    boundary : shapely Polygon or None
        The farm's boundary, if it has one.
    columns : sequence of values
        Other columns of ``creeks``, such as ``flows=["against"]``.
    """
    rows = [lines] if isinstance(lines, shapely.Geometry) else list(lines)
    wide = list(channel_m) if isinstance(channel_m, Sequence) else [channel_m] * len(rows)
    if local:
        rows = [shapely.transform(row, _from_corner_post) for row in rows]
        boundary = None if boundary is None else shapely.transform(boundary, _from_corner_post)
    farm = new_farm("Meander Pipit", grid)
    values = {
        "name": [name] * len(rows) if isinstance(name, str) else list(name),
        "channel_m": wide,
        "geometry": rows,
    } | columns
    tables = {"creeks": shaped(TABLES["creeks"], values, np.arange(1, len(rows) + 1), farm.grid)}
    if boundary is not None:
        tables["boundary"] = shaped(TABLES["boundary"], {"name": [""], "geometry": [boundary]}, [1], farm.grid)
    return farm.with_tables(**tables)


def _from_corner_post(corners: np.ndarray) -> np.ndarray:
    return corners - np.array([EAST, NORTH])
