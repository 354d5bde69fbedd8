"""The last few answers of a function, kept while the very same tables are asked about."""

from __future__ import annotations

import operator
import threading
from collections.abc import Callable
from typing import Any, Generic, TypeVar

T = TypeVar("T")


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
        self._answers: list[tuple[tuple[Any, ...], tuple[Any, ...], T]] = []
        self._lock = threading.Lock()

    def get(self, same: tuple[Any, ...], equal: tuple[Any, ...], work_out: Callable[[], T]) -> T:
        """Return the answer for these objects, working it out if it is not at hand.

        Parameters
        ----------
        same : tuple
            Objects that must be the very same.
        equal : tuple
            Values that must be equal.
        work_out : callable
            Gives the answer; may run twice if two threads ask at once.
        """
        found = self.find(same, equal)
        if found is not None:
            return found
        answer = work_out()
        self.put(same, equal, answer)
        return answer

    def find(self, same: tuple[Any, ...], equal: tuple[Any, ...] = ()) -> T | None:
        """Return the answer for these objects if it is at hand, None if not."""
        with self._lock:
            for place, (objects, values, answer) in enumerate(self._answers):
                if all(map(operator.is_, objects, same)) and values == equal:
                    self._answers.append(self._answers.pop(place))
                    return answer
        return None

    def put(self, same: tuple[Any, ...], equal: tuple[Any, ...], answer: T) -> None:
        """Keep an answer that was come by in another way, such as from that before an edit."""
        with self._lock:
            self._answers.append((same, equal, answer))
            del self._answers[: -self._most]
