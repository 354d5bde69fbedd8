"""The due list by tree and by block and year, when the others come due, and cautions."""

import datetime as dt
import math

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.figures.catalogue import CATALOGUE
from farmmap.plans.pruning import coming as coming_module
from farmmap.plans.pruning.cautions import HYGIENE, LADDERS, cautions, near_power_lines
from farmmap.plans.pruning.coming import BY_HEIGHT, NOT_ENOUGH, coming, day_of, decimal_year, year_words
from farmmap.plans.pruning.due import BY_BLOCK_COLUMNS, DUE_COLUMNS, FORM_WORDS, NOW, TOO_LATE, due, due_by_block
from farmmap.plans.pruning.state import pruning_of
from tests.plans.pruning.prunable import LIFTS, Answer, prunable

ON = dt.date(2020, 5, 1)


def mixed(**more):
    trees = [
        {"planted": "2015"},
        {"planted": "2015", "form": "poor"},
        {"planted": "2015", "mark": "crop"},
        {},
        {"planted": "2015"},
    ]
    readings = [
        {"tree": 1, "height_m": 6.0, "dbh_cm": 8.0},
        {"tree": 2, "height_m": 6.0, "dbh_cm": 9.0},
        {"tree": 3, "height_m": 8.0, "dbh_cm": 19.0},
        {"tree": 5, "height_m": 4.0, "dbh_cm": 3.0},
    ]
    return prunable(trees, readings, **more)


def test_every_column_is_told():
    for name in (*BY_BLOCK_COLUMNS, *DUE_COLUMNS):
        assert CATALOGUE[name].title


def test_due_first_then_by_year_then_what_is_past(monkeypatch):
    monkeypatch.setattr(coming_module, "ready", Answer)
    table = due(mixed(), ON)
    assert table.column("tag") == ["1", "2", "4", "5", "3"]
    assert table.column("due") == [NOW, NOW, NOW, "2021", TOO_LATE]
    assert table.column("lift_to_m") == [2.0] * 5
    rows = {row["tag"]: row for row in table.rows}
    assert rows["2"]["to_do"] == "poor form: is it worth it"
    assert "core would be about 23 cm" in rows["3"]["to_do"]
    assert rows["1"]["crown_left_percent"] == pytest.approx(100 * 4 / 6)
    assert rows["1"]["stubs_from"] == "estimated from taper"
    assert rows["5"]["due_from"] == BY_HEIGHT
    assert rows["4"]["height_from"] == "its neighbours"
    assert rows["4"]["to_do"] == "its height was not read; look first"


def test_the_forecast_of_growth_gives_year_and_interval(monkeypatch):
    monkeypatch.setattr(coming_module, "ready", Answer)
    farm = prunable([{}], [{"tree": 1, "dbh_cm": 8.0}])
    table = due(farm, ON)
    assert table.column("due") == ["2023 (2022 or later)"]
    assert table.column("due_year") == [2023]
    assert table.column("due_year_low") == [2022]
    assert table.column("due_year_high") == [None]
    assert table.column("due_from") == ["curve"]


def test_the_forecast_is_asked_for_the_diameter_that_the_taper_needs(monkeypatch):
    asked = []

    def ready(farm, target_cm, ids):
        asked.append(target_cm)
        return Answer(farm, target_cm, ids)

    monkeypatch.setattr(coming_module, "ready", ready)
    lifts = [*LIFTS[:1], {"lift": 2, "to_m": 4.0, "dos_cm": 10.0}]
    coming(prunable([{}], [{"tree": 1, "dbh_cm": 10.0, "height_m": 9.0, "pruned_m": 2.0}], lifts), ON)
    assert asked[0] == pytest.approx([10.0 * 7.6 / 7.0])


def test_real_growth_brings_a_year_or_says_that_there_is_not_enough():
    trees = [{"planted": "2012"}] * 12 + [{}]
    readings = []
    for tree in range(1, 13):
        for year in range(2015, 2021):
            age = year - 2012
            readings.append({"tree": tree, "measured_on": f"{year}-05-01", "dbh_cm": 1.2 * age + 0.02 * tree * age})
    readings.append({"tree": 13, "dbh_cm": 9.0})
    lifts = [{"lift": 1, "to_m": 2.0, "dos_cm": 13.0}]
    farm = prunable(trees, readings, lifts)
    found = coming(farm, ON)
    assert ((found.year[:12] > 2020) & (found.year[:12] < 2025)).all()
    assert (found.low[:12] <= found.year[:12]).all()
    words = due(farm, ON).column("due")
    assert all(word.startswith("202") or word == NOT_ENOUGH for word in words)


@pytest.mark.parametrize("planted", ["", "2020", "1950", "2019-12"])
def test_no_year_by_height_without_an_age_that_says_something(planted):
    farm = prunable([{"planted": planted}], [{"tree": 1, "height_m": 2.0}])
    assert due(farm, ON).column("due") == [NOT_ENOUGH]


