"""Expected cover: the exact union of the grown crowns, and what a random pattern covers on average."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from farmmap.farm.farm import Farm, new_farm
from farmmap.figures.blocks import crown_map
from farmmap.figures.canopy import covered_area
from farmmap.figures.standing import standing
from farmmap.plans.planting.outcome.cover import YEARS, expected_cover
from farmmap.plans.planting.outcome.cover_points import near_pairs, points_inside
from farmmap.plans.planting.outcome.growth import sizes_at
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.recipe import PlantKind
from tests.place import EAST, NORTH
from tests.plans.grown_plan import KINDS, Listed, creek_plan, plan_with

BARE = new_farm("Bare", "EPSG:2193")
FINE = 64
"""Corners of a quarter circle: 256 of the whole."""

plants = st.lists(st.tuples(st.floats(0, 60), st.floats(0, 30), st.integers(0, 1), st.integers(0, 2)), max_size=40)


def winding(many_m: float = 300.0, turned_deg: float = 30.0) -> LineString:
    along = np.arange(0, many_m, 2.0)
    off, turn = 12 * np.sin(along / 17), np.radians(turned_deg)
    return LineString(
        np.column_stack([
            EAST + along * np.cos(turn) - off * np.sin(turn), NORTH + along * np.sin(turn) + off * np.cos(turn)
        ])
    )  # fmt: skip


def planted(line: LineString, seed: int = 1) -> PlantingPlan:
    """Sedges, shrubs and trees scattered over three strips beside a winding line."""
    random = np.random.default_rng(seed)
    edges, strips, rows = (0.0, 2.0, 8.0, 16.0), [], []
    for place, (near, far) in enumerate(itertools.pairwise(edges)):
        inner = shapely.buffer(line, near, single_sided=True) if near else Polygon()
        strips.append((0, shapely.difference(shapely.buffer(line, far, single_sided=True), inner)))
        west, south, east, north = strips[-1][1].bounds
        x, y = random.uniform(west, east, 4000), random.uniform(south, north, 4000)
        inside = np.flatnonzero(shapely.contains_xy(strips[-1][1], x, y))[: (300, 400, 250)[place]]
        rows += [(x[at], y[at], place, place) for at in inside]
    return plan_with(strips, ("SEDG", "SHRU", "TREE"), rows)


def drawn_union(plan: PlantingPlan, year: float, *, low: bool) -> float:
    crown, _ = sizes_at(plan, KINDS, year)
    counted = (crown > 0) & (low | (plan.plants.kin != 0))
    points = shapely.points(plan.plants.x[counted], plan.plants.y[counted])
    crowns = shapely.union_all(shapely.buffer(points, crown[counted] / 2, quad_segs=FINE))
    return sum(shapely.intersection(crowns, strip.outline).area for strip in plan.strips) / plan.area_m2


def test_cover_equals_the_drawn_union_of_the_grown_crowns() -> None:
    plan = planted(winding())
    found = expected_cover(BARE, plan, KINDS)
    assert found.years == YEARS
    assert found.exact
    for place, year in enumerate(found.years):
        assert found.cover_percent[place] == pytest.approx(100 * drawn_union(plan, year, low=False), abs=0.02)
        assert found.with_low_percent[place] == pytest.approx(100 * drawn_union(plan, year, low=True), abs=0.02)
    assert found.cover_percent[0] == 0
    assert 60 < found.cover_percent[-1] < 100


def test_cover_equals_the_exact_union_of_the_grown_crowns() -> None:
    plan = planted(winding(), 2)
    found = expected_cover(BARE, plan, KINDS, (7.5,))
    crown, _ = sizes_at(plan, KINDS, 7.5)
    radius = np.where(plan.plants.kin == 0, 0, crown / 2)
    for strip, shares in zip(plan.strips, found.by_strip, strict=True):
        exact = covered_area(plan.plants.x, plan.plants.y, radius, strip.outline)
        assert shares.cover_percent[0] == pytest.approx(100 * exact / strip.outline.area, abs=1e-9)
    weighted = sum(s.cover_percent[0] * s.area_m2 for s in found.by_strip) / plan.area_m2
    assert found.cover_percent[0] == pytest.approx(weighted, abs=1e-9)


@pytest.mark.parametrize(
    ("per_ha", "crowns", "expected"),
    [
        (100, (8.0,), 39.5077),
        (200, (6.0,), 43.1916),
        (400, (4.0,), 39.5077),
        (250, (5.0,), 38.7909),
        (100, (3.0, 5.0, 8.0), 53.6843),
    ],
)
def test_scattered_plants_cover_what_the_boolean_model_says(
    per_ha: float, crowns: tuple[float, ...], expected: float
) -> None:
    """1 - exp(-λπr²), or the sum of such terms for several sizes: Chiu, Stoyan, Kendall and Mecke 2013, chapter 3."""
    codes = [f"K{place}" for place in range(len(crowns))]
    kinds = Listed(
        *(
            PlantKind(code, code, years=(1,), crown_m=(wide,), height_m=(1,))
            for code, wide in zip(codes, crowns, strict=True)
        )
    )
    window, beyond = box(0, 0, 200, 200), 5.0
    found = []
    for seed in range(16):
        random = np.random.default_rng(seed)
        rows: list[tuple[float, float, int, int]] = []
        for kind in range(len(crowns)):
            x, y = random.uniform(-beyond, 200 + beyond, (2, random.poisson(per_ha * (200 + 2 * beyond) ** 2 / 1e4)))
            rows += [(a, b, 0, kind) for a, b in zip(x, y, strict=True)]
        found.append(expected_cover(BARE, plan_with([(0, window)], codes, rows), kinds, (1,)).cover_percent[0])
    error = np.std(found, ddof=1) / np.sqrt(len(found))
    assert error < 0.5
    assert abs(np.mean(found) - expected) < 3.5 * error


def test_crowns_that_stand_there_count_from_the_start_and_once(farm: Farm) -> None:
    there = standing(farm)
    tree = np.flatnonzero(there.y < NORTH)[0]
    x, y, wide = there.x[tree], there.y[tree], there.crown_m[tree]
    ground = box(x - 10, y, x + 10, y + 10)
    plan = plan_with([(0, ground)], ["TREE"], [(x, y, 0, 0)])
    found = expected_cover(farm, plan, KINDS, (0, 1, 20))
    scale_is_one = np.pi * (wide / 2) ** 2 / 2 / 2
    assert found.cover_percent[0] == pytest.approx(scale_is_one, rel=1e-4)
    assert found.cover_percent[1] == found.cover_percent[0]  # smaller, and under it
    assert found.cover_percent[2] == pytest.approx(np.pi * 3.5**2 / 4, rel=1e-4)
    quick = expected_cover(farm, plan, KINDS, (0, 1, 20), quick=True)
    np.testing.assert_allclose(quick.cover_percent, found.cover_percent, atol=1.0)
    assert "1 May 2020" in found.notes[1]


@pytest.mark.parametrize("turned_deg", [0, 37, 90])
@pytest.mark.parametrize("rows", ["scattered", "in rows"])
def test_the_quick_count_is_right_within_one_per_cent(turned_deg: float, rows: str) -> None:
    line = LineString([(EAST, NORTH), (EAST + 1, NORTH + 1e-3)]) if rows == "in rows" else winding(300, turned_deg)
    if rows == "in rows":
        turn = np.radians(turned_deg)
        step = np.array([np.cos(turn), np.sin(turn)])
        off = np.array([-step[1], step[0]])
        at = np.array([EAST, NORTH])
        ground = Polygon([at, at + 300 * step, at + 300 * step + 20 * off, at + 20 * off])
        rows_at = [(*(at + a * step + b * off), 0, 0) for a in np.arange(1, 300, 2.0) for b in np.arange(1.25, 20, 2.5)]
        plan = plan_with([(0, ground)], ["TREE"], rows_at)
    else:
        plan = planted(line)
    exact, quick = (expected_cover(BARE, plan, KINDS, quick=quick) for quick in (False, True))
    assert not quick.exact
    np.testing.assert_allclose(quick.cover_percent, exact.cover_percent, atol=1.0)
    np.testing.assert_allclose(quick.with_low_percent, exact.with_low_percent, atol=1.0)


@given(rows=plants, scale=st.sampled_from([1.0, 0.9996, 1.5]))
def test_cover_never_shrinks_nor_leaves_its_bounds(rows: list[tuple[float, float, int, int]], scale: float) -> None:
    strips = [(0, box(0, 0, 60, 12)), (1, box(0, 12, 60, 30))]
    plan = plan_with(strips, ("SEDG", "SHRU", "TREE"), rows, scale=scale)
    for quick in (False, True):
        found = expected_cover(BARE, plan, KINDS, (0, 1, 2, 5, 10, 20, 40), quick=quick)
        for cover, every in (
            (found.cover_percent, found.with_low_percent),
            *((strip.cover_percent, strip.with_low_percent) for strip in found.by_strip),
        ):
            assert cover[0] == 0
            assert all(0 <= a <= b <= 100 for a, b in zip(cover, every, strict=True))
            assert all(a <= b + 1e-9 for a, b in itertools.pairwise(cover))
            assert cover[-1] == cover[-2]


def test_a_plant_whose_crown_goes_again_is_followed() -> None:
    nurse = Listed(PlantKind("N", "nurse", years=(5, 10), crown_m=(4.0, 0.0), height_m=(4.0, 0.0)))
    plan = plan_with([(0, box(0, 0, 10, 10))], ["N"], [(5, 5, 0, 0)])
    for quick in (False, True):
        found = expected_cover(BARE, plan, nurse, (0, 5, 10), quick=quick).cover_percent
        np.testing.assert_allclose(found, [0, 4 * np.pi, 0], atol=0.6 if quick else 1e-9)


@pytest.mark.parametrize("quick", [False, True])
def test_plans_without_plants_ground_or_growth_give_no_cover(quick: bool) -> None:
    ground = box(0, 0, 10, 10)
    for plan in (
        plan_with([], [], []),
        plan_with([(0, ground)], [], []),
        plan_with([(0, Polygon())], ["TREE"], []),
        plan_with([(0, Polygon()), (1, ground)], ["OTHER"], [(5, 5, 1, 0)]),
    ):
        found = expected_cover(BARE, plan, KINDS, (0, 20), quick=quick)
        assert found.cover_percent == found.with_low_percent == (0.0, 0.0)
        assert [strip.cover_percent for strip in found.by_strip] == [(0.0, 0.0)] * len(plan.strips)
    assert "OTHER" in found.notes[-1]
    assert expected_cover(BARE, plan, KINDS, (), quick=quick).cover_percent == ()


def test_places_lie_inside_their_strip_and_are_even() -> None:
    line = winding(400, 75)
    strips = [strip.outline for strip in planted(line).strips]
    x, y, ends = points_inside(strips, 3000, 100)
    areas = shapely.area(strips)
    for place, strip in enumerate(strips):
        own = slice(ends[place], ends[place + 1])
        assert ends[place + 1] - ends[place] == max(np.ceil(3000 * areas[place] / areas.sum()), 100)
        assert shapely.contains_xy(shapely.buffer(strip, 1e-6), x[own], y[own]).all()
        middle = shapely.get_coordinates(shapely.centroid(strip))[0]
        spread = np.std(np.column_stack([x[own], y[own]]), axis=0)
        assert (
            np.abs([x[own].mean(), y[own].mean()] - middle) < 4 * spread / np.sqrt(ends[place + 1] - ends[place])
        ).all()
    again = points_inside(strips, 3000, 100)
    np.testing.assert_array_equal(x, again[0])


def test_places_keep_out_of_holes() -> None:
    ring = shapely.difference(box(0, 0, 100, 100), box(10, 10, 90, 90))
    x, y, _ = points_inside([ring], 500, 1)
    assert len(x) == 500
    assert shapely.contains_xy(ring, x, y).all()


@given(seed=st.integers(0, 10_000), reach=st.floats(0.05, 30))
def test_every_near_plant_is_among_the_pairs(seed: int, reach: float) -> None:
    random = np.random.default_rng(seed)
    x, y = random.uniform(-50, 50, (2, 30))
    east, north = random.uniform(-40, 60, (2, int(random.integers(0, 60))))
    found = set(zip(*(part.tolist() for part in near_pairs(x, y, (east, north), reach)), strict=True))
    near = np.hypot(x[:, None] - east, y[:, None] - north) <= reach
    assert set(zip(*(part.tolist() for part in np.nonzero(near)), strict=True)) <= found


def test_places_under_crowns_that_stand_there(farm: Farm) -> None:
    crowns = crown_map(standing(farm))
    x, y = np.random.default_rng(1).uniform((EAST, NORTH - 40), (EAST + 130, NORTH + 20), (5000, 2)).T
    expected = np.zeros(len(x), bool)
    for at_x, at_y, radius in zip(crowns.x, crowns.y, crowns.radius, strict=True):
        expected |= np.hypot(x - at_x, y - at_y) < radius * 1.1
    found = crowns.cover_places(x, y, 1.1)
    assert found.any()
    np.testing.assert_array_equal(found, expected)


def test_a_planting_along_a_creek_is_told_strip_by_strip(farm: Farm) -> None:
    found = expected_cover(farm, creek_plan(), KINDS)
    assert [(strip.side, strip.name) for strip in found.by_strip] == [(0, "zone 0"), (1, "zone 1")]
    assert found.by_strip[0].cover_percent[-1] > 90


def test_some_years_of_a_forecast_are_the_same_as_a_forecast_of_them() -> None:
    plan = planted(winding())
    some, alone = expected_cover(BARE, plan, KINDS, YEARS).of_years((1, 20)), expected_cover(BARE, plan, KINDS, (1, 20))
    assert some.years == alone.years == (1.0, 20.0)
    assert some.cover_percent == pytest.approx(alone.cover_percent)
    for one, other in zip(some.by_strip, alone.by_strip, strict=True):
        assert one.with_low_percent == pytest.approx(other.with_low_percent)
    with pytest.raises(ValueError, match="in tuple"):
        some.of_years((5,))
