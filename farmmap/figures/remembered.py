"""The last few answers of a function, kept while the very same tables are asked about."""

from __future__ import annotations

import operator
import threading
from collections.abc import Callable
from typing import Any, Generic, TypeVar

T = TypeVar("T")
Things = tuple[Any, ...]


class Remembered(Generic[T]):
    """Keeps a few answers, found again by the identity of the objects they were made from.

    A table of a farm is never changed in place, so the same object gives the
    same answer; comparing a million rows would take longer than it saves.

    Parameters
    ----------
    most : int
        How many answers are kept.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._answers: list[tuple[Things, Things, T]] = []
        self._at_work: list[tuple[Things, Things, threading.RLock]] = []
        self._lock = threading.Lock()

    def get(self, same: Things, equal: Things, work_out: Callable[[], T]) -> T:
        """Return the answer for these objects, working it out if it is not at hand.

        Parameters
        ----------
        same : tuple
            Objects that must be the very same.
        equal : tuple
            Values that must be equal.
        work_out : callable
            Gives the answer. A thread that asks while another works it out waits for that one, so that all have the
            same object, which other answers are found by.
        """
        found = self.find(same, equal)
        if found is not None:
            return found
        mine = (same, equal, threading.RLock())
        with self._lock:
            turn = next((task for task in self._at_work if _is_for(task, same, equal)), mine)
            self._at_work.append(turn)
        try:
            with turn[2]:
                found = self.find(same, equal)
                if found is None:
                    found = work_out()
                    self.put(same, equal, found)
                return found
        finally:
            with self._lock:
                del self._at_work[next(at for at, task in enumerate(self._at_work) if task is turn)]

    def find(self, same: Things, equal: Things = ()) -> T | None:
        """Return the answer for these objects if it is at hand, None if not."""
        with self._lock:
            for place, kept in enumerate(self._answers):
                if _is_for(kept, same, equal):
                    self._answers.append(self._answers.pop(place))
                    return kept[2]
        return None

    def put(self, same: Things, equal: Things, answer: T) -> None:
        """Keep an answer that was come by in another way, such as from that before an edit."""
        with self._lock:
            self._answers.append((same, equal, answer))
            del self._answers[: -self._most]


def _is_for(kept: tuple[Things, Things, object], same: Things, equal: Things) -> bool:
    return all(map(operator.is_, kept[0], same)) and kept[1] == equal
