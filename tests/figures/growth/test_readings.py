"""Repeat readings as the growth fits take them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.growth.backtest import back_test
from farmmap.figures.growth.readings import readings_of, year_of
from tests.conftest import days
from tests.figures.growth.made_farms import farm_of, growing, weathered

NAN = np.nan


def test_ages_count_from_the_middle_of_what_is_known() -> None:
    farm = farm_of(
        [[10.0, 20.0], [11.0, NAN], [12.0, 22.0], [13.0, 23.0]], [2014, 2024], ["2004", "2004-07", "2004-07-01", ""]
    )
    known = readings_of(farm)
    assert known.count.tolist() == [2, 1, 2, 2]
    assert known.age[[0, 2, 3]] == pytest.approx([10, 10, 10], abs=0.05)
    assert np.isnan(known.age[-1])
    assert known.unsure_years[:3] == pytest.approx(
        [12**-0.5, 12**-0.5 / 12, 0]
    )  # a day anywhere in the year, in the month
    assert known.last_cm.tolist() == [20, 11, 22, 23]


def test_a_change_in_the_number_of_stems_is_no_growth() -> None:
    """√(Σd²/3) of three stems and the diameter of one are not the same thing."""
    farm = farm_of([[20.0, NAN]], [2014, 2024], ["2004"])
    taken = {
        "tree": [1, 1, 1, 1],
        "measured_on": days("2014-07-01", "2024-07-01", "2024-07-01", "2024-07-01"),
        "stem": [1, 1, 2, 3],
        "dbh_cm": [20.0, 10.0, 12.0, 14.0],
    }
    farm = farm.with_tables(measurements=shaped(TABLES["measurements"], taken, np.arange(1, 5), farm.grid))
    known = readings_of(farm)
    assert known.count.tolist() == [1]
    assert known.dbh_cm == pytest.approx(np.sqrt((100 + 144 + 196) / 3))


def test_planned_trees_and_unmeasured_trees() -> None:
    farm = farm_of([[10.0, 20.0], [NAN, NAN], [5.0, 6.0]], [2014, 2024], ["2004"] * 3)
    trees = farm.trees.assign(stage=["existing", "existing", "planned"])
    known = readings_of(farm.with_tables(trees=trees))
    assert known.ids.tolist() == [1, 2]
    assert known.last.tolist() == [1, -1]
    assert np.isnan(known.last_cm[1])


def test_leaving_readings_out() -> None:
    farm = farm_of([[10.0, 20.0], [NAN, 11.0]], [2014, 2024], ["2004"] * 2)
    known = readings_of(farm)
    left = known.without_last()
    assert left.count.tolist() == [1, 0]
    assert left.dbh_cm.tolist() == [10]
    rows, place = known.rows_of(np.array([1, 0]))
    assert known.dbh_cm[rows].tolist() == [11, 10, 20]
    assert place.tolist() == [0, 1, 1]


def test_an_empty_farm() -> None:
    known = readings_of(farm_of([[NAN]], [2014], ["2004"]))
    assert known.count.tolist() == [0]
    assert not len(known.dbh_cm)


def test_years_of_the_calendar() -> None:
    assert year_of(np.datetime64("2026-07-02")) == pytest.approx(2026.5, abs=0.01)
    assert np.isnan(year_of(np.datetime64("NaT")))
    assert dt.date(2026, 7, 2).year == int(year_of(np.datetime64("2026-07-02")))


def test_back_test_hides_what_it_predicts() -> None:
    """The readings that are hidden, and what they would have to be by the rules of thumb."""
    known = weathered(1, 4, species=1, trees=12)
    test = back_test(known, {})
    assert (test.read_cm == known.last_cm[test.ids - 1]).all()
    earlier = known.without_last()
    place = test.ids - 1
    mean = earlier.last_cm[place] / earlier.last_age[place]
    assert test.mean_rule_cm == pytest.approx(earlier.last_cm[place] + mean * test.ahead_years)
    assert test.errors_cm()["forecast"] < test.errors_cm()["mean"]
    changed = known.dbh_cm.copy()
    changed[known.last] *= 1.5
    other = back_test(type(known)(**{**vars_of(known), "dbh_cm": changed}), {})
    assert other.forecast_cm == pytest.approx(test.forecast_cm, rel=1e-12)


def vars_of(known) -> dict[str, object]:
    """Fields of readings."""
    return {name: getattr(known, name) for name in known.__dataclass_fields__}


def test_growing_makes_what_it_says() -> None:
    from farmmap.figures.growth.curves import CHAPMAN_RICHARDS

    sizes = growing(np.random.default_rng(0), CHAPMAN_RICHARDS, np.array([1e4]), 200, 60.0, own=0.0, tape_cm=0.0)
    assert sizes == pytest.approx(60.0)
