"""A page as a PDF or as a picture."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pikepdf
from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QColor, QImage, QPageLayout, QPageSize, QPainter, QPdfWriter

from farmmap.drawing.application import ensure_application
from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.page_painter import paint_items
from farmmap.errors import BadInput
from farmmap.scene.backdrop_tiles import BackdropTiles
from farmmap.scene.paper import Paper
from farmmap.scene.styles import POINT_MM
from farmmap.sheets.page import Document, Page, Sheet

PDF_DOTS_PER_INCH = 2400
"""Finest step of a PDF's coordinates; 0.01 mm."""

PICTURE_DOTS_PER_INCH = 200
LARGEST_PICTURE_DOTS = 120_000_000


def write_sheet(sheet: Sheet, path: Path | str) -> None:
    """Write a sheet to a file, as `write_document` does."""
    write_document(sheet.document(), path)


def write_document(document: Document, path: Path | str) -> None:
    """Write pages to a file.

    Parameters
    ----------
    document : Document
        The pages.
    path : Path or str
        Ends in ``.pdf`` for outlines, with its typeface, at exactly the size of the paper; or in ``.png`` for a
        picture of 200 dots to the inch; further pages go to files of their own, ``map-2.png`` beside ``map.png``.

    Raises
    ------
    BadInput
        The name ends in something else, or the file cannot be written.
    """
    path = Path(path)
    kind = path.suffix.lower()
    if kind not in {".pdf", ".png"}:
        raise BadInput(f"a map is written as .pdf or .png, not as '{path.name}'")
    if not path.parent.is_dir():
        raise BadInput(f"there is no folder {path.parent}; make it first, or choose another")
    ensure_application()
    if kind == ".pdf":
        _put_in_place(partial(_write_pdf, document), path)
        return
    for number, page in enumerate(document.pages, 1):
        beside = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
        _put_in_place(partial(_write_png, page_picture(page)), beside)


def _put_in_place(write: Callable[[Path], None], path: Path) -> None:
    """Write a file beside its place and put it there once it is whole."""
    beside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(suffix=path.suffix, prefix=f".{path.stem}-", dir=path.parent)
        os.close(handle)
        beside = Path(name)
        write(beside)
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    except OSError as error:
        raise BadInput(f"{path} could not be written: {error.strerror or error}") from error
    finally:
        if beside is not None:
            beside.unlink(missing_ok=True)


def paint_page(painter: QPainter, page: Page, dots_per_mm: float) -> None:
    """Paint a page with its upper left corner at the painter's origin.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    page : Page
        The page.
    dots_per_mm : float
        Resolution of the device.
    """
    maps = MapPainter(BackdropTiles())
    for one in page.maps:
        left, top, _, _ = one.frame
        painter.save()
        painter.translate(left * dots_per_mm, top * dots_per_mm)
        maps.paint(painter, one.scene, one.view, dots_per_mm)
        painter.restore()
        paint_items(painter, one.over_map, one.scene.theme, dots_per_mm)
    for box in page.boxes:
        paint_items(painter, box.items, page.theme, dots_per_mm)


def page_picture(page: Page, dots_per_inch: float = PICTURE_DOTS_PER_INCH) -> QImage:
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
        paint_page(painter, page, dots_per_mm)
    finally:
        painter.end()
    return image


def _write_png(image: QImage, path: Path) -> None:
    if not image.convertToFormat(QImage.Format.Format_RGB888).save(str(path)):
        raise OSError("the picture could not be saved")


def _write_pdf(document: Document, path: Path) -> None:
    writer = QPdfWriter(str(path))
    writer.setPageLayout(_page_layout(document.pages[0].paper))
    writer.setResolution(PDF_DOTS_PER_INCH)
    writer.setTitle(document.title)
    writer.setCreator("farmmap")
    painter = QPainter()
    if not painter.begin(writer):
        raise OSError("the file could not be opened for writing")
    finished = False
    try:
        for number, page in enumerate(document.pages):
            if number:
                writer.setPageLayout(_page_layout(page.paper))
                writer.newPage()
            paint_page(painter, page, PDF_DOTS_PER_INCH / 25.4)
    finally:
        finished = painter.end()
    if not finished:
        raise OSError("the page could not be finished")
    _set_exact_size(path, document)


def _page_layout(paper: Paper) -> QPageLayout:
    size = QPageSize(
        QSizeF(paper.width_mm, paper.height_mm),
        QPageSize.Unit.Millimeter,
        paper.name,
        QPageSize.SizeMatchPolicy.ExactMatch,
    )
    upright = QPageLayout.Orientation.Portrait
    return QPageLayout(size, upright, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)


def _set_exact_size(path: Path, document: Document) -> None:
    """Give each page its exact size: Qt rounds it to whole points and measures from that size's lower edge."""
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        for page, planned in zip(pdf.pages, document.pages, strict=True):
            wide, high = planned.paper.width_mm / POINT_MM, planned.paper.height_mm / POINT_MM
            rounded = float(page.mediabox[3]) - float(page.mediabox[1])
            page.contents_add(f"q 1 0 0 1 0 {high - rounded:.5f} cm\n".encode(), prepend=True)
            page.contents_add(b"\nQ")
            for name in ("/MediaBox", "/CropBox", "/TrimBox", "/BleedBox", "/ArtBox"):
                if name == "/MediaBox" or name in page.obj:
                    page.obj[name] = pikepdf.Array([0, 0, round(wide, 5), round(high, 5)])
        with pdf.open_metadata(set_pikepdf_as_editor=False) as metadata:
            metadata["dc:title"] = document.title
            metadata["dc:description"] = document.about
            metadata["xmp:CreatorTool"] = "farmmap"
        pdf.save(path)


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
