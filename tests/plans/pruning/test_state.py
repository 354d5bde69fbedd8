"""How it stands with each tree: due by height or by diameter, chosen, held back by the crown, past the limit."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.figures.grounds import grounds
from farmmap.plans.pruning.readings import coming_dos, last_heights, prunings
from farmmap.plans.pruning.state import DONE, DUE, FOLLOWER, LATER, NO_LIFTS, PAST, TAKEN_OUT, pruning_of
from tests.plans.pruning.prunable import LIFTS, prunable

ON = dt.date(2020, 5, 1)


def state_of(tree, reading, lifts=LIFTS):
    found = pruning_of(prunable([tree], [{"tree": 1, **reading}], lifts), ON)
    return found, int(found.state[0])


@pytest.mark.parametrize(
    ("reading", "state", "lift"),
    [
        ({"height_m": 5.0, "dbh_cm": 6.0}, DUE, 1),
        ({"height_m": 4.9, "dbh_cm": 6.0}, LATER, 1),
        ({"height_m": 4.9, "dbh_cm": 12.0}, DUE, 1),
        ({"dbh_cm": 12.0}, DUE, 1),
        ({"dbh_cm": 15.5}, PAST, 1),
        ({"dbh_cm": 8.0}, LATER, 1),
        ({"height_m": 9.0, "dbh_cm": 12.0, "pruned_m": 2.0}, DUE, 2),
        ({"height_m": 8.9, "dbh_cm": 12.0, "pruned_m": 1.8}, LATER, 2),
        ({"height_m": 9.0, "dbh_cm": 12.0, "pruned_m": 1.5}, DUE, 1),
        ({"height_m": 9.0, "dbh_cm": 12.0, "pruned_m": 3.8}, DONE, 0),
        ({}, LATER, 1),
        ({"height_m": 5.0, "dos_cm": 16.0}, PAST, 1),
    ],
)
def test_when_a_lift_is_due(reading, state, lift):
    found, got = state_of({}, reading)
    assert got == state
    assert found.lift[0] == lift


def test_second_lift_is_told_by_the_stem_above_the_first():
    """D11 again, at this farm's breast height of 1.4 m: 14 cm and 9 m tall is 10.1 cm at 3.5 m."""
    found, _ = state_of(
        {}, {"height_m": 9.0, "dbh_cm": 14.0, "pruned_m": 3.5}, [*LIFTS, {"lift": 3, "to_m": 6, "tree_height_m": 13}]
    )
    assert found.dos_cm[0] == pytest.approx(14 * 5.5 / 7.6)
    assert not found.dos_was_read[0]


def test_a_diameter_over_stubs_that_was_read_goes_before_the_taper():
    found, _ = state_of({}, {"height_m": 4.0, "dbh_cm": 8.0, "dos_cm": 12.5})
    assert found.dos_was_read[0]
    assert (found.dos_cm[0], found.state[0]) == (12.5, DUE)
    assert found.to_now_m[0] == pytest.approx(2.0)


def test_the_crown_that_is_to_stay_holds_a_lift_back():
    found, state = state_of({}, {"height_m": 3.0, "dbh_cm": 12.5})
    assert state == DUE
    assert found.to_now_m[0] == pytest.approx(1.5)
    found, state = state_of(
        {}, {"height_m": 0.9, "dbh_cm": 12.5}, [{"lift": 1, "to_m": 2.0, "dos_cm": 1.0, "crown_left_percent": 50.0}]
    )
    assert state == LATER


def test_trees_without_lifts_to_be_taken_out_and_in_no_block():
    farm = prunable(
        [{"species": "REDW"}, {"mark": "take"}], [{"tree": 1, "height_m": 9.0}, {"tree": 2, "height_m": 9.0}]
    )
    assert pruning_of(farm, ON).state.tolist() == [NO_LIFTS, TAKEN_OUT]
    nothing = prunable([], [])
    assert len(pruning_of(nothing, ON).state) == 0


