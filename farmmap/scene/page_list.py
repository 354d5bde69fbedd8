"""Field sheets of trees: their numbers on the map, and lists of them with boxes to tick and to write in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from farmmap.scene.page_items import Box, Item, Shape, Text, Type, elided, paragraphs
from farmmap.scene.paper import Paper
from farmmap.scene.sheet_layout import MARGIN_MM
from farmmap.scene.styles import POINT_MM
from farmmap.scene.view import View

NUMBERS_MM = (2.6, 2.1, 1.7)
"""Sizes of numbers on the map, on A4; the largest at which all have room, else the smallest. [mm]"""


TOLD_POINTS = 7.4
"""Size of type of what is to be minded, which is read at arm's length out of doors, on A4. [pt]"""


@dataclass(frozen=True)
class ListColumn:
    """One column of a list.

    Attributes
    ----------
    words : str
        Its head.
    share : float
        Share of the list's width.
    align : str
        ``left`` or ``right``.
    bold : bool
        Whether its cells are bold in rows that stand out.
    to_fill : bool
        Whether it is a box to write in.
    """

    words: str
    share: float
    align: str = "left"
    bold: bool = False
    to_fill: bool = False


@dataclass(frozen=True)
class TreeList:
    """A list of trees as it is set on pages; each row gets a box to tick before its first cell.

    Attributes
    ----------
    columns : tuple of ListColumn
        The first is that of the boxes to tick.
    rows : tuple of tuple of str
        Cells, without that of the box to tick.
    bold : tuple of bool
        Which rows stand out.
    least_mm, line_mm : float
        A list is no narrower, and how high its lines are, on A4. [mm]
    told : tuple of str
        What to mind, above the list on its first page.
    empty : int
        Least number of empty lines after the rows; where there are any, they fill the last page.
    points : float
        Size of type of the rows, on A4. [pt]
    """

    columns: tuple[ListColumn, ...]
    rows: tuple[tuple[str, ...], ...]
    bold: tuple[bool, ...]
    least_mm: float
    line_mm: float
    told: tuple[str, ...] = ()
    empty: int = 0
    points: float = 6.6


def numbers_on_map(
    x: NDArray[np.float64], y: NDArray[np.float64], bold: NDArray[np.bool_], view: View, type_: Type
) -> tuple[tuple[Item, ...], int]:
    """Return the numbers of trees from 1, each beside its tree where there is room, and how many found none.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Where the trees stand. [grid m]
    bold : ndarray of bool, shape (n,)
        Which numbers are bold.
    view : View
        What the map shows.
    type_ : Type
        Sizes of type.
    """
    for size in NUMBERS_MM:
        items, left_out = _numbered(x, y, bold, view, type_, size * type_.times)
        if not left_out:
            break
    return items, left_out


