"""Charts on a page."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.page_charts import Series, bar_chart, line_chart, round_step
from farmmap.scene.page_items import Disc, Shape, Text
from farmmap.scene.paper import paper_of
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import LOOKS, contrast, theme

A4 = paper_of("A4", landscape=False)
TYPE = page_type(A4, theme("paper"), lambda text, style: 0.5 * style.size_mm * len(text))


def texts(box):
    return [item for item in box.items if isinstance(item, Text)]


def extent(item):
    wide = TYPE.width(item.text, item.style)
    left = item.x - {"left": 0.0, "middle": wide / 2, "right": wide}[item.align]
    return left, item.y - 0.7 * item.style.size_mm, left + wide, item.y + 0.2 * item.style.size_mm


def overlap(one, other):
    return min(one[2], other[2]) - max(one[0], other[0]) > 0.01 and min(one[3], other[3]) - max(one[1], other[1]) > 0.01


def bars(box):
    """Widths of the filled rectangles that begin at the axis."""
    axis = max(
        (item for item in box.items if isinstance(item, Shape) and not item.closed and item.line == TYPE.theme.ink
         and item.points[0][0] == item.points[1][0]),
        key=lambda item: abs(item.points[1][1] - item.points[0][1]),
    ).points[0][0]  # fmt: skip
    shapes = [item for item in box.items if isinstance(item, Shape) and item.closed and item.fill and item.line]
    return [item.points[1][0] - item.points[0][0] for item in shapes if item.points[0][0] == axis]


@given(st.floats(1e-3, 1e7), st.integers(2, 9))
def test_steps_are_round_and_the_smallest_that_do(most, ticks):
    step = round_step(most, ticks)
    assert f"{step:.6e}"[0] in "125"
    assert step * ticks >= most * (1 - 1e-9)
    smaller = {"1": 0.5, "2": 0.5, "5": 0.4}[f"{step:.6e}"[0]] * step
    assert smaller * ticks < most


@given(
    st.lists(st.one_of(st.just(0.0), st.floats(0.01, 1e5)), min_size=1, max_size=14),
    st.integers(1, 3),
)
def test_bars_are_as_long_as_their_values(values, count):
    series = [
        Series(f"kind {at}", tuple(value / (at + 1) for value in values), tuple(f"{value:.0f}" for value in values))
        for at in range(count)
    ]
    made = bar_chart(TYPE, 170.0, [f"Block {at}" for at in range(len(values))], series, "m")
    drawn = sorted(bars(made))
    wanted = sorted(value for one in series for value in one.values if value > 0)
    if wanted:
        times = drawn[-1] / wanted[-1]
        assert len(drawn) == len(wanted)
        assert drawn == pytest.approx([value * times for value in wanted], abs=1e-6)
    for item in texts(made):
        left, top, right, bottom = extent(item)
        assert left >= -0.01
        assert right <= 170.01
        assert top >= -0.01
        assert bottom <= made.height + 0.01
    below = max(item.y for item in texts(made))
    names = [extent(item) for item in texts(made) if item.y < below]
    assert not any(overlap(one, other) for one, other in combinations(names, 2))


def test_bars_of_several_series_differ_without_colour():
    series = [Series(name, (10.0,), ("10",)) for name in ("Grant", "Own cash", "In kind")]
    made = bar_chart(TYPE, 170.0, ["Fence"], series, "")
    tops = sorted(
        {
            item.points[0][1]
            for item in made.items
            if isinstance(item, Shape) and item.closed and item.fill and item.line
        }
    )
    strokes = [item for item in made.items if isinstance(item, Shape) and not item.closed and item.line_mm == 0.12]
    assert strokes
    slopes = {
        round((item.points[1][1] - item.points[0][1]) / (item.points[1][0] - item.points[0][0]), 6) for item in strokes
    }
    assert slopes == {-1.0, 1.0}
    assert len(tops) == 6 or len(tops) == 4  # samples in one row and three bars
    for item in strokes:
        for x, y in item.points:
            assert any(
                shape.points[0][0] - 1e-6 <= x <= shape.points[2][0] + 1e-6
                and shape.points[0][1] - 1e-6 <= y <= shape.points[2][1] + 1e-6
                for shape in made.items
                if isinstance(shape, Shape) and shape.closed and shape.fill
            )


def test_a_value_of_nought_takes_no_room_beside_others():
    full = bar_chart(TYPE, 170.0, ["A"], [Series("g", (3.0,), ("3",)), Series("o", (2.0,), ("2",))], "")
    less = bar_chart(TYPE, 170.0, ["A"], [Series("g", (3.0,), ("3",)), Series("o", (0.0,), ("",))], "")
    assert less.height < full.height
    assert len(bars(less)) == 1


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100)), min_size=1, max_size=4),
    st.floats(0, 100),
)
def test_names_at_the_ends_of_lines_do_not_meet(values, band):
    series = [Series(f"kind {at}", one) for at, one in enumerate(values)]
    made = line_chart(TYPE, (170.0, 62.0), (0.0, 5.0, 20.0), series, ("Years", "Cover, %"), 100.0, ("today", band))
    names = [extent(item) for item in texts(made) if item.text.startswith(("kind", "today"))]
    assert len(names) == len(values) + 1
    assert not any(overlap(one, other) for one, other in combinations(names, 2))
    every = [extent(item) for item in texts(made)]
    assert all(
        left >= -0.01 and right <= 170.01 and top >= -0.3 and bottom <= 62.01 for left, top, right, bottom in every
    )
    assert not any(overlap(one, other) for one, other in combinations(every, 2))


def test_lines_lie_where_their_values_are():
    made = line_chart(
        TYPE, (170.0, 62.0), (0.0, 10.0, 20.0), [Series("trees", (0.0, 50.0, 100.0))], ("Years", "%"), 100.0
    )
    (line,) = (item for item in made.items if isinstance(item, Shape) and item.line_mm == 0.55)
    (x0, y0), (x1, y1), (x2, y2) = line.points
    assert x1 == pytest.approx((x0 + x2) / 2)
    assert y1 == pytest.approx((y0 + y2) / 2)
    hundred = next(item for item in texts(made) if item.text == "100")
    assert y2 == pytest.approx(hundred.y, abs=1.0)
    assert sum(isinstance(item, Disc) for item in made.items) == 3


def test_a_line_breaks_where_nothing_is_known():
    made = line_chart(TYPE, (170.0, 62.0), (0, 1, 2, 3), [Series("a", (1.0, None, 2.0, 3.0))], ("Years", "m"))
    lines = [item for item in made.items if isinstance(item, Shape) and item.line_mm == 0.55]
    assert [len(line.points) for line in lines] == [1, 2]


@pytest.mark.parametrize("look", LOOKS)
def test_bars_stand_out_from_paper_in_every_look(look):
    type_ = page_type(A4, theme(LOOKS[look]), TYPE.width)
    made = bar_chart(type_, 170.0, ["A"], [Series("", (3.0,), ("3",))], "m")
    fills = [item for item in made.items if isinstance(item, Shape) and item.closed and item.fill and item.line]
    assert all(contrast(item.line, "#FFFFFF") >= 3 for item in fills)
    lines = line_chart(type_, (170.0, 62.0), (0, 5), [Series("a", (1.0, 2.0)), Series("b", (2.0, 3.0))], ("Years", "m"))
    strokes = [item for item in lines.items if isinstance(item, Shape) and item.line_mm == 0.55]
    assert len(strokes) == 2
    assert all(contrast(item.line, "#FFFFFF") >= 3 for item in strokes)
