import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from farmmap.errors import BadInput, FarmmapError
from farmmap.farm.edits import Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import Farm, Settings, next_ids, shaped
from farmmap.farm.schema import TABLES
from tests.conftest import small_farm
from tests.place import EAST, NORTH

FIRST = small_farm()


def same(one, other):
    return one.settings == other.settings and all(one.tables[name].equals(other.tables[name]) for name in TABLES)


def moved(farm, ids, east):
    rows = farm.trees.loc[ids].copy()
    rows["x"] += east
    return rows_changed(farm, "Move trees", "trees", rows)


def planted(farm, count):
    values = {"x": EAST + np.arange(count, dtype=float), "y": np.full(count, NORTH)}
    return rows_put_in(
        farm, "Plant", {"trees": shaped(TABLES["trees"], values, next_ids(farm.trees, count), farm.grid)}
    )


def test_an_edit_makes_a_new_farm_and_leaves_the_old(farm):
    before = farm.trees.copy()
    after = moved(farm, [2, 4], 5.0).apply(farm)
    assert farm.trees.equals(before)
    assert (after.trees["x"] - farm.trees["x"]).tolist() == [0, 5, 0, 5, 0, 0]
    assert after.blocks is farm.blocks


def test_rows_come_and_go(farm):
    after = planted(farm, 3).apply(farm)
    assert after.trees.index.tolist() == [1, 2, 3, 4, 5, 6, 7, 8, 9]
    gone = rows_taken_away(after, "Fell", {"trees": after.trees.index[[0, 8]]}).apply(after)
    assert gone.trees.index.tolist() == [2, 3, 4, 5, 6, 7, 8]


def test_turned_round_gives_back_the_same_farm(farm):
    for edit in (
        moved(farm, [1], 2.0),
        planted(farm, 2),
        rows_taken_away(farm, "Fell", {"trees": farm.trees.index[2:4]}),
    ):
        assert same(edit.turned_round().apply(edit.apply(farm)), farm)


def test_taking_back_restores_rows_in_their_order(farm):
    edit = rows_taken_away(farm, "Fell", {"trees": farm.trees.index[[1, 3]], "blocks": farm.blocks.index[[0]]})
    assert same(edit.turned_round().apply(edit.apply(farm)), farm)


def test_an_edit_for_another_farm_is_refused(farm):
    edit = moved(farm, [1], 2.0)
    with pytest.raises(FarmmapError, match="changed since"):
        edit.apply(moved(farm, [1], 1.0).apply(farm))
    with pytest.raises(FarmmapError, match="not there any more"):
        edit.apply(rows_taken_away(farm, "Fell", {"trees": farm.trees.index[:1]}).apply(farm))
    with pytest.raises(FarmmapError, match="not there any more"):
        planted(farm, 1).apply(planted(farm, 1).apply(farm))
    with pytest.raises(BadInput, match="id 1"):
        rows_put_in(farm, "Again", {"trees": farm.trees.iloc[:1]})


def test_settings_change_with_undo(farm):
    other = Settings("Small Pipit", 2193, 1.3)
    edit = Edit("Set breast height to 1.3 m", {}, (farm.settings, other))
    after = edit.apply(farm)
    assert after.settings == other
    assert same(edit.turned_round().apply(after), farm)
    with pytest.raises(FarmmapError, match="settings"):
        edit.apply(after)


def test_ground_covers_before_and_after(farm):
    rows = farm.blocks.iloc[:1].copy()
    rows["geometry"] = [box(EAST - 10, NORTH, EAST + 100, NORTH + 100)]
    ground = rows_changed(farm, "Move corner", "blocks", rows).ground()
    assert ground[:, 0].tolist() == [EAST, EAST - 10]
    assert moved(farm, [1], 3.0).ground().shape == (2, 4)


@settings(max_examples=30)
@given(st.lists(st.tuples(st.sampled_from(["move", "plant", "fell", "rename"]), st.integers(0, 9)), max_size=12))
def test_any_edits_can_be_taken_back_and_done_again(steps):
    first = farm = FIRST
    done = []
    for what, number in steps:
        if what == "plant":
            edit = planted(farm, number % 3 + 1)
        elif not len(farm.trees):
            continue
        elif what == "move":
            edit = moved(farm, farm.trees.index[[number % len(farm.trees)]], number + 1.0)
        elif what == "fell":
            edit = rows_taken_away(farm, "Fell", {"trees": farm.trees.index[[number % len(farm.trees)]]})
        else:
            rows = farm.blocks.iloc[:1].copy()
            rows["name"] = f"Block {number}"
            edit = rows_changed(farm, "Rename", "blocks", rows)
        farm.bounds()  # looked at, so that the edit carries it on
        farm = edit.apply(farm)
        assert farm.bounds() == Farm(farm.settings, farm.tables).bounds()
        done.append(edit)
    last = farm
    for edit in reversed(done):
        farm = edit.turned_round().apply(farm)
    assert same(farm, first)
    for edit in done:
        farm = edit.apply(farm)
    assert same(farm, last)
