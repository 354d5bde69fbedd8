"""Single rows that lie far off from all the others, and what seems to be wrong with them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from farmmap.errors import GridError
from farmmap.files.bringing.counted import NAMED_ROWS, rows_named
from farmmap.files.bringing.places import FAR_M, XY, Places, off_m
from farmmap.files.bringing.sieve import Sieve

AWAY_M = 2_000.0
"""What lies this far from the farm is remarked on. [m]"""

LOOKED_INTO = 200
"""Rows whose figures are looked into one by one; where more are far off, they tell no more."""

_SWAPPED = "its x and y, or longitude and latitude, seem to be swapped"
_UNKNOWN = "look whether its place was written down right, or say --anyway if it does belong there"


def refuse_strays(places: Places, written: XY, xy: XY, rows: NDArray[np.int64], sieve: Sieve) -> None:
    """Set aside rows that lie far from the farm, or of an empty farm from most other rows.

    If fewer than half of the rows lie together, none is far from the others.

    Parameters
    ----------
    places : Places
        How the source's coordinates become the farm's.
    written : pair of ndarray, shape (m,)
        Points as the source has them. [m or degrees]
    xy : pair of ndarray, shape (m,)
        The same on the farm's grid, not finite where it does not reach. [m]
    rows : ndarray of int64, shape (m,)
        Row of each point; a shape has several.
    sieve : Sieve
        Where rows are refused.
    """
    if not len(rows):
        return
    first = np.unique(rows, return_index=True)[1]
    middle = _middle(places, xy, first)
    if middle is None:
        return
    off = _off(places, middle, *xy)
    if (off[first] < FAR_M).mean() < 0.5:
        return
    far = np.flatnonzero(off >= FAR_M)
    if not len(far):
        return
    far = far[np.unique(rows[far], return_index=True)[1]]
    swapped = _off(places, middle, *_carried(places, written[1][far], written[0][far])) < FAR_M
    whom = "the other rows" if places.farm.bounds() is None else "the farm"
    reasons: dict[int, str] = {}
    for point, turned in zip(far.tolist(), swapped.tolist(), strict=True):
        if not (turned or np.isfinite(off[point])):
            continue  # that it lies outside the grid is said of it elsewhere
        if turned:
            cause = _SWAPPED
        elif len(reasons) < LOOKED_INTO:
            cause = _cause(places, middle, float(written[0][point]), float(written[1][point]))
        else:
            cause = _UNKNOWN
        reasons[int(rows[point])] = f"lies {_distance(off[point])} {whom}; {cause}"
    sieve.refuse_at(list(reasons), lambda row: reasons[row])


def well_away(places: Places, xy: XY, rows: NDArray[np.int64], sieve: Sieve) -> list[str]:
    """Say which good rows lie well away from an existing farm, though not far enough to be refused.

    Parameters
    ----------
    places : Places
        How the source's coordinates became the farm's.
    xy : pair of ndarray, shape (m,)
        Points on the farm's grid. [m]
    rows : ndarray of int64, shape (m,)
        Row of each point; a shape has several.
    sieve : Sieve
        Which rows are good.
    """
    if places.farm.bounds() is None or not len(rows):
        return []
    known = np.isfinite(xy[0]) & np.isfinite(xy[1])
    rows, off = rows[known], off_m(places.farm, xy[0][known], xy[1][known])
    away = np.unique(rows[(off >= AWAY_M) & (off < FAR_M) & sieve.good[rows]])
    if not len(away):
        return []
    furthest = float(off[np.isin(rows, away)].max())
    named = rows_named([sieve.row_number(int(row)) for row in away[:NAMED_ROWS]], len(away))
    lies = "lies" if len(away) == 1 else "lie"
    far = f"{furthest / 1000:.1f} km away from the farm"
    return [f"{named[0].upper()}{named[1:]} {lies} up to {far}, and came in; look whether that is right."]


def _middle(places: Places, xy: XY, first: NDArray[np.int64]) -> tuple[float, float] | None:
    """Return the middle of the rows that lie together; None if nothing lies on the grid."""
    x, y = xy[0][first], xy[1][first]
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    if not len(x):
        return None
    middle = float(np.median(x)), float(np.median(y))
    if (np.hypot(x - middle[0], y - middle[1]) < FAR_M).mean() > 0.5:
        return middle
    on_grid = off_m(places.farm, x, y) < FAR_M
    return (float(np.median(x[on_grid])), float(np.median(y[on_grid]))) if on_grid.any() else middle


def _off(
    places: Places, middle: tuple[float, float], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far points lie from the farm, or from the middle if it is empty; inf where the grid does not reach. [m]."""
    if places.farm.bounds() is not None:
        with np.errstate(invalid="ignore"):
            return off_m(places.farm, x, y)
    known = np.isfinite(x) & np.isfinite(y)
    out = np.full(len(x), np.inf)
    out[known] = np.hypot(x[known] - middle[0], y[known] - middle[1])
    return out


def _carried(places: Places, x: NDArray[np.float64], y: NDArray[np.float64]) -> XY:
    try:
        return places.carried(x, y)
    except GridError:
        return np.full(len(x), np.inf), np.full(len(x), np.inf)


def _cause(places: Places, middle: tuple[float, float], x: float, y: float) -> str:
    if x == 0 and y == 0:
        return "0, 0 seems to stand for no place at all"
    tens = np.array([0.1, 10.0, 0.01, 100.0, -1.0])
    for name, tried in (
        ("x", _carried(places, x * tens, np.full(5, y))),
        ("y", _carried(places, np.full(5, x), y * tens)),
    ):
        if (_off(places, middle, *tried) < FAR_M).any():
            return f"its {name} seems to have a figure, a point or a sign too many or too few"
    return _UNKNOWN


def _distance(metres: float) -> str:
    if not np.isfinite(metres):
        return "too far to tell from"
    return f"{metres / 1000:,.0f} km from".replace(",", " ")
