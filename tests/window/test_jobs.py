"""Work in the background: one at a time for each key, the newest waits, stopped on request, failures told."""

import threading

import pytest
from PySide6.QtWidgets import QLabel, QWidget

from farmmap.errors import Stopped
from farmmap.progress import SILENT, listener
from farmmap.window.busy_strip import BusyStrip
from farmmap.window.jobs import Jobs


@pytest.fixture
def jobs(qapp):
    made = Jobs()
    yield made
    made.close()


def test_the_answer_comes_in_the_windows_thread(qtbot, jobs):
    seen = []
    jobs.start(
        "one",
        lambda _p: threading.current_thread().name,
        lambda answer: seen.append((answer, threading.current_thread())),
    )
    qtbot.waitUntil(lambda: bool(seen))
    assert seen[0][0].startswith("farmmap")
    assert seen[0][1] is threading.main_thread()


def test_of_those_that_wait_only_the_newest_runs(qtbot, jobs):
    go, seen = threading.Event(), []
    jobs.start("slide", lambda _p: go.wait(10), lambda _a: seen.append("first"))
    for name in ("second", "third", "fourth"):
        jobs.start("slide", lambda _p, name=name: name, seen.append)
    go.set()
    qtbot.waitUntil(lambda: not jobs.is_busy())
    assert seen == ["first", "fourth"]


def test_stopped_work_gives_no_answer(qtbot, jobs):
    begun, seen = threading.Event(), []

    def work(progress):
        begun.set()
        while True:
            progress.step(0, 1, "going on")

    jobs.start("long", work, seen.append, seen.append)
    assert begun.wait(10)
    jobs.stop("long")
    qtbot.waitUntil(lambda: not jobs.is_busy())
    assert seen == []


def test_a_failure_goes_to_who_asked_or_to_everybody(qtbot, jobs):
    seen, told = [], []
    jobs.failed.connect(told.append)

    def fail(_progress):
        raise KeyError("gone")

    jobs.start("a", fail, seen.append, seen.append)
    jobs.start("b", fail, seen.append)
    qtbot.waitUntil(lambda: not jobs.is_busy())
    assert isinstance(seen[0], KeyError)
    assert len(seen) == 1
    assert isinstance(told[0], KeyError)


def test_progress_is_told_and_the_strip_stops_the_work(qtbot, jobs):
    over = QWidget()
    qtbot.addWidget(over)
    over.resize(600, 300)
    over.show()
    strip = BusyStrip(jobs, over)
    ended = []

    def work(progress):
        try:
            while True:
                progress.step(3, 9, "reading trees")
        except Stopped:
            ended.append("stopped")
            raise

    jobs.start("open", work, ended.append, words="Opening")
    qtbot.waitUntil(strip.isVisible)
    qtbot.waitUntil(lambda: strip.bar.value() == 3 and strip.bar.maximum() == 9)
    strip.stop_button.click()
    qtbot.waitUntil(lambda: not strip.isVisible())
    assert ended == ["stopped"]


def test_closing_stops_what_runs_and_starts_nothing_more(qapp):
    jobs, begun = Jobs(), threading.Event()

    def work(progress):
        begun.set()
        while True:
            progress.step(0, 1, "going on")

    jobs.start("long", work, print)
    assert begun.wait(10)
    jobs.close()
    jobs.start("more", lambda _p: begun.clear(), print)
    assert begun.is_set()
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("farmmap")]


def test_every_stopped_piece_of_work_reports_its_end_and_a_write_goes_on(qtbot, jobs):
    go, begun, seen = threading.Event(), threading.Event(), []

    def work(progress):
        begun.set()
        go.wait(10)
        progress.step(0, 1, "going on")
        return "written"

    jobs.start("read", work, seen.append, stopped=lambda: seen.append("stopped"))
    jobs.start("read", work, seen.append, stopped=lambda: seen.append("passed over"))
    jobs.start("read", work, seen.append, stopped=lambda: seen.append("forgotten"))
    jobs.start("write", work, seen.append, may_stop=False)
    assert jobs.may_be_stopped("read")
    assert not jobs.may_be_stopped("write")
    assert begun.wait(10)
    jobs.stop("read")
    jobs.stop("write")
    go.set()
    qtbot.waitUntil(lambda: not jobs.is_busy())
    assert sorted(seen) == ["forgotten", "passed over", "stopped", "written"]


def test_work_far_beneath_hears_that_it_is_to_stop(qtbot, jobs):
    at_work, go, seen = threading.Event(), threading.Event(), []

    def work(_progress):
        at_work.set()
        go.wait(10)
        listener().step(1, 2, "the second half")
        seen.append("went on")

    jobs.start("one", work, seen.append, stopped=lambda: seen.append("stopped"))
    at_work.wait(10)
    jobs.stop("one")
    go.set()
    qtbot.waitUntil(lambda: not jobs.is_busy())
    assert seen == ["stopped"]
    assert listener() is SILENT


def test_the_strip_goes_on_to_what_takes_longer(qtbot, jobs):
    over, short, long = QWidget(), threading.Event(), threading.Event()
    qtbot.addWidget(over)
    over.resize(900, 300)
    over.show()
    strip = BusyStrip(jobs, over)
    jobs.start("map", lambda _p: short.wait(10), lambda _a: None, words="Drawing the map")
    jobs.start("growth", lambda _p: long.wait(10), lambda _a: None, words="Working out growth")
    short.set()
    qtbot.waitUntil(lambda: not jobs.is_busy("map"))
    qtbot.waitUntil(strip.isVisible)
    assert [label.text() for label in strip.findChildren(QLabel)] == ["Working out growth …"]
    long.set()
    qtbot.waitUntil(lambda: not strip.isVisible())
