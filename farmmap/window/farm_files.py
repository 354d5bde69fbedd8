"""Opening, starting and closing farms, and writing edits, all in the background."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QStandardPaths, Signal
from shiboken6 import isValid

from farmmap.errors import FarmFileError
from farmmap.progress import Progress
from farmmap.resource_files import sample_farm_path
from farmmap.window.jobs import Jobs
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm
    from farmmap.window.farm_days import FarmDays

_Opened = tuple["Farm", Path, "FarmDays"]


@dataclass
class _Asked:
    """An edit that waits to be written, where it belongs, and who wants to know."""

    edit: Edit
    path: Path
    farm: Farm
    """The farm that the file holds when its turn comes."""
    done: Callable[[], None] | None
    failed: Callable[[BaseException], None] | None
    owner: QObject | None
    is_written: bool = False

    def is_there(self) -> bool:
        return self.owner is None or isValid(self.owner)


class FarmFiles(QObject):
    """Brings farm files into the session and edits into farm files."""

    opened = Signal(object)
    """Path of a farm that was opened."""

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self._edits: list[_Asked] = []

    def open(self, path: Path) -> None:
        """Open a farm file."""
        self._jobs.start("open", lambda progress: _read(path, progress), self._show, words=f"Opening {path.stem}")

    def start_new(self, name: str, epsg: str, path: Path) -> None:
        """Make a farm file and open it."""

        def make(progress: Progress) -> _Opened:
            from farmmap.farm.farm import new_farm
            from farmmap.files.farm_file import write_farm

            write_farm(new_farm(name, epsg), path)
            return _read(path, progress)

        self._jobs.start("open", make, self._show, words=f"Starting {name}")

    def open_sample(self) -> None:
        """Open the user's own copy of the sample farm, made the first time."""

        def copy_and_read(progress: Progress) -> _Opened:
            return _read(own_sample(), progress)

        self._jobs.start("open", copy_and_read, self._show, words="Opening the sample farm")

    def close(self) -> None:
        """Close the farm; edits that wait are still written."""
        self._jobs.stop("open")
        self._session.close_farm()

    def carry_out(
        self,
        edit: Edit,
        done: Callable[[], None] | None = None,
        failed: Callable[[BaseException], None] | None = None,
        owner: QObject | None = None,
    ) -> None:
        """Write an edit into the file of the farm that is open now, and show the farm that comes of it.

        It goes into that file even if another farm is opened before its turn comes.

        Parameters
        ----------
        edit : Edit
            What changes.
        done, failed : callable, optional
            Called when it is in the file, or with the reason why it is not.
        owner : QObject, optional
            Who asked; if it is gone by then the window is told of a failure in its stead.
        """
        farm, path = self._session.farm, self._session.path
        if farm is None or path is None:
            error = FarmFileError(f"'{edit.name}' was not written: no farm is open.")
            (self._jobs.failed.emit if failed is None else failed)(error)
            return
        self._edits.append(_Asked(edit, path, farm, done, failed, owner))
        if len(self._edits) == 1:
            self._write_next()

    def finish(self) -> None:
        """Write what still waits, in this thread; called after the jobs were closed.

        Raises
        ------
        FarmmapError
            An edit does not go into its file, which is as it was; those before it are written.
        """
        from farmmap.files.farm_file import write_edit

        waiting, self._edits = self._edits, []
        for asked in waiting:
            if not asked.is_written:
                write_edit(asked.path, asked.edit)

    def _write_next(self) -> None:
        """Write the edit that has waited longest; each is made for the farm that the one before left."""
        if not self._edits:
            return
        asked = self._edits[0]
        edit, path, farm = asked.edit, asked.path, asked.farm

        def write(progress: Progress) -> tuple[Farm, FarmDays]:
            from farmmap.files.farm_file import write_edit
            from farmmap.window.farm_days import farm_days

            progress.step(0, 2, "trying the change")
            after = edit.apply(farm)
            days = farm_days(after)
            progress.step(1, 2, "writing the farm file")
            write_edit(path, edit)
            asked.is_written = True
            return after, days

        def show(answer: tuple[Farm, FarmDays]) -> None:
            try:
                self._take_over(asked, *answer)
                if asked.done is not None and asked.is_there():
                    asked.done()
            finally:
                self._edits.pop(0)
                self._write_next()

        def refuse(error: BaseException) -> None:
            try:
                (asked.failed if asked.failed is not None and asked.is_there() else self._jobs.failed.emit)(error)
            finally:
                self._edits.pop(0)
                self._write_next()

        self._jobs.start("write", write, show, refuse, words=edit.name, may_stop=False)

    def _take_over(self, asked: _Asked, after: Farm, days: FarmDays) -> None:
        """Go on with the farm that an edit left, wherever the one before is still in use."""
        before = asked.farm  # it is still the first of the queue, so the loop changes it too
        for later in self._edits:
            if later.path == asked.path:
                later.farm = after
        if self._session.farm is before:
            self._session.replace_farm(after, days)
        elif self._session.path == asked.path:
            self.open(asked.path)  # it was read again meanwhile, perhaps before this was written

    def _show(self, opened: _Opened) -> None:
        self._session.open_farm(*opened)
        self.opened.emit(opened[1])


def own_sample() -> Path:
    """Return the user's own copy of the sample farm, which may be changed at will; made if it is not there.

    Raises
    ------
    FarmFileError
        It did not come with this farmmap, or cannot be copied.
    """
    place = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericDataLocation)) / "farmmap"
    own = place / "Pipit Downs.gpkg"
    if not own.is_file():
        try:
            place.mkdir(parents=True, exist_ok=True)
            beside = own.with_suffix(".part")
            shutil.copyfile(sample_farm_path(), beside)
            beside.replace(own)
        except FileNotFoundError as error:
            raise FarmFileError(str(error)) from error
        except OSError as error:
            raise FarmFileError(f"The sample farm could not be copied to {place}: {error.strerror or error}") from error
    return own


def _read(path: Path, progress: Progress) -> _Opened:
    from farmmap.files.farm_file import read_farm
    from farmmap.window.farm_days import farm_days

    farm = read_farm(path, progress)
    return farm, path, farm_days(farm)
