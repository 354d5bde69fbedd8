"""Increments from the days of readings: published values, readings too close, shrinking, jumping, several stems."""

import datetime as dt
import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.dates import DAYS_A_YEAR
from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.growth.increments import DOUBT_WORDS, Doubt, breast_days, increments
from farmmap.figures.growth.limits import FASTEST_CM_PER_YEAR, fastest_believed, thickest_believed_cm
from farmmap.figures.standing import standing
from farmmap.figures.trees import tree_figures
from tests.place import EAST, NORTH

ON = dt.date(2030, 1, 1)
ORANGE_TREE_1 = ((118, 30), (484, 58), (664, 87), (1004, 115), (1231, 120), (1372, 142), (1582, 145))
"""Days since 1968-12-31 and girths [mm] of one orange tree: Draper and Smith (1998), exercise 24.N."""


def farm_of(*trees, readings=()):
    """Trees as mappings of columns; readings as (tree, day, dbh[, height[, stem]])."""
    farm = new_farm("Increments", "EPSG:2193")
    names = {name for tree in trees for name in tree}
    values = {name: [tree.get(name, 1 if name == "stems" else "") for tree in trees] for name in names}
    many = len(trees)
    values |= {"x": EAST + np.arange(many, dtype=float), "y": NORTH + np.zeros(many)}
    rows = [(*reading, *(np.nan, 1)[len(reading) - 3 :]) for reading in readings]
    tree, day, dbh, height, stem = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    tape = {
        "tree": list(tree),
        "measured_on": np.array([np.datetime64(one) for one in day], "datetime64[s]"),
        "dbh_cm": np.array(dbh, float),
        "height_m": np.array(height, float),
        "stem": list(stem),
    }
    return farm.with_tables(
        trees=shaped(TABLES["trees"], values, np.arange(1, many + 1), farm.grid),
        measurements=shaped(TABLES["measurements"], tape, np.arange(1, len(rows) + 1), farm.grid),
    )


def after(planted, years):
    """Day so many years after a day."""
    return str(np.datetime64(planted) + round(years * DAYS_A_YEAR))


def test_textbook_increments_of_one_tree():
    """30 cm at 12 years and 42 cm at 18: 2.0 and 2.3333 cm a year (textbook definition)."""
    farm = farm_of(
        {"planted": "2000-01-01"},
        readings=[(1, after("2000-01-01", 12), 30.0), (1, after("2000-01-01", 18), 42.0)],
    )
    found = increments(farm, ON)
    assert found.recent_cm[0] == pytest.approx(2.0, abs=1e-6 + 2 * 1 / 365.25)
    assert found.mean_cm[0] == pytest.approx(2.3333, abs=1e-3)
    assert found.recent_years[0] == pytest.approx(6.0, abs=2 / 365.25)
    area = np.pi / 40_000 * (42.0**2 - 30.0**2)
    assert found.recent_m2[0] == pytest.approx(area / found.recent_years[0], rel=1e-12)
    assert found.mean_m2[0] == pytest.approx(np.pi / 40_000 * 42.0**2 / found.age_years[0], rel=1e-12)
    assert found.age_from[0] == "planting"


@pytest.mark.parametrize(
    ("dbh_cm", "years", "least", "most"),
    [(26.0, 28, 0.85, 1.0), (70.0, 28, 2.4, 2.6), (13.4, 9, 1.4, 1.6)],
)
def test_common_practice_mean_increments(dbh_cm, years, least, most):
    """Common practice: 26 cm at 28 years is a bit under a centimetre a year."""
    farm = farm_of({"planted": "1990-07-01"}, readings=[(1, after("1990-07-01", years), dbh_cm)])
    assert least < increments(farm, ON).mean_cm[0] < most


