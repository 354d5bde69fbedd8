"""Painting photographs on a page, read no finer than the page can show."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QImage, QImageIOHandler, QImageReader, QPainter

from farmmap.drawing.fonts import font
from farmmap.drawing.pens import colour, pen
from farmmap.scene.page_items import Picture
from farmmap.scene.styles import POINT_MM, TextStyle, Theme

FINEST_PER_MM = 300 / 25.4
"""A photograph is printed with no more dots than this, 300 an inch: common practice of printers. [dots/mm]"""

LOST_WORDS = "The photograph cannot be read"


def paint_picture(painter: QPainter, item: Picture, theme: Theme, dots_per_mm: float) -> None:
    """Paint a photograph; one that cannot be read leaves an empty frame that says so.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    item : Picture
        Which, and where.
    theme : Theme
        The look; a grey one has its photographs without colour.
    dots_per_mm : float
        Resolution of the device.
    """
    frame = QRectF(*(side * dots_per_mm for side in (item.x, item.y, item.width, item.height)))
    per_mm = min(dots_per_mm * max(painter.deviceTransform().m11(), 0.1), FINEST_PER_MM)
    wanted = max(round(item.width * per_mm), 1), max(round(item.height * per_mm), 1)
    image = _image(item.path, _stamp(item.path), wanted, grey=theme.is_grey)
    if image.isNull():
        _say_lost(painter, frame, theme, dots_per_mm)
        return
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    kept = QSizeF(image.size()).scaled(frame.size(), Qt.AspectRatioMode.KeepAspectRatio)
    inside = QRectF(QPointF(), kept)
    inside.moveCenter(frame.center())
    painter.drawImage(inside, image)


def _stamp(path: str) -> tuple[int, int]:
    try:
        found = Path(path).stat()
    except OSError:
        return 0, 0
    return found.st_mtime_ns, found.st_size


@lru_cache(maxsize=24)
def _image(path: str, _of: tuple[int, int], wanted: tuple[int, int], *, grey: bool) -> QImage:
    """Read a photograph the right way up, scaled while it is read, without see-through parts."""
    reader = QImageReader(path)
    reader.setAutoTransform(True)
    whole = reader.size()
    wide, high = wanted
    if reader.transformation() & QImageIOHandler.Transformation.TransformationRotate90:
        wide, high = high, wide
    if whole.isValid() and whole.width() > wide and whole.height() > high:
        reader.setScaledSize(whole.scaled(QSize(wide, high), Qt.AspectRatioMode.KeepAspectRatio))
    image = reader.read()
    if image.isNull():
        return image
    if image.hasAlphaChannel():
        opaque = QImage(image.size(), QImage.Format.Format_RGB32)
        opaque.fill(Qt.GlobalColor.white)
        on_paper = QPainter(opaque)
        on_paper.drawImage(0, 0, image)
        on_paper.end()
        image = opaque
    return image.convertToFormat(QImage.Format.Format_Grayscale8 if grey else QImage.Format.Format_RGB32)


def _say_lost(painter: QPainter, frame: QRectF, theme: Theme, dots_per_mm: float) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(theme.faint, 0.2, dots_per_mm))
    painter.drawRect(frame)
    painter.setFont(font(TextStyle(theme.ink, 6.6 * POINT_MM), dots_per_mm))
    painter.setPen(colour(theme.ink))
    painter.drawText(frame, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, LOST_WORDS)
