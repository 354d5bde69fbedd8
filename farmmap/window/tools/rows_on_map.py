"""Which rows of which table lie at a place or within a rectangle of the map, and how they are told of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from farmmap.editing.words import counted, listed
from farmmap.farm.farm import Farm
from farmmap.scene.pick import everything_at
from farmmap.window.map_contents import Contents
from farmmap.window.tools.picks import Row
from farmmap.window.tools.sketch import Outline, outlines_of

MARGINS = "margins"
"""Stands for a table where a creek's margin was hit; its rows are no rows of the farm."""
PHOTO_POINTS = "photo_points"
_BY_LINE = ("notes", "hazards", "fences", "tracks", "creeks")
"""Tables whose points and lines are looked at before any area, those drawn on top first."""


def rows_at(now: Contents, x: float, y: float, within_m: float) -> list[Row]:
    """Return what lies at a place: the nearest tree, photo points, points and lines, then areas, the smaller first.

    Parameters
    ----------
    now : Contents
        What the map shows; what is hidden is passed over.
    x, y : float
        The place. [m]
    within_m : float
        How far off a tree, a point, a line or the farm's boundary may be. [m]
    """
    found = everything_at(now.farm, now.standing, now.margins, x, y, within_m, now.pickable())
    point = shapely.Point(x, y)
    trees = [("trees", one.id) for one in found if one.kind == "tree"] + _photo_points_at(now, x, y, within_m)
    lines: list[Row] = []
    areas: list[tuple[float, Row]] = []
    for table in _BY_LINE:
        if table in now.hidden or not len(now.farm.tables[table]):
            continue
        shapes, ids = _shapes(now.farm, table)
        for place in np.flatnonzero(shapely.dwithin(shapes, point, within_m)):
            row = (table, int(ids[place]))
            if shapely.area(shapes[place]) > 0:
                if shapely.intersects(shapes[place], point):
                    areas.append((float(shapely.area(shapes[place])), row))
            else:
                lines.append(row)
    for one in found:
        if one.kind == "margin":
            areas.append((float(shapely.area(now.margins[one.id].polygon)), (MARGINS, one.id)))
        elif one.kind == "block":
            areas.append((float(shapely.area(now.farm.blocks.geometry.loc[one.id])), ("blocks", one.id)))
    areas.sort(key=lambda area: area[0])
    return trees + lines + [row for _, row in areas] + _boundary_at(now, point, within_m)


def next_of(found: Sequence[Row], picked: Sequence[Row]) -> Row | None:
    """Return the first of what was hit, or what lies beneath the one that is picked already."""
    if not found:
        return None
    if len(picked) == 1 and picked[0] in found:
        return found[(found.index(picked[0]) + 1) % len(found)]
    return found[0]


def rows_within(now: Contents, west: float, south: float, east: float, north: float) -> list[Row]:
    """Return trees that stand in a rectangle of ground, and all else in sight that lies in it whole."""
    rows: list[Row] = []
    if "trees" not in now.hidden:
        standing = now.standing
        inside = (standing.x >= west) & (standing.x <= east) & (standing.y >= south) & (standing.y <= north)
        shown = np.array([f"species:{name}" not in now.hidden for name in standing.species_names], bool)
        inside &= shown[standing.species]
        rows += [("trees", id_) for id_ in standing.ids[inside].tolist()]
    if PHOTO_POINTS not in now.hidden:
        points = now.farm.tables[PHOTO_POINTS]
        inside = points["x"].between(west, east) & points["y"].between(south, north)
        rows += [(PHOTO_POINTS, id_) for id_ in points.index[inside].tolist()]
    window = shapely.box(west, south, east, north)
    for table in ("blocks", *_BY_LINE):
        if table not in now.hidden and len(now.farm.tables[table]):
            shapes, ids = _shapes(now.farm, table)
            rows += [(table, int(id_)) for id_ in ids[shapely.covers(window, shapes)]]
    return rows


def outlines_of_rows(farm: Farm, rows: Sequence[Row]) -> list[Outline]:
    """Return the outlines of rows, the trees together as points."""
    outlines: list[Outline] = []
    for table in dict.fromkeys(name for name, _ in rows):
        ids = [id_ for name, id_ in rows if name == table]
        frame = farm.tables[table]
        if table in ("trees", PHOTO_POINTS):
            places = frame.index.get_indexer(ids)
            xy = np.stack([frame[axis].to_numpy()[places] for axis in "xy"], axis=1)
            outlines.append(Outline(xy, apart=True))
        else:
            shapes, index = _shapes(farm, table)
            outlines += outlines_of(shapes[np.isin(index, ids)])
    return outlines


def words_of(farm: Farm, rows: Sequence[Row]) -> str:
    """Return what rows are called: ``block North Terrace``, ``tree 12``, ``3 trees and fence Creek fence``."""
    tables = dict.fromkeys(name for name, _ in rows)
    return listed([counted(farm, table, [id_ for name, id_ in rows if name == table]) for table in tables])


def _photo_points_at(now: Contents, x: float, y: float, within_m: float) -> list[Row]:
    """Return the photo points within reach, the nearest first."""
    points = now.farm.tables[PHOTO_POINTS]
    if PHOTO_POINTS in now.hidden or not len(points):
        return []
    away = np.hypot(points["x"].to_numpy() - x, points["y"].to_numpy() - y)
    near = [place for place in np.argsort(away, kind="stable").tolist() if away[place] <= within_m]
    return [(PHOTO_POINTS, int(points.index[place])) for place in near]


def _shapes(farm: Farm, table: str) -> tuple[np.ndarray, np.ndarray]:
    frame = farm.tables[table]
    return np.asarray(frame["geometry"].array, object), frame.index.to_numpy()


def _boundary_at(now: Contents, point: shapely.Point, within_m: float) -> list[Row]:
    if "boundary" in now.hidden or not len(now.farm.boundary):
        return []
    shapes, ids = _shapes(now.farm, "boundary")
    hit = np.flatnonzero(shapely.dwithin(shapely.boundary(shapes), point, within_m))
    return [("boundary", int(ids[place])) for place in hit]
