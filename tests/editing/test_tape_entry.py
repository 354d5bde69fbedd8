"""Readings by tag: replaced on the same day, and doubted in words when they are hardly believable."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from farmmap.editing.believable import (
    ENOUGH_TREES,
    FASTEST_CM_PER_YEAR,
    growth_limit,
    increments_cm_per_year,
    tape_error_cm,
)
from farmmap.editing.pruning import pruned_to
from farmmap.editing.tape_entry import measured, next_tag, trees_with_tag
from farmmap.errors import BadInput
from tests.conftest import days
from tests.editing.made_farms import carried_out, put


def test_a_tree_is_found_by_its_tag(farm):
    assert trees_with_tag(farm, " 3 ").tolist() == [3]
    assert trees_with_tag(farm, "33").tolist() == []
    assert trees_with_tag(farm, "  ").tolist() == []
    trees = farm.trees.copy()
    trees["tag"] = pd.array(["A1", "a1", "B2", "B2", "5", "6"], dtype="str")
    farm = farm.with_tables(trees=trees)
    assert trees_with_tag(farm, "A1").tolist() == [1]
    assert trees_with_tag(farm, "b2").tolist() == [3, 4]


def test_a_reading_is_put_in(farm):
    proposed = measured(farm, 2, dt.date(2023, 5, 3), dbh_cm="19,5")
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Measure tree 2: 19.5 cm"
    assert proposed.notes == ()
    row = after.measurements.iloc[-1]
    assert row[["tree", "stem", "dbh_cm"]].tolist() == [2, 1, 19.5]
    assert row["measured_on"] == pd.Timestamp(2023, 5, 3)
    assert np.isnan(row["height_m"])


def test_everything_read_is_in_the_name(farm):
    proposed = measured(farm, 2, "2023-05-03", dbh_cm=19.5, height_m="11", crown_m=4, pruned_m=4.5)
    assert proposed.edit.name == "Measure tree 2: 19.5 cm, height 11 m, crown 4 m, pruned to 4.5 m"


def test_the_same_tree_stem_and_day_is_replaced_and_the_rest_kept(farm):
    proposed = measured(farm, 1, "2020-05-01", dbh_cm=22.4)
    after = carried_out(farm, proposed)
    assert proposed.notes == ("tree 1 was read on 1 May 2020 already; 22.5 cm is replaced by 22.4 cm",)
    row = after.measurements[(after.measurements["tree"] == 1)].iloc[-1]
    assert row[["dbh_cm", "height_m"]].tolist() == [22.4, 11.0]
    assert len(after.measurements) == len(farm.measurements)
    with pytest.raises(BadInput, match="that reading of 1 May 2020 is down already"):
        measured(farm, 1, "2020-05-01", dbh_cm=22.5)


def test_another_stem_of_the_day_is_another_reading(farm):
    proposed = measured(farm, 1, "2020-05-01", dbh_cm=12, stem=2)
    after = carried_out(farm, proposed)
    assert len(after.measurements) == len(farm.measurements) + 1
    assert "tree 1 is down with 1 stems, and this is of stem 2" in proposed.notes


def test_a_diameter_that_shrank_is_said_with_its_numbers(farm):
    notes = measured(farm, 1, "2023-05-03", dbh_cm=20.4).notes
    assert "20.4 cm is 2.1 cm less than on 1 May 2020 (22.5 cm)" in notes[0]
    assert measured(farm, 1, "2023-05-03", dbh_cm=22.1).notes == ()


def test_a_diameter_that_jumped_is_said_with_its_numbers(farm):
    notes = measured(farm, 1, "2021-05-01", dbh_cm=28).notes
    assert "28 cm is 5.5 cm more than on 1 May 2020 (22.5 cm), 5.5 cm a year" in notes[0]
    assert "more than 4 cm a year is seldom seen" in notes[0]
    assert measured(farm, 1, "2021-05-01", dbh_cm=26.9).notes == ()
    assert "more than on 1 May 2020 (22.5 cm), in 31 days" in measured(farm, 1, "2020-06-01", dbh_cm=24).notes[0]


def test_a_reading_taken_down_late_is_compared_with_the_later_one(farm):
    assert (
        "is 1.5 cm more than on 1 May 2020 (22.5 cm), which is later"
        in measured(farm, 1, "2019-05-01", dbh_cm=24).notes[0]
    )
    assert measured(farm, 1, "2019-05-01", dbh_cm=21).notes == ()


@pytest.fixture
def stand(farm):
    """Forty totara that grow 0.5 to 1 cm a year, two of them misread."""
    random = np.random.default_rng(3)
    first = random.uniform(10, 20, 40)
    growth = random.uniform(0.5, 1.0, 40)
    growth[:2] = 15, -3
    return put(
        farm,
        trees={
            "tag": [str(n) for n in range(40)],
            "species": ["TOTA"] * 40,
            "x": np.arange(40.0),
            "y": np.arange(40.0),
        },
        measurements={
            "tree": np.tile(np.arange(1, 41), 2),
            "measured_on": np.repeat(days("2016-05-01", "2018-05-01"), 40),
            "dbh_cm": np.concatenate([first, first + 2 * growth]),
        },
    )


def test_the_farms_own_trees_say_what_is_believable(stand):
    limit = growth_limit(stand, "TOTA")
    assert limit.trees == 40 >= ENOUGH_TREES
    assert limit.median_cm_per_year == pytest.approx(0.75, abs=0.15)
    assert 1.0 <= limit.cm_per_year < 2.5
    assert growth_limit(stand, "REDW").cm_per_year == FASTEST_CM_PER_YEAR
    was = float(stand.measurements["dbh_cm"].iloc[49])
    notes = measured(stand, 10, "2020-05-01", dbh_cm=round(was + 7, 1)).notes
    assert (
        "the farm's own tōtara grow 0.7 cm a year" in notes[0] or "the farm's own tōtara grow 0.8 cm a year" in notes[0]
    )
    assert measured(stand, 10, "2020-05-01", dbh_cm=round(was + 2, 1)).notes == ()


def test_increments_are_of_each_stem_from_first_to_last(stand):
    growth = increments_cm_per_year(stand, "TOTA")
    assert len(growth) == 40
    assert np.median(growth) == pytest.approx(0.75, abs=0.15)
    assert len(increments_cm_per_year(stand, "REDW")) == 0


def test_a_tape_errs_by_half_a_centimetre_or_a_hundredth():
    assert tape_error_cm(20) == 0.5
    assert tape_error_cm(80) == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"pruned_m": 12}, "pruned to 12 m is not below the tree's height of 11 m"),
        ({"height_m": 8}, "height 8 m is 3.0 m less than before (11 m)"),
        ({"crown_m": 30}, "a crown of 30 m is more than twice the height of 11 m"),
        ({"dbh_cm": 23, "height_m": 1.0}, "is lower than breast height (1.4 m); the diameter will not count"),
    ],
)
def test_heights_are_compared(farm, given, words):
    assert any(words in note for note in measured(farm, 1, "2021-05-01", **given).notes)


def test_a_pruned_height_does_not_go_down(farm):
    once = carried_out(farm, measured(farm, 1, "2020-08-01", pruned_m=4))
    assert "pruned to 3 m is less than the 4 m recorded earlier" in measured(once, 1, "2021-01-01", pruned_m=3).notes


def test_a_dead_tree_and_a_day_before_planting_are_noted(farm):
    assert "tree 3 is down as dead since 1 March 2015" in measured(farm, 3, "2016-01-01", dbh_cm=12).notes[0]
    assert measured(farm, 3, "2014-01-01", dbh_cm=12).notes == ()
    assert "is before tree 4 was planted" in measured(farm, 4, "2005-01-01", dbh_cm=3).notes[0]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "nothing is given; read the tape"),
        ({"dbh_cm": ""}, "nothing is given"),
        ({"dbh_cm": "thick"}, "the diameter is no number: 'thick'"),
        ({"dbh_cm": 0}, "a diameter is more than 0"),
        ({"dbh_cm": 1300}, "0 to 1200 cm is believable"),
        ({"height_m": "11 ft"}, "is in m, not in ft"),
        ({"dbh_cm": 20, "stem": 0}, "the stem is 0; 1 to 50"),
    ],
)
def test_what_cannot_be_kept_is_said(farm, given, words):
    with pytest.raises(BadInput, match=words):
        measured(farm, 1, "2021-05-01", **given)


def test_a_tree_or_day_that_is_not_there(farm):
    with pytest.raises(BadInput, match="row 99 is not there"):
        measured(farm, 99, "2021-05-01", dbh_cm=20)
    with pytest.raises(BadInput, match="'today' is not a day; write year, month and day"):
        measured(farm, 1, "today", dbh_cm=20)


def tagged(farm, *tags, status=None):
    count = len(tags)
    values = {"tag": list(tags), "x": np.arange(float(count)), "y": np.zeros(count)}
    return put(farm, trees=values | ({"status": status} if status else {}))


def test_tags_follow_each_other_as_people_count(farm):
    trees = tagged(farm, "10", "9", "A10", "A9", "2", "9a", "9-2", "b1", "10")
    order, tag = [], next_tag(trees, "")
    while tag:
        order.append(tag)
        tag = next_tag(trees, tag)
    assert order == ["2", "9", "9-2", "9a", "10", "A9", "A10", "b1"]


def test_dead_and_felled_trees_are_passed_over(farm):
    trees = tagged(farm, "1", "2", "3", "4", status=["alive", "dead", "felled", "alive"])
    assert next_tag(trees, "1") == "4"
    assert next_tag(trees, "4") == ""
    assert next_tag(trees, "0") == "1"
    assert next_tag(trees, "2") == "4"


def test_no_trees_and_no_tags(farm):
    assert next_tag(farm.with_tables(trees=farm.trees.iloc[:0]), "3") == ""
    assert next_tag(tagged(farm, "", ""), "") == ""


def test_the_order_of_tags_is_worked_out_once_for_the_same_trees(farm, monkeypatch):
    from farmmap.editing import tape_entry

    made = []
    real = tape_entry._TagOrder
    monkeypatch.setattr(tape_entry, "_TagOrder", lambda trees: made.append(1) or real(trees))
    trees = tagged(farm, "1", "2", "3")
    assert next_tag(trees, "1") == "2"
    later = measured(trees, 1, "2021-01-01", dbh_cm=20).edit.apply(trees)
    assert next_tag(later, "2") == "3"
    assert made == [1]


def test_a_reading_of_a_day_that_has_not_come_is_refused(farm):
    today = dt.datetime.now().astimezone().date()
    with pytest.raises(BadInput, match=r"the day of measurement: .* has not come yet"):
        measured(farm, 2, today + dt.timedelta(days=2), dbh_cm=19.5)
    with pytest.raises(BadInput, match="has not come yet"):
        pruned_to(farm, [2], 4.0, today + dt.timedelta(days=2))
    assert measured(farm, 2, today, dbh_cm=19.5).edit.changes
