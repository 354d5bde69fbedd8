"""Which process this is, and whether another one still runs: who left a file behind, and who holds a farm."""

from __future__ import annotations

import contextlib
import functools
import hashlib
import os
import platform
import sys
import uuid
from dataclasses import dataclass
from pathlib import Path

_PROC = Path("/proc")
_MULTICAST_BIT = 1 << 40
"""Set in a machine number that was made up because the machine has no network card."""


@dataclass(frozen=True)
class Process:
    """One process of one machine.

    Attributes
    ----------
    machine : str
        Tells this machine (and, where processes are numbered apart, this set of numbers) from others.
    pid : int
        Its number there.
    started : str
        Tells it from an earlier or later process of that number; "" where the system does not say.
    """

    machine: str
    pid: int
    started: str

    def is_running(self) -> bool | None:
        """Whether it still runs; None if that cannot be known from here.

        A process without ``started`` may be another that was given the same number since.
        """
        if self.machine != _machine():
            return None
        if not _is_there(self.pid):
            return False
        return self.started == _started(self.pid) if self.started else True


def this_process() -> Process:
    """Return the process that asks."""
    pid = os.getpid()  # not remembered: a forked child is another process
    return Process(_machine(), pid, _started(pid))


@functools.cache
def _machine() -> str:
    parts = [platform.node()]
    with contextlib.suppress(OSError):
        parts.append(Path("/etc/machine-id").read_bytes().decode(errors="replace"))
    with contextlib.suppress(OSError):
        parts.append(str((_PROC / "self" / "ns" / "pid").readlink()))  # containers number their processes apart
    if len(parts) == 1 and not (number := uuid.getnode()) & _MULTICAST_BIT:
        parts.append(str(number))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:12]


if sys.platform == "win32":
    import ctypes
    from ctypes import wintypes

    _ASK_LITTLE = 0x1000
    _STILL_ACTIVE = 259

    def _times(pid: int) -> tuple[int, int] | None:
        """Return exit code and time of start; None if there is no such process."""
        kernel = ctypes.WinDLL("kernel32", use_last_error=True)
        kernel.OpenProcess.restype = wintypes.HANDLE
        handle = kernel.OpenProcess(_ASK_LITTLE, False, pid)
        if not handle:
            return None
        try:
            code, times = wintypes.DWORD(), [wintypes.FILETIME() for _ in range(4)]
            kernel.GetExitCodeProcess(wintypes.HANDLE(handle), ctypes.byref(code))
            kernel.GetProcessTimes(wintypes.HANDLE(handle), *(ctypes.byref(time) for time in times))
            return code.value, (times[0].dwHighDateTime << 32) | times[0].dwLowDateTime
        finally:
            kernel.CloseHandle(wintypes.HANDLE(handle))

    def _is_there(pid: int) -> bool:
        found = _times(pid)
        return found is not None and found[0] == _STILL_ACTIVE

    def _started(pid: int) -> str:
        found = _times(pid)
        return "" if found is None else f"{found[1]:x}"

else:

    def _is_there(pid: int) -> bool:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return False
        except (PermissionError, OverflowError):
            return True
        return True

    def _started(pid: int) -> str:
        """Return clock ticks from boot to the process's start, and which boot; proc(5), field 22 of stat."""
        try:
            boot = (_PROC / "sys" / "kernel" / "random" / "boot_id").read_bytes().decode()
            stat = (_PROC / str(pid) / "stat").read_bytes().decode(errors="replace")
        except OSError:
            return ""
        fields = stat.rpartition(")")[2].split()
        if fields[0] in "ZX":
            return "ended"  # a zombie, which only waits for its parent
        return hashlib.sha256(f"{boot} {fields[19]}".encode()).hexdigest()[:12]
