"""A stretch of a creek: where along it a planting lies."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.areas import ground_scale
from farmmap.figures.banks import SIDES, Reach, downstream
from farmmap.figures.creek_lines import Creek, run_together
from farmmap.figures.remembered import Remembered
from farmmap.plans.planting.ground.chainage import Placing, placed

Floats = NDArray[np.float64]

CLEAN_M = 1e-3
"""Corners nearer to one another than this are one, in grid m."""

ROUNDED_M = 0.5
"""So far beyond a creek's end a chainage may be said, for lengths are said in whole metres. [m]"""

SHORTEST_M = 0.1
"""A shorter stretch is none. [m]"""

MOST_NAMED = 12
"""Creeks that a message names."""


@dataclass(frozen=True)
class Stretch:
    """Where a planting lies.

    Attributes
    ----------
    creek : str
        Name of the creek.
    banks : tuple of str
        ``left``, ``right`` or both, looking downstream.
    from_m, to_m : float or None
        Along the creek from its top, downstream, on the ground; None for its end. [m]
    """

    creek: str
    banks: tuple[str, ...]
    from_m: float | None = None
    to_m: float | None = None


@dataclass(frozen=True, eq=False)
class CreekPart:
    """A creek cut to a stretch.

    Attributes
    ----------
    stretch : Stretch
        With from and to filled in.
    creek : Creek
        The whole creek.
    reaches : tuple of Reach
        Its stretches inside from and to, drawn downstream, on the grid; of their ``widths`` left and right those are
        0 whose bank they do not draw, and those are 1 that they do.
    starts_m : tuple of float
        Chainage at which each reach begins. [ground m]
    line : shapely MultiLineString
        Their middle lines together.
    """

    stretch: Stretch
    creek: Creek
    reaches: tuple[Reach, ...]
    starts_m: tuple[float, ...]
    line: shapely.Geometry


@dataclass(frozen=True, eq=False)
class _Course:
    """A creek with the chainage of its stretches."""

    creek: Creek
    placing: Placing
    length_m: float


_COURSES: Remembered[_Course] = Remembered(8)
_PARTS: Remembered[CreekPart] = Remembered(8)


def find_part(farm: Farm, stretch: Stretch) -> CreekPart:
    """Return the creek cut to a stretch.

    A stretch from one chainage to another holds all that lies between them, side streams and arms of the same name
    included. Chainage is told in ground metres, by the scale of the grid at the creek's middle.

    Parameters
    ----------
    farm : Farm
        The farm.
    stretch : Stretch
        Creek, banks, from and to.

    Returns
    -------
    CreekPart
        The very same object for the same creeks and stretch, so that what is made from it can be kept.

    Raises
    ------
    BadInput
        There is no such creek or it is only planned, no bank is named or one is not drawn, or from and to do not lie
        along it.
    """
    return _PARTS.get((farm.creeks,), (farm.grid, stretch), lambda: _cut_out(farm, stretch))


def creek_length_m(farm: Farm, creek_name: str) -> float:
    """Return how far the creek runs from its farthest top to its end, on the ground. [m].

    Raises
    ------
    BadInput
        There is no such creek, or it is only planned.
    """
    return _course(farm, creek_name).length_m


def place_at(farm: Farm, creek_name: str, at_m: float) -> tuple[float, float]:
    """Return the place on the creek's line so far from its top, on the grid; on its longest way down where it forks.

    Raises
    ------
    BadInput
        There is no such creek, or it does not reach so far.
    """
    course = _course(farm, creek_name)
    _check_along(course, at_m, "the place")
    along = np.clip(at_m, 0.0, course.length_m) * course.creek.scale
    lengths = np.array([reach.line.length for reach in course.creek.reaches])
    over = np.maximum(np.maximum(course.placing.starts - along, along - course.placing.starts - lengths), 0.0)
    nearest = int(np.lexsort((course.placing.beside, ~course.placing.main, np.round(over, 6)))[0])
    point = course.creek.reaches[nearest].line.interpolate(float(along - course.placing.starts[nearest]))
    return float(point.x), float(point.y)


