"""What growers say of rates and times; common practice of the trade, no published source."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from farmmap.figures.growth.farm_growth import growth_of
from farmmap.figures.growth.forecasts import THERE, forecast, ready
from farmmap.figures.growth.increments import increments
from tests.figures.growth.made_farms import farm_of


def rate_of(dbh_cm: float, age_years: int) -> float:
    """Mean annual increment of a tree measured once. [cm/year]."""
    farm = farm_of([[dbh_cm]], [2026], [f"{2026 - age_years}-07-01"])
    return float(increments(farm, dt.date(2026, 7, 1)).mean_cm[0])


def test_a_slow_log_takes_a_lifetime() -> None:
    """Common practice: 26 cm at 28 years is a bit under a centimetre a year; a log of 60 cm takes some 60 years."""
    rate = rate_of(26, 28)
    assert 0.9 < rate < 1.0
    assert 60 / rate == pytest.approx(62, abs=5)


def test_a_young_tree_must_speed_up() -> None:
    """Common practice: 13.4 cm at nine reaches 50 to 60 cm within 30 years only at 1.7 to 2.2 cm a year."""
    rate = rate_of(13.4, 9)
    assert rate == pytest.approx(1.49, abs=0.01)
    assert 13.4 + rate * 21 < 50
    needed = np.array([50 - 13.4, 60 - 13.4]) / 21
    assert needed == pytest.approx([1.7, 2.2], abs=0.05)


def test_a_thick_tree_on_its_way_to_a_metre() -> None:
    """Common practice: 70 cm at 28 reaches 1 m in 12 years at its mean rate, in 5 to 10 if it grows faster."""
    rate = rate_of(70, 28)
    assert rate == pytest.approx(2.5, abs=0.01)
    assert (100 - 70) / rate == pytest.approx(12, abs=0.05)
    faster = np.array([30 / 10, 30 / 5])
    assert (faster > rate).all()
    assert faster == pytest.approx([3, 6])


def test_forecasts_hold_to_that_too() -> None:
    """Trees that put on 2.5 cm a year all their life, and go on so, are a metre thick twelve years after 70 cm."""
    rng = np.random.default_rng(3)
    rates = rng.normal(2.5, 0.15, 30)
    sizes = rates[:, None] * np.array([10.0, 16, 22, 28]) + rng.normal(0, 0.2, (30, 4))
    farm = farm_of(sizes.tolist(), [2008, 2014, 2020, 2026], ["1998-07-01"] * 30)
    assert growth_of(farm).by_species["PRAD"].why_not == ""
    near = np.argmin(np.abs(sizes[:, 3] - 70))
    when = ready(farm, np.full(30, 100.0), np.arange(1, 31))
    assert when.low[near] <= 2038.5 + (70 - sizes[near, 3]) / 2.5 <= when.high[near]
    assert (when.method != THERE).all()


def test_one_tree_alone_is_not_forecast() -> None:
    """A mean rate is arithmetic; a forecast from it alone would be a confident number out of nothing."""
    farm = farm_of([[26.0]], [2026], ["1998-07-01"])
    found = forecast(farm, dt.date(2040, 1, 1))
    assert np.isnan(found.dbh_cm[0])
    assert found.methods[found.method[0]] == "not enough to say"
