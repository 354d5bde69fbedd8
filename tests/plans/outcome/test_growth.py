"""Growth of plants: straight between the ages given, nothing at planting, held afterwards."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.planting.outcome.growth import sizes_at, sizes_of_kinds
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import PlantKind
from tests.plans.grown_plan import KINDS, Listed, creek_plan, plan_with

sizes = st.lists(st.floats(0.0, 40.0), min_size=1, max_size=6)


@pytest.mark.parametrize(
    ("year", "crown", "height"),
    [(0, 0, 0), (0.5, 0.25, 0.3), (1, 0.5, 0.6), (3, 1.25, 1.8), (20, 7, 12), (35, 7, 12), (-1, 0, 0)],
)
def test_sizes_are_straight_between_the_ages_given(year: float, crown: float, height: float) -> None:
    found = sizes_at(creek_plan(), KINDS, year)
    np.testing.assert_allclose(found[0], crown, atol=1e-12)
    np.testing.assert_allclose(found[1], height, atol=1e-12)


def test_a_pole_that_is_high_when_planted_counts_so_from_the_first_day() -> None:
    pole = Listed(PlantKind("POLE", "pole", years=(0, 10), crown_m=(0.2, 4.2), height_m=(2.5, 9.5)))
    found = sizes_of_kinds(plan_with([], ["POLE"], []), pole, (-1, 0, 5))
    assert found.height_m.tolist() == [[0.0, 2.5, 6.0]]
    assert found.crown_m[0] == pytest.approx([0.0, 0.2, 2.2])


def test_a_kind_without_growth_is_named_and_has_no_crown() -> None:
    plan = plan_with([], ["NONE", "BARE", "ONE"], [(0, 0, 0, 0)])
    kinds = Listed(PlantKind("BARE", "bare"), PlantKind("ONE", "one", years=(3,), crown_m=(1.5,), height_m=()))
    found = sizes_of_kinds(plan, kinds, (0, 3, 9))
    assert found.unknown == ("NONE", "BARE")
    assert "NONE, BARE" in found.notes[0]
    assert found.crown_m.tolist() == [[0, 0, 0], [0, 0, 0], [0, 1.5, 1.5]]
    assert not found.height_m.any()


def test_only_low_growth_is_told_apart() -> None:
    assert sizes_of_kinds(creek_plan(), KINDS, (5,)).low.tolist() == [True, False, False]
    assert sizes_of_kinds(creek_plan(), KINDS, (5,)).notes == ()


def test_the_plants_that_come_with_farmmap_will_do() -> None:
    found = sizes_of_kinds(plan_with([], [plant_kinds().known()[0]], []), plant_kinds(), (0, 1, 5, 10, 20))
    assert found.unknown == ()
    assert found.crown_m[0, 0] == 0
    assert found.crown_m[0, -1] > 0


@given(crown=sizes, year=st.floats(0, 100))
def test_sizes_lie_within_those_given(crown: list[float], year: float) -> None:
    ages = tuple(float(age) for age in range(1, len(crown) + 1))
    kind = PlantKind("K", "k", years=ages, crown_m=tuple(crown), height_m=tuple(crown))
    found = sizes_of_kinds(plan_with([], ["K"], []), Listed(kind), (year,))
    assert 0 <= found.crown_m[0, 0] <= max(crown)
    assert found.crown_m[0, 0] == found.height_m[0, 0]
    if year >= ages[-1]:
        assert found.crown_m[0, 0] == crown[-1]
