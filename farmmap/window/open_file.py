"""One farm file that is open in the window: the hold on it, the connection that writes into it, what was done to it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from farmmap.errors import FarmFileError
from farmmap.progress import Progress

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.editing.history import History
    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm
    from farmmap.files.copies import DatedCopy
    from farmmap.files.farm_writer import FarmWriter
    from farmmap.files.holding import Hold
    from farmmap.window.farm_days import FarmDays

REFRESH_S = 25.0
"""How often the hold on the open farm is made good. [s]"""
LOOK_S = 3.0
"""How often it is found out whether a farm that is only looked at was changed by whoever holds it. [s]"""
MOST_ROWS_IN_PLACE = 20_000
"""Rows up to which an edit is written in place; a larger one goes into a new file that takes the place of the old."""


@dataclass(eq=False)
class OpenFile:
    """A farm file that is open.

    Attributes
    ----------
    path : Path
        The file.
    farm : Farm
        What the file holds.
    days : FarmDays
        Days of that farm.
    history : History
        What was done to it since it was opened.
    hold : Hold or None
        Keeps others from changing it.
    writer : FarmWriter or None
        The one connection that writes into it; None if it may only be looked at.
    look_only : str
        Why it may only be looked at, in words; "" if it may be changed.
    """

    path: Path
    farm: Farm
    days: FarmDays
    history: History
    hold: Hold | None
    writer: FarmWriter | None
    look_only: str = ""
    refreshed: float = 0.0
    """When the hold was last made good, by the computer's clock. [s]"""
    stamp: tuple[int, ...] = ()
    """What the file looked like from outside when ``farm`` was in it, see `stamp_of`."""
    is_stale: bool = False
    """Whether it was changed by others since, as far as is known."""

    def write(self, edit: Edit, on_sync: Callable[[], object] = lambda: None) -> None:
        """Write an edit into the file, whole or not at all.

        Parameters
        ----------
        edit : Edit
            What to write.
        on_sync : callable
            As for `FarmWriter.write`; a large edit calls it at once.

        Raises
        ------
        FarmFileError
            It cannot be written, or the file is not the one that was opened any more. The file is as it was.
        """
        from farmmap.files.farm_file import write_edit_beside

        if self.writer is None or self.look_only:
            raise FarmFileError(f"'{edit.name}' was not written: {self.look_only or 'the farm is closed'}")
        if time.time() - self.refreshed > REFRESH_S:  # the machine may have slept, and another taken the farm over
            self.refresh_hold()
        rows = sum(len(change.before) + len(change.after) for change in edit.changes.values())
        if rows <= MOST_ROWS_IN_PLACE:
            self.writer.write(edit, on_sync)
        else:
            on_sync()
            if stamp_of(self.path)[:1] != self.stamp[:1]:
                raise FarmFileError(f"'{edit.name}' was not written: {self.path} was replaced by another file.")
            self.stop_writing()  # it knows the file that is there now, and on some systems keeps it in its place
            try:
                write_edit_beside(self.path, edit)
            finally:
                self.writer, self.look_only = _writer_of(self.path)
        self.stamp = stamp_of(self.path)

    def refresh_hold(self) -> None:
        """Give a sign of life, so that nobody takes the farm over.

        Raises
        ------
        FarmFileError
            Somebody else holds it now, or its folder may not be written to any more.
        """
        if self.hold is not None:
            self.hold.refresh()
            self.refreshed = time.time()

    def lose_hold(self, why: str) -> None:
        """Look only from now on; what waits to be written is refused, and `stop_writing` should follow."""
        self.look_only, self.hold = why, None

    def stop_writing(self) -> None:
        """Close the connection; the hold stays."""
        writer, self.writer = self.writer, None
        if writer is not None:
            writer.close()

    def close(self) -> None:
        """Close the connection and let others change the file."""
        self.stop_writing()
        hold, self.hold = self.hold, None
        if hold is not None:
            hold.let_go()


def open_file(
    path: Path, progress: Progress, before: OpenFile | None = None, back_to: DatedCopy | None = None
) -> OpenFile:
    """Read a farm file and take hold of it, or find out why it may only be looked at.

    Parameters
    ----------
    path : Path
        The file.
    progress : Progress
        Told how far it is.
    before : OpenFile, optional
        The same file as it is open already; hold and history go over to the one returned.
    back_to : DatedCopy, optional
        Put into the place of the file first.

    Raises
    ------
    FarmFileError
        It cannot be read, or ``back_to`` not be put in its place. Nothing is held that was not held before.
    """
    from farmmap.editing.history import History
    from farmmap.files.farm_file import read_farm
    from farmmap.window.farm_days import farm_days

    kept = None if before is None else before.hold
    hold, why = (kept, "") if kept is not None else _take_hold(path)
    history = History() if before is None or back_to is not None else before.history
    writer = None
    try:
        if back_to is not None:
            _go_back(path, back_to, before, why)
        if hold is not None:
            writer, why = _writer_of(path)  # before it is read, so that what is written to is what was read
        stamp = stamp_of(path)
        farm = read_farm(path, progress)
        days = farm_days(farm)
    except BaseException:
        if writer is not None:
            writer.close()
        if hold is not None and hold is not kept:
            hold.let_go()
        if before is not None and before.writer is None and not before.look_only:
            before.writer, before.look_only = _writer_of(path)  # the window goes on with it
        raise
    return OpenFile(path, farm, days, history, hold, writer, why, time.time(), stamp)


def stamp_of(path: Path) -> tuple[int, ...]:
    """Return what tells a file from what it was before a change: which it is, its time and size; () if it is gone."""
    try:
        now = path.stat()
    except OSError:
        return ()
    return now.st_ino, now.st_mtime_ns, now.st_size


def _go_back(path: Path, copy: DatedCopy, before: OpenFile | None, why: str) -> None:
    from farmmap.files.copies import go_back

    if why:
        raise FarmFileError(f"“{path.name}” was left as it is. {why}")
    if before is not None:
        before.stop_writing()
    go_back(path, copy)


def _take_hold(path: Path) -> tuple[Hold | None, str]:
    from farmmap.files.holding import take_hold
    from farmmap.files.refusals import NotWritable, must_be_writable

    try:
        if path.exists():
            must_be_writable(path)
        return take_hold(path), ""
    except NotWritable:
        return None, f"“{path.name}” is read-only. Make it writable to change it here."
    except FarmFileError as error:
        return None, why_held(error)


def why_held(error: BaseException) -> str:
    """Return why a farm may only be looked at, in a sentence."""
    from farmmap.files.holding import HeldByAnother

    if isinstance(error, HeldByAnother):
        return f"This farm is {error.holder.words}. Once it is closed there, it can be changed here."
    return str(error)


def _writer_of(path: Path) -> tuple[FarmWriter | None, str]:
    from farmmap.files.farm_writer import FarmWriter

    try:
        return FarmWriter(path), ""
    except FarmFileError as error:  # where it cannot be read either, the reader says so in words of its own
        return None, str(error)
