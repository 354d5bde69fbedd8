"""Pages handed on: into a file, or to a printer at their exact size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter

from farmmap.errors import BadInput
from farmmap.progress import Progress
from farmmap.scene.paper import PAPERS, Paper
from farmmap.sheets.page import Document, Page
from farmmap.sheets.write import paint_page, write_document

if TYPE_CHECKING:  # brought in when somebody prints
    from PySide6.QtPrintSupport import QPrinter

KINDS = "PDF (*.pdf);;Picture (*.png);;Drawing for the web (*.svg)"
AT_FULL_SIZE = (
    "In the printer's own settings choose 100 %, or “actual size”, and not “fit to page”; else the scale is wrong. "
    "Lay a ruler on the scale bar of the first page."
)
OTHER_PAPER_MM = 2.0
"""A printer's paper that differs by more than this is another. [mm]"""


def pauses(progress: Progress, what: str) -> Callable[[], None]:
    """Return what tells that work goes on, and ends it when it is stopped."""
    return lambda: progress.step(0, 0, what)


def write_pages(document: Document, path: Path, progress: Progress) -> Path:
    """Write pages into a file; return where it is."""
    write_document(document, path, pause=pauses(progress, "writing the file"))
    return path


def page_layout(paper: Paper) -> QPageLayout:
    """Return a sheet of paper as printers know it, without margins."""
    named = paper.name in PAPERS and paper.name in QPageSize.PageSizeId.__members__
    if named:
        size = QPageSize(QPageSize.PageSizeId[paper.name])
    else:
        sides = sorted((paper.width_mm, paper.height_mm))
        size = QPageSize(QSizeF(*sides), QPageSize.Unit.Millimeter, paper.name)
    way = QPageLayout.Orientation.Landscape if paper.is_landscape else QPageLayout.Orientation.Portrait
    layout = QPageLayout(size, way, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)
    layout.setMode(QPageLayout.Mode.FullPageMode)
    return layout


def make_ready(printer: QPrinter, document: Document) -> None:
    """Set a printer to the size of the first page and its way round, with nothing left free at the edges."""
    printer.setDocName(document.title)
    printer.setCreator("farmmap")
    printer.setPageLayout(page_layout(document.pages[0].paper))


def check_paper(printer: QPrinter, document: Document) -> None:
    """Refuse a printer that is set to other paper than the pages are for.

    Raises
    ------
    BadInput
        It is; the message says what to do.
    """
    paper = document.pages[0].paper
    sheet = printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter)
    set_to, wanted = sorted((sheet.width(), sheet.height())), sorted((paper.width_mm, paper.height_mm))
    if any(abs(one - other) > OTHER_PAPER_MM for one, other in zip(set_to, wanted, strict=True)):
        name = printer.pageLayout().pageSize().name() or f"{set_to[0]:.0f} by {set_to[1]:.0f} mm"
        raise BadInput(
            f"the printer is set to {name} and the sheet is for {paper.name}; choose {paper.name} in the printer's "
            "settings, or other paper for the sheet, which then has a scale that fits"
        )


def print_pages(document: Document, printer: QPrinter, progress: Progress) -> int:
    """Print pages at their exact size; return how many.

    Parameters
    ----------
    document : Document
        The pages.
    printer : QPrinter
        As `make_ready` left it and the person chose it.
    progress : Progress
        Told how far it is.

    Raises
    ------
    BadInput
        The printer does not take the pages.
    """
    check_paper(printer, document)
    pages = chosen_pages(document, printer.fromPage(), printer.toPage())
    printer.setPageLayout(page_layout(pages[0].paper))
    painter = QPainter()
    if not painter.begin(printer):
        raise BadInput("the printer could not be reached; look whether it is switched on, or write a PDF instead")
    try:
        for number, page in enumerate(pages):
            progress.step(number, len(pages), f"printing page {number + 1} of {len(pages)}")
            if number:
                _turn_over(printer, page, number)
            dots_per_mm = printer.resolution() / 25.4
            paint_page(painter, page, dots_per_mm, pause=pauses(progress, "printing"))
    except BaseException:
        printer.abort()
        raise
    finally:
        painter.end()
    return len(pages)


def _turn_over(printer: QPrinter, page: Page, done: int) -> None:
    printer.setPageLayout(page_layout(page.paper))
    if not printer.newPage():
        raise BadInput(f"the printer stopped after page {done}")


def chosen_pages(document: Document, first: int, last: int) -> tuple[Page, ...]:
    """Return the pages from one to another, counted from 1; all for 0."""
    return document.pages[max(first, 1) - 1 : last or None] or document.pages
