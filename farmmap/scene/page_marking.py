"""Field sheets of a thinning: numbers at the marked trees, and lists of them with boxes to tick."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from farmmap.figures.result import FigureTable, shown
from farmmap.plans.thinning.marking_list import MarkingList
from farmmap.plans.thinning.result import CROP, TAKE
from farmmap.scene.page_items import Box, Item, Shape, Text, Type, elided
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import MARGIN_MM
from farmmap.scene.styles import POINT_MM
from farmmap.scene.view import View

NUMBERS_MM = (2.6, 2.1, 1.7)
"""Sizes of numbers on the map, on A4; the largest at which all have room, else the smallest. [mm]"""

LEAST_COLUMN_MM = 58.0
"""A column of the list is no narrower, on A4. [mm]"""

LINE_MM = 5.0
"""Height of a line of the list, on A4. [mm]"""

COLUMNS = (
    ("", 0.08, "left"),
    ("No", 0.10, "right"),
    ("Tag", 0.20, "left"),
    ("Species", 0.12, "left"),
    ("cm", 0.12, "right"),
    ("Mark", 0.12, "left"),
    ("Next m", 0.13, "right"),
    ("at °", 0.13, "right"),
)
"""Heads of the list's columns, their share of its width, and to which side they are set."""

PARTS = (
    ("Stems", "stems"),
    ("Stems /ha", "stems_per_ha"),
    ("Basal area m²/ha", "basal_area_m2_per_ha"),
    ("Quad. mean cm", "qmd_cm"),
    ("Spacing m", "mean_spacing_m"),
    ("Crown cover %", "crown_cover_percent"),
)
"""Figures before, taken and after that are on the sheet."""


def thinning_table(table: FigureTable) -> PageTable:
    """Return before, taken and after as a table of a page, a line a figure."""
    cells = tuple((words, *(shown(key, value) for value in table.column(key))) for words, key in PARTS)
    heads = (("",), ("Before",), ("Taken",), ("After",))
    return PageTable("thinning", "The thinning", heads, 1, cells, "figure", "figures", "farmmap thin")


def numbers_on_map(listed: MarkingList, view: View, type_: Type) -> tuple[tuple[Item, ...], int]:
    """Return the numbers of marked trees, each beside its tree where there is room, and how many found none.

    Parameters
    ----------
    listed : MarkingList
        The trees.
    view : View
        What the map shows.
    type_ : Type
        Sizes of type.
    """
    for size in NUMBERS_MM:
        items, left_out = _numbered(listed, view, type_, size * type_.times)
        if not left_out:
            break
    return items, left_out


def _numbered(listed: MarkingList, view: View, type_: Type, high: float) -> tuple[tuple[Item, ...], int]:
    """Return numbers so high, and how many found no room."""
    across, down = view.to_mm(listed.x, listed.y)
    points = high / POINT_MM / type_.times
    styles = {mark: type_.style(points, "bold" if mark == TAKE else "regular") for mark in (CROP, TAKE)}
    taken = _Room(view)
    for x, y in zip(across.tolist(), down.tolist(), strict=True):
        taken.claim(x - 0.6, y - 0.6, x + 0.6, y + 0.6)
    items: list[Item] = []
    left_out = 0
    for number, (x, y, mark) in enumerate(zip(across.tolist(), down.tolist(), listed.mark.tolist(), strict=True), 1):
        words, style = str(number), styles[mark]
        wide = type_.width(words, style)
        off = 1.1
        for left, base in (
            (x + off, y + 0.36 * high),
            (x - off - wide, y + 0.36 * high),
            (x - wide / 2, y - off),
            (x - wide / 2, y + off + 0.75 * high),
        ):
            if taken.claim(left, base - 0.75 * high, left + wide, base):
                items.append(Text(left, base, words, style))
                break
        else:
            left_out += 1
    return tuple(items), left_out


