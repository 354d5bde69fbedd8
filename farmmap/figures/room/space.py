"""Free-growing space: the ground that is nearer to a tree than to any other."""

from __future__ import annotations

import itertools
import math

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.prepared import prepared

Floats = NDArray[np.float64]

FAR = 3.0
"""Four helping points stand so many sizes of the ground away, so that every cell is closed and none on it is cut."""

FIRST_TREES = 24
"""So many trees around one are looked at first to find its cell."""


def growing_space(x: ArrayLike, y: ArrayLike, ground: shapely.Geometry) -> Floats:
    """Area of each tree's cell (Voronoi, also called Dirichlet or Thiessen polygon), cut to the ground.

    Trees at the same place share their cell evenly. The areas of trees that
    stand on the ground add up to it. Source: G. S. Brown (1965), Point density
    in stems per acre, N.Z. For. Serv. Res. Notes 38 (area potentially
    available; from memory).

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand. [m]
    ground : shapely Polygon or MultiPolygon
        Valid; an empty one gives 0 to all.

    Returns
    -------
    ndarray, shape (n,)
        0 for trees that stand nowhere. [m²]
    """
    at = np.column_stack([np.asarray(x, np.float64), np.asarray(y, np.float64)])
    out = np.zeros(len(at))
    known = np.isfinite(at).all(axis=1)
    if not known.any() or ground.is_empty:
        return out
    places, which, shared = np.unique(at[known], axis=0, return_inverse=True, return_counts=True)
    cells, alike = _cells(places, ground)
    area = np.asarray(shapely.area(cells), np.float64)
    cut = np.flatnonzero(~shapely.contains_properly(prepared(ground), cells))
    area[cut] = shapely.area(shapely.intersection(cells[cut], ground))
    out[known] = (area / np.bincount(alike, shared)[alike])[which.reshape(-1)]
    return out


def _cells(places: Floats, ground: shapely.Geometry) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Cells of places, no two the same, not yet cut; and a number for each that those too near to tell apart share."""
    from scipy.spatial import Voronoi  # noqa: PLC0415 - heavy: a farm is opened before it is needed

    bounds = np.array(ground.bounds).reshape(2, 2)
    low, high = np.minimum(bounds[0], places.min(axis=0)), np.maximum(bounds[1], places.max(axis=0))
    middle, far = (low + high) / 2, FAR * max(float((high - low).max()), 1.0)
    helping = far * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    made = Voronoi(np.concatenate([places - middle, helping]))
    regions = [made.regions[place] for place in made.point_region[: len(places)].tolist()]
    corner = np.fromiter(itertools.chain.from_iterable(regions), np.int64)
    owner = np.repeat(np.arange(len(places)), [len(region) for region in regions])
    cells = shapely.polygons(shapely.linearrings(made.vertices[corner] + middle, indices=owner))
    return cells, np.asarray(made.point_region[: len(places)], np.intp)


def space_of_one(x: Floats, y: Floats, tree: int, ground: shapely.Geometry) -> float:
    """Growing space of one tree among many, found from those around it; the same as `growing_space` gives.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Where all trees of the ground stand. [m]
    tree : int
        Place of the tree.
    ground : shapely Polygon or MultiPolygon
        The ground.
    """
    if not (math.isfinite(x[tree]) and math.isfinite(y[tree])) or ground.is_empty:
        return 0.0
    off = np.hypot(x - x[tree], y - y[tree])
    order = np.argsort(np.where(np.isfinite(off), off, np.inf), kind="stable")[: int(np.isfinite(off).sum())]
    many = FIRST_TREES
    while True:
        some = order[:many]
        places, which, shared = np.unique(
            np.column_stack([x[some], y[some]]), axis=0, return_inverse=True, return_counts=True
        )
        own = int(which.reshape(-1)[np.flatnonzero(some == tree)[0]])
        cells, alike = _cells(places, ground)
        on_ground = shapely.intersection(cells[own], ground)
        at = shapely.get_coordinates(on_ground)
        reach = float(np.hypot(*(at - places[own]).T).max(initial=0.0))
        if many >= len(order) or 2 * reach <= off[order[many - 1]]:  # no tree further away can cut the cell
            return float(on_ground.area) / int(shared[alike == alike[own]].sum())
        many *= 4
