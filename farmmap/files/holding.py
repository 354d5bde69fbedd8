"""One window at a time changes a farm: a small file beside the farm says who holds it.

It lies beside the farm so that all who share the folder see it, and is touched
now and then as a sign of life. The hold of a process that is gone is taken
over: on the same machine that is known from the process itself, on another
from a sign of life that is minutes old by the clock of the drive they share.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import getpass
import hashlib
import json
import os
import platform
import secrets
import stat
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from farmmap.errors import FarmFileError
from farmmap.files.processes import Process, this_process
from farmmap.files.refusals import why

REFRESH_S = 30.0
"""How often whoever holds a farm should call `Hold.refresh`. [s]"""

SILENT_S = 180.0
"""A hold of another machine without a sign of life for this long is given up for dead. [s]"""

_WRITING_S = 0.5
"""How long to wait for a hold that is just being written. [s]"""

_TRYING_S = 5.0
"""How long to go on trying where a hold file is there and not there by turns. [s]"""


@dataclass(frozen=True)
class Holder:
    """Who holds a farm.

    Attributes
    ----------
    user : str
        Name of the person on that machine, "" if not known.
    host : str
        Name of the machine, "" if not known.
    since : str
        Day and time on that machine's clock, such as ``2026-11-25 17:31``; "" if not known.
    pid : int
        Number of the process there.
    """

    user: str
    host: str
    since: str
    pid: int

    @property
    def words(self) -> str:
        """Who holds it and since when, for people."""
        who = self.user or "somebody"
        where = "" if not self.host else " on this computer" if self.host == platform.node() else f" on {self.host}"
        return f"open to {who}{where}" + (f" since {self.since}" if self.since else "")


class HeldByAnother(FarmFileError):
    """Somebody else holds the farm; it may be looked at."""

    def __init__(self, path: Path, holder: Holder) -> None:
        super().__init__(f"{path} is {holder.words}. Until it is closed there, it may only be looked at.")
        self.holder = holder


class _InTheWayError(OSError):
    """Something that is no file has the name of the hold file."""

    def __init__(self, place: Path) -> None:
        super().__init__(f"what is called {place.name} there is not the file it should be; delete it")


class Hold:
    """A farm that is held; made by `take_hold`. Any thread may use it."""

    def __init__(self, path: Path, place: Path, content: bytes) -> None:
        self.path, self._place, self._content = path, place, content
        self._lock = threading.Lock()

    def refresh(self) -> None:
        """Give a sign of life; to be called every `REFRESH_S` seconds.

        A hold file that somebody cleared away is made again.

        Raises
        ------
        HeldByAnother
            Somebody took the farm over meanwhile, as after a long sleep of this machine.
        FarmFileError
            The hold cannot be kept, as the folder is gone or may not be written to.
        """
        with self._lock:
            try:
                if _content(self._place) == self._content:
                    with self._place.open("r+b") as file:  # written, not only touched: the drive's own clock counts
                        file.write(self._content)
                    return
            except FileNotFoundError:
                pass
            except OSError as error:
                raise FarmFileError(_no_hold(self.path, error)) from error
            _take(self.path, self._place, self._content)

    def let_go(self) -> None:
        """Let others have the farm; the hold of somebody who took it over is left alone."""
        with self._lock, contextlib.suppress(OSError):
            if _content(self._place) == self._content:
                self._place.unlink()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.let_go()


def take_hold(path: str | Path) -> Hold:
    """Take hold of a farm, so that only this window changes it.

    Parameters
    ----------
    path : str or Path
        The farm file.

    Raises
    ------
    HeldByAnother
        Another window, on this machine or another, holds it.
    FarmFileError
        No hold can be taken there, as in a folder that may only be read.
    """
    path = Path(path)
    me = this_process()
    content = json.dumps(
        {
            "user": _user(),
            "host": platform.node(),
            "since": dt.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
            "pid": me.pid,
            "machine": me.machine,
            "started": me.started,
            "once": secrets.token_hex(8),
        }
    ).encode()
    place = _place(path)
    _take(path, place, content)
    return Hold(path, place, content)


@contextlib.contextmanager
def held(path: str | Path, every_s: float = REFRESH_S) -> Iterator[Hold]:
    """Hold a farm while a block of code runs, a thread of its own giving signs of life.

    Before it writes, the block should call `Hold.refresh` itself, which says so if somebody took the farm over.

    Parameters
    ----------
    path : str or Path
        The farm file.
    every_s : float
        How often. [s]

    Raises
    ------
    HeldByAnother, FarmFileError
        As `take_hold` does.
    """
    over = threading.Event()
    with take_hold(path) as hold:

        def give_signs() -> None:
            while not over.wait(every_s):
                with contextlib.suppress(FarmFileError):  # said to whoever writes
                    hold.refresh()

        thread = threading.Thread(target=give_signs, name="hold", daemon=True)
        thread.start()
        try:
            yield hold
        finally:
            over.set()
            thread.join()


def holder_of(path: str | Path) -> Holder | None:
    """Return who holds a farm; None if nobody does who is still there."""
    place = _place(Path(path))
    try:
        content = _content(place)
        return None if _is_stale(place, content) else _holder(content)
    except OSError:
        return None


def _place(path: Path) -> Path:
    path = path.resolve()
    return path.parent / f".{path.name}.held"


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


def _take(path: Path, place: Path, content: bytes) -> None:
    """Put a hold file in its place if there is none, or in the place of one whose holder is gone.

    Whoever finds a stale hold first takes hold, in the same way, of the right
    to replace that very one; so only one of several can.
    """
    until = time.monotonic() + _TRYING_S
    try:
        while not _made(place, content):
            if time.monotonic() > until:
                raise _InTheWayError(place)
            try:
                found = _content(place)
                if not _is_stale(place, found):
                    raise HeldByAnother(path, _holder(found))
            except FileNotFoundError:
                time.sleep(0.01)
                continue  # let go of meanwhile
            claim = place.with_name(f"{place.name}-{hashlib.sha256(found).hexdigest()[:12]}")
            _take(path, claim, content)
            try:
                if _content(place) == found and _is_stale(place, found):
                    beside = place.with_name(f"{place.name}-{secrets.token_hex(6)}")
                    _made(beside, content)
                    beside.replace(place)
                    return
            except FileNotFoundError:
                time.sleep(0.01)
                continue
            finally:
                claim.unlink(missing_ok=True)
    except OSError as error:
        raise FarmFileError(_no_hold(path, error)) from error


def _made(place: Path, content: bytes) -> bool:
    """Make a file that was not there; False if it was."""
    try:
        handle = os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o666)
    except FileExistsError:
        return False
    try:
        os.write(handle, content)
    finally:
        os.close(handle)
    return True


def _content(place: Path) -> bytes:
    """Return what a hold file says, after a moment if it is just being written."""
    if not stat.S_ISREG(place.lstat().st_mode):  # a link to nowhere is there and not there; a pipe would never end
        raise _InTheWayError(place)
    until = time.monotonic() + _WRITING_S
    while not (content := place.read_bytes()).endswith(b"}") and time.monotonic() < until:
        time.sleep(0.02)
    return content


def _said(content: bytes) -> dict[str, object]:
    try:
        said = json.loads(content)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def _holder(content: bytes) -> Holder:
    said = _said(content)
    pid = said.get("pid")
    words = (said.get(name) for name in ("user", "host", "since"))
    user, host, since = (word[:80] if isinstance(word, str) else "" for word in words)
    return Holder(user, host, since, pid if isinstance(pid, int) else 0)


def _is_stale(place: Path, content: bytes) -> bool:
    """Whether the holder is gone for certain, or has given no sign of life for long."""
    said = _said(content)
    pid, started = said.get("pid"), str(said.get("started", ""))
    if isinstance(pid, int):
        running = Process(str(said.get("machine", "")), pid, started).is_running()
        if running is False or (running and started):
            return not running
    return _drive_clock(place) - place.stat().st_mtime > SILENT_S


def _drive_clock(place: Path) -> float:
    """Return seconds by the clock of the drive, which need not be this machine's."""
    probe = place.with_name(f"{place.name}-{secrets.token_hex(6)}")
    try:
        _made(probe, b".")
        return probe.stat().st_mtime
    finally:
        probe.unlink(missing_ok=True)


def _no_hold(path: Path, error: OSError) -> str:
    return f"{path} may only be looked at, as no note of who has it open can be kept beside it: {why(error)}."
