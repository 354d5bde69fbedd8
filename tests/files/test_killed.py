"""Processes killed in the middle of their work lose nothing that they said was done, and leave no half of anything."""

from __future__ import annotations

import pickle
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest

from farmmap.farm.farm import Farm
from farmmap.farm.schema import TABLES
from farmmap.files.checks import _file_findings, farm_findings
from farmmap.files.copies import MOST, copies_of, keep_copy
from farmmap.files.farm_file import read_farm, write_edit, write_edit_beside, write_farm
from tests.files.random_edits import first_farm, next_edit, number_of
from tests.files.warm_process import CAN_FORK, Victim, WarmProcess

EDIT_KILLS = 200 if CAN_FORK else 12
OTHER_KILLS = 20 if CAN_FORK else 4
MOST_TIMES = 5
"""If too few kills hit what they were for, up to so many times as many are made."""
AIM_S = 5.0
"""A kill that is aimed at a piece of work waits no longer for it to begin. [s]"""


@pytest.fixture(scope="module")
def warm() -> Iterator[WarmProcess]:
    process = WarmProcess()
    yield process
    process.close()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "farm" / "killed.gpkg"
    path.parent.mkdir()
    write_farm(first_farm(), path)
    return path


def same(one: Farm, other: Farm) -> None:
    assert one.settings == other.settings
    for name in TABLES:
        if not one.tables[name].equals(other.tables[name]):
            pd.testing.assert_frame_equal(one.tables[name], other.tables[name])
            pytest.fail(f"{name} differ")


def sound_farm(path: Path) -> Farm:
    """Read a farm file after a kill, and check its pages, its indexes and, now and then, what the farm holds."""
    farm = read_farm(path)
    assert list(_file_findings(path)) == []
    assert number_of(farm) % 8 or farm_findings(farm) == []
    return farm


class Killer:
    """Kills after random waits, spread so widely that about as many hit the first piece of work as a later one.

    How long a piece of work takes depends on what else the machine does; so the spread follows what was got done. If
    the machine is so busy that all that is not enough, kills are aimed, until it is or `MOST_TIMES` as many were made.

    Parameters
    ----------
    seed : int
        Of the random waits.
    under_way : callable
        Whether the work that kills are to fall into seems to be going on.
    """

    def __init__(self, seed: int, under_way: Callable[[], bool] = lambda: True) -> None:
        self._draw, self._longest_s, self._under_way = random.Random(seed), 0.05, under_way
        self._is_aimed = False

    def rounds(self, least: int, is_enough: Callable[[], bool]) -> Iterator[int]:
        for number in range(least * MOST_TIMES):
            self._is_aimed = number >= least
            if self._is_aimed and is_enough():
                return
            yield number

    def kill(self, victim: Victim) -> list[str]:
        """Kill it before long, and return what it said that it had done."""
        if self._is_aimed:
            done = [victim.next_line()]
            until = time.monotonic() + AIM_S
            while not self._under_way() and time.monotonic() < until:
                time.sleep(0.0005)
            time.sleep(self._draw.uniform(0, 0.005))
            return done + victim.kill()
        time.sleep(self._draw.uniform(0, self._longest_s))
        done = victim.kill()
        self._longest_s *= 1.2 if not done else 0.8 if len(done) > 1 else 1.0
        return done


def follow(farm: Farm, found: Farm, done: list[str]) -> None:
    """Hold that the farm found is the one before with all edits that were said to be done, and at most one more."""
    assert [int(number) for number in done] == list(range(number_of(farm) + 1, number_of(farm) + len(done) + 1))
    assert number_of(found) - number_of(farm) - len(done) in {0, 1}
    while number_of(farm) < number_of(found):
        farm = next_edit(farm).apply(farm)
    same(found, farm)


def test_a_stream_of_edits_killed_two_hundred_times(warm: WarmProcess, path: Path) -> None:
    """The tiny page cache makes SQLite write pages into the file long before the end of a transaction."""
    pickled, journal = path.parent.parent / "farm.pickle", Path(f"{path}-journal")
    in_transaction = edits = 0

    def has_journal() -> bool:
        return journal.exists() and journal.stat().st_size > 0

    def start(farm: Farm) -> Victim:
        pickled.write_bytes(pickle.dumps(farm))
        return warm.start(job="edit_on", path=str(path), farm=str(pickled), cache_pages=4)

    def is_enough() -> bool:
        return edits > EDIT_KILLS // 4 and in_transaction > EDIT_KILLS // 10

    farm, killer = read_farm(path), Killer(1, journal.exists)
    for _ in killer.rounds(EDIT_KILLS, is_enough):
        done = killer.kill(start(farm))
        in_transaction += has_journal()
        found = sound_farm(path)
        follow(farm, found, done)
        edits += number_of(found) - number_of(farm)
        farm = found
    assert is_enough(), f"{edits} edits, {in_transaction} kills in a transaction: the test shows little"


def test_bringing_in_killed(warm: WarmProcess, path: Path) -> None:
    def parts() -> set[Path]:
        return set(path.parent.glob(".killed.gpkg-*.part"))

    def is_enough() -> bool:
        return half_made > OTHER_KILLS // 10

    farm, killer, half_made = read_farm(path), Killer(2, lambda: bool(parts())), 0
    for _ in killer.rounds(OTHER_KILLS, is_enough):
        before = parts()
        done = killer.kill(warm.start(job="edit_beside", path=str(path)))
        half_made += not parts() <= before
        found = sound_farm(path)
        follow(farm, found, done)
        farm = found
    assert is_enough(), "hardly a kill fell into the making of a new file; the test shows little"
    write_edit_beside(path, next_edit(farm))
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_keeping_copies_killed(warm: WarmProcess, path: Path, tmp_path: Path) -> None:
    folder, killer = tmp_path / "copies", Killer(3)
    for _ in killer.rounds(OTHER_KILLS, lambda: len(copies_of(path, folder)) == MOST):
        before = copies_of(path, folder)
        done = killer.kill(warm.start(job="copy_on", path=str(path), folder=str(folder)))
        farm, copies = sound_farm(path), copies_of(path, folder)
        held = {copy.path.name: number_of(sound_farm(copy.path)) for copy in copies[:2]}
        for number, _, name in (line.partition(" ") for line in done[-1:]):
            assert held[name] == int(number)
        assert len(copies) >= min(len(before) + len(done), MOST)
        assert list(held.values()) == sorted(held.values(), reverse=True)
        assert max(held.values(), default=0) <= number_of(farm)
    write_edit(path, next_edit(farm))
    keep_copy(path, folder)
    (place,) = folder.iterdir()
    assert len(list(place.iterdir())) == MOST
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_going_back_killed(warm: WarmProcess, path: Path, tmp_path: Path) -> None:
    """Whatever is killed, the farm file is one of the farms there were, and none of them is lost."""
    folder, killer, farm = tmp_path / "copies", Killer(4), read_farm(path)
    farms = {}
    for _ in range(4):
        edit = next_edit(farm)
        write_edit(path, edit)
        farm = edit.apply(farm)
        farms[number_of(farm)] = farm
        keep_copy(path, folder)
    seen = set()
    for turn in killer.rounds(OTHER_KILLS, lambda: len(seen) > 1):
        killer.kill(warm.start(job="go_back_on", path=str(path), folder=str(folder), first=turn))
        found = sound_farm(path)
        same(found, farms[number_of(found)])
        seen.add(number_of(found))
    kept = {number_of(read_farm(copy.path)) for copy in copies_of(path, folder)}
    assert len(seen) > 1
    assert kept == set(farms)
    write_edit_beside(path, next_edit(found))
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
