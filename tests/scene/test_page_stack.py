import pytest

from farmmap.scene.page_items import Box
from farmmap.scene.page_stack import Part, columns, stack


def part(name, natural, least=None, way=0):
    return Part(
        name, lambda width, height: Box(name, 0, 0, width, max(min(natural, height), least or natural), ()), way
    )


def test_parts_stand_one_under_the_other_with_gaps():
    made = stack([part("a", 10), part("b", 20)], 50, 100, 4)
    assert [(box.name, box.y, box.height) for box in made.placed(0, 0)] == [("a", 0, 10), ("b", 14, 20)]
    assert (made.height, made.short_mm, made.cut, made.fits) == (34, 0, (), True)


def test_what_gives_way_first_is_shortened_first():
    made = stack([part("key", 40, 10, 4), part("blocks", 60, 20, 2), part("notes", 20, 5, 1)], 50, 80, 5)
    heights = {box.name: box.height for box in made.boxes}
    assert heights == {"key": 40, "blocks": pytest.approx(32.5), "notes": pytest.approx(5)}
    assert made.cut == ("notes", "blocks")
    assert made.short_mm == pytest.approx(27.5 + 15 / 4)  # gaps are drawn closer first
    assert made.fits


def test_what_cannot_fit_says_so():
    assert not stack([part("a", 60), part("b", 60, 50, 1)], 50, 100, 4).fits


def test_parts_of_no_height_leave_no_gap():
    made = stack([part("a", 10), part("none", 0), part("b", 10)], 50, 100, 4)
    assert list(made.tops) == [0, 14]


def test_the_last_parts_may_stand_at_the_foot():
    made = stack([part("a", 10), part("b", 10), part("c", 10)], 50, 100, 4, bottom=2)
    assert list(made.tops) == [0, 76, 90]
    assert made.height == 100


def test_columns_are_as_low_as_can_be():
    stacks, high = columns(
        [part(name, tall) for name, tall in zip("abcd", (10, 40, 30, 15), strict=True)], 2, 50, 200, 5
    )
    assert [[box.name for box in made.boxes] for made in stacks] == [["a", "b"], ["c", "d"]]
    assert high == 55