def test_yearly_readings_do_not_make_the_recent_increment_swing():
    """The yearly increments of the girth swing from 8 to 57 to 5 mm a year; over two seasons they do not."""
    days = [str(np.datetime64("1968-12-31") + day) for day, _ in ORANGE_TREE_1]
    cm = [girth / 10 / np.pi for _, girth in ORANGE_TREE_1]
    farm = farm_of({"planted": "1968-12-31"}, readings=[(1, *one) for one in zip(days, cm, strict=True)])
    girth_mm = []
    for day in days[2:]:
        found = increments(farm, dt.date.fromisoformat(day))
        assert found.doubt[0] == Doubt.NONE
        girth_mm.append(found.recent_cm[0] * np.pi * 10)
    pairs = [
        (later[1] - earlier[1]) / (later[0] - earlier[0]) * DAYS_A_YEAR
        for earlier, later in itertools.pairwise(ORANGE_TREE_1)
    ]
    assert pairs == pytest.approx([27.94262, 58.84583, 30.07941, 8.04515, 56.98936, 5.21786], rel=1e-5)
    assert max(pairs) / min(pairs) > 10
    assert max(girth_mm) / min(girth_mm) < 2


def test_readings_too_close_say_nothing_of_a_year():
    farm = farm_of({"planted": "2000"}, {"planted": "2000"}, {}, readings=[
        (1, "2020-03-01", 20.0), (1, "2020-09-01", 21.0),
        (2, "2020-03-01", 20.0),
    ])  # fmt: skip
    found = increments(farm, ON)
    assert found.doubt.tolist() == [Doubt.TOO_CLOSE, Doubt.ONE_READING, Doubt.NOT_MEASURED]
    assert np.isnan(found.recent_cm).all()
    assert found.doubt_words[1] == DOUBT_WORDS[Doubt.ONE_READING]
    assert found.mean_cm[0] == pytest.approx(21.0 / found.age_years[0])
    assert found.age_from.tolist() == ["planting", "planting", ""]


def test_the_nearest_reading_a_fair_time_back_is_taken_not_the_one_before():
    farm = farm_of({}, readings=[
        (1, "2010-05-01", 10.0), (1, "2018-05-01", 18.0), (1, "2019-12-01", 19.9), (1, "2020-05-01", 20.0),
    ])  # fmt: skip
    found = increments(farm, ON)
    assert str(found.recent_from[0]) == "2018-05-01"
    assert found.recent_cm[0] == pytest.approx(1.0, abs=0.01)
    assert [str(day) for day in found.spans.start] == ["2018-05-01", "2010-05-01"]


def test_shrinking_and_jumping_are_said_and_small_losses_are_not():
    farm = farm_of({}, {}, {}, readings=[
        (1, "2016-05-01", 30.0), (1, "2020-05-01", 28.0),
        (2, "2016-05-01", 30.0), (2, "2020-05-01", 29.8),
        (3, "2016-05-01", 10.0), (3, "2020-05-01", 57.0),
    ])  # fmt: skip
    found = increments(farm, ON)
    assert found.doubt.tolist() == [Doubt.SHRANK, Doubt.NONE, Doubt.JUMPED]
    assert found.recent_cm[0] == pytest.approx(-0.5, abs=0.01)
    assert found.recent_error_cm[0] == pytest.approx(0.5 / found.recent_years[0])


def test_a_reading_in_millimetres_is_too_thick_for_its_age():
    """26 cm at 28 years read as 260; a fast poplar of 40 cm at 11 years; without a planting date nothing is said."""
    farm = farm_of({"planted": "1990-07-01"}, {"planted": "2007"}, {}, {"planted": "2016-07-01", "stock": "pole"},
                   readings=[
        (1, "2018-07-01", 260.0), (2, "2018-07-01", 40.0), (3, "2018-07-01", 260.0), (4, "2018-07-01", 16.0),
    ])  # fmt: skip
    found = increments(farm, ON)
    assert found.doubt.tolist() == [Doubt.TOO_THICK, Doubt.ONE_READING, Doubt.ONE_READING, Doubt.ONE_READING]
    assert np.isnan(found.mean_cm[0])
    assert np.isnan(found.mean_m2[0])
    assert found.mean_cm[1] == pytest.approx(40.0 / found.age_years[1])
    assert thickest_believed_cm(9.0) == 40.0


