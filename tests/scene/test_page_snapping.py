"""Elements moved on a page: they snap to what is near, and are never worse off for it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.page_snapping import (
    LEAST_SIDE_MM,
    SNAP_MM,
    Place,
    Surroundings,
    move_snapped,
    off_paper,
    over_each_other,
    resize_snapped,
)

WIDE, HIGH, MARGIN = 210.0, 297.0, 10.0
PLACES = st.builds(
    Place, st.floats(-30, WIDE), st.floats(-30, HIGH), st.floats(LEAST_SIDE_MM, 150), st.floats(LEAST_SIDE_MM, 150)
)
AROUND = st.builds(lambda others: Surroundings(WIDE, HIGH, MARGIN, tuple(others)), st.lists(PLACES, max_size=6))
GRIPS = st.sampled_from([(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1) if (x, y) != (0, 0)])
STEPS = st.floats(-80, 80)


def edges(place):
    return [place.x, place.x + place.width / 2, place.right], [place.y, place.y + place.height / 2, place.bottom]


def lines(around):
    inside = Place(MARGIN, MARGIN, WIDE - 2 * MARGIN, HIGH - 2 * MARGIN)
    both = [edges(one) for one in (*around.others, inside)]
    return [at for one in both for at in one[0]], [at for one in both for at in one[1]]


def is_no_worse(after, before, around):
    assert around.covered(after) <= around.covered(before)
    assert around.off_paper_mm(after) <= around.off_paper_mm(before) + 1e-6


@given(PLACES, AROUND)
def test_a_moved_element_stays_within_reach_keeps_its_size_and_is_never_worse_off(held, around):
    snapped = move_snapped(held, around)
    place = snapped.place
    assert abs(place.x - held.x) <= SNAP_MM
    assert abs(place.y - held.y) <= SNAP_MM
    assert (place.width, place.height) == (held.width, held.height)
    is_no_worse(place, held, around)
    for guide in snapped.guides:
        assert min(abs(guide.at - edge) for edge in edges(place)[0 if guide.upright else 1]) <= 1e-6
        assert min(abs(guide.at - at) for at in lines(around)[0 if guide.upright else 1]) <= 1e-6
    for way, was in ((0, held.x), (1, held.y)):
        if (place.x, place.y)[way] != was:
            assert any(guide.upright == (way == 0) for guide in snapped.guides), "nothing moves but onto a line"


@given(PLACES, AROUND)
def test_what_snapped_once_stays_where_it_is(held, around):
    once = move_snapped(held, around).place
    again = move_snapped(once, around, 1e-6).place
    assert abs(again.x - once.x) <= 1e-6
    assert abs(again.y - once.y) <= 1e-6


@given(PLACES, GRIPS, STEPS, STEPS, AROUND)
def test_a_resized_element_moves_only_the_edges_that_are_drawn(place, grip, dx, dy, around):
    held = resize_snapped(place, grip, dx, dy, around, 0.0).place
    snapped = resize_snapped(place, grip, dx, dy, around).place
    assert snapped.width >= LEAST_SIDE_MM - 1e-9
    assert snapped.height >= LEAST_SIDE_MM - 1e-9
    for way, was, now, asked in (
        (grip[0], (place.x, place.right), (snapped.x, snapped.right), (held.x, held.right)),
        (grip[1], (place.y, place.bottom), (snapped.y, snapped.bottom), (held.y, held.bottom)),
    ):
        if way >= 0:
            assert now[0] == was[0]
        if way <= 0:
            assert now[1] == pytest.approx(was[1])
        assert abs(now[0] - asked[0]) <= SNAP_MM + 1e-9
        assert abs(now[1] - asked[1]) <= SNAP_MM + 1e-9
    is_no_worse(snapped, held, around)


@given(PLACES, AROUND)
def test_nothing_snaps_from_no_distance(held, around):
    assert move_snapped(held, around, 0.0).place == held


def test_an_element_snaps_to_the_margin_and_to_the_middle_of_another():
    key = Place(50, 100, 40, 30, "key")
    around = Surroundings(WIDE, HIGH, MARGIN, (key,))
    snapped = move_snapped(Place(11.2, 109, 20, 10), around)
    assert (snapped.place.x, snapped.place.y) == (10, 110)
    assert {(guide.upright, guide.at) for guide in snapped.guides} >= {(True, 10), (False, 115)}
    level = next(guide for guide in snapped.guides if not guide.upright)
    assert (level.first, level.last) == (10, 90), "the line is seen from the one to the other"


def test_the_nearer_of_two_lines_wins():
    around = Surroundings(WIDE, HIGH, MARGIN, (Place(50, 200, 20, 20),))
    assert move_snapped(Place(51.5, 40, 17, 11), around).place.right == pytest.approx(68.5)
    assert move_snapped(Place(50.5, 40, 17, 11), around).place.x == 50


def test_an_element_does_not_snap_over_another():
    around = Surroundings(WIDE, HIGH, MARGIN, (Place(50, 100, 40, 30), Place(89, 50, 40, 20)))
    held = Place(90.5, 105, 20, 13)
    assert not around.covered(held)
    assert move_snapped(held, around).place.x == 90, "to the edge of its neighbour, not to the line beyond it"


def test_a_corner_snaps_to_the_frame_of_the_map():
    frame = Place(10, 30, 190, 180, "map")
    around = Surroundings(WIDE, HIGH, MARGIN, (frame,))
    snapped = resize_snapped(Place(120, 215, 60, 40), (1, 1), 18.6, 31.0, around)
    assert (snapped.place.right, snapped.place.bottom) == (200, 287)


def test_what_lies_over_another_and_off_the_paper_is_named():
    places = [
        Place(0, 0, 20, 20, "a"),
        Place(19, 19, 20, 20, "b"),
        Place(39, 39, 10, 10, "c"),
        Place(205, 5, 9, 9, "d"),
    ]
    assert over_each_other(places) == [("a", "b")]
    assert off_paper(places, WIDE, HIGH) == ["d"]
