import dataclasses
import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.farm.edits import rows_changed, rows_put_in
from farmmap.farm.farm import new_farm, next_ids, shaped
from farmmap.farm.schema import FENCES, MEASUREMENTS, TREES
from farmmap.farm.species import CROWN_PER_CM, known_species
from farmmap.figures.blocks import block_figures
from farmmap.figures.margins import margin_figures
from farmmap.figures.standing import standing
from farmmap.figures.trees import tree_figures
from farmmap.figures.whole_farm import farm_figures
from farmmap.files.checks import farm_findings
from farmmap.files.farm_file import read_farm, write_edit, write_farm
from farmmap.plans.planting.keeping.accept import build_words, plan_accepted, plan_planted
from farmmap.plans.planting.keeping.kept import plan_called, plan_kept
from farmmap.plans.planting.recipes.recipe import FenceWish, Kin, PlantKind
from farmmap.scene.build import build_scene
from farmmap.scene.scene import PLANNED, TreeLayer
from tests.editing.made_farms import same_tables
from tests.files.test_killed import same
from tests.place import EAST, NORTH
from tests.plans.made_plan import RECIPE, made_plan

ON, PLANTED = dt.date(2026, 7, 1), dt.date(2027, 6, 15)


def accepted(farm, *args, **kwargs):
    return plan_accepted(farm, made_plan(farm, *args, **kwargs), on=ON).edit.apply(farm)


def figures(farm, on):
    """Every table of figures, but for planned blocks, which have a row of their own."""
    blocks = block_figures(farm, on)
    rows = [row for row in blocks.rows if row["stage"] == "existing"]
    return [rows, *[list(table(farm, on).rows) for table in (margin_figures, farm_figures, tree_figures)]]


def test_plants_become_planned_trees(farm):
    plan = made_plan(farm)
    proposed = plan_accepted(farm, plan, on=ON)
    assert proposed.edit.name == "Accept plan Lower Sedge"
    after = proposed.edit.apply(farm)
    new = after.trees.iloc[len(farm.trees) :]
    assert len(new) == len(plan.plants) == 80
    assert set(new["stage"]) == {"planned"}
    assert set(new["plan"]) == {"Lower Sedge"}
    assert set(new["planted"]) == {""}
    assert new["tag"].tolist()[:2] == ["LS0001", "LS0002"]
    assert after.trees["tag"].is_unique
    pine = after.species["code"][(after.species["scientific"] == "Pinus radiata").to_numpy()].item()
    assert new["species"].tolist()[:4] == [pine, "TOTA", pine, "TOTA"]
    assert set(new["species"][plan.plants.strip == 1]) == {"REDW"}
    assert set(new["stock"][(new["species"] == "TOTA").to_numpy()]) == {"rooted cutting"}
    assert np.array_equal(new[["x", "y"]].to_numpy(), np.column_stack([plan.plants.x, plan.plants.y]))
    assert plan_called(after, "Lower Sedge").state == "accepted"
    assert farm_findings(after) == []


def test_a_species_that_the_farm_lacks_joins_its_list_in_the_same_edit(farm):
    known = next(one for one in known_species() if one.scientific == "Pinus radiata")
    proposed = plan_accepted(farm, made_plan(farm), on=ON)
    (added,) = proposed.edit.changes["species"].after.itertuples()
    assert (added.code, added.name, added.scientific) == (known.code, known.name, known.scientific)
    assert proposed.notes == (f"put on the farm's list of species: {known.name} ({known.code})",)
    after = proposed.edit.apply(farm)
    planted = plan_planted(after, "Lower Sedge", PLANTED).edit.apply(after)
    tree = int(planted.trees.index[(planted.trees["species"] == known.code).to_numpy()][3])
    read = {"tree": [tree], "measured_on": np.array(["2040-06-01"], "datetime64[s]"), "dbh_cm": [20.0]}
    rows = shaped(MEASUREMENTS, read, next_ids(planted.measurements, 1), planted.grid)
    taped = rows_put_in(planted, "Measure", {"measurements": rows}).apply(planted)
    there = standing(taped, dt.date(2040, 7, 1))
    assert there.crown_m[there.ids == tree] == pytest.approx(20.0 * CROWN_PER_CM)