def test_a_jump_is_judged_by_the_species_own_growth():
    slow = [{"species": "PTOT"}] * 30
    readings = [(tree, "2016-05-01", 20.0) for tree in range(1, 31)]
    readings += [(tree, "2020-05-01", 22.0 + 0.01 * tree) for tree in range(1, 30)] + [(30, "2020-05-01", 29.0)]
    found = increments(farm_of(*slow, readings=readings), ON)
    assert found.doubt[:29].tolist() == [Doubt.NONE] * 29
    assert found.doubt[29] == Doubt.JUMPED
    assert fastest_believed(np.full(5, 0.5)) == FASTEST_CM_PER_YEAR


def test_several_stems_by_quadratic_mean_as_everywhere():
    farm = farm_of({"stems": 2, "planted": "2000"}, readings=[
        (1, "2016-05-01", 10.0, np.nan, 1), (1, "2016-05-01", 14.0, np.nan, 2),
        (1, "2020-05-01", 14.0, np.nan, 1), (1, "2020-05-01", 18.0, np.nan, 2),
    ])  # fmt: skip
    found, there = increments(farm, ON), standing(farm, ON)
    assert found.dbh_cm[0] == there.dbh_cm[0] == pytest.approx(np.sqrt((14**2 + 18**2) / 2))
    assert found.basal_area_m2[0] == there.basal_area_m2[0]
    grown = np.sqrt((14**2 + 18**2) / 2) - np.sqrt((10**2 + 14**2) / 2)
    assert found.recent_cm[0] == pytest.approx(grown / found.recent_years[0])
    area = np.pi / 40_000 * (14**2 + 18**2 - 10**2 - 14**2)
    assert found.recent_m2[0] == pytest.approx(area / found.recent_years[0])


def test_another_number_of_stems_or_height_is_not_compared():
    farm = farm_of({"stems": 1}, {"stems": 1}, readings=[
        (1, "2016-05-01", 10.0), (1, "2020-05-01", 14.0, np.nan, 1), (1, "2020-05-01", 6.0, np.nan, 2),
        (2, "2016-05-01", 10.0), (2, "2020-05-01", 14.0),
    ])  # fmt: skip
    tape = farm.measurements.copy()
    tape.loc[5, "breast_height_m"] = 1.3
    found = increments(farm.with_tables(measurements=tape), ON)
    assert found.doubt.tolist() == [Doubt.TAKEN_OTHERWISE, Doubt.TAKEN_OTHERWISE]
    assert np.isnan(found.recent_cm).all()


def test_age_from_breast_height_where_the_planting_is_not_known():
    """Height 1.0 m on 1 May 2010 and 1.8 m two years later: 1.4 m lies half way."""
    farm = farm_of({}, {"stock": "pole", "planted": "2010-05-01"}, readings=[
        (1, "2010-05-01", np.nan, 1.0), (1, "2012-04-30", 1.0, 1.8), (1, "2020-05-01", 18.0, 9.0),
        (2, "2020-05-01", 25.0, 9.0),
    ])  # fmt: skip
    found = increments(farm, ON)
    assert found.age_from.tolist() == ["breast height", "planting"]
    assert found.breast_age_years == pytest.approx([9.0, 10.0], abs=0.01)
    assert found.mean_cm == pytest.approx([18.0 / found.breast_age_years[0], 25.0 / found.age_years[1]])


def test_others_of_the_species_and_stock_tell_when_a_tree_reached_breast_height():
    trees = [{"species": "PRAD", "stock": "seedling", "planted": "2010-07-01"}] * 6
    readings = [(tree, "2012-07-01", np.nan, 1.0) for tree in range(1, 6)]
    readings += [(tree, "2014-07-01", 3.0, 1.8) for tree in range(1, 6)] + [(6, "2020-07-01", 18.0, 10.0)]
    farm = farm_of(*trees, readings=readings)
    reached = breast_days(farm, ON)
    assert reached == pytest.approx(np.full(6, reached[0]))
    few = farm_of(*trees[:3], readings=[one for one in readings if one[0] in {1, 2}] + [(3, "2020-07-01", 18.0, 10.0)])
    assert np.isnan(breast_days(few, ON)[2])


