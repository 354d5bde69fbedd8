"""Gates within strains: over no corner, none too near another, no short strain beside them; posts of strains."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.plans.planting.fences.gates import Wanted, gated, posts_between


def wanted(*places: float, hung: float = 1.0) -> list[Wanted]:
    return [Wanted(place, hung) for place in places]


def test_gates_over_no_corner():
    posts = np.array([[0.0, 0], [10, 0], [10, 30]])
    found = gated(posts, wanted(10.0, 11.0, 39.0), 4.0, 8.0, 1.0)
    assert found.middles.tolist() == [[8.0, 0.0], [10.0, 28.0]]  # the second would stand too near the first
    assert found.posts.tolist() == [[0, 0], [6, 0], [10, 0], [10, 26], [10, 30]]
    assert found.openings.tolist() == [False, True, False, True]
    assert not gated(posts[:2], wanted(5.0), 12.0, 8.0, 1.0).openings.any()


def test_gates_leave_no_short_strains():
    posts = np.array([[0.0, 0], [5, 0], [5, 60]])
    found = gated(posts, wanted(2.0, hung=10.0), 4.0, 30.0, 4.0)
    assert found.posts.tolist() == [[0, 0], [5, 0], [5, 4], [5, 60]]  # not within the 5 m
    assert gated(posts[:2], wanted(2.0, hung=10.0), 4.0, 30.0, 4.0).openings.any()  # there is nothing else
    ring = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40], [0, 0]])
    assert len(gated(ring, wanted(2.0, 158.0, hung=10.0), 4.0, 30.0, 4.0).middles) == 1  # neighbours round the start


def test_a_gate_goes_where_no_short_strain_is_left():
    posts = np.array([[0.0, 0], [4.3, 0], [4.3, 9], [20, 9]])
    found = gated(posts, wanted(2.0, hung=0.5), 4.0, 8.0, 4.0)
    assert found.middles == pytest.approx(np.array([[4.3, 2.0]]))  # not with 0.3 m beside it
    short = np.array([[0.0, 0], [4.3, 0], [4.3, 5], [8, 5]])
    assert gated(short, wanted(2.0), 4.0, 8.0, 4.0).middles == pytest.approx(np.array([[4.3, 2.0]]))  # the longest


def test_posts_of_strains():
    assert posts_between(np.array([3.0, 4.0, 4.1, 12.0, 0.0]), 4.0).tolist() == [0, 0, 1, 2, 0]
