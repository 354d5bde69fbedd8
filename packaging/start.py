"""Set farmmap up in this checkout and run it: ``python3 packaging/start.py``, with ``test`` or ``benchmark`` after it.

Needs nothing but Python 3.11 or later with pip. Everything is installed into
``.venv`` in the checkout, as the hashed locks beside this file say, and the
second time only what has changed since.
"""

import hashlib
import importlib.util
import os
import shlex
import shutil
import subprocess
import sys
import time
import venv
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036  this file may be started by an older Python, and says so
    sys.exit(
        "farmmap needs Python 3.11 or later, and this is %d.%d. Install a newer one and start again with it, "  # noqa: UP031
        "such as: python3.12 packaging/start.py" % sys.version_info[:2]
    )

from qt_libraries import see_to_libraries

CHECKOUT = Path(__file__).resolve().parent.parent
LOCKS = CHECKOUT / "packaging" / "locks"
BENCHMARKS = CHECKOUT / "tests" / "benchmarks"
WINDOWS = os.name == "nt"

BELOW_QT = ("farm", "files", "figures", "editing", "scene", "plans", "commands", "outside", "contracts", "sample_farm")
"""Folders of tests that need no Qt, run where it is not installed."""

WITH_QT = ("drawing", "panels", "sheets", "window", "packaging", "commands", "contracts")
"""Folders of tests run where Qt is installed; commands and imports are tried both ways."""

USAGE = """\
python3 packaging/start.py [demo [--out DIR]]   set up, and run farmmap on the sample farm
python3 packaging/start.py test                 set up, and run every test and check
python3 packaging/start.py benchmark [NAME ...] set up, and run all benchmarks or those named, such as map"""


class SetUpError(Exception):
    """Setting up cannot go on; the message says what to do."""


def main(arguments: list[str]) -> int:
    """Set up and run what was asked for; return the exit code."""
    what, *rest = arguments or ["demo"]
    if what not in {"demo", "test", "benchmark"} or (what == "test" and rest):
        print(USAGE)
        return 0 if what in {"-h", "--help", "help"} else 2
    try:
        return {"test": lambda _: test(), "benchmark": benchmark, "demo": demo}[what](rest)
    except SetUpError as error:
        print(f"\n{error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. Start again at any time; what is installed stays.", file=sys.stderr)
        return 130


def demo(arguments: list[str]) -> int:
    """Set up what the window needs and run ``farmmap demo``."""
    python = environment(CHECKOUT / ".venv", "window", also_set_up_by="test")
    see_to_qt(python, on_screen=True)
    print(f"From now on farmmap can also be started as {script(python, 'farmmap')}", flush=True)
    return subprocess.run([script(python, "farmmap"), "demo", *arguments], env=surroundings(), check=False).returncode


def test() -> int:
    """Set up everything, then run the checks and both suites; stop at the first that fails."""
    began = time.monotonic()
    below = environment(CHECKOUT / ".venv-below-qt", "below_qt")
    whole = environment(CHECKOUT / ".venv", "test")
    see_to_qt(whole, on_screen=False)
    pytest = ["-m", "pytest", "-q", "-n", "auto"]
    no_qt = "import farmmap, sys; assert not any('PySide6' in name for name in sys.modules)"
    steps: list[tuple[str, list[str]]] = [
        ("format", [str(whole), "-m", "ruff", "format", "--check", "."]),
        ("lint", [str(whole), "-m", "ruff", "check", "."]),
        ("types", [str(whole), "-m", "mypy"]),
        ("import direction", [script(whole, "lint-imports")]),
        ("no Qt with the import", [str(whole), "-c", no_qt]),
        ("suite below the Qt line, without Qt", [str(below), *pytest, *(f"tests/{room}" for room in BELOW_QT)]),
        ("suite with Qt", [str(whole), *pytest, *(f"tests/{room}" for room in WITH_QT)]),
    ]
    for name, command in steps:
        print(f"\n{name}: {shlex.join(command)}", flush=True)
        done = subprocess.run(command, cwd=CHECKOUT, env=surroundings(QT_QPA_PLATFORM="offscreen"), check=False)
        if done.returncode:
            print(f"\nFailed at: {name} (exit code {done.returncode})", file=sys.stderr)
            return 1
    minutes, seconds = divmod(round(time.monotonic() - began), 60)
    print(f"\nAll is well after {minutes} min {seconds} s: {', '.join(name for name, _ in steps)}.")
    return 0


