"""A page on any device, and as a picture."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QColor, QImage, QPainter

from farmmap.drawing.application import ensure_application
from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.page_painter import paint_items
from farmmap.scene.backdrop_tiles import BackdropTiles
from farmmap.sheets.page import Page

PICTURE_DOTS_PER_INCH = 200
LARGEST_PICTURE_DOTS = 120_000_000


def _go_on() -> None:
    """Nobody else waits for a turn."""


def paint_page(
    painter: QPainter,
    page: Page,
    dots_per_mm: float,
    *,
    pause: Callable[[], None] = _go_on,
    maps: MapPainter | None = None,
) -> None:
    """Paint a page with its upper left corner at the painter's origin.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    page : Page
        The page.
    dots_per_mm : float
        Resolution of the device.
    pause : callable, optional
        Called every millisecond or two, so that another thread can have its turn; may raise to stop.
    maps : MapPainter, optional
        Who paints the maps, where pages share one.
    """
    maps = maps or MapPainter(BackdropTiles())
    for one in page.maps:
        left, top, _, _ = one.frame
        painter.save()
        try:
            painter.translate(left * dots_per_mm, top * dots_per_mm)
            maps.paint(painter, one.scene, one.view, dots_per_mm, pause=pause)
        finally:
            painter.restore()
        paint_items(painter, one.over_map, one.scene.theme, dots_per_mm)
    for box in page.boxes:
        pause()
        paint_items(painter, box.items, page.theme, dots_per_mm)


def page_picture(
    page: Page, dots_per_inch: float = PICTURE_DOTS_PER_INCH, *, pause: Callable[[], None] = _go_on
) -> QImage:
    """Return a page as a picture on white; very large paper gets fewer dots to the inch."""
    ensure_application()
    paper = page.paper
    dots_per_mm = dots_per_inch / 25.4
    most = (LARGEST_PICTURE_DOTS / (paper.width_mm * paper.height_mm)) ** 0.5
    dots_per_mm = min(dots_per_mm, most)
    image = QImage(
        round(paper.width_mm * dots_per_mm),
        round(paper.height_mm * dots_per_mm),
        QImage.Format.Format_ARGB32_Premultiplied,
    )
    image.fill(QColor("#FFFFFF"))
    image.setDotsPerMeterX(round(dots_per_mm * 1000))
    image.setDotsPerMeterY(round(dots_per_mm * 1000))
    painter = QPainter(image)
    try:
        paint_page(painter, page, dots_per_mm, pause=pause)
    finally:
        painter.end()
    return image