def test_a_plant_of_the_recipes_own_joins_the_list_under_a_code_that_is_free(farm):
    own = PlantKind("TOTA", "river fern", "Fluvia pipita", "sedge", "native", (1.0,), (0.5,), (0.4,), "seen by us")
    zone = dataclasses.replace(RECIPE.zones[0], mix=(Kin("river fern", 0.5), Kin("tōtara", 0.5)))
    recipe = dataclasses.replace(RECIPE, zones=(zone, RECIPE.zones[1]), plants=(own,))
    after = accepted(farm, recipe=recipe)
    new = after.species.iloc[-1]
    assert (new["name"], new["origin"]) == ("river fern", "native")
    assert new["code"] != "TOTA"
    assert after.species["code"].is_unique
    assert (after.trees["species"] == new["code"]).sum() == 20


def test_zones_fences_and_gates_stand_as_planned(farm):
    after = accepted(farm)
    blocks, fence, notes = after.blocks.iloc[2:], after.fences.iloc[-1], after.notes.iloc[1:]
    assert blocks["name"].tolist() == ["Lower Sedge: Bank, left", "Lower Sedge: Timber rows, left"]
    assert blocks["purpose"].tolist() == ["holds the bank", "clean water"]
    assert blocks["note"].tolist() == ["", "from year 40, tree by tree"]
    assert set(blocks["stage"]) == {fence["stage"]} == {"planned"}
    assert fence["name"] == "Fence, left bank, Sedge Creek"
    assert fence["build"] == "8 wires, a post every 5 m, 3 battens between posts"
    assert fence["note"] == "a flood may reach 12 m of it"
    assert notes["heading"].tolist() == ["Gate, 4 m", "Trough"]
    assert notes["text"].iloc[0] == "plan Lower Sedge, left bank"
    assert notes.geometry.iloc[0].equals(shapely.Point(EAST + 3, NORTH - 19))
    for rows in (blocks, after.fences.iloc[-1:], notes):
        assert set(rows["plan"]) == {"Lower Sedge"}


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (FenceWish(), "7 wires, a post every 4 m"),
        (FenceWish(wires=1, battens=1), "1 wire, a post every 4 m, 1 batten between posts"),
    ],
)
def test_how_a_fence_is_built_is_said(wish, words):
    assert build_words(wish) == words


def test_names_and_tags_go_on_where_another_plan_ended(farm):
    after = accepted(accepted(farm), "Long Sedge", east_m=90.0)
    assert after.trees["tag"].is_unique
    assert after.trees["tag"].iloc[-1] == "LS0160"
    assert after.blocks["name"].is_unique
    assert after.blocks["name"].iloc[-1] == "Long Sedge: Timber rows, left"
    assert after.fences["name"].iloc[-1] == "Fence, left bank, Sedge Creek 2"
    assert farm_findings(after) == []


def test_a_kept_plan_is_accepted_in_its_own_row(farm):
    kept = plan_kept(farm, made_plan(farm), on=ON, note="cheap").edit.apply(farm)
    proposed = plan_accepted(kept, made_plan(kept), on=ON)
    after = proposed.edit.apply(kept)
    assert len(after.tables["plans"]) == 1
    assert (plan_called(after, "Lower Sedge").state, plan_called(after, "Lower Sedge").note) == ("accepted", "cheap")
    assert not any("gives way" in note for note in proposed.notes)


def test_a_plan_is_not_accepted_twice(farm):
    once = accepted(farm)
    with pytest.raises(BadInput, match="plan Lower Sedge is accepted already"):
        accepted(once)
    with pytest.raises(BadInput, match="80 of its plants would stand where plan Lower Sedge has its own, the first at"):
        accepted(once, "Again")
    planted = plan_planted(once, "Lower Sedge", PLANTED).edit.apply(once)
    with pytest.raises(BadInput, match="plan Lower Sedge is planted already"):
        accepted(planted)
    with pytest.raises(BadInput, match="80 of its plants would stand where trees stand"):
        accepted(planted, "Again")


@pytest.mark.parametrize(("away_m", "refused"), [(0.0, True), (0.29, True), (0.31, False)])
def test_plants_where_a_tree_stands_are_refused(farm, away_m, refused):
    values = {"tag": ["77"], "x": [EAST + 1.0 + away_m], "y": [NORTH - 28.5]}
    rows = shaped(TREES, values, next_ids(farm.trees, 1), farm.grid)
    there = rows_put_in(farm, "Plant", {"trees": rows}).apply(farm)
    if refused:
        with pytest.raises(BadInput, match="1 of its plants would stand where trees stand, the first at E 1 812 001 N"):
            accepted(there)
    else:
        assert len(accepted(there).trees) == len(there.trees) + 80
    gone = there.trees.iloc[-1:].copy()
    gone["status"] = "felled"
    cleared = rows_changed(there, "Fell", "trees", gone).apply(there)
    assert len(accepted(cleared).trees) == len(there.trees) + 80


