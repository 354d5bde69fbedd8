"""Crowns as discs on the ground, and how much of a region they cover."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.discs import covered_area
from farmmap.figures.membership import TreeIndex

Floats = NDArray[np.float64]


def crown_estimate_m(dbh_cm: ArrayLike, base_m: ArrayLike, per_cm: ArrayLike) -> Floats:
    """Crown diameter estimated from the stem: crown = base + slope·d.

    For a tree of several stems d is √Σd², the diameter of one stem with the
    basal area of all. Crowns of free-standing broadleaves are 24 to 27 stem
    diameters wide (Coombes, Martin and Slater 2019, Urban For. Urban Green.
    44, 126421); 20 is common practice in stands.

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters; nan stays nan. [cm]
    base_m, per_cm : array_like, shape (n,)
        Crown of the thinnest stem, and what each cm of stem adds. [m, m/cm]
    """
    return np.asarray(base_m, float) + np.asarray(per_cm, float) * np.asarray(dbh_cm, float)


def cover_ratio(x: ArrayLike, y: ArrayLike, crown_m: ArrayLike, region: shapely.Geometry) -> float:
    """Share of a region under round crowns, ground under several counted once, from 0 to 1.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Where the trees stand. [m]
    crown_m : array_like, shape (n,)
        Crown diameters on the same grid; nan where there is none. [m]
    region : shapely Polygon or MultiPolygon
        Valid and not empty.
    """
    return covered_area(x, y, np.asarray(crown_m, float) / 2, region) / float(region.area)


class CrownMap:
    """Crowns of the trees that stand on a day.

    Attributes
    ----------
    x, y : ndarray, shape (m,)
        Where the trees that have a crown stand. [m]
    radius : ndarray, shape (m,)
        Crown radii, in metres of ground. [m]
    estimated : ndarray of bool, shape (m,)
        Whether the crown was estimated.
    widest : float
        Radius of the widest, 0 if there is none. [m]
    """

    def __init__(self, x: Floats, y: Floats, crown_m: Floats, estimated: NDArray[np.bool_]) -> None:
        has = np.flatnonzero(crown_m > 0)
        self.x, self.y, self.radius, self.estimated = x[has], y[has], crown_m[has] / 2, estimated[has]
        self.widest = float(self.radius.max()) if len(has) else 0.0
        self._index = TreeIndex(self.x, self.y)

    def reaching(self, region: shapely.Geometry, scale: float) -> NDArray[np.intp]:
        """Places of the crowns that reach over a region, increasing.

        Parameters
        ----------
        region : shapely geometry
            On the grid.
        scale : float
            Grid metres for a metre of ground.
        """
        if region.is_empty or not len(self.x):
            return np.empty(0, np.intp)
        wide = self.widest * scale
        west, south, east, north = region.bounds
        near = self._index.in_box(west - wide, south - wide, east + wide, north + wide)
        shapely.prepare(region)
        touch = shapely.dwithin(region, shapely.points(self.x[near], self.y[near]), self.radius[near] * scale)
        return np.sort(near[touch])

    def over(self, region: shapely.Geometry, scale: float) -> tuple[float, int, int]:
        """Share of a region under crowns, how many crowns reach over it, and how many of those are estimated."""
        places = self.reaching(region, scale)
        covered = covered_area(self.x[places], self.y[places], self.radius[places] * scale, region)
        return covered / float(region.area), len(places), int(self.estimated[places].sum())
