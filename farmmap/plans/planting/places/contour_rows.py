"""Rows along the contour, evenly apart on the map though the slope is not even."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.heights import Heights
from farmmap.figures.areas import polygons_only
from farmmap.plans.planting.places.lattice import spans
from farmmap.plans.planting.places.rows import Runs

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FLAT_DEG = 1.0
"""Ground no steeper than this on average has no contour worth following. [degrees]"""

FOLLOWS_DEG = 12.0
FOLLOWS_SHARE = 0.9
"""Rows that keep within this angle of the contour on this share of their ground are not laid out anew. [degrees]"""

LEAST_ROWS = 12.0
"""Ground on which rows are laid out by themselves is as large as a square of so many rows, and more."""

GAIN = 0.8
"""Ground is parted only where that leaves at most this much of the squares of the deviations."""

ACROSS_GAIN = 0.5
"""Ground is parted along the rows instead of across them only where that leaves at most this much of those."""

BENT_MOST = 0.5
"""The curve of rows is at most this over the ground's reach, so that all rows bend the same way. [1]"""

SHIFTS = 6
"""Rows are tried at so many places across the ground; those that fill it best count."""

LOOKED_AT = 400
"""Places at which the slope is looked up, at least, where the elevation grid has as many cells."""

CHORD = 1 / 400
"""Curved rows are drawn with corners, this share of a row off the true curve at most."""

BIG = 4.0
ROUNDS = 3


@dataclass(frozen=True, eq=False)
class _Slopes:
    """Which way is up at some places: x, y, and a unit vector; how much each place counts; shape (n,) each."""

    x: Floats
    y: Floats
    east: Floats
    north: Floats
    weight: Floats

    def some(self, chosen: Bools) -> _Slopes:
        """Return those that are chosen."""
        return _Slopes(*(values[chosen] for values in (self.x, self.y, self.east, self.north, self.weight)))


