"""Strains between strainer posts: inside the corridor, and nearly as few as can be."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.planting.fences.strains import split_evenly, strainers, turns_deg

ACROSS = np.linspace(0, 1, 9)


def corridor(seed: int, count: int, wide: float) -> tuple[np.ndarray, np.ndarray]:
    """Return gateways across a winding corridor that never turns more tightly than it is wide."""
    random = np.random.default_rng(seed)
    turn = np.cumsum(random.uniform(-0.35, 0.35, count))
    steps = random.uniform(2.5 * wide, 5 * wide, count)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    inner = np.cumsum(steps, axis=0)
    right = np.column_stack([np.sin(turn), -np.cos(turn)])
    return inner, inner + wide * right


def fewest(inner: np.ndarray, outer: np.ndarray) -> int:
    """Fewest strains by trying all of 9 places across each gateway: slow and sure."""
    places = inner[:, None] + ACROSS[:, None] * (outer - inner)[:, None]
    reached = np.full((len(inner), len(ACROSS)), np.inf)
    reached[0] = 0
    for begin in range(len(inner) - 1):
        for share in range(len(ACROSS)):
            here = places[begin, share]
            for end in range(begin + 1, len(inner)):
                way = places[end] - here
                if end > begin + 1:
                    off_in, off_out = inner[begin + 1 : end] - here, outer[begin + 1 : end] - here
                    left = way[:, :1] * off_in[:, 1] - way[:, 1:] * off_in[:, 0]
                    right = way[:, :1] * off_out[:, 1] - way[:, 1:] * off_out[:, 0]
                    seen = (left >= 0).all(axis=1) & (right <= 0).all(axis=1)
                    if not seen.any():
                        break
                else:
                    seen = np.ones(len(ACROSS), bool)
                better = seen & (reached[begin, share] + 1 < reached[end])
                reached[end, better] = reached[begin, share] + 1
    return int(reached[-1].min())


@given(st.integers(0, 10_000), st.integers(2, 60), st.floats(0.2, 5))
def test_strains_keep_to_the_corridor(seed, count, wide):
    inner, outer = corridor(seed, count, wide)
    posts = strainers(inner, outer, 3.0, closed=False)
    ground = shapely.union_all(
        [
            shapely.Polygon([*pair, *far[::-1]])
            for pair, far in zip(
                np.stack([inner[:-1], inner[1:]], 1), np.stack([outer[:-1], outer[1:]], 1), strict=True
            )
        ]
    )
    assert ground.buffer(1e-6).covers(shapely.LineString(posts))
    for end, at in ((0, posts[0]), (-1, posts[-1])):
        assert shapely.LineString([inner[end], outer[end]]).distance(shapely.Point(at)) < 1e-9


@given(st.integers(0, 10_000), st.integers(2, 40), st.floats(0.2, 1.0))
def test_no_short_strain_where_one_post_would_do(seed, count, wide):
    """For each two posts too near each other, no place on a gateway between serves in their stead."""
    inner, outer = corridor(seed, count, wide)
    least = 4.0
    posts = strainers(inner, outer, least, closed=False)
    pieces = [shapely.Polygon([*inner[at : at + 2], *outer[at : at + 2][::-1]]) for at in range(count - 1)]
    if not all(piece.is_valid for piece in pieces):
        return
    ground = shapely.union_all(pieces).buffer(1e-9)
    gateways = shapely.linestrings(np.stack([inner, outer], axis=1))
    for place in range(1, len(posts) - 3):
        if np.hypot(*(posts[place + 1] - posts[place])) >= least:
            continue
        first, last = (int(shapely.distance(gateways, shapely.Point(posts[at])).argmin()) for at in (place, place + 1))
        for here in ((inner + outer) / 2)[first : last + 1]:
            instead = np.array([posts[place - 1], here, posts[place + 2]])
            long = (np.hypot(*np.diff(instead, axis=0).T) >= least).all()
            assert not long or not ground.covers(shapely.LineString(instead))


@pytest.mark.parametrize("seed", range(8))
def test_nearly_as_few_as_can_be(seed):
    inner, outer = corridor(seed, 40, 1.0)
    found, least = len(strainers(inner, outer, 3.0, closed=False)) - 1, fewest(inner, outer)
    assert least <= found <= least * 1.25 + 1


def test_straight_on_is_one_strain():
    inner = np.column_stack([np.arange(50.0), np.zeros(50)])
    posts = strainers(inner, inner - [0, 2], 3.0, closed=False)
    assert posts.tolist() == [[0, -1], [49, -1]]


def test_a_ring_comes_back_to_its_first_post():
    way = np.linspace(0, 2 * np.pi, 61)
    ring = np.column_stack([np.cos(way), np.sin(way)])
    ring[-1] = ring[0]
    posts = strainers(30 * ring, 32 * ring, 3.0, closed=True)
    assert (posts[0] == posts[-1]).all()
    line = shapely.LineString(posts)
    assert line.distance(shapely.Point(0, 0)) >= 30 * np.cos(np.pi / 60) - 1e-9
    assert np.hypot(*posts.T).max() <= 32 + 1e-9
    assert len(posts) - 1 <= 12  # chords that just clear 30 m inside 32 m turn by 40.7 degrees: 9 at the least
    assert turns_deg(posts).sum() - turns_deg(posts)[0] == pytest.approx(360)


def test_long_strains_are_split_evenly():
    posts = np.array([[0.0, 0], [100, 0], [100, 30]])
    none = np.zeros(2, bool)
    split, owner = split_evenly(posts, 40, none)
    assert split.ravel() == pytest.approx([0, 0, 100 / 3, 0, 200 / 3, 0, 100, 0, 100, 30])
    assert owner.tolist() == [0, 0, 0, 1]
    assert split_evenly(posts, 100, none)[0].tolist() == posts.tolist()
    assert split_evenly(posts, 20, np.array([True, False]))[1].tolist() == [0, 1, 1]
    assert turns_deg(posts).tolist() == [0, 90, 0]


def test_two_posts_near_each_other_are_made_one():
    """A corridor round one square corner, its gateways half a metre apart there: no strain of half a metre."""
    inner = np.array([[0.0, 0], [50, 0], [50, 0], [50.0, 0], [50, 40]])
    outer = np.array([[0.0, -2], [50, -2], [51.4, -1.4], [52, 0], [52, 40]])
    posts = strainers(inner, outer, 3.0, closed=False)
    assert len(posts) == 3
    assert np.hypot(*np.diff(posts, axis=0).T).min() > 30


def test_a_ring_begins_at_one_of_its_corners():
    """A square with gateways half-way along its sides, begun in the middle of one."""
    corners = [(20, 0), (40, 0), (40, 20), (40, 40), (20, 40), (0, 40), (0, 20), (0, 0), (20, 0)]
    inner = np.array(corners, float)
    outer = inner + np.sign(inner - 20)
    posts = strainers(inner, outer, 3.0, closed=True)
    assert (posts[0] == posts[-1]).all()
    assert len(posts) == 5
    assert np.hypot(*np.diff(posts, axis=0).T).min() > 30