def test_by_block_and_year_counts_the_same_trees(monkeypatch):
    monkeypatch.setattr(coming_module, "ready", Answer)
    farm = mixed(lifts=[*LIFTS, {"lift": 1, "to_m": 4.5, "tree_height_m": 2.0, "kind": "form"}])
    table = due_by_block(farm, ON)
    counts = dict(zip(table.column("due"), table.column("trees"), strict=True))
    assert counts == {NOW: 3, FORM_WORDS: 1, "2021": 1, TOO_LATE: 1}
    assert set(table.ids) == {1}
    by_tree = due(farm, ON)
    listed = {tree for row in table.rows if row["due"] != FORM_WORDS for tree in row["tree_ids"]}
    assert listed == set(by_tree.ids)
    assert table.rows[0]["trees_per_ha"] == pytest.approx(3.0, abs=0.02)
    assert "not enough to say" in table.as_text()
    assert table.as_json()


def test_nothing_measured_nothing_planted_and_no_lifts():
    for farm in (prunable([], []), prunable([{}], [], []), prunable([{}] * 3, [])):
        assert due(farm, ON).as_text()
        assert due_by_block(farm, ON).as_csv()
    assert len(due(prunable([{}], [], []), ON).rows) == 0
    assert due(prunable([{}], []), ON).column("due") == [NOT_ENOUGH]
    assert cautions(prunable([], []), ON) == ()


def test_a_block_that_is_not_there():
    with pytest.raises(BadInput, match="no block with id 7"):
        due(mixed(), ON, block=7)
    assert len(due(mixed(), ON, block=1).rows) == 5


def test_lifts_that_cannot_be_followed_are_said_in_the_notes():
    farm = mixed(lifts=[{"lift": 1, "to_m": 4.0, "tree_height_m": 3.0}])
    table = due_by_block(farm, ON)
    assert not table.rows
    assert any("Your own lifts of TOTA are not used" in note for note in table.notes)


def test_trees_within_reach_of_a_power_line():
    trees = [{}] * 100
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 8.0} for n in range(100)]
    farm = prunable(trees, readings, line=True)
    found = pruning_of(farm, ON)
    near = near_power_lines(farm, found, np.arange(100))
    away = np.abs(found.there.y - (found.there.y[0] + 5))
    crown = np.nan_to_num(found.there.crown_m) / 2
    assert near.tolist() == (away <= np.maximum(6.0, crown + 7.0)).tolist()
    assert near.any()
    words = cautions(farm, ON)
    assert words[0].startswith("Power line: ")
    assert words.count(LADDERS) == words.count(HYGIENE) == 1
    assert any("none is kept here" in word for word in words)
    assert any(value and value.startswith("near a power line") for value in due(farm, ON).column("to_do"))
    assert not any("Power line" in word for word in cautions(mixed(), ON))


def test_a_season_that_is_kept_is_said_with_who_says_it():
    farm = prunable([{"species": "EGLU"}], [{"tree": 1, "height_m": 6.0, "dbh_cm": 8.0}], [])
    assert any("early spring" in word and "Tasmania" in word for word in cautions(farm, ON))


@pytest.mark.parametrize(
    ("span", "words"),
    [
        ((math.nan, math.nan, math.nan), NOT_ENOUGH),
        ((2025.3, math.nan, math.nan), "2025"),
        ((2025.3, 2024.1, 2027.9), "2025 (2024 to 2027)"),
        ((2025.3, 2024.1, math.inf), "2025 (2024 or later)"),
        ((2025.3, 2025.1, 2025.9), "2025"),
    ],
)
def test_years_in_words(span, words):
    assert year_words(*span) == words


@pytest.mark.parametrize("day", [dt.date(2020, 1, 1), dt.date(2020, 12, 31), dt.date(2023, 7, 3)])
def test_a_day_and_its_year_with_fraction(day):
    assert day_of(decimal_year(day) + 1e-9) == day


def test_a_tree_that_is_thick_enough_waits_for_its_crown(monkeypatch):
    """Thick enough already, it is due when it is tall enough to keep half of it green: at 5 m, 0.8 m a year."""
    monkeypatch.setattr(coming_module, "ready", Answer)
    lifts = [
        {"lift": 1, "to_m": 2.0, "dos_cm": 6.0},
        {"lift": 2, "to_m": 4.0, "dos_cm": 6.0, "crown_left_percent": 50.0},
    ]
    farm = prunable([{"planted": "2015-05-01"}], [{"tree": 1, "height_m": 4.0, "dbh_cm": 9.0, "pruned_m": 2.0}], lifts)
    assert due(farm, ON).column("due") == ["2023 (2022 or later)"]  # crown: 2021
    waits = prunable([{"planted": "2010-05-01"}], [{"tree": 1, "height_m": 3.2, "dbh_cm": 9.0, "pruned_m": 2.0}], lifts)
    table = due(waits, ON)  # 0.32 m a year: 5 m in 5.6 years
    assert table.column("due") == ["2025"]
    assert table.column("due_from") == [BY_HEIGHT]
    assert table.column("due_year_low") == [None]
    no_age = prunable([{}], [{"tree": 1, "height_m": 3.2, "dbh_cm": 9.0, "pruned_m": 2.0}], lifts)
    assert due(no_age, ON).column("due") == [NOT_ENOUGH]


def test_a_lift_that_was_nearly_done_is_still_due():
    assert due(prunable([{}], [{"tree": 1, "height_m": 6.0, "dbh_cm": 8.0, "pruned_m": 1.7}]), ON).column("due") == [
        NOW
    ]
