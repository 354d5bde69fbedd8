"""CSV: rows of text between commas, semicolons or tabs."""

from __future__ import annotations

import csv
import io
import re
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from pandas.errors import ParserError, ParserWarning

from farmmap.errors import BadInput, GridError
from farmmap.farm.grids import parse_grid
from farmmap.files.bringing.heads import UNIT_WORDS, is_heading
from farmmap.files.sources.source import BadRow, Source, shapes_array
from farmmap.files.sources.text import decoded

SEPARATORS = (",", ";", "\t", "|")
SHAPE_HEADS = ("wkt", "geometry", "geom", "the_geom", "wkt_geom", "shape")
LOOKED_AT = 20_000
"""Rows that show whether a file has decimal commas."""

LONGEST_FIELD = 2**31 - 1

_COMMA_NUMBER = re.compile(r"[-+]?\d+,\d+")
_UNIT_AT_END = re.compile(rf"(?<=\d)\s*({'|'.join(UNIT_WORDS)})\.?$", re.IGNORECASE)
_POINT_THOUSANDS = re.compile(r"[-+]?\d{1,3}(\.\d{3})+,\d+")
_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}(,\d{3})+")


def read_delimited(path: Path, content: bytes) -> Source:
    """Read a CSV.

    Parameters
    ----------
    path : Path
        Where it lies, for messages.
    content : bytes
        What is in it.

    Raises
    ------
    BadInput
        It is not text, or holds no rows under its heading.
    """
    text, encoding = decoded(content, path)
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    start, first_line, separator = _opening(text)
    said = [] if encoding == "utf-8" else [f"The letters of {path.name} were read as {encoding}."]
    start, first_line = _past_title(text, start, first_line, separator, said)
    separator = separator or _separator(text[start:])
    heads, unnamed, body = _heads(text[start:], separator, path)
    rows, numbers, bad = _rows(body, heads, separator, first_line + text[start : len(text) - len(body)].count("\n"))
    rows = _without_blank_ends(rows, unnamed)
    if not len(rows) and not bad:
        raise BadInput(f"{path.name} has a heading but no rows under it")
    geometry, epsg, rows = _shapes(rows)
    return Source(
        path,
        "CSV",
        rows,
        numbers,
        geometry,
        epsg,
        separator=separator,
        decimal_comma=_decimal_comma(rows, separator),
        bad=tuple(bad),
        said=tuple(said),
    )


def _opening(text: str) -> tuple[int, int, str]:
    """Skip blank lines and a spreadsheet's ``sep=;``: where the heading starts, its row number, the separator."""
    at, line, separator = 0, 1, ""
    while at < len(text):
        end = text.find("\n", at)
        end = len(text) if end < 0 else end
        stripped = text[at:end].strip().strip('",;|\t')
        named = re.fullmatch(r"sep=(.)", text[at:end].strip(" \"'"), re.IGNORECASE | re.DOTALL)
        if named and named[1] in SEPARATORS:
            separator = named[1]
        elif stripped and not stripped.startswith("#"):
            break
        at, line = end + 1, line + 1
    return min(at, len(text)), line, separator


def _past_title(text: str, start: int, line: int, separator: str, said: list[str]) -> tuple[int, int]:
    """Skip one title above the heading: where the heading starts, and its row number."""
    end = text.find("\n", start)
    if end < 0:
        return start, line
    skipped, next_line, _ = _opening(text[end + 1 :])
    second_start = end + 1 + skipped
    title, second = text[start:end], text[second_start:].split("\n", 1)[0]
    cut = separator or _separator(text[second_start:])
    fields, heads = ([f.strip() for f in row.replace('"', "").split(cut) if f.strip()] for row in (title, second))
    known = sum(_is_known(head) for head in heads)
    if len(fields) >= len(heads) or any(_is_known(field) for field in fields) or known < min(2, len(heads)):
        return start, line
    said.append(f"Row {line}, '{', '.join(fields)[:60]}', was taken for a title above the heading and skipped.")
    return second_start, line + next_line


def _is_known(head: str) -> bool:
    return is_heading(head) or head.casefold() in SHAPE_HEADS


def _without_blank_ends(rows: pd.DataFrame, unnamed: set[str]) -> pd.DataFrame:
    """Drop columns at the end that have neither a name nor anything in them."""
    kept = list(rows.columns)
    while kept and kept[-1] in unnamed and not rows[kept[-1]].str.strip().any():
        kept.pop()
    return rows[kept]


def _separator(text: str) -> str:
    """Return the separator that cuts the first rows most evenly."""
    lines = text[:100_000].split("\n")[:60]
    best, best_score = ",", (0.0, 0)
    for separator in SEPARATORS:
        try:
            counts = [len(row) for row in csv.reader(lines, delimiter=separator) if row]
        except csv.Error:
            continue
        if not counts or counts[0] < 2:
            continue
        alike = sum(count == counts[0] for count in counts) / len(counts)
        if (alike, counts[0]) > best_score:
            best, best_score = separator, (alike, counts[0])
    return best