def chainage_m(farm: Farm, creek_name: str, x: float, y: float) -> tuple[float, float]:
    """Return how far along a creek a place lies, and how far off the creek's line. [ground m, ground m].

    Raises
    ------
    BadInput
        There is no such creek, or the place is none.
    """
    course = _course(farm, creek_name)
    if not (math.isfinite(x) and math.isfinite(y)):
        raise BadInput("the place is not on the map; click a place beside the creek")
    point = shapely.Point(x, y)
    lines = np.array([reach.line for reach in course.creek.reaches], object)
    off = shapely.distance(lines, point)
    nearest = int(np.argmin(off))
    along = float(course.placing.starts[nearest]) + float(shapely.line_locate_point(lines[nearest], point))
    scale = course.creek.scale
    return min(max(along / scale, 0.0), course.length_m), float(off[nearest]) / scale


def _course(farm: Farm, creek_name: str) -> _Course:
    return _COURSES.get((farm.creeks,), (farm.grid, creek_name), lambda: _drawn(farm, creek_name))


def _drawn(farm: Farm, creek_name: str) -> _Course:
    """Read a creek from the farm."""
    rows = farm.creeks[_rows_of(farm, creek_name)]
    name = str(rows["name"].iloc[0])
    rows = rows[rows["stage"] == "existing"]
    if not len(rows):
        raise BadInput(
            f"{name} is only planned so far, and plantings are laid along creeks that exist; "
            "change its stage to existing first"
        )
    shapes = rows.geometry.to_numpy()
    scale = ground_scale(shapely.union_all(shapes), farm.grid)
    reaches: list[Reach] = []
    for shape, drawn_as, flows, wide in zip(shapes, rows["drawn_as"], rows["flows"], rows["channel_m"], strict=True):
        if shape is None or shape.is_empty:
            continue
        banks = (float(drawn_as != "right bank"), float(drawn_as != "left bank"))
        half = 0.0 if drawn_as != "centre line" or math.isnan(wide) else max(float(wide), 0.0) / 2
        reaches += [Reach(line, half * scale, banks) for line in downstream(shape, flows == "against")]
    clean = [
        replace(reach, line=shapely.remove_repeated_points(reach.line, CLEAN_M)) for reach in run_together(reaches)
    ]
    clean = [reach for reach in clean if reach.line.length > CLEAN_M]
    if not clean and shapely.area(shapes).any():
        raise BadInput(f"{name} is drawn as an area, and a planting needs its line; draw its middle or its banks")
    if not clean:
        raise BadInput(f"{name} has no line on the map; draw it first")
    creek = Creek(name, tuple(map(int, rows.index)), tuple(clean), scale)
    placing = placed(clean)
    measured = ~placing.beside
    ends = placing.starts + np.array([reach.line.length for reach in clean])
    return _Course(creek, placing, float(ends[measured].max()) / scale)


def _rows_of(farm: Farm, creek_name: str) -> NDArray[np.bool_]:
    """Which rows of ``farm.creeks`` have the name, as written or else in whatever case."""
    names = farm.creeks["name"].astype(str)
    same = (names == creek_name).to_numpy(bool)
    if not same.any():
        alike = names.str.strip().str.casefold() == creek_name.strip().casefold()
        if names[alike].nunique() == 1:
            same = alike.to_numpy(bool)
    if same.any():
        return same
    known = [name for name in dict.fromkeys(names) if name]
    if not known:
        raise BadInput(f"there is no creek '{creek_name}': the farm has no creeks yet; draw it first")
    listed = ", ".join(known[:MOST_NAMED]) + (" ..." if len(known) > MOST_NAMED else "")
    raise BadInput(f"there is no creek '{creek_name}' on the farm; there are: {listed}")


