"""Pruning written down: one edit, with the diameter over stubs where it was read."""

import datetime as dt

import numpy as np
import pytest

from farmmap.editing.pruning import pruned_to
from farmmap.editing.tape_entry import measured
from farmmap.errors import BadInput

DAY = dt.date(2021, 3, 1)


def rows_of(farm, tree, on=DAY):
    taken = farm.measurements
    return taken[(taken["tree"] == tree).to_numpy() & (taken["measured_on"] == np.datetime64(on)).to_numpy()]


def test_trees_get_height_and_their_own_diameter_over_stubs(farm):
    proposed = pruned_to(farm, [1, 2, 4], "2,5", DAY, {1: "16", 4: 14.5})
    assert proposed.edit.name == "Prune 3 trees to 2.5 m"
    after = proposed.edit.apply(farm)
    assert [float(rows_of(after, tree)["pruned_m"].iloc[0]) for tree in (1, 2, 4)] == [2.5] * 3
    stubs = [float(rows_of(after, tree)["dos_cm"].iloc[0]) for tree in (1, 2, 4)]
    assert stubs[0] == 16.0
    assert np.isnan(stubs[1])
    assert stubs[2] == 14.5
    assert proposed.edit.turned_round().apply(after).measurements.equals(farm.measurements)


def test_one_diameter_for_all_and_a_reading_of_that_day(farm):
    on = dt.date(2020, 5, 1)
    after = pruned_to(farm, [1, 2], 2.0, on, 15.0).edit.apply(farm)
    assert len(after.measurements) == len(farm.measurements)
    assert rows_of(after, 1, on)["dos_cm"].iloc[0] == 15.0
    again = pruned_to(after, [1, 2], 2.0, on, {1: 16.0})
    changed = again.edit.changes["measurements"].after
    assert changed["tree"].tolist() == [1]
    assert again.notes == ()
    kept = pruned_to(after, [1], 2.2, on).edit.apply(after)
    assert rows_of(kept, 1, on)["dos_cm"].iloc[0] == 15.0


@pytest.mark.parametrize(
    ("dos", "words"),
    [
        ({1: "thick"}, "tree 1: the diameter over stubs is no number"),
        ({1: 0}, "diameter over stubs of tree 1 is more than 0"),
        ({1: 500}, "0 to 100 cm is believable"),
        ({3: 15.0}, "not among those that were pruned"),
        (0, "is more than 0"),
    ],
)
def test_a_diameter_over_stubs_that_cannot_be_kept(farm, dos, words):
    with pytest.raises(BadInput, match=words):
        pruned_to(farm, [1, 2], 2.0, DAY, dos)


def test_nothing_new_is_refused(farm):
    after = pruned_to(farm, [1], 2.0, DAY, 15.0).edit.apply(farm)
    with pytest.raises(BadInput, match="nothing changes"):
        pruned_to(after, [1], 2.0, DAY, "")


def test_the_tape_takes_a_diameter_over_stubs(farm):
    proposed = measured(farm, 1, DAY, pruned_m="2.4", dos_cm="16,5")
    assert proposed.edit.name == "Measure tree 1: pruned to 2.4 m, over stubs 16.5 cm"
    assert proposed.notes == ()
    assert rows_of(proposed.edit.apply(farm), 1)["dos_cm"].iloc[0] == 16.5
    with pytest.raises(BadInput, match="a diameter over stubs is more than 0"):
        measured(farm, 1, DAY, dos_cm=0)


def test_stubs_much_thicker_than_the_stem_are_doubted(farm):
    notes = measured(farm, 1, DAY, dos_cm=40).notes
    assert any("much thicker than the stem at breast height (22.5 cm)" in note for note in notes)
