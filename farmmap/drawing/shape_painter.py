"""The areas, lines and marks of a layer that touch a view."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QPaintEngine, QPainter, QPainterPath

from farmmap.drawing.hatch_painter import hatch_areas
from farmmap.drawing.line_painter import draw_dashed, paint_line
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import brush, pen, polygon, screen_pen
from farmmap.scene.scene import AreaLayer, Ints, LineLayer, MarkLayer
from farmmap.scene.view import Floats, View

OUTLINED = {QPaintEngine.Type.Pdf, QPaintEngine.Type.SVG, QPaintEngine.Type.Picture}
"""Devices that keep outlines; all others hold dots."""

SIMPLER_DOTS = 0.25
"""How far a simplified outline may lie from the true one where dots are painted. [dots]"""

_LEAST_LEG_DOTS = 1.0  # with longer legs than this, on the average, corners are quicker painted than left out
_KEPT_FROM = 0.5  # of a layer's shapes in view, from which those of the whole layer are simplified and kept

Pause = Callable[[], None]
"""Called between slices of work, so that another thread can have its turn; may raise to stop."""


@dataclass
class _Kept:
    """What is known of a layer's shapes: their mean leg [m], and how far they were simplified [m] and to what."""

    leg_m: float
    simpler: tuple[float, np.ndarray] | None = None


_kept: WeakKeyDictionary[AreaLayer | LineLayer, _Kept] = WeakKeyDictionary()


def paint_areas(painter: QPainter, layer: AreaLayer, view: View, dots_per_mm: float, pause: Pause) -> None:
    """Paint the areas of a layer that touch the view."""
    style, on_paper = layer.style, painter.paintEngine().type() in OUTLINED
    painter.setBrush(brush(style.fill, style.opacity))
    make_pen = pen if on_paper else screen_pen
    edge = make_pen(style.line, style.line_mm, dots_per_mm, style.dash)
    painter.setPen(edge)
    is_dashed = not on_paper and edge.style() == Qt.PenStyle.CustomDashLine
    which = _touching(layer.boxes, view, style.line_mm)
    if not len(which):
        return
    shapes = layer.shapes[which] if on_paper else _simpler(layer, which, view, dots_per_mm)
    pause()
    _, corners, (rings, areas) = shapely.to_ragged_array(shapes)
    points = _dots(corners, view, dots_per_mm)
    pause()
    outlines = [points[first:last] for first, last in zip(rings[:-1].tolist(), rings[1:].tolist(), strict=True)]
    for first, last in zip(areas[:-1].tolist(), areas[1:].tolist(), strict=True):
        pause()
        if is_dashed:
            painter.setPen(Qt.PenStyle.NoPen)
        _paint_area(painter, outlines[first:last])
        for outline in outlines[first:last] if is_dashed else ():
            draw_dashed(painter, outline, edge)
    if style.hatch:
        pause()
        hatch_areas(painter, style.hatch, view, dots_per_mm, points, rings, areas)


def _paint_area(painter: QPainter, outlines: Sequence[Floats]) -> None:
    """Paint one area, an outline and its holes, with the pen and brush that are set."""
    if len(outlines) == 1:
        painter.drawPolygon(polygon(outlines[0]))
        return
    path = QPainterPath()
    for outline in outlines:
        path.addPolygon(polygon(outline))
        path.closeSubpath()
    painter.drawPath(path)


def paint_lines(painter: QPainter, layer: LineLayer, view: View, dots_per_mm: float, pause: Pause) -> None:
    """Paint the lines of a layer that touch the view."""
    on_paper = painter.paintEngine().type() in OUTLINED
    true_mm = layer.widths_m / view.metres_per_mm
    which = _touching(layer.boxes, view, float(true_mm.max(initial=0.0)) + 3.0)
    if not len(which):
        return
    shapes = layer.shapes[which] if on_paper else _simpler(layer, which, view, dots_per_mm)
    pause()
    _, corners, (lines,) = shapely.to_ragged_array(shapes)
    points = _dots(corners, view, dots_per_mm)
    pause()
    runs = zip(
        lines[:-1].tolist(), lines[1:].tolist(), true_mm[which].tolist(), _whole(painter, points, lines), strict=True
    )
    for first, last, wide, whole in runs:
        paint_line(
            painter, points[first:last], layer.style, dots_per_mm, wide, on_paper=on_paper, is_whole=whole, pause=pause
        )


