"""Whether trees stand evenly, at random or in clumps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.room.edges import arc_share, edge_weight
from farmmap.figures.room.pairs import within

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Evenness:
    """How evenly trees stand: 1 at random, less in clumps, more if they keep apart, at most 2.149 on equal triangles.

    Attributes
    ----------
    mean_m, expected_m : float
        Mean distance to the nearest tree, and what it would be at random. [m]
    ratio, z : float
        Mean ÷ expected, and by how many standard errors it differs from random.
    corrected : float
        The ratio with Donnelly's correction for the edge of the ground.
    """

    mean_m: float
    expected_m: float
    ratio: float
    z: float
    corrected: float


def evenness(x: ArrayLike, y: ArrayLike, area_m2: float, edge_m: float) -> Evenness | None:
    """Return how evenly trees stand, by the distance to the nearest tree.

    Sources: P. J. Clark and F. C. Evans (1954), Distance to nearest neighbor
    as a measure of spatial relationships in populations, Ecology 35, 445–453;
    edge: K. P. Donnelly (1978), Simulations to determine the variance and edge
    effect of total nearest-neighbour distance (from memory).

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand. [m]
    area_m2, edge_m : float
        Area of the ground, and length of its outline. [m², m]

    Returns
    -------
    Evenness or None
        None for fewer than two trees or no area.
    """
    at = np.column_stack([np.asarray(x, np.float64), np.asarray(y, np.float64)])
    at = at[np.isfinite(at).all(axis=1)]
    many = len(at)
    if many < 2 or not area_m2 > 0:
        return None
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy: a farm is opened before it is needed

    mean = float(cKDTree(at).query(at, k=2)[0][:, 1].mean())
    expected = 0.5 * math.sqrt(area_m2 / many)
    error = 0.26136 * math.sqrt(area_m2) / many
    by_edge = expected + (0.0514 + 0.041 / math.sqrt(many)) * edge_m / many
    return Evenness(mean, expected, mean / expected, (mean - expected) / error, mean / by_edge)


def ripley_k(x: Floats, y: Floats, ground: shapely.Geometry, radii_m: Floats) -> Floats:
    """Ripley's K: mean number of further trees within each radius of a tree, over the stocking, in m².

    With the isotropic edge correction: B. D. Ripley (1977), Modelling spatial
    patterns, J. R. Stat. Soc. B 39, 172–212. π·r² at random.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Trees on the ground. [m]
    ground : shapely Polygon or MultiPolygon
        The ground.
    radii_m : ndarray, shape (k,)
        Radii, increasing. [m]
    """
    total = np.zeros(len(radii_m))
    for pairs in within(x, y, float(radii_m[-1])):
        share = arc_share(x[pairs.tree], y[pairs.tree], pairs.distance_m, ground)
        first = np.searchsorted(radii_m, pairs.distance_m)
        total += np.cumsum(np.bincount(first, edge_weight(share), len(radii_m))[: len(radii_m)])
    return total * float(ground.area) / (len(x) * (len(x) - 1))
