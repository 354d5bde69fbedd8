"""Where a fence stands already none is built again, however the creek and the fence lie."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString

from farmmap.plans.planting.fences.fence import fencing
from farmmap.plans.planting.recipes.recipe import FenceWish
from tests.plans.fences.test_fence import along, with_rows

WEST, SOUTH = 1_812_000.0, 5_478_000.0


def turned(angle_deg: float, *places: tuple[float, float]) -> LineString:
    """A line through places along and left of a creek that runs at an angle."""
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return LineString([(WEST + along * cos - left * sin, SOUTH + along * sin + left * cos) for along, left in places])


@given(angle_deg=st.floats(0.0, 360.0), begin=st.floats(60.0, 140.0), askew=st.floats(-0.5, 0.5))
def test_what_stands_is_taken_off_at_any_angle(angle_deg, begin, askew):
    """Beside a creek of 400 m, 120 m of fence stand: 280 m are left, in two runs."""
    farm, part, grounds = along(turned(angle_deg, (0, 0), (400, 0)), sides=(0,))
    x, y = shapely.get_coordinates(part.reaches[0].line)[0]
    stands = shapely.transform(
        turned(angle_deg, (begin, 12.5 + askew), (begin + 120, 12.5 - askew)),
        partial(np.add, [x - WEST, y - SOUTH]),
    )
    farm = with_rows(farm, "fences", name=["Old fence"], geometry=[stands])
    found = fencing(farm, part, grounds, FenceWish(ends=False, gate_m=0.0), None, 1.0)
    assert len(found.lines) == 2
    assert sum(fence.length_m for fence in found.lines) == pytest.approx(280.0, abs=8.0)
    assert any("120 m on the left bank have a fence already" in note for note in found.notes)


@pytest.mark.parametrize(("left_m", "troughs", "gates"), [(20.0, 0, 0), (60.0, 0, 1), (300.0, 1, 1)])
def test_a_short_run_beside_an_old_fence_brings_no_trough_of_its_own(left_m, troughs, gates):
    farm, part, grounds = along(turned(30.0, (0, 0), (400, 0)), sides=(0,))
    x, y = shapely.get_coordinates(part.reaches[0].line)[0]
    stands = shapely.transform(turned(30.0, (-20, 12.2), (400 - left_m, 12.2)), partial(np.add, [x - WEST, y - SOUTH]))
    farm = with_rows(farm, "fences", name=["Old fence"], geometry=[stands])
    wish = FenceWish(ends=False, gates_every_m=1_000.0, water_every_m=400.0, water_off_m=5.0)
    (fence,) = fencing(farm, part, grounds, wish, None, 1.0).lines
    assert fence.length_m == pytest.approx(left_m, abs=4.0)
    assert len(fence.troughs) == troughs
    assert (len(fence.gates) > 0) == (gates > 0)
