import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.sizes import LARGEST_STEM_CM, SMALLEST_MM, mm_per_cm, outline_mm, symbol_mm


@pytest.mark.parametrize("metres_per_mm", [0.1, 0.5, 1.0, 2.5, 5.0])
def test_width_is_in_proportion_to_diameter(metres_per_mm):
    ten, thirty, sixty = symbol_mm([40, 60, 80], metres_per_mm)
    assert thirty / ten == pytest.approx(1.5)
    assert sixty / ten == pytest.approx(2.0)
    assert ten == pytest.approx(40 * mm_per_cm(metres_per_mm))


@given(st.floats(0, 1200), st.floats(0.005, 5000))
def test_width_keeps_between_floor_and_cap(dbh, metres_per_mm):
    width = float(symbol_mm([dbh], metres_per_mm)[0])
    assert SMALLEST_MM <= width <= max(LARGEST_STEM_CM * mm_per_cm(metres_per_mm), SMALLEST_MM) + 1e-9
    assert width == pytest.approx(float(symbol_mm([min(dbh, LARGEST_STEM_CM)], metres_per_mm)[0]))


def test_symbols_shrink_with_the_scale():
    assert mm_per_cm(0.5) > mm_per_cm(1.0) > mm_per_cm(5.0) > mm_per_cm(10.0)


@given(st.floats(0.1, 20))
def test_rings_leave_most_of_the_symbol_to_its_colour(size):
    assert outline_mm(size, 0.18) <= max(0.25 * size, 0.0)
