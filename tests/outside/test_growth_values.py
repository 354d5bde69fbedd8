"""Growth curves and fits against worked examples and published estimates on open data."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from farmmap.figures.growth.curves import (
    ASYMPTOTIC,
    CHAPMAN_RICHARDS,
    GOMPERTZ,
    LOGISTIC,
    SCHUMACHER,
)
from farmmap.figures.growth.farm_growth import growth_from
from farmmap.figures.growth.mixed import MixedFit, Model, fit_mixed
from tests.outside.repeat_readings import as_rows, columns, orange

Floats = NDArray[np.float64]


def natural(value, age: Floats, own: int | None) -> Model:
    """Model of a curve in its own parameters, with the one at place ``own`` different for each tree."""

    def model(theta: Floats, effects: Floats) -> tuple[Floats, Floats, Floats]:
        full = np.tile(theta, (len(age), 1))
        if own is not None:
            full[:, own] += effects[:, 0]

        def at(parameters: Floats) -> Floats:
            return value(age, *parameters.T[..., None])

        slopes = []
        for place, size in enumerate(np.maximum(np.abs(theta), 1.0) * 1e-6):
            step = np.zeros(len(theta))
            step[place] = size
            slopes.append((at(full + step) - at(full - step)) / (2 * size))
        by_all = np.stack(slopes, axis=-1)
        by_effect = by_all[..., :1] * 0 if own is None else by_all[..., [own]]
        return at(full), by_all, by_effect

    return model


def pooled(value, age: Floats, size: Floats, start: list[float]) -> tuple[Floats, Floats, float]:
    """Least squares through all trees together: parameters, standard errors and residual standard error."""
    model = natural(value, age, None)
    fit = fit_mixed(model, size, np.ones_like(size), np.array(start), 1, factor=np.zeros((1, 1)), steps=0, bends=False)
    spare = np.sqrt(size.size / (size.size - len(start)))
    return fit.parameters, np.sqrt(np.diag(fit.covariance)) * spare, fit.residual * spare


def mixed(value, age: Floats, size: Floats, start: list[float]) -> MixedFit:
    """Asymptote as a random effect of the trees."""
    return fit_mixed(natural(value, age, 0), size, np.ones_like(size), np.array(start), 1, tolerance=1e-8)


def with_log_rate(t: Floats, asymptote: Floats, start: Floats, log_rate: Floats) -> Floats:
    """Asymptotic exponential with the logarithm of its rate, as Pinheiro and Bates write it."""
    return ASYMPTOTIC.value(t, asymptote, start, np.exp(log_rate))


ORANGE = columns("orange.csv")
AGE, GIRTH = as_rows(ORANGE["tree"], ORANGE["age_days"], ORANGE["girth_mm"])
LOBLOLLY = columns("loblolly.csv")
YEARS, FEET = as_rows(LOBLOLLY["seed"], LOBLOLLY["age_years"], LOBLOLLY["height_ft"])


def test_increments_of_diameter_and_of_basal_area() -> None:
    """Textbook: 30 cm at 12 and 42 cm at 18 years; by constant basal area increment 60 cm takes longer."""
    periodic, mean, years = (42 - 30) / 6, 42 / 18, (60 - 42) / 1.8
    assert [periodic, mean, years] == pytest.approx([2.0, 2.3333, 10], abs=1e-4)
    yearly = np.pi / 4e4 * (42**2 - 30**2) / 6
    assert yearly == pytest.approx(0.0113097, abs=1e-7)
    assert np.pi / 4e4 * (60**2 - 42**2) / yearly == pytest.approx(12.75, abs=1e-6)


def test_chapman_richards() -> None:
    """Richards 1959; Pienaar and Turnbull 1973."""
    given = (85, 0.06, 1.3)
    assert CHAPMAN_RICHARDS.value(np.array([10, 20, 30]), *given) == pytest.approx(
        [30.205372, 53.343606, 67.206181], abs=1e-6
    )
    assert CHAPMAN_RICHARDS.age_at(60, *given) == pytest.approx(24.133516, abs=1e-6)
    assert CHAPMAN_RICHARDS.inflection(*given) == pytest.approx(4.372738, abs=1e-6)
    assert CHAPMAN_RICHARDS.project(22, 8, 20, 0.06, 1.3) == pytest.approx(48.368516, abs=1e-6)


def test_schumacher() -> None:
    """Schumacher 1939; the mean annual increment is greatest at t = b."""
    assert SCHUMACHER.value(np.array([10, 20]), 90, 14) == pytest.approx([22.193727, 44.692677], abs=1e-6)
    assert SCHUMACHER.age_at(60, 90, 14) == pytest.approx(34.528248, abs=1e-6)
    assert SCHUMACHER.inflection(90, 14) == pytest.approx(7)
    ages = np.linspace(5, 40, 3501)
    mean = SCHUMACHER.value(ages, 90, 14) / ages
    assert ages[mean.argmax()] == pytest.approx(14, abs=0.011)
    assert mean.max() == pytest.approx(2.364939, abs=1e-6)


def test_gompertz() -> None:
    """Winsor 1932; the inflection lies at A/e."""
    given = (80, 3.2, 0.09)
    assert GOMPERTZ.value(np.array([10, 20]), *given) == pytest.approx([21.780253, 47.137563], abs=1e-6)
    assert GOMPERTZ.inflection(*given) == pytest.approx(12.923898, abs=1e-6)
    assert GOMPERTZ.value(GOMPERTZ.inflection(*given), *given) == pytest.approx(29.430355, abs=1e-6)
    assert GOMPERTZ.age_at(60, *given) == pytest.approx(26.767224, abs=1e-6)


def test_logistic() -> None:
    """Logistic curve, worked by hand."""
    assert LOGISTIC.value(np.array([10, 20]), 75, 16, 5) == pytest.approx([17.360641, 51.748086], abs=1e-6)
    assert LOGISTIC.age_at(60, 75, 16, 5) == pytest.approx(22.931472, abs=1e-6)


def test_orange_trees_all_together() -> None:
    """Draper and Smith 1998, exercise 24.N; Pinheiro and Bates 2000."""
    found, error, residual = pooled(LOGISTIC.value, AGE, GIRTH, [180, 700, 340])
    assert found == pytest.approx([192.6874, 728.755, 353.533], rel=1e-5)
    assert error == pytest.approx([20.244, 107.298, 81.472], rel=1e-4)
    assert residual == pytest.approx(23.37215, rel=1e-6)
    assert residual**2 * 32 == pytest.approx(17480.23351, rel=1e-6)
    assert LOGISTIC.age_at(150, *found) == pytest.approx(1173.05, abs=0.1)
    assert found[0] / found[2] / 4 == pytest.approx(0.136258, abs=1e-5)


@pytest.mark.parametrize(
    ("tree", "estimates", "residual"),
    [
        (0, [154.1632, 627.194, 362.572], 6.65197),
        (1, [218.9983, 700.345, 332.493], 8.52524),
        (2, [158.8294, 734.842, 400.955], 6.25841),
    ],
)
def test_one_orange_tree(tree: int, estimates: list[float], residual: float) -> None:
    """Trees 1, 2 and 3 alone, as widely published."""
    found, _, scatter = pooled(LOGISTIC.value, AGE[[tree]], GIRTH[[tree]], [170, 700, 350])
    assert found == pytest.approx(estimates, rel=1e-4)
    assert scatter == pytest.approx(residual, rel=1e-4)


def test_orange_increments_swing() -> None:
    """Periodic annual increment of tree 1: from 8 to 57 to 5 mm of girth a year is the noise of real readings."""
    yearly = np.diff(GIRTH[0]) / np.diff(AGE[0]) * 365.25
    assert yearly[[0, 1, 2]] == pytest.approx([27.94262, 58.84583, 30.07941], rel=1e-6)
    assert yearly[[3, 4, 5]] == pytest.approx([8.04515, 56.98936, 5.21786], rel=1e-6)


def test_one_loblolly_seed_source() -> None:
    """Kung 1986; Pinheiro and Bates 2000: seed source 329."""
    seeds = np.unique(LOBLOLLY["seed"])
    one = np.flatnonzero(seeds == 329)
    found, error, residual = pooled(with_log_rate, YEARS[one], FEET[one], [95, -8, -3.2])
    assert found == pytest.approx([94.1282, -8.25075, -3.217578], rel=1e-5)
    assert error == pytest.approx([8.40302, 1.22611, 0.138584], rel=1e-4)
    assert residual == pytest.approx(0.749311, rel=1e-5)


@pytest.mark.parametrize(
    ("value", "start", "estimates", "residual"),
    [
        (with_log_rate, [100, -8, -3.2], [102.2621, -8.53306, -3.246130], 1.711796),
        (CHAPMAN_RICHARDS.value, [80, 0.08, 1.8], [76.93353, 0.0826588, 1.846938], 1.730971),
        (LOGISTIC.value, [60, 11, 4], [61.3441, 11.7795, 4.31307], 2.65655),
    ],
)
def test_loblolly_all_together(value, start, estimates, residual) -> None:
    """All 84 rows; the logistic is the worst of the three."""
    found, _, scatter = pooled(value, YEARS, FEET, start)
    assert found == pytest.approx(estimates, rel=1e-5)
    assert scatter == pytest.approx(residual, rel=1e-5)


def test_loblolly_heights_that_follow() -> None:
    """Heights, age, inflection and greatest mean increment by the Chapman-Richards curve through all rows."""
    found, error, _ = pooled(CHAPMAN_RICHARDS.value, YEARS, FEET, [80, 0.08, 1.8])
    assert error == pytest.approx([2.5800, 0.006067, 0.09374], rel=1e-3)
    heights = CHAPMAN_RICHARDS.value(np.array([10, 20, 25, 30]), *found)
    assert heights == pytest.approx([26.5798, 51.9595, 59.9116, 65.4556], abs=1e-3)
    assert CHAPMAN_RICHARDS.age_at(50, *found) == pytest.approx(18.9908, abs=1e-3)
    assert CHAPMAN_RICHARDS.inflection(*found) == pytest.approx(7.4224, abs=1e-3)
    ages = np.linspace(5, 25, 20001)
    mean = CHAPMAN_RICHARDS.value(ages, *found) / ages
    assert ages[mean.argmax()] == pytest.approx(13.5864, abs=2e-3)
    assert mean.max() == pytest.approx(2.73779, abs=1e-5)


def test_orange_mixed_model() -> None:
    """Pinheiro and Bates 2000: asymptote as random effect, by Lindstrom and Bates' method. From memory.

    191.0501, 722.5557 and 344.1643 are printed, with 31.48255 and 7.846255 for trees and readings; the printed
    search stops at one part in 10⁵.
    """
    fit = mixed(LOGISTIC.value, AGE, GIRTH, [190, 700, 350])
    assert fit.settled
    assert fit.parameters == pytest.approx([191.0501, 722.5557, 344.1643], rel=1e-5)
    assert np.sqrt(fit.spread[0, 0]) == pytest.approx(31.48255, rel=1e-6)
    assert fit.residual == pytest.approx(7.846255, rel=1e-6)
    error = np.sqrt(np.diag(fit.covariance) * 35 / 32)
    assert error == pytest.approx([16.15411, 35.15176, 27.14757], rel=1e-3)


def test_loblolly_mixed_model() -> None:
    """Pinheiro and Bates 2000: asymptotic exponential, asymptote as random effect. From memory.

    101.44960, -8.62733 and -3.23375 with standard errors 2.4616951, 0.3179505 and 0.0342702; 3.650642 and
    0.7188625 for seed sources and readings.
    """
    fit = mixed(with_log_rate, YEARS, FEET, [103, -8.5, -3.3])
    assert fit.settled
    assert fit.parameters == pytest.approx([101.44960, -8.62733, -3.23375], rel=5e-5)
    assert np.sqrt(fit.spread[0, 0]) == pytest.approx(3.650642, rel=5e-6)
    assert fit.residual == pytest.approx(0.7188625, rel=1e-6)
    error = np.sqrt(np.diag(fit.covariance) * 84 / 81)
    assert error == pytest.approx([2.4616951, 0.3179505, 0.0342702], rel=1e-3)


def test_orange_by_exact_likelihood() -> None:
    """Lindstrom and Bates 1990: with the asymptote alone random the likelihood is exact. From memory.

    192.05, 727.91 and 348.07, spreads 31.65 and 7.843: nearly those of the method of rounds, which must lie
    within a tenth of a standard error.
    """
    fit = mixed(LOGISTIC.value, AGE, GIRTH, [190, 700, 350])
    exact = np.array([192.05, 727.91, 348.07])
    assert np.all(np.abs(fit.parameters - exact) < 0.2 * np.sqrt(np.diag(fit.covariance)))


def test_unsupported_asymptote_is_refused() -> None:
    """A Chapman-Richards curve through all orange trees runs off to an asymptote of some 840 mm, error 4600."""
    found, error, _ = pooled(CHAPMAN_RICHARDS.value, AGE, GIRTH, [250, 0.001, 1.0])
    assert not (found[0] < 300 and error[0] < found[0] / 2)
    growth = growth_from(orange(), {}).by_species["A"]
    chosen = next(row for row in growth.choice if row.chosen)
    assert chosen.curve != "Chapman-Richards" or any("not supported" in note for note in growth.notes)