def _whole(painter: QPainter, points: Floats, lines: Ints) -> list[bool]:
    """Which lines lie inside the clip, all of them."""
    starts = lines[:-1]
    if not painter.hasClipping():
        return [True] * len(starts)
    box = painter.clipBoundingRect()
    inside = (points >= (box.left(), box.top())) & (points <= (box.right(), box.bottom()))
    return list(np.logical_and.reduceat(inside.all(axis=1), starts).tolist())


def paint_marks(painter: QPainter, layer: MarkLayer, view: View, dots_per_mm: float) -> None:
    """Paint the marks of a layer that lie in the view."""
    for x, y, turn_deg in _in_view(layer, view, dots_per_mm):
        paint_mark(painter, x, y, layer.style, dots_per_mm, turn_deg)


def _simpler(layer: AreaLayer | LineLayer, which: Ints, view: View, dots_per_mm: float) -> np.ndarray:
    """Shapes of a layer without the corners that could not be seen, if it has many of those.

    Scales within a factor of two have the same shapes, which are kept while the map moves.
    """
    kept = _kept.get(layer)
    if kept is None:
        kept = _kept[layer] = _Kept(_mean_leg_m(layer.shapes))
    dot_m = view.metres_per_mm / dots_per_mm
    if kept.leg_m > _LEAST_LEG_DOTS * dot_m:
        return layer.shapes[which]
    tolerance_m = 2.0 ** math.floor(math.log2(SIMPLER_DOTS * dot_m))
    if len(which) < _KEPT_FROM * len(layer.shapes):
        return _simplified(layer.shapes[which], tolerance_m)
    simpler = kept.simpler
    if simpler is None or simpler[0] != tolerance_m:
        kept.simpler = simpler = (tolerance_m, _simplified(layer.shapes, tolerance_m))
    return simpler[1][which]


def _mean_leg_m(shapes: np.ndarray) -> float:
    """From one corner of some shapes to the next. [m]."""
    return float(shapely.length(shapes).sum()) / max(int(shapely.get_num_coordinates(shapes).sum()), 1)


def _simplified(shapes: np.ndarray, tolerance_m: float) -> np.ndarray:
    """Shapes without corners that lie so near the line between others; one that would vanish stays as it is."""
    made = shapely.simplify(shapes, tolerance_m, preserve_topology=False)
    whole = shapely.get_type_id(made) == shapely.get_type_id(shapes)
    return np.where(whole & ~shapely.is_empty(made), made, shapes)


def _dots(points: Floats, view: View, dots_per_mm: float) -> Floats:
    return np.column_stack(view.to_dots(points[:, 0], points[:, 1], dots_per_mm))


def _touching(boxes: Floats, view: View, margin_mm: float) -> Ints:
    west, south, east, north = view.ground_bounds(margin_mm)
    seen = (boxes[:, 0] <= east) & (boxes[:, 2] >= west) & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    return np.flatnonzero(seen)


def _in_view(layer: MarkLayer, view: View, dots_per_mm: float) -> Iterable[tuple[float, float, float]]:
    west, south, east, north = view.ground_bounds(layer.style.size_mm)
    seen = (layer.x >= west) & (layer.x <= east) & (layer.y >= south) & (layer.y <= north)
    x, y = view.to_dots(layer.x[seen], layer.y[seen], dots_per_mm)
    turns = np.zeros(len(x)) if layer.turns_deg is None else layer.turns_deg[seen] + view.rotation
    return zip(x.tolist(), y.tolist(), turns.tolist(), strict=True)
