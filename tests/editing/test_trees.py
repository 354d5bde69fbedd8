"""Trees placed, moved, removed; fields changed; pruning."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from farmmap.editing.fields import BEAR_BLOCK, BEAR_SPECIES
from farmmap.editing.trees import (
    fields_changed,
    neighbour_of,
    next_free_tag,
    pruned_to,
    tree_placed,
    trees_moved,
    trees_removed,
)
from farmmap.errors import BadInput
from farmmap.farm.schema import TABLES
from tests.conftest import days
from tests.editing.made_farms import area, carried_out, overlaps_m2, put, unshared_corners
from tests.place import EAST, NORTH

# --- placed, moved, removed ---


def test_a_tree_gets_the_next_tag_and_the_last_species(farm):
    proposed = tree_placed(farm, EAST + 50, NORTH + 50)
    tree = carried_out(farm, proposed).trees.loc[7]
    assert proposed.edit.name == "Put in tree 7"
    assert tree[["tag", "species", "status", "stage", "stems"]].tolist() == ["7", "REDW", "alive", "existing", 1]
    assert (tree["x"], tree["y"]) == (EAST + 50, NORTH + 50)
    assert proposed.notes == ()


def test_a_tree_takes_after_those_of_its_block_else_after_the_nearest(farm):
    trees = farm.trees.copy()
    trees["tag"] = pd.array(["LF1", "LF2", "LF3", "PF20", "PF21", "CR5"], dtype="str")
    farm = farm.with_tables(trees=trees)
    in_block_1 = carried_out(farm, tree_placed(farm, EAST + 99, NORTH + 90)).trees.loc[7]
    assert in_block_1[["tag", "species"]].tolist() == ["LF4", "REDW"]
    in_block_2 = carried_out(farm, tree_placed(farm, EAST + 101, NORTH + 10)).trees.loc[7]
    assert in_block_2[["tag", "species"]].tolist() == ["PF22", "TOTA"]
    outside = carried_out(farm, tree_placed(farm, EAST + 25, NORTH - 5)).trees.loc[7]
    assert outside[["tag", "species"]].tolist() == ["LF4", "TOTA"]
    assert next_free_tag(farm, (EAST + 60, NORTH - 40)) == "CR6"
    assert neighbour_of(farm.with_tables(trees=trees.iloc[:0]), EAST, NORTH) is None


def test_a_trees_fields_may_be_given(farm):
    values = {"tag": "A1", "species": "Podocarpus totara", "planted": "2020-05", "stems": "2", "note": " by the gate "}
    tree = carried_out(farm, tree_placed(farm, EAST, NORTH, values)).trees.loc[7]
    assert tree[["tag", "species", "planted", "stems", "note"]].tolist() == ["A1", "TOTA", "2020-05", 2, "by the gate"]


def test_a_new_species_is_added_to_the_farms_list(farm):
    proposed = tree_placed(farm, EAST, NORTH, {"species": "Grandfather's plum"})
    after = carried_out(farm, proposed)
    assert after.species["name"].iloc[-1] == "Grandfather's plum"
    assert after.trees["species"].iloc[-1] == after.species["code"].iloc[-1]
    assert "was not known and was added" in proposed.notes[0]


def test_two_trees_at_one_place_are_noted(farm):
    assert "tree 7 stands 2 cm from tree 1" in tree_placed(farm, EAST + 10.02, NORTH + 10).notes[0]
    assert tree_placed(farm, EAST + 10.06, NORTH + 10).notes == ()
    assert "stands 0 cm from tree 2" in trees_moved(farm, [1], 10, 0).notes[0]
    assert trees_moved(farm, [1], 0.01, 0).notes == ()


def test_a_tag_that_is_used_is_noted(farm):
    assert "there is a tree with tag 3 already" in tree_placed(farm, EAST, NORTH, {"tag": "3"}).notes[0]


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ([], "1"),
        (["1", "2", "9"], "10"),
        (["A07"], "A08"),
        (["B2", "A9"], "A10"),
        (["oak"], "1"),
        (["1", "2", "3", "4", "5", "1"], "6"),
        (["099"], "100"),
        (["12a"], "13"),
        ([""], "1"),
    ],
)
def test_the_next_free_tag(farm, tags, expected):
    trees = farm.trees.iloc[: len(tags)].copy()
    trees["tag"] = pd.array(tags, dtype="str")
    assert next_free_tag(farm.with_tables(trees=trees)) == expected


def test_trees_are_moved(farm):
    proposed = trees_moved(farm, [1, 2], 3, -4)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Move 2 trees"
    assert (after.trees.loc[[1, 2], ["x", "y"]] - farm.trees.loc[[1, 2], ["x", "y"]]).to_numpy().tolist() == [
        [3, -4]
    ] * 2
    assert trees_moved(farm, [3], 1, 1).edit.name == "Move tree 3"


def test_what_cannot_be_done_with_trees_is_said(farm):
    with pytest.raises(BadInput, match="does not lie on the farm's grid"):
        tree_placed(farm, 12.0, 5.0)
    with pytest.raises(BadInput, match="no numbers"):
        tree_placed(farm, float("nan"), NORTH)
    with pytest.raises(BadInput, match="nothing changes"):
        trees_moved(farm, [1], 0, 0)
    with pytest.raises(BadInput, match="row 99 is not there any more"):
        trees_moved(farm, [99], 1, 0)
    with pytest.raises(BadInput, match="a tree is 90; 1 to 50 is believable"):
        tree_placed(farm, EAST, NORTH, {"stems": 90})


def test_a_tree_is_removed_with_its_measurements(farm):
    after = carried_out(farm, trees_removed(farm, [1]))
    assert 1 not in after.trees.index
    assert 1 not in set(after.measurements["tree"])


# --- fields ---


def test_fields_of_many_rows_at_once(farm):
    proposed = fields_changed(farm, "trees", [1, 2, 3, 5], {"species": "coast redwood"})
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Change species of 3 trees"
    assert proposed.notes == ("1 of 4 were so already",)
    assert after.trees["species"].tolist() == ["REDW", "REDW", "REDW", "REDW", "REDW", "REDW"]
    assert proposed.edit.changes["trees"].altered.tolist() == [1, 2, 5]


@pytest.mark.parametrize(
    ("table", "values", "name", "column", "kept"),
    [
        ("trees", {"planted": 2011}, "Change planted of tree 1", "planted", "2011"),
        ("trees", {"planted": dt.date(2011, 7, 4)}, "Change planted of tree 1", "planted", "2011-07-04"),
        ("trees", {"planted": ""}, "Change planted of tree 1", "planted", ""),
        ("trees", {"stage": "Planned"}, "Change stage of tree 1", "stage", "planned"),
        ("trees", {"tag": " 1b "}, "Change tag of tree 1", "tag", "1b"),
        ("trees", {"species": ""}, "Change species of tree 1", "species", ""),
        (
            "blocks",
            {"name": "Top", "purpose": "timber"},
            "Change name and purpose of block North Terrace",
            "name",
            "Top",
        ),
        ("creeks", {"channel_m": "3,5 m"}, "Change channel width of creek Sedge Creek", "channel_m", 3.5),
        ("creeks", {"left_margin_m": 20}, "Change left margin of creek Sedge Creek", "left_margin_m", 20.0),
        ("tracks", {"width_m": "5"}, "Change width of track Ridge track", "width_m", 5.0),
        ("hazards", {"kind": "building"}, "Change kind of hazard Line", "kind", "building"),
        (
            "notes",
            {"written_on": "2020-01-02"},
            "Change day of note Soft ground",
            "written_on",
            pd.Timestamp(2020, 1, 2),
        ),
        ("measurements", {"dbh_cm": "12.5 cm"}, "Change diameter of measurement 1", "dbh_cm", 12.5),
        ("species", {"crown_per_cm": "0.3"}, "Change crown of species TOTA", "crown_per_cm", 0.3),
    ],
)
def test_text_from_a_form_or_typed_values(farm, table, values, name, column, kept):
    proposed = fields_changed(farm, table, [1], values)
    after = carried_out(farm, proposed)
    assert proposed.edit.name == name
    assert after.tables[table][column].loc[1] == kept
    assert after.tables[table].dtypes.equals(farm.tables[table].dtypes)


@pytest.mark.parametrize(
    ("table", "values", "words"),
    [
        ("trees", {"colour": "red"}, "a tree has no field called colour; it has tag, species"),
        ("trees", {"x": 5}, "no field called x"),
        ("trees", {}, "nothing was filled in"),
        ("trees", {"species": "TOTA"}, "tree 1: nothing changes, as species is so already"),
        ("trees", {"planted": "last year"}, "write a year, or a day such as 2004-07-15"),
        ("trees", {"planted": "2004-02-30"}, "the planting date of a tree is '2004-02-30'; write a year, or a day"),
        ("trees", {"status": "gone"}, "status of a tree can be alive, dead, felled, not 'gone'"),
        ("trees", {"stems": "two"}, "is no number: 'two'; write it such as 31.5"),
        ("trees", {"stems": "1.5"}, "is a whole number, not 1.5"),
        ("trees", {"status_on": "2020-01-01"}, "a living tree has no day on which it died"),
        ("trees", {"status": "alive", "status_on": "2020-01-01"}, "a living tree has no day on which it died"),
        ("trees", {"status": "dead", "status_on": "yesterday"}, "'yesterday' is not a day"),
        ("blocks", {"name": "  "}, "name of a block is empty; give the name of the block"),
        ("creeks", {"channel_m": 501}, "channel width of a creek is 501; 0 to 500 m is believable"),
        ("creeks", {"channel_m": "12 cm"}, "is in m, not in cm; write the number alone"),
        ("creeks", {"channel_m": float("inf")}, "is no number"),
        ("measurements", {"tree": 99}, "tree 99 of a measurement is not among the trees"),
        ("measurements", {"measured_on": ""}, "is empty; give the day of the measurement"),
        ("species", {"code": "redw"}, "can stand for one species only"),
        ("ponds", {"name": "x"}, "no table called ponds"),
    ],
)
def test_values_that_do_not_fit_are_refused(farm, table, values, words):
    with pytest.raises(BadInput, match=words):
        fields_changed(farm, table, [1], values)


def test_a_tag_is_one_trees_own(farm):
    with pytest.raises(BadInput, match="2 trees cannot all have the tag 9"):
        fields_changed(farm, "trees", [1, 2], {"tag": "9"})
    assert "another tree with tag 3" in fields_changed(farm, "trees", [1], {"tag": "3"}).notes[0]
    assert fields_changed(farm, "trees", [1], {"tag": "9"}).notes == ()
    bare = carried_out(farm, fields_changed(farm, "trees", [1, 2], {"tag": ""}))
    assert bare.trees["tag"].tolist()[:2] == ["", ""]


def test_status_keeps_its_day(farm):
    dead = carried_out(farm, fields_changed(farm, "trees", [1, 2], {"status": "dead", "status_on": "2022-03-04"}))
    assert dead.trees["status_on"].loc[1] == pd.Timestamp(2022, 3, 4)
    assert dead.trees["status"].tolist()[:2] == ["dead", "dead"]
    proposed = fields_changed(dead, "trees", [1], {"status": "alive"})
    assert proposed.edit.name == "Change status of tree 1"
    assert pd.isna(carried_out(dead, proposed).trees["status_on"].loc[1])
    without = fields_changed(farm, "trees", [1], {"status": "felled"})
    assert "without the day on which it was felled" in without.notes[0]
    again = fields_changed(farm, "trees", [3], {"status": "felled"})
    assert again.notes == ()


def test_a_species_code_takes_its_trees_along(farm):
    after = carried_out(farm, fields_changed(farm, "species", [1], {"code": "PTOT"}))
    assert (after.trees["species"] == "PTOT").sum() == 3
    with pytest.raises(BadInput, match="can stand for one species only"):
        fields_changed(farm, "species", [1, 2], {"code": "X"})


def test_all_that_bears_a_species_follows_its_code(farm):
    farm = put(
        farm,
        targets={"species": ["TOTA", "", "REDW"], "dbh_cm": [60.0, 50.0, 70.0]},
        regimes={"species": ["TOTA", ""], "to_m": [2.0, 3.0]},
        products={"species": ["", "TOTA"], "name": ["firewood", "sawlog"]},
        volumes={"species": ["REDW", "TOTA"], "a": [0.4, 0.5]},
        plots={"name": ["1"], "x": [EAST], "y": [NORTH]},
        plot_trees={"plot": [1, 1], "species": ["TOTA", "REDW"]},
    )
    proposed = fields_changed(farm, "species", [1], {"code": "PTOT"})
    after = carried_out(farm, proposed)
    borne = {table: after.tables[table]["species"].tolist() for table in BEAR_SPECIES[1:]}
    assert borne == {
        "targets": ["PTOT", "", "REDW"],
        "regimes": ["PTOT", ""],
        "products": ["", "PTOT"],
        "volumes": ["REDW", "PTOT"],
        "plot_trees": ["PTOT", "REDW"],
    }
    back = proposed.edit.turned_round().apply(after)
    assert all(back.tables[table].equals(farm.tables[table]) for table in BEAR_SPECIES)


def test_no_table_that_bears_a_species_or_a_block_is_forgotten():
    bearing = {column: [t.name for t in TABLES.values() if column in t.column_names] for column in ("species", "block")}
    assert sorted(bearing["species"]) == sorted(BEAR_SPECIES)
    assert sorted(bearing["block"]) == sorted(BEAR_BLOCK)


def test_lifts_and_plots_follow_the_name_of_their_block(farm):
    farm = put(
        farm,
        blocks={"name": ["A", "B"], "geometry": [area((0, 0), (9, 0), (9, 9)), area((20, 0), (29, 0), (29, 9))]},
        regimes={"block": ["A", "", "B"], "to_m": [2.0, 3.0, 4.0]},
        plots={"name": ["1", "2"], "block": ["A", "B"], "x": [EAST, EAST], "y": [NORTH, NORTH]},
    )
    after = carried_out(farm, fields_changed(farm, "blocks", [1], {"name": "Top"}))
    assert after.tables["regimes"]["block"].tolist() == ["Top", "", "B"]
    assert after.tables["plots"]["block"].tolist() == ["Top", "B"]
    twins = carried_out(farm, fields_changed(farm, "blocks", [2], {"name": "A"}))
    apart = carried_out(twins, fields_changed(twins, "blocks", [2], {"name": "C"}))
    assert apart.tables["regimes"]["block"].tolist() == ["A", "", "A"]


def test_a_planned_block_that_is_to_stand_is_cut_back(farm):
    farm = put(
        farm,
        blocks={
            "name": ["A", "B"],
            "geometry": [area((0, 0), (50, 0), (50, 50), (0, 50)), area((40, 10), (90, 10), (90, 40), (40, 40))],
            "stage": ["existing", "planned"],
        },
    )
    proposed = fields_changed(farm, "blocks", [2], {"stage": "existing"})
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Change stage of block B"
    assert "lay over A" in proposed.notes[0]
    assert overlaps_m2(after) == 0
    assert not unshared_corners(after)
    assert after.blocks["stage"].tolist() == ["existing", "existing"]


def test_a_name_given_twice_is_noted(farm):
    assert (
        "more than one block is called Far Slope" in fields_changed(farm, "blocks", [1], {"name": "Far Slope"}).notes[0]
    )


# --- pruning ---


def test_pruning_is_a_dated_measurement(farm):
    proposed = pruned_to(farm, [1, 5], "4,2", dt.date(2020, 5, 1))
    after = carried_out(farm, proposed)
    assert proposed.edit.name == "Prune 2 trees to 4.2 m"
    readings = after.measurements
    first = readings[(readings["tree"] == 1) & (readings["measured_on"] == "2020-05-01")]
    assert first[["dbh_cm", "pruned_m"]].to_numpy().tolist() == [[22.5, 4.2]]
    other = readings[readings["tree"] == 5]
    assert other["pruned_m"].tolist() == [4.2]
    assert np.isnan(other["dbh_cm"].iloc[0])
    assert proposed.notes == ()


def test_pruning_that_is_hardly_believable_is_noted(farm):
    assert (
        "12 m on 1 May 2020 is not below the height of tree 1 (11 m)" in pruned_to(farm, [1], 12, "2020-05-01").notes[0]
    )
    once = carried_out(farm, pruned_to(farm, [1], 4, "2015-05-01"))
    assert "below the pruned height recorded earlier for tree 1 (4 m)" in pruned_to(once, [1], 3, "2016-01-01").notes[0]
    assert "1 pruned heights of that day were replaced" in pruned_to(once, [1], 5, "2015-05-01").notes[-1]
    with pytest.raises(BadInput, match="nothing changes"):
        pruned_to(once, [1], 4, "2015-05-01")
    with pytest.raises(BadInput, match="give the height to which"):
        pruned_to(farm, [1], "", "2015-05-01")
    with pytest.raises(BadInput, match="0 to 40 m"):
        pruned_to(farm, [1], 50, "2015-05-01")


def test_days_of_the_small_farm_stay_days(farm):
    assert farm.trees["status_on"].dtype == days("").dtype
