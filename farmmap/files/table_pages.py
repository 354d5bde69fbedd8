"""Tables of trees and measurements straight from the pages of a farm file, many rows at once.

SQLite hands out one value after another, which takes most of the time that
opening a large farm takes. The pages that hold a table's rows are laid out in
a published way that does not change, so NumPy takes each column out of
thousands of rows at once. Only what farmmap itself writes is read like this:
at anything else nothing is returned, and SQLite is asked instead.

Source: "Database File Format", sqlite.org/fileformat2.html: 1.3 (header), 1.6
(b-tree pages), 2.1 (records).
"""

from __future__ import annotations

import io
import os
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from farmmap.farm.schema import Geometry, Kind, Table
from farmmap.files.geopackage import POINT_BLOB, are_plain, quoted
from farmmap.files.rows import GEOMETRY, SQL_KINDS

PAGES_AT_ONCE = 256
"""Pages of rows taken apart together: few enough for the processor's own memory, enough to be worth a thread."""

MOST_THREADS = 4

_HEADER = 100
_LEAF, _INTERIOR = 13, 5
_NULL, _REAL, _ZERO, _ONE, _FIRST_BLOB, _FIRST_TEXT = 0, 7, 8, 9, 12, 13
_INT_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
_LONGEST_WINDOW = 32

_BYTES = np.arange(128, dtype=np.int64)
_BYTES = np.where(_BYTES < _FIRST_BLOB, 0, (_BYTES - _FIRST_BLOB) // 2)
_BYTES[[*_INT_BYTES, _REAL]] = [*_INT_BYTES.values(), 8]

_Bytes = NDArray[np.uint8]
_Whole = NDArray[np.int64]


class _Otherwise(Exception):
    """Something is not as farmmap writes it."""


def _must(holds: object) -> None:
    if not holds:
        raise _Otherwise


@dataclass(frozen=True)
class _Layout:
    """Where a table's rows lie, and what each column of theirs holds, in their order."""

    page_bytes: int
    usable_bytes: int
    root: int
    names: tuple[str, ...]
    kinds: tuple[Kind | Geometry | None, ...]


def read_pages(connection: sqlite3.Connection, path: Path, table: Table) -> tuple[_Whole, dict[str, Any]] | None:
    """Read a table without shapes, or of points, from the pages of its file.

    Parameters
    ----------
    connection : sqlite3.Connection
        Open on the farm file; it keeps writers out meanwhile.
    path : Path
        The farm file. No other thread of this process may read or write it (`farmmap.files.turns`).
    table : Table
        Which table.

    Returns
    -------
    tuple of ids, ndarray of int64, and columns by name, or None
        In rising order of id; points as ``x`` and ``y``. None if there is anything that farmmap writes otherwise.

    Raises
    ------
    OSError, sqlite3.Error
        The file cannot be read.
    """
    if table.geometry not in (None, Geometry.POINT):
        return None
    with path.open("rb", buffering=0) as file:  # closing it drops the locks of this process, so not before the end
        connection.execute("BEGIN")
        try:
            ids, values = _read(file, _layout(connection, file, table))
        except (_Otherwise, IndexError, pa.ArrowInvalid):  # places outside of the page, or bytes that are no text
            return None
        finally:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
    return (ids, values) if (ids[1:] > ids[:-1]).all() else None


def _layout(connection: sqlite3.Connection, file: io.RawIOBase, table: Table) -> _Layout:
    found = connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE type = 'table' AND name = ?", (table.name,)
    ).fetchall()  # from here to the end of the transaction nobody else writes
    head = file.read(_HEADER)
    page_bytes = int.from_bytes(head[16:18], "big")
    page_bytes = 65_536 if page_bytes == 1 else page_bytes
    is_rollback, is_utf8 = head[18:20] == b"\x01\x01", int.from_bytes(head[56:60], "big") == 1
    _must(len(found) == 1 and len(head) == _HEADER and is_rollback and is_utf8 and page_bytes >= 512)
    keys = connection.execute(f"PRAGMA index_list({quoted(table.name)})").fetchall()
    _must(all(key[3] != "pk" for key in keys))  # else the id is no row number
    wanted: dict[str, tuple[str, Kind | Geometry | None]] = {"id": ("INTEGER", None)}
    if table.geometry:
        wanted[GEOMETRY] = (table.geometry.name, table.geometry)
    wanted |= {column.name: (SQL_KINDS[column.kind], column.kind) for column in table.columns}
    columns = connection.execute(f"PRAGMA table_xinfo({quoted(table.name)})").fetchall()
    there = {name: kind for _, name, kind, *_ in columns}
    _must(there == {name: kind for name, (kind, _) in wanted.items()})
    _must(all(default is None for _, _, _, _, default, *_ in columns))  # what a row written before a column came holds
    _must(all(hidden == 0 and key == (name == "id") for _, name, _, _, _, key, hidden in columns))
    names = tuple(str(name) for _, name, *_ in columns)
    return _Layout(page_bytes, page_bytes - head[20], found[0][0], names, tuple(wanted[name][1] for name in names))


