"""How a table of a farm and its columns are described."""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a column holds, and how it is kept in memory and in the file."""

    TEXT = "text"  # str, "" when not given
    WHOLE = "whole"  # int64
    NUMBER = "number"  # float64, nan when not known
    DAY = "day"  # datetime64[s] at midnight, NaT when not known
    WHEN = "when"  # "" or ISO 8601 with what is known: 2004, 2004-07 or 2004-07-15


class Geometry(StrEnum):
    """The kind of shape a table's rows have."""

    POLYGON = "polygon"
    LINE = "line"
    POINT = "point"
    ANY = "any"


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
        Name in the file, in memory and in CSV; ends in the unit where there is one.
    kind : Kind
        What it holds.
    words : str
        What it is, for people.
    unit : str
        Unit of a number, "" if none.
    allowed : tuple of str
        The only values a text column may hold; empty if anything goes.
    default : str, int or float or None
        Value of a row that does not give one; None: nothing known.
    least, most : float or None
        Smallest and largest believable value of a number.
    needed : bool
        A row without it is refused.
    points_to : str
        Table whose ``id`` this column holds, "" if none.
    also : tuple of str
        Other headings under which a table from elsewhere may carry it (lower case).
    by_program : bool
        It is filled in by farmmap alone, and no form asks for it.
    """

    name: str
    kind: Kind
    words: str
    unit: str = ""
    allowed: tuple[str, ...] = ()
    default: str | int | float | None = None
    least: float | None = None
    most: float | None = None
    needed: bool = False
    points_to: str = ""
    also: tuple[str, ...] = ()
    by_program: bool = False


@dataclass(frozen=True)
class Table:
    """One table of a farm: its columns and the kind of shape its rows have.

    Every table also has ``id`` (int64, unique, the index in memory and the
    primary key in the file). Point tables keep ``x`` and ``y`` (float64, grid
    metres) in memory; other tables with a shape keep ``geometry``.
    """

    name: str
    words: str
    one: str
    geometry: Geometry | None
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """Return the column of that name.

        Raises
        ------
        KeyError
            The table has no such column.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"{self.name} has no column {name}")

    @property
    def column_names(self) -> tuple[str, ...]:
        """Names of all columns, without id and shape."""
        return tuple(column.name for column in self.columns)
