"""Sums over all trees."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures import sums as sums_module
from farmmap.figures.standing import Standing, standing
from farmmap.figures.sums import sums, sums_after
from tests.conftest import small_farm

values = st.lists(st.floats(0.1, 3_000) | st.just(math.nan), min_size=1, max_size=40)


def _standing(dbh: list[float]) -> Standing:
    count = len(dbh)
    base = standing(small_farm())
    arrays = {
        field.name: np.resize(getattr(base, field.name), count)
        for field in dataclasses.fields(Standing)
        if isinstance(getattr(base, field.name), np.ndarray)
    }
    arrays |= {"dbh_cm": np.array(dbh), "measured": np.isfinite(dbh)}
    return dataclasses.replace(base, **arrays)


@given(values)
def test_sums_and_means_are_those_of_exact_arithmetic(dbh) -> None:
    known = [value for value in dbh if not math.isnan(value)]
    found = sums(_standing(dbh))
    assert found.dbh_cm is not None
    assert found.dbh_cm.count == len(known) == found.measured
    assert found.dbh_cm.amount == pytest.approx(math.fsum(known), rel=1e-15)
    assert found.dbh_cm.mean == (pytest.approx(math.fsum(known) / len(known), rel=1e-15) if known else None)


@given(values, st.data())
def test_after_an_edit_they_are_the_same_to_the_last_bit(dbh, data) -> None:
    at = np.array(sorted(data.draw(st.sets(st.integers(0, len(dbh) - 1), min_size=1))))
    was = _standing(dbh)
    changed = np.array(dbh)
    changed[at] = data.draw(st.lists(st.floats(0.1, 3_000), min_size=len(at), max_size=len(at)))
    now, afresh = _standing(changed.tolist()), _standing(changed.tolist())
    sums(was)
    sums_after(was, at, now, at)
    kept = sums_module._SUMS.find((now,))
    assert kept is not None
    for field in dataclasses.fields(kept):
        np.testing.assert_equal(getattr(kept, field.name), getattr(sums(afresh), field.name), field.name)


def test_a_number_beyond_belief_is_not_kept() -> None:
    was, now = _standing([20.0, 1e300]), _standing([20.0, 30.0])
    assert sums(was).dbh_cm is None
    sums_after(was, np.array([1]), now, np.array([1]))
    assert sums(now).dbh_cm.mean == 25.0
