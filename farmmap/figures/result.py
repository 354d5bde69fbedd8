"""A table of figures: what every panel, sheet and command shows, and how it is written as text, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, overload

import numpy as np

from farmmap.figures.catalogue import CATALOGUE

READ_OFF = frozenset({"dbh_cm", "height_m", "crown_m", "pruned_m", "dos_cm"})
"""Columns that hold what a tape said; in JSON they lose the noise that a change of units leaves behind."""

READ_OFF_PLACES = 9

EMPTY = "–"
"""What stands in a text table where nothing is known."""


class ColumnRows(Sequence[Mapping[str, object]]):
    """Rows kept as columns, so that a million of them do not take a million dicts.

    Parameters
    ----------
    columns : mapping of str to list or ndarray
        Values by key, all of the same length; nan and NaT become None, days their ISO text.
    """

    def __init__(self, columns: Mapping[str, Any]) -> None:
        self._columns = {name: plain_list(values) for name, values in columns.items()}
        self._length = len(next(iter(self._columns.values()), []))

    def __len__(self) -> int:
        return self._length

    @overload
    def __getitem__(self, place: int) -> Mapping[str, object]: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Mapping[str, object]]: ...
    def __getitem__(self, place: int | slice) -> Mapping[str, object] | Sequence[Mapping[str, object]]:
        if isinstance(place, slice):
            return ColumnRows({name: values[place] for name, values in self._columns.items()})
        return {name: values[place] for name, values in self._columns.items()}

    def __iter__(self) -> Iterator[Mapping[str, object]]:
        names = tuple(self._columns)
        for values in zip(*self._columns.values(), strict=True):
            yield dict(zip(names, values, strict=True))

    def column(self, name: str) -> list[object]:
        """Values of one key."""
        return self._columns[name]


@dataclass(frozen=True, eq=False)
class FigureTable:
    """Figures, a row for each block, margin, tree or farm.

    Attributes
    ----------
    name : str
        Short name, such as ``blocks``.
    title : str
        What it shows, in words.
    columns : tuple of str
        Keys of `farmmap.figures.catalogue.CATALOGUE` that hold one value a row, in the order of display.
    rows : sequence of mapping
        str, int, float or None by key; may hold further keys, some of them lists of mappings (``species``).
    ids : tuple of int
        Id of the feature that each row stands for; a margin's place in the list of margins.
    notes : tuple of str
        What holds for the figures, to be printed beside them.
    brief : tuple of str
        Columns that a narrow table shows; all of them if empty.
    """

    name: str
    title: str
    columns: tuple[str, ...]
    rows: Sequence[Mapping[str, object]]
    ids: Sequence[int]
    notes: tuple[str, ...] = ()
    brief: tuple[str, ...] = ()

    def column(self, name: str) -> list[object]:
        """Values of one key, a row each."""
        if isinstance(self.rows, ColumnRows):
            return self.rows.column(name)
        return [row.get(name) for row in self.rows]

    def row_of(self, feature: int) -> Mapping[str, object] | None:
        """Return the row that stands for the feature of that id, or None."""
        try:
            return self.rows[list(self.ids).index(feature)]
        except ValueError:
            return None

    def as_text(self) -> str:
        """Return an aligned table with units in its head and the notes below it."""
        names = self.brief or self.columns
        heads = [(CATALOGUE[name].heading, CATALOGUE[name].unit) for name in names]
        body = [[shown(name, value) for value in self.column(name)] for name in names]
        lines = [self.title, ""]
        if self.rows:
            wide = [max(map(len, [*head, *cells])) for head, cells in zip(heads, body, strict=True)]
            right = [CATALOGUE[name].places is not None for name in names]
            table = [*zip(*heads, strict=True), tuple("-" * width for width in wide), *zip(*body, strict=True)]
            lines += [
                "  ".join(_padded(*cell) for cell in zip(row, wide, right, strict=True)).rstrip() for row in table
            ]
        else:
            lines.append("Nothing to show yet.")
        if self.notes:
            lines += ["", *self.notes]
        return "\n".join(lines) + "\n"

    def as_csv(self) -> str:
        """Return the columns as CSV (RFC 4180), numbers to six decimals."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(self.columns)
        writer.writerows(zip(*[_for_csv(self.column(name)) for name in self.columns], strict=True))
        return out.getvalue()

    def as_json(self) -> str:
        """Return the rows as a JSON list of objects (RFC 8259): readings as read, what was worked out in full."""
        return json.dumps([_for_json(row) for row in self.rows], ensure_ascii=False, indent=1, allow_nan=False)


def shown(name: str, value: object) -> str:
    """Return a value of the catalogue's column ``name`` as people read it."""
    if value is None or value == "" or (isinstance(value, float) and not math.isfinite(value)):
        return EMPTY
    places = CATALOGUE[name].places if name in CATALOGUE else None
    if isinstance(value, int | float) and places is not None:
        return f"{value:.{places}f}"
    return str(value)


def plain_list(values: Any) -> list[object]:
    """Return values as a list of str, int, float or None: nan becomes None, a day its ISO text."""
    array = values if isinstance(values, list) else np.asarray(values)
    if isinstance(array, list):
        return [None if isinstance(v, float) and math.isnan(v) else v for v in array]
    if array.dtype.kind == "f":
        out = array.astype(object)
        out[~np.isfinite(array)] = None
        return out.tolist()
    if array.dtype.kind == "M":
        out = np.datetime_as_string(array, unit="D").astype(object)
        out[np.isnat(array)] = None
        return out.tolist()
    return array.tolist()


def _padded(text: str, width: int, right: bool) -> str:
    return text.rjust(width) if right else text.ljust(width)


def _for_csv(values: list[object]) -> list[object]:
    """Numbers to six decimals, more than any tape gives, with no tail of noughts."""
    return [f"{value:.6f}".rstrip("0").rstrip(".") if isinstance(value, float) else value for value in values]


def _for_json(value: object, name: object = "") -> object:
    if isinstance(value, Mapping):
        return {key: _for_json(held, key) for key, held in value.items()}
    if isinstance(value, list | tuple):
        return [_for_json(held) for held in value]
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return round(value, READ_OFF_PLACES) if name in READ_OFF else value
    return value