def _read(file: io.RawIOBase, layout: _Layout) -> tuple[_Whole, dict[str, Any]]:
    leaves, reading = _leaves(file, layout), threading.Lock()

    def rows(numbers: _Whole) -> tuple[_Whole, dict[str, Any]]:
        with reading:
            flat = _pages(file, layout, numbers)
        return _rows(flat, layout)

    chunks = [leaves[at : at + PAGES_AT_ONCE] for at in range(0, len(leaves), PAGES_AT_ONCE)]
    with ThreadPoolExecutor(min(MOST_THREADS, os.cpu_count() or 1)) as threads:
        parts = [rows(leaves)] if len(chunks) == 1 else list(threads.map(rows, chunks))
    ids = np.concatenate([of_part for of_part, _ in parts])
    values: dict[str, Any] = {}
    for name in parts[0][1]:
        columns = [of_part[name] for _, of_part in parts]
        is_text = isinstance(columns[0], pa.Array)
        values[name] = pa.chunked_array(columns) if is_text else np.concatenate(columns)
    return ids, values


def _leaves(file: io.RawIOBase, layout: _Layout) -> _Whole:
    """Return the numbers of the pages that hold the rows, in rising order of id."""
    level = np.array([layout.root], np.int64)
    most = file.seek(0, os.SEEK_END) // layout.page_bytes
    for _ in range(20):  # a table as deep as this would be larger than SQLite allows
        first = _pages(file, layout, level[:1])
        if first[0] != _INTERIOR:
            return level
        flat = _pages(file, layout, level)
        starts = np.arange(len(level)) * layout.page_bytes
        _must((flat[starts] == _INTERIOR).all())
        counts = _big_endian(flat, starts + 3, 2)
        ends = np.cumsum(counts + 1)
        below = np.empty(ends[-1], np.int64)
        below[ends - 1] = _big_endian(flat, starts + 8, 4)
        inner = np.ones(len(below), bool)
        inner[ends - 1] = False
        cells = _cells(flat, starts, counts, 12)
        _must((cells % layout.page_bytes + 4 <= layout.usable_bytes).all())
        below[inner] = _big_endian(flat, cells, 4)
        _must(len(below) <= most and len(np.unique(below)) == len(below))
        level = below
    raise _Otherwise


def _pages(file: io.RawIOBase, layout: _Layout, numbers: _Whole) -> _Bytes:
    """Read pages, one after another in memory, with room behind them for looking at a row's end in a window."""
    size = layout.page_bytes
    flat = np.zeros(len(numbers) * size + _LONGEST_WINDOW, np.uint8)
    _must((numbers >= 1).all())
    breaks = np.flatnonzero(np.diff(numbers) != 1) + 1
    for low, high in zip([0, *breaks.tolist()], [*breaks.tolist(), len(numbers)], strict=True):
        file.seek((int(numbers[low]) - 1) * size)
        _must(file.readinto(flat[low * size : high * size].data) == (high - low) * size)
    return flat


def _cells(flat: _Bytes, starts: _Whole, counts: _Whole, head: int) -> _Whole:
    """Return where the cells of pages begin."""
    page = np.repeat(starts, counts)
    place = np.arange(len(page)) - np.repeat(np.cumsum(counts) - counts, counts)
    size = (len(flat) - _LONGEST_WINDOW) // max(1, len(starts))
    _must((counts * 2 + head <= size).all())
    return page + _big_endian(flat, page + (head + 2 * place), 2)


