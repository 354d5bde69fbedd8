"""Paper for field sheets: wide enough for boxes that can be written in, and the map page on it."""

from __future__ import annotations

from farmmap.errors import BadInput
from farmmap.scene.paper import TIMES_A4, Paper
from farmmap.scene.sheet_layout import MARGIN_MM, Content
from farmmap.scene.styles import Theme
from farmmap.sheets.asked import OnPages, best_page, on_pages, papers_of
from farmmap.sheets.page import SheetOptions

TOO_SMALL = ("A6", "A7")
"""Paper that holds a map, but no boxes to write in."""


def field_papers(options: SheetOptions, least_mm: float, *, upright: bool = False) -> list[Paper]:
    """Return the paper that is asked for, both ways round if that is left open, where a list has room on it.

    Parameters
    ----------
    options : SheetOptions
        What is asked for.
    least_mm : float
        A list is no narrower, on A4. [mm]
    upright : bool
        Whether it stands upright if that is left open and there is room: on a clipboard.

    Raises
    ------
    BadInput
        There is no such paper, or it is too small or too narrow.
    """
    papers = papers_of(options)
    name, times = papers[0].name, TIMES_A4[papers[0].name]
    if name in TOO_SMALL:
        raise BadInput(f"{name} is too small for boxes that can be written in; take A5 or larger for a field sheet")
    wide = [paper for paper in papers if paper.width_mm - 2 * MARGIN_MM >= least_mm * times]
    if not wide:
        raise BadInput(f"{name} upright is too narrow for boxes that can be written in; lay it across, or take A4")
    standing = [paper for paper in wide if not paper.is_landscape]
    return standing if upright and standing else wide


def field_page(papers: list[Paper], content: Content, scale: int | None, look: Theme) -> OnPages:
    """Set the map page of a field sheet; on small paper what has no room beside the map is set on further pages.

    Parameters
    ----------
    papers, content, scale, look
        As for `farmmap.sheets.asked.on_pages`.

    Raises
    ------
    BadInput
        Not even the map has room.
    """
    try:
        return OnPages(best_page(papers, content, scale, look))
    except BadInput:
        return on_pages(papers, content, scale, look)
