"""About-figures agree with the whole plan within a bound, and never look more exact than they are."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.farm import Farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.make import make_plan, plan_sketch
from farmmap.plans.planting.outcome.about import About, about_number, about_plan
from farmmap.plans.planting.outcome.costs import Costs, cost_lines
from farmmap.plans.planting.outcome.cover import expected_cover
from farmmap.plans.planting.outcome.order import order_lines
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import FenceWish, Recipe, WidthRule
from farmmap.plans.planting.recipes.recipe_file import read_recipe
from farmmap.resource_files import sample_farm_path
from tests.plans.meanders import creek_farm, sine_generated_creek

READ = read_recipe(sample_farm_path().parent / "sedge_edge_10m.toml", plant_kinds().find)
RECIPE = replace(
    READ, zones=tuple(replace(zone, width_m=None, share=(zone.width_m or 0.0) / 10) for zone in READ.zones), lines={}
)
"""Its zones as shares of ten metres, so that they grow wider with the margin."""
BOTH = Stretch("Sedge Creek", ("left", "right"))


@pytest.fixture(scope="module")
def creek() -> Farm:
    return creek_farm(sine_generated_creek(600.0, 76, 60.0, 160.0))


def wide(width_m: float) -> Recipe:
    return replace(RECIPE, widths=(WidthRule(width_m=width_m),))


def whole(farm: Farm, width_m: float, stretch: Stretch = BOTH) -> PlantingPlan:
    return make_plan(farm, stretch, wide(width_m))


def about(farm: Farm, width_m: float, last: PlantingPlan | None, stretch: Stretch = BOTH) -> About:
    return about_plan(plan_sketch(farm, stretch, wide(width_m)), last)


def total(costs: Costs | None) -> float:
    assert costs is not None
    assert costs.total_cents is not None
    return costs.total_cents


@pytest.mark.parametrize("width_m", [8.0, 10.5, 13.0, 16.0])
def test_a_margin_that_is_drawn_wider_comes_to_about_the_plan_that_follows(creek: Farm, width_m: float) -> None:
    quick, exact = about(creek, width_m, whole(creek, 10.0)), whole(creek, width_m)
    assert quick.plants == pytest.approx(len(exact.plants), rel=0.03)
    assert quick.plan.area_m2 == pytest.approx(exact.area_m2, rel=0.001)
    assert len(quick.plan.plants) == 0, "no plant has its place yet"
    assert total(quick.costs) == pytest.approx(total(cost_lines(exact, order_lines(exact))), rel=0.05)


def test_the_same_plan_comes_to_itself(creek: Farm) -> None:
    last = whole(creek, 10.0)
    quick = about(creek, 10.0, last)
    assert quick.plants == pytest.approx(len(last.plants), rel=0.005)
    assert quick.plan.fences == last.fences
    forecast = expected_cover(creek, last, plant_kinds(creek, RECIPE))
    again = about_plan(plan_sketch(creek, BOTH, wide(10.0)), last, forecast)
    assert [year for year, _ in again.cover] == list(forecast.years)
    assert [value for _, value in again.cover] == pytest.approx(forecast.cover_percent, abs=0.01)


def test_without_a_plan_before_it_no_fence_and_no_cost_are_made_up(creek: Farm) -> None:
    quick = about(creek, 10.0, None)
    assert quick.plants == pytest.approx(len(whole(creek, 10.0).plants), rel=0.1)
    assert (quick.plan.fences, quick.costs, quick.cover) == ((), None, ())


def test_another_fence_is_not_taken_for_the_last_one(creek: Farm) -> None:
    sketch = plan_sketch(creek, BOTH, replace(wide(10.0), fence=FenceWish(post_m=9.0)))
    assert about_plan(sketch, whole(creek, 10.0)).costs is None


def test_a_fence_that_stands_is_not_taken_to_serve_another_width(creek: Farm) -> None:
    last = whole(creek, 10.0)
    some = replace(last, fences=last.fences[:1])
    assert about(creek, 10.0, some).costs is not None
    assert about(creek, 11.0, some).costs is None


def test_a_shorter_stretch_has_less_of_the_fence(creek: Farm) -> None:
    half = replace(BOTH, from_m=0.0, to_m=300.0)
    quick, exact = about(creek, 10.0, whole(creek, 10.0), half), whole(creek, 10.0, half)
    assert quick.plants == pytest.approx(len(exact.plants), rel=0.05)
    lengths = [sum(fence.length_m for fence in plan.fences) for plan in (quick.plan, exact)]
    assert lengths[0] == pytest.approx(lengths[1], rel=0.15)


@given(st.floats(0, 1e8))
def test_about_numbers_are_near_and_do_not_look_exact(value: float) -> None:
    said = about_number(value)
    assert abs(said - value) <= max(0.5, 0.011 * value)
    assert said < 1000 or said % 10 == 0


def test_about_numbers_are_rounded_as_the_words_say() -> None:
    assert [about_number(value) for value in (0, 0.4, 49, 501, 11_724, 98_765)] == [0, 0, 49, 500, 11_700, 99_000]
