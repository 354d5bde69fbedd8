"""The areas, lines and marks of a layer that touch a view."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

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

Pause = Callable[[], None]
"""Called between slices of work, so that another thread can have its turn; may raise to stop."""


def paint_areas(painter: QPainter, layer: AreaLayer, view: View, dots_per_mm: float, pause: Pause) -> None:
    """Paint the areas of a layer that touch the view."""
    style, on_paper = layer.style, painter.paintEngine().type() in OUTLINED
    painter.setBrush(brush(style.fill, style.opacity))
    make_pen = pen if on_paper else screen_pen
    edge = make_pen(style.line, style.line_mm, dots_per_mm, style.dash)
    is_dashed = not on_paper and edge.style() == Qt.PenStyle.CustomDashLine
    which = _touching(layer.boxes, view, style.line_mm)
    if not len(which):
        return
    shapes = layer.shapes[which] if on_paper else _simpler(layer.shapes[which], view, dots_per_mm)
    pause()
    _, corners, (rings, areas) = shapely.to_ragged_array(shapes)
    points = _dots(corners, view, dots_per_mm)
    outlines = [points[first:last] for first, last in zip(rings[:-1].tolist(), rings[1:].tolist(), strict=True)]
    for first, last in zip(areas[:-1].tolist(), areas[1:].tolist(), strict=True):
        pause()
        painter.setPen(Qt.PenStyle.NoPen if is_dashed else edge)
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
    shapes = layer.shapes[which] if on_paper else _simpler(layer.shapes[which], view, dots_per_mm)
    pause()
    _, corners, (lines,) = shapely.to_ragged_array(shapes)
    points = _dots(corners, view, dots_per_mm)
    runs = zip(lines[:-1].tolist(), lines[1:].tolist(), true_mm[which].tolist(), strict=True)
    for first, last, wide in runs:
        paint_line(painter, points[first:last], layer.style, dots_per_mm, wide, on_paper=on_paper, pause=pause)


def paint_marks(painter: QPainter, layer: MarkLayer, view: View, dots_per_mm: float) -> None:
    """Paint the marks of a layer that lie in the view."""
    for x, y, turn_deg in _in_view(layer, view, dots_per_mm):
        paint_mark(painter, x, y, layer.style, dots_per_mm, turn_deg)


def _simpler(shapes: np.ndarray, view: View, dots_per_mm: float) -> np.ndarray:
    """Shapes without the corners that could not be seen; one that would vanish stays as it is."""
    made = shapely.simplify(shapes, SIMPLER_DOTS * view.metres_per_mm / dots_per_mm, preserve_topology=False)
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
