"""A folder with data for others: one GeoPackage of layers, a CSV file for each table, and a text that lists them.

All is written beside its place and put there once it is whole; if that cannot be
done, what was there before is put back. A folder that is there already may only
hold what was written so before; other files in it stay.
"""

from __future__ import annotations

import contextlib
import csv
import sqlite3
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from farmmap.errors import BadInput
from farmmap.files import geopackage
from farmmap.files.placing import sync_folder, unsafe_until_synced

LAYERS_FILE, README_FILE = "layers.gpkg", "README.txt"
MARK = "Written by farmmap."
"""First line of the text that lists the files; by it a folder of ours is known again."""

LISTED = "  "
"""Before the name of each file in that text."""


@dataclass(frozen=True)
class Field:
    """A column of a layer or a table.

    Attributes
    ----------
    name : str
        Its name, which ends in the unit where there is one.
    kind : str
        ``TEXT``, ``INTEGER`` or ``DOUBLE``.
    about : str
        What it is.
    """

    name: str
    kind: str
    about: str = ""


@dataclass(frozen=True, eq=False)
class DataLayer:
    """A layer of the GeoPackage.

    Attributes
    ----------
    name, words : str
        Its name, and what it is.
    geometry : str
        ``POINT``, ``LINESTRING``, ``MULTIPOLYGON`` and the like, or ``GEOMETRY``.
    fields : tuple of Field
        Its columns besides the shape.
    rows : sequence of sequence
        Values by column; None for what is not known.
    shapes : ndarray of shapely Geometry, shape (n,)
        On the farm's grid.
    """

    name: str
    words: str
    geometry: str
    fields: tuple[Field, ...]
    rows: Sequence[Sequence[object]]
    shapes: np.ndarray


@dataclass(frozen=True, eq=False)
class DataTable:
    """A CSV file.

    Attributes
    ----------
    name, words : str
        Name of the file without its ending, and what is in it.
    fields : tuple of Field
        Its columns.
    rows : sequence of sequence
        Values by column; None for what is not known.
    """

    name: str
    words: str
    fields: tuple[Field, ...]
    rows: Sequence[Sequence[object]]


@dataclass(frozen=True, eq=False)
class FolderOfData:
    """What is written.

    Attributes
    ----------
    about : tuple of str
        Paragraphs at the head of the text: whose data, of which day, on which grid, cautions.
    epsg : int
        Grid of the layers.
    local : bool
        Whether that grid is only a plan of the farm's own.
    layers : tuple of DataLayer
        Layers of the GeoPackage.
    tables : tuple of DataTable
        CSV files.
    """

    about: tuple[str, ...]
    epsg: int
    local: bool
    layers: tuple[DataLayer, ...]
    tables: tuple[DataTable, ...]


def refuse_folder(folder: Path) -> None:
    """Say at once if data cannot be written into a folder.

    Raises
    ------
    BadInput
        It is a file, its own folder is not there, or it holds files of the same names that were not written so.
    """
    if folder.is_file():
        raise BadInput(f"{folder} is a file, not a folder; give the data another name")
    if not folder.resolve().parent.is_dir():
        raise BadInput(f"the folder that {folder} is to lie in is not there; make it first")
    if (folder / LAYERS_FILE).exists() and not _written_before(folder):
        raise BadInput(
            f"{folder / LAYERS_FILE} is there and was not written by farmmap as data for others; choose another folder"
        )


def write_data_folder(folder: Path, data: FolderOfData) -> tuple[str, ...]:
    """Write data into a folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there. What an earlier writing left in it gives way, other files stay.
    data : FolderOfData
        What is written.

    Returns
    -------
    tuple of str
        Names of the files.

    Raises
    ------
    BadInput
        It cannot be written there; what was there stays as it was.
    """
    refuse_folder(folder)
    before = set(_written_before(folder))
    names = (README_FILE, LAYERS_FILE, *(f"{table.name}.csv" for table in data.tables))
    others = [name for name in names if (folder / name).exists() and name not in before]
    if others:
        raise BadInput(f"{folder} holds a file {others[0]} of another kind; it stays as it is, choose another folder")
    there = folder.exists()
    try:
        folder.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".farmmap-", dir=folder, ignore_cleanup_errors=True) as beside:
            new, old = Path(beside, "new"), Path(beside, "old")
            new.mkdir()
            old.mkdir()
            _fill(new, data)
            _swap(folder, new, old, (*names[1:], README_FILE), before - set(names))
        sync_folder(folder)
    except (OSError, sqlite3.Error) as error:
        if not there:
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise BadInput(f"{folder} could not be written: {getattr(error, 'strerror', None) or error}") from error
    return names


