"""Pages as a PDF: painted by Qt, with trees and crowns put between by us."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter, QPdfWriter

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.pdf_forms import DOTS_PER_MM, Content, FormBook
from farmmap.drawing.pdf_trees import crown_content, in_frame, tree_content
from farmmap.scene.backdrop_tiles import BackdropTiles
from farmmap.scene.paper import Paper
from farmmap.scene.scene import CrownLayer, TreeLayer
from farmmap.scene.styles import Theme
from farmmap.scene.view import View
from farmmap.sheets.page import Document
from farmmap.sheets.writing.paint import paint_page
from farmmap.sheets.writing.pdf_about import say_about
from farmmap.sheets.writing.pdf_ground import add_viewports
from farmmap.sheets.writing.pdf_join import join_pages

DOTS_PER_INCH = round(DOTS_PER_MM * 25.4)
"""Step of a PDF's coordinates; 0.01 mm."""

_VERSION = ("1.7", 3)  # with extension level 3, in which a map may say where it lies


def write_pdf(document: Document, path: Path, pause: Callable[[], None]) -> None:
    """Write pages to a PDF.

    Raises
    ------
    OSError
        The file could not be written.
    """
    writer = QPdfWriter(str(path))
    writer.setPageLayout(_page_layout(document.pages[0].paper))
    writer.setResolution(DOTS_PER_INCH)
    painter = QPainter()
    if not painter.begin(writer):
        raise OSError("the file could not be opened for writing")
    finished, trees = False, _TreesBetween(writer)
    maps = MapPainter(BackdropTiles(), trees)
    try:
        for number, page in enumerate(document.pages):
            if number:
                writer.setPageLayout(_page_layout(page.paper))
                writer.newPage()
            trees.contents.append([])
            paint_page(painter, page, DOTS_PER_MM, pause=pause, maps=maps)
    finally:
        finished = painter.end()
    if not finished:
        raise OSError("the page could not be finished")
    pause()
    _finish(path, document, trees)


class _TreesBetween:
    """Ends Qt's page where trees come and begins another, so that what comes before and after can be told apart.

    Attributes
    ----------
    contents : list of list of Content
        For each page of the document, what comes after its first of Qt's pages, after its second, and so on.
    book : FormBook
        The looks of all trees.
    """

    def __init__(self, writer: QPdfWriter) -> None:
        self._writer = writer
        self.contents: list[list[Content]] = []
        self.book = FormBook()

    def put_trees(self, painter: QPainter, trees: TreeLayer, view: View, theme: Theme) -> None:
        self._put(painter, tree_content(trees, view, theme, self.book), view)

    def put_crowns(self, painter: QPainter, crowns: CrownLayer, view: View) -> None:
        self._put(painter, crown_content(crowns, view, self.book), view)

    def _put(self, painter: QPainter, content: Content, view: View) -> None:
        if content.words:
            self.contents[-1].append(in_frame(content, view, painter.deviceTransform()))
            self._writer.newPage()


def _page_layout(paper: Paper) -> QPageLayout:
    size = QPageSize(
        QSizeF(paper.width_mm, paper.height_mm),
        QPageSize.Unit.Millimeter,
        paper.name,
        QPageSize.SizeMatchPolicy.ExactMatch,
    )
    upright = QPageLayout.Orientation.Portrait
    return QPageLayout(size, upright, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)


def _finish(path: Path, document: Document, trees: _TreesBetween) -> None:
    """Put the parts of each page together, and give the document what Qt cannot."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        join_pages(pdf, [page.paper for page in document.pages], trees.contents, trees.book.forms)
        for written, page in zip(pdf.pages, document.pages, strict=True):
            add_viewports(pdf, written.obj, page.paper, page.maps, document.farm.grid)
        say_about(pdf, document)
        pdf.save(path, object_stream_mode=pikepdf.ObjectStreamMode.generate, min_version=_VERSION)
