"""Sizes of sample plots: how far they reach, how much ground they stand for, and what a slope does to the tape."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.stand import basal_area_m2

Floats = NDArray[np.float64]

CIRCLE, STRIP, ANGLE_COUNT = "circle", "strip", "angle count"
QUAD_SEGS = 32
"""Corners of a quarter circle where a plot is cut with an outline."""


def circle_radius_m(area_m2: float) -> float:
    """Level radius of a circle of that area: r = √(A/π), in m."""
    return math.sqrt(area_m2 / math.pi)


def per_ha_of(area_m2: ArrayLike) -> Floats:
    """Stems a hectare that one stem stands for in a plot of that level area: 10 000/A."""
    return M2_PER_HA / np.asarray(area_m2, np.float64)


def limiting_distance_m(dbh_cm: ArrayLike, baf_m2: ArrayLike) -> Floats:
    """Level distance to the middle of a stem up to which an angle count takes it.

    Symbol R, unit m: R = d/(2·√BAF) with d in cm. Source: W. Bitterlich (1984),
    The Relascope Idea, Commonwealth Agricultural Bureaux (from memory).

    Parameters
    ----------
    dbh_cm : array_like, shape (n,)
        Diameters at breast height. [cm]
    baf_m2 : array_like
        Basal area that each counted stem stands for. [m²/ha]
    """
    return np.asarray(dbh_cm, np.float64) / (2.0 * np.sqrt(np.asarray(baf_m2, np.float64)))


def gauge_angle_deg(baf_m2: float) -> float:
    """Angle of the gauge for a factor: 2·asin(√BAF/100), in degrees. Source as for `limiting_distance_m`."""
    return math.degrees(2.0 * math.asin(math.sqrt(baf_m2) / 100.0))


def counted_stem_per_ha(dbh_cm: ArrayLike, baf_m2: ArrayLike) -> Floats:
    """Stems a hectare that one stem counted by its angle stands for: BAF/g with g = π·d²/40 000 in m²."""
    return np.asarray(baf_m2, np.float64) / basal_area_m2(dbh_cm)


def along_slope_m(level_m: ArrayLike, slope_deg: ArrayLike) -> Floats:
    """Tape length along the slope for a level distance: level/cos(slope), in m."""
    return np.asarray(level_m, np.float64) / np.cos(np.radians(slope_deg))


def slope_radius_m(level_radius_m: ArrayLike, slope_deg: ArrayLike) -> Floats:
    """Radius of a circle laid on the slope whose level area is that of a level circle: r/√cos(slope), in m.

    The level picture of such a circle is an ellipse, shorter up and down the slope and longer along the contour, of
    just the wanted area. Source: geometry; D. Bruce and F. X. Schumacher (1950), Forest Mensuration (from memory).
    """
    return np.asarray(level_radius_m, np.float64) / np.sqrt(np.cos(np.radians(slope_deg)))


@dataclass(frozen=True)
class PlotShape:
    """What a plot takes in, as a zone of ground about its middle, or the same zone about each tree.

    Attributes
    ----------
    kind : str
        ``circle``, ``strip`` or ``angle count``.
    radius_m : float
        Level radius of a circle. [m]
    length_m, width_m : float
        Level size of a strip. [m]
    bearing_deg : float
        Direction in which a strip runs, clockwise from grid north. [degrees]
    baf_m2 : float
        Basal area that a stem counted by its angle stands for. [m²/ha]
    slope_deg, uphill_deg : float
        Slope, and the direction straight up it, of a circle laid out round on the slope with `slope_radius_m`;
        ``uphill_deg`` is nan where distances are level. [degrees]
    """

    kind: str = CIRCLE
    radius_m: float = math.nan
    length_m: float = math.nan
    width_m: float = math.nan
    bearing_deg: float = 0.0
    baf_m2: float = math.nan
    slope_deg: float = 0.0
    uphill_deg: float = math.nan

    @property
    def is_round_on_slope(self) -> bool:
        """Whether it is a circle on the ground, and so an ellipse on the level."""
        return self.kind == CIRCLE and math.isfinite(self.uphill_deg) and self.slope_deg > 0

    @property
    def area_m2(self) -> float:
        """Level ground that it covers; nan for an angle count, where it is another for each tree. [m²]."""
        if self.kind == CIRCLE:
            return math.pi * self.radius_m**2
        return self.length_m * self.width_m if self.kind == STRIP else math.nan

    def reach_m(self, dbh_cm: ArrayLike) -> Floats:
        """Farthest level distance at which a tree may be taken in, shape (n,). [m]."""
        dbh = np.asarray(dbh_cm, np.float64)
        if self.kind == ANGLE_COUNT:
            return limiting_distance_m(dbh, self.baf_m2)
        if self.kind == STRIP:
            return np.full(dbh.shape, math.hypot(self.length_m, self.width_m) / 2)
        wide = slope_radius_m(self.radius_m, self.slope_deg) if self.is_round_on_slope else self.radius_m
        return np.full(dbh.shape, float(wide))

    def holds(self, east_m: Floats, north_m: Floats) -> NDArray[np.bool_] | None:
        """Whether trees within reach are taken in, given how far they lie from the middle; None if all are.

        Parameters
        ----------
        east_m, north_m : ndarray, shape (n,)
            From the middle of the plot to the tree, level. [m]
        """
        if self.kind == STRIP:
            along, across = _turned(east_m, north_m, self.bearing_deg)
            return (np.abs(along) <= self.length_m / 2) & (np.abs(across) <= self.width_m / 2)
        if self.is_round_on_slope:
            up, across = _turned(east_m, north_m, self.uphill_deg)
            return np.hypot(up / math.cos(math.radians(self.slope_deg)), across) <= float(
                slope_radius_m(self.radius_m, self.slope_deg)
            )
        return None

    def ground(self, x: ArrayLike, y: ArrayLike, dbh_cm: ArrayLike, scale: float = 1.0) -> NDArray[np.object_]:
        """Zones about some middles as polygons on the grid, shape (n,).

        Parameters
        ----------
        x, y : array_like, shape (n,)
            Their middles. [grid m]
        dbh_cm : array_like, shape (n,)
            Diameters, read for an angle count only. [cm]
        scale : float
            Grid metres for a metre of ground.
        """
        x, y = np.asarray(x, np.float64), np.asarray(y, np.float64)
        if self.kind == STRIP or self.is_round_on_slope:
            corners = self._outline() * scale
            rings = np.stack([x, y], axis=-1)[:, None, :] + corners
            return np.asarray(shapely.polygons(rings), object)
        reach = np.broadcast_to(self.reach_m(dbh_cm) * scale, x.shape)
        return np.asarray(shapely.buffer(shapely.points(x, y), reach, quad_segs=QUAD_SEGS), object)

    def _outline(self) -> Floats:
        """Corners about the middle, shape (k, 2). [m]."""
        if self.kind == STRIP:
            long, wide = self.length_m / 2, self.width_m / 2
            along, across = np.array([-long, long, long, -long]), np.array([-wide, -wide, wide, wide])
            return _from_turned(along, across, self.bearing_deg)
        turn = np.arange(4 * QUAD_SEGS) * (math.pi / (2 * QUAD_SEGS))
        radius, flat = float(slope_radius_m(self.radius_m, self.slope_deg)), math.cos(math.radians(self.slope_deg))
        return _from_turned(radius * flat * np.cos(turn), radius * np.sin(turn), self.uphill_deg)


def _turned(east: Floats, north: Floats, bearing_deg: float) -> tuple[Floats, Floats]:
    """How far along a bearing, and to the right of it."""
    sin, cos = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
    return east * sin + north * cos, east * cos - north * sin


def _from_turned(along: Floats, across: Floats, bearing_deg: float) -> Floats:
    """East and north of what lies along a bearing and to the right of it, shape (k, 2)."""
    sin, cos = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
    return np.stack([along * sin + across * cos, along * cos - across * sin], axis=-1)
