"""Dated copies of a farm file in the user's data folder, and going back to one."""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import os
import re
import shutil
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from farmmap.errors import FarmFileError
from farmmap.files.farm_tables import read_settings
from farmmap.files.placing import (
    JOURNALS,
    connected,
    copied,
    like,
    part_file,
    put_in_place,
    replace_database,
    still_or_gone,
)
from farmmap.files.refusals import why
from farmmap.files.turns import turn

MOST = 10
"""Copies of a farm that are kept."""

_NAME = re.compile(r"(?P<taken>\d{4}-\d\d-\d\d \d{6})(?: (?P<number>\d+))?\.gpkg")
_TAKEN = "%Y-%m-%d %H%M%S"


@dataclass(frozen=True)
class DatedCopy:
    """A copy of a farm file as it was at some moment.

    Attributes
    ----------
    path : Path
        Where the copy lies.
    taken : datetime
        When it was made, in local time.
    bytes : int
        Its size.
    """

    path: Path
    taken: dt.datetime
    bytes: int

    def counts(self) -> tuple[int, int]:
        """Return the number of blocks and of trees in it; takes some tenths of a second at a million trees.

        Raises
        ------
        FarmFileError
            The copy cannot be read.
        """
        self.must_be_there()
        try:
            with contextlib.closing(connected(self.path, "ro")) as connection:
                blocks, trees = connection.execute(
                    "SELECT (SELECT count(*) FROM blocks), (SELECT count(*) FROM trees)"
                ).fetchone()
        except sqlite3.Error as error:
            raise FarmFileError(f"the copy {self.path} cannot be read: {why(error)}.") from error
        return int(blocks), int(trees)

    def must_be_there(self) -> None:
        """Refuse to go on if the copy was deleted or moved.

        Raises
        ------
        FarmFileError
            It is not there any more.
        """
        if not self.path.is_file():
            raise FarmFileError(
                f"The copy of {self.taken:%Y-%m-%d %H:%M} is not there any more: {self.path} was deleted or moved, or "
                "its drive was taken out. Choose another copy."
            )


def keep_copy(path: str | Path, folder: str | Path, most: int = MOST) -> Path | None:
    """Keep a dated copy of a farm file; to be called once it has been read without fault.

    Parameters
    ----------
    path : str or Path
        The farm file.
    folder : str or Path
        Folder for the copies of all farms; each has a folder of its own in it.
    most : int
        Copies to keep; older ones are deleted once the new one is safe.

    Returns
    -------
    Path or None
        The copy; None if there is a copy of the file as it is now already.

    Raises
    ------
    FarmFileError
        No copy can be made. The farm file and the older copies are as they were.
    """
    path, place = Path(path), _place(Path(path), Path(folder))
    try:
        place.mkdir(parents=True, exist_ok=True)
        made = _keep(path, place)
    except (sqlite3.Error, OSError) as error:
        message = f"No copy of {path} could be kept in {place}: {why(error)}. The farm itself is not harmed."
        raise FarmFileError(message) from error
    if made is not None:
        _drop_oldest(place, most)
    return made


def copies_of(path: str | Path, folder: str | Path) -> tuple[DatedCopy, ...]:
    """Return the copies of a farm file, newest first.

    Parameters
    ----------
    path : str or Path
        The farm file; it need not be there any more.
    folder : str or Path
        As given to `keep_copy`.
    """
    return _copies(_place(Path(path), Path(folder)))


def go_back(path: str | Path, copy: DatedCopy) -> None:
    """Put a copy in the place of the farm file; what is there now is kept as a copy first.

    A `farmmap.files.farm_writer.FarmWriter` of the file has to be opened anew afterwards.

    Parameters
    ----------
    path : str or Path
        The farm file; it need not be there any more, and may be damaged.
    copy : DatedCopy
        One of `copies_of`.

    Raises
    ------
    FarmFileError
        The copy is gone or damaged, or cannot be put there. The file is as it was.
    """
    path = Path(path)
    real = path.resolve()
    copy.must_be_there()
    try:
        with turn(path):
            if real.exists() and _is_copy(copy.path, real):
                return
            _must_be_sound(copy.path)
            _keep_what_is_there(real, copy.path.parent)
            with part_file(real) as part:
                shutil.copyfile(copy.path, part)
                if real.exists():
                    like(part, real)
                now = part.stat()
                os.utime(copy.path, ns=(now.st_atime_ns, now.st_mtime_ns))  # known as what is there from now on
                with still_or_gone(real) as still:
                    replace_database(part, real, still)
    except (sqlite3.Error, OSError) as error:
        message = f"Going back to the copy of {copy.taken:%Y-%m-%d %H:%M} failed: {why(error)}. {path} is as it was."
        raise FarmFileError(message) from error
    _drop_oldest(copy.path.parent, MOST, spare=copy.path)


