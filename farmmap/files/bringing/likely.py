"""Why a source lies far off: what else its coordinates may be, tried one by one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from pyproj.exceptions import ProjError

from farmmap.farm.farm import Farm
from farmmap.farm.grids import LON_LAT, Grid, transform

MOST_TRIED = 400
"""Grids tried at most."""


@dataclass(frozen=True)
class Likely:
    """One thing that would put the source on the farm.

    Attributes
    ----------
    words : str
        What seems to have happened.
    remedy : str
        What to add to the command.
    """

    words: str
    remedy: str


def explanations(
    middle: tuple[float, float],
    epsg: int,
    farm: Farm,
    near: Callable[[float, float], bool],
    swap: str,
) -> list[Likely]:
    """Return what would bring the middle of a source near the farm, likeliest first.

    Parameters
    ----------
    middle : tuple of float
        A point in the middle of the source, as it was written. [m or degrees]
    epsg : int
        Grid that it was taken to be on.
    farm : Farm
        The farm.
    near : callable
        Whether a point on the farm's grid is near the farm. [m]
    swap : str
        Option that turns x and y round.
    """
    own = farm.settings.epsg
    x, y = middle
    lon_lat_already = Grid(epsg).crs.is_geographic

    def would_fit(x: float, y: float, grid: int) -> bool:
        if grid == LON_LAT and not (abs(x) <= 180 and abs(y) <= 90):
            return False
        try:
            east, north = (float(v) for v in transform(x, y, grid, own))
        except ProjError:  # some grids have no way to the farm's
            return False
        return bool(np.isfinite(east) and np.isfinite(north)) and near(east, north)

    to_lon_lat, to_own = "--grid EPSG:4326", f"--grid EPSG:{own}"
    what = "Longitude and latitude" if lon_lat_already else "x and y"
    tries = [(y, x, epsg, f"{what} seem to be swapped", swap)]
    if not lon_lat_already:
        tries += [
            (x, y, LON_LAT, "The coordinates seem to be longitude and latitude", to_lon_lat),
            (y, x, LON_LAT, "The coordinates seem to be latitude and longitude", f"{to_lon_lat} {swap}"),
        ]
    if epsg != own:
        tries += [
            (x, y, own, "The coordinates seem to be on the farm's own grid", to_own),
            (y, x, own, "The coordinates seem to be on the farm's own grid, x and y swapped", f"{to_own} {swap}"),
        ]
    for first, second, grid, words, remedy in tries:
        if would_fit(first, second, grid):
            return [Likely(words, remedy)]
    return [] if max(abs(x), abs(y)) <= 1000 else _other_grids(middle, farm, would_fit, swap)


def _other_grids(
    middle: tuple[float, float], farm: Farm, would_fit: Callable[[float, float, int], bool], swap: str
) -> list[Likely]:
    x, y = middle
    found: list[Likely] = []
    for grid, name in _grids_around(farm):
        if would_fit(x, y, grid):
            found.append(Likely(f"The coordinates seem to be on another grid, {name}", f"--grid EPSG:{grid}"))
        elif would_fit(y, x, grid):
            found.append(
                Likely(
                    f"The coordinates seem to be on another grid, {name}, x and y swapped", f"--grid EPSG:{grid} {swap}"
                )
            )
        if len(found) == 3:
            break
    return found


def _grids_around(farm: Farm) -> list[tuple[int, str]]:
    """Return plane grids used where the farm lies: its UTM zone and the two beside it, then those of the country."""
    bounds = farm.bounds()
    area = farm.grid.crs.area_of_use
    if bounds is not None:
        middle = (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2
        lon, lat = (float(v) for v in transform(*middle, farm.settings.epsg, LON_LAT))
    elif area is not None:
        lon, lat = (area.west + (area.east - area.west) % 360 / 2 + 180) % 360 - 180, (area.south + area.north) / 2
    else:
        return []
    if not (np.isfinite(lon) and np.isfinite(lat)):
        return []
    zone = int((lon + 180) // 6) % 60
    base = 32601 if lat >= 0 else 32701
    zones = [(base + (zone + step) % 60, f"UTM zone {(zone + step) % 60 + 1}") for step in (0, -1, 1)]
    around = query_crs_info(
        auth_name="EPSG",
        pj_types=PJType.PROJECTED_CRS,
        area_of_interest=AreaOfInterest(lon, lat, lon, lat),
        contains=True,
    )
    country = [(int(info.code), info.name) for info in around[:MOST_TRIED] if info.code.isdigit()]
    return [pair for pair in [*zones, *country] if pair[0] != farm.settings.epsg]
