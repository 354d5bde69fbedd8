"""Where a planned fence is left out: along fences that stand already, and beyond the farm's boundary."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.farm.farm import Farm
from farmmap.figures.banks import SIDES
from farmmap.plans.planting.fences.farm_lines import farm_boundary
from farmmap.plans.planting.fences.outer_edge import Corridor

Floats = NDArray[np.float64]

ASKEW_M = 0.5
"""A fence that stands so much too near or too far still serves. [ground m]"""

SERVES = 3.0
"""A fence that stands serves where it runs along the new one for so many times their greatest distance or more."""

TOUCH_M = 1e-3
"""Places so near each other are the same. [grid m]"""

CHINK_M = 0.5
"""A gap so short between two fences that stand is closed when the fence is joined, and not counted. [ground m]"""


def without_standing(farm: Farm, found: list[Corridor], reach: float, scale: float, notes: list[str]) -> list[Corridor]:
    """Return what is left of the corridors where no fence stands yet, on the farm's own ground.

    Parameters
    ----------
    farm : Farm
        The farm; its existing fences and its boundary count.
    found : list of Corridor
        Where the fence would run.
    reach : float
        How far outside the planting a fence may stand. [grid m]
    scale : float
        Grid metres for a metre of ground.
    notes : list of str
        What was left out is put down here.
    """
    lines = farm.fences.geometry[farm.fences["stage"] == "existing"].to_numpy() if len(farm.fences) else np.array([])
    farm_ground = farm_boundary(farm)
    spared, beyond = [0.0, 0.0], [0.0, 0.0]
    left: list[Corridor] = []
    for corridor in found:
        middle = shapely.LineString((corridor.inner + corridor.outer) / 2)
        kept: shapely.Geometry = middle
        if farm_ground is not None and not shapely.covers(farm_ground, shapely.LineString(corridor.outer)):
            kept = shapely.intersection(kept, farm_ground)
            beyond[corridor.side] += middle.length - kept.length
        along: shapely.Geometry = shapely.MultiLineString()
        near = lines[shapely.dwithin(lines, middle, reach + ASKEW_M * scale)] if len(lines) else lines
        if len(near) and not kept.is_empty:
            along = _served(kept, near, reach + ASKEW_M * scale)
            spared[corridor.side] += along.length
            # GEOS leaves all of a line from which its own piece, off by the last bit, is taken
            kept = shapely.difference(kept, shapely.buffer(along, TOUCH_M, cap_style="flat"))
        gaps = (2 * reach, min(CHINK_M * scale, 2 * reach))
        left += [corridor] if kept is middle else _cut(corridor, middle, kept, along, gaps)
    if sum(spared) > 0:
        notes.append(
            f"{_by_bank(spared, 0, scale)} have a fence already; none is counted there. See that it is stock-proof and "
            "that the new fence joins it."
        )
    if max(beyond) > scale:
        notes.append(
            f"{_by_bank(beyond, scale, scale)} reach the farm's boundary, where no new fence is counted: the boundary "
            "fence has to hold the stock there."
        )
    return left


def _by_bank(lengths: list[float], least: float, scale: float) -> str:
    """Lengths on the grid in words, those of more than the least."""
    pairs = zip(lengths, SIDES, strict=True)
    return " and ".join(f"{length / scale:.0f} m on the {bank} bank" for length, bank in pairs if length > least)


def _served(line: shapely.Geometry, near: NDArray[np.object_], reach: float) -> shapely.Geometry:
    """Return the stretches of a line that a standing fence runs along."""
    beside = shapely.intersection(shapely.union_all(near), shapely.buffer(line, reach, cap_style="flat"))
    parts = shapely.get_parts(beside)
    long = parts[shapely.length(parts) >= SERVES * reach]
    if not len(long):
        return shapely.MultiLineString()
    along = shapely.get_parts(
        shapely.line_merge(shapely.intersection(line, shapely.buffer(shapely.union_all(long), reach, cap_style="flat")))
    )
    return shapely.multilinestrings(along[shapely.length(along) >= SERVES * reach])


def _cut(
    corridor: Corridor,
    middle: shapely.LineString,
    kept: shapely.Geometry,
    along: shapely.Geometry,
    gaps: tuple[float, float],
) -> list[Corridor]:
    """Pieces of a corridor that belong to what is kept of its middle.

    Pieces shorter than the first of ``gaps`` are dropped; between two stretches ``along`` which a fence stands, those
    shorter than the second.
    """
    starts = np.append(0.0, np.cumsum(np.hypot(*np.diff(shapely.get_coordinates(middle), axis=0).T)))
    length = float(starts[-1])
    spans: list[tuple[float, float]] = []
    for piece in shapely.get_parts(kept):
        if piece.geom_type != "LineString" or piece.length <= 0:
            continue
        inside = float(shapely.line_locate_point(middle, shapely.line_interpolate_point(piece, 0.5, normalized=True)))
        spans.append((max(inside - piece.length / 2, 0.0), min(inside + piece.length / 2, length)))
    spans.sort()
    merged: list[tuple[float, float]] = []
    for begin, end in spans:
        if merged and begin - merged[-1][1] < 1e-6:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((begin, end))
    pieces = [[span] for span in merged]
    if corridor.closed and len(pieces) > 1 and merged[0][0] < 1e-6 and merged[-1][1] > length - 1e-6:
        pieces = [[merged[-1], merged[0]], *pieces[1:-1]]
    found: list[Corridor] = []
    for spans in pieces:
        tips = shapely.line_interpolate_point(middle, [spans[0][0], spans[-1][1]])
        least = gaps[1] if (shapely.distance(along, tips) < TOUCH_M).all() else gaps[0]
        if sum(end - begin for begin, end in spans) >= min(least, length):
            found.append(_piece(corridor, starts, spans))
    return found


def _piece(corridor: Corridor, starts: Floats, spans: list[tuple[float, float]]) -> Corridor:
    parts: list[Floats] = []
    for begin, end in spans:
        along = np.concatenate([[begin], starts[(starts > begin) & (starts < end)], [end]])
        both = np.hstack([corridor.inner, corridor.outer])
        parts.append(np.column_stack([np.interp(along, starts, column) for column in both.T]))
    both = np.vstack([parts[0], *[part[1:] for part in parts[1:]]])
    whole = corridor.closed and len(spans) == 1 and spans[0] == (0.0, starts[-1])
    begins = corridor.closed or spans[0][0] > TOUCH_M
    ends = corridor.closed or spans[-1][1] < starts[-1] - TOUCH_M
    cut = (begins and not whole, ends and not whole)
    return replace(corridor, closed=whole, inner=both[:, :2], outer=both[:, 2:], cut=cut)
