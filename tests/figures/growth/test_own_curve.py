"""A tree's own curve and its last growth going on, drawn together by how much either is to be trusted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from farmmap.figures.growth.curves import CHAPMAN_RICHARDS
from farmmap.figures.growth.farm_growth import growth_of
from farmmap.figures.growth.own_curve import SHARED_WEATHER, STEADY_YEARS, Lead, OwnCurves, carried_on, own_curves
from tests.figures.growth.made_farms import farm_of, growing

YEARS = [2011, 2016, 2021, 2026]
AGES = np.array([7.0, 12.0, 17.0, 22.0])


@pytest.fixture(scope="module")
def pines() -> tuple[Lead, OwnCurves]:
    """How forty pines are carried on, and their own curves; one more was measured once, and one never."""
    sizes = growing(np.random.default_rng(1), CHAPMAN_RICHARDS, AGES).round(1).tolist()
    sizes += [[np.nan, np.nan, np.nan, 30.0], [np.nan] * 4]
    growth = growth_of(farm_of(sizes, YEARS, ["2004"] * 42))
    own = growth.curves["PRAD"][1]
    return growth.by_species["PRAD"].lead, replace(own, strain=np.ones(42))


@pytest.mark.parametrize("years", [0.0, 1.0, 10.0, 40.0])
@pytest.mark.parametrize("steady", [0.25, 1.0])
def test_the_last_growth_goes_on_in_part(pines: tuple[Lead, OwnCurves], steady: float, years: float) -> None:
    lead, own = pines
    age = np.where(np.isnan(own.last_age), 22.0, own.last_age) + years
    by_curve = np.exp(carried_on(replace(lead, steady=0.0), own, age).middle)
    found = carried_on(replace(lead, steady=steady), own, age)
    last = np.exp(own.last_log[:40])
    going_on = last + own.rate[:40] * STEADY_YEARS * (1 - np.exp(-years / STEADY_YEARS))
    assert np.exp(found.middle[:40]) == pytest.approx((1 - steady) * by_curve[:40] + steady * going_on)
    assert np.exp(found.middle[40:]) == pytest.approx(by_curve[40:]), "there is no last growth"
    assert np.exp(found.middle[:40]).min() >= last.min()


def test_where_only_the_last_growth_counts_the_curve_adds_no_doubt(pines: tuple[Lead, OwnCurves]) -> None:
    lead, own = pines
    some, age = own.some(np.arange(40)), np.full(40, 32.0)
    doubts = [carried_on(replace(lead, steady=steady), some, age) for steady in (0.0, 0.5, 1.0)]
    none, half, only = (each.own.mean() for each in doubts)
    assert none > half > only
    weather = SHARED_WEATHER**2 * (doubts[2].middle - some.last_log) ** 2
    assert (doubts[2].shared > 0.9 * lead.widening * weather).all()


def test_growth_over_less_than_a_year_does_not_go_on(pines: tuple[Lead, OwnCurves]) -> None:
    """Of the other tree it is its own alone, as no other tells what was usual then; a shrinking one does not go back."""
    age, dbh_cm = np.array([10.0, 10.5, 10.0, 12.0]), np.array([20.0, 21.0, 20.0, 22.0])
    tree, kind = np.array([0, 0, 1, 1]), np.array([-1, -1])
    assert own_curves(pines[0].found, age, dbh_cm, tree, kind, np.zeros(2)).rate == pytest.approx(
        [np.nan, 1.0], nan_ok=True
    )
    assert own_curves(pines[0].found, age, dbh_cm[::-1], tree, kind, np.zeros(2)).rate[1] == 0
