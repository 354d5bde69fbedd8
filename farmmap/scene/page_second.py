"""A second page, for the tables and notes that have no room beside a map."""

from __future__ import annotations

from dataclasses import dataclass, replace

from farmmap.scene.page_items import Box, Type
from farmmap.scene.page_stack import Part, columns
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import DOT, MARGIN_MM, Content, notes_part, page_head, table_parts

MOST_COLUMNS = 4


@dataclass(frozen=True)
class SecondPage:
    """A page of tables and notes.

    Attributes
    ----------
    boxes : tuple of Box
        All that is on it, none lying on another.
    cut : tuple of str
        Names of the boxes from which something was left out.
    """

    boxes: tuple[Box, ...]
    cut: tuple[str, ...]


def second_page(paper: Paper, content: Content, type_: Type, more: tuple[PageTable | Part, ...] = ()) -> SecondPage:
    """Set tables and notes in columns of their own width, notes as large as the tables if there is room.

    Parameters
    ----------
    paper : Paper
        The sheet.
    content : Content
        Its title, subtitle, tables and notes are used.
    type_ : Type
        Sizes of type.
    more : tuple of PageTable or Part
        What is set before the notes if there is room for all of it; the last are left out first.
    """
    made = SecondPage((), ())
    for kept in range(len(more), -1, -1):
        for large in (True, False):
            made = _set(paper, replace(content, notes_large=large), type_, more[:kept])
            if not made.cut:
                return made
    return made


def _set(paper: Paper, content: Content, type_: Type, more: tuple[PageTable | Part, ...]) -> SecondPage:
    wide, gap = paper.width_mm - 2 * MARGIN_MM, 2.4 * type_.gap
    head = page_head(replace(content, subtitle=DOT.join(("Second page", content.subtitle))), type_, wide)
    top = MARGIN_MM + head.height + type_.gap
    content = replace(content, tables=(*content.tables, *(table for table in more if isinstance(table, PageTable))))
    natural = max([table.natural_width(type_, 34 * type_.times) for table in content.tables] + [62 * type_.times])
    count = min(max(int((wide + gap) / (natural + gap)), 1), MOST_COLUMNS)
    each = (wide - gap * (count - 1)) / count
    others = [part for part in more if isinstance(part, Part)]
    parts = [*table_parts(content, type_), *others, notes_part(replace(content, essential=""), type_)]
    stacks, _ = columns(parts, count, each, paper.height_mm - MARGIN_MM - top, 1.6 * type_.gap)
    boxes = [box for place, made in enumerate(stacks) for box in made.placed(MARGIN_MM + place * (each + gap), top)]
    return SecondPage((head, *boxes), tuple(name for made in stacks for name in made.cut))
