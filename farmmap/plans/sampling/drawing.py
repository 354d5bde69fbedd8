"""Drawing the middles of plots: anywhere with equal chance, on a grid from a random start, or part by part.

Middles are drawn on the whole net ground. None is moved away from the edge:
that would make the trees there count too seldom. Plots that the edge cuts
are corrected when they are counted, see `farmmap.figures.sampling.tally`.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from farmmap.errors import BadInput
from farmmap.figures.prepared import prepared

Floats = NDArray[np.float64]

MOST_TRIES = 400
"""Rounds of drawing in a rectangle before a region is given up as too thin to hit."""


def uniform_points(region: shapely.Geometry, count: int, random: np.random.Generator) -> Floats:
    """Draw places anywhere on a region with equal chance, each by itself.

    Parameters
    ----------
    region : shapely Polygon or MultiPolygon
        The ground. [grid m]
    count : int
        How many.
    random : Generator
        Where the chance comes from.

    Returns
    -------
    ndarray, shape (count, 2)
        [grid m]

    Raises
    ------
    BadInput
        The region has no ground.
    """
    if region.is_empty or region.area <= 0:
        raise BadInput("there is no ground to lay plots out on")
    west, south, east, north = region.bounds
    fill = region.area / ((east - west) * (north - south))
    region = prepared(region)
    found: list[Floats] = []
    held = 0
    for _ in range(MOST_TRIES):
        tries = random.uniform((west, south), (east, north), (math.ceil((count - held) / fill * 1.1) + 16, 2))
        found.append(tries[shapely.contains_xy(region, tries[:, 0], tries[:, 1])])
        held += len(found[-1])
        if held >= count:
            return np.concatenate(found)[:count]
    raise BadInput("the ground is too thin to lay plots out on")


def grid_points(region: shapely.Geometry, spacing: float, bearing_deg: float, random: np.random.Generator) -> Floats:
    """Place points on a square grid that begins at a random place.

    Parameters
    ----------
    region : shapely Polygon or MultiPolygon
        The ground. [grid m]
    spacing : float
        From one point to the next. [grid m]
    bearing_deg : float
        Direction of its rows, clockwise from grid north. [degrees]
    random : Generator
        Where the start comes from.

    Returns
    -------
    ndarray, shape (k, 2)
        Those that lie on the region, row by row, every second row backwards, as one walks them. How many there are
        depends on the start. [grid m]
    """
    along = np.array(_step(bearing_deg))
    across = np.array([along[1], -along[0]])
    corners = np.array(shapely.box(*region.bounds).exterior.coords)
    start = random.uniform(0.0, spacing, 2)
    ways = []
    for way, first in zip((along, across), start.tolist(), strict=True):
        low, high = float((corners @ way).min()), float((corners @ way).max())
        ways.append(
            np.arange(math.ceil((low - first) / spacing), math.floor((high - first) / spacing) + 1) * spacing + first
        )
    rows = [
        np.stack(np.broadcast_arrays(ways[0][:: -1 if place % 2 else 1], off), -1) for place, off in enumerate(ways[1])
    ]
    every = np.concatenate([np.empty((0, 2)), *rows])
    points = every[:, :1] * along + every[:, 1:] * across
    return points[shapely.contains_xy(prepared(region), points[:, 0], points[:, 1])]


def slices(region: shapely.Geometry, parts: int, bearing_deg: float | None = None) -> list[shapely.Geometry]:
    """Cut a region into parts of equal area that follow one another in one direction, such as up a slope.

    Parameters
    ----------
    region : shapely Polygon or MultiPolygon
        The ground. [grid m]
    parts : int
        How many.
    bearing_deg : float, optional
        That direction, clockwise from grid north; the long way of the region if not given. [degrees]

    Returns
    -------
    list of shapely geometry
        In the order of the bearing; without one from west to east, or from south to north where it runs that way.
    """
    way = _long_way(region) if bearing_deg is None else np.array(_step(bearing_deg))
    side = np.array([-way[1], way[0]])
    every = shapely.get_coordinates(region)
    low, high = float((every @ way).min()) - 1.0, float((every @ way).max()) + 1.0
    reach = float(np.abs(every @ side).max()) + 1.0

    def before(cut: float, begin: float = low) -> shapely.Geometry:
        band = [
            begin * way - reach * side,
            cut * way - reach * side,
            cut * way + reach * side,
            begin * way + reach * side,
        ]
        return shapely.intersection(region, shapely.Polygon(band))

    cuts = [low]
    for part in range(1, parts):
        under, over = cuts[-1], high
        for _ in range(50):
            middle = (under + over) / 2
            if before(middle).area < region.area * part / parts:
                under = middle
            else:
                over = middle
        cuts.append((under + over) / 2)
    return [before(end, begin) for begin, end in zip(cuts, [*cuts[1:], high], strict=True)]


def _long_way(region: shapely.Geometry) -> Floats:
    corners = np.array(shapely.minimum_rotated_rectangle(region).exterior.coords)[:3]
    sides = np.diff(corners, axis=0)
    way = sides[int(np.argmax(np.hypot(*sides.T)))]
    way = way / np.hypot(*way)
    return -way if way[0] < -1e-9 or (abs(way[0]) <= 1e-9 and way[1] < 0) else way


def _step(bearing_deg: float) -> tuple[float, float]:
    """East and north of a step of 1 m in a direction."""
    return math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))


def shared_out(count: int, areas: ArrayLike, spreads: ArrayLike | None = None, least: int = 2) -> NDArray[np.int64]:
    """Share plots out over parts: by area, or by area times spread where that is known.

    By area alone is proportional allocation; by W·s it is the optimum for the
    same cost a plot. Source: J. Neyman (1934), J. Roy. Stat. Soc. 97, 558;
    Cochran (1977), ch. 5.

    Parameters
    ----------
    count : int
        How many plots in all.
    areas : array_like, shape (h,)
        Area of each part.
    spreads : array_like, shape (h,), optional
        Standard deviation between plots of each part, from earlier plots.
    least : int
        Each part gets so many at least: two, as one says nothing of its spread.

    Returns
    -------
    ndarray of int64, shape (h,)
        Adds up to ``count``.

    Raises
    ------
    BadInput
        There are too few plots for so many parts.
    """
    worth = np.asarray(areas, np.float64) * (1.0 if spreads is None else np.asarray(spreads, np.float64))
    if count < least * len(worth):
        raise BadInput(f"{len(worth)} parts need {least} plots each, {least * len(worth)} in all; {count} are too few")
    if worth.sum() <= 0:
        worth = np.asarray(areas, np.float64)
    fixed = np.zeros(len(worth), bool)
    while True:  # parts that would get fewer than the least get just that, the others share the rest
        rest = count - least * int(fixed.sum())
        share = np.where(fixed, float(least), rest * worth / worth[~fixed].sum() if (~fixed).any() else 0.0)
        short = ~fixed & (share < least)
        if not short.any():
            break
        fixed |= short
    out = np.floor(share + 1e-9).astype(np.int64)
    order = np.argsort(-(share - out), kind="stable")
    out[order[: count - int(out.sum())]] += 1
    return out
