"""Outlook of trees, species and farm: keys, words, what agrees with what, and never a confident year from too little."""

import csv
import datetime as dt
import io
import json

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.figures.catalogue import CATALOGUE, working
from farmmap.figures.growth import increments_by_age as by_age
from farmmap.figures.growth import outlook_farm, outlook_species, outlook_trees
from farmmap.figures.growth.forecasts import forecast
from farmmap.figures.growth.increments import DOUBT_WORDS, Doubt
from farmmap.figures.growth.outlook import STATE_WORDS, State, outlook_day, outlook_of, readings_by, ready_words
from farmmap.figures.growth.outlook_course import species_courses, tree_course
from farmmap.figures.growth.outlook_farm import farm_outlook
from farmmap.figures.growth.outlook_species import share_words, species_outlook
from farmmap.figures.growth.outlook_trees import tree_outlook
from tests.figures.growth.grown_farm import LONE, NAMELESS, ON, PINES, POLE, RARE, SHRINKING, THICK, grown_farm

KEYS = (
    "tag", "species", "dbh_cm", "mean_annual_increment_cm", "recent_increment_cm", "target_cm", "ready_year",
    "ready_year_low", "ready_year_high", "method",
)  # fmt: skip


@pytest.fixture(scope="module")
def grown():
    return grown_farm()


@pytest.fixture(scope="module")
def trees(grown):
    table = tree_outlook(grown, ON)
    return dict(zip(table.ids, table.rows, strict=True))


def test_json_of_trees_begins_with_the_keys_agreed(grown):
    rows = json.loads(tree_outlook(grown, ON).as_json())
    assert len(rows) == PINES + 6
    assert all(tuple(row)[: len(KEYS)] == KEYS for row in rows)
    head = next(csv.reader(io.StringIO(tree_outlook(grown, ON).as_csv())))
    assert tuple(head[: len(KEYS)]) == KEYS


@pytest.mark.parametrize("columns", [
    outlook_trees.COLUMNS, outlook_species.COLUMNS, outlook_farm.COLUMNS, by_age.COLUMNS,
])  # fmt: skip
def test_every_column_is_told(columns):
    for name in columns:
        assert CATALOGUE[name].title
        assert CATALOGUE[name].words


def test_a_pine_is_ready_when_its_forecast_reaches_the_target(grown, trees):
    found = outlook_of(grown, ON)
    dated = [place for place in range(PINES) if found.state[place] == State.YEAR]
    assert len(dated) > PINES / 2
    for place in dated:
        row = trees[place + 1]
        assert row["ready_year_low"] <= row["ready_year"] <= (row["ready_year_high"] or np.inf)
        assert row["dbh_cm"] < 60 == row["target_cm"]
        day = dt.date(1970, 1, 1) + dt.timedelta(days=(found.year[place] - 1970) * 365.25)
        ahead = forecast(grown, day, np.array([place + 1]))
        assert ahead.dbh_cm[0] == pytest.approx(60.0, abs=0.2)
        assert row["ready"].startswith(str(row["ready_year"]))
        assert f"d = {row['dbh_cm']}" not in working("ready_year", row)
        assert "not known" not in working("ready_year", row)
    for name in ("recent_increment_cm", "mean_annual_increment_cm", "target_cm"):
        assert "not known" not in working(name, trees[1])


def test_thick_trees_are_ready_in_the_year_they_were_read_so_thick(trees):
    assert trees[THICK]["ready"] == "ready now"
    years = [trees[THICK][name] for name in ("ready_year", "ready_year_low", "ready_year_high")]
    assert years == [2021, 2021, 2021]


def test_too_little_is_never_a_confident_year(trees):
    for tree in (LONE, SHRINKING):
        row = trees[tree]
        if row["ready_year"] is None:
            assert row["ready"] == "not enough to say"
            assert row["ready_year_low"] is None
        else:
            assert row["ready_year_high"] is None or row["ready_year_high"] - row["ready_year_low"] >= 10
    for tree in (NAMELESS, RARE, POLE):
        assert trees[tree]["ready"] == "no target set"
        assert trees[tree]["ready_year"] is None
    assert trees[SHRINKING]["reading_doubt"] == DOUBT_WORDS[Doubt.SHRANK]
    assert trees[LONE]["recent_increment_cm"] is None


