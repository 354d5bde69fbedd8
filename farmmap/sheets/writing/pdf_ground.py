"""Where on the earth the maps of a PDF lie, so that a phone which reads such files shows where one stands.

As ISO 32000-2 (2020), section 12.10, and before it Adobe's Supplement to the
ISO 32000 (2008), extension level 3, have it: every map is a viewport of its
page with a measure of the kind GEO.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import numpy as np
from pikepdf import Array, Dictionary, Name, Object, Pdf, String
from pyproj import Transformer
from pyproj.crs import CRS
from pyproj.exceptions import CRSError

from farmmap.farm.grids import Grid
from farmmap.scene.paper import Paper
from farmmap.scene.styles import POINT_MM
from farmmap.scene.view import Floats, View
from farmmap.sheets.page import MapOnPage

_CORNERS = ((0.0, 1.0), (0.0, 0.0), (1.0, 0.0), (1.0, 1.0))
"""Of a map, in widths and heights from its lower left: upper left first, against the clock."""

_PLACES = 9  # of a degree: a tenth of a millimetre on the ground


def corners_deg(view: View, grid: Grid) -> Floats:
    """Return latitude and longitude of a map's corners on the geographic system that its grid is laid over.

    Parameters
    ----------
    view : View
        What the map shows.
    grid : Grid
        The farm's, not a local one.

    Returns
    -------
    ndarray, shape (4, 2)
        In the order of the measure's ``/LPTS``: upper left, lower left, lower right, upper right. [degrees]
    """
    across, up = np.array(_CORNERS).T
    x, y = view.to_ground(across * view.width_mm, (1 - up) * view.height_mm)
    base = grid.crs.geodetic_crs
    assert base is not None  # every plane grid is laid over one
    longitude, latitude = Transformer.from_crs(grid.crs, base.to_2d(), always_xy=True).transform(x, y)
    return np.column_stack([latitude, longitude])


def add_viewports(pdf: Pdf, page: Object, paper: Paper, maps: Sequence[MapOnPage], grid: Grid) -> None:
    """Give a page a viewport for each of its maps; none where the farm's grid is no place on the earth.

    Parameters
    ----------
    pdf : Pdf
        The file.
    page : Object
        Its page.
    paper : Paper
        Its size.
    maps : sequence of MapOnPage
        The lower first.
    grid : Grid
        That of the farm.
    """
    viewports = [] if grid.local else [_viewport(pdf, paper, one, grid) for one in maps]
    found = [viewport for viewport in viewports if viewport is not None]
    if found:
        page.VP = Array(found)


def _viewport(pdf: Pdf, paper: Paper, one: MapOnPage, grid: Grid) -> Object | None:
    corners = corners_deg(one.view, grid)
    if not np.isfinite(corners).all():
        return None
    left, top, wide, high = one.frame
    box = (left, paper.height_mm - top - high, left + wide, paper.height_mm - top)
    measure = Dictionary(
        Type=Name.Measure,
        Subtype=Name.GEO,
        Bounds=Array([0, 0, 0, 1, 1, 1, 1, 0]),
        GPTS=Array([Decimal(f"{degrees:.{_PLACES}f}") for degrees in corners.ravel().tolist()]),
        LPTS=Array([int(part) for corner in _CORNERS for part in corner]),
        GCS=_system(grid.crs),
        PDU=Array([Name.M, Name.HA, Name.DEG]),
    )
    return Dictionary(
        Type=Name.Viewport,
        BBox=Array([round(side / POINT_MM, 4) for side in box]),
        Name=String(one.name),
        Measure=pdf.make_indirect(measure),
    )


def _system(crs: CRS) -> Object:
    """Return a grid as the measure names it: by its number, and in the words of OGC 01-009 that such readers know."""
    made = Dictionary(Type=Name.PROJCS)
    number = crs.to_epsg()
    if number is not None:
        made.EPSG = number
    for kind in ("WKT1_ESRI", "WKT1_GDAL"):
        try:
            words: str = crs.to_wkt(kind)
        except CRSError:
            continue
        made.WKT = String(words)
        break
    return made
