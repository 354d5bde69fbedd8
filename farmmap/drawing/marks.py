"""Marks at single points: caution signs, notes, small buildings, gates, troughs, rings around what is picked."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPen, QPolygonF

from farmmap.drawing.pens import brush, colour, pen
from farmmap.scene.styles import MarkStyle

SAMPLE_TURN_DEG = 60.0
"""Which way the photo point in a key looks. [degrees]"""

VIEW_DEG = 50
"""Angle of view that is drawn, about that of a telephone held upright. [degrees]"""

EDGING_MM = 0.18
"""How far the edging of a ring or cross reaches beyond its lines. [mm]"""


def paint_mark(
    painter: QPainter, x: float, y: float, style: MarkStyle, dots_per_mm: float, turn_deg: float = SAMPLE_TURN_DEG
) -> None:
    """Paint a mark with its middle at a place.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    x, y : float
        The place. [dots]
    style : MarkStyle
        Which mark.
    dots_per_mm : float
        Resolution of the device.
    turn_deg : float
        Which way a photo point looks, clockwise from the top of the page; nan if that is not known. [degrees]
    """
    size = style.size_mm * dots_per_mm
    painter.setPen(pen(style.line, style.line_mm, dots_per_mm))
    painter.setBrush(brush(style.fill))
    match style.shape:
        case "caution":
            _caution(painter, x, y, size, style)
        case "note":
            _note(painter, x, y, size)
        case "gate":
            _gate(painter, x, y, style, dots_per_mm)
        case "peg":
            painter.drawLine(QPointF(x - size / 2, y), QPointF(x + size / 2, y))
            painter.drawLine(QPointF(x, y - size / 2), QPointF(x, y + size / 2))
        case "angle":
            _angle(painter, x, y, size, style, dots_per_mm)
        case "view":
            _view(painter, x, y, style, dots_per_mm, turn_deg)
        case "trough":
            _trough(painter, x, y, size, style)
        case "floodgate":  # one that hangs over water
            half = size / 2
            painter.drawPolygon(
                QPolygonF([QPointF(x - half, y - half), QPointF(x + half, y - half), QPointF(x, y + half)])
            )
        case "ring" | "cross":
            _ring_or_cross(painter, x, y, style, dots_per_mm)
        case _:
            painter.drawRect(QRectF(x - size / 2, y - size / 2, size, size))


def _ring_or_cross(painter: QPainter, x: float, y: float, style: MarkStyle, dots_per_mm: float) -> None:
    """Paint it over an edging of the core's colour, so that it is seen on any ground."""
    half = style.size_mm * dots_per_mm / 2
    for ink, wide_mm in ((style.core, style.line_mm + 2 * EDGING_MM), (style.line, style.line_mm)):
        painter.setPen(pen(ink, wide_mm, dots_per_mm))
        if style.shape == "ring":
            painter.drawEllipse(QPointF(x, y), half, half)
        else:
            arm = half * 0.8  # corners reach about as far as a ring of that size
            painter.drawLine(QPointF(x - arm, y - arm), QPointF(x + arm, y + arm))
            painter.drawLine(QPointF(x - arm, y + arm), QPointF(x + arm, y - arm))


def _caution(painter: QPainter, x: float, y: float, size: float, style: MarkStyle) -> None:
    """Paint a triangle with a stroke and a dot, as on warning signs."""
    half, up, down = size * 0.58, size * 0.55, size * 0.45
    painter.drawPolygon(QPolygonF([QPointF(x - half, y + down), QPointF(x, y - up), QPointF(x + half, y + down)]))
    stroke = QPen(colour(style.line), size * 0.13)
    stroke.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(stroke)
    painter.drawLine(QPointF(x, y - size * 0.18), QPointF(x, y + size * 0.16))
    painter.drawLine(QPointF(x, y + size * 0.23), QPointF(x, y + size * 0.36))


def _note(painter: QPainter, x: float, y: float, size: float) -> None:
    """Paint a sheet of paper with a turned corner and two lines of writing."""
    wide, high, fold = size * 0.38, size * 0.5, size * 0.28
    path = QPainterPath(QPointF(x - wide, y - high))
    for corner in (
        (x + wide - fold, y - high),
        (x + wide, y - high + fold),
        (x + wide, y + high),
        (x - wide, y + high),
    ):
        path.lineTo(*corner)
    path.closeSubpath()
    painter.drawPath(path)
    for down in (0.05, 0.25):
        painter.drawLine(QPointF(x - wide * 0.55, y + size * down), QPointF(x + wide * 0.55, y + size * down))


def _gate(painter: QPainter, x: float, y: float, style: MarkStyle, dots_per_mm: float) -> None:
    """Paint an opening between two posts, and a leaf that stands open."""
    wide, drawn = style.size_mm * dots_per_mm, painter.pen()
    painter.setPen(pen(style.fill, 0.9, dots_per_mm))
    painter.drawLine(QPointF(x - wide / 2, y), QPointF(x + wide / 2, y))
    painter.setPen(drawn)
    painter.drawLine(QPointF(x - wide / 2, y), QPointF(x + wide * 0.25, y - wide * 0.66))
    for post in (x - wide / 2, x + wide / 2):
        painter.drawLine(QPointF(post, y - wide * 0.2), QPointF(post, y + wide * 0.2))


def _trough(painter: QPainter, x: float, y: float, size: float, style: MarkStyle) -> None:
    """Paint a drop in a square."""
    painter.drawRect(QRectF(x - size / 2, y - size / 2, size, size))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(brush(style.core))
    painter.drawEllipse(QPointF(x, y + size * 0.1), size * 0.22, size * 0.22)
    foot = y + size * 0.04
    painter.drawPolygon(
        QPolygonF([QPointF(x, y - size * 0.38), QPointF(x + size * 0.2, foot), QPointF(x - size * 0.2, foot)])
    )


def _view(painter: QPainter, x: float, y: float, style: MarkStyle, dots_per_mm: float, turn_deg: float) -> None:
    """Paint a dot, and the angle of view that opens from it, over an edging so that it is seen on any ground."""
    size = style.size_mm * dots_per_mm
    around = QRectF(x - size, y - size, 2 * size, 2 * size)
    dot = size * 0.22
    for ink, wide_mm in ((style.core, style.line_mm + 4 * EDGING_MM), (style.line, style.line_mm)):
        painter.setPen(pen(ink, wide_mm, dots_per_mm))
        painter.setBrush(brush(style.fill))
        if math.isfinite(turn_deg):
            painter.drawPie(around, round(16 * (90 - turn_deg - VIEW_DEG / 2)), 16 * VIEW_DEG)
        painter.setBrush(brush(ink))
        painter.drawEllipse(QPointF(x, y), dot, dot)


def _angle(painter: QPainter, x: float, y: float, size: float, style: MarkStyle, dots_per_mm: float) -> None:
    """Paint a disc with two sights that part from its middle, as over a gauge."""
    painter.drawEllipse(QPointF(x, y), size / 2, size / 2)
    for aside in (-0.3, 0.3):
        painter.drawLine(QPointF(x, y), QPointF(x + size * aside, y - size * 0.4))
    painter.setBrush(brush(style.line))
    painter.setPen(pen(style.line, style.line_mm, dots_per_mm))
    painter.drawEllipse(QPointF(x, y), size * 0.08, size * 0.08)
