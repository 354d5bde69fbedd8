"""A page as an SVG, for the web."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtGui import QPainter

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.svg_device import DOTS_PER_MM, SvgDevice
from farmmap.scene.backdrop_tiles import BackdropTiles
from farmmap.sheets.page import Document, Page
from farmmap.sheets.writing.paint import paint_page


def write_svg(document: Document, page: Page, pause: Callable[[], None], path: Path) -> None:
    """Write a page of a document to an SVG of exactly its size, its letters as outlines."""
    paper = page.paper
    device = SvgDevice(paper.width_mm, paper.height_mm, document.title, document.about)
    painter = QPainter(device)
    try:
        paint_page(painter, page, DOTS_PER_MM, pause=pause, maps=MapPainter(BackdropTiles(), device))
    finally:
        painter.end()
    path.write_text(device.text(), "utf-8")
