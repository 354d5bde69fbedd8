import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.page_items import Shape, Text, Type
from farmmap.scene.page_north import LEAST_APART_DEG, North, north_box
from farmmap.scene.styles import theme


def measure(text, style):
    return len(text) * style.size_mm * 0.52


TYPE = Type(theme("paper"), 1.0, measure)
COMPASS = (
    "A compass needle points 24.7° east of grid north on this map (7 May 2026; moves 0.1° a year eastwards; World "
    "Magnetic Model 2025, which holds until 31 December 2029)."
)
WORDS = (
    "Grid north",
    "True north lies 1.64° east of it here.",
    COMPASS,
    "NZGD2000 / New Zealand Transverse Mercator 2000",
)
NAMES = {"grid", "true", "compass", "true and grid"}
EXAGGERATED = "The angles are drawn wider than they are."


def words_of(box):
    return " ".join(item.text for item in box.items if isinstance(item, Text))


def spokes(box):
    """Angles of the lines from their common foot, clockwise from the top. [degrees]."""
    lines = [item.points for item in box.items if isinstance(item, Shape) and not item.closed]
    assert len({start for start, _ in lines}) == 1
    return [math.degrees(math.atan2(x - foot_x, foot_y - y)) for (foot_x, foot_y), (x, y) in lines]


def extent(item):
    if isinstance(item, Shape):
        across, down = zip(*item.points, strict=True)
        return min(across), min(down), max(across), max(down)
    wide = measure(item.text, item.style)
    left = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
    return left, item.y - 0.72 * item.style.size_mm, left + wide, item.y + 0.22 * item.style.size_mm


def test_without_a_compass_there_is_one_arrow_and_all_that_is_said():
    box = north_box(TYPE, North(WORDS[:2], true_deg=1.64), 62.0)
    assert words_of(box) == " ".join(WORDS[:2])
    assert all(item.closed for item in box.items if isinstance(item, Shape))


def test_angles_that_can_be_told_apart_are_drawn_as_they_are():
    box = north_box(TYPE, North(WORDS, true_deg=-20.0, needle_deg=24.7), 62.0)
    assert sorted(spokes(box)) == pytest.approx([-20.0, 0.0, 24.7])
    assert EXAGGERATED not in words_of(box)


def test_angles_too_near_to_be_told_apart_are_drawn_wider_and_that_is_said():
    box = north_box(TYPE, North(WORDS, true_deg=1.64, needle_deg=2.0), 62.0)
    assert sorted(spokes(box)) == pytest.approx([0.0, LEAST_APART_DEG, 2 * LEAST_APART_DEG])
    assert EXAGGERATED in words_of(box)


def test_where_grid_north_is_true_north_they_are_one_line():
    box = north_box(TYPE, North(WORDS, true_deg=0.001, needle_deg=-15.0), 62.0)
    assert sorted(spokes(box)) == pytest.approx([-15.0, 0.0])
    assert {item.text for item in box.items if isinstance(item, Text)} & NAMES == {"true and grid", "compass"}


@given(st.floats(-30, 30), st.floats(-40, 40), st.floats(40, 120))
def test_every_north_is_named_and_no_words_lie_on_others(true, needle, width):
    box = north_box(TYPE, North(WORDS, true, needle), width)
    turns = spokes(box)
    assert all(abs(turn) < 95 for turn in turns)
    texts = [item for item in box.items if isinstance(item, Text)]
    for place, one in enumerate(texts):
        left, top, right, bottom = extent(one)
        assert left >= -1e-6
        assert right <= box.width + 1e-6
        assert top >= -0.3
        assert bottom <= box.height + 0.3
        for other in texts[place + 1 :]:
            west, north, east, south = extent(other)
            assert right <= west + 1e-6 or east <= left + 1e-6 or bottom <= north + 1e-6 or south <= top + 1e-6, (
                one,
                other,
            )
    named = {item.text for item in texts} & NAMES
    assert len(named) == len(turns)