def test_a_plan_that_holds_nothing_is_refused(farm):
    plan = made_plan(farm)
    nothing = dataclasses.replace(
        plan.plants, **{name: getattr(plan.plants, name)[:0] for name in ("x", "y", "strip", "kin", "row")}
    )
    empty = dataclasses.replace(plan, plants=nothing, fences=())
    with pytest.raises(BadInput, match="plan Lower Sedge holds no plants and no fence"):
        plan_accepted(farm, empty)
    only_fence = plan_accepted(farm, dataclasses.replace(plan, plants=nothing)).edit.apply(farm)
    assert len(only_fence.fences) == 2
    assert only_fence.trees is farm.trees or only_fence.trees.equals(farm.trees)


def test_what_is_planned_counts_in_no_figure_until_it_is_planted(farm, day):
    after = accepted(farm)
    for on in (day, PLANTED):
        assert repr(figures(after, on)) == repr(figures(farm, on))
    planned = [row for row in block_figures(after, PLANTED).rows if row["stage"] == "planned"]
    assert [row["name"] for row in planned] == ["Lower Sedge: Bank, left", "Lower Sedge: Timber rows, left"]
    assert len(standing(after, PLANTED)) == len(standing(farm, PLANTED))
    planted = plan_planted(after, "Lower Sedge", PLANTED).edit.apply(after)
    assert len(standing(planted, PLANTED)) == len(standing(farm, PLANTED)) + 80
    assert len(standing(planted, PLANTED - dt.timedelta(1))) == len(standing(farm, PLANTED))


def test_a_planted_plan_stands_from_its_day_on(farm):
    before = accepted(farm)
    proposed = plan_planted(before, "lower sedge", PLANTED)
    assert proposed.edit.name == "Mark plan Lower Sedge as planted on 15 June 2027"
    after = proposed.edit.apply(before)
    new = after.trees.iloc[len(farm.trees) :]
    assert set(new["stage"]) == {"existing"}
    assert set(new["planted"]) == {"2027-06-15"}
    assert after.fences["stage"].tolist() == ["existing", "existing"]
    assert set(after.blocks["stage"]) == {"existing"}
    assert set(after.blocks["planted"].iloc[2:]) == {"2027-06-15"}
    assert plan_called(after, "Lower Sedge").state == "planted"
    assert farm_findings(after) == []
    assert same_tables(proposed.edit.turned_round().apply(after), before)
    with pytest.raises(BadInput, match="nothing of plan Lower Sedge is only planned any more"):
        plan_planted(after, "Lower Sedge", PLANTED)


def test_fewer_planted_than_planned_leaves_the_rest_spread_among_them(farm):
    before = accepted(farm)
    proposed = plan_planted(before, "Lower Sedge", PLANTED, planted={"Tōtara": 15, "REDW": 40, "radiata pine": 0})
    assert proposed.notes == ("5 of 20 tōtara stay planned, spread evenly among the others", *proposed.notes[1:])
    after = proposed.edit.apply(before)
    new = after.trees.iloc[len(farm.trees) :]
    stage = new["stage"][(new["species"] == "TOTA").to_numpy()].to_numpy()
    assert (stage == "existing").sum() == 15
    assert np.diff(np.flatnonzero(stage == "planned")).tolist() == [4, 4, 4, 4]
    assert (new["stage"][(new["species"] == "REDW").to_numpy()] == "existing").all()
    rest = plan_planted(after, "Lower Sedge", dt.date(2028, 6, 1)).edit.apply(after)
    assert set(rest.trees["stage"]) == {"existing"}
    assert (rest.trees["planted"] == "2028-06-01").sum() == 25


