"""Where on the ground the map looks, and how that becomes millimetres of screen or paper."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from farmmap.farm.grids import LON_LAT, Grid, transform

Floats = NDArray[np.float64]
Bounds = tuple[float, float, float, float]
"""x and y of the south-west and the north-east corner. [m]"""

CLOSEST_M_PER_MM = 0.05
FARTHEST_M_PER_MM = 5000.0
HALF_OF_NOTHING_M = 500.0
"""How far the map reaches from its middle to each side where nothing is drawn yet. [m]"""


@dataclass(frozen=True)
class View:
    """A rectangle of map: its middle on the ground, its scale and its size.

    Attributes
    ----------
    centre_x, centre_y : float
        Ground in the middle of the picture. [m]
    metres_per_mm : float
        Ground shown by one millimetre; the scale is 1 : 1000 times this.
    width_mm, height_mm : float
        Size of the picture. [mm]
    rotation : float
        Angle by which grid north is turned clockwise from the top of the picture. [degrees]
    """

    centre_x: float
    centre_y: float
    metres_per_mm: float
    width_mm: float
    height_mm: float
    rotation: float = 0.0

    @property
    def scale_denominator(self) -> float:
        """The N of a scale 1:N."""
        return self.metres_per_mm * 1000.0

    def to_mm(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Millimetres right of and below the picture's upper left corner.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            Ground coordinates. [m]
        """
        east = (np.asarray(x, np.float64) - self.centre_x) / self.metres_per_mm
        north = (np.asarray(y, np.float64) - self.centre_y) / self.metres_per_mm
        if self.rotation:
            cos, sin = self._turn()
            east, north = east * cos + north * sin, north * cos - east * sin
        return self.width_mm / 2 + east, self.height_mm / 2 - north

    def to_dots(self, x: ArrayLike, y: ArrayLike, dots_per_mm: float) -> tuple[Floats, Floats]:
        """Dots right of and below the picture's upper left corner: `to_mm` for a device, in fewer steps.

        Parameters
        ----------
        x, y : array_like, shape (n,)
            Ground coordinates. [m]
        dots_per_mm : float
            Resolution of the device.
        """
        if self.rotation:
            across, down = self.to_mm(x, y)
            return across * dots_per_mm, down * dots_per_mm
        dots = dots_per_mm / self.metres_per_mm
        across = np.asarray(x, np.float64) - (self.centre_x - self.width_mm / 2 * self.metres_per_mm)
        across *= dots
        down = (self.centre_y + self.height_mm / 2 * self.metres_per_mm) - np.asarray(y, np.float64)
        down *= dots
        return across, down

    def to_ground(self, x_mm: ArrayLike, y_mm: ArrayLike) -> tuple[Floats, Floats]:
        """Ground coordinates of points of the picture; the reverse of `to_mm`. [m]."""
        east = np.asarray(x_mm, np.float64) - self.width_mm / 2
        north = self.height_mm / 2 - np.asarray(y_mm, np.float64)
        if self.rotation:
            cos, sin = self._turn()
            east, north = east * cos - north * sin, north * cos + east * sin
        return self.centre_x + east * self.metres_per_mm, self.centre_y + north * self.metres_per_mm

    def ground_bounds(self, margin_mm: float = 0.0) -> Bounds:
        """Smallest upright rectangle of ground that holds the picture, widened by a margin. [m]."""
        across = np.array([-margin_mm, self.width_mm + margin_mm])
        down = np.array([-margin_mm, self.height_mm + margin_mm])
        x, y = self.to_ground(across[[0, 1, 1, 0]], down[[0, 0, 1, 1]])
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())

    def zoomed(self, factor: float, about_mm: tuple[float, float] | None = None) -> View:
        """Return the view with everything ``factor`` times as large, one point of the picture staying where it is.

        Parameters
        ----------
        factor : float
            More than 1 to come closer.
        about_mm : tuple of float, optional
            The point that stays; the middle if not given. [mm]
        """
        metres = min(max(self.metres_per_mm / factor, CLOSEST_M_PER_MM), FARTHEST_M_PER_MM)
        closer = replace(self, metres_per_mm=metres)
        if about_mm is None:
            return closer
        x, y = self.to_ground(*about_mm)
        new_x, new_y = closer.to_ground(*about_mm)
        return replace(closer, centre_x=self.centre_x + float(x - new_x), centre_y=self.centre_y + float(y - new_y))

    def panned(self, dx_mm: float, dy_mm: float) -> View:
        """Return the view after the picture was pushed right and down by so many millimetres."""
        x, y = self.to_ground(self.width_mm / 2 - dx_mm, self.height_mm / 2 - dy_mm)
        return replace(self, centre_x=float(x), centre_y=float(y))

    def sized(self, width_mm: float, height_mm: float) -> View:
        """Return the view with the same middle and scale in a picture of another size."""
        return replace(self, width_mm=width_mm, height_mm=height_mm)

    def centred(self, x: float, y: float) -> View:
        """Return the view with other ground in its middle."""
        return replace(self, centre_x=x, centre_y=y)

    @classmethod
    def fitting(cls, bounds: Bounds | None, width_mm: float, height_mm: float, margin_mm: float = 5.0) -> View:
        """Return the closest view that shows all of ``bounds`` with a margin of millimetres around it.

        Parameters
        ----------
        bounds : tuple of float or None
            Ground to show; None for a farm with nothing drawn yet. [m]
        width_mm, height_mm : float
            Size of the picture. [mm]
        margin_mm : float
            Kept free at each side, as far as the picture allows. [mm]
        """
        west, south, east, north = bounds or around(0.0, 0.0)
        wide = max(width_mm - 2 * margin_mm, width_mm / 2, 1e-3)
        high = max(height_mm - 2 * margin_mm, height_mm / 2, 1e-3)
        metres = max((east - west) / wide, (north - south) / high, 0.02)
        return cls((west + east) / 2, (south + north) / 2, min(metres, FARTHEST_M_PER_MM), width_mm, height_mm)

    def _turn(self) -> tuple[float, float]:
        angle = math.radians(self.rotation)
        return math.cos(angle), math.sin(angle)


def around(x: float, y: float) -> Bounds:
    """Return the ground to be shown about a place where nothing is drawn yet, 1 km across. [m]."""
    return x - HALF_OF_NOTHING_M, y - HALF_OF_NOTHING_M, x + HALF_OF_NOTHING_M, y + HALF_OF_NOTHING_M


def first_ground(grid: Grid) -> Bounds:
    """Return the ground to begin on with a farm on which nothing is drawn: in the middle of where its grid is in use.

    Parameters
    ----------
    grid : Grid
        The farm's; one measured from a corner post begins at that post.

    Returns
    -------
    tuple of float
        On the farm's grid, 1 km across. [m]
    """
    area = None if grid.local else grid.crs.area_of_use
    if area is None:
        return around(0.0, 0.0)
    width = (area.east - area.west) % 360.0 or 360.0  # some lie across 180 degrees
    lon = (area.west + width / 2 + 180.0) % 360.0 - 180.0
    x, y = transform([lon], [(area.south + area.north) / 2], LON_LAT, grid.epsg)
    return around(float(x[0]), float(y[0])) if np.isfinite([x[0], y[0]]).all() else around(0.0, 0.0)