def benchmark(names: list[str]) -> int:
    """Set up what farmmap is measured beside, and run benchmarks, one after the other.

    Raises
    ------
    SetUpError
        There is no benchmark of a name that was given.
    """
    scripts = {path.name.removesuffix("_speed.py"): path for path in sorted(BENCHMARKS.glob("*_speed.py"))}
    wanted = [name.removesuffix(".py").removesuffix("_speed") for name in names] or list(scripts)
    unknown = [name for name in wanted if name not in scripts]
    if unknown:
        raise SetUpError(f"There is no benchmark {unknown[0]}; there are: {', '.join(scripts)}")
    python = environment(CHECKOUT / ".venv-benchmark", "benchmark")
    see_to_qt(python, on_screen=False)
    worst = 0
    for name in wanted:
        print(f"\n{name}", flush=True)
        command = [str(python), str(scripts[name])]
        done = subprocess.run(command, cwd=CHECKOUT, env=surroundings(QT_QPA_PLATFORM="offscreen"), check=False)
        worst = max(worst, abs(done.returncode))
    return min(worst, 1)


def environment(folder: Path, lock: str, also_set_up_by: str = "") -> Path:
    """Make sure of an environment with everything in a lock and farmmap itself.

    Parameters
    ----------
    folder : Path
        Where the environment lies.
    lock : str
        Name of the lock.
    also_set_up_by : str
        Name of a larger lock that will do as well.

    Returns
    -------
    Path
        The environment's own Python.
    """
    python = folder / ("Scripts/python.exe" if WINDOWS else "bin/python")
    maker = f"{sys.version} {CHECKOUT}"
    stamps = {name: _digest(maker, name) for name in (lock, also_set_up_by) if name}
    stamp = folder / "farmmap-set-up"
    found = stamp.read_text("utf-8").split("\n") if stamp.exists() and python.exists() else []
    if any(digest in found for digest in stamps.values()):
        return python
    same_maker = _digest(maker) in found
    stamp.unlink(missing_ok=True)
    print(f"Setting up {folder.name} (the first time this takes a few minutes) ...", flush=True)
    pip = pip_for(folder, python, afresh=not same_maker)
    install = [*pip, "install", "--disable-pip-version-check", "--no-input"]
    _run([*install, "--require-hashes", "-r", str(LOCKS / f"{lock}.txt")])
    _run([*install, "--quiet", "--no-deps", "--no-build-isolation", "--editable", str(CHECKOUT)])
    stamp.write_text(f"{_digest(maker)}\n{stamps[lock]}\n", "utf-8")
    return python


def pip_for(folder: Path, python: Path, *, afresh: bool) -> list[str]:
    """Make an environment if there is none, or afresh, and return the command that starts pip for it.

    Raises
    ------
    SetUpError
        Neither this Python nor its environments have a pip to install with.
    """
    own_pip = importlib.util.find_spec("ensurepip") is not None
    if afresh or not python.exists():
        builder = venv.EnvBuilder(clear=True, symlinks=not WINDOWS, with_pip=own_pip)
        try:
            builder.create(folder)
        except (OSError, subprocess.CalledProcessError) as error:
            raise SetUpError(f"No environment could be made in {folder}: {error}") from error
    if own_pip:
        return [str(python), "-m", "pip"]
    # Debian and Ubuntu keep ensurepip in a package of its own; the pip beside this Python can do its work
    if importlib.util.find_spec("pip") is None:
        raise SetUpError(
            "This Python has no pip, and no venv that brings one. On Debian and Ubuntu install them with:\n"
            "  apt-get install -y python3-venv python3-pip"
        )
    return [sys.executable, "-m", "pip", "--python", str(python)]


def see_to_qt(python: Path, *, on_screen: bool) -> None:
    """Make sure that Qt finds the system libraries it needs.

    Raises
    ------
    SetUpError
        Some are missing and could not be installed; the message names them.
    """
    if not sys.platform.startswith("linux"):
        return
    where = "import importlib.util as u; print(u.find_spec('PySide6').submodule_search_locations[0])"
    folder = subprocess.run([str(python), "-c", where], check=True, capture_output=True, text=True).stdout.strip()
    advice = see_to_libraries(Path(folder), on_screen=on_screen)
    if advice:
        raise SetUpError(advice)


def script(python: Path, name: str) -> str:
    """Return the path of a command that was installed beside an environment's Python."""
    return shutil.which(name, path=str(python.parent)) or str(python.parent / name)


def surroundings(**more: str) -> dict[str, str]:
    """Return the environment variables for what is run: nothing that points to another Python."""
    kept = {name: value for name, value in os.environ.items() if name not in {"PYTHONHOME", "PYTHONPATH"}}
    return {**kept, **more}


def _digest(maker: str, lock: str = "") -> str:
    content = hashlib.sha256(maker.encode())
    if lock:
        content.update((LOCKS / f"{lock}.txt").read_bytes())
        content.update((CHECKOUT / "pyproject.toml").read_bytes())
    return content.hexdigest()


def _run(command: list[str]) -> None:
    if subprocess.run(command, cwd=CHECKOUT, env=surroundings(), check=False).returncode:
        raise SetUpError(
            f"This did not work: {shlex.join(command)}\n"
            "Is there a connection to the internet? What pip says above tells more. Then start again."
        )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
