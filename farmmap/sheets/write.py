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
from farmmap.scene.styles import POINT_MM
from farmmap.sheets.page import Inset, Sheet

PDF_DOTS_PER_INCH = 2400
"""Finest step of a PDF's coordinates; 0.01 mm."""

PICTURE_DOTS_PER_INCH = 200
LARGEST_PICTURE_DOTS = 120_000_000


def write_sheet(sheet: Sheet, path: Path | str) -> None:
    """Write a page to a file.

    Parameters
    ----------
    sheet : Sheet
        The page.
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
        _put_in_place(partial(_write_pdf, sheet), path)
        return
    _put_in_place(partial(_write_png, picture(sheet)), path)
    for page in range(2, 2 + len(sheet.more_pages)):
        beside = path.with_name(f"{path.stem}-{page}{path.suffix}")
        _put_in_place(partial(_write_png, picture(sheet, page=page)), beside)


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


def paint_sheet(painter: QPainter, sheet: Sheet, dots_per_mm: float) -> None:
    """Paint a page with its upper left corner at the painter's origin.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    sheet : Sheet
        The page.
    dots_per_mm : float
        Resolution of the device.
    """
    plan, look = sheet.plan, sheet.scene.theme
    maps = MapPainter(BackdropTiles())
    whole = Inset(plan.frame, plan.view, sheet.scene, plan.over_map)
    for one in (whole, *sheet.insets):
        left, top, _, _ = one.frame
        painter.save()
        painter.translate(left * dots_per_mm, top * dots_per_mm)
        maps.paint(painter, one.scene, one.view, dots_per_mm)
        painter.restore()
        paint_items(painter, one.over_map, look, dots_per_mm)
    for box in plan.boxes:
        paint_items(painter, box.items, look, dots_per_mm)


def paint_further(painter: QPainter, sheet: Sheet, page: int, dots_per_mm: float) -> None:
    """Paint a page after the first of a sheet, as `paint_sheet` does its first; ``page`` is 2 or more."""
    for box in sheet.more_pages[page - 2]:
        paint_items(painter, box.items, sheet.scene.theme, dots_per_mm)


def picture(sheet: Sheet, dots_per_inch: float = PICTURE_DOTS_PER_INCH, *, page: int = 1) -> QImage:
    """Return a page of a sheet, from 1, as a picture on white; very large paper gets fewer dots to the inch."""
    ensure_application()
    paper = sheet.plan.paper
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
        if page == 1:
            paint_sheet(painter, sheet, dots_per_mm)
        else:
            paint_further(painter, sheet, page, dots_per_mm)
    finally:
        painter.end()
    return image


def _write_png(image: QImage, path: Path) -> None:
    if not image.convertToFormat(QImage.Format.Format_RGB888).save(str(path)):
        raise OSError("the picture could not be saved")


def _write_pdf(sheet: Sheet, path: Path) -> None:
    paper = sheet.plan.paper
    writer = QPdfWriter(str(path))
    size = QPageSize(
        QSizeF(paper.width_mm, paper.height_mm),
        QPageSize.Unit.Millimeter,
        paper.name,
        QPageSize.SizeMatchPolicy.ExactMatch,
    )
    writer.setPageLayout(
        QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)
    )
    writer.setResolution(PDF_DOTS_PER_INCH)
    writer.setTitle(sheet.title)
    writer.setCreator("farmmap")
    painter = QPainter()
    if not painter.begin(writer):
        raise OSError("the file could not be opened for writing")
    finished = False
    try:
        paint_sheet(painter, sheet, PDF_DOTS_PER_INCH / 25.4)
        for page in range(2, 2 + len(sheet.more_pages)):
            writer.newPage()
            paint_further(painter, sheet, page, PDF_DOTS_PER_INCH / 25.4)
    finally:
        finished = painter.end()
    if not finished:
        raise OSError("the page could not be finished")
    _set_exact_size(path, paper.width_mm, paper.height_mm, sheet)


def _set_exact_size(path: Path, width_mm: float, height_mm: float, sheet: Sheet) -> None:
    """Give the page its exact size: Qt rounds it to whole points and measures from that size's lower edge."""
    wide, high = width_mm / POINT_MM, height_mm / POINT_MM
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        for page in pdf.pages:
            rounded = float(page.mediabox[3]) - float(page.mediabox[1])
            page.contents_add(f"q 1 0 0 1 0 {high - rounded:.5f} cm\n".encode(), prepend=True)
            page.contents_add(b"\nQ")
            for name in ("/MediaBox", "/CropBox", "/TrimBox", "/BleedBox", "/ArtBox"):
                if name == "/MediaBox" or name in page.obj:
                    page.obj[name] = pikepdf.Array([0, 0, round(wide, 5), round(high, 5)])
        with pdf.open_metadata(set_pikepdf_as_editor=False) as metadata:
            metadata["dc:title"] = sheet.title
            metadata["dc:description"] = f"Map of {sheet.farm_name}, 1:{sheet.plan.scale} on {sheet.plan.paper.name}"
            metadata["xmp:CreatorTool"] = "farmmap"
        pdf.save(path)


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
