"""What a PDF says about itself: title and author, language, bookmarks and page numbers."""

from __future__ import annotations

from collections.abc import Sequence

from pikepdf import Array, Dictionary, Name, Object, OutlineItem, Pdf, String

from farmmap import __version__
from farmmap.scene.styles import POINT_MM
from farmmap.sheets.page import Document, Page

LANGUAGE = "en"


def say_about(pdf: Pdf, document: Document) -> None:
    """Put title, author, subject, key words, bookmarks and page numbers into a file that has all its pages."""
    with pdf.open_metadata(set_pikepdf_as_editor=False) as said:
        said["dc:title"] = document.title
        said["dc:description"] = document.about
        said["dc:language"] = {LANGUAGE}
        said["xmp:CreatorTool"] = f"farmmap {__version__}"
        said["dc:creator"] = [document.author or document.farm.settings.name]
        if document.keywords:
            said["dc:subject"] = set(document.keywords)
            said["pdf:Keywords"] = ", ".join(document.keywords)
    pdf.Root.Lang = String(LANGUAGE)
    pdf.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    pdf.Root.PageLabels = Dictionary(Nums=Array([0, Dictionary(S=Name.D)]))
    if any(page.bookmarks for page in document.pages):
        _add_bookmarks(pdf, document.pages)
        pdf.Root.PageMode = Name.UseOutlines


def _add_bookmarks(pdf: Pdf, pages: Sequence[Page]) -> None:
    """Put in every bookmark under the last one before it of a lower level."""
    with pdf.open_outline() as outline:
        above: list[tuple[int, OutlineItem]] = []
        for number, page in enumerate(pages):
            for mark in page.bookmarks:
                while above and above[-1][0] >= mark.level:
                    above.pop()
                height = (page.paper.height_mm - mark.y_mm) / POINT_MM
                item = OutlineItem(mark.words, destination=_place(pdf.pages[number].obj, height))
                (above[-1][1].children if above else outline.root).append(item)
                above.append((mark.level, item))


def _place(page: Object, height: float) -> Array:
    return Array([page, Name.XYZ, None, round(height, 2), None])
