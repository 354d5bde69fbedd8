"""Tables of figures on a page."""

from __future__ import annotations

from dataclasses import dataclass

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown
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
        letter, step = type_.body, type_.body.size_mm * 1.36
        widths = self._widths(type_, width)
        deep = max(len(head) for head in self.heads)
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
        rows = self.cells
        fit = int((height - y - 0.3) / step - (1.15 if self.foot else 0.0))
        left_out = 0
        if fit < len(rows):
            fit = max(fit - 1, LEAST_ROWS)
            left_out = max(len(rows) - fit, 0)
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
            what = self.one if left_out == 1 else self.many
            words = f"and {left_out} more {what}: see {self.see}"
            for line in wrapped(words, small, width, type_.width):
                items.append(Text(0, y + small.size_mm, line, small))
                y += small.size_mm * LINE_SPACING
        return Box(
            self.name, 0, 0, width, y, tuple(item for item in items if not (isinstance(item, Text) and not item.text))
        )

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
    is_sampled = "counted" in figures.brief
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
