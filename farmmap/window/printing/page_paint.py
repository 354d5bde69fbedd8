"""How the page is shown while a sheet is composed: its picture, what is held, and what is picked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen

from farmmap.drawing.page_painter import paint_items
from farmmap.scene.page_snapping import Guide, Place
from farmmap.scene.styles import Theme
from farmmap.window.printing.elements import Element
from farmmap.window.printing.held import grip_place, grips_of
from farmmap.window.theme import LIGHT

GRIP_PX = 10.0
GRIPS_APART_PX = 48.0
"""Edges that are shorter have no square in their middle. [px]"""
PICKED = QColor(LIGHT.accent)
AMISS = QColor(LIGHT.warning)
GUIDE = QColor("#8E2A8B")
WASH = QColor(255, 255, 255, 205)
"""Paper is white in light and dark windows alike, and so are the colours that are seen on it."""


@dataclass(frozen=True)
class OnScreen:
    """Where the page lies in the view.

    Attributes
    ----------
    left, top : float
        Upper left corner of the page. [px]
    scale : float
        How large a millimetre is. [px]
    """

    left: float
    top: float
    scale: float

    def rect(self, place: Place) -> QRectF:
        """Return where a rectangle of the page is seen."""
        return QRectF(
            self.left + place.x * self.scale,
            self.top + place.y * self.scale,
            place.width * self.scale,
            place.height * self.scale,
        )

    def point(self, x: float, y: float) -> QPointF:
        """Return where a point of the page is seen."""
        return QPointF(self.left + x * self.scale, self.top + y * self.scale)

    def to_mm(self, point: QPointF) -> tuple[float, float]:
        """Return the point of the page that is seen at a place. [mm]."""
        return (point.x() - self.left) / self.scale, (point.y() - self.top) / self.scale


def picture_of(element: Element, page: QImage, theme: Theme, dots_per_mm: float) -> QImage:
    """Return a picture of one element, by itself if it is painted from boxes, else cut out of the page.

    Parameters
    ----------
    element : Element
        What it is.
    page : QImage
        The page.
    theme : Theme
        The look of what is not map.
    dots_per_mm : float
        Resolution of the page's picture and of the one that is made.
    """
    place = element.place
    wide, high = max(round(place.width * dots_per_mm), 1), max(round(place.height * dots_per_mm), 1)
    if element.is_picture:
        return page.copy(round(place.x * dots_per_mm), round(place.y * dots_per_mm), wide, high)
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.translate(-place.x * dots_per_mm, -place.y * dots_per_mm)
    for box in element.boxes:
        paint_items(painter, box.items, theme, dots_per_mm)
    painter.end()
    return image


def paint_put(painter: QPainter, on: OnScreen, was: Place, now: Place, picture: QImage, dots_per_mm: float) -> None:
    """Paint an element that is not where the page's picture shows it: a wash there, and its picture where it is."""
    painter.fillRect(on.rect(was), WASH)
    shown = on.rect(now)
    painter.save()
    painter.setClipRect(shown.adjusted(-1, -1, 1, 1), Qt.ClipOperation.IntersectClip)
    size = on.scale / dots_per_mm
    if (was.width, was.height) != (now.width, now.height):
        painter.fillRect(shown, WASH)
    painter.drawImage(QRectF(shown.topLeft(), picture.size().toSizeF() * size), picture)
    painter.restore()


def paint_frames(painter: QPainter, on: OnScreen, amiss: Iterable[Place], hovered: Place | None) -> None:
    """Paint lines round elements that are amiss, and round the one under the pointer."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(AMISS, 1.6, Qt.PenStyle.DashLine))
    for place in amiss:
        painter.drawRect(on.rect(place))
    if hovered is not None:
        painter.setPen(QPen(PICKED, 1.0, Qt.PenStyle.DotLine))
        painter.drawRect(on.rect(hovered))


def paint_picked(painter: QPainter, on: OnScreen, place: Place, *, grips: bool) -> None:
    """Paint a line round the element that is picked, and squares by which it is drawn larger."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(PICKED, 2.0))
    painter.drawRect(on.rect(place))
    if not grips:
        return
    painter.setBrush(QColor("#FFFFFF"))
    for grip in grips_of(place, GRIPS_APART_PX / on.scale):
        middle = on.point(*grip_place(place, grip))
        painter.drawRect(QRectF(middle.x() - GRIP_PX / 2, middle.y() - GRIP_PX / 2, GRIP_PX, GRIP_PX))


def paint_guides(painter: QPainter, on: OnScreen, guides: Iterable[Guide]) -> None:
    """Paint the lines that an element snapped to."""
    painter.setPen(QPen(GUIDE, 1.4, Qt.PenStyle.DashLine))
    for guide in guides:
        ends = ((guide.at, guide.first), (guide.at, guide.last))
        if not guide.upright:
            ends = ((guide.first, guide.at), (guide.last, guide.at))
        painter.drawLine(on.point(*ends[0]), on.point(*ends[1]))
