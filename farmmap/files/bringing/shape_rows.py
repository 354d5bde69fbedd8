"""Rows of a source to outlines, lines and other shapes of a farm."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from farmmap.farm.edits import Change
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import TABLES, Geometry, Kind, Table
from farmmap.farm.species import plain
from farmmap.files.bringing.counted import counted, rows_named
from farmmap.files.bringing.heads import is_line_or_outline
from farmmap.files.bringing.outlines import OddShapeError, fitted, joined
from farmmap.files.bringing.plan import Plan
from farmmap.files.bringing.sieve import Sieve
from farmmap.files.bringing.values import texts_of
from farmmap.files.flow import meeting_head_on

SAID_AT_MOST = 20
"""Rows about which something was mended are named one by one up to this many."""

_PART_HEADS = {
    "part",
    "line",
    "segment",
    "track",
    "ring",
    "polygon",
    "outline",
    "shape",
    "line id",
    "track id",
    "segment id",
    "shape id",
}


def shape_changes(
    farm: Farm,
    plan: Plan,
    values: dict[str, Any],
    shapes: np.ndarray,
    sieve: Sieve,
    said: list[str],
) -> dict[str, Change]:
    """Return the change that brings rows in as shapes.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    plan : Plan
        What fills what.
    values : dict of str to ndarray, shape (n,)
        Columns of ours.
    shapes : ndarray of object, shape (n,)
        Shapes on the farm's grid, None for a row without. [m]
    sieve : Sieve
        Rows so far good; more are refused here.
    said : list of str
        What was mended or taken for granted is added.
    """
    table = TABLES[plan.table]
    assert table.geometry is not None
    rows = [np.array([position]) for position in np.flatnonzero(sieve.good)]
    if is_line_or_outline(plan.table) and _all_points(shapes[sieve.good]):
        rows, shapes, values = _points_joined(plan, values, shapes, sieve, said)
    kept, starts = _fitted(rows, shapes, table.geometry, sieve, said)
    if not kept:
        return {}
    drawn = np.empty(len(kept), object)
    drawn[:] = kept
    frame = framed(farm, table, values, np.array(starts), {"geometry": drawn}, said)
    word = table.one if len(frame) == 1 else table.words.lower()
    said.append(f"{len(frame)} {word} came in.")
    if plan.table == "creeks":
        _say_outlines(shapes, starts, sieve, said)
        _say_head_on(farm, frame, np.array(starts), sieve, said)
    return {plan.table: Change(farm.tables[plan.table].iloc[:0], frame)}


def _fitted(
    rows: list[np.ndarray], shapes: np.ndarray, kind: Geometry, sieve: Sieve, said: list[str]
) -> tuple[list[Any], list[int]]:
    """Return the shapes that can be kept, and the row of each; the others are refused."""
    kept: list[Any] = []
    starts: list[int] = []
    mended = 0
    for positions in rows:
        lead = int(positions[0])

        def say(words: str, lead: int = lead) -> None:
            nonlocal mended
            mended += 1
            if mended <= SAID_AT_MOST:
                said.append(f"Row {sieve.row_number(lead)}: {words}.")

        try:
            shape = fitted(shapes[lead], kind, say)
        except OddShapeError as error:
            sieve.refuse_at(positions, str(error))
            continue
        kept.append(shape)
        starts.append(lead)
    if mended > SAID_AT_MOST:
        more = counted(mended - SAID_AT_MOST, "more shape was", "more shapes were")
        said.append(f"{more} closed, joined or mended in the same way.")
    return kept, starts


def _say_outlines(shapes: np.ndarray, starts: list[int], sieve: Sieve, said: list[str]) -> None:
    """Say which creeks came as areas: their edge runs down one bank and up the other, so it has no left and right."""
    areas = [sieve.row_number(row) for row in starts if shapely.get_dimensions(shapes[row]) == 2]
    if areas:
        came, edge = ("came as an area", "its edge") if len(areas) == 1 else ("came as areas", "their edges")
        said.append(
            f"{rows_named(areas).capitalize()} {came}, and {edge} became the creek's line, so its two banks cannot be "
            "told apart and margins will be wrong. Bring in the middle of the channel instead, or each bank as a line."
        )


def _say_head_on(farm: Farm, frame: gpd.GeoDataFrame, starts: np.ndarray, sieve: Sieve, said: list[str]) -> None:
    """Say of which creeks stretches were drawn against each other, if a new stretch is among them."""
    rows = dict(zip(frame.index.tolist(), starts.tolist(), strict=True))
    for name, one, other in meeting_head_on(pd.concat([farm.creeks, frame])):
        new = [sieve.row_number(rows[number]) for number in (one, other) if number in rows]
        if new:
            which = rows_named(new) if len(new) == 2 else f"{rows_named(new)} and a stretch that was there"
            said.append(
                f"Two stretches of {name} ({which}) were drawn against each other, so its left and right bank would "
                "be mixed. Set 'flows' to 'against' for one of them, or turn that line round."
            )


def _all_points(shapes: np.ndarray) -> bool:
    kinds = shapely.get_type_id(shapes)
    return bool((kinds == 0).any() and np.isin(kinds, (-1, 0)).all())


def _points_joined(
    plan: Plan, values: dict[str, Any], shapes: np.ndarray, sieve: Sieve, said: list[str]
) -> tuple[list[np.ndarray], np.ndarray, dict[str, Any]]:
    """Join corners to outlines or lines: those with one name (and part) together, or all of them."""
    table = TABLES[plan.table]
    assert table.geometry is not None
    empty = np.array([shape is None or shape.is_empty for shape in shapes])
    sieve.refuse(empty, "has no place")
    rows = np.flatnonzero(sieve.good)
    groups, by_name = _groups(plan, values, rows, table.geometry)
    lines = joined(shapely.get_coordinates(shapes[rows]), groups, table.geometry)
    members = [rows[groups == group] for group in range(len(lines))]
    out = np.full(len(shapes), None, object)
    for line, positions in zip(lines, members, strict=True):
        if line is None:
            few = (
                "fewer than three corners"
                if table.geometry is Geometry.POLYGON
                else "fewer than two points that differ"
            )
            sieve.refuse_at(positions, f"belongs to a {table.one} of {few}")
        out[positions[0]] = line
    good = [positions for positions in members if out[positions[0]] is not None]
    made = counted(len(good), table.one, table.words.lower())
    said.append(f"The file holds single points; they were joined in their order to {made}.")
    if not by_name:  # the names are those of the corners
        values = {name: v for name, v in values.items() if name != "name"}
    return good, out, values


def _groups(plan: Plan, values: Mapping[str, Any], rows: np.ndarray, kind: Geometry) -> tuple[np.ndarray, bool]:
    keys: dict[str, Any] = {}
    if "name" in values:
        keys["name"] = values["name"][rows]
    for head in plan.unused:
        if plain(head) in _PART_HEADS:
            keys[head] = texts_of(plan.source.column(head)).to_numpy(object)[rows]
    needed = 3 if kind is Geometry.POLYGON else 2
    while keys and len(rows):
        groups = pd.DataFrame(keys).groupby(list(keys), sort=False, dropna=False).ngroup().to_numpy()
        if np.bincount(groups).max() >= needed:
            return groups, "name" in keys
        keys.pop(next(iter(keys)))
    return np.zeros(len(rows), np.int64), False


def framed(
    farm: Farm,
    table: Table,
    values: Mapping[str, Any],
    starts: np.ndarray,
    placed: Mapping[str, np.ndarray],
    said: list[str],
) -> pd.DataFrame:
    """Return new rows of a table, with what it takes for granted where a value is blank.

    Parameters
    ----------
    farm : Farm
        The farm as it is.
    table : Table
        The table.
    values : mapping of str to ndarray, shape (n,)
        Columns of ours.
    starts : ndarray of int, shape (m,)
        Positions of the rows that come in.
    placed : mapping of str to ndarray, shape (m,)
        Where they are: ``geometry``, or ``x`` and ``y``. [m]
    said : list of str
        Names that were given are added.
    """
    columns: dict[str, Any] = {}
    for column in table.columns:
        if column.name not in values:
            continue
        columns[column.name] = values[column.name][starts]
        if column.kind in {Kind.NUMBER, Kind.WHOLE} and column.default is not None:
            blank = np.isnan(columns[column.name])
            columns[column.name] = np.where(blank, column.default, columns[column.name])
        if column.kind is Kind.WHOLE:
            columns[column.name] = columns[column.name].astype(np.int64)
    if any(column.name == "name" and column.needed for column in table.columns):
        columns["name"] = _named(farm, table, columns.get("name", np.full(len(starts), "", object)), said)
    return shaped(table, columns | dict(placed), next_ids(farm.tables[table.name], len(starts)), farm.grid)


def _named(farm: Farm, table: Table, names: np.ndarray, said: list[str]) -> np.ndarray:
    """Give a name to those that carry none: Block 1, Block 2 and on."""
    without = np.flatnonzero(names == "")
    if not len(without):
        return names
    used = {plain(str(name)) for name in [*farm.tables[table.name]["name"], *names]}
    out = names.copy()
    number = 0
    for position in without:
        number += 1
        while plain(f"{table.one} {number}") in used:
            number += 1
        out[position] = f"{table.one.capitalize()} {number}"
    said.append(
        f"{counted(len(without), f'{table.one} carries', f'{table.words.lower()} carry')} no name and "
        f"{'was' if len(without) == 1 else 'were'} called {out[without[0]]}"
        + ("." if len(without) == 1 else f" to {out[without[-1]]}.")
    )
    return out
