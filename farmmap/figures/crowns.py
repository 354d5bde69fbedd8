"""Crowns as discs on the ground, and how much of a region they cover."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.splice import Moves
from farmmap.figures.canopy import Canopy, covered_area
from farmmap.figures.crown_rows import covered_by_rows
from farmmap.figures.discs import Discs
from farmmap.figures.prepared import prepared

Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Bools = NDArray[np.bool_]

SCALE_PLACES = 5
"""Decimals of the scale at which crowns are laid out."""


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


def radius_of(crown_m: Floats) -> Floats:
    """Radius of crowns, 0 where there is none, in m."""
    return np.where(crown_m > 0, crown_m / 2, 0.0)


class CrownMap:
    """Crowns of the trees that stand on a day. Arrays have shape (n,), a place for each of the trees.

    Parameters
    ----------
    x, y : ndarray
        Where the trees stand. [m]
    crown_m : ndarray
        Crown diameters, in metres of ground; nan where there is none. [m]
    estimated : ndarray of bool
        Whether the crown was estimated.

    Attributes
    ----------
    radius : ndarray
        Crown radii, in metres of ground; 0 where there is none. [m]
    widest : float
        Radius of about the widest, at least that of any; 0 if there is none. [m]
    """

    def __init__(self, x: Floats, y: Floats, crown_m: Floats, estimated: Bools) -> None:
        self._lay_out(Discs(x, y, radius_of(crown_m)), estimated)

    def _lay_out(self, discs: Discs, estimated: Bools) -> None:
        self.x, self.y, self.radius, self.estimated = discs.x, discs.y, discs.radius, estimated
        self.widest = max((level.largest for level in discs.levels.values()), default=0.0)
        self._discs = discs
        self._canopies: dict[float, Canopy] = {}

    def after(
        self, moves: Moves, old: Places, new: Places, there: tuple[Floats, Floats, Floats, Bools]
    ) -> CrownMap | None:
        """Return the crowns after some trees changed, or None if all have to be worked out anew.

        Parameters
        ----------
        moves : Moves
            How the places of all trees change.
        old, new : ndarray of int
            Places before and after of the trees that changed, were taken out or put in.
        there : tuple of ndarray
            ``x``, ``y``, ``crown_m`` and ``estimated`` of all trees after, as for `CrownMap`.
        """
        x, y, crown_m, estimated = there
        put = radius_of(crown_m[new])
        radius = moves.spliced(self.radius, put if len(put) == len(moves.at) else np.zeros(len(moves.at)))
        if not np.array_equal(radius[new], put):
            radius = radius.copy()
            radius[new] = put
        discs = self._discs.after(moves, old, new, (x, y, radius))
        if discs is None:
            return None
        out = object.__new__(CrownMap)
        out._lay_out(discs, estimated)
        touched = [np.column_stack([of.x[at], of.y[at], of.radius[at]]) for of, at in ((self, old), (out, new))]
        if not moves and np.array_equal(old, new):  # crowns that are as they were are felt nowhere
            other = (touched[0] != touched[1]).any(axis=1) | (self.estimated[old] != estimated[new])
            touched = [rows[other] for rows in touched]
        for scale, canopy in list(self._canopies.items()):
            felt = np.concatenate(touched) * np.array([1.0, 1.0, scale])
            out._canopies[scale] = canopy.after(discs.scaled(scale), out.estimated, felt)
        return out

    def reaching(self, region: shapely.Geometry, scale: float) -> Places:
        """Places of the crowns that reach over a region, increasing.

        Parameters
        ----------
        region : shapely geometry
            On the grid.
        scale : float
            Grid metres for a metre of ground.
        """
        if region.is_empty:
            return np.empty(0, np.intp)
        discs = self._discs.scaled(_rounded(scale))
        boxes = _parts_of_box(region, max(self.widest * scale, 1.0))
        near = np.unique(np.concatenate([discs.in_box(*map(float, box)) for box in boxes]))
        touch = shapely.dwithin(prepared(region), shapely.points(self.x[near], self.y[near]), self.radius[near] * scale)
        return near[touch]

    def over(
        self, region: shapely.Geometry, scale: float, was: shapely.Geometry | None = None, *, keep: bool = False
    ) -> tuple[float, int, int]:
        """Share of a region under crowns, how many crowns reach over it, and how many of those are estimated.

        ``was`` and ``keep`` are as for `Canopy.cover`.
        """
        found = self._canopy(scale).cover(region, was, keep=keep)
        area = float(region.area)
        return found.area / area if area > 0 else 0.0, found.reaching, found.marked

    def make_ready(self, regions: NDArray[np.object_], scales: Floats) -> None:
        """Work out together what `over` needs for many regions, given the scale of each; shape (n,)."""
        near = np.array([_rounded(scale) for scale in scales.tolist()])
        for one in set(near.tolist()):
            self._canopy(one).make_ready(regions[near == one].tolist())

    def cover_places(self, x: Floats, y: Floats, scale: float) -> Bools:
        """Which places lie under a crown. ``x``, ``y`` and the answer have shape (k,); ``scale`` as in `reaching`."""
        discs = self._discs.scaled(_rounded(scale))
        place, crown = discs.near(x, y, np.zeros(len(x)))
        off_x, off_y, reach = self.x[crown] - x[place], self.y[crown] - y[place], discs.radius_of(crown)
        out = np.zeros(len(x), bool)
        out[place[off_x * off_x + off_y * off_y < reach * reach]] = True
        return out

    def about_over(self, region: shapely.Geometry, scale: float) -> tuple[float, int, int]:
        """`over`, counted along rows: quick and within 0.1 %, for while something moves."""
        places = self.reaching(region, scale)
        covered = covered_by_rows(self.x[places], self.y[places], self.radius[places] * scale, region)
        return covered / float(region.area), len(places), int(self.estimated[places].sum())

    def _canopy(self, scale: float) -> Canopy:
        """Crowns at about this scale, so that blocks side by side share what is worked out."""
        near = _rounded(scale)
        found = self._canopies.get(near)
        if found is None:
            found = self._canopies.setdefault(near, Canopy(self._discs.scaled(near), self.estimated))
        return found


def _rounded(scale: float) -> float:
    """Return the scale to a hundred-thousandth: less than a tenth of a millimetre on any crown."""
    return round(scale, SCALE_PLACES)


def _parts_of_box(region: shapely.Geometry, least: float) -> Floats:
    """Rectangles that hold a region, fewer and smaller ones where it winds. Shape (k, 4)."""
    west, south, east, north = region.bounds
    size = max((east - west) / 24, (north - south) / 24, 4 * least)
    columns, rows = int((east - west) // size) + 1, int((north - south) // size) + 1
    if columns * rows <= 4:
        return np.array([[west, south, east, north]])
    left, low = np.meshgrid(west + np.arange(columns) * size, south + np.arange(rows) * size)
    boxes = np.column_stack([left.ravel(), low.ravel(), left.ravel() + size, low.ravel() + size])
    return boxes[shapely.intersects(prepared(region), shapely.box(*boxes.T))]
