"""Volumes and pieces of many trees added up by block, species, period or whatever they are grouped by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.harvest.cutting import cut
from farmmap.plans.harvest.product_list import TONNES_PER_M3, Product, ProductList
from farmmap.plans.harvest.stems import Stems
from farmmap.plans.harvest.timber import Timber, places_by

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Places = NDArray[np.intp]

AT_ONCE = 100_000
"""Stems that are cut together; keeps what is at work small."""


@dataclass(frozen=True, eq=False)
class Tally:
    """Sums over groups of trees, a row each.

    Attributes
    ----------
    keys : ndarray of int64, shape (k, m)
        What each group has in common, in the columns that it was grouped by.
    trees, counted : ndarray of int64, shape (k,)
        Trees, and those of them whose volume is known.
    stem_m3, under_bark_m3 : ndarray, shape (k,)
        Stem volume over bark, and under bark. [m³]
    low_m3, high_m3 : ndarray, shape (k,)
        Stem volume over bark at the low and the high end of the trees' sizes; nan if it is not known of a tree that
        is counted. [m³]
    pieces : ndarray of int64, shape (k, p)
        Pieces of each product.
    product_m3 : ndarray, shape (k, p)
        Volume of each product, under bark. [m³]
    """

    keys: Ints
    trees: Ints
    counted: Ints
    stem_m3: Floats
    under_bark_m3: Floats
    low_m3: Floats
    high_m3: Floats
    pieces: Ints
    product_m3: Floats

    def __len__(self) -> int:
        return len(self.keys)

    def of(self, rows: NDArray[np.bool_]) -> Tally:
        """Return some of the groups."""
        return Tally(*(values[rows] for values in self._all))

    def by(self, *columns: int) -> Tally:
        """Return the sums by some of the columns of ``keys`` only, in the order of those."""
        keys, group = _grouped(self.keys[:, list(columns)])
        out = []
        for values in self._all[1:]:
            sums = np.zeros((len(keys), *values.shape[1:]), values.dtype)
            np.add.at(sums, group, values)
            out.append(sums)
        return Tally(keys, *out)

    def amounts(self, products: tuple[Product, ...]) -> Floats:
        """Return what is sold of each product, in what its price is for, shape (k, p)."""
        out = np.empty(self.product_m3.shape)
        for place, product in enumerate(products):
            match product.per:
                case "piece":
                    out[:, place] = self.pieces[:, place]
                case "tonne":
                    out[:, place] = self.product_m3[:, place] * TONNES_PER_M3
                case _:
                    out[:, place] = self.product_m3[:, place]
        return out

    @property
    def _all(self) -> tuple[NDArray[Any], ...]:
        return (
            self.keys,
            self.trees,
            self.counted,
            self.stem_m3,
            self.under_bark_m3,
            self.low_m3,
            self.high_m3,
            self.pieces,
            self.product_m3,
        )


@dataclass(frozen=True, eq=False)
class Sized:
    """Trees at the size at which they are counted.

    Attributes
    ----------
    rows : ndarray of int, shape (n,)
        Which trees of the timber.
    stems : Stems
        One stem of each, at that size.
    low_m3, high_m3 : ndarray, shape (n,)
        Volume of one stem at the low and at the high end of that size; nan where not known. [m³]
    """

    rows: Places
    stems: Stems
    low_m3: Floats
    high_m3: Floats


def tallied(timber: Timber, sized: Sized, keys: Ints, listed: ProductList) -> Tally:
    """Cut trees into products and add them up by group.

    Parameters
    ----------
    timber : Timber
        The trees.
    sized : Sized
        Which of them, and at which size.
    keys : ndarray of int64, shape (n, m)
        What each is grouped by.
    listed : ProductList
        What they are cut into.
    """
    groups, group = _grouped(keys)
    number = len(groups)
    each = timber.each[sized.rows]
    volume = sized.stems.volume_m3 * each
    known = np.isfinite(volume)

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(group, np.nan_to_num(values), number), np.float64)

    def bound(edge_m3: Floats) -> Floats:
        return np.asarray(np.bincount(group, np.where(known, edge_m3 * each, 0.0), number), np.float64)

    pieces = np.zeros((number, len(listed.products)), np.int64)
    products = np.zeros((number, len(listed.products)))
    kinds = timber.there.species[sized.rows]
    for kind, of_kind in enumerate(places_by(kinds, len(timber.there.species_names))):
        wanted = listed.of_species(timber.there.species_names[kind])
        for start in range(0, len(of_kind), AT_ONCE):
            places = of_kind[start : start + AT_ONCE]
            rows = sized.rows[places]
            found = cut(
                sized.stems.part(places),
                [listed.products[place] for place in wanted],
                timber.there.pruned_m[rows],
                timber.is_poor[rows],
            )
            for column, place in enumerate(wanted):
                count = np.bincount(group[places], found.count[:, column] * each[places], number)
                pieces[:, place] += np.rint(count).astype(np.int64)
                products[:, place] += np.bincount(group[places], found.volume_m3[:, column] * each[places], number)
    return Tally(
        groups,
        np.bincount(group, minlength=number),
        np.bincount(group[known], minlength=number),
        summed(volume),
        summed(volume * sized.stems.bark_ratio**2),
        bound(sized.low_m3),
        bound(sized.high_m3),
        pieces,
        products,
    )


def _grouped(keys: Ints) -> tuple[Ints, Places]:
    """Return the different rows of keys, in order, and which of them each row is; quicker than comparing rows."""
    mixed = np.zeros(len(keys), np.int64)
    for column in keys.T:
        _, place = np.unique(column, return_inverse=True)
        mixed = mixed * (int(place.max(initial=0)) + 1) + place
    _, first, group = np.unique(mixed, return_index=True, return_inverse=True)
    return np.asarray(keys[first], np.int64), group
