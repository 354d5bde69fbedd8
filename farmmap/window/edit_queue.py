"""Edits in their turn: each is written in the background, and shown once it is in the file, never before."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from shiboken6 import isValid

from farmmap.errors import FarmFileError, FarmmapError
from farmmap.progress import Progress
from farmmap.window.jobs import Jobs
from farmmap.window.open_file import OpenFile
from farmmap.window.session import Session, after_edit

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.farm.edits import Edit
    from farmmap.farm.farm import Farm
    from farmmap.scene.scene import Chosen
    from farmmap.window.farm_days import FarmDays


class NotWritten(FarmFileError):
    """A change is not in the farm file, and so not on the screen either; the message says why and what to do."""


@dataclass(frozen=True)
class Coming:
    """What the window is about to show.

    Attributes
    ----------
    before, farm : Farm
        The farm before and after the edit.
    edit : Edit
        What was done.
    on : date
        Date of everything.
    chosen : Chosen or None
        What is chosen.
    """

    before: Farm
    farm: Farm
    edit: Edit
    on: dt.date
    chosen: Chosen | None


Show = Callable[[], None]
"""Puts in place what was worked out, in the window's thread."""
Preparer = Callable[[], "Callable[[Coming], Show] | None"]
"""Asked in the window's thread before an edit is written. What it returns works in the background."""


@dataclass(eq=False)
class Asked:
    """An edit that waits to be written.

    Attributes
    ----------
    file : OpenFile
        Where it belongs.
    name : str
        What it does, in words.
    find : callable
        Gives the edit when its turn comes; None if there is nothing to do any more.
    settle : callable
        Called with the edit once it is in the file.
    done, failed : callable or None
        Who wants to know.
    owner : QObject or None
        Who asked; if it is gone the window is told of a failure in its stead.
    is_written : bool
        Whether it is in the file.
    """

    file: OpenFile
    name: str
    find: Callable[[], Edit | None]
    settle: Callable[[Edit], None]
    done: Callable[[], None] | None = None
    failed: Callable[[BaseException], None] | None = None
    owner: QObject | None = None
    edit: Edit | None = None
    is_written: bool = False

    def is_there(self) -> bool:
        """Whether who asked is still there."""
        return self.owner is None or isValid(self.owner)


@dataclass(eq=False)
class Chore:
    """Other work on a file that has its turn among the edits."""

    file: OpenFile
    work: Callable[[Progress], object]
    then: Callable[[], None] | None = None
    failed: Callable[[BaseException], None] | None = None
    words: str = ""


@dataclass(frozen=True)
class _Written:
    farm: Farm
    days: FarmDays
    shows: list[Show]
    trouble: Exception | None

    def show_all(self) -> None:
        for show in self.shows:
            show()


