"""Student's t beside its printed table and beside scipy.

The table of two-sided 95 % points stands in every handbook of statistics,
first in R. A. Fisher (1925), Statistical Methods for Research Workers; the
values here were worked out by scipy to six places. One and two degrees of
freedom have formulas of their own (a Cauchy distribution, and
t = p·√(2/(1 − p²))).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import stdtrit

from farmmap.figures.student import t_quantile

CONFIDENCES = (0.05, 0.5, 0.8, 0.9, 0.95, 0.99, 0.999)


def test_the_printed_table():
    wanted = [2.776445, 2.570582, 2.262157, 2.144787, 2.093024, 2.045230, 2.063899]
    assert t_quantile([4, 5, 9, 14, 19, 29, 24]) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("confidence", CONFIDENCES)
def test_as_scipy_has_it(confidence):
    freedom = np.concatenate([np.arange(1, 200), np.linspace(1, 40, 500), [1e3, 1e4, 1e5]])
    assert t_quantile(freedom, confidence) == pytest.approx(stdtrit(freedom, 0.5 + confidence / 2), rel=1e-8)


@pytest.mark.parametrize("confidence", CONFIDENCES)
def test_one_and_two_degrees_by_their_formulas(confidence):
    wanted = [math.tan(math.pi / 2 * confidence), confidence * math.sqrt(2 / (1 - confidence**2))]
    assert t_quantile([1, 2], confidence) == pytest.approx(wanted, rel=1e-11)


def test_what_it_takes_and_gives_back():
    assert np.isnan(t_quantile([0, 0.5, np.nan])).all()
    assert float(t_quantile(np.inf)) == pytest.approx(1.959964, abs=1e-6)
    assert t_quantile(7.5953).shape == ()
    assert t_quantile(np.full((2, 3), 4.0)).shape == (2, 3)
