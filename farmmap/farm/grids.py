"""Grids: which plane coordinates a farm uses, and what they measure on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import pyproj
from numpy.typing import ArrayLike, NDArray
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError

from farmmap.errors import GridError

LON_LAT = 4326
"""EPSG code of longitude and latitude on WGS 84, as a GPS gives them."""


def parse_grid(text: str | int) -> int:
    """Return the EPSG code in ``text``.

    Parameters
    ----------
    text : str or int
        ``"EPSG:2193"``, ``"2193"`` or ``2193``.

    Raises
    ------
    GridError
        It is not an EPSG code that PROJ knows.
    """
    digits = str(text).strip().upper().removeprefix("EPSG:").strip()
    if not digits.isascii() or not digits.isdigit() or len(digits) > 9:
        raise GridError(f"'{text}' is not a grid; give its EPSG number, such as EPSG:2193")
    try:
        _crs(int(digits))
    except CRSError as error:
        raise GridError(f"EPSG:{digits} is not a grid that is known; look its number up and try again") from error
    return int(digits)


def farm_grid(text: str | int) -> Grid:
    """Return a grid that a farm can be kept on.

    Raises
    ------
    GridError
        It is unknown, is not a plane grid, or is not in metres.
    """
    epsg = parse_grid(text)
    crs = _crs(epsg)
    if not crs.is_projected:
        raise GridError(
            f"EPSG:{epsg} ({crs.name}) is not a plane grid in metres, so distances cannot be drawn on it; "
            "choose your country's grid (New Zealand: EPSG:2193) or your UTM zone"
        )
    units = {axis.unit_name for axis in crs.axis_info[:2]}
    if units - {"metre"}:
        raise GridError(f"EPSG:{epsg} ({crs.name}) is in {', '.join(sorted(units))}; choose a grid in metres")
    return Grid(epsg)


@lru_cache(maxsize=64)
def _crs(epsg: int) -> pyproj.CRS:
    return pyproj.CRS.from_epsg(epsg)


@lru_cache(maxsize=64)
def _transformer(source: int, target: int) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(_crs(source), _crs(target), always_xy=True)


def transform(x: ArrayLike, y: ArrayLike, source: int, target: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Carry points from one grid to another, x always east or longitude.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Coordinates on the grid ``source``. [m or degrees]
    source, target : int
        EPSG codes.

    Returns
    -------
    x, y : ndarray, shape (n,)
        Coordinates on ``target``; inf where the point lies outside its use.
    """
    if source == target:
        return np.asarray(x, float), np.asarray(y, float)
    east, north = _transformer(source, target).transform(np.asarray(x, float), np.asarray(y, float))
    return np.asarray(east, float), np.asarray(north, float)


LOCAL_M = 100_000.0
"""Coordinates smaller than this, where the grid is not in use, are taken for ones measured from a corner post. [m]"""

SURELY_LOCAL_M = 2_000.0
"""Coordinates smaller than this are local wherever the grid is in use: every grid keeps its zero off the land. [m]"""


@dataclass(frozen=True)
class Grid:
    """A plane grid in metres on which a farm is kept.

    Attributes
    ----------
    epsg : int
        Its EPSG code.
    local : bool
        Whether the farm's coordinates are not on that grid at all, but were
        measured from a corner post: then the plane is the ground, with no
        scale to take off and no north that is known.
    """

    epsg: int
    local: bool = False

    @cached_property
    def crs(self) -> pyproj.CRS:
        """The coordinate reference system."""
        return _crs(self.epsg)

    @property
    def name(self) -> str:
        """Name for people, such as ``NZGD2000 / New Zealand Transverse Mercator 2000``."""
        return "local grid, measured from a corner post" if self.local else self.crs.name

    @property
    def label(self) -> str:
        """``EPSG:2193``, or ``local grid``."""
        return "local grid" if self.local else f"EPSG:{self.epsg}"

    def looks_local(self, west: float, south: float, east: float, north: float) -> bool:
        """Whether coordinates within these bounds are small and lie where the grid is not in use."""
        largest = max(abs(west), abs(south), abs(east), abs(north))
        if largest < SURELY_LOCAL_M or largest >= LOCAL_M:
            return largest < SURELY_LOCAL_M
        area = self.crs.area_of_use
        if area is None:
            return False
        lon, lat = self.lon_lat([west, east], [south, north])
        if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
            return True
        width = (area.east - area.west) % 360
        inside = ((lon - area.west) % 360 <= width) & (lat >= area.south) & (lat <= area.north)
        return not bool(inside.any())

    @cached_property
    def geod(self) -> pyproj.Geod:
        """The ellipsoid of the grid's datum."""
        geod = self.crs.get_geod()
        if geod is None:  # pragma: no cover - every projected EPSG grid names an ellipsoid
            raise GridError(f"{self.label} names no ellipsoid")
        return geod

    @cached_property
    def _datum_epsg_transformer(self) -> pyproj.Transformer:
        geographic = self.crs.geodetic_crs
        if geographic is None:  # pragma: no cover
            raise GridError(f"{self.label} has no longitudes and latitudes")
        return pyproj.Transformer.from_crs(self.crs, geographic, always_xy=True)

    def lon_lat(self, x: ArrayLike, y: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Longitude and latitude on the grid's own datum, with no datum shift, in degrees."""
        lon, lat = self._datum_epsg_transformer.transform(np.asarray(x, float), np.asarray(y, float))
        return np.asarray(lon, float), np.asarray(lat, float)

    def east_north(self, lon: ArrayLike, lat: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Grid coordinates of longitudes and latitudes on the grid's own datum in degrees; the reverse of `lon_lat`."""
        x, y = self._datum_epsg_transformer.transform(
            np.asarray(lon, float), np.asarray(lat, float), direction=TransformDirection.INVERSE
        )
        return np.asarray(x, float), np.asarray(y, float)

    @property
    def datum(self) -> str:
        """Name for people of the datum that its latitudes are on, such as ``NZGD2000``; "" on a local grid."""
        geographic = None if self.local else self.crs.geodetic_crs
        return "" if geographic is None else str(geographic.name)

    def scale(self, x: float, y: float) -> float:
        """Grid metres for one metre on the ellipsoid at a point (the point scale factor).

        Mean of the factors along the meridian and the parallel; equal on a
        conformal grid. 1 on a local grid.
        """
        if self.local:
            return 1.0
        factors = self._proj.get_factors(*self.lon_lat(x, y))
        return float((factors.meridional_scale + factors.parallel_scale) / 2)

    def convergence_deg(self, x: float, y: float) -> float:
        """Degrees from true north to grid north at a point, positive where grid north lies east of true.

        This is PROJ's sign; survey manuals that add the convergence to an
        azimuth to get a grid bearing write it the other way round. nan on a
        local grid, whose north is not known.
        """
        if self.local:
            return float("nan")
        return float(self._proj.get_factors(*self.lon_lat(x, y)).meridian_convergence)

    @cached_property
    def _proj(self) -> pyproj.Proj:
        return pyproj.Proj(self.crs)
