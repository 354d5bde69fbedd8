"""Opening, starting and closing farms, changing them, taking changes back, and their dated copies."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QStandardPaths, QTimer, Signal

from farmmap.errors import FarmFileError, FarmmapError
from farmmap.progress import Progress
from farmmap.resource_files import sample_farm_files
from farmmap.window.edit_queue import Asked, Chore, EditQueue, Preparer
from farmmap.window.jobs import Jobs
from farmmap.window.open_file import LOOK_S, REFRESH_S, OpenFile, open_file, stamp_of, why_held
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.edits import Edit
    from farmmap.files.copies import DatedCopy

QUIET_MS = 400
"""How long after a farm was opened, or was found to be at work, it is asked whether all is quiet. [ms]"""
COPIES_KEPT = 10
CHANGED_SINCE = "It has been changed since; “Try again” reads it as it is now."


class FarmFiles(QObject):
    """Brings farm files into the session and edits into farm files."""

    opened = Signal(object)
    """Path of a farm that was opened."""
    history_changed = Signal()
    """What can be taken back or done again is another."""
    went = Signal(str)
    """What was taken back or done again, or what copy was gone back to, in a sentence."""
    not_opened = Signal(object, object)
    """Path of a farm that could not be opened, and the error."""
    no_copy = Signal(object)
    """The error for which no dated copy was kept."""

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self._queue = EditQueue(session, jobs, self)
        self._queue.written.connect(self._written)
        self._queue.refused.connect(self._refused)
        self._file: OpenFile | None = None
        self._to_copy: OpenFile | None = None
        self._released: list[OpenFile] = []
        self._rehearsed: OpenFile | None = None
        self._quiet_timer = QTimer(self)
        self._quiet_timer.setSingleShot(True)
        self._quiet_timer.setInterval(QUIET_MS)
        self._quiet_timer.timeout.connect(self.rehearse)
        self._hold_timer = QTimer(self)
        self._hold_timer.setInterval(round(REFRESH_S * 1000))
        self._hold_timer.timeout.connect(self.refresh_hold)
        self._look_timer = QTimer(self)
        self._look_timer.setInterval(round(LOOK_S * 1000))
        self._look_timer.timeout.connect(self.look_for_changes)

    # Opening and closing

    def open(self, path: Path) -> None:
        """Open a farm file; one that is open already is read again once the edits that wait are in it."""
        file = self._file
        if file is not None and _is(file, path) and not self._queue.is_empty():
            self._queue.add(Chore(file, _nothing, lambda: self.open(path)))
            return
        self._open(path, lambda progress: open_file(path, progress, file if _is(file, path) else None))

    def start_new(self, name: str, epsg: str, path: Path) -> None:
        """Make a farm file and open it."""

        def make(progress: Progress) -> OpenFile:
            from farmmap.farm.farm import new_farm
            from farmmap.files.farm_file import write_farm

            write_farm(new_farm(name, epsg), path)
            return open_file(path, progress)

        self._open(path, make, f"Starting {name}")

    def open_sample(self) -> None:
        """Open the user's own copy of the sample farm, made the first time."""
        path = own_sample_path()
        file = self._file if _is(self._file, path) else None

        def copy_and_read(progress: Progress) -> OpenFile:
            make_own_sample()
            return open_file(path, progress, file)

        self._open(path, copy_and_read, "Opening the sample farm")

    def write_to(self, path: Path) -> None:
        """Write the farm as it is shown into another file, and open that."""
        farm, own = self._session.farm, self._session.path

        def write_and_read(progress: Progress) -> OpenFile:
            from farmmap.files.farm_file import write_farm
            from farmmap.files.raster_backdrops import with_paths_from

            assert farm is not None
            write_farm(with_paths_from(farm, None if own is None else own.parent, path.parent), path, replace=True)
            return open_file(path, progress)

        if farm is not None and not _is(self._file, path):
            self._open(path, write_and_read, f"Writing {path.stem}", may_stop=False)

    def close(self) -> None:
        """Close the farm; edits that wait are still written."""
        self._jobs.stop("open")
        self._session.close_farm()
        self._put_aside()
        self.history_changed.emit()

    def finish(self) -> None:
        """Write what still waits and let go of all files, in this thread; called after the jobs were closed.

        Raises
        ------
        FarmFileError
            Edits do not go into their file, which holds all those before them.
        """
        for timer in (self._hold_timer, self._quiet_timer, self._look_timer):
            timer.stop()
        try:
            self._queue.finish()
        finally:
            for file in (*self._released, *([] if self._file is None else [self._file])):
                file.close()

    # Changing the farm

    def prepare_by(self, preparer: Preparer) -> None:
        """Let a part of the window work out in the background what it will show of the farm after an edit."""
        self._queue.preparers.append(preparer)

    def carry_figures_for(self, values: Callable[[], Mapping[str, float]]) -> None:
        """Let the figures that are carried over an edit be those for what is set in the panels."""
        self._queue.values = values

    def carry_out(
        self,
        edit: Edit,
        done: Callable[[], None] | None = None,
        failed: Callable[[BaseException], None] | None = None,
        owner: QObject | None = None,
    ) -> None:
        """Write an edit into the file of the farm that is open now, and show the farm that comes of it.

        It goes into that file even if another farm is opened before its turn
        comes. Nothing of it is shown before it is in the file.

        Parameters
        ----------
        edit : Edit
            What changes.
        done, failed : callable, optional
            Called when it is in the file, or with the reason why it is not.
        owner : QObject, optional
            Who asked; if it is gone by then the window is told of a failure in its stead.
        """
        file = self._file_to_change(edit.name, failed)
        if file is not None:
            self._queue.add(Asked(file, edit.name, lambda: edit, file.history.record, done, failed, owner))

    def undo(self, steps: int = 1) -> None:
        """Take back what was done last in this farm, or the last few things one after the other."""
        file = self._file_to_change("Undo")
        if file is not None:
            history = file.history
            for _ in range(steps):
                self._queue.add(self._step(file, "Undo", history.undo, history.done_undo, "Taken back"))

    def redo(self) -> None:
        """Do again what was taken back last."""
        file = self._file_to_change("Redo")
        if file is not None:
            self._queue.add(self._step(file, "Redo", file.history.redo, file.history.done_redo, "Done again"))

    @property
    def undo_name(self) -> str:
        """What `undo` would take back, in words; "" if there is nothing."""
        return "" if self._file is None else self._file.history.undo_name

    @property
    def redo_name(self) -> str:
        """What `redo` would do again, in words; "" if there is nothing."""
        return "" if self._file is None else self._file.history.redo_name

    @property
    def done_names(self) -> tuple[str, ...]:
        """Everything that could be taken back, the last first."""
        return () if self._file is None else self._file.history.names

    def rehearse(self) -> None:
        """Get ready for the first edit of the farm that was opened, once nothing else is to be done."""
        if self._file is None or self._file is self._rehearsed or self._file.look_only:
            return
        if self._jobs.is_busy() or not self._queue.is_empty():
            self._quiet_timer.start()
            return
        self._rehearsed = self._file
        self._queue.rehearse(self._file)

    # Copies

    def keep_copy(self) -> None:
        """Keep a dated copy of the farm as it was opened, unless that was done; before the first edit at the latest."""
        file, self._to_copy = self._to_copy, None
        if file is None or file.look_only:
            return

        def keep(_progress: Progress) -> None:
            from farmmap.files.copies import keep_copy

            keep_copy(file.path, copies_folder(), COPIES_KEPT)

        self._queue.add(Chore(file, keep, failed=self.no_copy.emit))

    def go_back(self, path: Path, copy: DatedCopy) -> None:
        """Put a dated copy in the place of a farm file, which is kept as a copy itself, and open it."""
        file = self._file if _is(self._file, path) else None
        if file is not None and not self._queue.is_empty():
            self._queue.add(Chore(file, _nothing, lambda: self.go_back(path, copy)))
            return
        words = f"Going back to an earlier copy of {path.stem}"
        from farmmap.window.copies_dialog import moment_in_words

        kept = "What was there is kept as a copy; Undo begins anew." if path.exists() else ""
        gone = f"Went back to the copy of {moment_in_words(copy.taken)}. {kept}".strip()
        self._open(path, lambda progress: open_file(path, progress, file, copy), words, may_stop=False, said=gone)

    # The hold

    def refresh_hold(self) -> None:
        """Make the hold on the open farm good, or find out that somebody else has it now."""
        file = self._file
        if file is None or file.hold is None:
            return

        def fail(error: BaseException) -> None:
            self._refused(file, error)  # a drive that is away for a moment is tried again

        self._jobs.start("hold", lambda _progress: file.refresh_hold(), lambda _answer: None, fail)

    def look_for_changes(self) -> None:
        """Find out whether a farm that is only looked at was changed since it was read, and say so."""
        file = self._file
        if file is None or not file.look_only or file.is_stale:
            return

        def tell(stamp: object) -> None:
            if file is self._file and stamp != file.stamp:
                file.is_stale = True
                self._session.only_look(f"{file.look_only} {CHANGED_SINCE}")

        self._jobs.start("look", lambda _progress: stamp_of(file.path), tell, lambda _error: None)

    # How it is done

    def _open(
        self,
        path: Path,
        read: Callable[[Progress], OpenFile],
        words: str = "",
        *,
        may_stop: bool = True,
        said: str = "",
    ) -> None:
        known = self._file.farm if self._file is not None and _is(self._file, path) else None

        def show(file: OpenFile) -> None:
            before = self._file
            if before is not None and _is(before, path) and (before.farm is not known or not self._queue.is_empty()):
                file.stop_writing()
                self.open(path)  # it was read while an edit was written
                return
            self._show(file)
            if said:
                self.went.emit(said)

        def fail(error: BaseException) -> None:
            self.not_opened.emit(path, error)

        self._jobs.start("open", read, show, fail, words=words or f"Opening {path.stem}", may_stop=may_stop)

    def _show(self, file: OpenFile) -> None:
        before, self._file = self._file, file
        if before is not None and before.hold is file.hold:
            before.stop_writing()
        elif before is not None:
            self._release(before)
        self._to_copy = file
        for timer in (self._hold_timer, self._quiet_timer, self._look_timer):
            timer.start()
        self._session.open_farm(file.farm, file.path, file.days, file.look_only)
        self.opened.emit(file.path)
        self.history_changed.emit()

    def _put_aside(self) -> None:
        file, self._file, self._to_copy = self._file, None, None
        self._hold_timer.stop()
        self._look_timer.stop()
        if file is not None:
            self._release(file)

    def _release(self, file: OpenFile) -> None:
        """Let go of a file once the edits that wait are in it."""
        self._released.append(file)

        def let_go(_progress: Progress) -> None:
            file.close()

        self._queue.add(Chore(file, let_go, lambda: self._released.remove(file)))

    def _file_to_change(self, name: str, failed: Callable[[BaseException], None] | None = None) -> OpenFile | None:
        file = self._file
        why = "No farm is open." if file is None else file.look_only
        if why:
            error = FarmFileError(f"“{name}” was not done. {why}")
            (self._jobs.failed.emit if failed is None else failed)(error)
            return None
        self.keep_copy()
        return file

    def _step(
        self, file: OpenFile, name: str, find: Callable[[], Edit | None], settle: Callable[[], None], said: str
    ) -> Asked:
        """One step back or on again in the history of a farm."""
        from farmmap.window.tools.sentences import sentence, within

        def settled(edit: Edit) -> None:
            settle()
            if file is self._file:
                self.went.emit(sentence(f"{said}: {within(edit.name)}"))

        def failed(error: BaseException) -> None:
            if isinstance(error, FarmmapError) and not isinstance(error, FarmFileError):
                file.history.clear()
                self.history_changed.emit()
                words = "The farm was changed elsewhere since, so what was done before cannot be taken back any more."
                error = FarmmapError(f"{error}. {words}")
            self._jobs.failed.emit(error)

        return Asked(file, name, find, settled, failed=failed)

    def _written(self, file: OpenFile) -> None:
        if file is self._file:
            self.history_changed.emit()

    def _refused(self, file: OpenFile, error: BaseException) -> None:
        from farmmap.files.holding import HeldByAnother

        if isinstance(error, HeldByAnother):
            self._lost(file, error)

    def _lost(self, file: OpenFile, error: BaseException) -> None:
        """Look only from now on."""
        file.lose_hold(why_held(error))
        self._queue.add(Chore(file, lambda _progress: file.stop_writing()))
        if file is self._file:
            self._session.only_look(file.look_only)
            self.history_changed.emit()


