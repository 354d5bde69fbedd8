"""Cutting stems into products, all stems at once.

The rule: products are cut in a fixed order of kinds (pruned log, sawlog, pole,
post, mushroom log, other, firewood), of one kind that with the thicker small
end first. Each takes, from the lowest place where it may be cut, as many whole
pieces as fit into what the ones before have left; one without a length takes
all that is left where it fits. Every sawn length costs a trim allowance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.harvest.product_list import STRAIGHT, Product
from farmmap.plans.harvest.stems import Stems

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STUMP_M = 0.2
"""Height of the stump, which gives no product. Common practice, in m."""
TRIM_M = 0.1
"""Sawn off for each piece of a set length beyond that length. Common practice, in m."""
_TOUCHING_M = 1e-9


@dataclass(frozen=True, eq=False)
class Pieces:
    """What stems were cut into.

    Attributes
    ----------
    count : ndarray of int64, shape (n, p)
        Pieces of each product.
    volume_m3 : ndarray, shape (n, p)
        Their volume under bark. [m³]
    """

    count: NDArray[np.int64]
    volume_m3: Floats


def cut(
    stems: Stems,
    products: Sequence[Product],
    pruned_m: Floats,
    is_poor: Bools,
    stump_m: float = STUMP_M,
    trim_m: float = TRIM_M,
) -> Pieces:
    """Cut stems into products.

    Parameters
    ----------
    stems : Stems
        The n stems; those without a volume give nothing.
    products : sequence of Product
        The p products in the order in which they are cut.
    pruned_m : ndarray, shape (n,)
        Height to which each was pruned; nan for not pruned. [m]
    is_poor : ndarray of bool, shape (n,)
        Stems of poor form: they give no pruned log, sawlog or pole.
    stump_m : float
        Height of the stump. [m]
    trim_m : float
        Sawn off for each piece of a set length. [m]
    """
    number = len(stems.dbh_cm)
    count = np.zeros((number, len(products)), np.int64)
    volume = np.zeros((number, len(products)))
    known = np.isfinite(stems.volume_m3) & np.isfinite(stems.shape) & (stems.volume_m3 > 0)
    low = np.where(known, stump_m, 0.0)
    free = [(low, np.where(known, np.maximum(stems.height_m, stump_m), 0.0))]
    for place, product in enumerate(products):
        span = _span(stems, product, pruned_m, is_poor)
        left: list[tuple[Floats, Floats]] = []
        below: tuple[Floats, Floats] | None = None
        for start, end in free:
            first, last = np.maximum(start, span[0]), np.minimum(end, span[1])
            rows = np.flatnonzero(last - first >= product.least_m - _TOUCHING_M)
            if not len(rows):
                left.append((start, end))
                continue
            pieces, ends, m3 = _pieces(stems.part(rows), product, first[rows], last[rows], trim_m)
            count[rows, place] += pieces
            volume[rows, place] += m3
            under = rows[first[rows] > start[rows] + _TOUCHING_M]
            if len(under):
                if below is None:
                    below = (np.zeros(number), np.zeros(number))
                below[0][under], below[1][under] = start[under], first[under]
            start = start.copy()  # noqa: PLW2901 - what is left of this stretch
            start[rows] = ends
            left.append((start, end))
        free = [*left, below] if below is not None else left
    return Pieces(count, volume)


def _span(stems: Stems, product: Product, pruned_m: Floats, is_poor: Bools) -> tuple[Floats, Floats]:
    """Stretch of each stem that is thick enough and not too thick for a product, in m above ground."""
    top = stems.height_of_cm(product.small_end_cm / stems.bark_ratio)
    if product.kind == "pruned log":
        top = np.minimum(top, np.where(np.isfinite(pruned_m), pruned_m, 0.0))
    if product.kind in STRAIGHT:
        top = np.where(is_poor, 0.0, top)
    if np.isfinite(product.large_end_cm):
        return stems.height_of_cm(product.large_end_cm / stems.bark_ratio), np.nan_to_num(top)
    return np.zeros(len(top)), np.nan_to_num(top)


def _pieces(
    stems: Stems, product: Product, first: Floats, last: Floats, trim_m: float
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return how many pieces one stretch of each stem gives, where the last ends, and their volume under bark."""
    solid = stems.bark_ratio**2
    if np.isnan(product.length_m):
        return np.ones(len(first), np.int64), last, stems.piece_m3(first, last) * solid
    step = product.length_m + trim_m
    fit = np.floor((last - first + trim_m + _TOUCHING_M) / step).astype(np.int64)
    volume = np.zeros(len(first))
    for piece in range(int(fit.max(initial=0))):
        rows = np.flatnonzero(fit > piece)
        low = first[rows] + piece * step
        volume[rows] += stems.part(rows).piece_m3(low, low + product.length_m) * solid[rows]
    return fit, np.minimum(first + fit * step, last), volume
