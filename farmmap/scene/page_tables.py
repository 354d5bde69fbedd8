"""Tables of figures on a page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown
from farmmap.figures.sampling.block_rows import MAPPED
from farmmap.scene.page_items import LINE_SPACING, Box, Item, Shape, Text, Type, elided, wrapped
from farmmap.scene.styles import TextStyle

BLOCK_COLUMNS = (
    "name",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "crown_cover_percent",
)
MARGIN_COLUMNS = (
    "creek",
    "bank",
    "area_ha",
    "length_m",
    "mean_width_m",
    "fenced_percent",
    "cover_percent",
    "longest_gap_m",
)

LEAST_ROWS = 3
ROW_STEP = 1.36
"""From one row to the next, in sizes of type."""

GOES_ON = ", continued"


@dataclass(frozen=True)
class PageTable:
    """A table of figures that can be set as narrow and as short as it must be.

    Attributes
    ----------
    name, title : str
        What it is, and its heading.
    heads : tuple of tuple of str
        Lines of each column's head, its unit last.
    texts : int
        How many of the first columns hold words; the very first gives way when the table is narrow.
    cells : tuple of tuple of str
        Rows of text.
    one, many : str
        What a row is called.
    see : str
        Where rows are found that have no room.
    columns : tuple of str
        Keys of the catalogue, of figures that are in it.
    foot : tuple of str
        Cells of a last row that is never left out, such as sums.
    """

    name: str
    title: str
    heads: tuple[tuple[str, ...], ...]
    texts: int
    cells: tuple[tuple[str, ...], ...]
    one: str
    many: str
    see: str
    columns: tuple[str, ...] = ()
    foot: tuple[str, ...] = ()

    def box(self, type_: Type, width: float, height: float) -> Box:
        """Return the table set in a room; rows that find no room are counted below.

        Parameters
        ----------
        type_ : Type
            Sizes of type.
        width : float
            How wide it is. [mm]
        height : float
            How high it may be; at least its head and a few rows are set. [mm]
        """
        letter, step = type_.body, type_.body.size_mm * ROW_STEP
        widths = self._widths(type_, width)
        deep = self._deep
        items: list[Item] = [Text(0, type_.heading.size_mm, self.title, type_.heading)]
        y = type_.heading.size_mm * 1.6
        ends = [sum(widths[: place + 1]) for place in range(len(widths))]
        small = type_.style(6.2, faint=True)
        for place, head in enumerate(self.heads):
            for row, word in enumerate([""] * (deep - len(head)) + [*head]):
                at = y + (row + 1) * small.size_mm * 1.08
                left = place < self.texts
                items.append(
                    Text(
                        0.0 if place == 0 else ends[place - 1] + _GAP if left else ends[place],
                        at,
                        word,
                        small,
                        "left" if left else "right",
                    )
                )
        y += deep * small.size_mm * 1.08 + 0.9 * type_.times
        items.append(_rule(0, y, width, type_, 0.25))
        rows, left_out = self.cells, self._left_out(type_, height)
        for cells in rows[: len(rows) - left_out]:
            items += self._row(cells, y + step * 0.75, widths, ends, letter, type_)
            y += step
        items.append(_rule(0, y + 0.15 * step, width, type_, 0.12))
        if self.foot:
            items += self._row(self.foot, y + step * 0.9, widths, ends, self._foot_letter(type_), type_)
            y += step * 1.15
            items.append(_rule(0, y + 0.15 * step, width, type_, 0.12))
        y += 0.3 * step
        if left_out:
            for line in self._more(left_out, type_, width):
                items.append(Text(0, y + small.size_mm, line, small))
                y += small.size_mm * LINE_SPACING
        return Box(
            self.name, 0, 0, width, y, tuple(item for item in items if not (isinstance(item, Text) and not item.text))
        )

    def height(self, type_: Type, width: float, height: float) -> float:
        """Return how high the table would be in a room, without setting it. [mm]."""
        step, small = type_.body.size_mm * ROW_STEP, type_.style(6.2, faint=True)
        left_out = self._left_out(type_, height)
        rows = len(self.cells) - left_out + (1.15 if self.foot else 0.0) + 0.3
        more = len(self._more(left_out, type_, width)) if left_out else 0
        return self._head_mm(type_) + rows * step + more * small.size_mm * LINE_SPACING

    @property
    def _deep(self) -> int:
        return max(len(head) for head in self.heads)

    def _head_mm(self, type_: Type) -> float:
        """Height of its title and the heads of its columns. [mm]."""
        lines = self._deep * type_.style(6.2, faint=True).size_mm * 1.08
        return type_.heading.size_mm * 1.6 + lines + 0.9 * type_.times

    def _left_out(self, type_: Type, height: float) -> int:
        """How many rows have no room."""
        step = type_.body.size_mm * ROW_STEP
        fit = int((height - self._head_mm(type_) - 0.3) / step - (1.15 if self.foot else 0.0))
        return max(len(self.cells) - max(fit - 1, LEAST_ROWS), 0) if fit < len(self.cells) else 0

    def _more(self, left_out: int, type_: Type, width: float) -> list[str]:
        what = self.one if left_out == 1 else self.many
        return wrapped(f"and {left_out} more {what}: see {self.see}", type_.style(6.2, faint=True), width, type_.width)

    def rows(self, first: int, last: int) -> PageTable:
        """Return some of its rows as a table of their own; those after the first say that they go on."""
        title = self.title if not first or self.title.endswith(GOES_ON) else f"{self.title}{GOES_ON}"
        foot = self.foot if last >= len(self.cells) else ()
        return replace(self, title=title, cells=self.cells[first:last], foot=foot)

    def fitting_rows(self, type_: Type, width: float, height: float) -> int:
        """Return how many of its rows, but not its last row of sums, have room. [mm]."""
        head = replace(self, cells=(), foot=()).box(type_, width, height).height
        return max(int((height - head) / (type_.body.size_mm * ROW_STEP) + 1e-6), 0)

    def narrow(self, type_: Type, width: float) -> tuple[PageTable, ...]:
        """Return it as several tables, each with some of its columns, where it is too wide for a room. [mm]."""
        wide = [self._column_width(place, type_) + _GAP for place in range(1, len(self.heads))]
        if min(self._column_width(0, type_), 0.3 * width) + sum(wide) <= width:
            return (self,)
        named = min(self._column_width(0, type_), 0.5 * width)
        groups: list[list[int]] = [[]]
        for place, one in enumerate(wide, 1):
            if groups[-1] and named + sum(wide[other - 1] for other in groups[-1]) + one > width:
                groups.append([])
            groups[-1].append(place)
        return tuple(self._of_columns((0, *group), more=group is not groups[0]) for group in groups)

    def _of_columns(self, places: tuple[int, ...], *, more: bool) -> PageTable:
        return replace(
            self,
            title=f"{self.title}{GOES_ON}" if more else self.title,
            heads=tuple(self.heads[place] for place in places),
            texts=sum(place < self.texts for place in places),
            cells=tuple(tuple(row[place] for place in places) for row in self.cells),
            foot=tuple(self.foot[place] for place in places) if self.foot else (),
        )

    def least_width(self, type_: Type) -> float:
        """Return the width at which even the shortest names still have room. [mm]."""
        return LEAST_NAME_MM + sum(self._column_width(place, type_) + _GAP for place in range(1, len(self.heads)))

    def natural_width(self, type_: Type, most_name: float) -> float:
        """Width at which nothing is cut, but names no wider than given. [mm]."""
        numbers = sum(self._column_width(place, type_) for place in range(1, len(self.heads)))
        return numbers + _GAP * (len(self.heads) - 1) + min(self._column_width(0, type_), most_name)

    def least_height(self, type_: Type) -> float:
        """Height of the head and the fewest rows. [mm]."""
        return self.box(type_, 1000.0, 0.0).height

    def _foot_letter(self, type_: Type) -> TextStyle:
        return type_.style(6.6, "semibold")

    def _column_width(self, place: int, type_: Type) -> float:
        """Natural width of a column, found out once for each size of type. [mm]."""
        known = self._widths_known.setdefault(id(type_), (type_, {}))[1]
        if place not in known:
            known[place] = self._measured(place, type_)
        return known[place]

    @cached_property
    def _widths_known(self) -> dict[int, tuple[Type, dict[int, float]]]:
        return {}

    def _measured(self, place: int, type_: Type) -> float:
        small = type_.style(6.2, faint=True)
        head = max(type_.width(word, small) for word in self.heads[place])
        foot = [type_.width(self.foot[place], self._foot_letter(type_))] if self.foot else []
        return max([head, *foot, *(type_.width(row[place], type_.body) for row in self.cells)])

    def _widths(self, type_: Type, width: float) -> list[float]:
        """Room of each column, the gap before it included; names, then the last column of words, take what is left."""
        others = [self._column_width(place, type_) + _GAP for place in range(1, len(self.heads))]
        spare = width - sum(others)
        if spare < LEAST_NAME_MM and self.texts > 1:
            others[self.texts - 2] = max(others[self.texts - 2] - (LEAST_NAME_MM - spare), LEAST_NAME_MM)
        name = min(max(spare, LEAST_NAME_MM), max(self._column_width(0, type_), LEAST_NAME_MM))
        extra = max(width - sum(others) - name, 0.0) / max(len(others), 1)
        return [name, *(other + extra for other in others)]

    def _row(
        self, row: tuple[str, ...], y: float, widths: list[float], ends: list[float], letter: TextStyle, type_: Type
    ) -> list[Item]:
        items: list[Item] = [Text(0, y, elided(row[0], letter, widths[0], type_.width), letter)]
        for place in range(1, len(row)):
            if place < self.texts:
                words = elided(row[place], letter, widths[place] - _GAP + 1e-6, type_.width)
                items.append(Text(ends[place - 1] + _GAP, y, words, letter))
            else:
                items.append(Text(ends[place], y, row[place], letter, "right"))
        return items


_GAP = 1.8
LEAST_NAME_MM = 8.0
"""Room that a column of names has at least. [mm]"""


def _rule(x: float, y: float, width: float, type_: Type, line_mm: float) -> Shape:
    return Shape(((x, y), (x + width, y)), line=type_.theme.ink, line_mm=line_mm)


def block_table(figures: FigureTable, breast_height_m: float) -> PageTable:
    """Return the table of blocks, which says at what height diameters were taken, and which blocks are sampled."""
    title = f"Blocks, diameters at {breast_height_m:.1f} m"
    is_sampled = any(str(row.get("counted") or MAPPED).partition(",")[0] != MAPPED for row in figures.rows)
    columns = (BLOCK_COLUMNS[0], "counted", *BLOCK_COLUMNS[1:]) if is_sampled else BLOCK_COLUMNS
    return _table("blocks", title, figures, columns, "block", "blocks")


def margin_table(figures: FigureTable) -> PageTable:
    """Return the table of creek margins."""
    return _table("margins", "Creek margins", figures, MARGIN_COLUMNS, "margin", "margins")


def _table(name: str, title: str, figures: FigureTable, columns: tuple[str, ...], one: str, many: str) -> PageTable:
    cells = zip(*([shown(column, value) for value in figures.column(column)] for column in columns), strict=True)
    known = [CATALOGUE[column] for column in columns]
    return PageTable(
        name,
        title,
        tuple((*figure.heading.split(), figure.unit) for figure in known),
        sum(figure.places is None for figure in known),
        tuple(tuple(row) for row in cells),
        one,
        many,
        f"farmmap figures --of {name}",
        columns,
    )
