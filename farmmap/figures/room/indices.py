"""How hard trees are pressed by their neighbours: indices of competition."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.room.edges import arc_share, edge_distance, edge_weight
from farmmap.figures.room.pairs import Pairs, overlapping, within
from farmmap.figures.standing import Standing

Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Bools = NDArray[np.bool_]

LEAST_APART_M = 0.1
"""Trees nearer than this, or at the same place, count as so far apart. [m]"""

REACH_IN_CROWN_RADII = 3.5
"""Neighbours are looked for within so many mean crown radii: C. G. Lorimer (1983), Tests of age-independent competition
indices for individual trees in natural hardwood stands, For. Ecol. Manage. 6, 343–360 (from memory)."""

LEAST_REACH_M, MOST_REACH_M = 3.0, 20.0
"""Narrowest and widest reach that is taken unless one is asked for. [m]"""


def hegyi_part(own_cm: ArrayLike, other_cm: ArrayLike, apart_m: ArrayLike) -> Floats:
    """Return what one neighbour adds to Hegyi's index: (d_j ÷ d_i) ÷ L, 1/m.

    Source: F. Hegyi (1974), A simulation model for managing jack-pine stands,
    in: J. Fries (ed.), Growth models for tree and stand simulation, Royal
    College of Forestry, Stockholm, 74–90.

    Parameters
    ----------
    own_cm, other_cm : array_like, shape (k,)
        Diameter of the tree and of its neighbour. [cm]
    apart_m : array_like, shape (k,)
        How far apart they stand; less than `LEAST_APART_M` counts as that. [m]
    """
    apart = np.maximum(np.asarray(apart_m, float), LEAST_APART_M)
    return np.asarray(other_cm, float) / np.asarray(own_cm, float) / apart


def martin_ek_part(own_cm: ArrayLike, other_cm: ArrayLike, apart_m: ArrayLike) -> Floats:
    """Return what one neighbour adds to Martin and Ek's index: (d_j ÷ d_i)·exp(−16·L ÷ (d_i + d_j)).

    L in m, d in cm.

    Source: G. L. Martin and A. R. Ek (1984), A comparison of competition
    measures and growth models for predicting plantation red pine diameter and
    height growth, For. Sci. 30, 731–743 (from memory). Parameters as for
    `hegyi_part`; trees at the same place need no least distance here.
    """
    own, other = np.asarray(own_cm, float), np.asarray(other_cm, float)
    return other / own * np.exp(-16.0 * np.asarray(apart_m, float) / (own + other))


def overlap_m2(own_m: ArrayLike, other_m: ArrayLike, apart_m: ArrayLike) -> Floats:
    """Area that two circles share, from plane geometry.

    Parameters
    ----------
    own_m, other_m, apart_m : array_like, shape (k,)
        Radii, and the distance of the middles. [m]
    """
    r, s, d = np.broadcast_arrays(*(np.asarray(one, float) for one in (own_m, other_m, apart_m)))
    out = np.where(d <= np.abs(r - s), np.pi * np.minimum(r, s) ** 2, 0.0)
    cut = (d > np.abs(r - s)) & (d < r + s)
    r, s, d = r[cut], s[cut], d[cut]
    near = r * r * np.arccos(np.clip((d * d + r * r - s * s) / (2 * d * r), -1, 1))
    far = s * s * np.arccos(np.clip((d * d + s * s - r * r) / (2 * d * s), -1, 1))
    kite = 0.5 * np.sqrt(np.maximum((-d + r + s) * (d + r - s) * (d - r + s) * (d + r + s), 0.0))
    out[cut] = near + far - kite
    return out


@dataclass(frozen=True, eq=False)
class Indices:
    """Indices of some trees. Arrays have shape (k,); nan for trees without what the index asks of them.

    Attributes
    ----------
    places : ndarray of int
        The trees, as places in `Standing`.
    reach_m : float
        Within so far neighbours count for the first two indices. [m]
    neighbours, unmeasured : ndarray of int64
        Trees within reach, and how many of them have no diameter and add nothing.
    hegyi, martin_ek : ndarray
        Sums of `hegyi_part` and `martin_ek_part`. [1/m, 1]
    zone_overlap : ndarray
        Σ (O ÷ Z)·(d_j ÷ d_i): shares of the zone of influence that neighbours' zones overlap (Bella 1971).
    crown_overlap : ndarray
        Σ O ÷ K: shares of the crown's circle that neighbours' crowns overlap.
    """

    places: Places
    reach_m: float
    neighbours: NDArray[np.int64]
    unmeasured: NDArray[np.int64]
    hegyi: Floats
    martin_ek: Floats
    zone_overlap: Floats
    crown_overlap: Floats


def usual_reach_m(crown_m: ArrayLike) -> float:
    """Return how far neighbours are looked for: 3.5 mean crown radii, from 3 to 20 m; 3 m if no crown is known."""
    known = np.asarray(crown_m, float)
    known = known[known > 0]
    wide = REACH_IN_CROWN_RADII * float(known.mean()) / 2 if len(known) else 0.0
    return float(np.clip(wide, LEAST_REACH_M, MOST_REACH_M))


def indices(
    there: Standing,
    zone_m: Floats,
    *,
    scale: float = 1.0,
    chosen: Places | None = None,
    reach_m: float | None = None,
    ground: shapely.Geometry | None = None,
) -> Indices:
    """Return indices of competition of some or all trees.

    Every tree on the map counts as a neighbour. With ``ground`` they are
    corrected for its edge: only neighbours on it count, and each counts
    1 ÷ p times, where p is the share on the ground of the circle around the
    tree through that neighbour (`farmmap.figures.room.edges.edge_weight`). The
    index is then what it would be on average if trees stood beyond the edge as
    they do on this side. Leave it out where nothing stands beyond the edge.

    Parameters
    ----------
    there : Standing
        Trees that count on the day.
    zone_m : ndarray, shape (n,)
        Diameter of each tree's zone of influence: the crown that it would have with its stem standing free. [m of
        ground]
    scale : float
        Grid metres for a metre of ground.
    chosen : ndarray of int, shape (k,), optional
        Trees to be told of, as places in ``there``, increasing; all if None.
    reach_m : float, optional
        How far neighbours are looked for; `usual_reach_m` if None. [m of ground]
    ground : shapely Polygon or MultiPolygon, optional
        The mapped ground on the grid, for edge correction; trees off it get nan.
    """
    places = np.arange(len(there)) if chosen is None else chosen
    reach = usual_reach_m(there.crown_m[places]) if reach_m is None else reach_m
    x, y, on_ground, inside = _laid_out(there, scale, ground)
    sums = _Sums(len(there), places, inside, on_ground, (x, y))
    dbh, crown = np.where(there.dbh_cm > 0, there.dbh_cm, np.nan), np.where(there.crown_m > 0, there.crown_m, np.nan)

    def of_stems(part: Callable[[ArrayLike, ArrayLike, ArrayLike], Floats]) -> Callable[[Pairs], Floats]:
        return lambda pairs: part(dbh[pairs.tree], dbh[pairs.other], pairs.distance_m)

    def overlaps(wide: Floats, weight: Floats | None) -> Callable[[Pairs], Floats]:
        def share(pairs: Pairs) -> Floats:
            own, other = wide[pairs.tree] / 2, wide[pairs.other] / 2
            out = overlap_m2(own, other, pairs.distance_m) / (np.pi * own * own)
            return out if weight is None else out * weight[pairs.other] / weight[pairs.tree]

        return share

    near = [
        lambda pairs: np.ones(len(pairs.tree)),
        lambda pairs: np.isnan(dbh[pairs.other]).astype(np.float64),
        of_stems(hegyi_part),
        of_stems(martin_ek_part),
    ]
    counted, bare, hegyi, martin_ek = sums.over(within(x, y, reach, places), near)
    zone = sums.over(overlapping(x, y, zone_m / 2, places), [overlaps(zone_m, dbh)])[0]
    crowns = sums.over(overlapping(x, y, crown / 2, places), [overlaps(crown, None)])[0]
    off = np.isnan(dbh[places]) | ~inside[places]
    return Indices(
        places,
        reach,
        np.rint(counted).astype(np.int64),
        np.rint(bare).astype(np.int64),
        np.where(off, np.nan, hegyi),
        np.where(off, np.nan, martin_ek),
        np.where(off | ~(zone_m[places] > 0), np.nan, zone),
        np.where(np.isnan(crown[places]) | ~inside[places], np.nan, crowns),
    )


def _laid_out(
    there: Standing, scale: float, ground: shapely.Geometry | None
) -> tuple[Floats, Floats, shapely.Geometry | None, Bools]:
    """Trees and ground in metres of ground from a corner near them, and which trees stand on the ground."""
    west, south = (float(np.nanmin(values)) if len(there) else 0.0 for values in (there.x, there.y))
    x, y = (there.x - west) / scale, (there.y - south) / scale
    if ground is None:
        return x, y, None, np.ones(len(there), bool)
    moved = shapely.transform(ground, lambda at: (at - np.array([west, south])) / scale)
    return x, y, moved, np.asarray(shapely.intersects_xy(moved, x, y), bool)


class _Sums:
    """Adds up what neighbours bring, each counted for those that stand beyond the edge too."""

    def __init__(
        self, many: int, places: Places, inside: Bools, ground: shapely.Geometry | None, at: tuple[Floats, Floats]
    ) -> None:
        self._many, self._places, self._inside, self._ground, self._at = many, places, inside, ground, at
        self._edge_m = np.empty(0) if ground is None else edge_distance(*at, ground)

    def over(self, parts: Iterable[Pairs], kinds: list[Callable[[Pairs], Floats]]) -> list[Floats]:
        """Return sums by tree of each kind of figure; what is not known adds nothing. Each of shape (k,)."""
        out = [np.zeros(self._many) for _ in kinds]
        for pairs in parts:
            kept, weight = self._weighted(pairs)
            brought = [np.nan_to_num(kind(kept)) * weight for kind in kinds]
            out = [total + np.bincount(kept.tree, one, self._many) for total, one in zip(out, brought, strict=True)]
        return [total[self._places] for total in out]

    def _weighted(self, pairs: Pairs) -> tuple[Pairs, Floats]:
        if self._ground is None:
            return pairs, np.ones(len(pairs.tree))
        on = self._inside[pairs.tree] & self._inside[pairs.other]
        kept = Pairs(pairs.tree[on], pairs.other[on], pairs.distance_m[on])
        x, y = self._at
        weight = np.ones(len(kept.tree))
        cut = np.flatnonzero(kept.distance_m > self._edge_m[kept.tree])
        tree = kept.tree[cut]
        weight[cut] = edge_weight(arc_share(x[tree], y[tree], kept.distance_m[cut], self._ground))
        return kept, weight
