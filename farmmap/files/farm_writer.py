"""The one connection that writes edits into a farm file, each a single transaction, within a frame."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from farmmap.errors import FarmFileError
from farmmap.farm.edits import Edit
from farmmap.farm.schema import SCHEMA_VERSION
from farmmap.files.farm_tables import absent, apply_edit, bring_up, read_settings
from farmmap.files.placing import connected
from farmmap.files.refusals import NotWritable, must_be_writable, why
from farmmap.files.turns import turn

BUSY_S = 2.0
"""How long an edit waits for another program to finish with the file. [s]"""


class FarmWriter:
    """Writes edits into one farm file, over one connection that stays open.

    An edit is in the file for good, and on the disk, when `write` returns; if
    `write` raises, nothing of it is. Any thread may write, one at a time.

    Parameters
    ----------
    path : str or Path
        A farm file that is there.
    busy_s : float
        How long to wait for another program. [s]
    cache_pages : int, optional
        Size of SQLite's page cache; a tiny one makes it write pages in mid-transaction, as a large edit does.

    Raises
    ------
    FarmFileError
        It cannot be opened for writing, or is no farm file of this version or an older one.
    """

    def __init__(self, path: str | Path, *, busy_s: float = BUSY_S, cache_pages: int | None = None) -> None:
        self.path = Path(path)
        self._busy_s, self._cache_pages = busy_s, cache_pages
        self._connection: sqlite3.Connection | None = None
        self._seen = -1
        self._epsg = 0
        self._lacking: frozenset[str] | None = None
        try:
            with turn(self.path):
                found = must_be_writable(self.path)
                self._identity = found.st_dev, found.st_ino
                self._open()
                self._read_again()
        except (sqlite3.Error, OSError) as error:
            self.close()
            raise FarmFileError(f"{self.path} cannot be opened for writing: {why(error)}.") from error
        except BaseException:
            self.close()
            raise

    def write(self, edit: Edit, on_sync: Callable[[], object] = lambda: None) -> None:
        """Write one edit, whole or not at all.

        Parameters
        ----------
        edit : Edit
            What to write.
        on_sync : callable
            Called when all that is left is to wait for the disk, which leaves the processor to others.

        Raises
        ------
        FarmFileError
            It cannot be written, in words: the file was taken away, replaced or made read-only, the disk is
            full, another program uses it, or it no longer holds the rows that the edit was made for. The file
            is as it was; when the trouble is gone, later edits are written again.
        """
        with turn(self.path):
            try:
                self._still_there()
                self._write(edit, on_sync)
            except NotWritable as error:
                raise FarmFileError(f"'{edit.name}' was not written. {error}") from error
            except (sqlite3.Error, OSError) as error:
                message = f"'{edit.name}' was not written to {self.path}: {why(error)}. The file is as it was."
                raise FarmFileError(message) from error
            if not self._is_same_file():
                raise FarmFileError(
                    f"{self.path} was taken away or replaced while '{edit.name}' was being written, which went into "
                    "the file that is gone. Open the farm again to see what it holds now."
                )

    def close(self) -> None:
        """Let go of the file; closing twice is no harm."""
        with turn(self.path):
            connection, self._connection = self._connection, None
            if connection is not None:
                connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _open(self) -> None:
        connection = connected(self.path, "rw", self._busy_s)
        self._connection = connection
        with contextlib.suppress(sqlite3.OperationalError):  # in use by another program: then it stays as that left it
            connection.execute("PRAGMA journal_mode = DELETE")  # one file, not one and a log beside it
        connection.execute("PRAGMA synchronous = EXTRA")  # FULL, and the folder is synced when the journal has gone
        connection.execute("PRAGMA fullfsync = ON")
        connection.execute("PRAGMA checkpoint_fullfsync = ON")
        if self._cache_pages is not None:
            connection.execute(f"PRAGMA cache_size = {int(self._cache_pages)}")

    def _write(self, edit: Edit, on_sync: Callable[[], object]) -> None:
        if self._connection is None:
            raise NotWritable("The farm is closed.")
        connection = self._connection
        connection.execute("BEGIN IMMEDIATE")
        try:
            self._still_there()  # whoever replaced the file did so before the lock was ours
            self._read_again()
            if self._lacking is not None:
                bring_up(connection, self._lacking, self._epsg)
            apply_edit(connection, edit, self._epsg)
            on_sync()
            connection.execute("COMMIT")
        except BaseException:
            self._seen = -1
            with contextlib.suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise
        self._lacking = None
        if edit.settings is not None:
            self._seen = -1

    def _read_again(self) -> None:
        """Take note of the settings, if another program has written since they were read."""
        assert self._connection is not None
        (seen,) = self._connection.execute("PRAGMA data_version").fetchone()
        if seen != self._seen:
            settings, version = read_settings(self._connection, self.path)
            self._epsg = settings.epsg
            self._lacking = absent(self._connection, self.path, version) if version < SCHEMA_VERSION else None
            self._seen = seen

    def _still_there(self) -> None:
        """Refuse to go on if the path is not the file that is open here any more, or may not be written to."""
        must_be_writable(self.path)
        if not self._is_same_file():
            raise NotWritable(
                f"{self.path} has been replaced by another file since it was opened, perhaps by a program that "
                "keeps folders alike. Open the farm again to see what it holds now, and make the change again."
            )

    def _is_same_file(self) -> bool:
        try:
            found = self.path.stat()
        except OSError:
            return False
        return (found.st_dev, found.st_ino) == self._identity
