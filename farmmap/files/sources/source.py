"""What every reader hands on: rows as they stand in the file, with their numbers and shapes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from farmmap.errors import BadInput


@dataclass(frozen=True)
class BadRow:
    """A row that did not come in.

    Attributes
    ----------
    row_number : int
        Where it stands in the source, as a spreadsheet counts: the heading of
        a CSV is row 1. In other files, the number of the feature, from 1.
    reason : str
        Why, in words.
    raw : mapping of str to str
        The row as it was.
    """

    row_number: int
    reason: str
    raw: Mapping[str, str]


@dataclass(frozen=True, eq=False)
class Source:
    """A file that was read, before anything was made of it.

    Attributes
    ----------
    path : Path
        The file.
    kind : str
        ``CSV``, ``GeoJSON``, ``GPX``, ``KML`` or ``GeoPackage``.
    rows : DataFrame
        A column for each of theirs, text as written; numbers and days where the file has them as such.
    row_numbers : ndarray of int64, shape (n,)
        Where each row stands in the file.
    geometry : ndarray of object, shape (n,), or None
        Shapely geometries (None for a row without); None if the file has no shapes.
    epsg : int or None
        The grid that the file declares, or that its standard fixes.
    by_standard : bool
        The grid is the one of the standard; the file itself says nothing.
    layer : str
        Name of the layer, "" if the file has but one.
    separator : str
        What stands between the fields of a CSV.
    decimal_comma : bool
        Numbers are written 1,5.
    bad : tuple of BadRow
        Rows that the reader could make nothing of.
    said : tuple of str
        What the reader took for granted.
    """

    path: Path
    kind: str
    rows: pd.DataFrame
    row_numbers: np.ndarray
    geometry: np.ndarray | None = None
    epsg: int | None = None
    by_standard: bool = False
    layer: str = ""
    separator: str = ","
    decimal_comma: bool = False
    bad: tuple[BadRow, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def read(self) -> int:
        """How many rows the file holds, good and bad."""
        return len(self.rows) + len(self.bad)

    def column(self, name: str, most: int | None = None) -> pd.Series:
        """Return one column, or its first ``most`` rows."""
        column = self.rows[name]
        assert isinstance(column, pd.Series)
        return column if most is None else column.head(most)

    def raw(self, positions: Sequence[int]) -> list[dict[str, str]]:
        """Return rows as text, their shape as ``wkt`` with the ``grid`` it is on."""
        rows = self.rows.take(list(positions))
        columns: dict[str, list[str]] = {
            str(name): ["" if value is None or value != value else str(value) for value in rows[name].tolist()]  # noqa: PLR0124
            for name in rows.columns
        }
        if self.geometry is not None:
            shapes: list[BaseGeometry | None] = self.geometry[list(positions)].tolist()
            columns["wkt"] = ["" if s is None else str(shapely.to_wkt(s, rounding_precision=-1)) for s in shapes]
            columns["grid"] = ["" if self.epsg is None else f"EPSG:{self.epsg}"] * len(shapes)
        if not columns:
            return [{} for _ in positions]
        return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def table_of(records: list[dict[str, str]]) -> pd.DataFrame:
    """Return text columns from records that need not all have the same keys, in order of first appearance."""
    names = dict.fromkeys(name for record in records for name in record)
    return pd.DataFrame(
        {name: pd.array([record.get(name, "") for record in records], dtype="str") for name in names},
        index=range(len(records)),
    )


def numbers_from_one(count: int) -> np.ndarray:
    """Return 1, 2 ... ``count``."""
    return np.arange(1, count + 1, dtype=np.int64)


def shapes_array(shapes: Sequence[BaseGeometry | None]) -> np.ndarray:
    """Return shapes as an array of objects, which numpy would else try to take apart."""
    out = np.empty(len(shapes), object)
    out[:] = list(shapes)
    return out


def content_of(path: Path) -> bytes:
    """Return what is in the file.

    Raises
    ------
    BadInput
        It is not there, is a folder, may not be read, or is empty.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise BadInput(f"{path}: there is no such file") from error
    except IsADirectoryError as error:
        raise BadInput(f"{path} is a folder; name the file in it") from error
    except OSError as error:
        raise BadInput(f"{path} cannot be read: {error.strerror}") from error
    if not content.strip(b"\0\r\n\t \xef\xbb\xbf"):
        raise BadInput(f"{path.name} is empty")
    return content
