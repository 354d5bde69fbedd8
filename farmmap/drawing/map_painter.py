"""Painting a scene, the same way for the screen, a picture and paper."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPaintEngine, QPainter, QPainterPath, QTransform

from farmmap.drawing.fonts import text_size_mm
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.line_painter import paint_line
from farmmap.drawing.marks import paint_mark
from farmmap.drawing.pens import brush, colour, pen, polygon
from farmmap.drawing.stamps import blank_image, pixels_of
from farmmap.drawing.tree_painter import TreePainter, paint_crowns, stamp_crowns
from farmmap.scene.labels import place
from farmmap.scene.scene import AreaLayer, CrownLayer, LabelLayer, Layer, LineLayer, MarkLayer, Scene, TreeLayer
from farmmap.scene.styles import Theme
from farmmap.scene.view import Floats, View

_OUTLINED = {QPaintEngine.Type.Pdf, QPaintEngine.Type.SVG, QPaintEngine.Type.Picture}
"""Devices that keep outlines; all others hold dots."""

_SHARED_DOTS = {QImage.Format.Format_ARGB32_Premultiplied, QImage.Format.Format_RGB32}


class MapPainter:
    """Paints scenes; keep one, as it remembers the symbols that it has made.

    Paint the screen into a QImage of format ARGB32_Premultiplied without a
    device pixel ratio, and show that image: a million trees are then laid
    straight into its memory.
    """

    def __init__(self) -> None:
        self._trees = TreePainter()

    def paint(
        self,
        painter: QPainter,
        scene: Scene,
        view: View,
        dots_per_mm: float,
        layers: Iterable[Layer] | None = None,
    ) -> None:
        """Paint a scene with the upper left corner of the view at the painter's origin.

        Parameters
        ----------
        painter : QPainter
            Its coordinates are dots of the device; left as it was.
        scene : Scene
            What to paint.
        view : View
            Which ground, at what scale and size.
        dots_per_mm : float
            Resolution of the device: 96 / 25.4 times the zoom of a screen, or its own for a printer.
        layers : iterable of Layer, optional
            Paint only these layers of the scene, and no ground colour beneath.
        """
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        wide, high = view.width_mm * dots_per_mm, view.height_mm * dots_per_mm
        if painter.paintEngine().type() not in _OUTLINED:
            wide, high = round(wide), round(high)  # half a dot at the edge would be seen as a line
        frame = QRectF(0, 0, wide, high)
        painter.setClipRect(frame, Qt.ClipOperation.IntersectClip)
        if layers is None:
            painter.fillRect(frame, colour(scene.theme.outside))
        for layer in (*scene.layers, *scene.chosen) if layers is None else layers:
            self._paint_layer(painter, layer, scene.theme, view, dots_per_mm)
        painter.restore()

    def _paint_layer(self, painter: QPainter, layer: Layer, theme: Theme, view: View, dots_per_mm: float) -> None:
        match layer:
            case AreaLayer():
                paint_areas(painter, layer, view, dots_per_mm)
            case LineLayer():
                paint_lines(painter, layer, view, dots_per_mm)
            case MarkLayer():
                for x, y in _in_view(layer, view, dots_per_mm):
                    paint_mark(painter, x, y, layer.style, dots_per_mm)
            case TreeLayer() | CrownLayer():
                self._paint_trees(painter, layer, theme, view, dots_per_mm)
            case LabelLayer():
                for label in place(layer, view, text_size_mm):
                    paint_label(painter, label, dots_per_mm)

    def _paint_trees(
        self, painter: QPainter, layer: TreeLayer | CrownLayer, theme: Theme, view: View, dots_per_mm: float
    ) -> None:
        if painter.paintEngine().type() in _OUTLINED:
            if isinstance(layer, CrownLayer):
                paint_crowns(painter, layer, view, dots_per_mm)
            else:
                self._trees.paint_trees(painter, layer, view, theme, dots_per_mm)
            return
        target = painter.device()
        if isinstance(target, QImage) and _fills(target, painter, view, dots_per_mm):
            self._stamp(target, layer, theme, view, dots_per_mm)
            return
        finer = max(painter.deviceTransform().m11(), 0.1)
        size = (round(view.width_mm * dots_per_mm * finer), round(view.height_mm * dots_per_mm * finer))
        image = blank_image(*size)
        self._stamp(image, layer, theme, view, dots_per_mm * finer)
        painter.drawImage(QRectF(0, 0, size[0] / finer, size[1] / finer), image)

    def _stamp(
        self, image: QImage, layer: TreeLayer | CrownLayer, theme: Theme, view: View, dots_per_mm: float
    ) -> None:
        dots = pixels_of(image)
        if isinstance(layer, CrownLayer):
            stamp_crowns(dots, layer, view, dots_per_mm)
        else:
            self._trees.stamp_trees(dots, layer, view, theme, dots_per_mm)


def paint_areas(painter: QPainter, layer: AreaLayer, view: View, dots_per_mm: float) -> None:
    """Paint the areas of a layer that touch the view."""
    style = layer.style
    painter.setBrush(brush(style.fill, style.opacity))
    painter.setPen(pen(style.line, style.line_mm, dots_per_mm, style.dash))
    points = _dots(layer.points, view, dots_per_mm)
    for one in _touching(layer.boxes, view, style.line_mm):
        rings = range(layer.areas[one], layer.areas[one + 1])
        outlines = [polygon(_thinned(points[layer.rings[ring] : layer.rings[ring + 1]], painter)) for ring in rings]
        if len(outlines) == 1:
            painter.drawPolygon(outlines[0])
            continue
        path = QPainterPath()
        for outline in outlines:
            path.addPolygon(outline)
            path.closeSubpath()
        painter.drawPath(path)


def paint_lines(painter: QPainter, layer: LineLayer, view: View, dots_per_mm: float) -> None:
    """Paint the lines of a layer that touch the view."""
    points = _dots(layer.points, view, dots_per_mm)
    true_mm = layer.widths_m / view.metres_per_mm
    for one in _touching(layer.boxes, view, float(true_mm.max(initial=0.0)) + 3.0):
        line = _thinned(points[layer.lines[one] : layer.lines[one + 1]], painter)
        paint_line(painter, line, layer.style, dots_per_mm, float(true_mm[one]))


def _dots(points: Floats, view: View, dots_per_mm: float) -> Floats:
    return np.column_stack(view.to_dots(points[:, 0], points[:, 1], dots_per_mm))


def _touching(boxes: Floats, view: View, margin_mm: float) -> list[int]:
    west, south, east, north = view.ground_bounds(margin_mm)
    seen = (boxes[:, 0] <= east) & (boxes[:, 2] >= west) & (boxes[:, 1] <= north) & (boxes[:, 3] >= south)
    return np.flatnonzero(seen).tolist()


def _thinned(points: Floats, painter: QPainter) -> Floats:
    """Corners without those that fall into the same half dot as the one before; all of them on paper."""
    if len(points) < 40 or painter.paintEngine().type() in _OUTLINED:
        return points
    spot = np.floor(points * 2)
    keep = np.ones(len(points), np.bool_)
    keep[1:] = (spot[1:] != spot[:-1]).any(axis=1)
    keep[-1] = True
    return points[keep]


def _in_view(layer: MarkLayer, view: View, dots_per_mm: float) -> Iterable[tuple[float, float]]:
    west, south, east, north = view.ground_bounds(layer.style.size_mm)
    seen = (layer.x >= west) & (layer.x <= east) & (layer.y >= south) & (layer.y <= north)
    x, y = view.to_dots(layer.x[seen], layer.y[seen], dots_per_mm)
    return zip(x.tolist(), y.tolist(), strict=True)


def _fills(image: QImage, painter: QPainter, view: View, dots_per_mm: float) -> bool:
    """Whether the view covers an image dot for dot, so that its memory may be written to."""
    across = abs(view.width_mm * dots_per_mm - image.width()) < 1.0
    down = abs(view.height_mm * dots_per_mm - image.height()) < 1.0
    whole = painter.deviceTransform() == QTransform() and image.format() in _SHARED_DOTS
    return across and down and whole
