"""Why a file could not be written or read, in words that say what to do."""

from __future__ import annotations

import errno
import os
import sqlite3
import stat
from pathlib import Path

from farmmap.errors import FarmFileError

_WORDS = {
    "FULL": "the disk is full; free some space",
    "BUSY": "another program is using the file at this moment; wait a little",
    "LOCKED": "another program is using the file at this moment; wait a little",
    "READONLY": "the file may only be read; make it writable",
    "CANTOPEN": "no file can be made beside it; make its folder writable, or free some space",
    "IOERR": "its drive could not be read or written; see that it is plugged in and not full",
    "READONLY_DBMOVED": "it was moved or replaced at this moment; open the farm again",
    "READONLY_DIRECTORY": "no file can be made beside it; make its folder writable",
    "PERM": "the file may not be written to; make it writable",
    "CONSTRAINT": "the farm was changed since it was opened; open it again",
    "CORRUPT": "the file is damaged; go back to an earlier copy",
    "NOTADB": "the file is damaged or no farm file any more; go back to an earlier copy",
}
_NUMBERS = {
    errno.ENOSPC: _WORDS["FULL"],
    errno.EDQUOT: "your share of the disk is full; free some space",
    errno.EFBIG: "the file would grow larger than its disk allows; move it to another disk",
    errno.EROFS: "the drive may only be read",
    errno.EACCES: "you may not write there; ask whoever looks after the folder",
    errno.EPERM: "you may not write there; ask whoever looks after the folder",
    errno.ENOENT: "its folder is not there; see that the drive is plugged in",
    errno.EIO: _WORDS["IOERR"],
}


def why(error: sqlite3.Error | OSError) -> str:
    """Return why something went wrong, and what to do, without a full stop."""
    if isinstance(error, OSError):
        return _NUMBERS.get(error.errno or 0, error.strerror or str(error))
    name = getattr(error, "sqlite_errorname", "").removeprefix("SQLITE_")
    return _WORDS.get(name, _WORDS.get(name.partition("_")[0], str(error)))


def unwritten(path: Path, error: sqlite3.Error | OSError) -> str:
    """Return words for a file that could not be put at ``path``."""
    return f"{path} cannot be written: {why(error)}."


class NotWritable(FarmFileError):
    """The file at the path is not one to write to; the message says why and what to do."""


def must_be_writable(path: Path) -> os.stat_result:
    """Return what the system says of a file, or refuse if it is not there or was made read-only.

    Raises
    ------
    NotWritable
        It is not there, or may only be read. Permissions do not bind whoever looks after the machine, yet a
        file that was made read-only is meant to stay as it is.
    """
    try:
        found = path.stat()
    except FileNotFoundError:
        raise NotWritable(
            f"{path} is not there any more: it was moved, renamed or deleted, or its drive was taken out. "
            "Put it back in its place, or open it from where it is now, and make the change again."
        ) from None
    if not found.st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH) or not os.access(path, os.W_OK):
        raise NotWritable(f"{path} is read-only. Make it writable, and make the change again.")
    return found
