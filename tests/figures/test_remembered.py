"""Answers are found again by the objects they were made from, and can be put down from elsewhere."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from farmmap.figures.remembered import Remembered


def test_an_answer_is_worked_out_once() -> None:
    kept, table, asked = Remembered(2), object(), []
    for _ in range(3):
        assert kept.get((table,), (1,), lambda: asked.append(1) or "answer") == "answer"
    assert asked == [1]
    assert kept.get((table,), (2,), lambda: "other") == "other"


def test_an_answer_put_down_is_found() -> None:
    kept, table = Remembered(2), object()
    assert kept.find((table,)) is None
    kept.put((table,), (), "answer")
    assert kept.find((table,)) == "answer"
    assert kept.get((table,), (), lambda: pytest.fail("worked out")) == "answer"


def test_only_the_last_few_are_kept() -> None:
    kept, tables = Remembered(2), [object() for _ in range(3)]
    for number, table in enumerate(tables):
        kept.put((table,), (), number)
        kept.find((tables[0],))
    assert [kept.find((table,)) for table in tables] == [0, None, 2]


def test_threads_that_ask_at_once_get_the_same_object() -> None:
    kept, table, began, may_end, asked = Remembered(2), object(), threading.Event(), threading.Event(), []

    def work_out() -> object:
        asked.append(1)
        began.set()
        assert may_end.wait(10)
        return object()

    with ThreadPoolExecutor(3) as pool:
        first = pool.submit(kept.get, (table,), (), work_out)
        assert began.wait(10)
        others = [pool.submit(kept.get, (table,), (), work_out) for _ in range(2)]
        assert kept.get((object(),), (), lambda: "not held up") == "not held up"
        may_end.set()
        answers = [future.result(10) for future in (first, *others)]
    assert asked == [1]
    assert all(answer is answers[0] for answer in answers)


def test_when_one_fails_the_next_that_asks_tries() -> None:
    kept, table = Remembered(2), object()
    with pytest.raises(ZeroDivisionError):
        kept.get((table,), (), lambda: 1 / 0)
    assert kept.get((table,), (), lambda: "answer") == "answer"