def test_a_reading_that_cannot_be_right_makes_no_tree_ready(grown):
    """A tree of 28 cm read as 280, once or after another reading, is not ready: it is to be measured again."""
    tape = grown.measurements.copy()
    last = tape.groupby("tree")["measured_on"].transform("max") == tape["measured_on"]
    tape.loc[last & tape["tree"].isin([1, LONE]), "dbh_cm"] = 280.0
    tape.loc[last & (tape["tree"] == THICK), "dbh_cm"] = 130.0
    wrong = grown.with_tables(measurements=tape)
    table = tree_outlook(wrong, ON, ids=(1, LONE, THICK))
    for row in table.rows:
        assert row["ready"] == "not enough to say"
        assert row["method"] == f"not enough to say: {row['reading_doubt']}"
        assert [row[name] for name in ("ready_year", "ready_year_low", "ready_year_high")] == [None] * 3
    doubts = [row["reading_doubt"] for row in table.rows]
    assert doubts == [DOUBT_WORDS[doubt] for doubt in (Doubt.TOO_THICK, Doubt.JUMPED, Doubt.TOO_THICK)]
    assert any("trees were read thinner than before, or thicker than can be" in note for note in table.notes)
    assert all("trees were read thinner" not in note for note in tree_outlook(grown, ON).notes)


@pytest.mark.parametrize("tree", [NAMELESS, RARE, POLE])
def test_species_of_which_too_little_is_known_get_no_confident_year(grown, tree):
    row = tree_outlook(grown, ON, target_cm=90, ids=(tree,)).rows[0]
    if row["ready_year"] is None:
        assert row["ready"].startswith("not enough to say")
    else:
        assert row["ready_year_high"] is None or row["ready_year_high"] - row["ready_year_low"] >= 10


def test_one_target_for_all_and_a_block_alone(grown):
    table = tree_outlook(grown, ON, block=2, target_cm=20)
    assert len(table.rows) == 6
    assert set(table.column("target_cm")) == {20.0}
    assert all(row["ready"] == "ready now" for row in table.rows if row["tag"] != f"T{LONE:02d}")
    assert "Odd Corner" in table.title
    with pytest.raises(BadInput, match="between 1 and 400 cm"):
        tree_outlook(grown, ON, target_cm=5000)


def test_the_first_to_be_ready_come_in_that_order(grown):
    table = tree_outlook(grown, ON, first=12)
    said = [row["ready"] for row in table.rows]
    ready = [one == "ready now" for one in said]
    assert ready == sorted(ready, reverse=True)
    years = [row["ready_year"] for row in table.rows if row["ready"] != "ready now"]
    assert years == sorted(years)
    assert table.notes[0].startswith("The 12 trees that are ready first of 30")
    assert len(tree_outlook(grown, ON, first=100).rows) == 30


def test_a_past_day_knows_no_later_reading(grown):
    past = dt.date(2018, 1, 1)
    found = outlook_of(grown, past)
    assert found.then.measurements["measured_on"].max() < np.datetime64(past)
    assert readings_by(grown, ON) is grown
    assert readings_by(grown, past) is readings_by(grown, past)
    rows = tree_outlook(grown, past)
    assert rows.rows[0]["measured_on"] == "2016-06-01"
    assert any("later day" in note for note in rows.notes)


def test_a_day_to_come_is_looked_at_from_today(grown):
    found = outlook_of(grown, dt.date(2400, 1, 1))
    assert ON <= found.on < dt.date(2400, 1, 1)
    assert outlook_day(grown, ON) == ON


def test_the_calendar_counts_every_tree_once_and_only_rises(grown):
    table = farm_outlook(grown, ON)
    assert sum(table.column("ready_trees")) == PINES + 6
    of_trees = [row["ready"] for row in tree_outlook(grown, ON).rows]
    for state in (State.READY, State.NO_TARGET):
        words = STATE_WORDS[state]
        assert sum(row["ready_trees"] for row in table.rows if row["when"] == words) == of_trees.count(words)
    pines = [row for row in table.rows if row["code"] == "PRAD" and row["ready_by"] is not None]
    for name in ("ready_by", "ready_by_low", "ready_by_high"):
        counts = [row[name] for row in pines]
        assert counts == sorted(counts)
    assert all(row["ready_by_low"] <= row["ready_by"] <= row["ready_by_high"] for row in pines)
    assert pines[-1]["ready_by"] == sum(row["ready_trees"] for row in pines)
    assert "no target set" in table.notes[0]


def test_the_printed_calendar_puts_far_years_together(grown):
    one, five = farm_outlook(grown, ON), farm_outlook(grown, ON, single_years=3)
    assert sum(one.column("ready_trees")) == sum(five.column("ready_trees"))
    assert any(" to " in str(when) for when in five.column("when"))
    far = {int(row["when"]) for row in one.rows if row["when"].isdecimal() and int(row["when"]) >= ON.year + 3}
    for row in five.rows:
        if row["when"][0].isdecimal() and " to " in row["when"]:
            begin, end = map(int, row["when"].split(" to "))
            assert begin in {ON.year + 3, end - 4}
            assert end % 5 == 4
            assert far & set(range(begin, end + 1))


