"""A page as it was asked for: its paper and look, the grower's own words, and the best arrangement of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.scene.page_by_hand import check_by_hand
from farmmap.scene.page_items import Box, Type
from farmmap.scene.page_photos import photo_pages, photo_parts
from farmmap.scene.page_second import further_pages
from farmmap.scene.page_stack import Part
from farmmap.scene.paper import TIMES_A4, Paper, paper_of
from farmmap.scene.sheet_layout import Content, PageParts, PagePlan, page_type, plan_page
from farmmap.scene.styles import LOOKS, Theme, theme, with_text
from farmmap.sheets.page import SheetOptions

MISSED = frozenset({"key", "also", "blocks", "margins", "pages"})
"""Elements from which nothing is left out while there are further pages."""

NEXT_PAGE = "Tables, and how their figures were worked out, stand on the next page."
FURTHER_ON_NEXT = "Further tables, and how figures were worked out, stand on the next page."
NOTES_ON_NEXT = "How figures were worked out stands on the next page."
ALL_ELSE = "What its signs mean, the figures and what to be careful of stand on the next page."


def papers_of(options: SheetOptions) -> list[Paper]:
    """Return the paper that is asked for, both ways round if that is left open."""
    ways = (True, False) if options.landscape is None else (options.landscape,)
    return [paper_of(options.paper, landscape=way) for way in ways]


def look_of(options: SheetOptions) -> Theme:
    """Return the look that is asked for, its names as large as the paper wants them.

    Raises
    ------
    BadInput
        There is no such look, or no such paper.
    """
    name = LOOKS.get(options.look)
    if name is None:
        raise BadInput(f"'{options.look}' is no look of a page; choose {', '.join(LOOKS)}")
    return with_text(theme(name), TIMES_A4[papers_of(options)[0].name])


def with_choices(content: Content, farm: Farm, options: SheetOptions) -> Content:
    """Return what a page says with the grower's own words, and as its elements were put or left out by hand."""
    version = options.version.strip()
    return replace(
        content,
        note=options.note.strip(),
        credits=options.credits.strip(),
        version=f"Version: {version}" if version else "",
        graticule=farm.grid if options.graticule else None,
        moved=options.moved,
        left_out=options.left_out,
    )


def best_page(papers: list[Paper], content: Content, scale: int | None, look: Theme | None = None) -> PagePlan:
    """Return the best arrangement of a page, on whichever of some papers shows the ground larger."""
    look = look or theme("paper")
    type_ = page_type(papers[0], look, text_width_mm)
    parts = PageParts(content, type_)
    plans = [plan_page(paper, content, type_, scale, parts) for paper in papers]
    return min(plans, key=lambda plan: (not plan.whole, plan.scale, round(plan.short_mm / 4), plan.empty_mm2))


@dataclass(frozen=True)
class OnPages:
    """A page with a map, and what has no room beside it on further ones."""

    plan: PagePlan
    further: tuple[tuple[Box, ...], ...] = ()


def on_pages(papers: list[Paper], content: Content, scale: int | None, look: Theme) -> OnPages:
    """Set everything on one page where there is room for it; else tables and notes, at last the key, on further ones.

    Parameters
    ----------
    papers : list of Paper
        The sheet, one or both ways round.
    content : Content
        What is said.
    scale : int or None
        The N of a scale 1:N that is asked for.
    look : Theme
        The look.

    Raises
    ------
    BadInput
        Not even the map has room.
    """
    check_by_hand(content.moved, content.left_out)
    try:
        plan = best_page(papers, content, scale, look)
    except BadInput:
        if not _has_more(content):
            raise
    else:
        if MISSED.isdisjoint(plan.cut) or not _has_more(content):
            return OnPages(plan)
    by_hand = {one.name for one in content.moved}
    apart = {*(table.name for table in content.tables), "notes"} - by_hand
    with_key = replace(content, left_out=content.left_out | apart, essential="", note=_and(content.note, NEXT_PAGE))
    try:
        plan = best_page(papers, with_key, scale, look)
        if MISSED.isdisjoint(plan.cut):
            plan, apart = _with_tables(plan, content, with_key, apart, scale, look)
            return OnPages(plan, _further(plan, content, apart, look))
    except BadInput:
        pass
    apart |= {"key", "caution", *(() if content.key_first is None else ("also",))} - by_hand
    bare = replace(
        with_key,
        left_out=content.left_out | (apart - {"caution"}),
        cautions=content.cautions if "caution" in by_hand else (f"This map is no survey. {ALL_ELSE}",),
        note=content.note,
    )
    plan = best_page(papers, bare, scale, look)
    return OnPages(plan, _further(plan, content, apart, look))


def _with_tables(
    plan: PagePlan, content: Content, bare: Content, apart: set[str], scale: int | None, look: Theme
) -> tuple[PagePlan, set[str]]:
    """Return a page with those tables for which it has room at the same scale, and what still stands apart."""
    for name in [table.name for table in content.tables if table.name in apart - content.left_out]:
        fewer = apart - {name}
        note = _and(content.note, FURTHER_ON_NEXT if fewer - {"notes"} else NOTES_ON_NEXT)
        wanted = replace(bare, left_out=content.left_out | fewer, note=note)
        try:
            tried = best_page([plan.paper], wanted, scale, look)
        except BadInput:
            continue
        if tried.scale == plan.scale and tried.whole == plan.whole and MISSED.isdisjoint(tried.cut):
            plan, apart = tried, fewer
    return plan, apart


def _has_more(content: Content) -> bool:
    return bool(content.tables or content.notes or content.key)


def _and(*texts: str) -> str:
    return "\n".join(text for text in texts if text)


def _further(plan: PagePlan, content: Content, names: set[str], look: Theme) -> tuple[tuple[Box, ...], ...]:
    """Set elements of some names on further pages."""
    type_ = page_type(plan.paper, look, text_width_mm)
    tables = {table.name: table for table in content.tables}
    parts = PageParts(content, type_).at(plan.scale, plan.paper)
    wanted = names - content.left_out
    things = [tables.get(part.name, part) for part in parts if part.name in wanted]
    return further_pages(plan.paper, content, type_, things)


def with_photos(
    made: OnPages, farm: Farm, content: Content, options: SheetOptions, papers: list[Paper], look: Theme
) -> OnPages:
    """Set the farm's photographs beside the map where that makes it no smaller, else on pages of their own.

    Raises
    ------
    BadInput
        The farm has no photographs.
    """
    type_ = page_type(made.plan.paper, look, text_width_mm)
    groups = photo_parts(farm, options.folder, type_)
    if not groups:
        raise BadInput(f"{farm.settings.name} has no photographs to print; add some, or leave them out")
    before = content.more_parts

    def parts(type_: Type, metres: float) -> tuple[Part, ...]:
        own = before(type_, metres) if before else ()
        return (*own, *photo_parts(farm, options.folder, type_))

    try:
        beside = on_pages(papers, replace(content, more_parts=parts), options.scale, look)
    except BadInput:
        beside = None
    if beside and beside.plan.scale <= made.plan.scale and not beside.further:
        names = {part.name for part in groups}
        if names.isdisjoint(beside.plan.cut) and made.plan.short_mm >= beside.plan.short_mm:
            return beside
    pages = photo_pages(farm, options.folder, made.plan.paper, f"{content.title}: photographs", type_)
    return OnPages(made.plan, (*made.further, *pages))
