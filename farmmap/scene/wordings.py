"""What is named on the map, and how much each name matters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter

import numpy as np
import shapely

from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.scene.photo_signs import photo_wordings
from farmmap.scene.plot_signs import plot_wordings
from farmmap.scene.scene import LabelLayer, TreeLayer, Wording
from farmmap.scene.styles import TextStyle, Theme

IMPORTANCE = {"blocks": 3.0, "creeks": 4.0, "hazards": 2.0, "notes": 1.5, "fences": 0.5, "tracks": 1.0}
"""Names of lower layers give way to those of higher ones."""

FARTHEST_M_PER_MM = {"fences": 2.5, "notes": 8.0, "tracks": 12.0}
"""Small things are named only when a millimetre shows no more ground than this. [m]"""

SIGNED_M_PER_MM = 1.0
"""Likewise for gates and troughs of a plan, whose signs say enough. [m]"""

_PLANNED = {"blocks", "notes"}
"""Layers whose things stand close together where they come from one plan."""

_made: Remembered[tuple[Wording, ...]] = Remembered(24)


def label_layer(farm: Farm, theme: Theme, hidden: frozenset[str], trees: TreeLayer | None) -> LabelLayer:
    """Return the names of everything that is shown.

    Parameters
    ----------
    farm : Farm
        The farm.
    theme : Theme
        How names are written.
    hidden : frozenset of str
        Names of layers whose things are not named.
    trees : TreeLayer or None
        Trees whose tags are written when the view is close.
    """
    wordings: list[Wording] = []
    for layer in IMPORTANCE:
        if layer not in hidden:
            table = farm.tables[layer]
            make = partial(_wordings, farm, layer, theme)
            wordings += _made.get((table,), (layer, *theme.texts.values()), make)
    if "plots" not in hidden:
        wordings += plot_wordings(farm, theme.texts["plots"])
    if "photo_points" not in hidden:
        wordings += photo_wordings(farm, theme.texts["photo_points"])
    wordings.sort(key=attrgetter("importance"), reverse=True)
    return LabelLayer(tuple(wordings), trees, theme.texts["tags"])


@dataclass(frozen=True, eq=False)
class _Row:
    """What one row was named by, and the wording."""

    shape: shapely.Geometry
    of: tuple[str, float, TextStyle, str]
    wording: Wording


_rows: dict[str, dict[int, _Row]] = {}
"""The rows of each layer as they were worded last, as finding the middle of a shape takes time."""


def _wordings(farm: Farm, layer: str, theme: Theme) -> tuple[Wording, ...]:
    table = farm.tables[layer]
    names = table["heading" if layer == "notes" else "name"]
    plans = table["plan"].to_list() if layer in _PLANNED else [""] * len(table)
    width = {"creeks": "channel_m", "tracks": "width_m"}.get(layer)
    widths = np.nan_to_num(table[width].to_numpy()) if width else np.zeros(len(table))
    kinds = (
        ["drains" if kind == "drain" else layer for kind in table["kind"]]
        if layer == "hazards"
        else [layer] * len(table)
    )
    before, rows = _rows.get(layer, {}), {}
    shapes = table["geometry"].to_numpy()
    for id_, name, shape, wide, kind, plan in zip(
        table.index.tolist(), names.tolist(), shapes, widths.tolist(), kinds, plans, strict=True
    ):
        if not name or shape is None:
            continue
        of, was = (str(name), wide, theme.texts[kind], plan), before.get(id_)
        if was is not None and was.shape is shape and was.of == of:
            rows[id_] = was
        elif not shape.is_empty:
            wording = _wording(layer, str(name), _largest_part(shape), wide, theme.texts[kind])
            rows[id_] = _Row(shape, of, _close_by(wording, plan, shape) if plan else wording)
    _rows[layer] = rows
    return (*(row.wording for row in rows.values()), *(_plan_names(rows.values()) if layer == "blocks" else ()))


def _close_by(wording: Wording, plan: str, shape: shapely.Geometry) -> Wording:
    """Return what a part of a plan is named where the map is close enough, as its parts lie side by side."""
    if shape.geom_type == "Point":
        return replace(wording, farthest_m_per_mm=SIGNED_M_PER_MM)
    wide = 2 * float(shapely.length(shapely.maximum_inscribed_circle(shape, tolerance=0.1)))
    text = wording.text.removeprefix(f"{plan}: ")
    return replace(wording, text=text, farthest_m_per_mm=wide / wording.style.size_mm)


def _plan_names(rows: Iterable[_Row]) -> Iterator[Wording]:
    """Name each plan once, at its largest block, for all of its blocks."""
    largest: dict[str, _Row] = {}
    for row in rows:
        plan = row.of[3]
        if plan and (plan not in largest or row.shape.area > largest[plan].shape.area):
            largest[plan] = row
    for plan, row in largest.items():
        middle = shapely.get_coordinates(shapely.shortest_line(row.shape, shapely.centroid(row.shape)))[:1]
        yield replace(row.wording, text=plan, points=middle, farthest_m_per_mm=np.inf)


def _largest_part(shape: shapely.Geometry) -> shapely.Geometry:
    if isinstance(shape, shapely.Polygon | shapely.LineString | shapely.Point):
        return shape
    parts = shapely.get_parts(shape)
    return parts[int(np.argmax(shapely.area(parts) * 1e6 + shapely.length(parts)))]


def _wording(layer: str, name: str, shape: shapely.Geometry, wide: float, style: TextStyle) -> Wording:
    size = float(np.ptp(shapely.bounds(shape).reshape(2, 2), axis=0).max())
    far = FARTHEST_M_PER_MM.get(layer, np.inf)
    importance = IMPORTANCE[layer] + size / (size + 1000.0)
    match shape:
        case shapely.Polygon():
            circle = shapely.maximum_inscribed_circle(shape, tolerance=max(size / 40, 0.1))
            room = 2 * float(shapely.length(circle))
            return Wording(
                name,
                style,
                importance,
                shapely.get_coordinates(circle)[:1],
                False,
                max(room, size / 3),
                room,
                far,
            )
        case shapely.LineString():
            return Wording(name, style, importance, shapely.get_coordinates(shape), True, size, wide, far)
        case _:
            return Wording(
                name, style, importance, shapely.get_coordinates(shape)[:1], False, np.inf, farthest_m_per_mm=far
            )
