"""Prices on cliques, at which no set of trees is worth more than all prices together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques

Floats = NDArray[np.float64]

MOST_EXACT = 2_000
"""Up to so many trees prices are the best there are (by HiGHS); beyond that they are come near to step by step."""

STEPS = (600, 100)
"""Steps for up to `MANY` trees, and for more."""

MANY = 20_000
LOOK_EVERY = 25

BALANCE = 0.35
"""Of a tree's worth: how far prices move in a step beside shares. Found by trying; any value comes near in the end."""


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


def prices_of(worth: Floats, cliques: Cliques) -> Prices:
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
    """
    if not len(cliques):
        clique, share = np.zeros(0), np.ones(len(worth))
    elif len(worth) <= MOST_EXACT:
        clique, share = _best_prices(worth, cliques)
    else:
        clique, share = _near_prices(worth, cliques)
    paid = np.bincount(cliques.member, clique[cliques.of_member], len(worth)) if len(cliques) else np.zeros(len(worth))
    return Prices(clique, np.maximum(worth - paid, 0.0), np.maximum(paid - worth, 0.0), share)


def _matrix(worth: Floats, cliques: Cliques) -> Any:
    from scipy.sparse import csr_array  # noqa: PLC0415

    return csr_array((np.ones(len(cliques.member)), cliques.member, cliques.start), (len(cliques), len(worth)))


def _best_prices(worth: Floats, cliques: Cliques) -> tuple[Floats, Floats]:
    from scipy.optimize import linprog  # noqa: PLC0415

    found = linprog(-worth, _matrix(worth, cliques), np.ones(len(cliques)), bounds=(0, 1), method="highs")
    if found.ineqlin is None or found.x is None:
        return _near_prices(worth, cliques)
    return np.maximum(-np.asarray(found.ineqlin.marginals, np.float64), 0.0), np.asarray(found.x, np.float64)


def _near_prices(worth: Floats, cliques: Cliques) -> tuple[Floats, Floats]:
    """Come near to the best prices by steps of a primal-dual method, and return the best ones met.

    A. Chambolle and T. Pock (2011), A first-order primal-dual algorithm for convex problems with applications to
    imaging, J. Math. Imaging Vis. 40, 120-145; step sizes by T. Pock and A. Chambolle (2011), Diagonal preconditioning
    for first order primal-dual algorithms in convex optimization, ICCV (both from memory).
    """
    rows = _matrix(worth, cliques)
    columns = rows.T.tocsr()
    share = np.zeros(len(worth))
    price = np.zeros(len(cliques))
    per_tree = 1.0 / np.maximum(np.bincount(cliques.member, minlength=len(worth)), 1)
    per_clique = 1.0 / np.diff(cliques.start)
    scale = BALANCE * float(np.median(worth))
    mean, parts, best, least = np.zeros(len(cliques)), np.zeros(len(worth)), price, np.inf
    for step in range(1, STEPS[len(worth) > MANY] + 1):
        was = share
        share = np.clip(share + per_tree / scale * (worth - columns @ price), 0.0, 1.0)
        price = np.maximum(price + scale * per_clique * (rows @ (2 * share - was) - 1.0), 0.0)
        mean += price
        parts += share
        if step % LOOK_EVERY == 0:
            for tried in (price, mean / LOOK_EVERY):
                bound = float(tried.sum() + np.maximum(worth - columns @ tried, 0.0).sum())
                if bound < least:
                    best, least = tried, bound
            mean, chosen = np.zeros(len(cliques)), parts / LOOK_EVERY
            parts = np.zeros(len(worth))
    return best, chosen
