"""What stands on a hectare of each block, the trees counted that have no volume, to choose factors by.

Factors of the IPCC go by the growing stock of a hectare. In a block of which
only some trees are measured, the sum over those is far below it, and the
factor would be that of a young or poor stand. So the trees without a volume
are taken to be like those with one; and where sample plots say for sure that
more stands there than is mapped, their basal area is taken instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.grounds import Grounds, grounds
from farmmap.figures.sampling.sampled import samples
from farmmap.plans.harvest.timber import Timber

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_NAMED = 4
"""Blocks that are named in a note; the others are counted."""
TOLD_FROM = 1.05
"""From so much more than was measured on it is told; a tree or two make no difference to a factor."""
LEAST_SHARE = 0.2
"""Below this share of trees with a volume the stock is called a guess. Our own judgement."""


@dataclass(frozen=True, eq=False)
class BlockStock:
    """What stands in each block. All arrays have shape (b,), in the order of ``ground.ids``.

    Attributes
    ----------
    ground : Grounds
        The blocks.
    trees, counted : ndarray of int64
        Trees that stand there, and those of them whose volume is known.
    summed_m3_per_ha : ndarray
        Volume of those, over the block's net ground; nan where there is no ground. [m³/ha]
    times : ndarray
        How many times as much stands there as has a volume; 1 where all have one, or none has.
    by_plots : ndarray of bool
        Blocks of which that comes from their sample plots.
    """

    ground: Grounds
    trees: Ints
    counted: Ints
    summed_m3_per_ha: Floats
    times: Floats
    by_plots: NDArray[np.bool_]

    @property
    def m3_per_ha(self) -> Floats:
        """Volume of all trees on a hectare, by which factors are chosen; nan where there is no ground. [m³/ha]."""
        return self.summed_m3_per_ha * self.times

    def on_a_hectare(self, block: Ints, amount: Floats) -> Floats:
        """Amount of all trees on a hectare of the block in which each stands; nan for trees in none. Shape (n,).

        Parameters
        ----------
        block : ndarray of int64, shape (n,)
            Id of the block of each tree, -1 for none.
        amount : ndarray, shape (n,)
            Of each tree; nan where not known.
        """
        place, inside = np.searchsorted(self.ground.ids, block), block >= 0
        rate = np.append(_rate(self.ground, place, inside, amount) * self.times, np.nan)
        return rate[np.where(inside, place, len(self.ground.ids))]

    def words(self, name_of: Callable[[int], str], among: Ints) -> tuple[str, ...]:
        """Say for which blocks factors were chosen by more than was measured, and on how little that rests.

        Parameters
        ----------
        name_of : callable
            Name of a block by its id.
        among : ndarray of int64
            Ids of the blocks that are told of.
        """
        told = np.isin(self.ground.ids, among) & (self.times >= TOLD_FROM) & np.isfinite(self.summed_m3_per_ha)
        said = []
        for by_plots, why in (
            (False, "trees without a volume are taken to be like those with one"),
            (True, "sample plots say more stands there than is mapped"),
        ):
            places = np.flatnonzero(told & (self.by_plots == by_plots)).tolist()
            if not places:
                continue
            each = [
                f"{name_of(int(self.ground.ids[place]))} {self.m3_per_ha[place]:.0f} m³/ha "
                f"instead of {self.summed_m3_per_ha[place]:.0f} ({self.counted[place]} of {self.trees[place]} trees)"
                for place in places[:MOST_NAMED]
            ]
            others = len(places) - MOST_NAMED
            more = f" and {others} more {'block' if others == 1 else 'blocks'}" if others > 0 else ""
            said.append(
                f"BCEF and R are chosen by what all trees of a block hold; {why}: {', '.join(each)}{more}. Carbon is "
                "that of the trees with a volume only."
            )
        few = told & ~self.by_plots & (self.counted < LEAST_SHARE * self.trees)
        if few.any():
            where = "that block" if int(told.sum()) == 1 else "some of these blocks"
            said.append(
                f"So few trees of {where} have a volume that the choice of BCEF and R is a guess; measure more of them."
            )
        return tuple(said)


def block_stock(farm: Farm, timber: Timber, volume_m3: Floats) -> BlockStock:
    """Return what stands on a hectare of each block.

    Parameters
    ----------
    farm : Farm
        The farm.
    timber : Timber
        The trees that stand on the day.
    volume_m3 : ndarray, shape (n,)
        Volume of all stems of each tree; nan where not known. [m³]
    """
    ground, many = grounds(farm), len(grounds(farm).ids)
    place, inside = np.searchsorted(ground.ids, timber.block), timber.block >= 0
    known = inside & np.isfinite(volume_m3)
    trees = np.bincount(place[inside], minlength=many)[:many]
    counted = np.bincount(place[known], minlength=many)[:many]
    times = np.where(counted > 0, trees / np.maximum(counted, 1), 1.0)
    basal = _rate(ground, place, known, timber.there.basal_area_m2)
    by_plots = np.zeros(many, bool)
    if not timber.there.forecast:  # plots tell of the day on which they were measured
        for block, sample in samples(farm, timber.there.on).items():
            at, told = int(np.searchsorted(ground.ids, block)), sample.basal_area
            if told is not None and counted[at] and basal[at] > 0 and told.low > basal[at] * times[at]:
                times[at], by_plots[at] = told.mean / basal[at], True
    return BlockStock(ground, trees, counted, _rate(ground, place, known, volume_m3), times, by_plots)


def _rate(ground: Grounds, place: NDArray[np.intp], among: NDArray[np.bool_], amount: Floats) -> Floats:
    """Sum of an amount on a hectare of each block, shape (b,); nan where it has no ground."""
    sums = np.bincount(place[among], np.nan_to_num(amount[among]), len(ground.ids))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(sums / np.where(ground.net_ha > 0, ground.net_ha, np.nan), np.float64)
