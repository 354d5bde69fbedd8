import dataclasses
import datetime as dt

import pytest

from farmmap.editing.history import History
from farmmap.errors import BadInput
from farmmap.files.checks import farm_findings
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.accept import plan_accepted, plan_planted
from farmmap.plans.planting.keeping.kept import kept_plans, plan_called, plan_kept, plan_taken_back, recipe_of
from tests.editing.made_farms import same_tables
from tests.plans.made_plan import RECIPE, made_plan

ON = dt.date(2026, 7, 1)


def kept(farm, *names):
    for name in names:
        farm = plan_kept(farm, made_plan(farm, name), on=ON).edit.apply(farm)
    return farm


def test_a_plan_is_kept_with_its_stretch_and_recipe_and_without_its_plants(farm):
    proposed = plan_kept(farm, made_plan(farm), on=ON, note="the cheaper one")
    assert proposed.edit.name == "Keep plan Lower Sedge"
    assert proposed.notes == ()
    assert set(proposed.edit.changes) == {"plans"}
    after = proposed.edit.apply(farm)
    (plan,) = kept_plans(after)
    assert (plan.name, plan.state, plan.made_on, plan.note) == ("Lower Sedge", "kept", ON, "the cheaper one")
    assert plan.stretch == Stretch("Sedge Creek", ("left",), 20.0, 62.0)
    assert dataclasses.replace(recipe_of(after, plan), lines={}) == RECIPE
    assert after.trees is farm.trees
    assert farm_findings(after) == []


@pytest.mark.parametrize("stretch", [Stretch("Sedge Creek", ("left", "right")), Stretch("Sedge Creek", ("right",), 3)])
def test_a_stretch_comes_back_as_it_was(farm, stretch):
    plan = dataclasses.replace(made_plan(farm), stretch=stretch)
    assert kept_plans(plan_kept(farm, plan).edit.apply(farm))[0].stretch == stretch


def test_plans_are_kept_beside_each_other_and_found_by_name(farm):
    after = kept(farm, "Lower Sedge", "Wide", "Plan 3")
    assert [plan.name for plan in kept_plans(after)] == ["Lower Sedge", "Wide", "Plan 3"]
    assert plan_called(after, " lower sedge ").name == "Lower Sedge"
    with pytest.raises(BadInput, match="no plan called Narrow; it has Lower Sedge, Wide and Plan 3"):
        plan_called(after, "Narrow")
    with pytest.raises(BadInput, match="none is kept yet"):
        plan_called(farm, "Narrow")


def test_a_plan_gives_way_to_one_of_its_name(farm):
    first = kept(farm, "Wide")
    first = plan_kept(first, made_plan(first, columns=9), on=ON, note="ours").edit.apply(first)
    proposed = plan_kept(first, made_plan(first, "lower sedge"), on=ON)
    assert proposed.notes == ("the plan called Lower Sedge that was kept before gives way to this one",)
    after = proposed.edit.apply(first)
    assert [plan.name for plan in kept_plans(after)] == ["Wide", "lower sedge"]
    assert plan_called(after, "lower sedge").note == "ours"
    assert same_tables(proposed.edit.turned_round().apply(after), first)
    with pytest.raises(BadInput, match="kept already, just as it is"):
        plan_kept(after, made_plan(after, "lower sedge"), on=ON)


@pytest.mark.parametrize("name", ["", "   ", "a\0b", "a\x1b[31mb", "a\nb", "a\u202eb"])
def test_a_plan_without_a_name_that_can_be_kept_is_refused(farm, name):
    with pytest.raises(BadInput, match="the name of a plan"):
        plan_kept(farm, made_plan(farm, name))


def test_a_kept_plan_is_taken_off_the_list(farm):
    before = kept(farm, "Wide", "Lower Sedge")
    proposed = plan_taken_back(before, "Wide")
    assert proposed.edit.name == "Take plan Wide off the list"
    after = proposed.edit.apply(before)
    assert [plan.name for plan in kept_plans(after)] == ["Lower Sedge"]
    assert same_tables(proposed.edit.turned_round().apply(after), before)


def test_an_accepted_plan_is_taken_back_to_a_kept_one(farm):
    before = kept(farm, "Lower Sedge")
    accepted = plan_accepted(before, made_plan(before), on=ON).edit.apply(before)
    proposed = plan_taken_back(accepted, "Lower Sedge")
    assert proposed.edit.name == "Take back plan Lower Sedge"
    after = proposed.edit.apply(accepted)
    for table in ("trees", "fences", "blocks", "notes", "plans"):
        assert after.tables[table].equals(before.tables[table])
    again = plan_accepted(after, made_plan(after), on=ON).edit.apply(after)
    assert again.trees.equals(accepted.trees)
    with pytest.raises(BadInput, match="plan Lower Sedge is accepted already; give this one another name"):
        plan_kept(accepted, made_plan(farm))


def test_trees_that_stand_by_now_stay_when_a_plan_is_taken_back(farm):
    accepted = plan_accepted(farm, made_plan(farm), on=ON).edit.apply(farm)
    planted = plan_planted(accepted, "Lower Sedge", ON, planted={"radiata pine": 5}).edit.apply(accepted)
    proposed = plan_taken_back(planted, "Lower Sedge")
    assert proposed.notes == ("65 of its trees stand on the farm by now and stay",)
    after = proposed.edit.apply(planted)
    assert not (after.trees["stage"] == "planned").any()
    assert len(after.trees) == len(farm.trees) + 65
    assert plan_called(after, "Lower Sedge").state == "planted"
    with pytest.raises(BadInput, match="nothing of it is only planned; undo that first"):
        plan_taken_back(after, "Lower Sedge")


def test_every_step_is_undone_and_redone(farm):
    history, states = History(), [farm]

    def do(proposed):
        history.record(proposed.edit)
        states.append(proposed.edit.apply(states[-1]))

    do(plan_kept(states[-1], made_plan(farm), on=ON))
    do(plan_accepted(states[-1], made_plan(farm), on=ON))
    do(plan_taken_back(states[-1], "Lower Sedge"))
    do(plan_accepted(states[-1], made_plan(farm, columns=11), on=ON))
    do(plan_planted(states[-1], "Lower Sedge", ON))
    now = states[-1]
    for state in reversed(states[:-1]):
        now = history.undo().apply(now)
        history.done_undo()
        assert same_tables(now, state)
    for state in states[1:]:
        now = history.redo().apply(now)
        history.done_redo()
        assert same_tables(now, state)
