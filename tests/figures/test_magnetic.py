import datetime as dt
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.figures.magnetic import MODELS, declination

FARM = (-40.82, 175.5)


@pytest.mark.parametrize(
    ("on", "model", "until"),
    [
        (dt.date(2010, 1, 1), "World Magnetic Model 2010", 2014),
        (dt.date(2014, 12, 31), "World Magnetic Model 2010", 2014),
        (dt.date(2015, 1, 1), "World Magnetic Model 2015, second version", 2019),
        (dt.date(2024, 12, 31), "World Magnetic Model 2020", 2024),
        (dt.date(2025, 1, 1), "World Magnetic Model 2025", 2029),
        (dt.date(2029, 12, 31), "World Magnetic Model 2025", 2029),
    ],
)
def test_the_model_of_the_day_is_taken_and_named(on, model, until):
    found = declination(*FARM, 100.0, on)
    assert (found.model, found.until) == (model, dt.date(until, 12, 31))


@pytest.mark.parametrize(
    ("on", "more"), [(dt.date(2009, 12, 31), ""), (dt.date(2030, 1, 1), "; a newer version of farmmap may know more")]
)
def test_a_day_that_no_model_holds_for_is_refused_in_words(on, more):
    with pytest.raises(BadInput, match=rf"known from 2010 to 2029, and not for 3?1 .* {on.year}{more}$"):
        declination(*FARM, 0.0, on)


def test_near_a_magnetic_pole_a_compass_is_of_no_use():
    with pytest.raises(BadInput, match=r"so near to a magnetic pole .* is not to be relied on"):
        declination(85.8, 139.0, 0.0, dt.date(2025, 6, 1))


@pytest.mark.parametrize(
    "place", [(float("nan"), 175.0), (float("inf"), float("inf")), (91.0, 0.0), (0.0, float("nan"))]
)
def test_no_place_is_refused_in_words(place):
    with pytest.raises(BadInput, match="where the map lies on the earth is not known"):
        declination(*place, 0.0, dt.date(2026, 5, 7))


@given(
    st.floats(-60, 60),
    st.floats(-180, 180),
    st.dates(dt.date(2010, 1, 1), dt.date(2029, 12, 31)),
)
def test_the_yearly_change_is_what_the_needle_turns_in_a_year(lat, lon, on):
    """Within one model the field runs straight through time, so the needle all but does."""
    found = declination(lat, lon, 0.0, on)
    assert -180 <= found.degrees <= 180
    later = on + dt.timedelta(days=365)
    if later <= found.until:
        turned = (declination(lat, lon, 0.0, later).degrees - found.degrees + 180) % 360 - 180
        assert turned == pytest.approx(found.yearly_change_deg, abs=0.02)


def test_models_follow_each_other_without_a_gap():
    assert sorted(MODELS) == [2010, 2015, 2020, 2025]
    for year in sorted(MODELS)[1:]:
        before, after = (
            declination(*FARM, 0.0, day).degrees for day in (dt.date(year - 1, 12, 31), dt.date(year, 1, 1))
        )
        assert after == pytest.approx(before, abs=0.35)  # what a forecast of five years is off by


def test_nothing_of_it_is_loaded_before_it_is_asked_for():
    code = "import sys, farmmap.figures.magnetic; sys.exit('pygeomag' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
