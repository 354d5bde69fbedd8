"""Whole plans: along made-up, real and meandering creeks every plant stands where it may, and as many as there should."""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import read_farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.make import about_plants, make_plan, plan_sketch
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Pattern, Recipe, SetBacks, Step, WidthRule, Zone
from farmmap.plans.planting.recipes.recipe_file import read_recipe
from farmmap.resource_files import sample_farm_path
from farmmap.scene.backdrops import find_backdrops
from tests.conftest import small_farm
from tests.place import EAST, NORTH
from tests.plans.any_creek import likely_creeks
from tests.plans.meanders import RIVER_LINES, creek_farm, seine_creek, sine_generated_creek, wandering_creek
from tests.plans.plan_checks import DENSITY, assert_sound, counted, of_one_zone, slope

PLANTED = [pattern for pattern in Pattern if pattern is not Pattern.NONE]
COUNTED = [pattern for pattern in PLANTED if pattern in DENSITY]
BOTH = Stretch("Sedge Creek", ("left", "right"))


def plan_of(farm: Farm, recipe: Recipe, stretch: Stretch = BOTH, **more: object) -> PlantingPlan:
    return make_plan(farm, stretch, recipe, **more)


def with_things(farm: Farm) -> Farm:
    """Return the farm with a track, a fence, a power line, a pipeline, a drain and a building across its creek."""
    line = shapely.union_all(farm.creeks.geometry.to_numpy())
    middle = np.array(shapely.centroid(line).coords[0])

    def across(turn: float, off: float) -> LineString:
        step = 300 * np.array([np.cos(turn), np.sin(turn)])
        return LineString([middle - step + off, middle + step + off])

    def rows(table: str, **values: object) -> object:
        return shaped(TABLES[table], values, np.arange(1, len(values["geometry"]) + 1), farm.grid)

    kinds = ["power line", "pipeline", "drain", "building"]
    house = box(*(middle + 8), *(middle + 16))
    return farm.with_tables(
        tracks=rows("tracks", width_m=[4.0], geometry=[across(0.4, 5.0)]),
        fences=rows("fences", geometry=[across(2.0, -12.0)]),
        hazards=rows(
            "hazards",
            kind=kinds,
            clear_m=[4.0, 1.0, 0.0, 2.0],
            geometry=[across(1.2, 20.0), across(2.6, 30.0), across(0.9, -30.0), house],
        ),
    )


# Recipes


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    count = draw(st.integers(1, 3))
    parts = draw(st.lists(st.floats(0.5, 3.0), min_size=count, max_size=count))
    zones = tuple(
        Zone(
            f"zone {place}",
            share=part / sum(parts),
            pattern=draw(st.sampled_from(list(Pattern))),
            between_m=draw(st.floats(0.7, 6.0)),
            within_m=draw(st.floats(0.7, 6.0)),
            mix=(Kin("MANU", 0.6), Kin("CSEC", 0.4)),
            groups_of=draw(st.sampled_from([1, 1, 5])),
            headland_m=draw(st.sampled_from([0.0, 0.0, 3.0])),
            turn_m=draw(st.sampled_from([0.0, 0.0, 6.0])),
        )
        for place, part in enumerate(parts)
    )
    width = draw(
        st.one_of(
            st.builds(lambda wide: WidthRule(width_m=wide), st.floats(2.0, 30.0)),
            st.just(WidthRule(by_channel=(Step(1.5, 5.0), Step(None, 12.0)))),
            st.just(WidthRule(by_slope=(Step(8.0, 6.0), Step(None, 18.0)))),
            st.just(WidthRule(to_fence=True, least_m=3.0, most_m=25.0)),
        )
    )
    backs = draw(st.floats(0.0, 5.0))
    set_backs = SetBacks(
        crown_m=backs / 2, power_line_m=backs * 2, building_m=backs, pipeline_m=backs, drain_m=backs, boundary_m=backs
    )
    fence = FenceWish(wanted=draw(st.booleans()), set_back_m=draw(st.floats(0.5, 3.0)), flood_m=1.0)
    return Recipe("drawn", (WidthRule(width_m=2.0), width), zones, set_backs=set_backs, fence=fence, seed=3)