def _heads(text: str, separator: str, path: Path) -> tuple[list[str], set[str], str]:
    """Return the headings, those among them that were made up for columns without one, and the rows below."""
    lines = io.StringIO(text)
    csv.field_size_limit(LONGEST_FIELD)
    try:
        first = next(csv.reader(lines, delimiter=separator, strict=True), [])
    except csv.Error:
        lines = io.StringIO(text)
        first = [field.strip('"') for field in lines.readline().rstrip("\n").split(separator)]
    heads: list[str] = []
    unnamed: set[str] = set()
    for position, head in enumerate(first, start=1):
        wanted = " ".join(head.split()) or f"column {position}"
        name, count = wanted, 2
        while name in heads:
            name, count = f"{wanted} ({count})", count + 1
        heads.append(name)
        if not head.strip():
            unnamed.add(name)
    named = [head for head in heads if head not in unnamed]
    if not named:
        raise BadInput(f"{path.name} has no heading in its first row")
    if all(re.fullmatch(r"[-+]?[\d.,]+", head) for head in named):
        raise BadInput(
            f"the first row of {path.name} holds numbers where the names of the columns should be; "
            "put a heading over them, such as tag, species, x, y, dbh_cm"
        )
    return heads, unnamed, lines.read()


def _rows(body: str, heads: list[str], separator: str, first: int) -> tuple[pd.DataFrame, np.ndarray, list[BadRow]]:
    """Cut the body into rows; quickly if every row fits the heading, else one by one."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", ParserWarning)
            frame = pd.read_csv(
                io.StringIO(body),
                sep=separator,
                header=None,
                names=heads,
                index_col=False,
                dtype="str",
                keep_default_na=False,
                na_filter=False,
                skip_blank_lines=False,
            )
    except (ParserError, ParserWarning, ValueError):
        return _rows_one_by_one(body, heads, separator, first)
    frame = frame.fillna("")
    blank = np.ones(len(frame), bool)
    for name in frame.columns:
        blank &= (frame[name].str.strip() == "").to_numpy()
        if not blank.any():
            break
    numbers = np.arange(first, first + len(frame), dtype=np.int64)
    good = np.flatnonzero(~blank)
    return frame.take(good).reset_index(drop=True), numbers[good], []


def _rows_one_by_one(
    body: str, heads: list[str], separator: str, first: int
) -> tuple[pd.DataFrame, np.ndarray, list[BadRow]]:
    try:
        records = list(csv.reader(io.StringIO(body), delimiter=separator, strict=True))
    except csv.Error:  # a quotation mark that is never closed would swallow the rest of the file
        records = [[field.strip('"') for field in line.split(separator)] for line in body.split("\n")]
    good: list[list[str]] = []
    numbers: list[int] = []
    bad: list[BadRow] = []
    for number, record in enumerate(records, start=first):
        if not any(field.strip() for field in record):
            continue
        if any(field.strip() for field in record[len(heads) :]):
            raw = dict(zip(heads, record, strict=False))
            raw["more"] = separator.join(record[len(heads) :])
            bad.append(BadRow(number, f"has {len(record)} fields where the heading has {len(heads)}", raw))
            continue
        numbers.append(number)
        good.append((record + [""] * len(heads))[: len(heads)])
    columns = list(zip(*good, strict=True)) if good else [()] * len(heads)
    frame = pd.DataFrame({head: pd.array(list(c), dtype="str") for head, c in zip(heads, columns, strict=True)})
    return frame, np.array(numbers, np.int64), bad


def _shapes(rows: pd.DataFrame) -> tuple[np.ndarray | None, int | None, pd.DataFrame]:
    """Take a column of well-known text out of the rows, and a ``grid`` that is the same all the way down."""
    for name in rows.columns:
        if str(name).casefold() not in SHAPE_HEADS:
            continue
        texts = [str(text).strip() for text in rows[name]]
        grids: set[int] = set()
        for position, text in enumerate(texts):
            if text.upper().startswith("SRID=") and ";" in text:
                code, texts[position] = text[5:].split(";", 1)
                grids.update([int(code)] if code.isdigit() else [])
        shapes = shapes_array(list(shapely.from_wkt(texts, on_invalid="ignore")))
        if not any(shape is not None for shape in shapes):
            continue
        return shapes, _one_grid(rows, grids), rows.drop(columns=[name])
    return None, _one_grid(rows, set()), rows


def _one_grid(rows: pd.DataFrame, grids: set[int]) -> int | None:
    for name in rows.columns:
        if str(name).casefold() in {"grid", "crs", "srid", "epsg"}:
            written = [text for text in rows[name].unique() if text.strip()]
            if len(written) == 1:
                try:
                    grids = grids | {parse_grid(written[0])}
                except GridError:
                    continue
    return grids.pop() if len(grids) == 1 else None


def _decimal_comma(rows: pd.DataFrame, separator: str) -> bool:
    """Whether 1,5 is one and a half in this file; judged on all of its columns together."""
    thousands = 0
    for name in rows.columns:
        for text in rows[name].head(LOOKED_AT).tolist():
            number = text.strip()
            if unit := _UNIT_AT_END.search(number):
                number = number[: unit.start()]
            if _POINT_THOUSANDS.fullmatch(number):
                return True
            if _COMMA_NUMBER.fullmatch(number):
                if not _THOUSANDS.fullmatch(number):
                    return True
                thousands += 1
    return bool(thousands) and separator != ","
