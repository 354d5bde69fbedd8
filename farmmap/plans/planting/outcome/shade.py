"""How much of the day's direct sun is kept off the water by what grows beside it.

A spot of water is in shade at a moment if the line from it to the sun passes
through a crown, as in the geometric models of stream shade (from memory: Chen,
Carsel, McCutcheon and Nutter 1998, J. Environ. Eng. 124, 304-315; Li, Jackson
and Kraseski 2012, J. Hydrol. 428-429, 102-112); here with every plant at its
own place, so that gaps, bends, both banks and the end of the planting count as
they lie. Crowns are domes from the ground up, as wide and as high as the plant,
through which no sun comes; the ground is flat and the water level with it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.banks import Reach, pieces
from farmmap.figures.discs import Discs
from farmmap.figures.tree_index import spread
from farmmap.plans.planting.outcome.cover_points import near_pairs

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LOWEST_SUN_DEG = 10.0
"""Lower sun is left out: it gives little light and shines nearly along the ground. [degrees]"""

MOMENTS = 96
"""A day is looked at every quarter of an hour."""

ENOUGH_PERCENT = 70.0
"""Shade that stops nuisance weed and extreme warmth of small streams (N. Z. J. Mar. Freshw. Res. 2021, abstract)."""

HIGH_ENOUGH = 1.0
"""Plants as high as the channel is wide can come to give that shade, on both banks (same source: 1.0 to 2.6)."""

STEP_M = 2.0
MOST_STEPS = 300
ACROSS = 5
PAIRS_AT_ONCE = 2_000_000


@dataclass(frozen=True, eq=False)
class Sun:
    """Where the sun stands through a day. Arrays have shape (m,), one for each moment that counts.

    Attributes
    ----------
    azimuth_rad : ndarray
        Clockwise from grid north, 0 to 2π, increasing. [radians]
    cot_altitude : ndarray
        Length of the shadow of something 1 m high. [m]
    weight : ndarray
        Its share of the day's sun on level water; they add up to 1.
    """

    azimuth_rad: Floats
    cot_altitude: Floats
    weight: Floats


@dataclass(frozen=True, eq=False)
class Crowns:
    """Crowns as domes. All arrays have shape (n,), in grid m.

    Attributes
    ----------
    x, y, radius, height : ndarray
        Places, radius of the crown, and height; without a radius a plant gives no shade.
    """

    x: Floats
    y: Floats
    radius: Floats
    height: Floats


@dataclass(frozen=True, eq=False)
class Water:
    """Spots of water, each standing for some of it. All arrays have shape (n,).

    Attributes
    ----------
    x, y : ndarray
        Where they lie. [grid m]
    area : ndarray
        How much water each stands for; its length where the channel's width is not known. [grid m2 or m]
    """

    x: Floats
    y: Floats
    area: Floats


def declination_deg(on: dt.date) -> float:
    """Return the sun's declination at noon (universal time) of a day, in degrees, right to 0.01.

    The low-precision position of the sun in J. Meeus (1998), Astronomical
    Algorithms, 2nd edition, chapter 25 (from memory).
    """
    century = (on.toordinal() - dt.date(2000, 1, 1).toordinal()) / 36525.0
    mean = 280.46646 + 36000.76983 * century + 0.0003032 * century**2
    anomaly = np.radians(357.52911 + 35999.05029 * century - 0.0001537 * century**2)
    centre = (
        (1.914602 - 0.004817 * century) * np.sin(anomaly)
        + (0.019993 - 0.000101 * century) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    node = np.radians(125.04 - 1934.136 * century)
    longitude = np.radians(mean + centre - 0.00569 - 0.00478 * np.sin(node))
    tilt = np.radians(23.439291 - 0.0130042 * century + 0.00256 * np.cos(node))
    return float(np.degrees(np.arcsin(np.sin(tilt) * np.sin(longitude))))


def midsummer(latitude_deg: float, year: int = 2025) -> dt.date:
    """Return the day of the longest sun: 21 June in the north, 21 December in the south."""
    return dt.date(year, 6, 21) if latitude_deg >= 0 else dt.date(year, 12, 21)


def sun_through_day(
    latitude_deg: float, declination: float, convergence_deg: float = 0.0, moments: int = MOMENTS
) -> Sun:
    """Return where the sun stands through a day, at even steps of solar time.

    sin h = sin φ sin δ + cos φ cos δ cos t, with the hour angle t (Meeus 1998,
    chapter 13, from memory). Each moment weighs as sin h, the sun's strength
    on level water with no air between.

    Parameters
    ----------
    latitude_deg : float
        Of the place, negative south of the equator. [degrees]
    declination : float
        Of the sun. [degrees]
    convergence_deg : float
        From true north to grid north, clockwise. [degrees]
    moments : int
        Steps of a whole day.

    Returns
    -------
    Sun
        Without moments if the sun does not rise above `LOWEST_SUN_DEG`.
    """
    hour = (np.arange(moments) + 0.5) / moments * 2 * np.pi - np.pi
    lat, dec = np.radians(latitude_deg), np.radians(declination)
    up = np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(hour)
    east = -np.cos(dec) * np.sin(hour)
    north = np.cos(lat) * np.sin(dec) - np.sin(lat) * np.cos(dec) * np.cos(hour)
    seen = np.flatnonzero(up > np.sin(np.radians(LOWEST_SUN_DEG)))
    azimuth = (np.arctan2(east[seen], north[seen]) - np.radians(convergence_deg)) % (2 * np.pi)
    order = np.argsort(azimuth)
    up, azimuth = up[seen][order], azimuth[order]
    return Sun(azimuth, np.sqrt(np.maximum(1 - up * up, 0.0)) / up, up / (up.sum() or 1.0))


def water_of(reaches: Sequence[Reach]) -> Water:
    """Return spots spread over the channels of some stretches of creek.

    Parameters
    ----------
    reaches : sequence of Reach
        Drawn downstream, on the grid. Where a stretch has no channel's width (a bank line, or a middle line whose
        width is not known) the spots lie on its line.
    """
    if not reaches:
        return Water(np.empty(0), np.empty(0), np.empty(0))
    begins, ends, owner = pieces(np.array([reach.line for reach in reaches], object))
    half = np.array([reach.half for reach in reaches])
    length = np.hypot(*(ends - begins).T)
    passed = np.concatenate([[0.0], np.cumsum(length)])
    many = int(np.clip(np.ceil(passed[-1] / STEP_M), 1, MOST_STEPS))
    jitter = np.random.default_rng(1).random((many, 1 + ACROSS))
    along = (np.arange(many) + jitter[:, 0]) / many * passed[-1]
    piece = np.minimum(np.searchsorted(passed, along, side="right") - 1, len(length) - 1)
    step = (ends - begins)[piece] / length[piece, None]
    middle = begins[piece] + (along - passed[piece])[:, None] * step
    off = ((np.arange(ACROSS) + jitter[:, 1:]) * 2 / ACROSS - 1) * half[owner[piece], None]
    x = (middle[:, :1] - off * step[:, 1:]).ravel()
    y = (middle[:, 1:] + off * step[:, :1]).ravel()
    wide = np.where(half > 0, 2 * half, 0.0 if half.any() else 1.0)[owner[piece]]
    return Water(x, y, np.repeat(wide * passed[-1] / (many * ACROSS), ACROSS))


def shade_share(water: Water, crowns: Crowns, sun: Sun) -> float:
    """Return the share of the day's direct sun that crowns keep off the water, 0 to 1; nan without water or sun."""
    if not len(sun.weight) or not float(water.area.sum()) > 0:
        return float("nan")
    kept = shaded(water.x, water.y, crowns, sun) @ sun.weight
    return float(np.clip(kept @ water.area / water.area.sum(), 0.0, 1.0))