@given(likely_creeks, st.floats(0.2, 6.0), recipes(), st.booleans())
@settings(max_examples=80)
def test_every_plan_is_sound(lines: list[LineString], channel: float, recipe: Recipe, crowded: bool) -> None:
    farm = creek_farm(lines, [channel] * len(lines))
    farm = with_things(farm) if crowded else farm
    heights = slope(farm)
    plan = plan_of(farm, recipe, heights=heights)
    assert_sound(plan, farm)
    again = plan_of(farm, recipe, heights=heights)
    for one, two in zip(
        (plan.plants.x, plan.plants.y, plan.plants.kin), (again.plants.x, again.plants.y, again.plants.kin), strict=True
    ):
        np.testing.assert_array_equal(one, two)


@given(
    likely_creeks,
    st.floats(0.0, 0.9),
    st.floats(0.05, 1.0),
    st.sampled_from([("left",), ("right",), ("left", "right")]),
)
def test_a_stretch_holds_its_own_plants_only(
    lines: list[LineString], begins: float, part: float, banks: tuple[str, ...]
) -> None:
    farm = creek_farm(lines)
    whole = make_plan(farm, BOTH, of_one_zone(Pattern.ROWS, 2.0, 2.0, 10.0, fence=FenceWish(wanted=False)))
    end = whole.stretch.to_m
    assert end is not None
    low, high = begins * end, min(end, (begins + part) * end)
    if high - low < 0.5:
        return
    stretch = Stretch("Sedge Creek", banks, low, high)
    plan = make_plan(farm, stretch, of_one_zone(Pattern.ROWS, 2.0, 2.0, 10.0, fence=FenceWish(wanted=False)))
    assert_sound(plan, farm)
    assert {strip.side for strip in plan.strips} == {("left", "right").index(bank) for bank in banks}
    assert plan.area_m2 <= whole.area_m2 * (1 + 1e-6) + 0.5


# Creeks that everybody can look up


@functools.cache
def known_creek(name: str) -> Farm:
    if name.startswith("river"):
        return creek_farm(seine_creek(int(name[-1]), 1.0), 30.0)
    if name.startswith("seine"):
        return creek_farm(seine_creek(int(name[-1]), 0.02), 2.0)
    if name == "meander":
        return creek_farm(sine_generated_creek(3_000.0, 3_001, 110.0, 240.0), 3.0)
    return read_farm(sample_farm_path())


@pytest.mark.parametrize("pattern", PLANTED)
@pytest.mark.parametrize("name", ["sample farm", "meander", *(f"seine {line}" for line in RIVER_LINES)])
def test_known_creeks(name: str, pattern: Pattern) -> None:
    farm = known_creek(name)
    creek = str(farm.creeks["name"].iloc[0])
    recipe = of_one_zone(pattern, 2.5, 2.0, 24.0)
    heights = slope(farm) if pattern is Pattern.CONTOUR else None
    stretch = Stretch(creek, ("left", "right"), 0.0, None if name in ("sample farm", "meander") else 3_000.0)
    plan = make_plan(farm, stretch, recipe, heights=heights)
    assert len(plan.plants) > 200
    assert_sound(plan, farm)
    if pattern in COUNTED and name != "sample farm":
        found, wanted = counted(plan)
        assert wanted > 500
        assert found == pytest.approx(wanted, rel=0.03)


@pytest.mark.parametrize("pattern", PLANTED)
@pytest.mark.parametrize("line", RIVER_LINES)
def test_real_rivers_at_their_own_size(line: int, pattern: Pattern) -> None:
    """Hundreds of kilometres of the Marne, Seine and Yonne (Natural Earth), trees 12 m by 10 m along them."""
    farm = known_creek(f"river {line}")
    heights = slope(farm, cell=2_000.0) if pattern is Pattern.CONTOUR else None
    plan = plan_of(
        farm,
        of_one_zone(pattern, 12.0, 10.0, 120.0),
        Stretch("Sedge Creek", ("left", "right"), 10_000.0, 40_000.0),
        heights=heights,
    )
    assert_sound(plan, farm)
    if pattern in COUNTED:
        found, wanted = counted(plan)
        assert found == pytest.approx(wanted, rel=0.03)


