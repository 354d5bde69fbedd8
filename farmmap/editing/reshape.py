"""Reshaping: corners moved, put in and taken out, whole shapes moved, rows removed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import ArrayLike

from farmmap.editing.block_rows import Shapes, is_existing, neighbours
from farmmap.editing.corners import Corner, EdgePlace
from farmmap.editing.guard import guarded
from farmmap.editing.parts import Floats, rings_of, shape_of
from farmmap.editing.proposed import (
    Proposed,
    edit_of,
    ids_of,
    joined_change,
    removed_change,
    rows_of,
    shape_of_row,
    shapes_changed,
)
from farmmap.editing.settling import settled
from farmmap.editing.shared_edges import box_around, corners_in, with_corners_at
from farmmap.editing.sound import TOUCH_M, far_note, refuse_off_grid, still_sound
from farmmap.editing.words import counted, own_name, table_of, with_kind
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm
from farmmap.farm.schema import Geometry

_POLYGON = shapely.GeometryType.POLYGON


@guarded
def corner_moved(farm: Farm, corner: Corner, x: float, y: float, *, neighbours: bool = True) -> Proposed:
    """Propose to move one corner.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    corner : Corner
        The corner, as `farmmap.editing.corners` gives it.
    x, y : float
        Where it goes, on the farm's grid. [m]
    neighbours : bool
        Whether rows of the same table that share the corner (to 1 mm) move it too, and blocks on whose edge it
        lies follow it, so that shared edges stay shared.

    Raises
    ------
    BadInput
        An outline would cross itself, or nothing would be left of a block.
    """
    what = own_name(farm, corner.table, corner.id)
    refuse_off_grid(farm, [(x, y)], what)
    shape = _still_there(farm, corner)
    at, to = np.array([corner.x, corner.y]), np.array([x, y])
    own, around = _with_shared_corners(farm, corner, shape)
    moved: Shapes = {corner.id: _one_moved(own, corner, at, to)}
    if neighbours:
        moved = {corner.id: _moved_at(own, at, to)}
        moved |= {row: new for row, theirs in around.items() if (new := _moved_at(theirs, at, to)) is not theirs}
    return _reshaped(farm, f"Move corner of {what}", corner.table, moved, far_note(farm, to, what))


@guarded
def corner_added(farm: Farm, edge: EdgePlace, x: float, y: float) -> Proposed:
    """Propose a new corner on an edge; blocks that share the edge get it too.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    edge : EdgePlace
        Where on which edge.
    x, y : float
        Where the corner goes; the edge bends to it. [m]

    Raises
    ------
    BadInput
        There is a corner already, or an outline would cross itself.
    """
    what = own_name(farm, edge.table, edge.id)
    refuse_off_grid(farm, [(x, y)], what)
    shape = shape_of_row(farm, edge.table, edge.id)
    on = np.array([edge.x, edge.y])
    rings, kinds = rings_of(shape)
    ring = _ring_at(rings, edge, what)
    if kinds[edge.part] == shapely.GeometryType.POINT:
        raise BadInput(f"{what} is a single place and has no edge; move it instead")
    if (np.hypot(*(ring - [x, y]).T) <= TOUCH_M).any():
        raise BadInput(f"{what} has a corner at that place already; move it instead")
    rings[edge.part][edge.ring] = np.insert(ring, edge.place + 1, [x, y], axis=0)
    changed: Shapes = {edge.id: shape_of(rings, kinds)}
    if edge.table == "blocks" and is_existing(farm, edge.id):
        for row, theirs in neighbours(farm, box_around(on[None]), leave_out=[edge.id]).items():
            given = with_corners_at(theirs, on[None])
            if given is not theirs:
                changed[row] = _moved_at(given, on, np.array([x, y]))
    return _reshaped(farm, f"Put in corner of {what}", edge.table, changed, ())


@guarded
def corner_removed(farm: Farm, corner: Corner) -> Proposed:
    """Propose to take one corner out; blocks that share it lose it too.

    Raises
    ------
    BadInput
        Too few corners would be left, or an outline would cross itself.
    """
    what = own_name(farm, corner.table, corner.id)
    shape = _still_there(farm, corner)
    at = np.array([corner.x, corner.y])
    own, around = _with_shared_corners(farm, corner, shape)
    changed: Shapes = {corner.id: _without_corner(own, at, what)}
    said: list[str] = []
    if _is_shared_table(farm, corner.table, corner.id):
        for row, theirs in around.items():
            if _has_corner(farm.blocks.geometry.loc[row], at):
                called = own_name(farm, corner.table, row)
                said.append(f"{called} shares that corner, which went from both")
                changed[row] = _without_corner(theirs, at, called)
    return _reshaped(farm, f"Take away corner of {what}", corner.table, changed, tuple(said))


@guarded
def shape_moved(farm: Farm, table: str, id: int, dx_m: float, dy_m: float) -> Proposed:  # noqa: A002
    """Propose to move a whole shape; neighbours stay where they are.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    table, id : str, int
        Which row.
    dx_m, dy_m : float
        How far to the east and north, on the farm's grid. [m]

    Raises
    ------
    BadInput
        It would lie off the grid, or wholly on a neighbour.
    """
    what = own_name(farm, table, id)
    shape = shape_of_row(farm, table, id)
    moved = shapely.transform(shapely.force_2d(shape), lambda at: at + np.array([dx_m, dy_m]))
    refuse_off_grid(farm, shapely.get_coordinates(moved), what)
    said = far_note(farm, shapely.get_coordinates(moved), what)
    return _reshaped(farm, f"Move {with_kind(farm, table, id)}", table, {id: moved}, said)


@guarded
def rows_removed(farm: Farm, table: str, ids: ArrayLike) -> Proposed:
    """Propose to remove rows; measurements of trees go with them, photographs of a photo point stay without one.

    Raises
    ------
    BadInput
        A row is not there, or is a species that trees still bear.
    """
    wanted = ids_of(ids)
    table_of(table)
    rows = rows_of(farm, table, wanted)
    name = f"Take away {counted(farm, table, wanted)}"
    changes = {table: removed_change(farm, table, rows.index)}
    notes: tuple[str, ...] = ()
    if table == "species":
        borne = farm.trees["species"].isin(rows["code"])
        if borne.any():
            code = farm.trees["species"][borne].iloc[0]
            raise BadInput(f"{int(borne.sum())} trees are of species {code}; change their species first")
    if table == "trees":
        taken = farm.measurements.index[farm.measurements["tree"].isin(wanted)]
        if len(taken):
            changes["measurements"] = removed_change(farm, "measurements", taken)
            readings = f"{len(taken)} measurements go" if len(taken) > 1 else "1 measurement goes"
            notes = (f"{readings} with {counted(farm, table, wanted)}",)
    if table == "photo_points":
        photos = farm.tables["photos"]
        left = photos[photos["photo_point"].isin(wanted).to_numpy(bool)]
        if len(left):
            changes["photos"] = Change(left, left.assign(photo_point=0).astype(left.dtypes))
            stay = "1 photograph stays" if len(left) == 1 else f"{len(left)} photographs stay"
            notes = (f"{stay}, without a photo point",)
    return Proposed(edit_of(name, changes), notes)


def _reshaped(
    farm: Farm, name: str, table: str, moved: Mapping[int, shapely.Geometry], said: tuple[str, ...]
) -> Proposed:
    """Return the edit that gives rows other shapes, if they are sound, existing blocks fitted to their neighbours."""
    names = {row: own_name(farm, table, row) for row in moved}
    shapes = {row: still_sound(shape, names[row]) for row, shape in moved.items()}
    notes = list(said)
    if table == "blocks":
        existing = {row: shape for row, shape in shapes.items() if is_existing(farm, row)}
        if existing:
            found = settled(farm, existing, names)
            shapes |= found.shapes
            notes += found.notes
    change: Change = joined_change(shapes_changed(farm, table, shapes))
    return Proposed(edit_of(name, {table: change}), tuple(notes))


def _is_shared_table(farm: Farm, table: str, row: int) -> bool:
    return table == "blocks" and is_existing(farm, row)


def _still_there(farm: Farm, corner: Corner) -> shapely.Geometry:
    """Return the shape that a corner belongs to; refuse if the corner is not there any more."""
    shape = shape_of_row(farm, corner.table, corner.id)
    rings, _ = rings_of(shape)
    what = own_name(farm, corner.table, corner.id)
    ring = _ring_at(rings, corner, what)
    if corner.place >= len(ring) or np.hypot(*(ring[corner.place] - [corner.x, corner.y])) > TOUCH_M:
        raise BadInput(f"{what} has changed since; choose the corner again")
    return shape


def _ring_at(rings: list[list[Floats]], where: Corner | EdgePlace, what: str) -> Floats:
    if where.part >= len(rings) or where.ring >= len(rings[where.part]):
        raise BadInput(f"{what} has changed since; choose the place again")
    return rings[where.part][where.ring]


def _with_shared_corners(farm: Farm, corner: Corner, shape: shapely.Geometry) -> tuple[shapely.Geometry, Shapes]:
    """Return the shape, and the rows of its table around the corner, with the same corners on edges that they share."""
    if _is_shared_table(farm, corner.table, corner.id):
        rings, _ = rings_of(shape)
        ring = rings[corner.part][corner.ring]
        beside = [(corner.place + step) % len(ring) for step in (-1, 0, 1)]
        region = box_around(ring[beside])
        around = neighbours(farm, region, leave_out=[corner.id])
        own = with_corners_at(shape, corners_in(region, around.values())) if around else shape
        mine = corners_in(region, [own])
        return own, {row: with_corners_at(theirs, mine) for row, theirs in around.items()}
    if table_of(corner.table).geometry is Geometry.POINT:
        return shape, {}
    frame = farm.tables[corner.table]
    shapes = frame["geometry"].to_numpy()
    near = np.flatnonzero(shapely.dwithin(shapes, shapely.Point(corner.x, corner.y), TOUCH_M))
    if corner.table == "blocks":  # planned ones move with planned ones only
        near = near[(frame["stage"].iloc[near] == "planned").to_numpy(bool)]
    return shape, {int(frame.index[place]): shapes[place] for place in near if int(frame.index[place]) != corner.id}


def _has_corner(shape: shapely.Geometry, at: Floats) -> bool:
    return bool((np.hypot(*(shapely.get_coordinates(shape) - at).T) <= TOUCH_M).any())


def _moved_at(shape: shapely.Geometry, at: Floats, to: Floats) -> shapely.Geometry:
    """Return a shape whose corners at one place stand at another; the very same shape if it has none there."""
    corners = shapely.get_coordinates(shape)
    hit = np.hypot(*(corners - at).T) <= TOUCH_M
    if not hit.any():
        return shape
    corners[hit] = to
    return shapely.set_coordinates(shapely.force_2d(shape), corners)


def _one_moved(shape: shapely.Geometry, corner: Corner, at: Floats, to: Floats) -> shapely.Geometry:
    """Return a shape with that one corner moved, wherever it stands in its ring by now."""
    rings, kinds = rings_of(shape)
    ring = rings[corner.part][corner.ring].copy()
    ring[int(np.argmin(np.hypot(*(ring - at).T)))] = to
    rings[corner.part][corner.ring] = ring
    return shape_of(rings, kinds)


def _without_corner(shape: shapely.Geometry, at: Floats, what: str) -> shapely.Geometry:
    rings, kinds = rings_of(shape)
    for part, kind in zip(rings, kinds, strict=True):
        least = 3 if kind == _POLYGON else 2
        for place, ring in enumerate(part):
            kept = ring[np.hypot(*(ring - at).T) > TOUCH_M]
            if len(kept) == len(ring):
                continue
            if len(kept) < least:
                keeps = {
                    _POLYGON: "an area keeps at least three corners",
                    shapely.GeometryType.POINT: "it is a single place",
                }.get(kind, "a line keeps at least two corners")
                raise BadInput(f"{what}: {keeps}; remove {what} as a whole instead")
            part[place] = kept
    return shape_of(rings, kinds)
