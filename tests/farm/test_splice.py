"""Rows taken out and put in come out the same stretch by stretch, in one go and by pandas."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm import splice
from farmmap.farm.splice import MOST_PIECES, Moves, column_of, column_spliced, columns_of, same_values, spliced

cases = st.tuples(
    st.integers(0, 30), st.sets(st.integers(0, 29)), st.lists(st.integers(0, 30), max_size=6), st.booleans()
)


def _expected(values: list, gone: set[int], at: list[int], put: list) -> list:
    out = []
    for place in range(len(values) + 1):
        out += [put[number] for number, where in enumerate(at) if where == place]
        if place < len(values) and place not in gone:
            out.append(values[place])
    return out


@given(cases)
def test_as_one_by_one(case) -> None:
    count, gone, at, many = case
    gone, at = sorted(place for place in gone if place < count), sorted(min(place, count) for place in at)
    values, put = list(range(count)), list(range(100, 100 + len(at)))
    expected = _expected(values, set(gone), at, put)
    places = np.array(gone, np.intp), np.array(at, np.intp)
    with pytest.MonkeyPatch.context() as patch:
        if many:
            patch.setattr(splice, "MANY", -1)
        assert spliced(np.array(values), *places, np.array(put)).tolist() == expected
        words = pd.array([str(value) for value in values], dtype="str")
        new = pd.array([str(value) for value in put], dtype="str")
        assert list(column_spliced(words, *places, new)) == [str(value) for value in expected]
    moves = Moves(*places)
    stay = np.array([place for place in range(count) if place not in gone], np.intp)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(splice, "FEW", -1 if many else 100)
        assert [expected[place] for place in moves.places(stay)] == stay.tolist()


def test_a_column_of_text_does_not_fall_into_ever_more_pieces() -> None:
    column = pd.array([str(number) for number in range(500)], dtype="str")
    for number in range(200):
        one = np.array([number])
        column = column_spliced(column, one, one, pd.array(["new"], dtype="str"))
    assert list(column) == ["new"] * 200 + [str(number) for number in range(200, 500)]
    assert column.__arrow_array__().num_chunks <= MOST_PIECES


def test_one_column_is_the_same_as_among_all(farm) -> None:
    for frame in (farm.blocks, farm.trees, farm.measurements):
        for name, held in columns_of(frame).items():
            assert type(column_of(frame, name)) is type(held)
            assert same_values(column_of(frame, name), held)


@pytest.mark.parametrize("most", [-1, 100])
def test_texts_are_the_same_one_by_one_and_together(monkeypatch, most) -> None:
    monkeypatch.setattr(splice, "FEW", most)
    one, same, other = (pd.array(texts, dtype="str") for texts in (["a", None, ""], ["a", None, ""], ["a", "", ""]))
    assert same_values(one, same)
    assert not same_values(one, other)
    assert not same_values(one, one[:2])
