"""Properties that every growth curve has."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.growth.curves import ASYMPTOTIC, CURVES, GOMPERTZ, LOGISTIC, SCHUMACHER, Curve

AGES = np.linspace(0.5, 80, 160)
curves = st.sampled_from(CURVES)
asymptotes, half_ages, bends = st.floats(10, 200), st.floats(4, 60), st.floats(-0.4, 0.4)


def parameters(curve: Curve, asymptote: float, half_age: float, bend: float) -> tuple[float, ...]:
    """Parameters of a curve that ends at an asymptote and is half as thick at about an age."""
    q = curve.start[0] + (bend if curve.bent else 0.0)
    found = curve.natural(np.log(asymptote), curve.start[1] - np.log(half_age), q)
    return tuple(float(one) for one in found)


@given(curves, asymptotes, half_ages, bends)
def test_rises_to_its_asymptote(curve: Curve, asymptote: float, half_age: float, bend: float) -> None:
    given_ = parameters(curve, asymptote, half_age, bend)
    sizes = curve.value(AGES, *given_)
    assert (np.diff(sizes) >= 0).all()
    assert (sizes >= 0).all()
    assert (sizes <= asymptote * (1 + 1e-12)).all()
    assert curve.value(1e7, *given_) > 0.95 * asymptote


@given(curves, asymptotes, half_ages, bends)
def test_age_at_a_size_and_back(curve: Curve, asymptote: float, half_age: float, bend: float) -> None:
    given_ = parameters(curve, asymptote, half_age, bend)
    sizes = curve.value(AGES, *given_)
    clear = (sizes > 0.01 * asymptote) & (sizes < 0.99 * asymptote)
    assert curve.age_at(sizes[clear], *given_) == pytest.approx(AGES[clear], rel=1e-6)
    assert np.isnan(curve.age_at(asymptote * 1.01, *given_))


@given(curves, asymptotes, half_ages, bends)
def test_projection_stays_on_the_curve(curve: Curve, asymptote: float, half_age: float, bend: float) -> None:
    """Algebraic difference form: path invariant, and at the same age the same size."""
    given_ = parameters(curve, asymptote, half_age, bend)
    sizes = curve.value(AGES, *given_)
    clear = sizes > 0.01 * asymptote
    ages, sizes, others = AGES[clear], sizes[clear], given_[1:]
    assert curve.project(sizes, ages, ages + 7, *others) == pytest.approx(curve.value(ages + 7, *given_), rel=1e-6)
    assert curve.project(sizes, ages, ages, *others) == pytest.approx(sizes, rel=1e-9)


@given(curves, half_ages, bends)
def test_growth_is_fastest_at_the_inflection(curve: Curve, half_age: float, bend: float) -> None:
    given_ = parameters(curve, 60.0, half_age, bend)
    at = float(curve.inflection(*given_))
    if np.isfinite(at) and at > 0.5:
        step = at * 1e-3
        slopes = np.diff(curve.value(at + step * np.array([-60.5, -59.5, -0.5, 0.5, 59.5, 60.5]), *given_))[::2]
        assert slopes[1] >= max(slopes[0], slopes[2]) * (1 - 1e-6)
    elif curve is not ASYMPTOTIC:
        assert curve not in {SCHUMACHER, GOMPERTZ, LOGISTIC} or at <= 0.5


@given(curves, bends)
def test_shape_is_the_curve_and_its_derivatives_are_right(curve: Curve, bend: float) -> None:
    q, scaled, step = curve.start[0] + bend, np.geomspace(0.05, 20, 60), 1e-6
    log, by_time, by_q = curve.shape(scaled, q)
    natural = curve.natural(np.log(50.0), np.log(0.1), q if curve.bent else curve.start[0])
    assert np.log(curve.value(scaled / 0.1, *natural) / 50) == pytest.approx(log, rel=1e-9, abs=1e-9)
    slope = (curve.shape(scaled * np.exp(step), q)[0] - curve.shape(scaled * np.exp(-step), q)[0]) / (2 * step)
    assert by_time == pytest.approx(slope, rel=1e-4, abs=1e-6)
    turn = (curve.shape(scaled, q + step)[0] - curve.shape(scaled, q - step)[0]) / (2 * step)
    assert by_q == pytest.approx(turn, rel=1e-4, abs=1e-6)


def test_every_curve_names_its_source() -> None:
    for curve in CURVES:
        assert any(letter.isdigit() for letter in curve.source)
        assert len(curve.parameters) == len(parameters(curve, 50, 10, 0))
