"""Marks on the farm: put, changed by hand, taken off, felled; each is one edit that can be taken back."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.plans.thinning.marks import felled_as_marked, mark_set, marked, marks_cleared
from farmmap.plans.thinning.rule import CropRule, ThinningRule
from farmmap.plans.thinning.thinning import thinning, thinning_as_marked
from tests.plans.thinning.stands import planted, stand_farm

DAY = dt.date(2021, 1, 1)


@pytest.fixture(scope="module")
def farm():
    return stand_farm(*planted(8, 12))


@pytest.fixture(scope="module")
def made(farm):
    return thinning(farm, 1, ThinningRule("release-contact"), DAY, CropRule(target_cm=40))


def test_marks_go_into_the_farm_and_back(farm, made) -> None:
    edit = marked(farm, made).edit
    assert edit.name == f"Mark Stand for thinning: {len(made.take_ids)} to take out, {len(made.crop_ids)} crop"
    after = edit.apply(farm)
    as_marked = thinning_as_marked(after, 1, DAY)
    assert (as_marked.mark == made.mark).all()
    assert as_marked.table.rows[1] == made.table.rows[1]
    assert as_marked.cautions == made.cautions
    back = edit.turned_round().apply(after)
    assert (back.trees["mark"] == farm.trees["mark"]).all()
    with pytest.raises(BadInput, match="marked so already"):
        marked(after, made)


def test_all_follows_marks_changed_by_hand(farm, made) -> None:
    after = marked(farm, made).edit.apply(farm)
    before = thinning_as_marked(after, 1, DAY)
    one = int(before.take_ids[0])
    edit = mark_set(after, [one], "crop").edit
    assert edit.name == f"Mark tree {farm.trees['tag'].loc[one]} as crop"
    changed = edit.apply(after)
    now = thinning_as_marked(changed, 1, DAY)
    assert now.table.rows[1]["stems"] == before.table.rows[1]["stems"] - 1
    assert one in now.crop_ids
    assert (thinning_as_marked(edit.turned_round().apply(changed), 1, DAY).mark == before.mark).all()


def test_names_in_plain_words(farm) -> None:
    assert mark_set(farm, [1, 2, 3], "take").edit.name == "Mark 3 trees to take out"
    after = mark_set(farm, [1, 2, 3], "take").edit.apply(farm)
    assert mark_set(after, [1], "").edit.name == "Take the mark off tree T001"
    assert marks_cleared(after, 1).edit.name == "Take all marks off Stand"
    assert felled_as_marked(after, 1, DAY).edit.name == "Fell 3 trees of Stand as marked"


def test_marked_trees_are_felled_in_one_step(farm, made) -> None:
    after = marked(farm, made).edit.apply(farm)
    edit = felled_as_marked(after, 1, "2021-03-05").edit
    felled = edit.apply(after)
    rows = felled.trees.loc[made.take_ids]
    assert (rows["status"] == "felled").all()
    assert (rows["status_on"] == np.datetime64("2021-03-05")).all()
    assert (rows["mark"] == "").all()
    assert (felled.trees["mark"].loc[made.crop_ids] == "crop").all()
    assert len(thinning_as_marked(felled, 1, dt.date(2021, 3, 4))) == len(made)
    assert len(thinning_as_marked(felled, 1, dt.date(2021, 3, 5))) == len(made) - len(made.take_ids)
    back = edit.turned_round().apply(felled)
    assert (back.trees["status"] == "alive").all()
    with pytest.raises(BadInput, match="is marked to be taken out"):
        felled_as_marked(felled, 1, "2021-04-01")


def test_marks_are_cleared(farm, made) -> None:
    after = marked(farm, made).edit.apply(farm)
    edit = marks_cleared(after, 1).edit
    assert (edit.apply(after).trees["mark"] == "").all()
    with pytest.raises(BadInput, match="no tree of Stand is marked"):
        marks_cleared(farm, 1)


@settings(max_examples=12)
@given(
    st.lists(
        st.tuples(st.sets(st.integers(1, 96), min_size=1, max_size=20), st.sampled_from(["crop", "take", ""])),
        max_size=6,
    )
)
def test_any_marks_by_hand_are_undone_to_the_letter(steps) -> None:
    start = farm = stand_farm(*planted(8, 12))
    done = []
    for ids, mark in steps:
        if (farm.trees["mark"].loc[sorted(ids)] == mark).all():
            with pytest.raises(BadInput):
                mark_set(farm, sorted(ids), mark)
            continue
        edit = mark_set(farm, sorted(ids), mark).edit
        done.append(edit)
        farm = edit.apply(farm)
        assert (farm.trees["mark"].loc[sorted(ids)] == mark).all()
        assert (thinning_as_marked(farm, 1, DAY).mark == farm.trees["mark"].to_numpy()).all()
    for edit in reversed(done):
        farm = edit.turned_round().apply(farm)
    assert (farm.trees["mark"] == start.trees["mark"]).all()


def test_what_cannot_be_meant_is_refused(farm, made) -> None:
    with pytest.raises(BadInput, match="no mark"):
        mark_set(farm, [1], "burn")
    with pytest.raises(BadInput, match="nothing is chosen"):
        mark_set(farm, [], "crop")
    with pytest.raises(BadInput, match="not on the farm"):
        marks_cleared(farm, 77)
    with pytest.raises(BadInput):
        felled_as_marked(farm, 1, "yesterday")
    with pytest.raises(BadInput, match="has not come yet"):
        felled_as_marked(farm, 1, dt.datetime.now().astimezone().date() + dt.timedelta(days=2))
    nobody = stand_farm([], [])
    with pytest.raises(BadInput, match="nothing to mark"):
        marked(nobody, thinning(nobody, 1, ThinningRule(), DAY))
