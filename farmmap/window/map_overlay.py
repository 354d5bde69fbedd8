"""What lies over the map's picture: the thing that is chosen, the scale bar and the north arrow."""

from __future__ import annotations

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from farmmap.drawing.map_painter import MapPainter
from farmmap.farm.day_words import in_words
from farmmap.scene.scales import scale_bar
from farmmap.scene.scene import Chosen, Layer, MarkLayer
from farmmap.scene.shapes import area_layer
from farmmap.scene.view import View
from farmmap.window.map_contents import Contents

EMPTY = (
    "Nothing is drawn on this farm yet.\n"
    "Draw its boundary, blocks and creeks: Draw, above the map (F3)\n"
    "Or bring them in from a file: Farm, Bring in… (Ctrl+B)"
)
_PAD = 8.0
_BAR_MM = (16.0, 40.0)
_BAR_PX = 6.0
_NORTH_PX = (14.0, 26.0)
_PAINTER = MapPainter()


def paint_chosen(painter: QPainter, now: Contents, chosen: Chosen | None, view: View, dots_per_mm: float) -> None:
    """Paint what is chosen over the picture."""
    if chosen is not None:
        _PAINTER.paint(painter, now.scene, view, dots_per_mm, layers=_picked_out(now, chosen))


def _picked_out(now: Contents, chosen: Chosen) -> list[Layer]:
    look, one = now.scene.theme, np.array([chosen.id])
    if chosen.kind == "tree":
        place = middle_of(now, chosen)
        return [] if place is None else [MarkLayer("trees", look.marks["tree picked"], one, *map(_alone, place))]
    shape = _area(now, chosen)
    layer = (
        None
        if shape is None
        else area_layer(f"{chosen.kind}s", look.areas[f"{chosen.kind} picked"], one, np.array([shape], object))
    )
    return [] if layer is None else [layer]


def _area(now: Contents, chosen: Chosen) -> shapely.Geometry | None:
    if chosen.kind == "margin":
        return now.margins[chosen.id].polygon if chosen.id < len(now.margins) else None
    blocks = now.farm.blocks
    place = blocks.index.get_indexer([chosen.id])[0]
    return None if place < 0 else blocks.geometry.array[place]


def _alone(value: float) -> np.ndarray:
    return np.array([value])


def middle_of(now: Contents, chosen: Chosen) -> tuple[float, float] | None:
    """Return the ground that shows a chosen thing: a tree's place, or a point inside a block or margin [m]."""
    if chosen.kind == "tree":
        trees = now.farm.trees
        place = int(np.searchsorted(trees.index.to_numpy(), chosen.id))
        if place >= len(trees) or trees.index[place] != chosen.id:
            return None
        return float(trees["x"].iat[place]), float(trees["y"].iat[place])
    shape = _area(now, chosen)
    if shape is None or shapely.is_empty(shape):
        return None
    inside = shapely.point_on_surface(shape)
    return float(shapely.get_x(inside)), float(shapely.get_y(inside))


def paint_empty(painter: QPainter, now: Contents) -> None:
    """Say what to do first where nothing is drawn on a farm yet."""
    window = QRectF(painter.window())
    painter.setPen(QColor(now.scene.theme.ink))
    flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
    painter.drawText(window.adjusted(40, 40, -40, -40), flags, EMPTY)


def paint_forecast(painter: QPainter, now: Contents) -> None:
    """Say at the top of a map of a day that has not come that its sizes are forecast."""
    if not now.standing.forecast:
        return
    words = f"Forecast for {in_words(now.on)}, not measured"
    metrics, theme = QFontMetricsF(painter.font()), now.scene.theme
    wide, high = metrics.horizontalAdvance(words) + 3 * _PAD, metrics.height() + _PAD
    plate = QRectF(painter.window().width() - wide - _PAD, _PAD, wide, high)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.ink), 1.5, Qt.PenStyle.DashLine))
    painter.setBrush(QColor(theme.inside))
    painter.drawRoundedRect(plate, 4, 4)
    painter.setPen(QColor(theme.ink))
    painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, words)
    painter.restore()


def paint_furniture(painter: QPainter, now: Contents, view: View, dots_per_mm: float) -> None:
    """Paint scale bar and north arrow into the lower right corner, on a plate that keeps them readable."""
    theme = now.scene.theme
    bar = scale_bar(view.metres_per_mm, *_BAR_MM)
    metrics = QFontMetricsF(painter.font())
    step = bar.step_mm * dots_per_mm
    first, last = bar.words(0), bar.words(bar.divisions)
    right_over = metrics.horizontalAdvance(last) / 2 + 2
    wide = step * bar.divisions + right_over + 4 * _PAD + _NORTH_PX[0]
    high = metrics.height() + _BAR_PX + 2 * _PAD
    size = painter.window()
    plate = QRectF(size.width() - wide - _PAD, size.height() - high - _PAD, wide, high)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.inside))  # opaque: names may lie under it
    painter.drawRoundedRect(plate, 4, 4)
    ink = QColor(theme.ink)
    left, top = plate.left() + _PAD + metrics.horizontalAdvance(first) / 2, plate.bottom() - _PAD - _BAR_PX
    painter.setPen(ink)
    for index in range(bar.divisions):
        painter.setBrush(ink if index % 2 == 0 else QColor(theme.inside))
        painter.drawRect(QRectF(left + index * step, top, step, _BAR_PX))
    for words, x in ((first, left), (last, left + step * bar.divisions)):
        box = QRectF(x - 100, top - metrics.height() - 1, 200, metrics.height())
        painter.drawText(box, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignVCenter, words)
    _paint_north(painter, QPointF(plate.right() - _PAD - _NORTH_PX[0] / 2, plate.center().y()), view.rotation, ink)
    painter.restore()


def _paint_north(painter: QPainter, middle: QPointF, rotation: float, ink: QColor) -> None:
    half, high = _NORTH_PX[0] / 2, _NORTH_PX[1] / 2
    painter.translate(middle)
    painter.rotate(rotation)
    painter.setBrush(ink)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.drawPolygon(QPolygonF([QPointF(0, -high), QPointF(0, high * 0.5), QPointF(-half, high)]))
    painter.setPen(ink)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPolygon(QPolygonF([QPointF(0, -high), QPointF(half, high), QPointF(0, high * 0.5)]))
    painter.resetTransform()
