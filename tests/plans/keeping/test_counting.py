"""What to count of a planting."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.planting.keeping.counting import (
    COUNT_ALL,
    LEAST_STRIPS,
    SAMPLE,
    SPACINGS_M,
    STRIP_M,
    strip_spacing_m,
    survival_count,
)
from farmmap.plans.planting.recipes.kinds import plant_kinds
from tests.conftest import small_farm
from tests.plans.counted_plan import counted_plan


@given(st.integers(0, 50_000), st.floats(20, 5_000))
def test_strips_hold_enough_plants_and_lie_as_far_apart_as_they_may(plants, bank_m):
    found = strip_spacing_m(plants, bank_m)
    if plants <= COUNT_ALL:
        assert found is None
        return
    assert found is None or plants * STRIP_M / found >= SAMPLE
    assert found is None or bank_m / found >= LEAST_STRIPS
    wider = [spacing for spacing in SPACINGS_M if found is None or spacing > found]
    assert not any(plants * STRIP_M / spacing >= SAMPLE and bank_m / spacing >= LEAST_STRIPS for spacing in wider)


def test_small_zones_are_counted_in_full_and_large_ones_in_strips():
    plan = counted_plan([[("tōtara", "seedling", 900), ("mānuka", "seedling", 300)], [("tōtara", "pole", 200)]])
    count = survival_count(plan, plant_kinds(small_farm(), plan.recipe))
    assert count.spacing_m == {"Zone 1": 40}
    assert [(line.zone, line.planted, line.look_at) for line in count.lines] == [
        ("Zone 1", 900, 90), ("Zone 1", 300, 30), ("Zone 2", 200, 200),
    ]  # fmt: skip


def test_stocks_of_one_kind_in_a_zone_are_counted_together():
    """A count holds for a zone and a species, whatever the stock."""
    plan = counted_plan([[("tōtara", "seedling", 30), ("tōtara", "pole", 20)]])
    (line,) = survival_count(plan, plant_kinds(small_farm(), plan.recipe)).lines
    assert (line.stock, line.planted, line.look_at) == ("seedling, pole", 50, 50)


def test_what_was_not_planted_is_not_counted():
    plan = counted_plan([[("tōtara", "seedling", 30), ("mānuka", "seedling", 0)]])
    count = survival_count(plan, plant_kinds(small_farm(), plan.recipe))
    assert [line.planted for line in count.lines] == [30]
    assert pytest.approx(0) == len(count.spacing_m)