class EditQueue(QObject):
    """Writes edits one after the other and lets the window show each in one step."""

    written = Signal(object)
    """An `OpenFile` that an edit was written into."""
    refused = Signal(object, object)
    """An `OpenFile` and the error for which an edit could not be written into it; who asked is told besides."""

    def __init__(self, session: Session, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session, self._jobs = session, jobs
        self._waiting: list[Asked | Chore] = []
        self._pen = ThreadPoolExecutor(1, "farmmap writing")
        self.preparers: list[Preparer] = []
        """Those who show the farm, and can work out in the background what they will show of the next."""
        self.values: Callable[[], Mapping[str, float]] = dict[str, float]
        """Gives what was set in the panels, such as ``class_cm``."""

    def is_empty(self) -> bool:
        """Whether nothing waits or is being written."""
        return not self._waiting

    def add(self, task: Asked | Chore) -> None:
        """Put a task at the end."""
        self._waiting.append(task)
        if len(self._waiting) == 1:
            self._start_next()

    def rehearse(self, file: OpenFile) -> None:
        """Go through a change that changes nothing, in the background and without the file.

        What is made only once, such as an index of a million trees, is there when the first edit comes.
        """
        session, values, before = self._session, self.values(), file.farm
        ready = self._ready(file)
        if not len(before.blocks):
            return

        def go(_progress: Progress) -> None:
            from farmmap.farm.edits import rows_changed

            same = rows_changed(before, "Rehearsal", "blocks", before.blocks.iloc[:1])
            _worked_out(session, file, before, same.apply(before), same, ready, values)

        self._jobs.start("rehearse", go, lambda _answer: None, lambda _error: None)

    def finish(self) -> None:
        """Write what still waits, in this thread; called after the jobs were closed.

        Raises
        ------
        FarmFileError
            Edits do not go into their file, which holds all those before them.
        """
        self._pen.shutdown()
        waiting, self._waiting = self._waiting, []
        lost: list[str] = []
        reason: FarmmapError | None = None
        for asked in waiting:
            if not isinstance(asked, Asked) or asked.is_written:
                continue
            edit = asked.edit or asked.find()
            if edit is None:
                continue
            try:
                if reason is not None:
                    raise reason
                asked.file.write(edit)
            except FarmmapError as error:
                reason = error
                lost.append(edit.name)
            else:
                asked.settle(edit)
        if reason is not None:
            raise FarmFileError(_with_others(str(reason), lost[1:])) from reason

    def _start_next(self) -> None:
        if not self._waiting:
            return
        task = self._waiting[0]
        if isinstance(task, Chore):
            self._start_chore(task)
            return
        edit = task.edit = task.find()
        if edit is None:
            self._end_turn()
            return
        ready = self._ready(task.file)
        session, values = self._session, self.values()

        def write(progress: Progress) -> _Written:
            progress.step(0, 2, "trying the change")
            before, after = task.file.farm, edit.apply(task.file.farm)
            progress.step(1, 2, "writing the farm file")
            at_disk = threading.Event()
            written = self._pen.submit(task.file.write, edit, at_disk.set)
            written.add_done_callback(lambda _written: at_disk.set())
            at_disk.wait()  # two that need the interpreter take longer side by side than one after the other
            try:
                answer = _worked_out(session, task.file, before, after, edit, ready, values)  # while the disk writes
            except Exception as error:  # noqa: BLE001 - what is in the file is shown; the window works out the rest
                answer = _Written(after, task.file.days, [], error)
            written.result()
            task.is_written = True
            return answer

        self._jobs.start(
            "write",
            write,
            lambda answer: self._take(task, edit, answer),
            lambda error: self._refuse(task, error),
            words=edit.name,
            may_stop=False,
        )

    def _start_chore(self, chore: Chore) -> None:
        def done(_answer: object) -> None:
            try:
                if chore.then is not None:
                    chore.then()
            finally:
                self._end_turn()

        def failed(error: BaseException) -> None:
            try:
                (self._jobs.failed.emit if chore.failed is None else chore.failed)(error)
            finally:
                self._end_turn()

        self._jobs.start("write", chore.work, done, failed, words=chore.words, may_stop=False)

    def _end_turn(self) -> None:
        self._waiting.pop(0)
        self._start_next()

    def _ready(self, file: OpenFile) -> list[Callable[[Coming], Show]]:
        return [made for ask in self.preparers if (made := ask()) is not None] if self._shows(file) else []

    def _shows(self, file: OpenFile) -> bool:
        return self._session.farm is file.farm

    def _take(self, asked: Asked, edit: Edit, answer: _Written) -> None:
        """Go on with the farm that an edit left: map, figures and key in one step."""
        try:
            shown = self._shows(asked.file)
            asked.file.farm, asked.file.days = answer.farm, answer.days
            asked.settle(edit)
            if shown:
                self._session.replace_farm(answer.farm, answer.days, answer.show_all)
            self.written.emit(asked.file)
            if asked.done is not None and asked.is_there():
                asked.done()
            if answer.trouble is not None:
                self._jobs.failed.emit(answer.trouble)
        finally:
            self._end_turn()

    def _refuse(self, asked: Asked, error: BaseException) -> None:
        """Say that an edit is not in the file, and let go of those behind it if none could be written."""
        dropped: list[Asked] = []
        told = error
        if isinstance(error, FarmFileError):
            dropped = [task for task in self._waiting[1:] if isinstance(task, Asked) and task.file is asked.file]
            self._waiting = [task for task in self._waiting if task not in dropped]
            words = str(error) if asked.name in str(error) else f"“{asked.name}” was not written: {error}"
            told = NotWritten(_with_others(words, [task.name for task in dropped]))
            told.__cause__ = error
        try:
            self.refused.emit(asked.file, error)
            for task in dropped:
                if task.failed is not None and task.is_there():
                    task.failed(error)
            (asked.failed if asked.failed is not None and asked.is_there() else self._jobs.failed.emit)(told)
        finally:
            self._end_turn()


def _worked_out(
    session: Session,
    file: OpenFile,
    before: Farm,
    after: Farm,
    edit: Edit,
    ready: list[Callable[[Coming], Show]],
    values: Mapping[str, float],
) -> _Written:
    """Work out what the window will show of a farm once the edit that led to it is in the file."""
    from farmmap.figures.after_edit import carry_over
    from farmmap.figures.standing_ahead import keep_growth
    from farmmap.window.farm_days import farm_days_after

    days = farm_days_after(file.days, after, edit)
    keep_growth(before, after, edit)  # or the day that is shown would be another
    on, chosen = after_edit(session, after, days)
    shows: list[Show] = []
    trouble = None
    try:
        carry_over(before, after, edit, on, values.get("class_cm"))
        coming = Coming(before, after, edit, on, chosen)
        shows = [work(coming) for work in ready]
    except Exception as error:  # noqa: BLE001 - what is in the file is shown; the window works out the rest
        trouble = error
    return _Written(after, days, shows, trouble)


def _with_others(words: str, names: list[str]) -> str:
    if not names:
        return words
    listed = ", ".join(f"“{name}”" for name in names)
    return f"{words}\nWhat waited behind it was not written either: {listed}."
