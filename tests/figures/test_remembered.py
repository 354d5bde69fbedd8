"""Answers are found again by the objects they were made from, and can be put down from elsewhere."""

from __future__ import annotations

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
