"""Resolve the dependencies afresh and write ``packaging/locks/``.

Run it with ``python packaging/lock.py`` after a change of the dependencies in
pyproject.toml. It needs uv (``pip install uv``). The locks hold for every
operating system and for Python 3.11 and later, and each file of a package is
named by its SHA-256, so what is installed is what was tried.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
LOCKS = CHECKOUT / "packaging" / "locks"

EXTRAS = {
    "test": ("window", "test", "check"),
    "window": ("window", "build"),
    "below_qt": ("test",),
    "benchmark": ("window", "build", "benchmark"),
}
"""Extras of pyproject.toml in each lock; the first one written holds all, and the others follow its versions."""

HEADING = """\
# Every package and its hashes, for: {extras}.
# Remade by: python packaging/lock.py
"""


def lock(name: str, extras: tuple[str, ...], follow: Path | None) -> None:
    """Write one lock.

    Parameters
    ----------
    name : str
        Name of the file, without its ending.
    extras : tuple of str
        Extras of pyproject.toml to hold besides the plain dependencies.
    follow : Path or None
        Lock whose versions are taken.
    """
    uv = shutil.which("uv", path=str(Path(sys.executable).parent)) or shutil.which("uv")
    if uv is None:
        sys.exit("Locking needs uv. Install it with: pip install uv")
    command = [uv, "--no-config", "pip", "compile", "pyproject.toml", "--universal", "--python-version", "3.11"]
    command += ["--generate-hashes", "--no-annotate", "--no-header", "--no-emit-index-url", "--no-emit-find-links"]
    for extra in extras:
        command += ["--extra", extra]
    if follow is not None:
        command += ["--constraint", str(follow)]
    made = subprocess.run(command, cwd=CHECKOUT, check=True, capture_output=True, text=True)
    heading = HEADING.format(extras=", ".join(("the plain dependencies", *extras)))
    (LOCKS / f"{name}.txt").write_text(heading + made.stdout, encoding="utf-8", newline="\n")
    print(f"packaging/locks/{name}.txt: {made.stdout.count('==')} packages")


def main() -> None:
    """Write all locks, the one that holds everything first."""
    LOCKS.mkdir(exist_ok=True)
    whole: Path | None = None
    for name, extras in EXTRAS.items():
        lock(name, extras, whole)
        whole = whole or LOCKS / f"{name}.txt"


if __name__ == "__main__":
    main()
