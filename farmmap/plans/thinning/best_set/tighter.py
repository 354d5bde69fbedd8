"""A tighter bound: ground is cut into windows, and what each can be worth at most is found by a sweep of its own.

Cliques that reach over an edge are paid for by their prices, and their trees are worth so much less in their windows.
What the windows come to together and what was paid is never less than the worth of any choice.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from farmmap.plans.thinning.best_set.cliques import Cliques
from farmmap.plans.thinning.best_set.conflicts import Conflicts
from farmmap.plans.thinning.best_set.prices import Prices
from farmmap.plans.thinning.best_set.sweep import pieces_along, swept

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOST_TREES = 20_000
"""For more trees it is left at the bound of the prices."""

CUTS = (
    (3_000, ((12.0, 4.0, 2_048, 0.0), (12.0, 4.0, 2_048, 90.0), (12.0, 6.0, 1_024, 0.0), (12.0, 6.0, 1_024, 90.0))),
    (MOST_TREES, ((12.0, 4.0, 512, 0.0), (12.0, 4.0, 512, 90.0))),
)
"""Up to so many trees: length and width of windows in least distances, choices kept for each, and how they are turned.

Wider windows have fewer edges, at which something is lost, but leave more out.
"""


LEAST_KEPT = 32
"""Where trees stand close fewer choices are kept, as there is more to be done for each; so many at least."""


def tighter_bound(graph: Conflicts, cliques: Cliques, prices: Prices, chosen: Bools, some: Bools) -> Floats:
    """Return what any choice is worth at most in each connected part, shape (number of parts,); inf where not asked.

    Parameters
    ----------
    graph, cliques, prices
        The trees, and what bounds their worth.
    chosen : ndarray of bool, shape (n,)
        A good choice; the better it is, the less work there is.
    some : ndarray of bool, shape (number of parts,)
        Which parts are asked about.
    """
    bound = np.full(len(some), np.inf)
    inside = some[graph.part]
    for most_trees, cuts in CUTS:
        if int(inside.sum()) <= most_trees:
            for long, wide, kept, turn in cuts:
                most = max(int(kept / graph.crowding**2), LEAST_KEPT)
                found = _bound(graph, cliques, prices, chosen, inside, _windows(graph, inside, long, wide, turn), most)
                bound = np.minimum(bound, found)
            break
    return np.where(some, bound, np.inf)


def _windows(graph: Conflicts, inside: Bools, long: float, wide: float, turn_deg: float) -> tuple[Ints, Floats]:
    """Window of each tree, -1 for one that is not asked about, and how far along its window it lies."""
    angle = np.radians(turn_deg)
    along = graph.at @ np.array([np.cos(angle), np.sin(angle)]) / graph.within_m
    across = graph.at @ np.array([-np.sin(angle), np.cos(angle)]) / graph.within_m
    column, row = _cut(along, graph.part, long), _cut(across, graph.part, wide)
    _, window = np.unique(np.stack([graph.part, column, row])[:, inside], axis=1, return_inverse=True)
    out = np.full(len(graph), -1, np.int64)
    out[inside] = np.asarray(window).reshape(-1)
    return out, along


def _cut(at: Floats, part: Ints, length: float) -> Ints:
    """Cut each part evenly into pieces of about a length; return the number of each tree's piece."""
    count = int(part.max()) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, part, at)
    np.maximum.at(high, part, at)
    pieces = np.maximum(np.rint((high - low) / length), 1.0)
    return np.minimum((at - low[part]) / np.maximum(high - low, 1e-9)[part] * pieces[part], pieces[part] - 1).astype(
        np.int64
    )


def _bound(
    graph: Conflicts,
    cliques: Cliques,
    prices: Prices,
    chosen: Bools,
    inside: Bools,
    windows: tuple[Ints, Floats],
    most: int,
) -> Floats:
    window, along = windows
    first = cliques.start[:-1]
    lowest, highest = (over.reduceat(window[cliques.member], first) for over in (np.minimum, np.maximum))
    crosses = lowest != highest
    price = np.where(crosses, prices.clique, 0.0)
    paid = np.bincount(cliques.member, price[cliques.of_member], len(graph))
    same = window[graph.pairs[:, 0]] == window[graph.pairs[:, 1]]
    apart = Conflicts(graph.at, graph.worth - paid, graph.within_m, graph.pairs[same], graph.rank)
    pieces = pieces_along(window, along)
    of = np.repeat(np.arange(len(pieces)), np.diff(pieces.start))
    known: Floats = np.bincount(of, np.where(chosen, apart.worth, 0.0)[pieces.tree], len(pieces)).astype(np.float64)
    found = swept(apart, cliques, replace(prices, clique=np.where(crosses, 0.0, prices.clique)), pieces, known, most)
    parts = int(graph.part.max()) + 1
    out = np.bincount(graph.part[pieces.tree[pieces.start[:-1]]], np.maximum(known, found.bound), parts)
    own = graph.part[cliques.member[first]]
    asked = inside[cliques.member[first]]
    return np.asarray(out + np.bincount(own[asked], price[asked], parts), np.float64)
