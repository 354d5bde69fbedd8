"""Gaps between blocks: ground that no block claims, enclosed by blocks or a sliver between two of them."""

from __future__ import annotations

import numpy as np
import shapely

from farmmap.editing.block_rows import Shapes, block_rows, neighbours
from farmmap.editing.guard import guarded
from farmmap.editing.parts import simple_parts
from farmmap.editing.proposed import Proposed, edit_of, shapes_changed
from farmmap.editing.settling import settled
from farmmap.editing.shared_edges import OVERLAP_M2, corners_within, with_corners_at, without_hairlines
from farmmap.editing.sound import TOUCH_M, still_sound
from farmmap.editing.words import ground_words, own_name, place_words
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.united import united

WIDEST_M = 5.0
"""A gap that is open at its ends is filled where it is no wider than this, metres on the farm's grid. [m]"""

STEEPEST = 0.7
"""An edge along which the gap widens by more than this share of the way runs round a corner and out of the gap."""


@guarded
def gap_filled(farm: Farm, x: float, y: float, into: int | None = None) -> Proposed:
    """Propose to give the gap between blocks at a place to one of them.

    The gap is a hole enclosed by blocks, of any size, or else a sliver between
    two blocks no wider than `WIDEST_M`.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    x, y : float
        A place in the gap. [m]
    into : int, optional
        Block that gets it; the one with the longest edge along it if not given.

    Raises
    ------
    BadInput
        There is no gap at that place, or the block does not border it.
    """
    at = shapely.Point(x, y)
    rows = block_rows(farm)
    sound = rows.existing & shapely.is_valid(rows.outlines)
    shapes: Shapes = dict(zip(rows.ids[sound].tolist(), rows.outlines[sound], strict=True))
    for row, shape in shapes.items():
        if shape.contains(at):
            raise BadInput(f"there is no gap at {place_words(x, y)}: it lies in {own_name(farm, 'blocks', row)}")
    gap = _enclosed(shapes, at)
    if gap is None:
        gap = _sliver(shapes, at)
    if gap is None:
        raise BadInput(
            f"there is no gap at {place_words(x, y)}: the ground there is neither enclosed by blocks nor a strip of "
            f"up to {WIDEST_M:g} m between two of them; move corners or draw a block instead"
        )
    around = neighbours(farm, gap.bounds)
    corners = corners_within(around.values())
    gap = with_corners_at(gap, corners)
    around = {row: with_corners_at(shape, shapely.get_coordinates(gap)) for row, shape in around.items()}
    along = {row: _shared_m(gap, shape) for row, shape in around.items()}
    taker = max(along, key=lambda row: along[row]) if into is None else int(into)
    if along.get(taker, 0.0) <= TOUCH_M:
        raise BadInput(f"{own_name(farm, 'blocks', taker)} does not border the gap at {place_words(x, y)}")
    name = own_name(farm, "blocks", taker)
    whole = without_hairlines(united([around[taker], gap]))
    found = settled(farm, {taker: still_sound(whole, name)})
    note = f"{ground_words(gap, farm.grid)} went to {name}"
    edit = edit_of(f"Fill gap beside {name}", {"blocks": shapes_changed(farm, "blocks", found.shapes)})
    return Proposed(edit, (note, *found.notes))


def _enclosed(shapes: Shapes, at: shapely.Point) -> shapely.Geometry | None:
    """Return the hole in all blocks together around a place, None if it is open ground."""
    if not shapes:
        return None
    whole = united(list(shapes.values()))
    for part in simple_parts(whole):
        for ring in shapely.get_rings(part)[1:] if part.geom_type == "Polygon" else []:
            hole = shapely.Polygon(ring)
            if hole.intersects(at):
                return _part_at(shapely.difference(hole, whole), at)
    return None


def _sliver(shapes: Shapes, at: shapely.Point) -> shapely.Geometry | None:
    """Return the strip between the two blocks nearest to a place, None if it is wider than `WIDEST_M`."""
    away = {row: shape.distance(at) for row, shape in shapes.items() if shape.distance(at) <= WIDEST_M}
    nearest = sorted(away, key=lambda row: away[row])
    for place, one in enumerate(nearest):
        for other in nearest[place + 1 :]:
            if away[one] + away[other] > WIDEST_M:
                break
            gap = _between(shapes[one], shapes[other], at)
            if gap is None:
                continue
            near = [shapes[row] for row in nearest]
            found = _part_at(shapely.difference(gap, united(near)), at)
            if found is not None:
                return found
    return None


def _between(one: shapely.Geometry, other: shapely.Geometry, at: shapely.Point) -> shapely.Geometry | None:
    """Return the strip between the edges along which two blocks face each other."""
    first, second = _facing(one, other, at), _facing(other, one, at)
    if first is None or second is None:
        return None
    there, back = shapely.get_coordinates(first), shapely.get_coordinates(second)
    straight = np.hypot(*(there[-1] - back[0])) + np.hypot(*(back[-1] - there[0]))
    turned = np.hypot(*(there[-1] - back[-1])) + np.hypot(*(back[0] - there[0]))
    ring = np.concatenate([there, back if straight <= turned else back[::-1]])
    if len(np.unique(ring, axis=0)) < 3:
        return None
    return shapely.make_valid(shapely.Polygon(ring))


def _facing(own: shapely.Geometry, other: shapely.Geometry, at: shapely.Point) -> shapely.Geometry | None:
    """Return the stretch of a block's edge nearest to a place that lies within reach of another block."""
    reach = shapely.buffer(other, WIDEST_M, quad_segs=16)
    stretches = shapely.line_merge(shapely.intersection(shapely.boundary(own), reach))
    lines = [part for part in simple_parts(stretches) if part.geom_type == "LineString" and part.length > TOUCH_M]
    return _trimmed(min(lines, key=lambda line: line.distance(at)), other) if lines else None


def _trimmed(line: shapely.LineString, other: shapely.Geometry) -> shapely.LineString | None:
    """Take off the ends of a stretch that run away from the other block, round the corners of its own."""
    corners = shapely.get_coordinates(line)
    for _ in range(2):
        away = shapely.distance(shapely.points(corners), other)
        steps = np.hypot(*np.diff(corners, axis=0).T)
        leaving = away[:-1] - away[1:] > STEEPEST * steps
        first = int(np.argmin(leaving)) if not leaving.all() else len(leaving)
        corners = corners[first:][::-1]
    return shapely.LineString(corners) if len(corners) > 1 else None


def _part_at(shape: shapely.Geometry, at: shapely.Point) -> shapely.Geometry | None:
    parts = [
        p for p in simple_parts(shape) if p.geom_type == "Polygon" and p.area > OVERLAP_M2 and p.distance(at) <= TOUCH_M
    ]
    return max(parts, key=lambda part: part.area) if parts else None


def _shared_m(gap: shapely.Geometry, shape: shapely.Geometry) -> float:
    return float(shapely.length(shapely.intersection(shapely.boundary(gap), shapely.boundary(shape))))