# By hand


def straight(length: float = 100.0) -> Farm:
    return creek_farm(LineString([(EAST, NORTH), (EAST + length, NORTH)]), 2.0, local=True)


def test_rows_along_a_straight_creek_by_hand() -> None:
    """100 m of creek, 10 m of margin, rows 2.5 m apart, 2 m within: 4 rows of 50 plants a bank."""
    plan = plan_of(straight(), of_one_zone(Pattern.ROWS, 2.5, 2.0, 10.0, fence=FenceWish(wanted=False)))
    assert plan.area_m2 == pytest.approx(2 * 100 * 10, abs=0.01)
    assert plan.margin_length_m == pytest.approx(200.0, abs=0.001)
    assert len(plan.plants) == pytest.approx(2 * 4 * 50, abs=8)
    off = np.unique(np.round(np.abs(plan.plants.y - plan.plants.y.mean()), 3))
    np.testing.assert_allclose(off, [2.25, 4.75, 7.25, 9.75], atol=0.002)  # 1 m of channel, then half a row


def test_the_mix_is_exact_over_both_banks() -> None:
    mix = (Kin("MANU", 0.5), Kin("CSEC", 0.3), Kin("CORD", 0.2))
    zone = Zone("mixed", share=1.0, pattern=Pattern.TRIANGLE, between_m=1.5, mix=mix)
    plan = plan_of(straight(300.0), Recipe("mixed", (WidthRule(width_m=8.0),), (zone,)))
    counts = np.bincount(plan.plants.kin, minlength=3)
    assert len(plan.plants) > 1_000
    np.testing.assert_allclose(counts, np.array([0.5, 0.3, 0.2]) * len(plan.plants), atol=1.0)


def test_plants_keep_clear_of_what_stands_on_the_farm() -> None:
    farm = small_farm()
    recipe = of_one_zone(
        Pattern.SQUARE, 1.5, 1.5, 30.0, set_backs=SetBacks(fence_m=2.0, track_m=3.0, power_line_m=10.0)
    )
    plan = plan_of(farm, recipe)
    assert_sound(plan, farm)
    points = shapely.points(plan.plants.x, plan.plants.y)
    assert shapely.distance(points, farm.hazards.geometry.iloc[0]).min() >= 10.0 * plan.scale * 0.999
    assert any("power line" in note for note in plan.notes)


def test_a_quick_plan_differs_in_areas_alone_and_hardly() -> None:
    farm = with_things(creek_farm(wandering_creek(7, 20, 15.0, 40.0)))
    recipe = of_one_zone(Pattern.ROWS, 2.0, 1.5, 15.0)
    exact, quick = plan_of(farm, recipe), plan_of(farm, recipe, quick=True)
    np.testing.assert_array_equal(exact.plants.x, quick.plants.x)
    assert exact.notes == quick.notes
    assert quick.area_m2 == pytest.approx(exact.area_m2, rel=5e-4)
    assert quick.area_m2 != exact.area_m2
    assert quick.strips[0].clear_m2 == pytest.approx(exact.strips[0].clear_m2, rel=5e-4)
    assert quick.strips[0].clear_m2 < quick.strips[0].area_m2