def _rows(flat: _Bytes, layout: _Layout) -> tuple[_Whole, dict[str, Any]]:
    """Take the rows of pages apart."""
    starts = np.arange(0, len(flat) - _LONGEST_WINDOW, layout.page_bytes)
    _must((flat[starts] == _LEAF).all())
    counts = _big_endian(flat, starts + 3, 2)
    cells = _cells(flat, starts, counts, 8)
    payload, at = _numbers(flat, cells)
    ids, at = _numbers(flat, at)
    _must((payload <= layout.usable_bytes - 35).all())  # else some of it lies on other pages
    _must((at + payload <= np.repeat(starts + layout.usable_bytes, counts)).all())
    fields = list(_fields(flat, at, len(layout.names)))
    _must((fields[-1].begins + fields[-1].bytes == at + payload).all())
    values: dict[str, Any] = {}
    for name, kind, field in zip(layout.names, layout.kinds, fields, strict=True):
        if kind is None:
            _must(field.are(_NULL))
        elif isinstance(kind, Geometry):  # a point
            _must(field.are(_FIRST_BLOB + 2 * POINT_BLOB.itemsize))
            values["x"], values["y"] = _points(_window(flat, field.begins, POINT_BLOB.itemsize))
        else:
            values[name] = _column(flat, field, kind)
    return ids, values


@dataclass(frozen=True, eq=False)
class _Field:
    """One value of each row: what it is, where it begins, and how long it is; one number where that is all the same."""

    types: NDArray[np.integer[Any]]
    begins: _Whole
    bytes: _Whole | int
    only: int | None
    """What all of them are, if they are known to be the same."""

    def are(self, kind: int) -> bool:
        """Whether all of them are of a kind."""
        return self.only == kind if self.only is not None else bool((self.types == kind).all())

    def are_at_most(self, kind: int) -> bool:
        """Whether none of them is of a higher kind."""
        return self.only <= kind if self.only is not None else bool((self.types <= kind).all())


