"""The mixed model: what was put into invented trees is found again."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.figures.growth.mixed import Prior, fit_mixed


def straight(x: np.ndarray):
    """Straight lines, with intercept and slope of each tree as random effects."""
    design = np.stack([np.ones_like(x), x], axis=-1)

    def model(theta, own):
        return (design * (theta + own)[:, None, :]).sum(axis=-1), design, design

    return model


def invented(seed: int, trees: int = 400):
    rng = np.random.default_rng(seed)
    x = np.tile(np.linspace(-1, 1, 6), (trees, 1))
    own = rng.multivariate_normal([0, 0], [[1.0, 0.3], [0.3, 0.5]], trees)
    y = 10 + own[:, :1] + (3 + own[:, 1:]) * x + rng.normal(0, 0.4, x.shape)
    return x, y


def test_parameters_and_spreads_are_found() -> None:
    x, y = invented(1)
    fit = fit_mixed(straight(x), y, np.ones_like(y), np.zeros(2), 2, bends=False)
    assert fit.settled
    assert fit.parameters == pytest.approx([10, 3], abs=0.15)
    assert np.array([fit.spread[0, 0], fit.spread[0, 1], fit.spread[1, 1]]) == pytest.approx([1, 0.3, 0.5], abs=0.12)
    assert fit.residual == pytest.approx(0.4, rel=0.05)


def test_balanced_lines_have_closed_form_estimates() -> None:
    """With the same days for all, the mean line is ordinary least squares (Pinheiro and Bates 2000, section 2.2)."""
    x, y = invented(2, 60)
    fit = fit_mixed(straight(x), y, np.ones_like(y), np.zeros(2), 2, bends=False)
    slope, level = np.polyfit(x.ravel(), y.ravel(), 1)
    assert fit.parameters == pytest.approx([level, slope], abs=1e-6)


def test_missing_readings_do_not_count() -> None:
    x, y = invented(3, 80)
    weights = np.ones_like(y)
    weights[::2, 4:] = 0
    hidden = np.where(weights > 0, y, 1e6)
    found = [fit_mixed(straight(x), values, weights, np.zeros(2), 2, bends=False) for values in (y, hidden)]
    assert found[0].parameters == pytest.approx(found[1].parameters, rel=1e-9)
    assert found[0].log_likelihood == pytest.approx(found[1].log_likelihood, rel=1e-9)


def test_trees_twice_over_change_nothing_but_the_errors() -> None:
    x, y = invented(4, 50)
    once = fit_mixed(straight(x), y, np.ones_like(y), np.zeros(2), 2, bends=False)
    twice = fit_mixed(straight(np.vstack([x, x])), np.vstack([y, y]), np.ones((100, 6)), np.zeros(2), 2, bends=False)
    assert twice.parameters == pytest.approx(once.parameters, rel=1e-6)
    assert twice.spread == pytest.approx(once.spread, rel=1e-3)
    assert twice.covariance == pytest.approx(once.covariance / 2, rel=1e-3)
    assert twice.log_likelihood == pytest.approx(2 * once.log_likelihood, rel=1e-6)


def test_prior_gives_way_to_readings() -> None:
    x, y = invented(5)
    prior = Prior(np.array([0.0, 0.0]), np.array([1.0, 1.0]), 5.0, 0.1, (1.0, 1.0))
    free = fit_mixed(straight(x), y, np.ones_like(y), np.zeros(2), 2, bends=False)
    held = fit_mixed(straight(x), y, np.ones_like(y), np.zeros(2), 2, prior, bends=False)
    assert held.parameters == pytest.approx(free.parameters, rel=0.01)
    few = fit_mixed(straight(x[:3]), y[:3], np.ones((3, 6)), np.zeros(2), 2, prior, bends=False)
    assert 0 < few.parameters[0] < y[:3].mean()
