"""Work in the background, one piece at a time for each key, answered in the window's thread."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import QObject, Signal
from shiboken6 import isValid

from farmmap.errors import Stopped
from farmmap.progress import Progress, heard_by

THREADS = 4
"""Python's own threads, not Qt's: a thread that Python did not start gets fresh thread-local data with each piece of
work, and PROJ, which keeps a context there, crashes on what the last piece left behind."""
NEWS_EVERY_S = 0.05
"""How often at most a job tells how far it is. [s]"""


@dataclass(eq=False)
class _Job:
    key: str
    work: Callable[[Progress], Any]
    done: Callable[[Any], None]
    failed: Callable[[BaseException], None] | None
    words: str
    owner: QObject | None
    when_stopped: Callable[[], None] | None = None
    may_stop: bool = True
    stopped: bool = False
    last_news: float = field(default=0.0)


class Jobs(QObject):
    """Runs work in a pool of threads, one piece at a time for each key.

    While work of a key runs, the newest of that key waits and takes the place
    of any other that waited: who slides a date along gets the last one, not a
    queue of all. An answer comes back in the thread that owns this object.
    What an answer was worked out from travels with it, and who asked drops it
    when it is stale.
    """

    progressed = Signal(str, int, int, str)
    """Key, parts done, parts in all, what is being done."""
    started = Signal(str, str)
    """Key and words of a job that began to run."""
    ended = Signal(str)
    """Key of a job that came to an end, however."""
    failed = Signal(object)
    """An exception that nobody else took."""
    _answered = Signal(object, object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = ThreadPoolExecutor(THREADS, "farmmap")
        self._running: dict[str, _Job] = {}
        self._waiting: dict[str, _Job] = {}
        self._closed = False
        self._answered.connect(self._take_answer)  # emitted by other threads only, and so queued

    def start(
        self,
        key: str,
        work: Callable[[Progress], Any],
        done: Callable[[Any], None],
        failed: Callable[[BaseException], None] | None = None,
        words: str = "",
        owner: QObject | None = None,
        *,
        stopped: Callable[[], None] | None = None,
        may_stop: bool = True,
    ) -> None:
        """Start work, or let it wait for the one of the same key that is running.

        Parameters
        ----------
        key : str
            Kind of work.
        work : callable
            Given a `Progress`; runs in another thread, so it must not touch widgets.
        done, failed : callable
            Given the answer, or the exception; called in the window's thread.
            Neither is called for work that was stopped.
        words : str
            What is being done, for a person who waits.
        owner : QObject, optional
            Who asked; nobody is told of the answer if it is gone by then.
        stopped : callable, optional
            Called instead of the other two for work that was stopped, or whose place other work took.
        may_stop : bool
            Whether it may be stopped once it runs; what writes into a farm file may not.
        """
        if self._closed:
            return
        job = _Job(key, work, done, failed, words, owner, stopped, may_stop)
        if key in self._running:
            passed_over = self._waiting.get(key)
            self._waiting[key] = job
            self._tell_stopped(passed_over)
        else:
            self._run(job)

    def stop(self, key: str) -> None:
        """Ask the work of a key to stop if it may be, and forget what waits."""
        waiting = self._waiting.pop(key, None)
        if key in self._running and self._running[key].may_stop:
            self._running[key].stopped = True
        self._tell_stopped(waiting)

    def may_be_stopped(self, key: str) -> bool:
        """Whether the work of a key that runs may be stopped."""
        return key in self._running and self._running[key].may_stop

    def is_busy(self, key: str | None = None) -> bool:
        """Whether work of that key, or of any, is running or waiting."""
        return bool(self._running) if key is None else key in self._running

    def close(self) -> None:
        """Stop what may be stopped and wait until the last thread is still; nothing can be started afterwards."""
        self._closed = True
        for key in list(self._running):
            self.stop(key)
        self._pool.shutdown(wait=True)
        self._running.clear()

    def _run(self, job: _Job) -> None:
        self._running[job.key] = job
        self.started.emit(job.key, job.words)
        self._pool.submit(self._work, job)

    def _work(self, job: _Job) -> None:
        answer: Any = None
        error: BaseException | None = None
        try:
            news = _News(self, job)
            with heard_by(news):
                answer = job.work(news)
        except Exception as raised:  # noqa: BLE001 - whatever goes wrong is told in the window, which goes on
            error = raised
        self._answered.emit(job, answer, error)

    def _take_answer(self, job: _Job, answer: Any, error: BaseException | None) -> None:
        if self._running.get(job.key) is not job:
            return
        del self._running[job.key]
        waiting = self._waiting.pop(job.key, None)
        if waiting is not None and not self._closed:
            self._run(waiting)
        self.ended.emit(job.key)
        if self._closed or not _is_there(job):
            return
        if job.stopped or isinstance(error, Stopped):
            self._tell_stopped(job)
        elif error is None:
            job.done(answer)
        elif job.failed is not None:
            job.failed(error)
        else:
            self.failed.emit(error)

    def _tell_stopped(self, job: _Job | None) -> None:
        if job is not None and job.when_stopped is not None and not self._closed and _is_there(job):
            job.when_stopped()


def _is_there(job: _Job) -> bool:
    return job.owner is None or isValid(job.owner)


class _News:
    """The `Progress` that a job is given: tells the window, and raises `Stopped` when asked to stop."""

    def __init__(self, jobs: Jobs, job: _Job) -> None:
        self._jobs = jobs
        self._job = job

    def step(self, done: int, total: int, what: str) -> None:
        if self._job.stopped:
            raise Stopped("Stopped.")
        now = time.monotonic()
        if what and now - self._job.last_news >= NEWS_EVERY_S:
            self._job.last_news = now
            self._jobs.progressed.emit(self._job.key, done, total, what)
