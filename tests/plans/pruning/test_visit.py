"""A visit to a block to prune: who is on the list, how high, from where, and what is left out."""

import datetime as dt

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.plans.pruning import coming as coming_module
from farmmap.plans.pruning.cautions import LADDERS
from farmmap.plans.pruning.visit import FROM_GROUND_M, REACH_M, visit
from tests.plans.pruning.prunable import Answer, prunable

ON = dt.date(2020, 5, 1)
LIFTS = (
    {"lift": 1, "to_m": 2.0, "tree_height_m": 5.0, "dos_cm": 12.0, "crown_left_percent": 50.0},
    {"lift": 2, "to_m": 4.0, "tree_height_m": 9.0, "dos_cm": 12.0, "crown_left_percent": 50.0},
)


def mixed(**more):
    trees = [{}, {"form": "poor"}, {}, {"planted": "2015"}, {}, {}]
    readings = [
        {"tree": 1, "height_m": 9.0, "dbh_cm": 12.0, "pruned_m": 2.0},
        {"tree": 2, "height_m": 6.0, "dbh_cm": 9.0, "measured_on": "2019-02-03"},
        {"tree": 3, "height_m": 8.0, "dbh_cm": 19.0},
        {"tree": 4, "height_m": 4.0, "dbh_cm": 3.0},
        {"tree": 5, "dbh_cm": 7.0},
    ]
    return prunable(trees, readings, LIFTS, **more)


def test_what_is_due_this_year(monkeypatch):
    monkeypatch.setattr(coming_module, "ready", Answer)
    found = visit(mixed(), 1, ON)
    rows = {tag: place for place, tag in enumerate(found.tag.tolist())}
    assert {"1", "2"} <= set(rows)
    assert "3" not in rows  # past the limit
    assert "4" not in rows  # due in 2021
    first, second = rows["1"], rows["2"]
    assert (found.lift[first], found.from_m[first], found.to_m[first]) == ("2", 2.0, 4.0)
    assert found.ladder_m[first] == pytest.approx(4.0 - REACH_M)
    assert found.to_m[second] <= FROM_GROUND_M
    assert np.isnan(found.ladder_m[second])
    assert "F" in found.signs[second]
    assert "L" not in "".join(found.signs)
    assert "1 tree is too thick for the next lift" in found.notes[0]
    assert any("due after 2020" in note for note in found.notes)
    assert LADDERS in found.cautions
    assert len(found) == len(set(found.ids.tolist()))


def test_later_years_take_in_what_comes_due_by_then(monkeypatch):
    monkeypatch.setattr(coming_module, "ready", Answer)
    now, later = visit(mixed(), 1, ON), visit(mixed(), 1, ON, 2021)
    added = set(later.tag.tolist()) - set(now.tag.tolist())
    assert added == {"4"}
    place = later.tag.tolist().index("4")
    assert later.due[place] == "2021"
    assert later.to_m[place] == 2.0
    assert set(later.due.tolist()) == {"now", "2021"}


def test_only_trees_of_the_block_in_walking_order():
    farm = prunable([{}] * 40, [{"tree": n, "height_m": 6.0, "dbh_cm": 8.0} for n in range(1, 41)])
    found = visit(farm, 1, ON)
    assert sorted(found.tag.tolist(), key=int) == [str(n) for n in range(1, 41)]
    assert np.isnan(found.to_next_m[-1])
    assert found.walk_m < 40 * 3.5
    with pytest.raises(BadInput, match="block 9 is not on the farm"):
        visit(farm, 9, ON)


def test_trees_by_a_power_line_are_told():
    found = visit(mixed(line=True), 1, ON)
    assert all("L" in signs for signs in found.signs.tolist())
    assert any(words.startswith("Power line") for words in found.cautions)


@pytest.mark.parametrize("year", [2019, 2036])
def test_a_year_that_cannot_be(year):
    with pytest.raises(BadInput, match="for 2020 to 2035"):
        visit(mixed(), 1, ON, year)


def test_a_lift_in_part_is_only_as_high_as_the_crown_lets_it():
    lifts = ({"lift": 1, "to_m": 4.0, "dos_cm": 8.0, "crown_left_percent": 50.0},)
    found = visit(prunable([{}], [{"tree": 1, "height_m": 6.0, "dbh_cm": 10.0}], lifts), 1, ON)
    assert found.to_m.tolist() == [3.0]
    assert "P" in found.signs[0]


def test_nobody_is_due():
    found = visit(prunable([{}], [{"tree": 1, "height_m": 3.0, "dbh_cm": 2.0}]), 1, ON)
    assert len(found) == 0
    assert found.walk_m == 0
    assert found.cautions == ()
    assert len(visit(prunable([], []), 1, ON)) == 0