def shaded(x: Floats, y: Floats, crowns: Crowns, sun: Sun) -> Bools:
    """Return which spots lie in the shade of a crown at which moments of a day.

    The shadow of a dome of radius c and height h on level ground is the disc
    of its foot and, on the side away from the sun, half an ellipse: c across
    and √(c² + h² cot² a) along, with the sun's altitude a.

    Parameters
    ----------
    x, y : ndarray, shape (k,)
        The spots. [grid m]
    crowns : Crowns
        What gives shade.
    sun : Sun
        The moments.

    Returns
    -------
    ndarray of bool, shape (k, m)
    """
    out = np.zeros((len(x), len(sun.weight)), bool)
    if not len(sun.weight) or not len(x):
        return out
    height = np.maximum(np.nan_to_num(crowns.height), 0.0)
    reach = np.where(crowns.radius > 0, np.hypot(crowns.radius, height * sun.cot_altitude.max()), 0.0)
    size = Discs.size_of(reach)
    for one in np.unique(size[size >= 0]):
        some = np.flatnonzero(size == one)
        widest = float(reach[some].max())
        at_once = max(PAIRS_AT_ONCE // len(some), 1)
        for first in range(0, len(x), at_once):
            spots = slice(first, first + at_once)
            spot, plant = near_pairs(x[spots], y[spots], (crowns.x[some], crowns.y[some]), widest)
            _mark(out[spots], (x[spots], y[spots]), spot, (crowns, height, some[plant]), sun)
    return out


def _mark(
    out: Bools,
    spots: tuple[Floats, Floats],
    spot: NDArray[np.intp],
    of: tuple[Crowns, Floats, NDArray[np.intp]],
    sun: Sun,
) -> None:
    """Mark in ``out`` the moments at which crowns shade spots, given pairs of them."""
    crowns, all_heights, plant = of
    east, north = crowns.x[plant] - spots[0][spot], crowns.y[plant] - spots[1][spot]
    square, radius, height = east * east + north * north, crowns.radius[plant], all_heights[plant]
    out[spot[square <= radius * radius]] = True
    furthest = float(sun.cot_altitude.max())
    far = np.flatnonzero(
        (square > radius * radius) & (square < radius * radius + (height * furthest) ** 2) & (height > 0)
    )
    spot, square, radius, height = spot[far], square[far], radius[far], height[far]
    distance, bearing = np.sqrt(square), np.arctan2(east[far], north[far]) % (2 * np.pi)
    half = np.arcsin(radius / distance)
    turns = [sun.azimuth_rad - 2 * np.pi, sun.azimuth_rad, sun.azimuth_rad + 2 * np.pi]
    azimuth = np.concatenate(turns)
    first = np.searchsorted(azimuth, bearing - half, side="right")
    pair, number = spread(np.maximum(np.searchsorted(azimuth, bearing + half) - first, 0))
    moment = first[pair] + number
    off = azimuth[moment] - bearing[pair]
    moment %= len(sun.azimuth_rad)
    along, across = distance[pair] * np.cos(off), distance[pair] * np.sin(off)
    c_square = radius[pair] ** 2
    long_square = c_square + (height[pair] * sun.cot_altitude[moment]) ** 2
    hit = np.flatnonzero(along * along * c_square + across * across * long_square <= c_square * long_square)
    out[spot[pair[hit]], moment[hit]] = True
