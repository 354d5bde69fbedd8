"""Costs at the grower's own rates: to the cent, with nothing lost between those who bear them."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.plans.planting.outcome.costs import cost_lines, shown_money
from farmmap.plans.planting.outcome.order import order_lines
from farmmap.plans.planting.recipes.rates import KINDS, UNITS
from farmmap.plans.planting.recipes.recipe import Share, StockOrder
from tests.plans.counted_plan import counted_plan, fence

ORDERS = {
    "seedling": StockOrder(lost_percent=20, pack=40, guard=1, stakes=2, minutes=3, price=2.35),
    "pole": StockOrder(minutes=12),
}


def costs_of(zones=None, **recipe):
    zones = zones or [[("tōtara", "seedling", 100), ("poplar", "pole", 10)]]
    fences = [fence((0, 0), (100, 0), (100, 50), posts=36, gates=2, troughs=np.zeros((1, 2)))]
    plan = counted_plan(zones, recipe.pop("orders", ORDERS), fences, **recipe)
    return cost_lines(plan, order_lines(plan))


def test_costs_by_hand():
    """160 tōtara (4 trays) at 2.35, 10 poplars at 9.10, 150.0 m of fence at 14.55.

    125 tōtara, 20 % lost, at 3 minutes and 10 poplars at 12 are 8.25, told as 8.3 hours, at 32.
    """
    costs = costs_of(
        prices={"Poplar": 9.1},
        rates={"guard": 1.1, "stake": 0.455, "fence_m": 14.55, "gate": 320, "trough": 0, "hour": 32},
        shares={"": Share(50), "work": Share(0, 100), "fence": Share(33.3, 33.3)},
    )
    lines = {line.words: line for line in costs.lines}
    assert lines["tōtara, seedling"].cents == 37600
    assert lines["poplar, pole"].cents == 9100
    assert lines["guards"].cents == 11000
    assert lines["stakes"].cents == 9100
    assert lines["fence, built"].cents == 218250
    assert lines["gates"].cents == 64000
    assert lines["troughs"].cents == 0
    assert lines["planting, with losses"].cents == 26560
    assert lines["planting, with losses"].in_kind_cents == 26560
    built = lines["fence, built"]  # thirds of 2182.50: 726.7725, 726.7725 and 728.955
    assert (built.grant_cents, built.in_kind_cents, built.own_cents) == (72677, 72677, 72896)
    assert costs.total_cents == 37600 + 9100 + 11000 + 9100 + 218250 + 64000 + 26560
    assert costs.of_kind("plants").total_cents == 46700
    assert [line.kind for line in costs.lines] == sorted((line.kind for line in costs.lines), key=KINDS.index)
    assert costs.notes == ("Costs are at the grower's own rates, as they stand with or without tax.",)


def test_without_rates_there_are_quantities_and_no_costs():
    costs = costs_of(orders={"seedling": StockOrder(guard=1)})
    assert not costs.rated
    assert costs.total_cents is costs.grant_cents is costs.own_cents is None
    assert {line.words: line.quantity for line in costs.lines}["guards"] == 100
    assert costs.notes == ("No rates are given in the recipe, so there are quantities only and no costs.",)


def test_what_has_no_rate_is_named_and_left_out():
    costs = costs_of(rates={"fence_m": 10})
    assert "poplar, pole (plants)" in costs.notes[0]
    assert "guards (guards), stakes (guards)" in costs.notes[0]
    assert "posts" not in costs.notes[0]  # the built fence has them
    assert costs.total_cents == 37600 + 150000


def test_what_pays_twice_for_the_same_is_said():
    costs = costs_of(rates={"fence_m": 10, "post": 7, "plant": 1.5, "hour": 30})
    assert any("fence_m and for post " in note and "both are counted" in note for note in costs.notes)
    assert any("plant and for hour " in note for note in costs.notes)
    words = [line.words for line in costs.lines if line.rate is not None]
    assert "posts" in words
    assert words.count("planting, with losses") == 2


@pytest.mark.parametrize("name", UNITS)
def test_each_rate_counts_what_it_says(name):
    flooded = fence((0, 0), (40, 0), posts=9, battens=20, gates=1, flooded_m=12.34, floodgates=np.zeros((3, 2)),
                    troughs=np.zeros((2, 2)))  # fmt: skip
    orders = {"seedling": StockOrder(guard=1, stakes=2, mat=3, minutes=6)}
    plan = counted_plan([[("tōtara", "seedling", 50)]], orders, [flooded], rates={name: 2})
    costs = cost_lines(plan, order_lines(plan))
    [line] = [line for line in costs.lines if line.rate is not None]
    quantity = {
        "guard": 50, "stake": 100, "mat": 150, "fence_m": 40, "strainer": 2, "post": 9, "batten": 20, "wire_m": 280,
        "gate": 1, "floodgate": 3, "floodway_m": "12.3", "trough": 2, "prepare_ha": "0.5", "spot": 50, "plant": 50,
        "hour": 5, "release": 50,
    }[name]  # fmt: skip
    assert line.quantity == Decimal(quantity)
    assert line.cents == 200 * line.quantity
    assert line.kind == UNITS[name].kind


money = st.decimals(0, 9999, places=3)
percents = st.tuples(st.integers(0, 1000), st.integers(0, 1000)).map(
    lambda pair: (pair[0] / 10, min(pair[1], 1000 - pair[0]) / 10)
)


@given(st.integers(1, 5000), money, percents)
def test_no_cent_is_lost(plants, price, percent):
    orders = {"seedling": StockOrder(price=float(price))}
    plan = counted_plan([[("tōtara", "seedling", plants)]], orders, shares={"plants": Share(*percent)})
    [line] = [line for line in cost_lines(plan, order_lines(plan)).lines if line.kind == "plants"]
    if not price:
        assert line.cents is None
        return
    assert abs(line.cents - plants * price * 100) <= Decimal("0.5")
    parts = line.grant_cents, line.in_kind_cents, line.own_cents
    assert sum(parts) == line.cents
    for part, share in zip(parts, (*percent, 100 - sum(percent)), strict=True):
        assert part >= 0
        assert abs(part - line.cents * share / 100) < 1 + 1e-6


def test_rates_that_cannot_be():
    with pytest.raises(BadInput, match=r"no rate called 'fense_m'.*fence_m"):
        costs_of(rates={"fense_m": 10})
    with pytest.raises(BadInput, match="guards is -1"):
        costs_of(rates={"guard": -1})
    with pytest.raises(BadInput, match="no more than 100"):
        costs_of(rates={"guard": 1}, shares={"": Share(60, 50)})


def test_money_for_people():
    assert shown_money(123456789, "$") == "$1,234,567.89"
    assert shown_money(5) == "0.05"
    assert shown_money(None, "$") == "–"
