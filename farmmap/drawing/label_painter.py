"""Text on the map and on pages, with a halo where it lies on other things."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPaintEngine, QPainter, QPainterPath, QPen

from farmmap.drawing.fonts import LINE_HEIGHT, capital_height, font, text_width_mm
from farmmap.drawing.pens import colour
from farmmap.scene.labels import Label
from farmmap.scene.styles import TextStyle

_AROUND = [(math.cos(turn * math.pi / 5), math.sin(turn * math.pi / 5)) for turn in range(10)]
_LARGEST_SMEARED_DOTS = 4.0  # up to here text drawn all around cannot be told from a stroked outline, and is quicker


def paint_label(painter: QPainter, label: Label, dots_per_mm: float) -> None:
    """Paint a placed name.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    label : Label
        The name and its place.
    dots_per_mm : float
        Resolution of the device.
    """
    style = label.style
    painter.save()
    painter.translate(label.x_mm * dots_per_mm, label.y_mm * dots_per_mm)
    painter.rotate(label.angle_deg)
    lines = label.text.split("\n")
    first = capital_height(style) / 2 - LINE_HEIGHT * (len(lines) - 1) / 2
    placed = [
        (-text_width_mm(line, style) / 2 * dots_per_mm, (first + LINE_HEIGHT * row) * style.size_mm * dots_per_mm, line)
        for row, line in enumerate(lines)
    ]
    if style.halo:
        _halo(painter, placed, style, dots_per_mm)
    painter.setFont(font(style, dots_per_mm))
    painter.setPen(colour(style.colour))
    for x, y, line in placed:
        painter.drawText(QPointF(x, y), line)
    painter.restore()


def _halo(painter: QPainter, placed: list[tuple[float, float, str]], style: TextStyle, dots_per_mm: float) -> None:
    around = colour(style.halo)
    made = font(style, dots_per_mm)
    reach = style.halo_mm * dots_per_mm
    if painter.paintEngine().type() == QPaintEngine.Type.Raster and reach < _LARGEST_SMEARED_DOTS:
        painter.setFont(made)
        painter.setPen(colour(style.halo, 0.85))
        for x, y, line in placed:
            for across, down in _AROUND:
                painter.drawText(QPointF(x + across * reach, y + down * reach), line)
        return
    path = QPainterPath()
    for x, y, line in placed:
        path.addText(x, y, made, line)
    stroke = QPen(around, 2 * reach)
    stroke.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(stroke)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPath(path)
