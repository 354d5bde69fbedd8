"""Places handed on to a GPS: longitude and latitude as it has them, and GPX as text."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.grids import LON_LAT, transform

if TYPE_CHECKING:
    from farmmap.farm.grids import Grid

Floats = NDArray[np.float64]

DEGREE_PLACES = 8
"""Decimals of longitude and latitude: about a millimetre on the ground."""

_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def lon_lat(grid: Grid, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return longitude and latitude on WGS 84, as a GPS has them; nan where there are none, as on a local grid.

    Parameters
    ----------
    grid : Grid
        The farm's grid.
    x, y : ndarray, shape (n,)
        Places on it. [grid m]

    Returns
    -------
    lon, lat : ndarray, shape (n,)
        Longitude from -180 to 180, and latitude. [degrees]
    """
    if grid.local:
        return np.full(np.shape(x), np.nan), np.full(np.shape(x), np.nan)
    lon, lat = transform(x, y, grid.epsg, LON_LAT)
    known = np.isfinite(lon) & np.isfinite(lat)
    return np.where(known, (lon + 180.0) % 360.0 - 180.0, np.nan), np.where(known, lat, np.nan)


def refuse_unplaced(lon: Floats, what: str) -> None:
    """Say so where a place has no longitude and latitude.

    Parameters
    ----------
    lon : ndarray
        Longitudes as `lon_lat` gives them.
    what : str
        What stands there, and that it does, such as ``"some of the trees stand"``.

    Raises
    ------
    BadInput
        One of them is nan.
    """
    if not np.isfinite(lon).all():
        raise BadInput(
            f"{what} where the farm's grid has no longitude and latitude; write a .csv, or check the grid of the farm"
        )


def refuse_local(name: str, grid: Grid, instead: str = "a .csv") -> None:
    """Say so where a file of some name needs longitudes and latitudes and the farm has none.

    Raises
    ------
    BadInput
        The grid is a local one.
    """
    if grid.local:
        raise BadInput(
            f"{name} needs longitudes and latitudes, and this farm is measured from a corner post; write {instead}"
        )


def decimals(values: Floats, places: int) -> list[str]:
    """Return numbers with so many decimals, "" where not known."""
    return ["" if text == "nan" else text for text in [f"{value:.{places}f}" for value in values.tolist()]]


def xml_text(text: str) -> str:
    """Return text as it stands in XML, without what XML cannot hold."""
    return escape(_NOT_XML.sub("", text))


def gpx(name: str, parts: Iterable[str]) -> str:
    """Return GPX 1.1 (https://www.topografix.com/GPX/1/1/gpx.xsd).

    Parameters
    ----------
    name : str
        What it is called.
    parts : iterable of str
        All `points` first, then routes, then tracks, as the schema has it.
    """
    return "".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>\n',
            '<gpx version="1.1" creator="farmmap" xmlns="http://www.topografix.com/GPX/1/1">\n',
            f"<metadata><name>{xml_text(name)}</name></metadata>\n",
            *parts,
            "</gpx>\n",
        )
    )


def point_end(kind: str, words: str = "") -> str:
    """Return the end of a point, the same for all that are of one kind and told of in the same words."""
    described = f"<desc>{xml_text(words)}</desc>" if words else ""
    return f"</name>{described}<type>{xml_text(kind)}</type></wpt>\n"


def points(lon: Floats, lat: Floats, names: Iterable[str], ends: Iterable[str]) -> list[str]:
    """Return points for `gpx`.

    Parameters
    ----------
    lon, lat : ndarray, shape (n,)
        Where they are. [degrees]
    names : iterable of str
        What each is called, as `xml_text`.
    ends : iterable of str
        The `point_end` of each.
    """
    return [
        f'<wpt lat="{north}" lon="{east}"><name>{name}{end}'
        for north, east, name, end in zip(
            decimals(lat, DEGREE_PLACES), decimals(lon, DEGREE_PLACES), names, ends, strict=True
        )
    ]


def route(lon: Floats, lat: Floats, name: str, kind: str) -> str:
    """Return places in the order in which they are walked as a route for `gpx`.

    Parameters
    ----------
    lon, lat : ndarray, shape (n,)
        Where they are. [degrees]
    name, kind : str
        What it is called, and what it is.
    """
    head = f"<rte><name>{xml_text(name)}</name><type>{xml_text(kind)}</type>\n"
    return "".join((head, *_corners("rtept", lon, lat), "</rte>\n"))


def track(lon: Floats, lat: Floats, name: str, kind: str, words: str) -> str:
    """Return a line as a track for `gpx`.

    Parameters
    ----------
    lon, lat : ndarray, shape (n,)
        Its corners. [degrees]
    name, kind, words : str
        What it is called, what it is, and what is told of it.
    """
    head = f"<trk><name>{xml_text(name)}</name><desc>{xml_text(words)}</desc><type>{xml_text(kind)}</type><trkseg>\n"
    return "".join((head, *_corners("trkpt", lon, lat), "</trkseg></trk>\n"))


def _corners(tag: str, lon: Floats, lat: Floats) -> list[str]:
    return [
        f'<{tag} lat="{north}" lon="{east}"/>\n'
        for north, east in zip(decimals(lat, DEGREE_PLACES), decimals(lon, DEGREE_PLACES), strict=True)
    ]