def _place(path: Path, folder: Path) -> Path:
    real = path.resolve()
    return folder / f"{real.stem[:60]}-{hashlib.sha256(os.path.normcase(real).encode()).hexdigest()[:10]}"


def _copies(place: Path) -> tuple[DatedCopy, ...]:
    found: list[DatedCopy] = []
    with contextlib.suppress(OSError), os.scandir(place) as entries:
        for entry in entries:
            name = _NAME.fullmatch(entry.name)
            if name is not None:
                with contextlib.suppress(ValueError, OSError):
                    taken = dt.datetime.strptime(name["taken"], _TAKEN).astimezone()
                    found.append(DatedCopy(Path(entry.path), taken, entry.stat().st_size))
    return tuple(sorted(found, key=lambda copy: (copy.taken, len(copy.path.name), copy.path.name), reverse=True))


def _keep(path: Path, place: Path) -> Path | None:
    """Copy a farm file as it is at one moment; None if there is such a copy."""
    mode = "rw" if os.access(path, os.W_OK) and os.access(path.parent, os.W_OK) else "ro"
    with part_file(place / "copy") as part:  # one name for all, by which parts left by a kill are found
        with turn(path), contextlib.closing(connected(path, mode)) as connection:
            connection.execute("BEGIN")
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()  # from here on nobody else writes
            if any(_is_copy(copy.path, path) for copy in _copies(place)):
                return None
            now = path.stat()
            copied(connection, part)
        os.utime(part, ns=(now.st_atime_ns, now.st_mtime_ns))
        target = _free_name(place, dt.datetime.now().astimezone().strftime(_TAKEN))
        put_in_place(part, target)  # takes longest on a slow disk; edits need not wait for it
    return target


def _is_copy(copy: Path, path: Path) -> bool:
    """Whether a copy holds what the farm file holds now: both bear the same size and time of change."""
    one, other = copy.stat(), path.stat()
    return (one.st_size, one.st_mtime_ns) == (other.st_size, other.st_mtime_ns)


def _free_name(place: Path, taken: str) -> Path:
    """Return a name that sorts after all of that second, also where the first of them were deleted since."""
    names = [_NAME.fullmatch(entry.name) for entry in place.iterdir()]
    used = [int(name["number"] or 1) for name in names if name is not None and name["taken"] == taken]
    return place / (f"{taken} {max(used) + 1}.gpkg" if used else f"{taken}.gpkg")


def _keep_what_is_there(path: Path, place: Path) -> None:
    """Keep the farm file before another takes its place; one that is damaged is kept as it is, with its journal."""
    if not path.exists():
        return
    try:
        _keep(path, place)
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", None) not in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
            raise
        name = f"{dt.datetime.now().astimezone().strftime(_TAKEN)} damaged.gpkg"
        for ending in ("", *JOURNALS):
            if Path(f"{path}{ending}").exists():
                shutil.copyfile(f"{path}{ending}", place / f"{name}{ending}")


def _must_be_sound(copy: Path) -> None:
    """Refuse a copy that is no whole farm file."""
    with contextlib.closing(connected(copy, "ro")) as connection:
        read_settings(connection, copy)
        (said,) = connection.execute("PRAGMA quick_check(1)").fetchone()
        if said != "ok":
            raise FarmFileError(f"The copy {copy} is damaged ({said}); choose another.")


def _drop_oldest(place: Path, most: int, spare: Path | None = None) -> None:
    for copy in _copies(place)[most:]:
        if copy.path != spare:
            with contextlib.suppress(OSError):
                copy.path.unlink()
