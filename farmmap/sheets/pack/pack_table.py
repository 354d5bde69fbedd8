"""A table of the pack: as it is printed, and as it is written for those who want the data."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import FigureTable, shown
from farmmap.scene.page_flow import Flowing, Stays
from farmmap.scene.page_flow_table import Row, Table
from farmmap.scene.page_flow_text import Bullets

THIN = "\u202f"
"""Parts the thousands, as everywhere on a page."""

DASH = "–"
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3})")


@dataclass(frozen=True)
class Column:
    """A column.

    Attributes
    ----------
    key : str
        Its name in files, which ends in the unit where there is one.
    head : tuple of str
        Lines of its head, the unit last.
    words : bool
        Whether it holds words.
    about : str
        What it is, for those who read the files.
    close : bool
        Whether it stands close to the column before, as a unit does to its number.
    """

    key: str
    head: tuple[str, ...]
    words: bool = False
    about: str = ""
    close: bool = False


@dataclass(frozen=True)
class PackTable:
    """A table.

    Attributes
    ----------
    key, title : str
        Its name in files, and in words.
    columns : tuple of Column
        Its columns.
    rows : tuple of tuple
        As they are written to files.
    cells : tuple of tuple of str
        The same rows as they are printed.
    foot : tuple of str
        A last row of sums as it is printed; empty for none.
    notes : tuple of str
        What is said below it.
    begins : frozenset of int
        Rows with which a new group begins.
    written_on : bool
        Whether it is to be filled in by hand.
    boxes : bool
        Whether each row has a box to tick.
    heads : tuple of Column
        Columns as they are printed, where they differ from those in files.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[object, ...], ...]
    cells: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    begins: frozenset[int] = frozenset()
    written_on: bool = False
    boxes: bool = False
    heads: tuple[Column, ...] = ()

    def __bool__(self) -> bool:
        """Whether it has a row."""
        return bool(self.cells)

    def printed(self) -> tuple[Flowing, ...]:
        """Return it, and its notes, as they flow down pages."""
        rows = [Row(cells, ruled=place in self.begins) for place, cells in enumerate(self.cells)]
        rows += [Row(self.foot, strong=True)] if self.foot else []
        columns = self.heads or self.columns
        words = frozenset(place for place, column in enumerate(columns) if column.words)
        heads = tuple(column.head for column in columns)
        close = frozenset(place for place, column in enumerate(columns) if column.close)
        table = Table(self.title, heads, words, tuple(rows), self.written_on, self.boxes, close)
        return (Stays(table), Bullets(self.notes, note=True)) if self.notes else (table,)


def figure_table(
    key: str, title: str, figures: FigureTable, columns: Sequence[str], notes: tuple[str, ...] = ()
) -> PackTable:
    """Return some columns of a table of figures, printed as everywhere else.

    Parameters
    ----------
    key, title : str
        Its name in files, and in words.
    figures : FigureTable
        The figures.
    columns : sequence of str
        Keys of the catalogue.
    notes : tuple of str
        What is said below it.
    """
    values = tuple(zip(*(figures.column(name) for name in columns), strict=True))
    cells = tuple(tuple(shown(name, value) for name, value in zip(columns, row, strict=True)) for row in values)
    return PackTable(key, title, tuple(map(figure_column, columns)), values, cells, notes=notes)


def figure_column(name: str) -> Column:
    """Return the column of a figure of the catalogue."""
    figure = CATALOGUE[name]
    head = tuple(part for part in (*figure.heading.split(), figure.unit) if part)
    return Column(name, head, figure.places is None, figure.title)


def whole(number: float) -> str:
    """Return a whole number as it is printed."""
    return f"{number:,.0f}".replace(",", THIN)


def thin(text: str) -> str:
    """Return a number as a command writes it with the thousands parted as on a page."""
    return _THOUSANDS.sub(THIN, text)
