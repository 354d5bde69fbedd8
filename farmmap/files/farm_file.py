"""The farm file: one GeoPackage, read whole, written by edits, each a single transaction.

A new file is written beside its place, synced, and put there by a rename, so
that a half-written one is never seen. An edit is one SQLite transaction with
the rollback journal, so that after a kill or a power cut it is there whole or
not at all.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from farmmap.errors import FarmFileError
from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.files.farm_tables import absent, apply_edit, bring_up, create, damaged, read_settings
from farmmap.files.farm_writer import FarmWriter
from farmmap.files.placing import (
    connected,
    copied,
    kept_still,
    like,
    part_file,
    replace_database,
    still_or_gone,
    unsafe_until_synced,
)
from farmmap.files.refusals import NotWritable, must_be_writable, unwritten, why
from farmmap.files.rows import GEOMETRY
from farmmap.files.table_reading import read_table
from farmmap.files.turns import turn
from farmmap.progress import SILENT, Progress

TRIES = 3
"""How often reading is begun again because another program wrote into the file, or replaced it, meanwhile."""

ONE_EDIT_BUSY_S = 10.0
"""How long a single edit waits for another program to finish with the file. [s]"""


def read_farm(path: str | Path, progress: Progress = SILENT) -> Farm:
    """Read a farm file; the file is left as it is.

    Tables and columns that came after the file was made are empty.

    Parameters
    ----------
    path : str or Path
        The farm file.
    progress : Progress
        Told after each table.

    Raises
    ------
    FarmFileError
        It is missing, damaged, no farm file, or of a newer version.
    Stopped
        ``progress`` asked to stop.
    """
    path = Path(path)
    with turn(path):
        for _ in range(TRIES):
            opened = _file_at(path)
            with _reading(path) as connection:
                seen = _version(connection)
                farm = _read(connection, path, progress)
                if _version(connection) == seen and _file_at(path) == opened:
                    return farm
    raise FarmFileError(damaged(path, "locked"))


def _file_at(path: Path) -> tuple[int, int] | None:
    """Return what tells the file there from one that was put in its place, None if there is none."""
    with contextlib.suppress(OSError):
        found = path.stat()
        return found.st_dev, found.st_ino
    return None


def _version(connection: sqlite3.Connection) -> int:
    """Return a number that changes when another connection writes into the file."""
    return int(connection.execute("PRAGMA data_version").fetchone()[0])


def _read(connection: sqlite3.Connection, path: Path, progress: Progress) -> Farm:
    settings, version = read_settings(connection, path)
    lacking = absent(connection, path, version)
    tables: dict[str, pd.DataFrame] = {}
    there = [table for table in TABLES.values() if table.name not in lacking]
    for done, table in enumerate(there):
        progress.step(done, len(there), f"reading {table.words.lower()}")
        try:
            frame = read_table(connection, path, table, settings.epsg, lacking)
        except (OSError, RuntimeError, ValueError) as error:
            raise FarmFileError(damaged(path, "locked" if _is_locked(path) else str(error))) from error
        if table.geometry and (without := _without_shape(frame)):
            query = f"SELECT count(*) FROM {table.name} WHERE {GEOMETRY} IS NULL"
            if connection.execute(query).fetchone()[0] != without:
                raise FarmFileError(damaged(path, f"a shape in its table {table.name} cannot be read"))
        tables[table.name] = frame
    progress.step(len(there), len(there), "read")
    return Farm(settings, tables)


def write_farm(farm: Farm, path: str | Path, *, replace: bool = False) -> None:
    """Write a farm to a new farm file.

    Parameters
    ----------
    farm : Farm
        The farm.
    path : str or Path
        Where to put it.
    replace : bool
        Whether a file that is there already may be replaced.

    Raises
    ------
    FarmFileError
        There is a file of that name already, or the place cannot be written to.
    """
    path = Path(path)
    if path.exists() and not replace:
        raise FarmFileError(f"{path} is there already; choose another name")
    try:
        with turn(path), part_file(path.resolve()) as part:
            with contextlib.closing(unsafe_until_synced(part)) as connection:
                connection.execute("BEGIN")
                create(connection, farm)
                connection.execute("COMMIT")
            with still_or_gone(path.resolve()) as still:
                replace_database(part, path.resolve(), still)
    except (sqlite3.Error, OSError) as error:
        raise FarmFileError(unwritten(path, error)) from error


def write_edit(path: str | Path, edit: Edit) -> None:
    """Write one edit into a farm file, whole or not at all.

    Parameters
    ----------
    path : str or Path
        The farm file.
    edit : Edit
        What changes.

    Raises
    ------
    FarmFileError
        The file cannot be written, is used by another program at this moment,
        or no longer holds the rows that the edit was made for. It is left as it was.

    See Also
    --------
    farmmap.files.farm_writer.FarmWriter : For many edits of one file.
    """
    try:
        writer = FarmWriter(path, busy_s=ONE_EDIT_BUSY_S)
    except FarmFileError as error:
        raise FarmFileError(f"'{edit.name}' was not written: {error} The file is as it was.") from error
    with writer:
        writer.write(edit)


def write_edit_beside(path: str | Path, edit: Edit, progress: Progress = SILENT) -> None:
    """Write one large edit into a copy of a farm file, and put that in the file's place.

    For bringing data in: the file that is there stays whole and readable until
    the new one is complete, checked and on the disk. Tables of other programs
    come along. A `FarmWriter` of the file has to be opened anew afterwards.

    Parameters
    ----------
    path : str or Path
        The farm file.
    edit : Edit
        What changes.
    progress : Progress
        Told how far it is; may stop it until the new file is put in place.

    Raises
    ------
    FarmFileError
        The new file cannot be written, or the edit does not fit. The file is as it was.
    Stopped
        ``progress`` asked to stop. The file is as it was.
    """
    path = Path(path).resolve()
    try:
        must_be_writable(path)
        with turn(path), kept_still(path) as still, part_file(path) as part:
            progress.step(0, 4, "copying the farm file")
            with contextlib.closing(connected(path, "ro")) as reading:
                copied(reading, part)
            with contextlib.closing(unsafe_until_synced(part)) as connection:
                connection.execute("BEGIN")
                settings, version = read_settings(connection, path)
                progress.step(1, 4, "writing the change")
                bring_up(connection, absent(connection, path, version), settings.epsg)
                apply_edit(connection, edit, settings.epsg)
                connection.execute("COMMIT")
                progress.step(2, 4, "checking the new file")
                for (said,) in connection.execute("PRAGMA quick_check"):
                    if said != "ok":
                        raise FarmFileError(f"'{edit.name}' was not written: the new file is damaged ({said}).")
            progress.step(3, 4, "putting the new file in place")
            like(part, path)
            replace_database(part, path, still)
    except NotWritable as error:
        raise FarmFileError(f"'{edit.name}' was not written. {error}") from error
    except (sqlite3.Error, OSError) as error:
        message = f"'{edit.name}' was not written to {path}: {why(error)}. The file is as it was."
        raise FarmFileError(message) from error


def _is_locked(path: Path) -> bool:
    """Whether another program holds the file, which the reader only calls unreadable."""
    try:
        with contextlib.closing(connected(path, "ro", 0)) as connection:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        return "locked" in str(error)
    return False


def _without_shape(frame: pd.DataFrame) -> int:
    """Count rows without a shape; the reader gives none where it cannot make sense of one."""
    if "x" in frame.columns:
        return int(frame["x"].isna().sum())
    return int(frame["geometry"].isna().sum())


@contextlib.contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a farm file to read; one that was left in mid-transaction is first put right from its journal."""
    if not path.is_file():
        raise FarmFileError(f"{path} is not there; look for it, or make a new farm with: farmmap new")
    with path.open("rb") as file:
        head = file.read(16)
    if head != b"SQLite format 3\x00":
        raise FarmFileError(f"{path} is no farm file (it is not a GeoPackage); it was left untouched")
    try:
        writable = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
        with contextlib.closing(connected(path, "rw" if writable else "ro")) as connection:
            connection.execute("PRAGMA query_only = ON")
            yield connection
    except sqlite3.Error as error:
        raise FarmFileError(damaged(path, str(error))) from error
