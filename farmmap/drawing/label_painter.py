"""Text on the map and on pages, with a halo where it lies on other things."""

from __future__ import annotations

import math
from functools import lru_cache

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QFont, QImage, QPaintEngine, QPainter, QPainterPath, QPen, QTransform

from farmmap.drawing.fonts import base_lines, dots_per_mm_of, font, text_size_mm, text_width_mm, written
from farmmap.drawing.pens import colour
from farmmap.scene.label_curves import Letter
from farmmap.scene.labels import Label
from farmmap.scene.styles import TextStyle

_AROUND = [(math.cos(turn * math.pi / 5), math.sin(turn * math.pi / 5)) for turn in range(10)]
_LEVEL = {QTransform.TransformationType.TxNone, QTransform.TransformationType.TxTranslate}
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
    if label.letters:
        _paint_bent(painter, label, dots_per_mm)
        return
    level = not label.angle_deg and painter.deviceTransform().type() in _LEVEL
    if painter.paintEngine().type() == QPaintEngine.Type.Raster and level:
        _paint_ready_made(painter, label, dots_per_mm)
    else:
        _paint_afresh(painter, label, dots_per_mm)


def _paint_ready_made(painter: QPainter, label: Label, dots_per_mm: float) -> None:
    """Lay down a picture of a level name, to the whole dot."""
    image = _picture(label.text, label.style, dots_per_mm)
    left = round(label.x_mm * dots_per_mm - image.width() / 2)
    painter.drawImage(left, round(label.y_mm * dots_per_mm - image.height() / 2), image)


@lru_cache(maxsize=4000)
def _picture(text: str, style: TextStyle, dots_per_mm: float) -> QImage:
    """Return a name with its halo on clear ground, its middle in the middle."""
    reach = math.ceil((style.halo_mm + 0.15 * style.size_mm) * dots_per_mm) + 1
    width, height = text_size_mm(text, style)
    wide, high = (math.ceil(side * dots_per_mm) + 2 * reach for side in (width, height))
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    middle = Label(text, style, wide / 2 / dots_per_mm, high / 2 / dots_per_mm, 0.0, 0.0)
    _paint_afresh(painter, middle, dots_per_mm)
    painter.end()
    return image


def _paint_afresh(painter: QPainter, label: Label, dots_per_mm: float) -> None:
    style = label.style
    painter.save()
    painter.translate(label.x_mm * dots_per_mm, label.y_mm * dots_per_mm)
    painter.rotate(label.angle_deg)
    made = font(style, dots_per_mm, label.text)
    exact = dots_per_mm_of(style, dots_per_mm)
    painter.scale(dots_per_mm / exact, dots_per_mm / exact)
    lines = label.text.split("\n")
    placed = [
        (-text_width_mm(line, style) / 2 * exact, base * style.size_mm * exact, written(line))
        for line, base in zip(lines, base_lines(lines, style), strict=True)
    ]
    if style.halo:
        _halo(painter, placed, style, made, exact)
    painter.setFont(made)
    painter.setPen(colour(style.colour))
    for x, y, line in placed:
        painter.drawText(QPointF(x, y), line)
    painter.restore()


def _halo(
    painter: QPainter, placed: list[tuple[float, float, str]], style: TextStyle, made: QFont, dots_per_mm: float
) -> None:
    around = colour(style.halo)
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


def _paint_bent(painter: QPainter, label: Label, dots_per_mm: float) -> None:
    """Paint a name letter by letter, the halo of all beneath; in a PDF also unseen in one piece, to be searched for."""
    style = label.style
    path = QPainterPath()
    for letter in label.letters:
        if not letter.text.isspace():
            path.addPath(_turned(letter, _outline(letter.text, label.text, style, dots_per_mm), label, dots_per_mm))
    painter.save()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if style.halo:
        stroke = QPen(colour(style.halo), 2 * style.halo_mm * dots_per_mm)
        stroke.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(path, stroke)
    painter.fillPath(path, colour(style.colour))
    painter.restore()
    if painter.paintEngine().type() == QPaintEngine.Type.Pdf:
        _write_unseen(painter, label, dots_per_mm)


def _write_unseen(painter: QPainter, label: Label, dots_per_mm: float) -> None:
    """Write a bent name straight from its first letter to its last without colour, where it is searched for."""
    style, first, last = label.style, label.letters[0], label.letters[-1]
    painter.save()
    painter.translate((label.x_mm + first.x_mm) * dots_per_mm, (label.y_mm + first.y_mm) * dots_per_mm)
    painter.rotate(math.degrees(math.atan2(last.y_mm - first.y_mm, last.x_mm - first.x_mm)))
    painter.setFont(font(style, dots_per_mm, label.text))
    painter.setPen(colour(style.colour, 0.0))
    (base,) = base_lines([label.text], style)
    painter.drawText(
        QPointF(-first.width_mm / 2 * dots_per_mm, base * style.size_mm * dots_per_mm), written(label.text)
    )
    painter.restore()


def _turned(letter: Letter, outline: QPainterPath, label: Label, dots_per_mm: float) -> QPainterPath:
    """Return the outline of a letter in its place."""
    to_place = QTransform()
    to_place.translate((label.x_mm + letter.x_mm) * dots_per_mm, (label.y_mm + letter.y_mm) * dots_per_mm)
    to_place.rotate(letter.angle_deg)
    return to_place.map(outline)


@lru_cache(maxsize=4000)
def _outline(letter: str, text: str, style: TextStyle, dots_per_mm: float) -> QPainterPath:
    """Return a letter of a text as an outline about the middle of its advance and of the text's height. [dots]."""
    exact = dots_per_mm_of(style, dots_per_mm)
    path = QPainterPath()
    (base,) = base_lines([text], style)
    across = -text_width_mm(letter, style) / 2
    path.addText(across * exact, base * style.size_mm * exact, font(style, dots_per_mm, text), written(letter))
    return QTransform.fromScale(dots_per_mm / exact, dots_per_mm / exact).map(path)
