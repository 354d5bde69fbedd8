"""Blocks that were drawn or reshaped fitted to their neighbours: no ground that two blocks claim, edges shared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.block_rows import Box, Shapes, block_rows, neighbours
from farmmap.editing.parts import gathered, simple_parts
from farmmap.editing.shared_edges import (
    OVERLAP_M2,
    box_around,
    changed_ground,
    corners_in,
    snapped_to,
    with_corners_at,
    without_hairlines,
)
from farmmap.editing.sound import MENDED_M2, still_sound
from farmmap.editing.words import area_words, listed, own_name
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.figures.areas import areas_m2, polygons_only
from farmmap.figures.united import united

SLIVER_M2 = 1.0
"""Slivers that are left out of a block are told of if they come to so much together. [m²]"""

_MOST_PASSES = 3


@dataclass
class Settled:
    """Blocks after an edit, fitted to their neighbours.

    Attributes
    ----------
    shapes : dict of int to geometry
        Outline of each block that changes, neighbours that got new corners included.
    notes : list of str
        What was cut.
    """

    shapes: Shapes
    notes: list[str] = field(default_factory=list)


def settled(farm: Farm, changed: Mapping[int, shapely.Geometry], names: Mapping[int, str] | None = None) -> Settled:
    """Fit existing blocks that were drawn or reshaped to each other and to their neighbours.

    A block that lies over a neighbour is cut back to the neighbour's edge. On
    an edge that two blocks share each gets the corners of the other.

    Parameters
    ----------
    farm : Farm
        The farm before the edit.
    changed : mapping of int to geometry
        New outlines by id, valid; the first ones win where they overlap each other.
    names : mapping of int to str, optional
        What blocks are called that the farm does not have yet.

    Raises
    ------
    BadInput
        Nothing would be left of a block, or it would fall into pieces.
    """
    called = dict(names or {})
    region = _touched_ground(farm, changed)
    near = neighbours(farm, region, leave_out=changed)
    before = dict(near)
    out = Settled({})
    for row, shape in changed.items():
        called.setdefault(row, own_name(farm, "blocks", row))
        others = near | out.shapes
        fitted = _fitted(farm, shape, others, region, row, called, out.notes)
        if fitted is not shape:
            fitted = still_sound(fitted, called[row])
        out.shapes[row] = fitted
        corners = shapely.get_coordinates(fitted) if fitted is not shape else corners_in(region, [fitted])
        for other, theirs in others.items():
            given = with_corners_at(theirs, corners)
            if other in near:
                near[other] = given
            else:
                out.shapes[other] = given
    out.shapes |= {row: shape for row, shape in near.items() if shape is not before[row]}
    return out


def _touched_ground(farm: Farm, changed: Mapping[int, shapely.Geometry]) -> Box:
    """Rectangle around all edges in which blocks differ from what they were; all of a block that is new."""
    rows = block_rows(farm)
    places = rows.index.get_indexer(list(changed))
    boxes = []
    for place, shape in zip(places, changed.values(), strict=True):
        was = rows.outlines[place] if place >= 0 and rows.existing[place] else None
        box = shape.bounds if was is None else changed_ground(was, shape)
        if box is not None:
            boxes.append(box)
    if not boxes:
        return np.inf, np.inf, -np.inf, -np.inf
    return box_around(np.array(boxes).reshape(-1, 2))


def _fitted(
    farm: Farm,
    shape: shapely.Geometry,
    others: Shapes,
    region: Box,
    row: int,
    called: Mapping[int, str],
    notes: list[str],
) -> shapely.Geometry:
    """Return a block with its neighbours' corners on shared edges, cut back where it lies over them."""
    if not others:
        return shape
    corners = corners_in(region, others.values())
    outlines = np.array(list(others.values()), object)
    pieces = len(simple_parts(shape))
    cut: dict[int, float] = {}
    for _ in range(_MOST_PASSES):
        shape = with_corners_at(snapped_to(shape, corners), corners)
        over = shapely.intersection(shape, outlines)
        hit = np.flatnonzero(shapely.area(over) > OVERLAP_M2)
        if not len(hit):
            break
        taken = areas_m2(np.array([polygons_only(part) for part in over[hit]], object), farm.grid)
        for place, area in zip(hit, taken, strict=True):
            cut[list(others)[place]] = cut.get(list(others)[place], 0.0) + float(area)
        shape = _cut_back(
            farm, shape, outlines[hit], pieces, called[row], [_name(farm, list(others)[p], called) for p in hit], notes
        )
    if cut:
        over_each = listed([f"{area_words(area)} lay over {_name(farm, other, called)}" for other, area in cut.items()])
        notes.append(f"{called[row]} was cut back to its neighbours' edges: {over_each}")
    return shape


def _cut_back(
    farm: Farm,
    shape: shapely.Geometry,
    others: NDArray[np.object_],
    pieces: int,
    name: str,
    neighbour_names: list[str],
    notes: list[str],
) -> shapely.Geometry:
    left = without_hairlines(shapely.difference(shape, united(others)))
    parts = [part for part in simple_parts(left) if part.area > OVERLAP_M2]
    across = listed(neighbour_names)
    if not parts:
        raise BadInput(f"{name} would lie wholly on {across}, and nothing would be left of it; draw it beside {across}")
    parts.sort(key=lambda part: -part.area)
    if len(parts) > pieces and parts[pieces].area > MENDED_M2:
        sizes = listed([area_words(float(area)) for area in areas_m2(np.array(parts, object), farm.grid)])
        raise BadInput(
            f"{name} would fall into pieces of {sizes}, with {across} in the way; draw it on one side of {across} only"
        )
    notes += _left_out(areas_m2(np.array(parts[pieces:], object), farm.grid), name, across)
    return gathered(parts[:pieces])


def _left_out(areas: NDArray[np.float64], name: str, across: str) -> list[str]:
    """Return what is to be said of slivers of a block beyond its neighbours, one line for all; nothing of very few."""
    if areas.sum() < SLIVER_M2:
        return []
    what = "a sliver of" if len(areas) == 1 else f"{len(areas)} slivers, together"
    verb = "was" if len(areas) == 1 else "were"
    return [f"{name}: {what} {area_words(float(areas.sum()))} beyond {across} {verb} left out"]


def _name(farm: Farm, row: int, called: Mapping[int, str]) -> str:
    return called[row] if row in called else own_name(farm, "blocks", row)