class _Room:
    """What of a map is written on already, in cells of its paper."""

    CELL_MM = 0.4

    def __init__(self, view: View) -> None:
        self._cells = np.zeros(
            (math.ceil(view.height_mm / self.CELL_MM), math.ceil(view.width_mm / self.CELL_MM)), bool
        )
        self._wide, self._high = view.width_mm, view.height_mm

    def claim(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Take a rectangle if it is free and on the map; return whether it was."""
        if left < 0 or top < 0 or right > self._wide or bottom > self._high:
            return False
        rows = slice(int(top / self.CELL_MM), math.ceil(bottom / self.CELL_MM))
        columns = slice(int(left / self.CELL_MM), math.ceil(right / self.CELL_MM))
        if self._cells[rows, columns].any():
            return False
        self._cells[rows, columns] = True
        return True


def marking_pages(paper: Paper, title: str, listed: MarkingList, type_: Type) -> tuple[tuple[Box, ...], ...]:
    """Return pages of the list, as many as it takes, each tree with a box to tick.

    Parameters
    ----------
    paper : Paper
        The sheet.
    title : str
        Head of each page.
    listed : MarkingList
        The trees in walking order.
    type_ : Type
        Sizes of type.
    """
    times = type_.times
    wide, high = paper.width_mm - 2 * MARGIN_MM, paper.height_mm - 2 * MARGIN_MM
    head = type_.style(12.0, "bold")
    top = head.size_mm * 1.6
    gap, line = 1.6 * type_.gap, LINE_MM * times
    across = max(int((wide + gap) / (LEAST_COLUMN_MM * times + gap)), 1)
    each = (wide - gap * (across - 1)) / across
    down = max(int((high - top) / line) - 1, 1)
    rows = tuple(_rows(listed))
    pages: list[tuple[Box, ...]] = []
    for first in range(0, len(rows), across * down):
        words = f"{title}: list, page {len(pages) + 2}"
        boxes = [Box("head", 0, 0, wide, top, (Text(0, head.size_mm, words, head),)).placed(MARGIN_MM, MARGIN_MM)]
        for column in range(across):
            some = rows[first + column * down : min(first + (column + 1) * down, len(rows))]
            if some:
                box = _list(some, type_, each, line)
                boxes.append(box.placed(MARGIN_MM + column * (each + gap), MARGIN_MM + top))
        pages.append(tuple(boxes))
    return tuple(pages)


def _rows(listed: MarkingList) -> Iterator[tuple[str, ...]]:
    for number, (tag, species, dbh, mark, away, bearing) in enumerate(
        zip(
            listed.tag.tolist(), listed.species.tolist(), listed.dbh_cm.tolist(), listed.mark.tolist(),
            listed.to_next_m.tolist(), listed.to_next_deg.tolist(), strict=True,
        ),
        start=1,
    ):  # fmt: skip
        figures = (_told(dbh, 1), mark, _told(away, 1), _told(bearing, 0))
        yield (str(number), tag or "–", species or "–", *figures)


def _told(value: float, places: int) -> str:
    return "" if math.isnan(value) else f"{value:.{places}f}"


def _list(rows: Sequence[tuple[str, ...]], type_: Type, width: float, line: float) -> Box:
    """Return one column of the list."""
    small, body, bold, ink = type_.style(6.2, faint=True), type_.body, type_.style(6.6, "bold"), type_.theme.ink
    edges = np.cumsum([0.0, *(share * width for _, share, _ in COLUMNS)]).tolist()
    items: list[Item] = []
    for place, (words, _, align) in enumerate(COLUMNS):
        at = edges[place] if align == "left" else edges[place + 1] - 1.2
        items += [Text(at, line * 0.72, words, small, align)] if words else []
    side = 0.6 * line
    for number, row in enumerate(rows, start=1):
        y = number * line
        items.append(Shape(((0.0, y), (width, y)), line=ink, line_mm=0.25 if number == 1 else 0.08))
        corner = y + (line - side) / 2
        box = ((0.2, corner), (0.2 + side, corner), (0.2 + side, corner + side), (0.2, corner + side))
        items.append(Shape(box, closed=True, line=ink, line_mm=0.2))
        takes = row[4] == TAKE
        for place, words in enumerate(row, start=1):
            align = COLUMNS[place][2]
            at = edges[place] if align == "left" else edges[place + 1] - 1.2
            style = bold if takes and place in {1, 5} else body
            room = edges[place + 1] - edges[place] - 0.8
            if words:
                items.append(Text(at, y + line * 0.68, elided(words, style, room, type_.width), style, align))
    bottom = (len(rows) + 1) * line
    items.append(Shape(((0.0, bottom), (width, bottom)), line=ink, line_mm=0.12))
    return Box("list", 0, 0, width, bottom, tuple(items))
