"""Painting the items of a page."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter

from farmmap.drawing.fonts import dots_per_mm_of, font, text_width_mm, written
from farmmap.drawing.pens import brush, colour, pen
from farmmap.drawing.picture_painter import paint_picture
from farmmap.drawing.symbol_painter import paint_sample, paint_tree, tree_paint
from farmmap.scene.page_items import Disc, Item, Picture, Sampled, Shape, Symbol, Text
from farmmap.scene.scene import STANDING
from farmmap.scene.styles import Theme

_SEEN_MM = 0.03  # by which a line of text may be too long


def paint_items(painter: QPainter, items: Iterable[Item], theme: Theme, dots_per_mm: float) -> None:
    """Paint items at their places.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    items : iterable of Item
        What to paint.
    theme : Theme
        The look.
    dots_per_mm : float
        Resolution of the device.
    """
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    for item in items:
        match item:
            case Text():
                _text(painter, item, dots_per_mm)
            case Shape():
                _shape(painter, item, dots_per_mm)
            case Disc():
                painter.setPen(pen(item.line, item.line_mm, dots_per_mm))
                painter.setBrush(brush(item.fill))
                radius = item.diameter / 2 * dots_per_mm
                painter.drawEllipse(QPointF(item.x * dots_per_mm, item.y * dots_per_mm), radius, radius)
            case Sampled():
                sides = (side * dots_per_mm for side in (item.x, item.y, item.width, item.height))
                paint_sample(painter, QRectF(*sides), item.sample, theme, dots_per_mm)
            case Symbol():
                paint = tree_paint(item.symbol, STANDING, item.size, theme, dots_per_mm)
                paint_tree(painter, item.x * dots_per_mm, item.y * dots_per_mm, paint)
            case Picture():
                paint_picture(painter, item, theme, dots_per_mm)


def _text(painter: QPainter, item: Text, dots_per_mm: float) -> None:
    painter.setFont(font(item.style, dots_per_mm, item.text))
    painter.setPen(colour(item.style.colour))
    text = written(item.text)
    wide = text_width_mm(item.text, item.style)
    back = {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
    exact = dots_per_mm_of(item.style, dots_per_mm)
    times = dots_per_mm / exact
    if item.upright and abs(times - 1) * wide < _SEEN_MM:
        painter.drawText(QPointF((item.x - back) * dots_per_mm, item.y * dots_per_mm), text)
        return
    painter.save()
    painter.translate(item.x * dots_per_mm, item.y * dots_per_mm)
    painter.scale(times, times)
    if not item.upright:
        painter.rotate(-90)
    painter.drawText(QPointF(-back * exact, 0), text)
    painter.restore()


def _shape(painter: QPainter, item: Shape, dots_per_mm: float) -> None:
    made = pen(item.line, item.line_mm, dots_per_mm)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    painter.setPen(made)
    painter.setBrush(brush(item.fill))
    points = [QPointF(x * dots_per_mm, y * dots_per_mm) for x, y in item.points]
    if item.closed:
        painter.drawPolygon(points)
    else:
        painter.drawPolyline(points)
