"""Troubles that a farm file may meet: small disks, read-only places, an ordinary user's rights."""

from __future__ import annotations

import contextlib
import os
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

NOBODY = 65534


@contextlib.contextmanager
def mounted(folder: Path, options: str) -> Iterator[bool]:
    """A small disk of its own at a folder; False where that may not be made."""
    made = (
        os.name == "posix"
        and os.geteuid() == 0
        and subprocess.run(
            ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], check=False, capture_output=True
        ).returncode
        == 0
    )
    try:
        yield made
    finally:
        if made:
            subprocess.run(["umount", str(folder)], check=True)


@contextlib.contextmanager
def ordinary_user() -> Iterator[Path]:
    """A folder of an ordinary user, whom permissions bind, also where the tests run as the one they do not bind."""
    with tempfile.TemporaryDirectory() as folder:
        is_root = os.geteuid() == 0
        if is_root:
            os.chown(folder, NOBODY, NOBODY)
            os.seteuid(NOBODY)
        try:
            yield Path(folder)
        finally:
            if is_root:
                os.seteuid(0)
            Path(folder).chmod(0o700)


def fill(folder: Path) -> Path:
    """Leave not a byte free on a small disk."""
    stuffing = folder / "stuffing"
    with stuffing.open("wb", buffering=0) as file:
        for size in (65536, 4096, 512, 1):
            with contextlib.suppress(OSError):
                while file.write(bytes(size)):
                    pass
    return stuffing