@dataclass(frozen=True)
class _Family:
    """Rows side by side: straight lines, or arcs about one middle.

    Attributes
    ----------
    x, y : float
        A place on the row from which the others are counted. [grid m]
    up : float
        Direction square to that row there, anticlockwise from east. [radians]
    bend : float
        One over its radius, whose middle lies down from it; below 0, up from it. [1/m]
    """

    x: float
    y: float
    up: float
    bend: float

    def square_to(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Direction square to the rows at some places: along ``up`` and to the left of it, not of length 1."""
        over, left = self._seen(x, y)
        return 1 + self.bend * over, self.bend * left

    def laid(self, corners: Floats) -> Floats:
        """How far along the rows, and across them, places lie, shape (n, 2). [m]."""
        over, left = self._seen(corners[:, 0], corners[:, 1])
        ahead, aside = 1 + self.bend * over, self.bend * left
        across = (2 * over + self.bend * (over**2 + left**2)) / (np.hypot(ahead, aside) + 1)
        return np.column_stack([left if self.bend == 0 else np.arctan2(aside, ahead) / self.bend, across])

    def back(self, along: Floats, across: Floats) -> Floats:
        """Places on the grid, by how far along the rows and across them they lie, shape (..., 2)."""
        turn = self.bend * along
        left = across * np.sin(turn) + along * np.sinc(turn / math.pi)
        over = across * np.cos(turn) - along * turn / 2 * np.sinc(turn / (2 * math.pi)) ** 2
        cos, sin = math.cos(self.up), math.sin(self.up)
        return np.stack([self.x + cos * over - sin * left, self.y + sin * over + cos * left], axis=-1)

    def _seen(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        cos, sin = math.cos(self.up), math.sin(self.up)
        return cos * (x - self.x) + sin * (y - self.y), cos * (y - self.y) - sin * (x - self.x)


def contour_runs(heights: Heights | None, ground: shapely.Geometry, between: float) -> tuple[Runs | None, str]:
    """Rows along the contour.

    Contours lie far apart where it is flat and crowd where it is steep, so they
    are no rows as they are. Rows are laid out side by side, exactly ``between``
    apart: straight, or as arcs about one middle, as follows the contour best
    over the ground (least squares of the sine of the angle between them, steep
    places counting more than flat ones). Where on more than a tenth of the
    ground they would run at more than `FOLLOWS_DEG` to the contour, the ground
    is parted in two, rather across the rows than along them, and each part has
    rows of its own, and so on, as long as parting helps and parts stay larger
    than a square of `LEAST_ROWS` rows.

    On ground that curves gently rows so hold as many plants as its area and the
    spacing say. What they cannot do: where parts meet rows end, do not join, and
    plants nearer than the spacing to those of another part are left out, at most
    about one at every other row's end. On ground that turns within a few rows (a
    knob, a saddle, the head of a gully) such joins are many and a few plants in
    a hundred are lost; and what is smaller than `LEAST_ROWS` rows is not
    followed but crossed straight on.

    Parameters
    ----------
    heights : Heights or None
        The ground.
    ground : shapely Polygon or MultiPolygon
        Where plants may stand. [grid m]
    between : float
        From row to row. [grid m]

    Returns
    -------
    runs : Runs or None
        None where there is no contour to follow.
    why_not : str
        The reason, in words for a grower that go before "so".
    """
    if heights is None:
        return None, "there is no elevation grid to find the contour from"
    slopes, rise = _slopes(heights, ground)
    if slopes is None:
        return None, "the elevation grid does not reach over it"
    if rise <= math.tan(math.radians(FLAT_DEG)):
        return None, f"the ground is flat (less than {FLAT_DEG:g} degree on average) and has no contour to follow"
    lines, rows, first = [], [], 0
    for part, family in _parted(ground, slopes, between):
        runs, row = _rows_on(part, family, between)
        if len(runs):
            lines.append(runs)
            rows.append(row - row.min() + first)
            first = int(rows[-1].max()) + 1
    if not lines:
        return None, "it is too small for a row along the contour"
    return Runs(np.concatenate(lines), np.concatenate(rows)), ""


def _slopes(heights: Heights, ground: shapely.Geometry) -> tuple[_Slopes | None, float]:
    """Slopes over ground and their median, metres a metre; None if they are not known for most of it."""
    east, north = heights.across_m, heights.down_m
    apart = min(max(east, north), math.sqrt(ground.area / LOOKED_AT))
    row, first, last = spans(ground, apart, apart / 2)
    count = np.maximum(np.round((last - first) / apart), 1).astype(np.intp)
    stretch = np.repeat(np.arange(len(count)), count)
    nth = np.arange(len(stretch)) - np.repeat(np.cumsum(count) - count, count)
    x = first[stretch] + (nth + 0.5) * ((last - first) / count)[stretch]
    y = np.asarray(row[stretch] * apart + apart / 2, np.float64)
    if not len(x):
        return None, math.nan
    to_east = (heights.at(x + east, y) - heights.at(x - east, y)) / (2 * east)
    to_north = (heights.at(x, y + north) - heights.at(x, y - north)) / (2 * north)
    rise = np.hypot(to_east, to_north)
    known = np.isfinite(rise)
    if known.sum() * 2 <= len(rise):
        return None, math.nan
    middling = float(np.median(rise[known]))
    sloping = known & (rise > 0)
    x, y, rise = x[sloping], y[sloping], rise[sloping]
    weight = np.minimum(rise / (middling or 1.0), 1.0)
    return _Slopes(x, y, to_east[sloping] / rise, to_north[sloping] / rise, weight), middling


def _parted(ground: shapely.Geometry, slopes: _Slopes, between: float) -> list[tuple[shapely.Geometry, _Family]]:
    """Parts of ground that have rows of their own."""
    done: list[tuple[shapely.Geometry, _Family]] = []
    waiting = [(ground, slopes, _fitted(slopes))]
    while waiting:
        part, own, family = waiting.pop()
        off = _off(own, family)
        tenth = np.quantile(off, FOLLOWS_SHARE)
        if tenth > math.sin(math.radians(FOLLOWS_DEG)) and part.area >= 2 * (LEAST_ROWS * between) ** 2:
            halves = _halved(part, own, family, between)
            if halves:
                waiting += halves[::-1]
                continue
        done.append((part, family))
    return done


def _halved(
    ground: shapely.Geometry, slopes: _Slopes, family: _Family, between: float
) -> list[tuple[shapely.Geometry, _Slopes, _Family]]:
    """Two parts of ground with their slopes and rows, none if parting it would not help."""
    at = family.laid(np.column_stack([slopes.x, slopes.y]))
    whole = float(slopes.weight @ _off(slopes, family) ** 2)
    best, chosen = GAIN * whole, -1
    for axis, gain in ((0, 1.0), (1, ACROSS_GAIN)):
        here = at[:, axis] < np.median(at[:, axis])
        if not 0 < here.sum() < len(here):
            continue
        parts = [slopes.some(here), slopes.some(~here)]
        left = sum(float(part.weight @ _off(part, _fitted(part)) ** 2) for part in parts) / gain
        if left < best:
            best, chosen = left, axis
    if chosen < 0:
        return []
    middle = float(np.median(at[:, chosen]))
    below = polygons_only(shapely.intersection(ground, _half(ground, family, chosen, middle)))
    above = polygons_only(shapely.difference(ground, _half(ground, family, chosen, middle)))
    if min(below.area, above.area) < (LEAST_ROWS * between) ** 2 / 2:
        return []
    here = shapely.intersects_xy(below, slopes.x, slopes.y)
    if not 0 < here.sum() < len(here):
        return []
    halves = [(below, slopes.some(here)), (above, slopes.some(~here))]
    return [(part, own, _fitted(own)) for part, own in halves]


def _half(ground: shapely.Geometry, family: _Family, axis: int, middle: float) -> shapely.Geometry:
    """All of the plane on one side of a straight line along the rows or across them."""
    west, south, east, north = ground.bounds
    far = BIG * math.hypot(east - west, north - south)
    beginning = family.back(*(np.array(value) for value in ((middle, 0.0) if axis == 0 else (0.0, middle))))
    turned = family.up + (family.bend * middle if axis == 0 else 0.0)
    over = np.array([math.cos(turned), math.sin(turned)])
    left = np.array([-over[1], over[0]])
    along, out = (over, left) if axis == 0 else (left, over)
    return shapely.Polygon(
        [
            beginning - far * along,
            beginning + far * along,
            beginning + far * (along - out),
            beginning - far * (along + out),
        ]
    )


def _fitted(slopes: _Slopes) -> _Family:
    """Rows that follow the contour best over some places."""
    weight, double = slopes.weight, 2 * np.arctan2(slopes.north, slopes.east)
    x, y = (float(np.average(at, weights=weight)) for at in (slopes.x, slopes.y))
    up = 0.5 * math.atan2(float(weight @ np.sin(double)), float(weight @ np.cos(double)))
    reach = float(np.hypot(slopes.x - x, slopes.y - y).max(initial=0.0))
    most = BENT_MOST / reach if reach > 0 else 0.0
    bend = 0.0
    for _ in range(ROUNDS):
        over, left, rise, aside = _seen_from(slopes, _Family(x, y, up, bend))
        same_way = np.sign(rise * (1 + bend * over) + aside * bend * left)
        rise, aside = rise * same_way, aside * same_way
        # how far the way up is turned from `up`, and what turning `up` and bending take off that
        columns = np.column_stack([rise, left * rise - over * aside])
        weighted = columns * weight[:, None]
        normal = columns.T @ weighted + np.diag([1e-12, 1e-12 * (reach**2 + 1)])
        turn, bend = (float(value) for value in np.linalg.solve(normal, weighted.T @ aside))
        if abs(bend) > most:
            bend = math.copysign(most, bend)
            turn = float(weighted[:, 0] @ (aside - bend * columns[:, 1])) / float(normal[0, 0])
        up += math.atan(turn)
    return _Family(x, y, up, bend)


def _seen_from(slopes: _Slopes, family: _Family) -> tuple[Floats, Floats, Floats, Floats]:
    """Places from a family's beginning, over and to the left, and the way up there likewise."""
    cos, sin = math.cos(family.up), math.sin(family.up)
    x, y = slopes.x - family.x, slopes.y - family.y
    return (
        cos * x + sin * y,
        cos * y - sin * x,
        cos * slopes.east + sin * slopes.north,
        cos * slopes.north - sin * slopes.east,
    )