@pytest.mark.parametrize(
    ("planted", "words"),
    [
        ({"tōtara": 21}, "has 20 planned plants of tōtara, so 21 cannot have been planted"),
        ({"tōtara": -1}, "so -1 cannot have been planted"),
        ({"oak": 3}, "no planned plants of species oak; it has"),
    ],
)
def test_numbers_that_do_not_fit_the_plan_are_refused(farm, planted, words):
    with pytest.raises(BadInput, match=words):
        plan_planted(accepted(farm), "Lower Sedge", PLANTED, planted=planted)


def test_a_plan_that_is_only_kept_is_not_planted(farm):
    kept = plan_kept(farm, made_plan(farm)).edit.apply(farm)
    with pytest.raises(BadInput, match="plan Lower Sedge is not accepted yet"):
        plan_planted(kept, "Lower Sedge", PLANTED)
    with pytest.raises(BadInput, match="no plan called Upper"):
        plan_planted(kept, "Upper", PLANTED)


def test_zones_that_come_to_stand_give_way_to_the_blocks_that_are_there(farm):
    """A block over a corner of the bank zone cuts it back; one over all of the timber rows leaves them planned."""
    blocks = farm.blocks.copy()
    blocks["geometry"] = [
        shapely.box(EAST - 5, NORTH - 29, EAST + 10, NORTH - 27),
        shapely.box(EAST - 5, NORTH - 25.5, EAST + 100, NORTH - 10),
    ]
    after = accepted(farm.with_tables(blocks=blocks))
    proposed = plan_planted(after, "Lower Sedge", PLANTED)
    planted = proposed.edit.apply(after)
    assert planted.blocks["stage"].tolist() == ["existing", "existing", "existing", "planned"]
    assert planted.blocks.geometry.iloc[2].area == pytest.approx(42 * 3.5 - 20)
    assert any(note.startswith("Lower Sedge: Timber rows, left stays planned") for note in proposed.notes)
    assert any("was cut back to its neighbours' edges" in note for note in proposed.notes)
    assert set(planted.trees["stage"]) == {"existing"}
    assert farm_findings(planted) == []


def test_a_tree_of_the_plan_that_was_taken_away_or_felled_is_not_planted(farm):
    after = accepted(farm)
    felled = after.trees.iloc[-1:].copy()
    felled["status"] = "felled"
    after = rows_changed(after, "Fell", "trees", felled).apply(after)
    planted = plan_planted(after, "Lower Sedge", PLANTED).edit.apply(after)
    assert (planted.trees["stage"] == "planned").sum() == 1


def test_all_of_it_goes_into_the_file_and_comes_back(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    steps = [
        lambda now: plan_kept(now, made_plan(now), on=ON),
        lambda now: plan_accepted(now, made_plan(now), on=ON),
        lambda now: plan_planted(now, "Lower Sedge", PLANTED, planted={"TOTA": 3}),
    ]
    now = farm
    for step in steps:
        edit = step(now).edit
        write_edit(path, edit)
        now = edit.apply(now)
        same(read_farm(path), now)
        write_edit(path, edit.turned_round())
        write_edit(path, edit)
        same(read_farm(path), now)


def test_a_farm_without_trees_takes_a_plan(farm):
    bare = new_farm("Bare", 2193).with_tables(creeks=farm.creeks)
    after = accepted(bare)
    assert len(after.trees) == 80
    assert after.trees["tag"].iloc[0] == "LS0001"
    assert len(after.species) == 3
    assert farm_findings(after) == []
    assert FENCES.column("plan").by_program


def test_what_is_planned_is_on_the_map_and_in_its_key_as_planned(farm):
    after = accepted(farm)
    scene = build_scene(after, PLANTED)
    key = {(entry.layer, entry.words): entry.count for entry in scene.key}
    assert key["trees", "planned tree"] == 80
    assert key["species:PRAD", "radiata pine, planned"] == 20
    assert key["species:TOTA", "tōtara"] < 20
    assert key["blocks", "block, planned"] == 2
    assert key["fences", "fence, planned"] == 1
    assert (key["notes", "note"], key["notes", "gate"], key["notes", "trough"]) == (1, 1, 1)
    (trees,) = [layer for layer in scene.layers if isinstance(layer, TreeLayer)]
    drawn = np.array([group.drawn_as for group in trees.groups])[trees.group]
    assert set(trees.ids[drawn == PLANNED]) == set(after.trees.index[len(farm.trees) :])
    standing_now = build_scene(plan_planted(after, "Lower Sedge", PLANTED).edit.apply(after), PLANTED)
    assert not any("planned" in entry.words for entry in standing_now.key)
