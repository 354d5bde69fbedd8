"""Coordinates of a source to the farm's grid, and noticing when they cannot be meant so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from pyproj.exceptions import ProjError

from farmmap.errors import BadInput, GridError
from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, Grid, transform
from farmmap.files.bringing.likely import Likely, explanations

FAR_M = 50_000.0
"""Further than this from everything on the farm is taken for a mistake. [m]"""

_LOCAL = (
    "These look like local coordinates, measured from a corner post; they are kept as they are. "
    "To put them where they lie, bring them with --origin EAST,NORTH of that corner."
)

XY = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass
class Places:
    """How coordinates of a source become the farm's, decided once for the whole of it.

    Attributes
    ----------
    epsg : int
        Grid of the source.
    origin : tuple of float
        Where the source's 0, 0 lies on the farm's grid. [m]
    said : list of str
        What was taken for granted.
    """

    farm: Farm
    epsg: int
    origin: tuple[float, float] = (0.0, 0.0)
    said: list[str] = field(default_factory=list[str])

    def carried(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> XY:
        """Return points on the farm's grid; inf where they lie outside its use. [m]."""
        try:
            east, north = transform(x, y, self.epsg, self.farm.settings.epsg)
        except ProjError as error:
            raise GridError(f"EPSG:{self.epsg} is no grid that can be carried over to {self.farm.grid.name}") from error
        return east + self.origin[0], north + self.origin[1]


@dataclass(frozen=True)
class Declared:
    """What is known of a source's grid before its numbers are looked at.

    Attributes
    ----------
    in_file : int or None
        Grid that the file declares.
    by_standard : bool
        It does so only because its standard says longitude and latitude.
    chosen : int or None
        Grid that the person named.
    lon_lat : bool
        Columns are headed longitude and latitude.
    swap : str
        What to say to turn x and y round.
    """

    in_file: int | None
    by_standard: bool
    chosen: int | None
    lon_lat: bool
    swap: str


def placed(
    farm: Farm,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    declared: Declared,
    *,
    origin: tuple[float, float] | None = None,
    anyway: bool = False,
) -> Places:
    """Decide which grid a source is on, and refuse what cannot be meant.

    Parameters
    ----------
    farm : Farm
        The farm that it goes into.
    x, y : ndarray, shape (n,)
        Every coordinate of the source, finite.
    declared : Declared
        What the file and the person say.
    origin : tuple of float, optional
        Where on the farm's grid the source's 0, 0 lies. [m]
    anyway : bool
        Bring it in however far off it lies.

    Raises
    ------
    BadInput
        It lies far off the farm, or can only be meant otherwise; the message says how.
    """
    own = farm.settings.epsg
    said: list[str] = []
    epsg = _grid(farm, declared, said)
    if not len(x):
        return Places(farm, epsg, said=said)
    if origin is not None:
        if declared.chosen not in {None, own}:
            raise BadInput("give either a grid or an origin: an origin is for coordinates measured from a corner post")
        said = [f"0, 0 was put at E {origin[0]:.2f}, N {origin[1]:.2f}."]
        return Places(farm, own, origin, said)
    if epsg != own and declared.by_standard and declared.chosen is None and _on_own_grid(farm, x, y, epsg):
        said.append(
            f"Its coordinates are no longitudes and latitudes; they were taken as on the farm's grid, EPSG:{own}."
        )
        epsg = own
    places = Places(farm, epsg, said=said)
    if not anyway:
        most = _most(farm, epsg, x, y)
        _check(places, x[most], y[most], declared)
    return places


def _grid(farm: Farm, declared: Declared, said: list[str]) -> int:
    if declared.chosen is not None:
        if declared.in_file not in {None, declared.chosen} and not declared.by_standard:
            said.append(f"The file declares EPSG:{declared.in_file}; EPSG:{declared.chosen} was taken, as you said.")
        return declared.chosen
    if declared.in_file is not None:
        return declared.in_file
    if declared.lon_lat:
        return LON_LAT
    said.append(f"No grid is named; the coordinates were taken as on the farm's own, EPSG:{farm.settings.epsg}.")
    return farm.settings.epsg


def is_local(grid: Grid, x: NDArray[np.float64], y: NDArray[np.float64]) -> bool:
    """Whether coordinates look as if measured from a corner post; see `Grid.looks_local`."""
    return bool(len(x)) and grid.looks_local(float(x.min()), float(y.min()), float(x.max()), float(y.max()))