def _cut_out(farm: Farm, stretch: Stretch) -> CreekPart:
    course = _course(farm, stretch.creek)
    creek, scale = course.creek, course.creek.scale
    _check_banks(creek, stretch.banks)
    begin, end = _from_to(course, stretch)
    lengths = np.array([reach.line.length for reach in creek.reaches])
    reaches: list[Reach] = []
    starts: list[float] = []
    marks = [shapely.Point(place_at(farm, stretch.creek, at)) for at in (begin, end)]
    for reach, start, length, beside in zip(
        creek.reaches, course.placing.starts, lengths, course.placing.beside, strict=True
    ):
        first, last = begin * scale - start, end * scale - start
        if beside:
            first = 0.0 if begin <= 0 else float(shapely.line_locate_point(reach.line, marks[0]))
            last = length if end >= course.length_m else float(shapely.line_locate_point(reach.line, marks[1]))
        line = piece_of(reach.line, max(first, 0.0), min(last, length))
        if line is not None:
            reaches.append(replace(reach, line=line))
            starts.append(float(start + max(first, 0.0)) / scale)
    filled = Stretch(creek.name, tuple(bank for bank in SIDES if bank in stretch.banks), begin, end)
    for side, bank in enumerate(SIDES):
        if bank in filled.banks and not any(reach.widths[side] for reach in reaches):
            raise BadInput(f"the {bank} bank of {creek.name} is not drawn between {begin:,.0f} m and {end:,.0f} m")
    order = np.argsort(starts, kind="stable")
    lines = [reaches[place].line for place in order]
    return CreekPart(
        filled,
        creek,
        tuple(reaches[place] for place in order),
        tuple(starts[place] for place in order),
        shapely.MultiLineString(lines),
    )


def piece_of(line: shapely.LineString, begin: float, end: float) -> shapely.LineString | None:
    """Return the part of a line between two lengths along it, None if nothing is left. [grid m]."""
    corners = shapely.get_coordinates(line)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    begin, end = max(begin, 0.0), min(end, float(along[-1]))
    if end - begin <= CLEAN_M:
        return None
    if begin <= 0 and end >= along[-1]:
        return line
    kept = corners[(along > begin + CLEAN_M / 2) & (along < end - CLEAN_M / 2)]
    tips = np.column_stack([np.interp([begin, end], along, corners[:, axis]) for axis in (0, 1)])
    return shapely.LineString(np.vstack([tips[:1], kept, tips[1:]]))


def _check_banks(creek: Creek, banks: tuple[str, ...]) -> None:
    wrong = [bank for bank in banks if bank not in SIDES]
    if wrong or not banks:
        raise BadInput(f"a bank is left or right, looking downstream, not '{', '.join(wrong)}'; name one or both")
    for side, bank in enumerate(SIDES):
        if bank in banks and not any(reach.widths[side] for reach in creek.reaches):
            raise BadInput(
                f"the {bank} bank of {creek.name} is not drawn, only its {SIDES[1 - side]} bank; "
                f"draw the {bank} bank too, or plan for the {SIDES[1 - side]} bank alone"
            )


def _from_to(course: _Course, stretch: Stretch) -> tuple[float, float]:
    """Where the stretch begins and ends, filled in. [ground m]."""
    begin = 0.0 if stretch.from_m is None else float(stretch.from_m)
    end = course.length_m if stretch.to_m is None else float(stretch.to_m)
    _check_along(course, begin, "the beginning of the stretch")
    _check_along(course, end, "the end of the stretch")
    if begin >= end:
        raise BadInput(
            f"the stretch runs from {begin:,.1f} m to {end:,.1f} m; chainage counts downstream, "
            "so the first must be the smaller"
        )
    begin, end = max(begin, 0.0), min(end, course.length_m)
    if end - begin < SHORTEST_M:
        raise BadInput(f"the stretch from {begin:,.1f} m to {end:,.1f} m is too short to plant")
    return begin, end


def _check_along(course: _Course, at_m: float, what: str) -> None:
    if not math.isfinite(at_m):
        raise BadInput(f"{what} is not a number of metres along {course.creek.name}")
    if not -ROUNDED_M <= at_m <= course.length_m + ROUNDED_M:
        raise BadInput(
            f"{what}, {at_m:,.1f} m, does not lie along {course.creek.name}, "
            f"which runs from 0 to {course.length_m:,.1f} m"
        )
