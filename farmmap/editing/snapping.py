"""What the pointer is drawn to: corners, crossings, trees and edges near it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from farmmap.editing.corners import feet, index_of
from farmmap.editing.guard import guarded
from farmmap.editing.parts import Floats
from farmmap.editing.words import own_name
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import tree_index

SNAP_TABLES = ("blocks", "creeks", "fences", "tracks", "hazards", "boundary", "notes", "trees")
"""What is snapped to if nothing else is asked for."""

MOST_SIDES = 400
"""Crossings are looked for among no more edges than this, the nearest ones."""


@dataclass(frozen=True)
class Snap:
    """A place that the pointer is drawn to.

    Attributes
    ----------
    kind : str
        ``corner``, ``crossing``, ``tree`` or ``edge``.
    x, y : float
        Where it is. [m]
    words : str
        What it is, such as ``corner of North Terrace``.
    """

    kind: str
    x: float
    y: float
    words: str


@dataclass(frozen=True, eq=False)
class _Sides:
    """Edges near a place: their ends, and whose they are."""

    starts: Floats
    ends: Floats
    owner: NDArray[np.intp]


class Snapper:
    """Finds what lies near the pointer on one farm.

    Indexes are kept while a table is the same, so a snapper may be made afresh
    after every edit.

    Parameters
    ----------
    farm : Farm
        The farm.
    tables : iterable of str
        What is snapped to.
    leave_out : tuple of str and int, optional
        Table and id of a row that is being moved, and draws nothing to itself.
    extra : geometry, optional
        What is being drawn, which the pointer is drawn to as well.
    """

    @guarded
    def __init__(
        self,
        farm: Farm,
        tables: Iterable[str] = SNAP_TABLES,
        leave_out: tuple[str, int] | None = None,
        extra: shapely.Geometry | None = None,
    ) -> None:
        self._farm = farm
        names = tuple(tables)
        self._trees = "trees" in names and len(farm.trees) > 0
        self._tables = [
            (name, frame, index_of(frame), frame.geometry.to_numpy())
            for name in names
            if isinstance(frame := farm.tables[name], gpd.GeoDataFrame) and len(frame)
        ]
        self._leave_out = leave_out
        self._extra = extra if extra is not None and not extra.is_empty else None

    @guarded
    def at(self, x: float, y: float, within_m: float, start: tuple[float, float] | None = None) -> Snap | None:
        """Return what the pointer is drawn to: corners before crossings, trees and edges; None if nothing is near.

        Parameters
        ----------
        x, y : float
            Where the pointer is. [m]
        within_m : float
            How far it reaches. [m]
        start : tuple of float, optional
            The last corner drawn; where a line from it meets an edge squarely within reach, that place is taken.
        """
        if not (np.isfinite(x) and np.isfinite(y) and within_m > 0):
            return None
        shapes, whose = self._near(x, y, within_m)
        if shapes:
            flat = np.array(shapes, object)
            corners, of = shapely.get_coordinates(flat, return_index=True)
            away = np.hypot(corners[:, 0] - x, corners[:, 1] - y)
            nearest = int(np.argmin(away))
            if away[nearest] <= within_m:
                owner = self._words(whose[of[nearest]])
                return Snap("corner", float(corners[nearest, 0]), float(corners[nearest, 1]), f"corner of {owner}")
        sides = _sides(shapes, x, y, within_m) if shapes else None
        if sides is not None and (found := self._crossing(sides, whose, x, y, within_m)):
            return found
        if self._trees and (found := self._tree(x, y, within_m)):
            return found
        return None if sides is None else self._edge(sides, whose, x, y, within_m, start)

    def _near(self, x: float, y: float, within_m: float) -> tuple[list[shapely.Geometry], list[tuple[str, int]]]:
        box = shapely.box(x - within_m, y - within_m, x + within_m, y + within_m)
        shapes: list[shapely.Geometry] = []
        whose: list[tuple[str, int]] = []
        for name, frame, index, all_shapes in self._tables:
            for place in np.sort(index.query(box)):
                row = (name, int(frame.index[place]))
                if row != self._leave_out:
                    shapes.append(all_shapes[place])
                    whose.append(row)
        if self._extra is not None:
            shapes.append(self._extra)
            whose.append(("", 0))
        return shapes, whose

    def _words(self, row: tuple[str, int]) -> str:
        return own_name(self._farm, *row) if row[0] else "what is being drawn"

    def _crossing(
        self, sides: _Sides, whose: list[tuple[str, int]], x: float, y: float, within_m: float
    ) -> Snap | None:
        count = len(sides.starts)
        if count < 2:
            return None
        one, other = np.triu_indices(count, 1)
        at = _meeting(sides, one, other)
        away = np.hypot(at[:, 0] - x, at[:, 1] - y)
        away = np.where(np.isnan(away), np.inf, away)
        best = int(np.argmin(away))
        if not away[best] <= within_m:
            return None
        owners = [self._words(whose[sides.owner[place]]) for place in (one[best], other[best])]
        words = f"crossing of {owners[0]} and {owners[1]}" if owners[0] != owners[1] else f"crossing of {owners[0]}"
        return Snap("crossing", float(at[best, 0]), float(at[best, 1]), words)

    def _tree(self, x: float, y: float, within_m: float) -> Snap | None:
        trees = self._farm.trees
        places = tree_index(self._farm).in_box(x - within_m, y - within_m, x + within_m, y + within_m)
        if not len(places):
            return None
        east, north = trees["x"].to_numpy()[places], trees["y"].to_numpy()[places]
        away = np.hypot(east - x, north - y)
        if self._leave_out is not None and self._leave_out[0] == "trees":
            away = np.where(trees.index.to_numpy()[places] == self._leave_out[1], np.inf, away)
        best = int(np.argmin(away))
        if away[best] > within_m:
            return None
        row = int(trees.index[places[best]])
        return Snap("tree", float(east[best]), float(north[best]), own_name(self._farm, "trees", row))

    def _edge(
        self,
        sides: _Sides,
        whose: list[tuple[str, int]],
        x: float,
        y: float,
        within_m: float,
        start: tuple[float, float] | None,
    ) -> Snap | None:
        at = feet(sides.starts, sides.ends, x, y)
        away = np.hypot(at[:, 0] - x, at[:, 1] - y)
        best = int(np.argmin(away))
        if away[best] > within_m:
            return None
        place, words = at[best], "edge of"
        if start is not None:
            square = feet(sides.starts[[best]], sides.ends[[best]], *start)[0]
            ends = np.stack([sides.starts[best], sides.ends[best]])
            on_edge = (np.hypot(*(ends - square).T) > 0).all()
            if on_edge and np.hypot(square[0] - x, square[1] - y) <= within_m:
                place, words = square, "square onto"
        owner = self._words(whose[sides.owner[best]])
        return Snap("edge", float(place[0]), float(place[1]), f"{words} {owner}")


def _sides(shapes: list[shapely.Geometry], x: float, y: float, within_m: float) -> _Sides | None:
    """Edges of shapes that pass within reach of a place, None if none does."""
    lines, owner = shapely.get_parts(np.array(shapes, object), return_index=True)
    areas = shapely.get_type_id(lines) == shapely.GeometryType.POLYGON
    if areas.any():
        rings, of = shapely.get_rings(lines[areas], return_index=True)
        open_lines = shapely.get_type_id(lines) == shapely.GeometryType.LINESTRING
        lines, owner = (
            np.concatenate([rings, lines[open_lines]]),
            np.concatenate([owner[areas][of], owner[open_lines]]),
        )
    corners, line = shapely.get_coordinates(lines, return_index=True)
    same = line[1:] == line[:-1]
    starts, ends, owner = corners[:-1][same], corners[1:][same], owner[line[1:][same]]
    if not len(starts):
        return None
    at = feet(starts, ends, x, y)
    away = np.hypot(at[:, 0] - x, at[:, 1] - y)
    near = np.flatnonzero(away <= within_m)
    if len(near) > MOST_SIDES:
        near = near[np.argsort(away[near])[:MOST_SIDES]]
    return _Sides(starts[near], ends[near], owner[near]) if len(near) else None


def _meeting(sides: _Sides, one: NDArray[np.intp], other: NDArray[np.intp]) -> Floats:
    """Where pairs of edges cross between their ends; nan where they do not, shape (n, 2)."""
    a, r = sides.starts[one], sides.ends[one] - sides.starts[one]
    b, s = sides.starts[other], sides.ends[other] - sides.starts[other]
    turn = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    gap = b - a
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (gap[:, 0] * s[:, 1] - gap[:, 1] * s[:, 0]) / turn
        across = (gap[:, 0] * r[:, 1] - gap[:, 1] * r[:, 0]) / turn
    crosses = (turn != 0) & (along >= 0) & (along <= 1) & (across >= 0) & (across <= 1)
    return np.where(crosses[:, None], a + r * np.where(crosses, along, 0.0)[:, None], np.nan)
