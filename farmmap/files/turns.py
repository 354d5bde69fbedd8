"""One at a time for each farm file within this process.

Closing a file drops every lock that the process has on it (POSIX), and reading
in bulk and writing go through two copies of SQLite that do not see each
other's locks. Other processes are kept out by SQLite's own locks.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator
from pathlib import Path

_guard = threading.Lock()
_turns: dict[str, threading.RLock] = {}


@contextlib.contextmanager
def turn(path: Path) -> Iterator[None]:
    """Wait until no other thread of this process reads or writes the farm file."""
    name = os.path.normcase(os.path.realpath(path))
    with _guard:
        lock = _turns.setdefault(name, threading.RLock())
    with lock:
        yield
