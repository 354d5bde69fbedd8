"""Corners and edges of what is drawn, and the ones near a place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.guard import guarded
from farmmap.editing.parts import Floats, rings_of
from farmmap.editing.proposed import shape_of_row
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered

_POLYGON = shapely.GeometryType.POLYGON
_POINT = shapely.GeometryType.POINT


@dataclass(frozen=True)
class _Place:
    """A place on the outline of a row's shape.

    Attributes
    ----------
    table, id : str, int
        Whose it is.
    part, ring, place : int
        Which part, which of its rings (0 the outline, then its holes; 0 for lines), and which corner of the
        ring, all counted from 0. A ring's first corner is not counted again at its end. A place on an edge has the
        number of the corner from which the edge runs to the next.
    x, y : float
        Where it is. [m]
    """

    table: str
    id: int
    part: int
    ring: int
    place: int
    x: float
    y: float


class Corner(_Place):
    """A corner of a row's shape."""


class EdgePlace(_Place):
    """A place on an edge of a row's shape."""


_TREES: Remembered[shapely.STRtree] = Remembered(24)


def index_of(frame: gpd.GeoDataFrame) -> shapely.STRtree:
    """Return the index of a table's shapes, kept while the table is the same."""
    return _TREES.get((frame,), (), lambda: shapely.STRtree(frame.geometry.to_numpy()))


@guarded
def corners_of(farm: Farm, table: str, id: int) -> tuple[Corner, ...]:  # noqa: A002 - the word for it everywhere
    """Return all corners of a row, in their order.

    Raises
    ------
    BadInput
        The row is not there.
    """
    rings, _ = rings_of(shape_of_row(farm, table, id))
    return tuple(
        Corner(table, id, p, r, place, x, y)
        for p, part in enumerate(rings)
        for r, ring in enumerate(part)
        for place, (x, y) in enumerate(ring.tolist())
    )


@guarded
def corner_near(
    farm: Farm, x: float, y: float, within_m: float, tables: Iterable[str], only: tuple[str, int] | None = None
) -> Corner | None:
    """Return the corner nearest to a place, None if there is none within reach.

    Parameters
    ----------
    farm : Farm
        The farm.
    x, y : float
        The place. [m]
    within_m : float
        How far off it may be. [m]
    tables : iterable of str
        Whose corners are looked at.
    only : tuple of str and int, optional
        Table and id of the one row that is looked at.
    """
    best: Corner | None = None
    nearest = within_m
    for table, row, shape in _near(farm, x, y, within_m, tables, only):
        rings, _ = rings_of(shape)
        for p, part in enumerate(rings):
            for r, ring in enumerate(part):
                away = np.hypot(ring[:, 0] - x, ring[:, 1] - y)
                place = int(np.argmin(away))
                if away[place] < nearest or (best is None and away[place] <= nearest):
                    nearest = float(away[place])
                    best = Corner(table, row, p, r, place, float(ring[place, 0]), float(ring[place, 1]))
    return best


@guarded
def edge_near(
    farm: Farm, x: float, y: float, within_m: float, tables: Iterable[str], only: tuple[str, int] | None = None
) -> EdgePlace | None:
    """Return the place on an edge that is nearest to a place, None if there is none within reach.

    Parameters are those of `corner_near`.
    """
    best: EdgePlace | None = None
    nearest = within_m
    for table, row, shape in _near(farm, x, y, within_m, tables, only):
        rings, kinds = rings_of(shape)
        for p, (part, kind) in enumerate(zip(rings, kinds, strict=True)):
            if kind == _POINT:
                continue
            for r, ring in enumerate(part):
                starts, ends = sides_of(ring, closed=kind == _POLYGON)
                at = feet(starts, ends, x, y)
                away = np.hypot(at[:, 0] - x, at[:, 1] - y)
                place = int(np.argmin(away))
                if away[place] < nearest or (best is None and away[place] <= nearest):
                    nearest = float(away[place])
                    best = EdgePlace(table, row, p, r, place, float(at[place, 0]), float(at[place, 1]))
    return best


def sides_of(ring: Floats, *, closed: bool) -> tuple[Floats, Floats]:
    """Return starts and ends of the edges of a ring or line, each of shape (n, 2)."""
    return (ring, np.roll(ring, -1, axis=0)) if closed else (ring[:-1], ring[1:])


def feet(starts: Floats, ends: Floats, x: float, y: float) -> NDArray[np.float64]:
    """Return the place on each edge that is nearest to a point, shape (n, 2)."""
    run = ends - starts
    square = (run**2).sum(axis=1)
    share = ((x - starts[:, 0]) * run[:, 0] + (y - starts[:, 1]) * run[:, 1]) / np.where(square > 0, square, 1.0)
    return starts + run * np.clip(share, 0.0, 1.0)[:, None]


def _near(
    farm: Farm, x: float, y: float, within_m: float, tables: Iterable[str], only: tuple[str, int] | None
) -> Iterable[tuple[str, int, shapely.Geometry]]:
    if only is not None:
        yield (*only, shape_of_row(farm, *only))
        return
    box = shapely.box(x - within_m, y - within_m, x + within_m, y + within_m)
    for table in tables:
        frame = farm.tables[table]
        if not isinstance(frame, gpd.GeoDataFrame) or not len(frame):
            continue
        shapes = frame.geometry.to_numpy()
        for place in np.sort(index_of(frame).query(box)):
            yield table, int(frame.index[place]), shapes[place]
