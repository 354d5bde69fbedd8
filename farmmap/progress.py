"""How long work tells how far it is, without knowing who listens.

Work that may take longer than about 50 ms takes a `Progress` and calls ``step``;
the window shows it as a bar, the command line as a line, a script not at all.
"""

from typing import Protocol


class Progress(Protocol):
    """Somebody who is told how far a piece of work is."""

    def step(self, done: int, total: int, what: str) -> None:
        """Tell that ``done`` of ``total`` parts are finished.

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
