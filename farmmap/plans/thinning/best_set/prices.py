"""Prices on cliques, at which no set of trees is worth more than all prices together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques

Floats = NDArray[np.float64]
AnyFloats = NDArray[np.floating[Any]]

MOST_EXACT = 2_000
"""Up to so many trees prices are the best there are (by HiGHS); beyond that they are come near to step by step."""

STEPS = ((600, 20, 1.0), (30, 15, 0.97))
"""Steps, after how many the prices are looked at, and how long each is beside the most it may be.

The second for very many trees, in single precision; steps of full length leave prices swinging to and fro for long
where trees stand in an even grid. Found by trying.
"""

BALANCE = 0.25
"""Of a tree's worth: how far prices move in a step beside shares. Found by trying; any value comes near in the end."""

FURTHER = 1.7
"""Each step is gone on by so much of itself, which comes near in half the steps. Found by trying."""


@dataclass(frozen=True, eq=False)
class Prices:
    """Prices that bound what any choice is worth.

    Attributes
    ----------
    clique : ndarray, shape (k,)
        Price of each clique, paid once for the one tree of it that is chosen.
    tree : ndarray, shape (n,)
        What a tree is worth beyond the prices of all its cliques.
    over : ndarray, shape (n,)
        By how much the prices of a tree's cliques are more than it is worth.
    share : ndarray, shape (n,)
        To what part each tree is chosen where trees can be chosen in part, 0 to 1: a guide to good choices.
    """

    clique: Floats
    tree: Floats
    over: Floats
    share: Floats


def prices_of(worth: Floats, cliques: Cliques, *, many: bool = False) -> Prices:
    """Return prices for a bound as low as can be had.

    Any prices from 0 on give a true bound: a set holds at most one tree of a
    clique, so it is worth no more than the prices of all cliques and what
    trees are worth beyond them. The lowest such bound is the dual of a linear
    programme; how near these come to it takes nothing from its truth.

    Parameters
    ----------
    worth : ndarray, shape (n,)
        What each tree is worth.
    cliques : Cliques
        Cliques of the trees.
    many : bool
        Whether to be content with less, as there are very many.
    """
    if not len(cliques):
        clique, share = np.zeros(0), np.ones(len(worth))
    elif len(worth) <= MOST_EXACT and not many:
        clique, share = _best_prices(worth, cliques)
    else:
        clique, share = _near_prices(worth.astype(np.float32 if many else np.float64), cliques, *STEPS[many])
    paid = np.bincount(cliques.member, clique[cliques.of_member], len(worth)) if len(cliques) else np.zeros(len(worth))
    return Prices(clique, np.maximum(worth - paid, 0.0), np.maximum(paid - worth, 0.0), share)


def _matrix(worth: AnyFloats, cliques: Cliques) -> Any:
    from scipy.sparse import csr_array  # noqa: PLC0415

    ones = np.ones(len(cliques.member), worth.dtype)
    member, start = cliques.member.astype(np.int32), cliques.start.astype(np.int32)
    return csr_array((ones, member, start), (len(cliques), len(worth)))


def _best_prices(worth: Floats, cliques: Cliques) -> tuple[Floats, Floats]:
    from scipy.optimize import linprog  # noqa: PLC0415

    found = linprog(-worth, _matrix(worth, cliques), np.ones(len(cliques)), bounds=(0, 1), method="highs")
    if found.ineqlin is None or found.x is None:
        return _near_prices(worth, cliques, *STEPS[0])
    return np.maximum(-np.asarray(found.ineqlin.marginals, np.float64), 0.0), np.asarray(found.x, np.float64)


def _near_prices(
    worth: AnyFloats, cliques: Cliques, steps: int, look_every: int, length: float
) -> tuple[Floats, Floats]:
    """Come near to the best prices by steps of a primal-dual method, and return the best ones met.

    A. Chambolle and T. Pock (2011), A first-order primal-dual algorithm for convex problems with applications to
    imaging, J. Math. Imaging Vis. 40, 120-145; step sizes by T. Pock and A. Chambolle (2011), Diagonal preconditioning
    for first order primal-dual algorithms in convex optimization, ICCV (both from memory).
    """
    rows = _matrix(worth, cliques)
    columns = rows.T.tocsr()
    share = np.zeros_like(worth)
    per_tree = (1.0 / np.maximum(np.diff(columns.indptr), 1)).astype(worth.dtype)
    per_clique = (1.0 / np.diff(cliques.start)).astype(worth.dtype)
    price = 0.8 * per_clique * (rows @ (worth * per_tree))
    scale = BALANCE * float(np.median(worth))
    of_tree, of_clique = length * per_tree / scale, length * per_clique * scale
    mean, parts, best, least = np.zeros_like(price), np.zeros_like(worth), price, np.inf
    for step in range(1, steps + 1):
        new = np.clip(share + of_tree * (worth - columns @ price), 0.0, 1.0)
        dearer = np.maximum(price + of_clique * (rows @ (2 * new - share) - 1.0), 0.0)
        share = np.clip(share + FURTHER * (new - share), 0.0, 1.0)
        price = np.maximum(price + FURTHER * (dearer - price), 0.0)
        mean += price
        parts += share
        if step % look_every == 0:
            for tried in (price, mean / look_every):
                bound = float(tried.sum() + np.maximum(worth - columns @ tried, 0.0).sum())
                if bound < least:
                    best, least = tried, bound
            mean, chosen = np.zeros_like(price), parts / look_every
            parts = np.zeros_like(worth)
    return best.astype(np.float64), chosen.astype(np.float64)