def _is(file: OpenFile | None, path: Path) -> bool:
    return file is not None and (file.path == path or file.path.resolve() == path.resolve())


def _nothing(_progress: Progress) -> None:
    """Wait for a turn."""


def data_folder() -> Path:
    """Return the folder of what farmmap keeps for this user."""
    return Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericDataLocation)) / "farmmap"


def copies_folder() -> Path:
    """Return the folder of the dated copies of farms."""
    return data_folder() / "copies"


def own_sample_path() -> Path:
    """Return where the user's own copy of the sample farm is, or will be."""
    return data_folder() / "Pipit Downs.gpkg"


def make_own_sample() -> None:
    """Make the user's own copy of the sample farm, which may be changed at will, if it is not there.

    Raises
    ------
    FarmFileError
        The sample did not come with this farmmap, or cannot be copied.
    """
    own = own_sample_path()
    if own.is_file():
        return
    try:
        own.parent.mkdir(parents=True, exist_ok=True)
        farm, *pictures = sample_farm_files()
        for picture in pictures:
            shutil.copyfile(picture, own.with_name(picture.name))
        beside = own.with_suffix(".part")
        shutil.copyfile(farm, beside)
        beside.replace(own)
    except FileNotFoundError as error:
        raise FarmFileError(str(error)) from error
    except OSError as error:
        raise FarmFileError(f"The sample farm could not be copied to {own}: {error.strerror or error}") from error
