"""Forecasts of readings that were hidden, beside the two rules of thumb that growers use."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from farmmap.figures.growth.backtest import BackTest, back_test
from farmmap.figures.growth.readings import readings_of
from farmmap.files.farm_file import read_farm
from tests.figures.growth.made_farms import weathered
from tests.figures.growth.made_stands import KINDS, made_stands
from tests.outside.repeat_readings import loblolly, orange

SAMPLE = Path(__file__).parents[2] / "sample_farm" / "pipit_downs.gpkg"


def together(tests: list[BackTest]) -> tuple[dict[str, float], float]:
    """Errors over their own readings' mean, and coverage, of several back-tests taken together."""
    held = np.concatenate([test.inside[np.isfinite(test.forecast_cm)] for test in tests])
    errors: dict[str, list[np.ndarray]] = {"forecast": [], "last": [], "mean": []}
    for test in tests:
        said = np.isfinite(test.forecast_cm + test.last_rule_cm + test.mean_rule_cm)
        scale = test.read_cm[said].mean()
        for name, values in zip(errors, (test.forecast_cm, test.last_rule_cm, test.mean_rule_cm), strict=True):
            errors[name].append((values[said] - test.read_cm[said]) / scale)
    return {name: float(np.sqrt(np.mean(np.concatenate(e) ** 2))) for name, e in errors.items()}, float(held.mean())


@pytest.fixture(scope="module")
def on_the_sample_farm() -> list[BackTest]:
    """The last, and the last two, readings of the sample farm hidden."""
    known = readings_of(read_farm(SAMPLE))
    return [back_test(known, {}, hidden) for hidden in (1, 2)]


def test_sample_farm_beats_both_rules(on_the_sample_farm: list[BackTest]) -> None:
    for test in on_the_sample_farm:
        errors = test.errors_cm()
        assert np.isfinite(test.forecast_cm).sum() > 4000
        assert errors["forecast"] < 0.6 * errors["last"]
        assert errors["forecast"] < 0.6 * errors["mean"]


def test_sample_farm_intervals_hold_four_in_five(on_the_sample_farm: list[BackTest]) -> None:
    """With two readings hidden most trees have two left, which say too little to narrow the interval by."""
    one, two = on_the_sample_farm
    assert 0.75 <= one.coverage() <= 0.85
    assert two.coverage() >= 0.75
    for test, by_age in ((one, True), (one, False), (two, False)):
        told = (test.by_age == by_age) & np.isfinite(test.forecast_cm)
        assert 0.75 <= test.inside[told].mean() <= 0.85


@pytest.mark.parametrize(("hidden", "surveys"), [(1, (3, 4, 6)), (2, (4, 6))])
def test_weathered_trees(hidden: int, surveys: tuple[int, ...]) -> None:
    """Trees through dry and wet years, of curves unknown to the fit: better than both rules, intervals honest."""
    tests = [back_test(weathered(seed, many), {}, hidden) for many in surveys for seed in range(1, 5)]
    errors, held = together(tests)
    assert errors["forecast"] < 0.8 * min(errors["last"], errors["mean"])
    assert 0.75 <= held <= 0.85


@pytest.mark.parametrize("hidden", [1, 2])
def test_open_repeat_measurements(hidden: int) -> None:
    """Orange girths and loblolly heights: the last readings from the earlier ones.

    All trees of a species err alike, so two species say little of the share that intervals hold: here it is only seen
    that they are not too narrow.
    """
    errors, held = together([back_test(known, {}, hidden) for known in (orange(), loblolly())])
    assert errors["forecast"] < min(errors["last"], errors["mean"])
    if hidden == 1:
        assert errors["forecast"] < 0.6 * min(errors["last"], errors["mean"])
        assert held <= 0.85
    assert held >= 0.75


@pytest.mark.parametrize("hidden", [1, 2])
def test_loblolly_alone(hidden: int) -> None:
    errors = back_test(loblolly(), {}, hidden).errors_cm()
    assert errors["forecast"] < min(errors["last"], errors["mean"])


@pytest.mark.parametrize("hidden", [1, 2])
def test_stands_of_many_kinds(hidden: int) -> None:
    """Seeds that nothing was set by: 80 species, each with surveys and a curve of its own."""
    tests = [back_test(made_stands(kind, 100 + place, 8), {}, hidden) for place, kind in enumerate(KINDS.values())]
    errors, held = together(tests)
    assert errors["forecast"] < 0.8 * min(errors["last"], errors["mean"])
    assert 0.75 <= held <= 0.85
