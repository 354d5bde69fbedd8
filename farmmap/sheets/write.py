"""Pages as a PDF, as pictures, or for the web."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtGui import QImage

from farmmap.drawing.application import ensure_application
from farmmap.errors import BadInput
from farmmap.sheets.page import Document, Sheet
from farmmap.sheets.writing.paint import PICTURE_DOTS_PER_INCH, page_picture, paint_page
from farmmap.sheets.writing.pdf_file import write_pdf
from farmmap.sheets.writing.svg_file import write_svg

__all__ = ["KINDS", "PICTURE_DOTS_PER_INCH", "page_picture", "paint_page", "write_document", "write_sheet"]


KINDS = (".pdf", ".png", ".svg")
"""Ends of the names of files that pages are written to."""


def _go_on() -> None:
    """Nobody else waits for a turn."""


def write_sheet(sheet: Sheet, path: Path | str) -> None:
    """Write a sheet to a file, as `write_document` does."""
    write_document(sheet.document(), path)


def write_document(document: Document, path: Path | str, *, pause: Callable[[], None] = _go_on) -> None:
    """Write pages to a file.

    Parameters
    ----------
    document : Document
        The pages.
    path : Path or str
        Ends in ``.pdf`` for outlines, with its typeface, at exactly the size of the paper; in ``.png`` for a picture of
        200 dots to the inch; or in ``.svg`` for outlines on the web, letters too. Further pages than the first go to
        files of their own in the last two, ``map-2.png`` beside ``map.png``.
    pause : callable, optional
        Called now and then, so that another thread can have its turn; may raise to stop, and no file is left.

    Raises
    ------
    BadInput
        The name ends in something else, or the file cannot be written.
    """
    path = Path(path)
    kind = path.suffix.lower()
    if kind not in KINDS:
        raise BadInput(f"a map is written as {', '.join(KINDS[:-1])} or {KINDS[-1]}, not as '{path.name}'")
    if not path.parent.is_dir():
        raise BadInput(f"there is no folder {path.parent}; make it first, or choose another")
    ensure_application()
    if kind == ".pdf":
        _put_in_place(partial(write_pdf, document, pause=pause), path)
        return
    for number, page in enumerate(document.pages, 1):
        beside = path if number == 1 else path.with_name(f"{path.stem}-{number}{path.suffix}")
        if kind == ".svg":
            _put_in_place(partial(write_svg, document, page, pause), beside)
        else:
            _put_in_place(partial(_write_png, page_picture(page, pause=pause)), beside)


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


def _write_png(image: QImage, path: Path) -> None:
    if not image.convertToFormat(QImage.Format.Format_RGB888).save(str(path)):
        raise OSError("the picture could not be saved")


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current
