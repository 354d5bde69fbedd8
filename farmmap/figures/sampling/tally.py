"""Which trees a plot counts when their places are known, and how often each counts at the edge.

A plot whose middle may lie anywhere on a block with equal chance takes a tree
in with a chance that is the area, inside the block, of the tree's own zone
divided by the block's. Near an edge part of the zone lies outside, where no
middle ever falls. Without a correction such trees are counted too seldom, and
moving middles inwards to avoid it (shifting) takes edge trees in more seldom
still: both bend the figures towards what grows in the middle of the block.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.prepared import prepared
from farmmap.figures.sampling.zones import PlotShape

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Tally:
    """Trees that plots take in, a row for each tree of each plot.

    Attributes
    ----------
    plot, tree : ndarray of int, shape (k,)
        Place of the plot and of the tree.
    weight : ndarray, shape (k,)
        How often the tree counts there.
    """

    plot: Places
    tree: Places
    weight: Floats


def tally(
    middles: ArrayLike,
    trees: ArrayLike,
    dbh_cm: ArrayLike,
    shape: PlotShape,
    *,
    region: shapely.Geometry | None = None,
    edge: str = "walkthrough",
    scale: float = 1.0,
) -> Tally:
    """Return what plots count of trees whose places are known.

    Parameters
    ----------
    middles : array_like, shape (p, 2)
        Middles of the plots. [grid m]
    trees : array_like, shape (n, 2)
        Where the trees stand; those outside ``region`` are to be left out before. [grid m]
    dbh_cm : array_like, shape (n,)
        Their diameters, read for an angle count only. [cm]
    shape : PlotShape
        What each plot takes in.
    region : shapely geometry, optional
        The ground on which middles were drawn; without it no tree is corrected for the edge.
    edge : str
        ``walkthrough``, ``exact`` or ``none``: see `walkthrough_weights` and `exact_weights`.
    scale : float
        Grid metres for a metre of ground.
    """
    points = np.asarray(middles, np.float64).reshape(-1, 2)
    stems = np.asarray(trees, np.float64).reshape(-1, 2)
    reach = shape.reach_m(dbh_cm) * scale
    seen = np.flatnonzero(np.isfinite(reach))
    index = shapely.STRtree(shapely.points(points))
    tree, plot = index.query(shapely.points(stems[seen]), predicate="dwithin", distance=reach[seen])
    tree = seen[tree]
    off = (stems[tree] - points[plot]) / scale
    inside = shape.holds(off[:, 0], off[:, 1])
    if inside is not None:
        plot, tree = plot[inside], tree[inside]
    weight = np.ones(len(plot))
    if region is not None and edge == "walkthrough":
        weight = walkthrough_weights(points[plot], stems[tree], region)
    elif region is not None and edge == "exact":
        counted, back = np.unique(tree, return_inverse=True)
        known = np.asarray(dbh_cm, np.float64)[counted]
        weight = exact_weights(stems[counted], known, shape, region, scale=scale)[back]
    return Tally(plot, tree, weight)


def walkthrough_weights(middles: Floats, trees: Floats, region: shapely.Geometry) -> Floats:
    """How often trees count by the walkthrough rule: twice where a walk through the tree ends outside.

    One walks from the plot's middle to the tree and as far again beyond it. If
    the walk ends outside the region the tree counts twice, else once. Nothing
    is measured to the edge, and the edge may be curved. In corners, and where a
    neck is narrower than twice the plot's reach, some ground outside mirrors to
    ground outside, and trees still count a little too seldom; `exact_weights`
    has no such flaw. Source: M. J. Ducey, J. H. Gove and H. T. Valentine
    (2004), A walkthrough solution to the boundary overlap problem, Forest
    Science 50, 427 (the rule from memory).

    Parameters
    ----------
    middles, trees : ndarray, shape (k, 2)
        Middle of the plot and place of the tree. [grid m]
    region : shapely geometry
        The ground on which middles were drawn.

    Returns
    -------
    ndarray, shape (k,)
        1 or 2.
    """
    beyond = 2 * np.asarray(trees, np.float64) - np.asarray(middles, np.float64)
    region = prepared(region)
    inside = shapely.intersects_xy(region, beyond[..., 0], beyond[..., 1])
    return np.where(inside, 1.0, 2.0)


def exact_weights(
    trees: Floats, dbh_cm: ArrayLike, shape: PlotShape, region: shapely.Geometry, *, scale: float = 1.0
) -> Floats:
    """How often trees count by the ground from which each is seen: whole zone ÷ what of it lies inside.

    Free of bias whatever the shape of the edge, but the trees' places must be
    known. For one straight edge it gives on average what the mirage method (a
    second count from the middle mirrored in the edge) gives: P. Schmid-Haas
    (1969), Stichproben am Waldrand, Mitt. Schweiz. Anst. forstl. Versuchswesen 45,
    234; T. G. Gregoire (1982), Forest Science 28, 826 (both from memory).

    Parameters
    ----------
    trees : ndarray, shape (k, 2)
        Places of trees inside the region. [grid m]
    dbh_cm : array_like, shape (k,)
        Their diameters, read for an angle count only. [cm]
    shape : PlotShape
        The plots.
    region : shapely geometry
        The ground on which middles were drawn.
    scale : float
        Grid metres for a metre of ground.

    Returns
    -------
    ndarray, shape (k,)
        1 or more; nan for a tree that no middle inside could see.
    """
    places = np.asarray(trees, np.float64).reshape(-1, 2)
    dbh = np.broadcast_to(np.asarray(dbh_cm, np.float64), len(places))
    out = np.ones(len(places))
    away = shapely.distance(shapely.boundary(region), shapely.points(places))
    near = np.flatnonzero(away < shape.reach_m(dbh) * scale)
    if len(near):
        zones = shape.ground(places[near, 0], places[near, 1], dbh[near], scale)
        seen = shapely.area(shapely.intersection(zones, region))
        with np.errstate(divide="ignore"):
            out[near] = np.where(seen > 0, shapely.area(zones) / seen, np.nan)
    return out


def shares_inside(middles: ArrayLike, shape: PlotShape, region: shapely.Geometry, *, scale: float = 1.0) -> Floats:
    """Share of the ground of each plot that lies inside a region, shape (p,); 1 for an angle count.

    Parameters
    ----------
    middles : array_like, shape (p, 2)
        Middles of the plots. [grid m]
    shape : PlotShape
        What each covers.
    region : shapely geometry
        The ground that is sampled.
    scale : float
        Grid metres for a metre of ground.
    """
    points = np.asarray(middles, np.float64).reshape(-1, 2)
    if not np.isfinite(shape.area_m2):
        return np.ones(len(points))
    grounds = shape.ground(points[:, 0], points[:, 1], np.full(len(points), np.nan), scale)
    inside = shapely.area(shapely.intersection(grounds, region)) / shapely.area(grounds)
    return np.minimum(np.asarray(inside, np.float64), 1.0)
