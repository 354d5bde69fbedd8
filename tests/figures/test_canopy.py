"""Ground under discs: hand-worked, and against a union of finely drawn discs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from farmmap.farm.splice import Moves
from farmmap.figures import discs, outline_cover
from farmmap.figures.canopy import Canopy, covered_area
from farmmap.figures.discs import Discs

WIDE = box(-100, -100, 100, 100)
neat = st.sampled_from(np.arange(0, 20.5, 0.5).tolist())
rough = st.floats(0, 20)
disc_lists = st.lists(
    st.one_of(st.tuples(neat, neat, st.sampled_from([0.5, 1.0, 2.0, 5.0])), st.tuples(rough, rough, st.floats(0.1, 8))),
    min_size=1,
    max_size=25,
)
REGIONS = (
    box(2, 3, 18, 17),
    Polygon([(0, 0), (20, 1), (18, 19), (10, 8), (1, 20)]),
    Polygon(
        box(1, 1, 19, 19).exterior.coords, [box(5, 5, 10, 10).exterior.coords, box(12, 12, 13, 17).exterior.coords]
    ),
    MultiPolygon([box(0, 0, 5, 20), box(8, 2, 9, 18), Polygon([(12, 2), (19, 9), (12, 16)])]),
)


def _drawn(x, y, radius, region) -> float:
    around = shapely.buffer(shapely.points(x, y), radius, quad_segs=100)
    return shapely.union_all(around).intersection(region).area


@pytest.mark.parametrize("region", REGIONS)
@given(found=disc_lists)
def test_agrees_with_finely_drawn_discs(region, found) -> None:
    x, y, radius = np.array(found).T
    expected = _drawn(x, y, radius, region)
    assert covered_area(x, y, radius, region) == pytest.approx(expected, rel=1e-4, abs=5e-3)


@given(disc_lists, st.floats(0, 2 * np.pi), st.floats(-1e6, 1e6))
def test_moving_and_turning_everything_changes_nothing(found, turn: float, off: float) -> None:
    x, y, radius = np.array(found).T
    region = REGIONS[2]
    cos, sin = np.cos(turn), np.sin(turn)
    moved = shapely.transform(region, lambda c: c @ np.array([[cos, sin], [-sin, cos]]) + [off, -off])
    before = covered_area(x, y, radius, region)
    after = covered_area(cos * x - sin * y + off, sin * x + cos * y - off, radius, moved)
    assert after == pytest.approx(before, rel=1e-5, abs=1e-4)


def test_one_disc_and_its_parts() -> None:
    assert covered_area(0, 0, 3, WIDE) == pytest.approx(9 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 3, box(0, -50, 50, 50)) == pytest.approx(4.5 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 3, box(0, 0, 50, 50)) == pytest.approx(2.25 * np.pi, rel=1e-14)
    assert covered_area(0, 0, 200, WIDE) == pytest.approx(40_000, rel=1e-14)
    assert covered_area(500, 0, 3, WIDE) == 0


def test_two_equal_discs_a_radius_apart() -> None:
    lens = 2 * np.pi / 3 - np.sqrt(3) / 2
    assert covered_area([0, 1], [0, 0], [1, 1], WIDE) == pytest.approx(2 * np.pi - lens, rel=1e-13)


def test_equal_touching_and_nested_discs_count_once() -> None:
    assert covered_area([0, 0, 0], [0, 0, 0], [2, 2, 2], WIDE) == pytest.approx(4 * np.pi, rel=1e-13)
    assert covered_area([0, 4], [0, 0], [2, 2], WIDE) == pytest.approx(8 * np.pi, rel=1e-13)
    assert covered_area([0, 1, 0.5], [0, 0, 0], [3, 2, 0.5], WIDE) == pytest.approx(9 * np.pi, rel=1e-13)


def test_a_disc_that_touches_the_sides_from_within_is_whole() -> None:
    assert covered_area(5, 5, 5, box(0, 0, 10, 10)) == pytest.approx(25 * np.pi, rel=1e-12)
    assert covered_area(5, 15, 5, box(0, 0, 10, 10)) == pytest.approx(0, abs=1e-9)


def test_what_is_not_known_covers_nothing() -> None:
    assert covered_area([], [], [], WIDE) == 0
    assert covered_area([0, 5], [0, 5], [np.nan, 0], WIDE) == 0
    assert covered_area(0, 0, 1, Polygon()) == 0


@given(disc_lists, st.integers(0, 24), st.floats(-4, 24), st.floats(-4, 24), st.floats(0, 9))
def test_a_canopy_after_a_disc_changed_is_that_worked_out_afresh(
    found, at: int, east: float, north: float, wide: float
):
    x, y, radius = np.array(found).T
    before = Canopy(Discs(x, y, radius), np.zeros(len(x), bool))
    for region in REGIONS:
        before.cover(region)
    one = np.array([at % len(x)])
    moved = [values.copy() for values in (x, y, radius)]
    for values, value in zip(moved, (east, north, wide), strict=True):
        values[one] = value
    discs = before.discs.after(Moves(one[:0], one[:0]), one, one, tuple(moved))
    felt = np.array([[x[one][0], y[one][0], radius[one][0]], [east, north, wide]])
    afresh = Canopy(Discs(*moved), np.zeros(len(x), bool))
    after = before.after(discs, np.zeros(len(x), bool), felt) if discs is not None else afresh
    for region in REGIONS:
        quick, slow = after.cover(region), afresh.cover(region)
        assert quick.area == pytest.approx(slow.area, rel=1e-12, abs=1e-12)
        assert quick.reaching == slow.reaching


def test_a_crowd_of_equal_discs_is_looked_at_by_a_few_first() -> None:
    random = np.random.default_rng(6)
    x, y = random.uniform(0, 20, (2, 900))
    assert covered_area(x, y, np.full(900, 4.0), box(0, 0, 20, 20)) == pytest.approx(400, rel=1e-12)
    ring = shapely.Point(10, 10).buffer(30, quad_segs=64)
    assert covered_area(x, y, np.full(900, 4.0), ring) == pytest.approx(_drawn(x, y, 4.0, ring), rel=1e-4)


def test_discs_that_reach_over_are_counted_with_their_marks() -> None:
    canopy = Canopy(
        Discs(np.array([-1.0, 5, 30]), np.array([5.0, 5, 5]), np.array([2.0, 1, 3])), np.array([True, False, True])
    )
    found = canopy.cover(box(0, 0, 10, 10))
    assert (found.reaching, found.marked) == (2, 1)


def test_a_crowd_in_small_batches_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(4)
    x, y, radius = random.uniform(0, 30, 400), random.uniform(0, 30, 400), random.uniform(0.5, 3, 400)
    at_once = covered_area(x, y, radius, REGIONS[2])
    monkeypatch.setattr(discs, "MOST_PAIRS", 500)
    assert covered_area(x, y, radius, REGIONS[2]) == pytest.approx(at_once, rel=1e-12)


@pytest.mark.parametrize("wide", [150.0, 1e4, 1e5, 1e7])
def test_a_mistyped_crown_is_dealt_with_apart(wide: float) -> None:
    random = np.random.default_rng(2)
    x, y, radius = random.uniform(0, 300, 3000), random.uniform(0, 300, 3000), random.uniform(0.5, 3, 3000)
    radius[7] = wide
    canopy = Canopy(Discs(x, y, radius), np.zeros(3000, bool))
    region = box(100, 100, 140, 140)
    away = float(np.hypot(x[7] - 120, y[7] - 120)) + 40 < wide
    expected = 1600 if away else _drawn(x, y, radius, region)
    assert canopy.cover(region).area == pytest.approx(expected, rel=1e-4)
    assert len(canopy._tiles) <= 16
    assert canopy.cover(box(-1e6, -1e6, 1e6, 1e6)).area == pytest.approx(min(np.pi * wide**2, 4e12), rel=1)
    assert len(canopy._tiles) <= 3000


def test_few_crowns_and_a_large_block_take_few_tiles() -> None:
    canopy = Canopy(Discs(np.array([5.0, 8]), np.array([5.0, 5]), np.array([2.0, 2])), np.zeros(2, bool))
    assert canopy.cover(box(-1e5, -1e5, 1e5, 1e5)).area == pytest.approx(_drawn([5, 8], [5, 5], 2, WIDE), rel=1e-3)
    assert len(canopy._tiles) <= 2


def test_a_mistyped_crown_put_right_and_wrong_again() -> None:
    random = np.random.default_rng(3)
    x, y, radius = random.uniform(0, 100, 500), random.uniform(0, 100, 500), random.uniform(0.5, 3, 500)
    radius[:2] = 250.0, 2e4
    none, one = np.empty(0, np.intp), np.array([1])
    canopy = Canopy(Discs(x, y, radius), np.zeros(500, bool))
    canopy.cover(REGIONS[0])
    for wide, east in ((2.0, x[1]), (2e4, 5e4), (0.7, 50.0), (300.0, 50.0)):
        was = np.array([x[1], y[1], radius[1]])
        x, radius = x.copy(), radius.copy()
        x[1], radius[1] = east, wide
        discs = canopy.discs.after(Moves(none, none), one, one, (x, y, radius))
        afresh = Canopy(Discs(x, y, radius), np.zeros(500, bool))
        felt = np.array([was, [x[1], y[1], radius[1]]])
        canopy = afresh if discs is None else canopy.after(discs, np.zeros(500, bool), felt)
        for region in (*REGIONS, WIDE):
            assert canopy.cover(region).area == pytest.approx(afresh.cover(region).area, rel=1e-9)


def test_all_crowns_taken_away_and_some_put_in_elsewhere() -> None:
    x, y, radius = np.array([5.0, 8, 11]), np.array([5.0, 5, 9]), np.array([2.0, 2, 2])
    every, none = np.arange(3), np.empty(0, np.intp)
    canopy = Canopy(Discs(x, y, radius), np.zeros(3, bool))
    assert canopy.cover(WIDE).area > 0
    felt = np.column_stack([x, y, radius])
    bare = canopy.discs.after(Moves(every, none), every, none, (x[:0], y[:0], radius[:0]))
    assert bare is not None
    empty = canopy.after(bare, np.zeros(0, bool), felt)
    for one in (empty, Canopy(bare, np.zeros(0, bool))):
        assert one.cover(WIDE).area == 0
    again = bare.after(Moves(none, np.zeros(3, np.intp)), none, every, (x + 40, y, radius))
    assert again is not None
    felt[:, 0] += 40
    assert empty.after(again, np.zeros(3, bool), felt).cover(WIDE).area == pytest.approx(canopy.cover(WIDE).area)
    assert empty.after(again, np.zeros(3, bool), felt).cover(REGIONS[0]).area == 0


@given(disc_lists, st.lists(st.tuples(st.integers(0, 30), st.floats(-3, 3), st.floats(-3, 3)), min_size=1, max_size=5))
def test_a_polygon_after_corners_moved_is_covered_as_one_never_asked_about(found, moves) -> None:
    x, y, radius = np.array(found).T
    canopy = Canopy(Discs(x, y, radius), np.arange(len(x)) % 2 == 0)
    for region in REGIONS:
        canopy.cover(region, keep=True)
        was = region
        for at, east, north in moves:
            corner = np.unique(shapely.get_coordinates(was), axis=0)
            one, off = corner[at % len(corner)], np.array([east, north])
            now = shapely.transform(was, lambda c, one=one, off=off: c + (c == one).all(axis=1)[:, None] * off)
            if not now.is_valid:
                continue
            quick = canopy.cover(now, was, keep=True)
            slow = Canopy(canopy.discs, np.arange(len(x)) % 2 == 0, canopy.tile_m).cover(now)
            assert quick.area == pytest.approx(slow.area, rel=1e-12, abs=1e-9)
            assert (quick.reaching, quick.marked) == (slow.reaching, slow.marked)
            was = now


def test_after_a_corner_moved_only_what_is_near_it_is_looked_at_again(monkeypatch: pytest.MonkeyPatch) -> None:
    random = np.random.default_rng(3)
    x, y = random.uniform(0, 200, (2, 2_000))
    canopy = Canopy(Discs(x, y, random.uniform(0.5, 3, 2_000)), np.zeros(2_000, bool))
    along = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    corners = np.column_stack([100 + 80 * np.cos(along), 100 + 80 * np.sin(along)])
    was = Polygon(corners)
    canopy.cover(was, keep=True)
    corners[20] += 1.5
    asked = []
    real = outline_cover._beside
    monkeypatch.setattr(outline_cover, "_beside", lambda b, e, d: asked.append((len(b), len(d))) or real(b, e, d))
    quick = canopy.cover(Polygon(corners), was)
    slow = Canopy(canopy.discs, np.zeros(2_000, bool)).cover(Polygon(corners))
    assert quick.area == pytest.approx(slow.area, rel=1e-12)
    assert quick.reaching == slow.reaching
    (sides, discs), (all_sides, _) = asked
    assert sides <= 10
    assert discs < 100
    assert all_sides == 60


def test_one_disc_far_away_makes_no_tile_wider() -> None:
    random = np.random.default_rng(3)
    x, y, radius = *random.uniform(0, 300, (2, 3_000)), random.uniform(0.5, 3, 3_000)
    near = Canopy(Discs(x, y, radius), np.zeros(3_000, bool))
    far = Canopy(
        Discs(*(np.append(values, one) for values, one in zip((x, y, radius), (-1e6, 5e6, 2), strict=True))),
        np.zeros(3_001, bool),
    )
    assert far.tile_m < 2 * near.tile_m
    assert far.cover(box(50, 50, 250, 250)).area == pytest.approx(near.cover(box(50, 50, 250, 250)).area, rel=1e-12)
    assert far.cover(box(-1e6 - 5, 5e6 - 5, -1e6 + 5, 5e6 + 5)).area == pytest.approx(4 * np.pi, rel=1e-9)
