"""Drawing new things: blocks, creeks, fences, tracks, hazards, the boundary and notes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike

from farmmap.editing.guard import guarded
from farmmap.editing.proposed import Proposed, added_change, edit_of, joined_change, shapes_changed
from farmmap.editing.settling import settled
from farmmap.editing.shared_edges import OVERLAP_M2
from farmmap.editing.sound import far_note, refuse_off_grid, sound_shape, without_repeats
from farmmap.editing.values import is_blank, typed_values
from farmmap.editing.words import NAMED_BY, begins_with, listed, table_of
from farmmap.errors import BadInput
from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import HAZARD_KINDS, Geometry, Table

DRAWN_TABLES = ("blocks", "creeks", "fences", "tracks", "hazards", "boundary", "notes")
"""Tables whose things are drawn."""


@guarded
def drawn(farm: Farm, table: str, shape: shapely.Geometry, values: Mapping[str, object] | None = None) -> Proposed:
    """Propose a new row of a table.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    table : str
        One of `DRAWN_TABLES`.
    shape : geometry
        What was drawn, on the farm's grid. [m]
    values : mapping of str to object, optional
        Its fields, typed or as text from a form; without a name it gets the next free one, such as ``Block 7``.

    Raises
    ------
    BadInput
        The shape or a value cannot be kept; the message says what to do.
    """
    kind = _drawn_kind(table)
    fields = typed_values(kind, _with_name(farm, kind, values))
    name = str(fields[NAMED_BY.get(table, "name")])
    what = name if begins_with(name, kind.one) or _named_by_kind(fields, name) else f"{kind.one} {name}"
    if shape is not None:
        refuse_off_grid(farm, shapely.get_coordinates(shape), what)
    sound, notes = sound_shape(table, shape, what)
    said = [*notes, *far_note(farm, shapely.get_coordinates(sound), what), *_same_name(farm, kind, name)]
    row = int(next_ids(farm.tables[table], 1)[0])
    around: list[Change] = []
    if table == "blocks" and fields.get("stage") == "planned":
        said += _over_planned(farm, sound, what)
    elif table == "blocks":
        found = settled(farm, {row: sound}, {row: name})
        sound = found.shapes.pop(row)
        said += found.notes
        around = [shapes_changed(farm, table, found.shapes)] if found.shapes else []
    new = added_change(farm, table, _new_row(farm, kind, row, fields, sound))
    verb = "Write" if table == "notes" else "Draw"
    return Proposed(edit_of(f"{verb} {what}", {table: joined_change(new, *around)}), tuple(said))


@guarded
def shape_from_corners(table: str, corners: ArrayLike, *, as_area: bool) -> shapely.Geometry:
    """Return the shape that corners make in a table.

    Parameters
    ----------
    table : str
        What is being drawn.
    corners : array_like, shape (n, 2)
        In their order, on the farm's grid; those at one place count once. [m]
    as_area : bool
        Whether a hazard or a note is an area; blocks and boundaries always are, lines never.

    Raises
    ------
    BadInput
        There are too few corners.
    """
    kind = _drawn_kind(table)
    at = np.asarray(corners, np.float64).reshape(-1, 2)
    if not np.isfinite(at).all():
        raise BadInput(f"{kind.one}: a corner has no place (its coordinates are no numbers); draw it again")
    area = kind.geometry is Geometry.POLYGON or (as_area and kind.geometry is Geometry.ANY)
    if area:
        at = without_repeats(at, closed=True)
        if len(at) < 3:
            raise BadInput(f"a {kind.one} needs at least three corners in different places, not {len(at)}")
        return shapely.Polygon(at)
    at = without_repeats(at, closed=False)
    if kind.geometry is Geometry.ANY and len(at) == 1:
        return shapely.Point(at[0])
    if len(at) < 2:
        raise BadInput(f"a {kind.one} needs at least two corners in different places, not {len(at)}")
    return shapely.LineString(at)


def _drawn_kind(table: str) -> Table:
    if table not in DRAWN_TABLES:
        raise BadInput(f"{table_of(table).words.lower()} are not drawn as lines or areas")
    return table_of(table)


def _free_name(farm: Farm, table: str, kind: str = "") -> str:
    """Return ``Block 7`` for the seventh block, ``Power line 2`` for the second hazard of the kind ``power line``."""
    one, taken = (kind or table_of(table).one).capitalize(), _taken(farm, table)
    number = (int((farm.hazards["kind"] == kind).sum()) if kind else len(farm.tables[table])) + 1
    while f"{one} {number}".casefold() in taken:
        number += 1
    return f"{one} {number}"


def free_names(farm: Farm, table: str, name: str, count: int) -> list[str]:
    """Return free names that count on: ``North Terrace 2`` after ``North Terrace``, ``Block 16`` after ``Block 15``."""
    counted, taken = re.fullmatch(r"(.+) (\d{1,3})", name), _taken(farm, table)  # four figures may be a year
    stem, number = (counted[1], int(counted[2]) + 1) if counted else (name, 2)
    found: list[str] = []
    while len(found) < count:
        if f"{stem} {number}".casefold() not in taken:
            found.append(f"{stem} {number}")
        number += 1
    return found


def _named_by_kind(fields: Mapping[str, Any], name: str) -> bool:
    return begins_with(name, str(fields.get("kind") or ""))


def _taken(farm: Farm, table: str) -> set[str]:
    return {name.casefold() for name in farm.tables[table][NAMED_BY.get(table, "name")].to_list()}


def _with_name(farm: Farm, kind: Table, values: Mapping[str, object] | None) -> dict[str, object]:
    given = dict(values or {})
    column = NAMED_BY.get(kind.name, "name")
    if is_blank(given.get(column)):
        sort = given.get("kind")
        named = isinstance(sort, str) and sort in HAZARD_KINDS and sort != "other"
        given[column] = _free_name(farm, kind.name, str(sort) if named else "")
    return given


def _same_name(farm: Farm, kind: Table, name: str) -> tuple[str, ...]:
    if kind.name != "blocks" or name not in set(farm.blocks["name"]):
        return ()
    return (f"There is a block called {name} already; give each its own name.",)


def _over_planned(farm: Farm, shape: shapely.Geometry, what: str) -> tuple[str, ...]:
    """Say over which planned blocks another one lies: both may be meant, as two plans for one piece of ground."""
    planned = farm.blocks[(farm.blocks["stage"] == "planned").to_numpy(bool)]
    planned = planned[shapely.is_valid(planned.geometry.to_numpy())]
    shared = shapely.area(shapely.intersection(planned.geometry.to_numpy(), shape)) > OVERLAP_M2
    if not shared.any():
        return ()
    return (f"{what} lies over {listed(planned['name'][shared].tolist())}, planned as well; is that meant?",)


def _new_row(farm: Farm, kind: Table, row: int, fields: Mapping[str, Any], shape: shapely.Geometry) -> Any:
    columns = {name: [value] for name, value in fields.items()}
    return shaped(kind, {**columns, "geometry": [shape]}, np.array([row]), farm.grid)
