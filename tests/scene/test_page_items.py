import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.page_items import Box, Shape, Text, elided, paragraphs, wrapped
from farmmap.scene.styles import TextStyle

STYLE = TextStyle("#000000", 2.0)


def width(text, style):
    return len(text) * style.size_mm / 2


@given(st.text(max_size=80), st.floats(1.0, 60.0))
def test_cut_text_fits_and_says_that_it_is_cut(text, room):
    found = elided(text, STYLE, room, width)
    assert width(found, STYLE) <= max(room, width("…", STYLE))
    assert found == text or (found.endswith("…") and text.startswith(found[:-1]))


@given(st.lists(st.text("abcdef", min_size=1, max_size=9), max_size=30), st.floats(9.0, 60.0))
def test_wrapped_text_keeps_all_its_words(words, room):
    lines = wrapped(" ".join(words), STYLE, room, width)
    assert " ".join(lines).split() == words
    assert all(width(line, STYLE) <= room for line in lines)


def test_a_word_longer_than_a_line_is_cut():
    assert wrapped("a extraordinarily b", STYLE, 5.0, width) == ["a", "extr…", "b"]


def test_paragraphs_stand_one_under_the_other_inside_their_height():
    items, high = paragraphs(["one two three", "four"], STYLE, 7.0, width)
    assert [item.text for item in items] == ["one two", "three", "four"]
    downs = [item.y for item in items]
    assert downs == sorted(downs)
    assert downs[0] >= STYLE.size_mm * 0.7
    assert downs[-1] <= high
    assert paragraphs([], STYLE, 7.0, width) == ((), 0.0)


def test_a_box_moves_with_all_that_is_in_it():
    box = Box("key", 0, 0, 10, 5, (Text(1, 2, "a", STYLE), Shape(((0, 0), (1, 1)))))
    moved = box.placed(20, 30)
    assert (moved.x, moved.y) == (20, 30)
    assert (moved.items[0].x, moved.items[0].y) == (21, 32)
    assert moved.items[1].points == ((20, 30), (21, 31))
    assert moved.placed(0, 0).items[0].x == pytest.approx(1)
