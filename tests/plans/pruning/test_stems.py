"""Stems that are pruned: the worked examples of the trade and what must hold for any stem."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.plans.pruning.state import MOST_CROWN_TAKEN_PERCENT, THICKEST_CM
from farmmap.plans.pruning.stems import (
    OCCLUSION_CM,
    clearwood_m3,
    clearwood_percent,
    crown_taken_percent,
    dbh_for_diameter_cm,
    diameter_at_m,
    height_at_diameter_m,
    knotty_core_cm,
)

cm = st.floats(1.0, 120.0)
metres = st.floats(2.0, 60.0)


@pytest.mark.parametrize(("diameter", "height"), [(10.0, 3.5), (8.0, 4.6)])
def test_even_taper_worked_example(diameter, height):
    """D11, worked out by hand: 14 cm at breast height, 9 m tall."""
    assert height_at_diameter_m(diameter, 14.0, 9.0) == pytest.approx(height)
    assert diameter_at_m(height, 14.0, 9.0) == pytest.approx(diameter)


def test_even_taper_at_half_the_height():
    """D11: at 4.5 m, half of its height, that stem is 8.18 cm, as the rule to prune below 8 to 10 cm has it (D4)."""
    assert diameter_at_m(4.5, 14.0, 9.0) == pytest.approx(8.18, abs=0.005)


def test_clear_wood_of_a_log():
    """B11, geometry: a 6 m log of 50 cm under bark about a core of 20 cm."""
    assert clearwood_m3(6.0, 50.0, 20.0) == pytest.approx(0.989602, abs=1e-6)
    assert clearwood_percent(50.0, 20.0) == pytest.approx(84.0)


def test_core_stays_within_what_the_trade_says():
    """D4 and D9: pruned at 10 to 16 cm over the stubs the core is 20 cm at most; 18 cm is the thick end."""
    assert OCCLUSION_CM > 0
    assert knotty_core_cm([10.0, 16.0]).max() <= 20.0
    assert THICKEST_CM == 18.0


def test_half_of_the_crown():
    """D7 and D8: half of the green crown is what is warned of from."""
    assert MOST_CROWN_TAKEN_PERCENT == 50.0
    assert crown_taken_percent(4.0, 0.0, 8.0) == pytest.approx(50.0)
    assert crown_taken_percent(4.0, 2.0, 8.0) == pytest.approx(100 / 3)


@given(cm, metres, st.floats(0.0, 1.0))
def test_a_stem_gets_thinner_upwards_and_back(dbh, height, part):
    up = 1.3 + part * (height - 1.3)
    diameter = diameter_at_m(up, dbh, height)
    assert -1e-9 <= diameter <= dbh + 1e-9
    assert height_at_diameter_m(diameter, dbh, height) == pytest.approx(up, abs=1e-6)
    if up < height - 0.01:
        assert dbh_for_diameter_cm(diameter, up, height, 1.3) == pytest.approx(dbh)


@given(cm, cm, metres)
def test_clear_wood_is_never_less_than_nought_nor_more_than_the_log(mean, core, length):
    clear = clearwood_m3(length, mean, core)
    assert 0 <= clear <= math.pi / 40_000 * mean**2 * length + 1e-12
    assert 0 <= clearwood_percent(mean, core) <= 100


@given(st.floats(0.0, 10.0), st.floats(0.0, 10.0), metres)
def test_crown_taken_is_a_share(to, base, height):
    taken = crown_taken_percent(to, base, height)
    assert math.isnan(taken) or 0 <= taken <= 100 + 1e-9


def test_what_is_not_known_stays_so():
    assert np.isnan(diameter_at_m(3.0, 20.0, np.nan))
    assert diameter_at_m(1.0, 20.0, np.nan) == 20.0
    assert np.isnan(diameter_at_m(9.0, 20.0, 8.0))
    assert np.isnan(diameter_at_m(2.0, np.nan, 8.0))
    assert np.isnan(height_at_diameter_m(25.0, 20.0, 9.0))
