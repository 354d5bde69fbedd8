"""The layer of trees after an edit is the one that would be made afresh."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from farmmap.farm.edits import rows_changed, rows_put_in, rows_taken_away
from farmmap.figures.standing import standing
from farmmap.scene.trees import LAYERS, _sorted_trees, layer_key, tree_layer
from farmmap.scene.trees_after import keep_trees
from tests.scene.made_farm import EAST, NORTH, made_farm

ON = dt.date(2025, 1, 1)
CREATED = 90_000


def carried(farm, edit):
    """Carry the layer over an edit; return it with the farm after."""
    after = edit.apply(farm)
    tree_layer(farm, ON, standing(farm, ON), frozenset())
    ids = keep_trees(farm, after, edit, ON, standing(farm, ON), standing(after, ON))
    assert ids is not None
    layer = LAYERS.find(*layer_key(after, ON, standing(after, ON)))
    assert layer is not None
    return after, layer


def assert_same(layer, farm):
    """The layer holds the same trees, drawn alike, as one made afresh, and its cells find them all."""
    fresh = _sorted_trees(farm, ON, standing(farm, ON))
    assert layer.groups == fresh.groups
    assert layer.counts().tolist() == fresh.counts().tolist()
    one, other = np.argsort(layer.ids), np.argsort(fresh.ids)
    for name in ("ids", "x", "y", "group", "crown_m", "places", "marks"):
        assert (getattr(layer, name)[one] == getattr(fresh, name)[other]).all(), name
    assert layer.x_near == pytest.approx(layer.x - layer.cells.west, abs=1e-3)
    assert layer.y_near == pytest.approx(layer.y - layer.cells.south, abs=1e-3)
    assert layer.tags_of(one) == fresh.tags_of(other)
    cell = layer.cells.cell_of(layer.x, layer.y)
    assert (np.bincount(cell, minlength=len(layer.cells.starts) - 1) == np.diff(layer.cells.starts)).all()
    order = cell * 1000 + layer.group
    assert (np.diff(order) >= 0).all()
    for x, y, id_ in zip(layer.x, layer.y, layer.ids, strict=True):
        if id_ >= CREATED:
            runs = layer.cells.slices((x - 1, y - 1, x + 1, y + 1))
            assert any(id_ in layer.ids[first:last] for first, last in runs)


def random_edit(farm, chance):
    trees = farm.trees
    some = np.sort(chance.choice(trees.index.to_numpy(), 3, replace=False))
    rows = trees.loc[some].copy()
    match chance.integers(6):
        case 0:
            return rows_changed(farm, "Move", "trees", rows.assign(x=rows["x"] + chance.uniform(-90, 90, 3)))
        case 1:
            return rows_taken_away(farm, "Remove", {"trees": pd.Index(some)})
        case 2:
            fresh = rows.set_axis(pd.Index(int(max(trees.index.max(), CREATED)) + 1 + np.arange(3), name="id"))
            return rows_put_in(farm, "Plant", {"trees": fresh.assign(x=EAST + chance.uniform(-400, 1600, 3))})
        case 3:
            marks = pd.array(chance.choice(["", "crop", "take"], 3), dtype="str")
            marked = rows.assign(mark=marks) if chance.random() < 0.7 else rows.assign(status="dead")
            return rows_changed(farm, "Mark", "trees", marked)
        case 4:
            codes = chance.choice(["PRAD", "SSEM", "PTOT"], 3)
            return rows_changed(farm, "Name", "trees", rows.assign(species=pd.array(codes, dtype="str")))
        case _:
            tape = farm.measurements
            fresh = tape.iloc[:3].set_axis(pd.Index(int(tape.index.max()) + 1 + np.arange(3), name="id"))
            day = np.datetime64("2024-12-01", "s")
            return rows_put_in(
                farm,
                "Measure",
                {"measurements": fresh.assign(tree=some, measured_on=day, dbh_cm=chance.uniform(3, 140, 3))},
            )


@pytest.mark.parametrize("seed", range(4))
def test_any_edits_leave_the_layer_that_is_made_afresh(seed):
    chance, farm = np.random.default_rng(seed), made_farm(6, 600)
    for _ in range(12):
        farm, layer = carried(farm, random_edit(farm, chance))
        assert_same(layer, farm)


def test_a_tree_far_beyond_the_others_is_found():
    farm = made_farm(6, 600)
    lone = farm.trees.iloc[:1].assign(x=EAST + 9000.0, y=NORTH - 7000.0).set_axis(pd.Index([CREATED], name="id"))
    farm, layer = carried(farm, rows_put_in(farm, "Plant", {"trees": lone}))
    assert_same(layer, farm)


def test_the_last_tree_and_all_trees_can_be_removed_and_put_back():
    farm = made_farm(6, 600)
    own = farm.trees.index
    for ids in (own[:-1], own[-1:], own):
        farm = made_farm(6, 600)
        edit = rows_taken_away(farm, "Remove", {"trees": ids, "measurements": _readings(farm, ids)})
        bare, layer = carried(farm, edit)
        assert len(layer.x) == len(own) - len(ids)
        assert_same(layer, bare)
        again = edit.turned_round().apply(bare)
        tree_layer(bare, ON, standing(bare, ON), frozenset())
        keep_trees(bare, again, edit.turned_round(), ON, standing(bare, ON), standing(again, ON))
        assert_same(tree_layer(again, ON, standing(again, ON), frozenset()), again)


def test_trees_are_removed_one_by_one_down_to_none():
    farm = made_farm(6, 3)
    for id_ in farm.trees.index:
        edit = rows_taken_away(farm, "Remove", {"trees": [id_], "measurements": _readings(farm, [id_])})
        farm, layer = carried(farm, edit)
        assert_same(layer, farm)
    assert tree_layer(farm, ON, standing(farm, ON), frozenset()) is None


def _readings(farm, trees):
    return farm.measurements.index[farm.measurements["tree"].isin(trees)]


def test_an_edit_of_other_things_keeps_the_very_same_trees():
    farm = made_farm(6, 600)
    before = tree_layer(farm, ON, standing(farm, ON), frozenset())
    edit = rows_changed(farm, "Rename", "blocks", farm.blocks.iloc[:1].assign(name="Top"))
    after, layer = carried(farm, edit)
    assert layer is before
    assert tree_layer(after, ON, standing(after, ON), frozenset()) is before


def test_another_species_table_is_left_to_be_worked_out_afresh():
    farm = made_farm(6, 200)
    edit = rows_changed(farm, "Name", "species", farm.species.iloc[:1].assign(name="pine"))
    after = edit.apply(farm)
    tree_layer(farm, ON, standing(farm, ON), frozenset())
    assert keep_trees(farm, after, edit, ON, standing(farm, ON), standing(after, ON)) is None


def test_a_tree_that_is_drawn_as_before_keeps_its_place_and_nothing_is_copied():
    farm = made_farm(6, 600)
    before = tree_layer(farm, ON, standing(farm, ON), frozenset())
    after, layer = carried(farm, rows_changed(farm, "Remark", "trees", farm.trees.iloc[7:9].assign(note="leans")))
    assert after.trees is not farm.trees
    assert layer is not before
    assert all(getattr(layer, name) is getattr(before, name) for name in ("ids", "x", "y", "x_near", "y_near", "group"))
    assert_same(layer, after)