def _off(slopes: _Slopes, family: _Family) -> Floats:
    """Sine of the angle between rows and contour at each place, shape (n,)."""
    _, _, rise, aside = _seen_from(slopes, family)
    over, left = family.square_to(slopes.x, slopes.y)
    return np.abs(over * aside - left * rise) / np.hypot(over, left)


def _rows_on(ground: shapely.Geometry, family: _Family, between: float) -> tuple[NDArray[np.object_], NDArray[np.intp]]:
    """Stretches of a family's rows on ground, and the row of each."""
    fine = shapely.segmentize(ground, between) if family.bend else ground
    laid = shapely.transform(fine, family.laid)
    wanted = float(ground.area) / between
    tried = [spans(laid, between, shift / SHIFTS * between) for shift in range(SHIFTS)]
    off = [round(abs(float((last - first).sum()) - wanted), 6) for _, first, last in tried]
    shift = int(np.argmin(off))
    row, first, last = tried[shift]
    if not len(row):
        return np.empty(0, object), np.empty(0, np.intp)
    across = np.asarray((row + shift / SHIFTS) * between, np.float64)
    steps = _corners(last - first, family.bend, between)
    of = np.repeat(np.arange(len(row)), steps + 1)
    nth = np.arange(len(of)) - np.repeat(np.cumsum(steps + 1) - (steps + 1), steps + 1)
    along = first[of] + (last - first)[of] * nth / steps[of]
    drawn = shapely.linestrings(family.back(along, across[of]), indices=of)
    cut = shapely.line_merge(shapely.intersection(shapely.multilinestrings(drawn), ground))
    runs = shapely.get_parts(cut)
    runs = runs[(shapely.get_type_id(runs) == shapely.GeometryType.LINESTRING) & (shapely.length(runs) > 0)]
    at = family.laid(shapely.get_coordinates(shapely.get_point(runs, 0)))
    number = np.round(at[:, 1] / between - shift / SHIFTS).astype(np.intp)
    order = np.lexsort((at[:, 0], number))
    return runs[order], number[order]


def _corners(length: Floats, bend: float, between: float) -> NDArray[np.intp]:
    """Into how many straight pieces rows of a length are cut, shape (n,)."""
    if not bend:
        return np.ones(len(length), np.intp)
    step = math.sqrt(8 * CHORD * between / abs(bend)) * (1 - BENT_MOST)
    return np.maximum(np.ceil(length / step), 1).astype(np.intp)
