"""Stocking of blocks: stems, basal area and mean diameters, for all blocks in one go."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.members import Members
from farmmap.figures.stand import CM2_PER_M2_CIRCLE, dbh_from_basal_area_cm
from farmmap.figures.standing import BASAL_UNIT_M2, Standing

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW = 20
"""The trees of so many blocks are looked up block by block; for more, all trees are gone through once."""

MOST_IDS = 4_000_000
"""Ids up to this are looked up in a table."""


class Stocking:
    """Sums over the trees of each of k blocks. Arrays have shape (k,) unless said otherwise.

    Parameters
    ----------
    there : Standing
        Trees that count on the day.
    members : Members
        The trees of each block.
    blocks : ndarray of int64, shape (k,)
        Ids of the blocks.

    Attributes
    ----------
    stems, diameters : ndarray of int64
        Trees, and the diameters that the basal area rests on.
    basal_area_m2 : ndarray
        Basal area together; 0 where no tree was measured. [m²]
    """

    def __init__(self, there: Standing, members: Members, blocks: Ints) -> None:
        self._there, self._members, self._blocks = there, members, blocks
        if len(blocks) > FEW:
            number = _numbers(blocks, members.block)
            number = number if len(there) == len(number) else number[there.places]
            self.stems: Ints = np.bincount(number, minlength=len(blocks) + 1)[1:].astype(np.int64)
            sums = [
                np.asarray(np.bincount(number, weights, len(blocks) + 1)[1:], np.float64)
                for weights in (there.diameters, there.basal_units)
            ]
        else:
            self.stems = np.diff(self.starts)
            sums = [
                _sums(there.diameters[self.trees], self.starts),
                _sums(there.basal_units[self.trees], self.starts),
            ]
        self.diameters: Ints = sums[0].astype(np.int64)
        self.basal_area_m2: Floats = np.asarray(sums[1], np.float64) * BASAL_UNIT_M2

    @property
    def qmd_cm(self) -> Floats:
        """Quadratic mean diameter, nan where no tree was measured, in cm."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return dbh_from_basal_area_cm(self.basal_area_m2 / self.diameters)

    @cached_property
    def _lists(self) -> tuple[NDArray[np.intp], Ints]:
        rows, starts = self._members.trees_of_each(self._blocks)
        trees = self._there.at_row(rows)
        if len(trees) and trees.min() < 0:
            kept = trees >= 0
            starts = np.concatenate([[0], np.cumsum(kept)])[starts]
            trees = trees[kept]
        return trees, starts

    @property
    def trees(self) -> NDArray[np.intp]:
        """The trees, as places in `Standing`, block after block, shape (m,)."""
        return self._lists[0]

    @property
    def starts(self) -> Ints:
        """Where each block begins in `trees`, and where the last ends, shape (k + 1,)."""
        return self._lists[1]

    @property
    def block(self) -> Ints:
        """Number of the block of each of `trees`, from 0, shape (m,)."""
        return np.repeat(np.arange(len(self.stems)), self.stems)

    @cached_property
    def measured(self) -> Ints:
        """Trees with a diameter."""
        return self._counted(self._there.measured)

    @cached_property
    def heights(self) -> Ints:
        """Trees with a height."""
        return self._counted(np.isfinite(self._there.height_m[self.trees]), chosen=True)

    @cached_property
    def with_crown(self) -> Ints:
        """Trees with a crown."""
        return self._counted(self._there.crown_m[self.trees] > 0, chosen=True)

    @cached_property
    def mean_dbh_cm(self) -> Floats:
        """Mean diameter, nan where no tree was measured, in cm."""
        return self._mean(self._there.dbh_cm)

    @cached_property
    def mean_height_m(self) -> Floats:
        """Mean height, nan where no tree has one, in m."""
        return self._mean(self._there.height_m)

    def _counted(self, which: NDArray[np.bool_], *, chosen: bool = False) -> Ints:
        return _sums(which if chosen else which[self.trees], self.starts).astype(np.int64)

    def _mean(self, values: Floats) -> Floats:
        own = values[self.trees]
        known = np.isfinite(own)
        with np.errstate(divide="ignore", invalid="ignore"):
            return _sums(np.where(known, own, 0.0), self.starts) / _sums(known, self.starts)


@dataclass(frozen=True)
class Stock:
    """Stocking of one block.

    Attributes
    ----------
    stems, diameters : int
        Trees, and the diameters that the basal area rests on.
    basal_area_m2 : float
        Basal area together. [m²]
    """

    stems: int
    diameters: int
    basal_area_m2: float

    @property
    def qmd_cm(self) -> float:
        """Quadratic mean diameter, nan where no tree was measured, in cm."""
        if not self.diameters:
            return math.nan
        return math.sqrt(self.basal_area_m2 / self.diameters * (CM2_PER_M2_CIRCLE / math.pi))

    def after(self, there: Standing, lost: NDArray[np.intp], won: NDArray[np.intp]) -> Stock:
        """Return the stocking after some trees left the block and others came, the same as if all were counted again.

        Parameters
        ----------
        there : Standing
            Trees that count on the day.
        lost, won : ndarray of int
            Rows of ``farm.trees``.
        """
        stems, diameters, units = self.stems, self.diameters, round(self.basal_area_m2 / BASAL_UNIT_M2)
        for rows, sign in ((lost, -1), (won, 1)):
            if len(rows):
                places = there.counted_at(rows)
                stems += sign * len(places)
                diameters += sign * sum(there.diameters[places].tolist())
                units += sign * sum(there.basal_units[places].tolist())
        return Stock(stems, diameters, units * BASAL_UNIT_M2)


def _numbers(blocks: Ints, of: Ints) -> Ints:
    """Return the number of each tree's block among some blocks, from 1; 0 where it is none of them. Shape (n,)."""
    order = np.argsort(blocks)
    top = int(blocks.max(initial=0))
    if top > MOST_IDS:
        at = np.minimum(np.searchsorted(blocks, of, sorter=order), len(blocks) - 1)
        return np.where(blocks[order[at]] == of, order[at] + 1, 0)
    number = np.zeros(top + 2, np.int64)
    number[blocks] = np.arange(1, len(blocks) + 1)
    return number[np.minimum(of, top + 1)]


def _sums(values: NDArray[np.float64] | NDArray[np.int64] | NDArray[np.bool_], starts: Ints) -> Floats:
    """Sum of the values of each block, added up in the order of its trees, whichever other blocks are asked for."""
    whole = values.dtype.kind != "f"
    out = np.zeros(len(starts) - 1)
    some = np.flatnonzero(starts[1:] > starts[:-1])
    if len(some):
        out[some] = np.add.reduceat(values, starts[some], dtype=np.int64 if whole else np.float64)
    return out