def outside_use_deg(epsg: int, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far points of a grid lie outside the area that it is made for; inf if nowhere at all. [degrees]."""
    lon, lat = transform(x, y, epsg, LON_LAT)
    area = Grid(epsg).crs.area_of_use
    nowhere = ~(np.isfinite(lon) & np.isfinite(lat))
    if area is None:
        return np.where(nowhere, np.inf, 0.0)
    lon, lat = np.where(nowhere, 0.0, lon), np.where(nowhere, 0.0, lat)
    width = (area.east - area.west) % 360 or 360.0
    past_west = (lon - area.west) % 360
    past_east = np.where(past_west <= width, 0.0, np.minimum(past_west - width, 360 - past_west))
    off = np.maximum.reduce([past_east, area.south - lat, lat - area.north, np.zeros_like(lat)])
    return np.where(nowhere, np.inf, off)


def off_m(farm: Farm, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far points lie from everything on the farm; of an empty farm, whether its grid reaches there (0 or inf)."""
    bounds = farm.bounds()
    if bounds is None:
        return np.where(outside_use_deg(farm.settings.epsg, x, y) < 2, 0.0, np.inf)
    west, south, east, north = bounds
    off = np.hypot(np.maximum.reduce([west - x, x - east, 0 * x]), np.maximum.reduce([south - y, y - north, 0 * y]))
    return np.where(np.isfinite(x) & np.isfinite(y), off, np.inf)


def _most(farm: Farm, epsg: int, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return the points that speak for the whole: those that lie together, without the few that are far off."""
    near = (np.abs(x - np.median(x)) <= FAR_M) & (np.abs(y - np.median(y)) <= FAR_M)
    if near.mean() <= 0.5:
        with np.errstate(invalid="ignore"):
            near = off_m(farm, *Places(farm, epsg).carried(x, y)) < FAR_M
    return near if near.mean() >= 0.5 else np.ones(len(x), bool)


def _on_own_grid(farm: Farm, x: NDArray[np.float64], y: NDArray[np.float64], epsg: int) -> bool:
    """Whether what a standard says are degrees can only be metres on the farm's grid."""
    widest_x, widest_y = float(np.abs(x).max()), float(np.abs(y).max())
    spread = max(float(np.ptp(x)), float(np.ptp(y)))
    if widest_x > 180 or widest_y > 90:
        lat_lon = widest_x <= 90 and widest_y <= 180 and spread < 1
        return not lat_lon and (max(widest_x, widest_y) > 360 or is_local(farm.grid, x, y))
    east, north = transform(float(np.median(x)), float(np.median(y)), epsg, farm.settings.epsg)
    if _off_m(farm, float(east), float(north)) < FAR_M:
        return False
    if farm.bounds() is None:
        return spread > 1 and is_local(farm.grid, x, y)
    return _off_m(farm, float(np.median(x)), float(np.median(y))) < 1000 and spread > 0.1


def _off_m(farm: Farm, x: float, y: float) -> float:
    if not (np.isfinite(x) and np.isfinite(y)):
        return float("inf")
    return float(off_m(farm, np.array([x]), np.array([y]))[0])


def _check(places: Places, x: NDArray[np.float64], y: NDArray[np.float64], declared: Declared) -> None:
    farm, own = places.farm, places.farm.settings.epsg
    middle = float(np.median(x)), float(np.median(y))
    east, north = places.carried(np.array([middle[0]]), np.array([middle[1]]))
    off = _off_m(farm, float(east[0]), float(north[0]))
    empty = farm.bounds() is None
    spread = max(float(np.ptp(x)), float(np.ptp(y)))
    degrees = max(abs(middle[0]), abs(middle[1])) <= 180 and min(abs(middle[0]), abs(middle[1])) <= 90 and spread < 1
    if empty and places.epsg == own and is_local(farm.grid, x, y) and not degrees:
        places.said.append(_LOCAL)
        return
    if off < FAR_M:
        return
    near: Callable[[float, float], bool] = lambda e, n: _off_m(farm, e, n) < FAR_M  # noqa: E731
    causes = explanations(middle, places.epsg, farm, near, declared.swap)
    if causes:
        raise BadInput(_refusal(off, empty, causes, farm))
    if empty:
        if not np.isfinite(east[0]):
            return  # every row says for itself that it lies outside the grid
        if places.epsg == own and is_local(farm.grid, x, y):
            places.said.append(_LOCAL)
            return
        places.said.append(
            f"This lies outside the area that {farm.grid.name} is made for; if that is not so, check the grid."
        )
        return
    remedy = "If it does belong there, say --anyway."
    if is_local(farm.grid, x, y) and places.epsg == own:
        remedy = (
            "These look like local coordinates, measured from a corner post: "
            "say where it stands with --origin EAST,NORTH. " + remedy
        )
    else:
        remedy = "Check which grid it is on and name it with --grid EPSG:N. " + remedy
    raise BadInput(f"this lies {_distance(off)} from the farm, so nothing was brought in. {remedy}")


def _refusal(off: float, empty: bool, causes: list[Likely], farm: Farm) -> str:
    first = causes[0]
    where = (
        f"this lies outside the area that {farm.grid.name} is made for"
        if empty or not np.isfinite(off)
        else f"this lies {_distance(off)} from the farm"
    )
    others = f" (or {'; or '.join(cause.remedy for cause in causes[1:3])})" if len(causes) > 1 else ""
    return f"{where}, so nothing was brought in. {first.words}: bring it with {first.remedy}{others}."


def _distance(metres: float) -> str:
    return "too far to tell" if not np.isfinite(metres) else f"{metres / 1000:,.0f} km".replace(",", " ")