def test_crop_trees_first_then_form_then_thickness_up_to_the_stems_of_the_lift():
    lifts = [{"lift": 1, "to_m": 2.0, "tree_height_m": 5.0, "stems_per_ha": 4.0}]
    trees = [
        {},
        {"form": "good"},
        {"form": "poor"},
        {"mark": "crop", "form": "poor"},
        {"form": "fair"},
        {},
        {"mark": "take", "form": "good"},
    ]
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 8.0 + n / 10} for n in range(7)]
    farm = prunable(trees, readings, lifts)
    assert grounds(farm).net_ha[0] == pytest.approx(1.0, abs=0.01)
    found = pruning_of(farm, ON)
    assert found.state.tolist() == [DUE, DUE, FOLLOWER, DUE, FOLLOWER, DUE, TAKEN_OUT]


def test_a_tree_pruned_before_keeps_its_place():
    lifts = [
        {"lift": 1, "to_m": 2.0, "tree_height_m": 5.0},
        {"lift": 2, "to_m": 4.0, "tree_height_m": 9.0, "stems_per_ha": 1.0},
    ]
    trees = [{"form": "good"}, {"form": "poor"}]
    readings = [
        {"tree": 1, "height_m": 9.0, "dbh_cm": 20.0},
        {"tree": 2, "height_m": 9.0, "dbh_cm": 10.0, "pruned_m": 2.0},
    ]
    assert pruning_of(prunable(trees, readings, lifts), ON).state[1] == DUE


def test_each_species_of_a_mixed_block_has_its_part():
    lifts = [{"species": "", "lift": 1, "to_m": 2.0, "tree_height_m": 5.0, "stems_per_ha": 10.0}]
    trees = [{"species": "TOTA"}] * 16 + [{"species": "REDW"}] * 4
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 9.0} for n in range(20)]
    found = pruning_of(prunable(trees, readings, lifts), ON)
    due = found.state == DUE
    assert due[:16].sum() == 8  # 10 × 16 ÷ 20
    assert due[16:].sum() == 2


def test_height_of_neighbours_is_taken_and_said():
    readings = [{"tree": n + 1, "height_m": h, "dbh_cm": 9.0} for n, h in enumerate([5.0, 6.0, 7.0])]
    found = pruning_of(prunable([{}] * 4, [*readings, {"tree": 4, "dbh_cm": 9.0}]), ON)
    assert found.height_m[3] == 6.0
    assert found.height_estimated.tolist() == [False, False, False, True]
    few = pruning_of(prunable([{}] * 3, [*readings[:2], {"tree": 3, "dbh_cm": 9.0}]), ON)
    assert np.isnan(few.height_m[2])


def test_form_pruning_from_its_height_up_to_its_end():
    lifts = [*LIFTS, {"lift": 1, "to_m": 6.5, "tree_height_m": 2.0, "kind": "form"}]
    readings = [{"tree": n + 1, "height_m": h} for n, h in enumerate([1.9, 2.0, 6.5, 6.6])]
    assert pruning_of(prunable([{}] * 4, readings, lifts), ON).form_due.tolist() == [False, True, True, False]


def test_form_pruning_is_for_as_many_stems_as_it_says():
    lifts = [*LIFTS, {"lift": 1, "to_m": 6.5, "tree_height_m": 2.0, "stems_per_ha": 2.0, "kind": "form"}]
    trees = [{"form": "poor"}, {"form": "good"}, {"mark": "crop"}, {"mark": "take"}]
    readings = [{"tree": n + 1, "height_m": 3.0} for n in range(4)]
    assert pruning_of(prunable(trees, readings, lifts), ON).form_due.tolist() == [False, True, True, False]