def _fields(flat: _Bytes, at: _Whole, count: int) -> Iterator[_Field]:
    """Yield each value of rows whose heads stand at ``at``.

    A row that was written before the last columns came has none of them in its head, and NULL in them.
    """
    heads = flat[at].astype(np.int64)
    _must((heads < 128).all())
    begins, place = at + heads, at + 1
    short: _Bytes | None = None
    alike = np.zeros(count, bool)
    if (heads <= count + 1).all() and count <= _LONGEST_WINDOW:
        short = np.ascontiguousarray(_window(flat, place, count).T)
        if heads.min(initial=count + 1) <= count:
            short[np.arange(count)[:, np.newaxis] >= heads - 1] = _NULL
        short = short if not len(at) or short.max() < 128 else None
    if short is not None and len(at):
        alike = (short == short[:, :1]).all(axis=1)
    for column in range(count):
        types: NDArray[np.integer[Any]]
        size: _Whole | int
        if short is not None:
            types = short[column]
            only = int(types[0]) if alike[column] else None
            size = _BYTES.take(types) if only is None else int(_BYTES[only])
        else:
            only, (types, after) = None, _numbers(flat, place)
            is_there = place < at + heads
            types, place = np.where(is_there, types, _NULL), np.where(is_there, after, place)
            _must(((types >= 0) & (types < 1 << 31)).all())
            size = np.where(types < 128, _BYTES.take(types, mode="clip"), (types - _FIRST_BLOB) // 2)
        yield _Field(types, begins, size, only)
        begins = begins if isinstance(size, int) and not size else begins + size
    _must(short is not None or (place == at + heads).all())


def _numbers(flat: _Bytes, at: _Whole) -> tuple[_Whole, _Whole]:
    """Return the numbers of up to nine bytes that stand there (varints), and where they end."""
    byte = flat[at]
    value, end = (byte & 127).astype(np.int64), at + 1
    rest = np.flatnonzero(byte > 127)
    for place in range(2, 10):
        if not len(rest):
            break
        byte = flat[end[rest]]
        if place == 9:  # the last one gives all of its bits
            value[rest] = value[rest] << 8 | byte
        else:
            value[rest] = value[rest] << 7 | (byte & 127)
        end[rest] += 1
        rest = rest[byte > 127]
    return value, end


def _column(flat: _Bytes, field: _Field, kind: Kind) -> Any:
    match kind:
        case Kind.TEXT | Kind.WHEN:
            return _texts(flat, field)
        case Kind.DAY:
            return _days(flat, field)
        case Kind.WHOLE:
            _must(field.are_at_most(_ONE) and not (field.types == _REAL).any())
            return _plain_numbers(flat, field, np.zeros(len(field.types), np.int64))
        case Kind.NUMBER:
            _must(field.are_at_most(_ONE))
            return _plain_numbers(flat, field, np.full(len(field.types), np.nan))


def _plain_numbers(flat: _Bytes, field: _Field, out: NDArray[Any]) -> NDArray[Any]:
    """Fill in what is no NULL; a number without a fraction is kept as a whole one."""
    kinds = np.flatnonzero(np.bincount(field.types)).tolist() if field.only is None else [field.only]
    for kind in kinds:
        if kind == _NULL:
            continue
        which = slice(None) if field.only is not None else field.types == kind
        if kind in (_ZERO, _ONE):
            out[which] = kind - _ZERO
            continue
        begins = field.begins[which]
        if kind == _REAL:
            out[which] = _window(flat, begins, 8).view(">f8")[:, 0]
        else:
            out[which] = _big_endian(flat, begins, _INT_BYTES[kind], signed=True)
    return out


def _big_endian(flat: _Bytes, at: _Whole, size: int, *, signed: bool = False) -> _Whole:
    value = flat[at].astype(np.int64)
    if signed:
        value -= (value > 127) * 256
    for place in range(1, size):
        value = value << 8 | flat[at + place]
    return value


def _texts(flat: _Bytes, field: _Field) -> pa.LargeStringArray:
    types = field.types if field.only is None else np.array([field.only])
    _must(((types == _NULL) | (types >= _FIRST_TEXT) & (types & 1 == 1)).all())
    rows = len(field.types)
    if isinstance(field.bytes, int) and not field.bytes:
        return pa.LargeStringArray.from_buffers(rows, pa.py_buffer(_zeros(rows + 1)), pa.py_buffer(b""))
    ends = np.zeros(rows + 1, np.int64)
    if isinstance(field.bytes, int) and field.bytes <= _LONGEST_WINDOW:
        np.multiply(np.arange(rows + 1), field.bytes, out=ends)
        text = _window(flat, field.begins, field.bytes)
    else:
        np.cumsum(np.broadcast_to(field.bytes, rows), out=ends[1:])
        text = flat[np.repeat(field.begins - ends[:-1], field.bytes) + np.arange(ends[-1])]
    texts = pa.LargeStringArray.from_buffers(rows, pa.py_buffer(ends), pa.py_buffer(text))
    if text.max(initial=0) > 127:
        texts.validate(full=True)
    return texts


@lru_cache(maxsize=4)
def _zeros(count: int) -> _Whole:
    """Where texts of no length end; one for all the columns without any."""
    zeros = np.zeros(count, np.int64)
    zeros.flags.writeable = False
    return zeros


def _days(flat: _Bytes, field: _Field) -> NDArray[np.datetime64]:
    out = np.full(len(field.types), np.datetime64("NaT"), "datetime64[s]")
    if field.only == _NULL:
        return out
    which = np.flatnonzero(field.types != _NULL)
    if not len(which):
        return out
    _must((field.types[which] == _FIRST_TEXT + 2 * 10).all())
    signs = _window(flat, field.begins[which], 10).T.astype(np.int32, order="C") - ord("0")
    figures = signs[[0, 1, 2, 3, 5, 6, 8, 9]]
    _must((signs[[4, 7]] == ord("-") - ord("0")).all() and (figures >= 0).all() and (figures <= 9).all())
    year, month, day = (
        figures[0] * 1000 + figures[1] * 100 + figures[2] * 10 + figures[3],
        figures[4] * 10 + figures[5],
        figures[6] * 10 + figures[7],
    )
    _must(((month >= 1) & (month <= 12) & (day >= 1)).all())
    first = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    found = first.astype("datetime64[D]") + (day - 1)
    _must((found.astype("datetime64[M]") == first).all())
    out[which] = found
    return out


def _points(blobs: _Bytes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    points = blobs.reshape(-1).view(POINT_BLOB)
    _must(are_plain(points))
    return points["x"].copy(), points["y"].copy()


def _window(flat: _Bytes, at: _Whole, width: int) -> _Bytes:
    """Return the bytes from each place on, shape (n, width)."""
    if not width:
        return np.empty((len(at), 0), np.uint8)
    windows = np.ndarray((len(flat) - width + 1,), f"V{width}", flat, strides=(1,))
    return windows[at].view(np.uint8).reshape(len(at), width)
