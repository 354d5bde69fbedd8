"""The calendar: counted from the recipe's months, which the farm's latitude never sets."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.plans.planting.outcome.months import calendar, in_season, latitude_deg
from farmmap.plans.planting.outcome.order import order_lines
from farmmap.plans.planting.recipes.recipe import StockOrder
from tests.plans.counted_plan import counted_plan, fence
from tests.plans.made_plan import made_plan
from tests.plans.meanders import creek_farm


def calendar_of(months, latitude=None, **order):
    orders = {stock: StockOrder(months=when, **order) for stock, when in months.items()}
    zone = [("tōtara", stock, 10) for stock in months]
    plan = counted_plan([zone], orders, [fence((0, 0), (9, 0), troughs=np.zeros((1, 2)))])
    return calendar(plan, order_lines(plan), latitude)


def test_a_southern_winter():
    found = calendar_of({"seedling": (7, 8, 6), "pole": (6,)}, -41, guard=1)
    assert [(work.year, work.month, work.until, work.what.split(",")[0]) for work in found.works] == [
        (-1, 9, None, "Order the plants"),
        (0, 3, None, "Build the fence and bring water to the stock"),
        (0, 4, None, "Prepare the ground: mark rows and spots"),
        (0, 6, 8, "Plant 10 seedlings"),
        (0, 6, None, "Plant 10 poles"),
        (0, 9, None, "Keep the plants free of weeds"),
        (1, 6, None, "Count what lives"),
        (1, 9, None, "Keep the plants free of weeds"),
        (3, 6, None, "Count what lives"),
        (5, 6, None, "Count what lives"),
        (5, 6, None, "Take the guards off and away"),
    ]
    assert found.works[3].when == "June to August, year of planting"
    assert found.works[0].when == "September, 1 year before"
    assert found.works[-1].when == "June, 5 years after"
    assert found.notes == ()


def test_a_northern_winter_runs_over_the_new_year():
    found = calendar_of({"seedling": (1, 2, 11, 12), "pole": (2, 3)}, 52)
    planting = [work for work in found.works if work.what.startswith("Plant")]
    assert [(work.year, work.month, work.until) for work in planting] == [(0, 11, 2), (1, 2, 3)]
    assert (found.works[0].year, found.works[0].month) == (0, 2)  # nine months before November
    assert [work.year for work in found.works if work.what.startswith("Keep")] == [1, 2]
    assert not any("guards" in work.what for work in found.works)
    assert found.notes == ()


@pytest.mark.parametrize(
    ("latitude", "words"),
    [(-41, "June to August"), (52, "November to March"), (3, "Ask your nursery"), (None, "Ask your nursery")],
)
def test_without_months_the_latitude_is_a_hint_and_no_more(latitude, words):
    found = calendar_of({"seedling": (), "pole": ()}, latitude)
    assert all(work.month is None for work in found.works)
    assert [work.year for work in found.works] == sorted(work.year for work in found.works)
    assert found.works[0].when == "1 year before"
    [note] = found.notes
    assert "planting seedlings and poles" in note
    assert words in note


def test_planting_in_summer_is_asked_about():
    [note] = calendar_of({"seedling": (1, 6)}, -41).notes
    assert "January, which is summer in the southern half" in note
    assert "Seedlings" in note
    assert calendar_of({"seedling": (1,)}, 52).notes == ()
    assert calendar_of({"seedling": (1,)}).notes == ()


def test_seasons():
    assert in_season([]) == ()
    assert in_season([5]) == (5,)
    assert in_season([12, 1, 2, 12]) == (12, 1, 2)
    assert in_season(range(1, 13)) == tuple(range(1, 13))
    assert in_season([4, 10]) == (4, 10)


def test_nothing_planted_has_no_calendar():
    plan = counted_plan([[("tōtara", "seedling", 0)]])
    assert calendar(plan, order_lines(plan), -41).works == ()


def test_the_latitude_of_a_planting(farm):
    assert latitude_deg(farm, made_plan(farm)) == pytest.approx(-40.8, abs=0.1)
    local = creek_farm(made_plan(farm).banks[0], local=True)
    assert latitude_deg(local, made_plan(farm)) is None
