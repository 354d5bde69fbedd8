"""A new file is made beside its place, synced, and put there by a rename.

So whoever looks sees the old file or the new one, never a half of either. A
part file carries the name of the process that makes it, so that one left by a
process that was killed is known for certain and cleared away.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path

from farmmap.files import geopackage
from farmmap.files.processes import Process, this_process

_PART = re.compile(r"-(?P<machine>[0-9a-f]{12})-(?P<pid>\d{1,10})-(?P<started>[0-9a-z]{0,16})-[0-9a-f]{8}\.part")
JOURNALS = ("-journal", "-wal", "-shm")
"""Endings of the files in which SQLite keeps half-done changes."""

BUSY_S = 5.0
"""How long to wait for another program to finish with a file. [s]"""


@contextlib.contextmanager
def part_file(path: Path) -> Iterator[Path]:
    """Make an empty file beside ``path``; whatever is left of it afterwards is taken away.

    Parts of the same name that killed processes left are taken away first.

    Raises
    ------
    OSError
        No file can be made there.
    """
    clear_parts(path)
    me = this_process()
    part = path.parent / f".{path.name}-{me.machine}-{me.pid}-{me.started}-{secrets.token_hex(4)}.part"
    os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666))
    try:
        yield part
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def clear_parts(path: Path) -> None:
    """Take away part files for ``path`` whose process, on this machine, certainly runs no more."""
    with contextlib.suppress(OSError), os.scandir(path.parent) as entries:
        for entry in entries:
            found = _PART.fullmatch(entry.name.removeprefix(f".{path.name}"))
            if found is None or not entry.name.startswith(f".{path.name}-"):
                continue
            if Process(found["machine"], int(found["pid"]), found["started"]).is_running() is False:
                with contextlib.suppress(OSError):
                    Path(entry.path).unlink()


def put_in_place(part: Path, path: Path) -> None:
    """Sync a part file, put it in its place and sync the folder."""
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    part.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """See that a rename or a new name outlasts a power cut, where the system lets folders be synced."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:  # some network drives cannot; the file itself is synced
        pass
    finally:
        os.close(handle)


def connected(path: Path, mode: str, busy_s: float = BUSY_S) -> sqlite3.Connection:
    """Open a file that is there with SQLite, in autocommit mode, with the functions that its triggers call.

    Parameters
    ----------
    path : Path
        The file; never made.
    mode : str
        ``"ro"`` or ``"rw"``.
    busy_s : float
        How long to wait for other programs. [s]
    """
    uri = f"{path.resolve().as_uri()}?mode={mode}"
    connection = sqlite3.connect(uri, uri=True, timeout=busy_s, isolation_level=None, check_same_thread=False)
    geopackage.register_functions(connection)
    return connection


@contextlib.contextmanager
def kept_still(path: Path) -> Iterator[sqlite3.Connection]:
    """Keep other programs from writing into a database until it has been copied or replaced.

    A change that a killed program left half-done is first taken back from its
    journal, and a write-ahead log is brought into the file: neither may be
    left beside a file that takes this one's place.

    Yields
    ------
    sqlite3.Connection
        In a transaction that has written nothing.

    Raises
    ------
    sqlite3.Error
        It is no sound database, or another program does not let go of it.
    """
    with contextlib.closing(connected(path, "rw")) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")  # waits, and fails, if another program still uses its log
        connection.execute("BEGIN IMMEDIATE")
        yield connection


@contextlib.contextmanager
def still_or_gone(path: Path) -> Iterator[sqlite3.Connection | None]:
    """Keep still what lies where a new file is to be put; None if that is nothing, or no database.

    Raises
    ------
    sqlite3.Error
        Another program does not let go of it, or its drive cannot be read.
    """
    with contextlib.ExitStack() as stack:
        still = None
        if path.exists():
            try:
                still = stack.enter_context(kept_still(path))
            except sqlite3.DatabaseError as error:
                if getattr(error, "sqlite_errorcode", None) not in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
                    raise
        if still is None:
            for ending in JOURNALS:  # left by a file that is gone; the new one would be taken back by it
                Path(f"{path}{ending}").unlink(missing_ok=True)
        yield still


def replace_database(part: Path, path: Path, still: sqlite3.Connection | None) -> None:
    """Put a part file in the place of a database that `kept_still` keeps still, or where none is.

    Raises
    ------
    OSError
        It cannot be put there. What was there still is.
    """
    if os.name == "nt" and still is not None:
        still.close()  # no file can be replaced there while it is open
    put_in_place(part, path)


def copied(reading: sqlite3.Connection, part: Path) -> None:
    """Copy a database as it is at one moment, page by page, into an empty part file.

    Raises
    ------
    sqlite3.Error
        It cannot be read, or the copy not be written.
    """
    with contextlib.closing(unsafe_until_synced(part)) as writing:
        reading.backup(writing)


def unsafe_until_synced(part: Path) -> sqlite3.Connection:
    """Open a part file that nobody relies on before it is synced as a whole: without sync, and no journal beside it."""
    connection = connected(part, "rw")
    connection.execute("PRAGMA journal_mode = MEMORY")
    connection.execute("PRAGMA synchronous = OFF")
    return connection


def like(part: Path, path: Path) -> None:
    """Give a part file the permissions and the group of the file that it is to replace, as far as they may be given."""
    found = path.stat()
    if os.name != "nt":
        with contextlib.suppress(OSError):
            os.chown(part, -1, found.st_gid)
    with contextlib.suppress(OSError):
        part.chmod(stat.S_IMODE(found.st_mode))
