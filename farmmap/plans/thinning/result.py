"""A thinning: a mark for each tree of a block, and what follows from the marks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.result import FigureTable
from farmmap.plans.thinning.crop import Crop
from farmmap.plans.thinning.rows import PlantedRows

CROP = "crop"
TAKE = "take"
LEAVE = ""

MARK_WORDS = {CROP: "keep as crop", TAKE: "take out", LEAVE: "leave"}
"""Marks in words."""


@dataclass(frozen=True, eq=False)
class Thinning:
    """A thinning of one block. Arrays have shape (n,), a place for each tree that stands in it on the day.

    Attributes
    ----------
    block : int
        Id of the block.
    name : str
        Its name.
    on : date
        The day.
    words : str
        What it was made by, in a line.
    ids : ndarray of int64
        Ids of the trees.
    mark : ndarray of str
        ``crop``, ``take`` or "" for each.
    table : FigureTable
        Before, taken and after, a row each.
    notes : tuple of str
        What holds for it and what was found on the way.
    cautions : tuple of str
        What to look out for.
    crop : Crop or None
        How the crop trees were chosen; None where they are those marked on the farm.
    rows : PlantedRows or None
        Planted rows, where they were asked for and found.
    """

    block: int
    name: str
    on: dt.date
    words: str
    ids: NDArray[np.int64]
    mark: NDArray[np.object_]
    table: FigureTable
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    crop: Crop | None = None
    rows: PlantedRows | None = None

    def __len__(self) -> int:
        return len(self.ids)

    @property
    def take_ids(self) -> NDArray[np.int64]:
        """Ids of the trees that go."""
        return self.ids[self.mark == TAKE]

    @property
    def crop_ids(self) -> NDArray[np.int64]:
        """Ids of the crop trees."""
        return self.ids[self.mark == CROP]