def test_each_time_a_tree_was_pruned_with_its_diameter_over_stubs():
    readings = [
        {"tree": 1, "measured_on": "2010-01-01", "dbh_cm": 10.0, "height_m": 6.0},
        {"tree": 1, "measured_on": "2012-01-01", "pruned_m": 2.0},
        {"tree": 1, "measured_on": "2014-01-01", "dbh_cm": 20.0, "height_m": 10.0, "pruned_m": 2.0},
        {"tree": 1, "measured_on": "2015-01-01", "pruned_m": 4.0},
        {"tree": 1, "measured_on": "2015-03-01", "dos_cm": 17.0},
        {"tree": 2, "measured_on": "2015-03-01", "pruned_m": 2.0},
    ]
    found = prunings(prunable([{}] * 2, readings), ON)
    assert found.tree.tolist() == [1, 1, 2]
    assert found.from_m.tolist() == [0.0, 2.0, 0.0]
    assert found.to_m.tolist() == [2.0, 4.0, 2.0]
    assert found.dos_cm[0] == pytest.approx(15.0, abs=0.01)  # between 10 and 20 cm, at breast height
    assert found.dos_cm[1] == 17.0
    assert np.isnan(found.dos_cm[2])
    assert found.was_read.tolist() == [False, True, False]


def test_a_diameter_read_long_before_pruning_says_nothing():
    old = {"tree": 1, "measured_on": "2005-01-01", "dbh_cm": 10.0, "height_m": 6.0}
    found = prunings(prunable([{}], [old, {"tree": 1, "measured_on": "2012-01-01", "pruned_m": 2.0}]), ON)
    assert np.isnan(found.dos_cm[0])


def test_readings_of_later_days_do_not_count():
    later = {"tree": 1, "measured_on": "2021-01-01", "height_m": 9.0, "pruned_m": 4.0, "dos_cm": 14.0}
    farm = prunable([{}], [{"tree": 1, "height_m": 4.0, "dbh_cm": 5.0}, later])
    ids = np.array([1])
    assert last_heights(farm, ON, ids)[0].tolist() == [4.0]
    assert np.isnan(coming_dos(farm, ON, ids)[0])
    assert len(prunings(farm, ON).tree) == 0
    assert pruning_of(farm, ON).lift[0] == 1


amount = st.one_of(st.none(), st.floats(0.1, 60.0))


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(amount, amount, st.one_of(st.none(), st.floats(0.0, 12.0)), st.sampled_from(["", "good", "poor"])),
        max_size=12,
    ),
    st.one_of(st.none(), st.floats(0.0, 20.0)),
)
def test_no_tree_is_asked_for_more_than_its_crown_allows(trees, stems):
    lifts = [{**lift, "stems_per_ha": stems} for lift in LIFTS]
    readings = [
        {"tree": n + 1, "dbh_cm": dbh, "height_m": height, "pruned_m": pruned}
        for n, (dbh, height, pruned, _) in enumerate(trees)
    ]
    found = pruning_of(prunable([{"form": form} for *_, form in trees], readings, lifts), ON)
    due = found.state == DUE
    known = due & ~np.isnan(found.height_m)
    assert (found.to_now_m[known] <= found.height_m[known] / 2 + 1e-9).all()
    assert (found.to_now_m[due] > found.pruned_m[due]).all()
    assert (found.to_now_m[due] <= found.to_m[due]).all()
    if stems is not None:
        chosen = np.isin(found.state, (DUE, PAST, LATER))
        assert chosen.sum() <= round(stems * grounds(prunable([], [], lifts)).net_ha[0]) + 1e-9


def test_ground_taken_out_of_a_block_takes_its_share_of_the_stems():
    lifts = [{"lift": 1, "to_m": 2.0, "tree_height_m": 5.0, "stems_per_ha": 10.0}]
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 9.0} for n in range(20)]
    farm = prunable([{}] * 20, readings, lifts)
    assert (pruning_of(farm, ON).state == DUE).sum() == 10
    wire = prunable([{}], [], line=True).hazards.assign(clear_m=25.0)
    assert (pruning_of(farm.with_tables(hazards=wire), ON).state == DUE).sum() < 10