def _numbered(
    x: NDArray[np.float64], y: NDArray[np.float64], bold: NDArray[np.bool_], view: View, type_: Type, high: float
) -> tuple[tuple[Item, ...], int]:
    """Return numbers so high, and how many found no room."""
    across, down = (values.tolist() for values in view.to_mm(x, y))
    points = high / POINT_MM / type_.times
    styles = {is_bold: type_.style(points, "bold" if is_bold else "regular") for is_bold in (True, False)}
    taken = _Room(view)
    for east, south in zip(across, down, strict=True):
        taken.claim(east - 0.6, south - 0.6, east + 0.6, south + 0.6)
    items: list[Item] = []
    left_out = 0
    off = 1.1
    for number, (east, south, is_bold) in enumerate(zip(across, down, bold.tolist(), strict=True), 1):
        words, style = str(number), styles[is_bold]
        wide = type_.width(words, style)
        for left, base in (
            (east + off, south + 0.36 * high),
            (east - off - wide, south + 0.36 * high),
            (east - wide / 2, south - off),
            (east - wide / 2, south + off + 0.75 * high),
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


def list_pages(
    paper: Paper, title: str, trees: TreeList, type_: Type, *, map_second: bool = False, map_pages: int = 1
) -> tuple[tuple[Box, ...], ...]:
    """Return pages of a list, as many as it takes.

    Parameters
    ----------
    paper : Paper
        The sheet.
    title : str
        Head of each page.
    trees : TreeList
        The list.
    type_ : Type
        Sizes of type.
    map_second : bool
        Whether the map that belongs to the list is the second page, and not the first.
    map_pages : int
        How many pages the map and what has no room beside it take.
    """
    wide, high = paper.width_mm - 2 * MARGIN_MM, paper.height_mm - 2 * MARGIN_MM
    head = type_.style(12.0, "bold")
    gap, line = 1.6 * type_.gap, trees.line_mm * type_.times
    across = max(int((wide + gap) / (trees.least_mm * type_.times + gap)), 1)
    each = (wide - gap * (across - 1)) / across
    pages: list[tuple[Box, ...]] = []
    first, lines = 0, len(trees.rows) + trees.empty
    while first < lines:
        number = 1 if map_second and not pages else len(pages) + 1 + map_pages
        words = elided(f"{title}: list, page {number}", head, wide, type_.width)
        over: list[Item] = [Text(0, head.size_mm, words, head)]
        top = head.size_mm * 1.6
        if trees.told and not pages:
            told, told_mm = paragraphs(trees.told, type_.style(TOLD_POINTS), wide, type_.width)
            over += [item.moved(0, top) for item in told]
            top += told_mm + type_.gap
        down = max(int((high - top) / line) - 1, 1)
        if trees.empty and first + across * down >= lines:
            lines = first + across * down
        boxes = [Box("head", 0, 0, wide, top, tuple(over)).placed(MARGIN_MM, MARGIN_MM)]
        for column in range(across):
            some = range(first + column * down, min(first + (column + 1) * down, lines))
            if some:
                box = _list(trees, some, type_, each, line)
                boxes.append(box.placed(MARGIN_MM + column * (each + gap), MARGIN_MM + top))
        pages.append(tuple(boxes))
        first += across * down
    return tuple(pages)


def with_map_pages(
    paper: Paper,
    title: str,
    trees: TreeList,
    type_: Type,
    of_map: tuple[tuple[Box, ...], ...],
    *,
    map_second: bool = False,
) -> tuple[tuple[Box, ...], ...]:
    """Return all pages but that of the map: those of a list, and, after the map, what has no room beside it.

    Parameters
    ----------
    paper, title, trees, type_, map_second
        As for `list_pages`.
    of_map : tuple of tuple of Box
        What has no room beside the map, page by page.
    """
    listed = list_pages(paper, title, trees, type_, map_second=map_second, map_pages=1 + len(of_map))
    before = int(map_second)
    return (*listed[:before], *of_map, *listed[before:])


def _list(trees: TreeList, some: Sequence[int], type_: Type, width: float, line: float) -> Box:
    """Return some rows of the list, with its head."""
    small, ink = type_.style(6.2, faint=True), type_.theme.ink
    body, bold = type_.style(trees.points), type_.style(trees.points, "bold")
    edges = np.cumsum([0.0, *(column.share * width for column in trees.columns)]).tolist()
    starts = [
        edges[place] + (0.8 if column.to_fill else 0.0) if column.align == "left" else edges[place + 1] - 1.6
        for place, column in enumerate(trees.columns)
    ]
    items: list[Item] = [
        Text(starts[place], line * 0.72, column.words, small, column.align)
        for place, column in enumerate(trees.columns)
        if column.words
    ]
    tick = 0.6 * line
    for number, row in enumerate(some, start=1):
        y = number * line
        items.append(Shape(((0.0, y), (width, y)), line=ink, line_mm=0.25 if number == 1 else 0.08))
        corner = y + (line - tick) / 2
        box = ((0.2, corner), (0.2 + tick, corner), (0.2 + tick, corner + tick), (0.2, corner + tick))
        items.append(Shape(box, closed=True, line=ink, line_mm=0.2))
        if row >= len(trees.rows):
            continue
        for place, (column, words) in enumerate(zip(trees.columns[1:], trees.rows[row], strict=True), start=1):
            style = bold if trees.bold[row] and column.bold else body
            room = edges[place + 1] - edges[place] - 0.8
            if words:
                cut = elided(words, style, room, type_.width)
                items.append(Text(starts[place], y + line * 0.68, cut, style, column.align))
    bottom = (len(some) + 1) * line
    items.append(Shape(((0.0, bottom), (width, bottom)), line=ink, line_mm=0.12))
    fills = [place for place, column in enumerate(trees.columns) if column.to_fill]
    sides = sorted({edges[at] for place in fills for at in (place, place + 1)})
    items += [Shape(((side, 0.0), (side, bottom)), line=ink, line_mm=0.12) for side in sides]
    full = sum(row < len(trees.rows) for row in some)
    if full < len(some):
        top = (full + 1) * line
        others = [side for side in edges[1:-1] if side not in sides]
        items += [Shape(((side, top), (side, bottom)), line=ink, line_mm=0.12) for side in others]
    return Box("list", 0, 0, width, bottom, tuple(items))


def number_cell(value: float, places: int) -> str:
    """Return a number as it stands in a list, nothing where it is not known."""
    return "" if math.isnan(value) else f"{value:.{places}f}"
