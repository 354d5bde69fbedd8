"""What is ordered: losses, whole packs and their spread over the zones, materials, and the handbook's densities."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiLineString

from farmmap.errors import BadInput
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.outcome.order import bought, counted, materials, order_lines, price_of, with_losses
from farmmap.plans.planting.outcome.report import plan_report, plan_values
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, Pattern, Recipe, StockOrder, WidthRule, Zone
from tests.place import EAST, NORTH
from tests.plans.counted_plan import counted_plan, fence
from tests.plans.meanders import creek_farm

FOOT_M, ACRE_M2 = 0.3048, 4046.8564224


@pytest.mark.parametrize(("lost", "times", "of_1000"), [(10, 1.11, 1112), (20, 1.25, 1250), (25, 1.33, 1334)])
def test_losses_ask_for_the_handbooks_factors(lost, times, of_1000):
    assert with_losses(1000, lost) == of_1000
    assert with_losses(1000, lost) / 1000 == pytest.approx(times, abs=0.005)


def test_losses_are_exact():
    """80 / (1 - 0.2) is 100, which floating point makes a hair more of in some of these."""
    for lost in range(100):
        assert with_losses(100 - lost, lost) == 100
        assert with_losses(100 - lost + 1, lost) > 100
    assert with_losses(7, 0) == 7
    assert with_losses(0, 25) == 0
    assert with_losses(3, 0.1) == 4
    for lost in (100, -1, float("nan")):
        with pytest.raises(BadInput, match="lost"):
            with_losses(10, lost)


def test_a_price_is_found_however_its_species_is_written():
    orders = {"seedling": StockOrder(price=1.5), "pole": StockOrder(price=0.0)}
    recipe = Recipe("Prices", (WidthRule(width_m=10.0),), (), orders=orders, prices={"Tōtara": 2.25, "rewarewa": 0.0})
    assert price_of(recipe, "totara", "seedling") == 2.25
    assert price_of(recipe, "Rewarewa", "seedling") == 0.0, "a price of nought that was written is one"
    assert price_of(recipe, "poplar", "seedling") == 1.5
    assert price_of(recipe, "poplar", "pole") is None
    assert price_of(recipe, "poplar", "cutting") is None


def test_packs_are_filled_once_for_the_whole_planting():
    """100 + 150 tōtara at 20 % lost ask for 313: 8 trays of 40, of whose 320 the zones get 128 and 192."""
    plan = counted_plan(
        [[("tōtara", "seedling", 100), ("poplar", "pole", 7)], [("Tōtara", "seedling", 150), ("tōtara", "pole", 3)]],
        {"seedling": StockOrder(lost_percent=20, pack=40), "pole": StockOrder(25, 5, "bundle")},
    )
    lines = order_lines(plan)
    assert [(line.zone_name, line.species, line.stock, line.plants, line.to_order) for line in lines] == [
        ("Zone 1", "tōtara", "seedling", 100, 128),
        ("Zone 1", "poplar", "pole", 7, 10),
        ("Zone 2", "Tōtara", "seedling", 150, 192),
        ("Zone 2", "tōtara", "pole", 3, 5),
    ]
    found = bought(plan.recipe, lines)
    assert [(one.species, one.stock, one.plants, one.with_losses, one.packs, one.to_order) for one in found] == [
        ("tōtara", "seedling", 250, 313, 8, 320),
        ("poplar", "pole", 7, 10, 2, 10),
        ("tōtara", "pole", 3, 4, 1, 5),
    ]
    assert found[0].packs_in_words == "8 trays of 40"
    assert found[2].packs_in_words == "1 bundle of 5"


def test_a_kind_named_twice_in_a_zone_is_one_line():
    plan = counted_plan([[("tōtara", "seedling", 10), ("tōtara", "seedling", 11)]])
    assert [(line.plants, line.to_order) for line in order_lines(plan)] == [(21, 21)]


def test_a_planting_without_a_plant():
    plan = counted_plan([[("tōtara", "seedling", 0)], []], {"seedling": StockOrder(20, 40)})
    assert [(line.plants, line.to_order) for line in order_lines(plan)] == [(0, 0)]
    assert materials(plan, order_lines(plan)).hours == 0
    assert plan_values(plan_report(plan))["zones"][1]["species"] == []


def test_a_pack_of_none_is_refused():
    plan = counted_plan([[("tōtara", "seedling", 5)]], {"seedling": StockOrder(pack=0)})
    with pytest.raises(BadInput, match="tray of 0"):
        order_lines(plan)


numbers = st.lists(st.lists(st.integers(0, 500), min_size=2, max_size=2), min_size=1, max_size=4)


@given(numbers, st.integers(0, 95), st.integers(1, 100))
def test_zones_together_order_whole_packs_and_none_goes_short(zones, lost, pack):
    plan = counted_plan(
        [[("tōtara", "seedling", a), ("poplar", "pole", b)] for a, b in zones],
        {"seedling": StockOrder(lost, pack), "pole": StockOrder(lost, 1)},
    )
    lines = order_lines(plan)
    assert all(line.to_order >= line.plants for line in lines)
    for place, one in enumerate(bought(plan.recipe, lines)):
        of_zones = [line.to_order for line in lines if line.species == one.species]
        assert sum(of_zones) == one.to_order == one.packs * one.pack
        assert one.to_order - one.pack < with_losses(one.plants, lost) <= one.to_order
        assert one.plants == sum(zone[place] for zone in zones)


def test_what_else_is_needed_by_hand():
    """A fence of two strains and 3 + 4 posts, and a ring of 4 strainers; 100 seedlings at 3 minutes, 20 poles at 12."""
    flooded = MultiLineString([[(0, 0), (10, 0)], [(20, 0), (25, 0)]])
    plan = counted_plan(
        [[("tōtara", "seedling", 100), ("poplar", "pole", 10)]],
        {
            "seedling": StockOrder(guard=1, stakes=2, mat=0.5, minutes=3),
            "pole": StockOrder(guard=0.25, minutes=12, lost_percent=50),
        },
        [
            fence((0, 20), (100, 20), (180, 80), posts=7, gates=2, battens=18, troughs=np.zeros((1, 2))),
            fence((0, 0), (30, 0), (30, 40), (0, 40), (0, 0), flooded=flooded, flooded_m=15.0, posts=28),
        ],
    )
    needed = materials(plan, order_lines(plan))
    assert (needed.guards, needed.stakes, needed.mats) == (103, 200, 50)
    assert (needed.plants, needed.with_losses) == (110, 120)
    assert needed.hours == pytest.approx((100 * 3 + 20 * 12) / 60)
    assert needed.fence_m == pytest.approx(200 + 140)
    assert needed.wire_m == pytest.approx(7 * 340)
    assert (needed.strainers, needed.posts, needed.battens) == (3 + 4, 35, 18)
    assert (needed.gates, needed.gate_m, needed.troughs) == (2, 4.0, 1)
    assert (needed.floodways, needed.floodway_m) == (2, 15.0)
    assert needed.clear_ha == pytest.approx(0.5)


def test_losses_worked_by_hand():
    """100 places at 20 % lost: 20 die, 4 of those that replace them, 0.8 ... 25 in all, so 125 are planted, 160 bought.

    100 guards stay at their places; 125 plants at 3 minutes are 6.25 hours. docs/recipes.md has the same example.
    """
    plan = counted_plan(
        [[("tōtara", "seedling", 60)], [("tōtara", "seedling", 40)]],
        {"seedling": StockOrder(lost_percent=20, pack=40, guard=1, stakes=2, mat=1, minutes=3)},
        rates={"hour": 30, "plant": 1, "spot": 1, "guard": 1, "release": 1},
    )
    report = plan_report(plan)
    (one,) = report.to_buy
    assert sum(20.0 * 0.2**again for again in range(50)) == pytest.approx(25)
    assert (one.plants, one.with_losses, one.packs, one.to_order) == (100, 125, 4, 160)
    needed = report.needed
    assert (needed.plants, needed.with_losses, needed.guards, needed.stakes, needed.mats) == (100, 125, 100, 200, 100)
    assert needed.hours == 6.25
    quantities = {(line.words, line.unit): float(line.quantity) for line in report.costs.lines}
    assert quantities["planting, with losses", "h"] == 6.3  # to a tenth of an hour, as it is shown
    assert quantities["planting, with losses", "each"] == 125
    assert [quantities[words, "each"] for words in ("guards", "preparing spots", "keeping plants free of weeds")] == [
        100
    ] * 3
    docs = (Path(__file__).resolve().parents[3] / "docs" / "recipes.md").read_text(encoding="utf-8")
    assert "100 ÷ 0.8 = 125" in docs
    assert "100 guards, and 125 × 3 minutes = 6.25 hours" in docs


def planted(pattern, between_m, within_m, width_m=180.0, length_m=900.0):
    """Figures of one zone along a straight creek on level ground, measured from a corner post."""
    farm = creek_farm(LineString([(EAST, NORTH), (EAST + length_m, NORTH)]), local=True)
    zone = Zone("All", share=1.0, pattern=pattern, between_m=between_m, within_m=within_m, mix=(Kin("tōtara", 1.0),))
    recipe = Recipe("Handbook", (WidthRule(width_m=width_m),), (zone,), fence=FenceWish(wanted=False))
    return plan_values(plan_report(make_plan(farm, Stretch("Sedge Creek", ("left",)), recipe)))


SQUARE = {2: 2500, 2.5: 1600, 3: 1111.11, 4: 625, 6: 277.78}
TRIANGLE = {2: 2886.75, 3: 1283.00, 4: 721.69, 5: 461.88, 6: 320.75}
ROWS = {(4, 2.5): 1000, (3, 2): 1666.67, (5, 3): 666.67, (1.5, 0.75): 8888.89}


@pytest.mark.parametrize(
    ("pattern", "between_m", "within_m", "per_ha"),
    [
        *((Pattern.SQUARE, spacing, spacing, number) for spacing, number in SQUARE.items()),
        *((Pattern.TRIANGLE, spacing, spacing, number) for spacing, number in TRIANGLE.items()),
        *((Pattern.ROWS, *spacing, number) for spacing, number in ROWS.items()),
    ],
)
def test_plants_to_the_hectare_equal_the_handbook_tables(pattern, between_m, within_m, per_ha):
    """10 000 / (row x plant), a triangle 1.1547 times a square; within the row that an edge of 180 m may gain or lose."""
    figures = planted(pattern, between_m, within_m)
    assert figures["area_ha"] == pytest.approx(16.2, rel=1e-6)
    assert figures["plants_per_ha"] == pytest.approx(per_ha, rel=between_m / 180 + within_m / 900)
    assert figures["zones"][0]["plants_per_clear_ha"] == pytest.approx(figures["plants_per_ha"], rel=1e-6)


def test_ten_feet_square_are_436_to_the_acre():
    """43 560 square feet to the acre, a hundred to a plant."""
    figures = planted(Pattern.SQUARE, 10 * FOOT_M, 10 * FOOT_M)
    assert figures["plants_per_ha"] * ACRE_M2 / 10_000 == pytest.approx(435.6, rel=0.01)


@pytest.mark.parametrize(("rows", "within_m"), [(1, 2.0), (3, 1.5), (4, 3.0)])
def test_plants_to_the_kilometre_of_rows(rows, within_m):
    """1000 / s to the row, and 1000 / s + 1 where one stands at either end."""
    figures = planted(Pattern.ROWS, 3.0, within_m, width_m=3.0 * rows, length_m=1000.0)
    assert rows * 1000 / within_m - rows <= figures["plants"] <= rows * (1000 / within_m + 1)
    assert figures["plants_per_km"] == pytest.approx(figures["plants"], rel=1e-6)


def test_counted_words():
    assert [counted(1, "tray"), counted(2, "tray"), counted(3, "box"), counted(0, "bunch")] == [
        "1 tray", "2 trays", "3 boxes", "0 bunches",
    ]  # fmt: skip