def test_species_have_curve_error_stocks_and_shares(grown):
    rows = {row["code"]: row for row in species_outlook(grown, ON).rows}
    pine = rows["PRAD"]
    assert pine["curve"] in {one["curve"] for one in pine["curves_tried"]}
    assert sum(one["chosen"] for one in pine["curves_tried"]) == 1
    assert pine["aicc"] is not None
    assert 0 < pine["left_out_error_cm"] < 10
    assert {one["stock"] for one in pine["stocks"]} == {"seedling", "rooted cutting"}
    assert "years ahead of the others" not in pine["parameters"]
    assert "cm at" in pine["curve_meaning"]
    shares = [one["ready_percent"] for one in pine["periods"]]
    assert shares == sorted(shares)
    assert pine["ready_now_percent"] <= shares[0]
    for code in ("ARAR", "PCAN", ""):
        assert rows[code]["curve"] == ""
        assert rows[code]["method"].startswith("not enough to say")
        assert rows[code]["ready_by_period"] == ""
    assert json.loads(species_outlook(grown, ON).as_json())


def test_mean_increments_by_stock_and_age(grown):
    table = by_age.increments_by_age(grown, ON)
    pines = [row for row in table.rows if row["code"] == "PRAD"]
    assert {row["stock"] for row in pines} == {"seedling", "rooted cutting"}
    cuttings = [row for row in pines if row["stock"] == "rooted cutting"]
    assert [row["age_class"] for row in cuttings] == ["5 to 10", "10 to 15", "15 to 20"]
    assert [row["trees"] for row in cuttings] == [8, 8, 8]
    rates = [row["periodic_increment_cm"] for row in cuttings]
    assert rates == sorted(rates, reverse=True)
    assert "1 span is left out" in table.notes[2]
    wide = by_age.increments_by_age(grown, ON, class_years=50)
    alone = next(row for row in wide.rows if row["stock"] == "rooted cutting")
    assert alone["spans"] == 24
    assert alone["periodic_increment_cm"] == pytest.approx(np.mean(rates))
    with pytest.raises(BadInput, match="at least 1 year"):
        by_age.increments_by_age(grown, ON, class_years=0)


def test_increments_against_the_age_from_breast_height_need_heights(grown):
    table = by_age.increments_by_age(grown, ON, against="breast height")
    assert {row["age_class"] for row in table.rows} == {by_age.NO_AGE}


def test_the_course_of_a_tree_goes_through_its_readings(grown):
    course = tree_course(grown, outlook_of(grown, ON), 1)
    assert [day.year for day in course.days] == [2011, 2016, 2021, 2026]
    assert course.ahead[0] == course.days[-1]
    assert course.middle_cm[0] == pytest.approx(course.dbh_cm[-1], rel=0.02)
    assert (np.diff(course.middle_cm) >= 0).all()
    assert (course.low_cm <= course.middle_cm).all()
    assert (course.middle_cm <= course.high_cm).all()
    assert course.high_cm[-1] - course.low_cm[-1] > course.high_cm[1] - course.low_cm[1]
    nothing = tree_course(grown, outlook_of(grown, ON), 999)
    assert nothing.days == nothing.ahead == ()


def test_the_course_of_a_species_has_its_curve_and_readings(grown):
    courses = species_courses(outlook_of(grown, ON))
    pine = courses["PRAD"]
    assert len(pine.ages) == 4 * PINES + 5
    near = np.interp(10.0, pine.curve_ages, pine.curve_cm)
    assert near == pytest.approx(80 * (1 - np.exp(-0.6)) ** 1.3, rel=0.15)
    assert len(courses[""].ages) == len(courses[""].curve_ages) == 0


@pytest.mark.parametrize(
    ("state", "years", "words"),
    [
        (State.READY, (2020.1, 2020.1, 2020.1), "ready now"),
        (State.YEAR, (2041.9, 2036.0, 2050.2), "2041 (2036 to 2050)"),
        (State.YEAR, (2041.9, 2036.0, np.nan), "2041 (2036 or later)"),
        (State.YEAR, (2024.9, 2023.0, 2031.0), "by now, by its forecast: measure it"),
        (State.FAR, (np.nan, np.nan, np.nan), "not within 100 years"),
        (State.FAR, (np.nan, 2090.4, np.nan), "not within 100 years (at best 2090)"),
        (State.NOT_ENOUGH, (np.nan, np.nan, np.nan), "not enough to say"),
        (State.NO_TARGET, (np.nan, np.nan, np.nan), "no target set"),
    ],
)
def test_words(state, years, words):
    assert ready_words(state, *years, 2026) == words


def test_shares_in_words():
    assert [share_words(one) for one in (0.0, 0.3, 12.4, 99.6, 100.0)] == [
        "0 %", "under 1 %", "12 %", "over 99 %", "100 %",
    ]  # fmt: skip


def test_a_farm_without_trees_has_an_empty_outlook():
    empty = new_farm("Empty", "EPSG:2193")
    for table in (tree_outlook(empty, ON), species_outlook(empty, ON), farm_outlook(empty, ON)):
        assert len(table.rows) == 0
        assert "Nothing to show yet." in table.as_text()
        assert table.as_json().strip() == "[]"
