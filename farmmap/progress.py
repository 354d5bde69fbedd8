"""How long work tells how far it is, without knowing who listens.

Work that may take longer than about 50 ms takes a `Progress` and calls ``step``;
the window shows it as a bar, the command line as a line, a script not at all.

Work that lies deep beneath what a person asked for, such as how a species grows, asks for its `listener` instead of
having one handed down through every figure.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Protocol


class Progress(Protocol):
    """Somebody who is told how far a piece of work is."""

    def step(self, done: int, total: int, what: str) -> None:
        """Tell that ``done`` of ``total`` parts are finished.

        Parameters
        ----------
        done, total : int
            Parts.
        what : str
            What is being done; "" to tell nothing, and only be stopped if that is asked for.

        Raises
        ------
        Stopped
            The person asked to stop; the work must leave everything as it was.
        """
        ...


class Silent:
    """Listens to nothing."""

    def step(self, done: int, total: int, what: str) -> None:
        """Ignore the news."""


SILENT = Silent()

_LISTENER: ContextVar[Progress] = ContextVar("listener", default=SILENT)


def listener() -> Progress:
    """Return who listens to the work of this thread; `SILENT` if nobody does."""
    return _LISTENER.get()


@contextmanager
def heard_by(progress: Progress) -> Iterator[None]:
    """Let somebody listen to all work of this thread while the block runs.

    Parameters
    ----------
    progress : Progress
        Who listens, and may stop it.
    """
    before = _LISTENER.set(progress)
    try:
        yield
    finally:
        _LISTENER.reset(before)