@pytest.mark.parametrize("pattern", PLANTED)
def test_a_sketch_is_the_plan_s_ground_and_about_its_plants(pattern: Pattern) -> None:
    farm = with_things(creek_farm(sine_generated_creek(1_000.0, 200, 50.0, 200.0)))
    recipe = of_one_zone(pattern, 2.0, 1.5, 12.0, fence=FenceWish(wanted=False))
    plan, sketch = plan_of(farm, recipe, quick=True), plan_sketch(farm, BOTH, recipe)
    for one, two in zip(plan.strips, sketch.strips, strict=True):
        assert (one.side, one.zone, one.area_m2, one.clear_m2) == (two.side, two.zone, two.area_m2, two.clear_m2)
        assert shapely.equals_exact(one.clear, two.clear)
    assert (sketch.name, sketch.kinds, sketch.area_m2) == (plan.name, plan.kinds, plan.area_m2)
    assert sketch.margin_length_m == plan.margin_length_m
    assert sketch.about.sum() == pytest.approx(len(plan.plants), rel=0.08)
    assert set(sketch.notes) <= set(plan.notes)


def test_a_sketch_shares_plants_out_by_the_mix() -> None:
    mix = (Kin("MANU", 0.6), Kin("CSEC", 0.4))
    zones = (
        Zone("grass", share=0.25, pattern=Pattern.NONE),
        Zone("bank", share=0.75, pattern=Pattern.SQUARE, between_m=2.0, mix=mix),
    )
    sketch = plan_sketch(straight(), BOTH, Recipe("two", (WidthRule(width_m=8.0),), zones))
    assert sketch.about.sum() == 300  # 2 banks x 100 m x 6 m, 4 m2 a plant
    assert sketch.about.tolist() == [180, 120]
    assert about_plants(zones, np.array([400.0, 1_200.0])).tolist() == [0.0, 300.0]
    with pytest.raises(BadInput, match="bank"):
        plan_sketch(straight(), Stretch("Sedge Creek", ()), Recipe("two", (WidthRule(width_m=8.0),), zones))


@pytest.mark.parametrize("recipe_file", sorted(sample_farm_path().parent.glob("*.toml")), ids=lambda path: path.stem)
def test_the_sample_farm_s_own_recipes(recipe_file: Path) -> None:
    farm = read_farm(sample_farm_path())
    heights = find_backdrops(farm, sample_farm_path().parent).heights
    recipe = read_recipe(recipe_file, plant_kinds(farm).find)
    plan = make_plan(farm, Stretch("Sedge Creek", ("left",)), recipe, heights=heights)
    assert len(plan.plants) > 1_000
    assert_sound(plan, farm)


def test_a_plan_without_plants_is_a_plan() -> None:
    plan = plan_of(straight(), of_one_zone(Pattern.NONE, 0.0, 0.0, 10.0))
    assert len(plan.plants) == 0
    assert plan.area_m2 == pytest.approx(2_000, abs=0.1)


@pytest.mark.parametrize(
    ("stretch", "words"),
    [
        (Stretch("Nettle Creek", ("left",)), "Sedge Creek"),
        (Stretch("Sedge Creek", ("left",), 40.0, 30.0), "30"),
        (Stretch("Sedge Creek", ("left",), 0.0, 1_000.0), "100"),
        (Stretch("Sedge Creek", ("top",)), "left"),
        (Stretch("Sedge Creek", ()), "bank"),
    ],
)
def test_a_stretch_that_is_not_there_is_refused_in_words(stretch: Stretch, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        plan_of(straight(), of_one_zone(Pattern.ROWS, 2.0, 2.0, 10.0), stretch)


@pytest.mark.parametrize(("zone_m", "told"), [(10.0, None), (9.9999, None), (4.0, "0.26 ha")])
def test_margin_beyond_the_last_zone_is_told_if_it_is_worth_it(zone_m: float, told: str | None) -> None:
    zone = Zone("Edge", width_m=zone_m, pattern=Pattern.NONE)
    recipe = Recipe("Edge", (WidthRule(width_m=10.0),), (zone,), fence=FenceWish(wanted=False))
    plan = plan_of(creek_farm(LineString([(1_812_000, 5_478_000), (1_812_220, 5_478_000)])), recipe)
    said = [note for note in plan.notes if "beyond its last zone" in note]
    assert [note.partition(" of the margin")[0] for note in said] == ([] if told is None else [told])
    assert plan.margin_m2 == pytest.approx(plan.area_m2 * 10.0 / zone_m, rel=1e-3)
