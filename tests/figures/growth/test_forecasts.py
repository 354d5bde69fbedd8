"""What is forecast of trees: their own history, their species, and when there is not enough to say."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.farm.farm import Farm
from farmmap.figures.growth.curves import CHAPMAN_RICHARDS, CURVES
from farmmap.figures.growth.farm_growth import growth_of
from farmmap.figures.growth.forecasts import (
    CONTRADICT,
    MEASURED,
    NO_READING,
    ONE_READING,
    ONE_SIZE,
    OWN_CURVE,
    OWN_RATE,
    THERE,
    UNKNOWN,
    forecast,
    ready,
)
from farmmap.figures.growth.own_curve import carried_on
from tests.figures.growth.made_farms import farm_of, growing

YEARS = [2011, 2016, 2021, 2026]
AGES = np.array([7.0, 12.0, 17.0, 22.0])
LATER = dt.date(2036, 7, 1)


def pines(rng: np.random.Generator, extra: list[list[float]] | None = None, planted: str = "2004") -> Farm:
    """Forty pines planted in 2004, and others."""
    sizes = growing(rng, CHAPMAN_RICHARDS, AGES).round(1).tolist() + (extra or [])
    return farm_of(sizes, YEARS, ["2004"] * 40 + [planted] * (len(sizes) - 40))


@pytest.fixture(scope="module")
def farm() -> Farm:
    """Forty pines, one measured once, one shrinking, one with a mistyped reading, one not measured yet."""
    nan = np.nan
    extra = [[nan, nan, nan, 30.0], [18.0, 29.0, 38.0, 31.0], [18.0, 92.0, 38.0, 43.0], [nan, nan, nan, nan]]
    return pines(np.random.default_rng(1), extra)


def test_curve_is_found_again(farm: Farm) -> None:
    """The trees were grown by a Chapman-Richards curve to 70 cm."""
    growth = growth_of(farm).by_species["PRAD"]
    assert growth.why_not == ""
    assert growth.trees == 43
    assert {row.curve for row in growth.choice} == {curve.name for curve in CURVES}
    assert next(row for row in growth.choice if row.chosen).behind < 10
    assert growth_of(farm) is growth_of(farm)
    found = forecast(farm, LATER, np.arange(1, 41))
    truth = growing(np.random.default_rng(1), CHAPMAN_RICHARDS, np.array([32.0]), tape_cm=0.0)
    assert np.abs(found.dbh_cm - truth[:, 0]).mean() < 2.5


def test_forecast_begins_at_the_last_reading(farm: Farm) -> None:
    for day, column in (("2026-07-01", 3), ("2026-06-30", 2), ("2021-07-01", 2), ("2011-07-01", 0)):
        found = forecast(farm, dt.date.fromisoformat(day), np.arange(1, 41))
        sizes = growing(np.random.default_rng(1), CHAPMAN_RICHARDS, AGES).round(1)[:, column]
        assert found.dbh_cm == pytest.approx(sizes)
        assert np.array_equal(found.low_cm, found.high_cm)
        assert not found.forecast.any()
        assert (found.method == MEASURED).all()
    soon = forecast(farm, dt.date(2026, 7, 3), np.arange(1, 41))
    assert soon.forecast.all()
    assert soon.dbh_cm == pytest.approx(
        growing(np.random.default_rng(1), CHAPMAN_RICHARDS, AGES).round(1)[:, 3], abs=0.1
    )


def test_before_the_first_reading_nothing_is_known(farm: Farm) -> None:
    found = forecast(farm, dt.date(2009, 1, 1), np.array([1, 999]))
    assert np.isnan(found.dbh_cm).all()
    assert (found.method == UNKNOWN).all()


def test_ways_are_told_apart(farm: Farm) -> None:
    found = forecast(farm, LATER)
    assert found.method[:40] == pytest.approx(OWN_CURVE)
    assert found.method[40:44].tolist() == [ONE_READING, CONTRADICT, CONTRADICT, NO_READING]
    assert "do not follow one curve" in found.methods[found.method[41]]


def test_little_history_gives_a_wide_interval(farm: Farm) -> None:
    found = forecast(farm, LATER)
    width = (found.high_cm - found.low_cm) / found.dbh_cm
    usual = np.median(width[:40])
    assert width[40] > 1.1 * usual, "measured once"
    growth = growth_of(farm)
    ahead = carried_on(growth.by_species["PRAD"].lead, growth.curves["PRAD"][1], np.full(44, 32.0))
    assert ahead.own[40] > 4 * np.median(ahead.own[:40]), "what is its own is far less sure than of the others"
    assert width[41] > 3 * usual, "shrinking"
    assert width[42] > 3 * usual, "mistyped"
    assert width[43] > 2 * usual, "not measured"
    assert found.dbh_cm[41] >= 31.0


@pytest.mark.parametrize("trees", [1, 3])
def test_few_trees_are_not_enough(trees: int) -> None:
    sizes = growing(np.random.default_rng(2), CHAPMAN_RICHARDS, AGES, trees)
    farm = farm_of(sizes.tolist(), YEARS, ["2004"] * trees)
    growth = growth_of(farm).by_species["PRAD"]
    assert growth.curve == ""
    assert "not enough to say" in growth.why_not
    found = forecast(farm, LATER)
    assert np.isnan(found.dbh_cm).all()
    assert not found.forecast.any()
    when = ready(farm, np.full(trees, 95.0), found.ids)
    assert np.isnan(when.year).all()
    assert np.isnan(when.high).all()
    assert {when.methods[way] for way in when.method} == {"not enough to say"}


def test_one_reading_each_is_not_enough() -> None:
    sizes = growing(np.random.default_rng(2), CHAPMAN_RICHARDS, AGES)[:, :1]
    farm = farm_of(sizes.tolist(), YEARS[:1], ["2004"] * 40)
    assert "only once" in growth_of(farm).by_species["PRAD"].why_not
    assert np.isnan(forecast(farm, LATER).dbh_cm).all()


def test_two_surveys_give_a_wide_interval() -> None:
    rng = np.random.default_rng(3)
    sizes = growing(rng, CHAPMAN_RICHARDS, AGES)
    few = farm_of(sizes[:, :2].tolist(), YEARS[:2], ["2004"] * 40)
    many = farm_of(sizes.tolist(), YEARS, ["2004"] * 40)
    on = dt.date(2046, 7, 1)
    widths = [np.median(found.high_cm / found.low_cm) for found in (forecast(few, on), forecast(many, on))]
    assert widths[0] > 1.5 * widths[1]
    assert any("not supported" in note for note in growth_of(few).by_species["PRAD"].notes)


def test_no_planting_date_goes_by_size() -> None:
    rng = np.random.default_rng(4)
    start, rate = rng.uniform(20, 60, 30), rng.normal(0.5, 0.1, 30)
    sizes = start[:, None] + rate[:, None] * np.array([0, 5, 10, 15]) + rng.normal(0, 0.15, (30, 4))
    sizes = [*sizes.tolist(), [np.nan, np.nan, np.nan, 40.0], [np.nan, np.nan, np.nan, 2.0]]
    farm = farm_of(sizes, YEARS, [""] * 32)
    assert "planting date" in growth_of(farm).by_species["PRAD"].why_not
    found = forecast(farm, LATER)
    assert (found.method[:30] == OWN_RATE).all()
    assert found.method[30:].tolist() == [ONE_SIZE, UNKNOWN], "a sapling is not judged by thick trees"
    error = found.dbh_cm[:30] - (start + rate * 25)
    assert np.sqrt(np.mean(error**2)) < 1.0
    assert found.high_cm[30] - found.low_cm[30] > 1.5 * np.median((found.high_cm - found.low_cm)[:30])


def test_a_planting_date_after_a_reading_is_not_believed() -> None:
    sizes = growing(np.random.default_rng(5), CHAPMAN_RICHARDS, AGES).tolist()
    farm = farm_of([*sizes, sizes[0]], YEARS, ["2004"] * 40 + ["2019"])
    assert forecast(farm, LATER).method[40] == OWN_RATE


def test_a_year_of_planting_is_half_a_year_unsure() -> None:
    sizes = growing(np.random.default_rng(6), CHAPMAN_RICHARDS, AGES).tolist()
    one = [np.nan, np.nan, np.nan, 30.0]
    farm = farm_of([*sizes, one, one], YEARS, ["2004"] * 40 + ["2018", "2018-07-02"])
    found = forecast(farm, LATER)
    assert found.dbh_cm[40] == pytest.approx(found.dbh_cm[41], rel=0.01)
    assert found.high_cm[40] - found.low_cm[40] > found.high_cm[41] - found.low_cm[41]


def test_stock_that_starts_ahead_is_seen() -> None:
    rng = np.random.default_rng(7)
    slow = growing(rng, CHAPMAN_RICHARDS, AGES)
    fast = growing(rng, CHAPMAN_RICHARDS, AGES + 1.5)
    farm = farm_of([*slow.tolist(), *fast.tolist()], YEARS, ["2004"] * 80)
    trees = farm.trees.assign(stock=["seedling"] * 40 + ["rooted cutting"] * 40)
    growth = growth_of(farm.with_tables(trees=trees)).by_species["PRAD"]
    shift = [value for name, value in growth.parameters.items() if name.startswith("years ahead")]
    assert abs(abs(shift[0]) - 1.5) < 0.7


def test_ready_agrees_with_the_forecast(farm: Farm) -> None:
    ids = np.arange(1, 42)
    when = ready(farm, np.full(41, 55.0), ids)
    going = np.flatnonzero(np.isfinite(when.year) & (when.method != THERE))
    assert len(going) > 10
    for place in going[:6]:
        for year, name in ((when.year, "dbh_cm"), (when.low, "high_cm"), (when.high, "low_cm")):
            if np.isfinite(year[place]):
                days = round((year[place] - 1970) * 365.25)
                on = dt.date(1970, 1, 1) + dt.timedelta(days=days)
                assert getattr(forecast(farm, on, ids[[place]]), name)[0] == pytest.approx(55.0, abs=0.1)
    assert (when.low[going] <= when.year[going]).all()
    assert (when.year[going] <= when.high[going]).all()


def test_ready_long_ago_and_never(farm: Farm) -> None:
    ids = np.arange(1, 41)
    sizes = growing(np.random.default_rng(1), CHAPMAN_RICHARDS, AGES).round(1)
    past = ready(farm, sizes[:, 2] - 0.5, ids)
    assert (past.method == THERE).all()
    assert (past.year < 2022).all()
    assert np.array_equal(past.low, past.high)
    never = ready(farm, np.full(40, 300.0), ids)
    assert np.isnan(never.year).all()
    assert np.isinf(never.high).all()
    none = ready(farm, np.full(40, np.nan), ids)
    assert np.isnan(none.low).all()


@settings(max_examples=25)
@given(
    seed=st.integers(0, 30),
    curve=st.sampled_from(CURVES),
    first=st.floats(4, 12),
    gap=st.sampled_from([3.0, 5.0]),
    surveys=st.integers(2, 5),
)
def test_forecasts_never_shrink_and_lie_in_their_interval(seed, curve, first, gap, surveys) -> None:
    rng = np.random.default_rng(seed)
    years = [2000 + round(gap) * number for number in range(surveys)]
    ages = first + gap * np.arange(surveys)
    sizes = growing(rng, curve, ages, trees=8, half_age=rng.uniform(8, 30), tape_cm=0.4)
    farm = farm_of(sizes.tolist(), years, [str(2000 - round(first))] * 8)
    before = sizes[:, -1]
    for year in (years[-1] + 1, years[-1] + 4, years[-1] + 15, years[-1] + 60):
        found = forecast(farm, dt.date(year, 7, 1))
        known = np.isfinite(found.dbh_cm)
        assert (found.dbh_cm[known] >= before[known] - 1e-9).all()
        assert (found.low_cm[known] <= found.dbh_cm[known]).all()
        assert (found.dbh_cm[known] <= found.high_cm[known]).all()
        before = np.where(known, found.dbh_cm, before)


def test_a_farm_twice_over_has_the_same_curve() -> None:
    sizes = growing(np.random.default_rng(8), CHAPMAN_RICHARDS, AGES, trees=30).tolist()
    once = growth_of(farm_of(sizes, YEARS, ["2004"] * 30)).by_species["PRAD"]
    twice = growth_of(farm_of(sizes + sizes, YEARS, ["2004"] * 60)).by_species["PRAD"]
    assert once.curve == twice.curve
    for name, value in once.parameters.items():
        assert twice.parameters[name] == pytest.approx(value, rel=0.1)


def test_a_mark_on_a_tree_does_not_fit_anew(farm: Farm) -> None:
    """Only the species whose readings changed is worked out again."""
    before = growth_of(farm)
    marked = farm.with_tables(trees=farm.trees.assign(mark=["crop"] * len(farm.trees)))
    assert growth_of(marked) is not before
    assert growth_of(marked).by_species["PRAD"].lead.found is before.by_species["PRAD"].lead.found
    other = farm.with_tables(measurements=farm.measurements.assign(dbh_cm=farm.measurements["dbh_cm"] + 0.1))
    assert growth_of(other).by_species["PRAD"].lead.found is not before.by_species["PRAD"].lead.found


@pytest.mark.parametrize("planted", ["2004", ""])
def test_steady_trees_do_not_contradict_themselves(planted: str) -> None:
    """Where all trees grow evenly a millimetre beside the line is the tape's, and no contradiction."""
    rates = np.linspace(0.8, 1.6, 40)
    sizes = (rates[:, None] * AGES).round(1).tolist()
    found = forecast(farm_of(sizes, YEARS, [planted] * 40), LATER)
    assert CONTRADICT not in found.method
    assert np.isfinite(found.dbh_cm).all()
