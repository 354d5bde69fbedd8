import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.scene.scales import fitting_scale, round_scale, scale_bar, tick_spacing, tick_values


@pytest.mark.parametrize(
    ("needed", "given_"),
    [
        (1000, 1000),
        (1001, 2000),
        (2000.0001, 2500),
        (2501, 5000),
        (3187, 5000),
        (5001, 10_000),
        (99, 100),
        (24_000, 25_000),
        (1, 1),
        (2.5, 5),
    ],
)
def test_round_scales_are_the_next_of_the_series(needed, given_):
    assert round_scale(needed) == given_


@given(st.floats(10, 1e7))
def test_a_round_scale_is_never_too_large_and_at_most_two_and_a_half_times_what_is_needed(needed):
    found = round_scale(needed)
    lead = found / 10 ** math.floor(math.log10(found))
    assert any(lead == pytest.approx(step) for step in (1.0, 2.0, 2.5, 5.0))
    assert needed * (1 - 1e-6) <= found <= max(needed * 2.000001, 1)


@given(st.floats(1, 1e5), st.floats(1, 1e5), st.floats(50, 1000), st.floats(50, 1000))
def test_what_fits_does_fit_and_the_next_larger_would_not(wide, high, paper_wide, paper_high):
    scale = fitting_scale((0.0, 0.0, wide, high), paper_wide, paper_high)
    assert wide / scale * 1000 <= paper_wide * (1 + 1e-6)
    assert high / scale * 1000 <= paper_high * (1 + 1e-6)
    closer = round_scale(scale / 2.1)
    if closer < scale and closer >= (500 if max(wide, high) < 20 else 100):
        assert wide / closer * 1000 > paper_wide or high / closer * 1000 > paper_high


@given(st.floats(0.02, 5000), st.floats(50, 80))
def test_bars_have_two_to_five_round_divisions_and_the_usual_length(metres_per_mm, most):
    bar = scale_bar(metres_per_mm, min(40.0, most / 2), most)
    lead = bar.step_m / 10 ** math.floor(math.log10(bar.step_m) + 1e-9)
    assert any(lead == pytest.approx(step) for step in (1.0, 2.0, 5.0, 10.0))
    assert 2 <= bar.divisions <= 5
    assert min(40.0, most / 2) - 1e-9 <= bar.length_mm <= most + 1e-6
    assert bar.step_mm * metres_per_mm == pytest.approx(bar.step_m)


@pytest.mark.parametrize("scale", [500, 1000, 2000, 2500, 5000, 10_000, 20_000, 25_000])
def test_hundred_metres_can_be_read_off_the_bar(scale):
    bar = scale_bar(scale / 1000)
    fraction = 100 / bar.step_m
    assert fraction == pytest.approx(round(fraction)) or 1 / fraction == pytest.approx(round(1 / fraction))


def test_bars_name_their_unit_once():
    bar = scale_bar(5.0)
    assert [bar.words(place) for place in range(bar.divisions + 1)] == ["0", "100", "200", "300", "400 m"]
    far = scale_bar(100.0)
    assert far.words(far.divisions).endswith(" km")
    assert not far.words(1).endswith("m")


@given(st.floats(0.02, 5000), st.floats(20, 120))
def test_ticks_have_room_for_their_coordinates(metres_per_mm, room):
    spacing = tick_spacing(metres_per_mm, room)
    assert room * (1 - 1e-6) <= spacing / metres_per_mm <= room * 2.5 * (1 + 1e-6)


def test_ticks_are_whole_multiples():
    assert tick_values(1_811_240.0, 1_812_764.0, 500.0).tolist() == [1_811_500.0, 1_812_000.0, 1_812_500.0]
    assert tick_values(0.0, 1000.0, 500.0).tolist() == [0.0, 500.0, 1000.0]
    assert len(tick_values(10.0, 20.0, 500.0)) == 0
    assert tick_values(-750.0, 100.0, 250.0).tolist() == [-750.0, -500.0, -250.0, 0.0]
    assert np.issubdtype(tick_values(0, 1, 1).dtype, np.floating)
