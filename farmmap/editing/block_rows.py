"""The table of blocks laid out to be looked through quickly, and the blocks around a piece of ground."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from farmmap.editing.sound import TOUCH_M
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered

Floats = NDArray[np.float64]
Shapes = dict[int, shapely.Geometry]
Box = tuple[float, float, float, float]
"""x and y of the south-west and north-east corners of a rectangle. [m]"""


@dataclass(frozen=True, eq=False)
class BlockRows:
    """The table of blocks laid out to be looked through quickly; all of shape (n, ...).

    Attributes
    ----------
    index : Index
        Ids of the blocks, for looking one up.
    ids : ndarray of int64
        The same.
    outlines : ndarray of shapely geometry
        Their outlines.
    boxes : ndarray, shape (n, 4)
        x and y of the south-west and north-east corner of each. [m]
    existing : ndarray of bool
        Whether each stands on the ground; a planned one does not.
    """

    index: pd.Index
    ids: NDArray[np.int64]
    outlines: NDArray[np.object_]
    boxes: Floats
    existing: NDArray[np.bool_]


_ROWS: Remembered[BlockRows] = Remembered(4)


def block_rows(farm: Farm) -> BlockRows:
    """Return the blocks of a farm laid out, kept for the last few tables of blocks."""
    return _ROWS.get((farm.blocks,), (), lambda: _laid_out(farm.blocks))


def is_existing(farm: Farm, block: int) -> bool:
    """Whether a block stands on the ground."""
    rows = block_rows(farm)
    return block in rows.index and bool(rows.existing[rows.index.get_loc(block)])


def neighbours(farm: Farm, region: Box, leave_out: Iterable[int] = ()) -> Shapes:
    """Return existing blocks whose rectangles come within 1 mm of a rectangle, by id; unsound ones are left alone."""
    rows = block_rows(farm)
    west, south, east, north = region
    met = rows.existing & (rows.boxes[:, 0] <= east + TOUCH_M) & (rows.boxes[:, 2] >= west - TOUCH_M)
    met &= (rows.boxes[:, 1] <= north + TOUCH_M) & (rows.boxes[:, 3] >= south - TOUCH_M)
    places = np.flatnonzero(met)
    places = places[~np.isin(rows.ids[places], list(leave_out)) & shapely.is_valid(rows.outlines[places])]
    return {int(rows.ids[place]): rows.outlines[place] for place in places}


def _laid_out(blocks: gpd.GeoDataFrame) -> BlockRows:
    outlines = blocks.geometry.to_numpy()
    boxes = shapely.bounds(outlines).reshape(-1, 4)
    existing = (blocks["stage"] == "existing").to_numpy(bool)
    return BlockRows(blocks.index, blocks.index.to_numpy(np.int64), outlines, boxes, existing)