def test_readings_of_a_later_day_and_of_trees_below_breast_height_do_not_count():
    farm = farm_of({"planted": "2010"}, {"planted": "2010"}, readings=[
        (1, "2014-05-01", 5.0), (1, "2018-05-01", 12.0), (1, "2022-05-01", 19.0),
        (2, "2014-05-01", 1.0, 1.1), (2, "2018-05-01", 8.0, 6.0),
    ])  # fmt: skip
    found = increments(farm, dt.date(2020, 1, 1))
    assert found.dbh_cm.tolist() == [12.0, 8.0]
    assert found.readings.tolist() == [2, 1]
    assert found.doubt[1] == Doubt.ONE_READING


def test_the_same_mean_increment_as_in_the_list_of_trees(farm, day):
    rows = tree_figures(farm, day)
    found = increments(farm, day)
    assert list(rows.ids) == found.ids.tolist()
    theirs = [np.nan if value is None else value for value in rows.column("mean_annual_increment_cm")]
    assert found.mean_cm == pytest.approx(np.array(theirs, float), nan_ok=True)


READINGS = st.lists(
    st.tuples(st.integers(1, 3), st.integers(0, 6_000), st.floats(1.0, 90.0, allow_nan=False)),
    max_size=14,
    unique_by=lambda one: one[:2],
)


@given(READINGS)
def test_spans_never_overlap_and_are_a_fair_time_long(rows):
    readings = [(tree, str(np.datetime64("2005-01-01") + day), dbh) for tree, day, dbh in rows]
    found = increments(farm_of({}, {}, {}, readings=readings), ON)
    spans = found.spans
    assert (spans.years >= 0.75 - 1e-9).all()
    assert spans.cm == pytest.approx((spans.to_cm - spans.from_cm) / spans.years)
    for tree in np.unique(spans.tree):
        mine = np.sort(np.flatnonzero(spans.tree == tree))
        order = mine[np.argsort(spans.start[mine])]
        assert (spans.start[order][1:] == spans.end[order][:-1]).all()
    for place, tree in enumerate(found.ids):
        own = sorted((day, dbh) for one, day, dbh in rows if one == tree)
        assert found.readings[place] == len(own)
        if own:
            assert found.dbh_cm[place] == pytest.approx(own[-1][1])
        far = bool(own) and own[-1][0] - own[0][0] >= 0.75 * DAYS_A_YEAR
        assert np.isfinite(found.recent_cm[place]) == far


def test_an_empty_farm_has_no_increments():
    found = increments(new_farm("Empty", "EPSG:2193"), ON)
    assert len(found) == 0
    assert len(found.spans.tree) == 0


def test_a_tree_read_before_it_was_planted_has_no_mean_increment():
    readings = [(tree, day, dbh) for tree in (1, 2, 3) for day, dbh in (("2016-03-01", 8.0), ("2024-03-01", 16.0))]
    found = increments(
        farm_of({"planted": "2018"}, {"planted": "2016"}, {"planted": "2016-03-01"}, readings=readings), ON
    )
    assert found.doubt.tolist() == [Doubt.PLANTED_LATER, Doubt.NONE, Doubt.NONE]
    assert np.isnan(found.mean_cm).tolist() == [True, False, False]
    assert found.recent_cm == pytest.approx(1.0, abs=0.01)


def test_a_diameter_without_end_is_no_reading():
    rows = [(1, "2016-03-01", 8.0), (1, "2020-03-01", np.inf), (1, "2024-03-01", 16.0)]
    found, without = (increments(farm_of({"planted": "2010"}, readings=some), ON) for some in (rows, rows[::2]))
    assert found.readings.tolist() == [2]
    assert (found.recent_cm, found.mean_cm) == (without.recent_cm, without.mean_cm)
