"""Painting what is half drawn, dragged or picked over the map: lines, corners, snap marks, cross-hair and words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPen, QPolygonF

from farmmap.drawing.pens import polygon
from farmmap.scene.styles import Theme
from farmmap.scene.view import Floats

HANDLE_PX = 9.0
"""Side of the square that marks a corner. [px]"""
MOST_RINGS = 1500
"""More picked trees than this are laid down as plain dots."""
DOT_PX = 3.0
"""Width of such a dot. [px]"""
_MARK_PX = 8.0
_ASIDE_PX = 18.0
"""How far words stand from what they are about. [px]"""


@dataclass(frozen=True)
class Outline:
    """One ring or line, or points apart from each other, on the ground.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Corners. [m]
    closed : bool
        Whether it is the edge of an area.
    apart : bool
        Whether the points belong to no line.
    """

    points: Floats
    closed: bool = False
    apart: bool = False


@dataclass(frozen=True)
class Inks:
    """Colours of what is painted over the map: strokes, the ground that sets them off, and words."""

    stroke: QColor
    halo: QColor
    words: QColor


def inks_of(theme: Theme) -> Inks:
    """Return the colours that go with a theme of the map."""
    return Inks(QColor(theme.picked), QColor(theme.inside), QColor(theme.ink))


def outlines_of(shapes: Iterable[shapely.Geometry]) -> list[Outline]:
    """Return the rings, lines and points of shapes; areas first."""
    parts = shapely.get_parts(np.array(list(shapes), object))
    kinds = shapely.get_type_id(parts)
    rings = [Outline(shapely.get_coordinates(ring), closed=True) for ring in shapely.get_rings(parts[kinds == 3])]
    lines = [Outline(shapely.get_coordinates(line)) for line in parts[(kinds == 1) | (kinds == 2)]]
    points = shapely.get_coordinates(parts[kinds == 0])
    return rings + lines + ([Outline(points, apart=True)] if len(points) else [])


def paint_outline(
    painter: QPainter, dots: Floats, outline: Outline, inks: Inks, *, sure: bool = True, plain: bool = False
) -> None:
    """Paint a ring, line or points.

    Parameters
    ----------
    painter : QPainter
        In dots of the widget.
    dots : ndarray, shape (n, 2)
        The outline's points on the widget. [px]
    outline : Outline
        What they are.
    inks : Inks
        Colours.
    sure : bool
        Whether it is in the farm file; what is not yet is dashed.
    plain : bool
        Whether to leave out what costs time where there are many: the edge of the stroke that sets it off.
    """
    if outline.apart:
        _paint_dots(painter, dots, inks)
        return
    shape = polygon(dots)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if plain:
        painter.setPen(QPen(inks.stroke, 0))  # hairlines: QPainter draws wider ones many times more slowly
        for aside in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)):
            painter.drawPolyline(shape.translated(*aside))
        return
    paint = painter.drawPolygon if outline.closed and len(dots) > 2 else painter.drawPolyline
    painter.setPen(QPen(inks.halo, 5.0))
    paint(shape)
    painter.setPen(QPen(inks.stroke, 2.2, Qt.PenStyle.SolidLine if sure else Qt.PenStyle.DashLine))
    paint(shape)


def _paint_dots(painter: QPainter, dots: Floats, inks: Inks) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if len(dots) > MOST_RINGS:
        _paint_many_dots(painter, dots, inks)
        return
    for ink, width in ((inks.halo, 4.5), (inks.stroke, 2.2)):
        painter.setPen(QPen(ink, width))
        for x, y in dots:
            painter.drawEllipse(QPointF(x, y), 9.0, 9.0)


def _paint_many_dots(painter: QPainter, dots: Floats, inks: Inks) -> None:
    """Set the dots into a picture by NumPy, which takes a tenth of the time that QPainter does for each by itself."""
    ratio = painter.device().devicePixelRatioF()
    window = painter.window()
    wide, high = round(window.width() * ratio), round(window.height() * ratio)
    half = max(1, round(ratio * DOT_PX / 2))
    at = np.floor(dots * ratio).astype(np.int64)
    inside = ((at >= half) & (at < [wide - half, high - half])).all(axis=1)
    places = at[inside, 1] * wide + at[inside, 0]
    pixels = np.zeros(wide * high, np.uint32)
    for down in range(-half, half + 1):
        for across in range(-half, half + 1):
            pixels[places + (down * wide + across)] = inks.stroke.rgba()
    image = QImage(pixels.data, wide, high, 4 * wide, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    painter.drawImage(window.topLeft(), image)


def paint_handle(painter: QPainter, place: QPointF, inks: Inks, *, chosen: bool = False, shared: bool = False) -> None:
    """Paint the square of a corner: filled when chosen, with a second edge when a neighbour shares it."""
    half = HANDLE_PX / 2 + (2 if chosen else 0)
    box = QRectF(place.x() - half, place.y() - half, 2 * half, 2 * half)
    if shared:
        painter.setBrush(inks.halo)
        painter.setPen(QPen(inks.stroke, 1.2))
        painter.drawRect(box.adjusted(-3, -3, 3, 3))
    painter.setPen(QPen(inks.stroke, 2.0))
    painter.setBrush(inks.stroke if chosen else inks.halo)
    painter.drawRect(box)


def paint_snap(painter: QPainter, kind: str, place: QPointF, inks: Inks) -> None:
    """Paint the mark of what was snapped to: a square, a lozenge, a cross or a ring, one shape for each kind."""
    size = _MARK_PX
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for ink, width in ((inks.halo, 5.0), (inks.words, 2.4)):
        painter.setPen(QPen(ink, width))
        if kind == "corner":
            painter.drawRect(QRectF(place.x() - size, place.y() - size, 2 * size, 2 * size))
        elif kind == "edge":
            around = [QPointF(0, -size - 2), QPointF(size + 2, 0), QPointF(0, size + 2), QPointF(-size - 2, 0)]
            painter.drawPolygon(QPolygonF([place + step for step in around]))
        elif kind == "crossing":
            for sign in (1, -1):
                arm = QPointF(size, sign * size)
                painter.drawLine(place - arm, place + arm)
        else:
            painter.drawEllipse(place, size + 1, size + 1)


def paint_cross_hair(painter: QPainter, place: QPointF, inks: Inks) -> None:
    """Paint the cross-hair that the arrow keys move, open in the middle."""
    for ink, width in ((inks.halo, 5.0), (inks.words, 2.0)):
        painter.setPen(QPen(ink, width))
        for across, down in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            painter.drawLine(place + QPointF(across, down) * 5, place + QPointF(across, down) * 20)


def paint_words(
    painter: QPainter, place: QPointF, lines: list[str], inks: Inks, room: QRectF, clear_of: Floats | None = None
) -> None:
    """Paint a plate of words beside a place, within the room that there is, where it covers least of a line.

    Parameters
    ----------
    painter : QPainter
        In dots of the widget.
    place : QPointF
        What the words are about. [px]
    lines : list of str
        The words.
    inks : Inks
        Colours.
    room : QRectF
        What the plate stays in. [px]
    clear_of : ndarray, shape (n, 2), optional
        The line. [px]
    """
    metrics = QFontMetricsF(painter.font())
    wide = max(metrics.horizontalAdvance(line) for line in lines) + 14
    high = metrics.lineSpacing() * len(lines) + 8
    plate = plate_beside(place, wide, high, room, clear_of)
    ground = QColor(inks.halo)
    ground.setAlphaF(0.92)
    painter.setPen(QPen(inks.stroke, 1.0))
    painter.setBrush(ground)
    painter.drawRoundedRect(plate, 4, 4)
    painter.setPen(inks.words)
    painter.drawText(plate.adjusted(7, 4, -7, -4), Qt.AlignmentFlag.AlignLeft, "\n".join(lines))


def plate_beside(place: QPointF, wide: float, high: float, room: QRectF, clear_of: Floats | None) -> QRectF:
    """Return the rectangle beside a place, below and right of it if nothing speaks against that, for words [px]."""
    beside = [
        QRectF(place.x() + across, place.y() + down, wide, high)
        for down in (_ASIDE_PX, -_ASIDE_PX - high)
        for across in (_ASIDE_PX, -_ASIDE_PX - wide)
    ]
    inside = [plate for plate in beside if room.contains(plate)]
    if not inside:
        left, top = beside[0].left(), beside[0].top()
        left, top = min(left, room.right() - wide - 2), min(top, room.bottom() - high - 2)
        return QRectF(max(left, room.left() + 2), max(top, room.top() + 2), wide, high)
    if clear_of is None or len(clear_of) < 2:
        return inside[0]
    line = shapely.LineString(clear_of)
    boxes = [shapely.box(plate.left(), plate.top(), plate.right(), plate.bottom()) for plate in inside]
    return inside[int(np.argmin(shapely.length(shapely.intersection(boxes, line))))]
