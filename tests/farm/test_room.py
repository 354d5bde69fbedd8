"""Rows put behind others: the same as joined, nobody else's rows changed, and copied only when they must be."""

from __future__ import annotations

import gc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm import room
from farmmap.farm.room import LONG, with_rows_behind


def _long(*shape: int) -> np.ndarray:
    return np.arange(LONG * int(np.prod(shape, initial=1)), dtype=float).reshape(LONG, *shape)


@pytest.mark.parametrize("shape", [(), (4,)])
def test_rows_follow_without_copying_those_before(shape) -> None:
    first = with_rows_behind(_long(*shape), np.ones((1, *shape)))
    second = with_rows_behind(first, np.full((2, *shape), 2.0))
    assert np.array_equal(second, np.concatenate([_long(*shape), np.ones((1, *shape)), np.full((2, *shape), 2.0)]))
    assert np.shares_memory(first, second)
    with pytest.raises(ValueError, match="read-only"):
        second[0] = 5.0


def test_another_future_of_the_same_rows_leaves_the_first_as_it_is() -> None:
    start = with_rows_behind(_long(), np.array([1.0]))
    one = with_rows_behind(start, np.array([2.0]))
    other = with_rows_behind(start, np.array([3.0]))
    assert (start[-1], one[-2:].tolist(), other[-2:].tolist()) == (1.0, [1.0, 2.0], [1.0, 3.0])
    assert not np.shares_memory(one, other)
    assert with_rows_behind(one[:-1], np.array([4.0]))[-1] == 4.0
    assert one[-1] == 2.0


def test_a_part_of_the_rows_or_another_kind_of_number_is_copied() -> None:
    start = with_rows_behind(_long(2), np.ones((1, 2)))
    for view, put in (
        (start[1:], np.zeros((1, 2))),
        (start[:, 0], np.zeros(1)),
        (start.view(np.int64), start[:1].astype(np.int64)),
    ):
        assert np.array_equal(with_rows_behind(view, put), np.concatenate([view, put]))
    assert with_rows_behind(np.arange(LONG), np.array([0.5]))[-1] == 0.5
    assert np.array_equal(start[-1], [1, 1])


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 400)), max_size=12))
def test_any_tree_of_futures(steps) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "LONG", 4)
        futures = [(np.arange(6.0), list(range(6)))]
        for number, (which, count) in enumerate(steps):
            array, rows = futures[which % len(futures)]
            put = [float(-number)] * count
            futures.append((with_rows_behind(array, np.array(put)), rows + put))
        assert all(array.tolist() == rows for array, rows in futures)


def test_what_is_not_held_any_more_is_forgotten() -> None:
    gc.collect()
    before = len(room._USED)
    held = with_rows_behind(_long(), np.array([1.0]))
    assert len(room._USED) == before + 1
    del held
    gc.collect()
    assert len(room._USED) == before