def _swap(folder: Path, new: Path, old: Path, names: Iterable[str], gone: Iterable[str]) -> None:
    """Put new files in the place of old ones; all old ones are put back if one cannot be."""
    put: list[str] = []
    try:
        for name in (*names, *gone):
            if (folder / name).exists():
                (folder / name).replace(old / name)
            put.append(name)
            if (new / name).exists():
                (new / name).replace(folder / name)
    except OSError:
        for name in reversed(put):
            if (old / name).exists():
                (old / name).replace(folder / name)
            else:
                (folder / name).unlink(missing_ok=True)
        raise


def _written_before(folder: Path) -> tuple[str, ...]:
    """Names of the files that an earlier writing left; none if there was none."""
    with contextlib.suppress(OSError, UnicodeDecodeError):
        lines = (folder / README_FILE).read_text(encoding="utf-8").splitlines()
        if lines[:1] == [MARK]:
            listed = (line.strip() for line in lines if line.startswith(LISTED) and not line.startswith(LISTED * 2))
            return (README_FILE, *(name for name in listed if name == Path(name).name))
    return ()


def _fill(beside: Path, data: FolderOfData) -> None:
    _write_layers(beside / LAYERS_FILE, data)
    for table in data.tables:
        with (beside / f"{table.name}.csv").open("w", encoding="utf-8-sig", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([field.name for field in table.fields])
            writer.writerows([_in_csv(value) for value in row] for row in table.rows)
    (beside / README_FILE).write_text("\n".join(_text(data)) + "\n", encoding="utf-8")


def _in_csv(value: object) -> object:
    """Return a number to six decimals with no tail of noughts, as figures are written elsewhere."""
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.6f}".rstrip("0").rstrip(".")
    return "" if value is None else value


def _text(data: FolderOfData) -> list[str]:
    lines = [MARK, ""]
    for words in data.about:
        lines += [words, ""]
    lines += ["Files", "", f"{LISTED}{LAYERS_FILE}"]
    for layer in data.layers:
        lines.append(f"{LISTED * 2}layer {layer.name}: {layer.words}, {len(layer.rows)} rows")
        lines += [f"{LISTED * 4}{field.name}: {field.about}" for field in layer.fields if field.about]
    for table in data.tables:
        lines += ["", f"{LISTED}{table.name}.csv", f"{LISTED * 2}{table.words}, {len(table.rows)} rows"]
        lines += [f"{LISTED * 4}{field.name}: {field.about}" for field in table.fields if field.about]
    return lines


def _write_layers(path: Path, data: FolderOfData) -> None:
    srs_id = -1 if data.local else data.epsg  # the standard's number for plane coordinates of no known grid
    path.touch()
    with contextlib.closing(unsafe_until_synced(path)) as connection:
        connection.execute("BEGIN")
        geopackage.create_core(connection, data.epsg)
        for layer in data.layers:
            _write_layer(connection, layer, srs_id)
        connection.execute("COMMIT")


def _write_layer(connection: sqlite3.Connection, layer: DataLayer, srs_id: int) -> None:
    name = geopackage.quoted(layer.name)
    columns = "".join(f", {geopackage.quoted(field.name)} {field.kind}" for field in layer.fields)
    connection.execute(f"CREATE TABLE {name} (id INTEGER PRIMARY KEY NOT NULL, geom {layer.geometry}{columns})")
    geopackage.add_contents(connection, layer.name, layer.words, srs_id)
    connection.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)", (layer.name, layer.geometry, srs_id)
    )
    marks = ", ".join("?" * (len(layer.fields) + 2))
    blobs = geopackage.shape_blobs(layer.shapes, srs_id)
    rows = (
        (place, blob, *(_in_sql(value) for value in row))
        for place, (blob, row) in enumerate(zip(blobs, layer.rows, strict=True), 1)
    )
    connection.executemany(f"INSERT INTO {name} VALUES ({marks})", rows)
    boxes = np.asarray(shapely.bounds(layer.shapes)).reshape(-1, 4)
    known = ~np.isnan(boxes).any(axis=1)
    if known.any():
        west, south = boxes[known, :2].min(axis=0).tolist()
        east, north = boxes[known, 2:].max(axis=0).tolist()
        connection.execute(
            "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
            (west, south, east, north, layer.name),
        )
    geopackage.add_spatial_index(connection, layer.name, "geom", np.arange(1, len(layer.rows) + 1), boxes)


def _in_sql(value: object) -> object:
    if isinstance(value, float):
        return None if np.isnan(value) else float(value)
    if isinstance(value, np.integer):
        return int(value)
    return value if isinstance(value, int | str | None) else str(value)
