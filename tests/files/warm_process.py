"""A process that has everything loaded and starts jobs that are to be killed: forked where it can, else one itself.

Run as ``python warm_process.py`` it reads a line of JSON for each job, starts
it as a child and says its number; as ``python warm_process.py JOB`` it is the
job. A job says ``ready``, and a line after each thing that it has done for good.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import itertools
import json
import os
import pickle
import signal
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CAN_FORK = hasattr(os, "fork") and sys.platform != "darwin"


class WarmProcess:
    """Starts jobs in processes that are killed."""

    def __init__(self) -> None:
        self._warm = self._run([]) if CAN_FORK else None
        self._victim: Victim | None = None

    def start(self, **job: Any) -> Victim:
        if self._warm is None:
            self._victim = Victim(self._run([json.dumps(job)]), forked=False)
        else:
            self._warm.stdin.write(json.dumps(job) + "\n")
            self._warm.stdin.flush()
            self._victim = Victim(self._warm, forked=True)
        self._victim.wait_until_ready()
        return self._victim

    def close(self) -> None:
        if self._victim is not None:
            self._victim.kill()
        if self._warm is not None:
            self._warm.stdin.close()
            self._warm.wait()
            self._warm.stdout.close()

    @staticmethod
    def _run(arguments: list[str]) -> subprocess.Popen[str]:
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        return subprocess.Popen(
            [sys.executable, "-W", "ignore", __file__, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )


class Victim:
    """A job that runs in a process of its own until it is killed."""

    def __init__(self, process: subprocess.Popen[str], *, forked: bool) -> None:
        self._process, self._forked = process, forked
        self._is_gone = False
        self._pid = int(self._line()) if forked else process.pid

    def wait_until_ready(self) -> None:
        line = self._line()
        assert line == "ready", line

    def kill(self) -> list[str]:
        """Kill it, if that is not done, and return what it said that it had done."""
        if self._is_gone:
            return []
        self._is_gone = True
        if self._forked:
            with contextlib.suppress(ProcessLookupError):  # it failed, and was waited for
                os.kill(self._pid, signal.SIGKILL)
            lines = list(iter(self._line, "gone"))
        else:
            self._process.kill()
            lines = self._process.stdout.read().split("\n")
            self._process.wait()
            self._process.stdout.close()
            self._process.stdin.close()
        return [line for line in lines if line]

    def next_line(self) -> str:
        line = self._line()
        assert line != "gone", "the job failed; what it raised stands in the captured output"
        return line

    def _line(self) -> str:
        line = self._process.stdout.readline()
        assert line, "the process that starts the jobs is gone"
        self._is_gone |= line == "gone\n"
        return line.rstrip("\n")


def say(line: object) -> None:
    os.write(1, f"{line}\n".encode())


def edit_on(path: str, farm: str, cache_pages: int) -> Iterator[object]:
    """Edit without end, from a farm that was pickled; says the number of each edit that was written."""
    from farmmap.files.farm_writer import FarmWriter
    from tests.files.random_edits import next_edit, number_of

    before = pickle.loads(Path(farm).read_bytes())
    writer = FarmWriter(path, cache_pages=cache_pages)
    yield "ready"
    while True:
        edit = next_edit(before)
        writer.write(edit)
        yield number_of(before) + 1
        before = edit.apply(before)


def edit_beside(path: str) -> Iterator[object]:
    """Edit without end, each time into a new file; says the number of each edit that was put in place."""
    from farmmap.files.farm_file import read_farm, write_edit_beside
    from tests.files.random_edits import next_edit, number_of

    farm = read_farm(path)
    yield "ready"
    while True:
        edit = next_edit(farm)
        write_edit_beside(path, edit)
        yield number_of(farm) + 1
        farm = edit.apply(farm)


def copy_on(path: str, folder: str) -> Iterator[object]:
    """Edit and keep a copy without end; says the number of the last edit and the name of each copy kept."""
    from farmmap.files.copies import keep_copy
    from farmmap.files.farm_file import read_farm, write_edit
    from tests.files.random_edits import next_edit, number_of

    farm = read_farm(path)
    yield "ready"
    while True:
        edit = next_edit(farm)
        write_edit(path, edit)
        farm = edit.apply(farm)
        yield f"{number_of(farm)} {keep_copy(path, folder).name}"


def go_back_on(path: str, folder: str, first: int) -> Iterator[object]:
    """Go back to one copy after another without end; says the name of each that was put in place."""
    from farmmap.files.copies import copies_of, go_back

    yield "ready"
    for turn in itertools.count(first):
        copies = copies_of(path, folder)
        copy = copies[turn % len(copies)]
        go_back(path, copy)
        yield copy.path.name


JOBS: dict[str, Callable[..., Iterator[object]]] = {
    job.__name__: job for job in (edit_on, edit_beside, copy_on, go_back_on)
}


def run(job: dict[str, Any]) -> None:
    for said in JOBS[job.pop("job")](**job):
        say(said)


def main() -> None:
    for module in ("farmmap.files.copies", "farmmap.files.farm_file", "tests.files.random_edits"):
        importlib.import_module(module)
    if len(sys.argv) > 1:
        run(json.loads(sys.argv[1]))
        return
    gc.freeze()  # else a child's first collection copies all that it was forked with
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            with contextlib.ExitStack() as stack:
                stack.callback(os._exit, 1)
                stack.callback(traceback.print_exc)
                say(os.getpid())
                run(json.loads(line))
        os.waitpid(child, 0)
        say("gone")


if __name__ == "__main__":
    main()
