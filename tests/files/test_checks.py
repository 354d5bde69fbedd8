import contextlib
import sqlite3

import numpy as np
import pytest
from shapely import Polygon, box

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files.checks import check_farm, farm_findings
from farmmap.files.farm_file import write_farm
from tests.place import EAST, NORTH


def changed(farm, table, **columns):
    rows = farm.tables[table].copy()
    for name, values in columns.items():
        rows[name] = values
    return farm.with_tables(**{table: rows})


def lines(farm):
    return "\n".join(str(finding) for finding in farm_findings(farm))


def test_nothing_is_wrong_with_a_sound_farm(farm, tmp_path):
    write_farm(farm, tmp_path / "farm.gpkg")
    assert check_farm(tmp_path / "farm.gpkg") == []


BOW = Polygon([(EAST, NORTH), (EAST + 100, NORTH + 100), (EAST + 100, NORTH), (EAST, NORTH + 100)])
NEIGHBOUR = box(EAST + 100, NORTH, EAST + 200, NORTH + 100)


@pytest.mark.parametrize(
    ("table", "columns", "words"),
    [
        ("blocks", {"name": ["North Terrace", "North Terrace"]}, "blocks North Terrace: more than one block"),
        ("blocks", {"name": ["", "Far Slope"]}, "blocks row 1: name is empty"),
        ("blocks", {"stage": ["existing", "maybe"]}, "blocks Far Slope: stage is maybe; it can be existing, planned"),
        ("blocks", {"planted": ["2004", "spring"]}, "blocks Far Slope: planted is spring"),
        ("blocks", {"geometry": [BOW, NEIGHBOUR]}, "blocks North Terrace: its outline is not sound: Self-intersection"),
        (
            "blocks",
            {"geometry": [box(EAST, NORTH, EAST + 101, NORTH + 100), NEIGHBOUR]},
            "North Terrace and Far Slope: overlap by 100.0 m²",
        ),
        ("blocks", {"geometry": [None, NEIGHBOUR]}, "blocks North Terrace: has no shape"),
        ("blocks", {"geometry": [box(NORTH, EAST, NORTH + 100, EAST + 100), NEIGHBOUR]}, "more than 20 km"),
        ("trees", {"species": ["TOTA"] * 5 + ["OAK?"]}, "trees 6: species OAK? is not in the farm's list"),
        ("trees", {"stems": [1, 1, 1, 0, 1, 1]}, "trees 4: stems is 0; 1 to 50"),
        ("trees", {"x": [np.nan] * 6}, "stands nowhere"),
        ("trees", {"x": [1.0, *[EAST] * 5]}, "trees 1: lies more than 20 km"),
        ("measurements", {"dbh_cm": [12.0, -2.0, 18.0, 10.0, 15.0, 20.0]}, "row 2: dbh_cm is -2; 0 to 1200 cm"),
        ("measurements", {"tree": [1, 1, 2, 3, 4, 99]}, "tree is not among the trees"),
        (
            "measurements",
            {"measured_on": np.array(["1990-05-01", "2020-05-01"] + ["2021-01-01"] * 4, "datetime64[s]")},
            "tree 1: measured before it was planted",
        ),
        (
            "measurements",
            {"tree": [1, 1, 2, 3, 4, 4], "measured_on": np.full(6, np.datetime64("2020-05-01", "s"))},
            "measured twice on one day",
        ),
        ("measurements", {"dbh_cm": [np.nan] * 6, "height_m": [np.nan] * 6}, "holds no figure"),
        ("species", {"code": ["TOTA", "TOTA"]}, "species TOTA: is in the list more than once"),
        ("creeks", {"channel_m": [900.0]}, "creeks Sedge Creek: channel_m is 900; 0 to 500 m"),
        ("trees", {"plan": [""] * 5 + ["Upper"]}, "trees 6: belongs to plan Upper, which the farm does not have"),
        ("fences", {"plan": ["Upper"]}, "fences Creek fence: belongs to plan Upper"),
    ],
)
def test_each_fault_is_found_and_named(farm, table, columns, words):
    assert words in lines(changed(farm, table, **columns))


PLANS = {
    "name": ["Lower Sedge", "Wide"],
    "creek": ["Sedge Creek", "Sedge Creek"],
    "from_m": [0.0, np.nan],
    "to_m": [100.0, 50.0],
    "recipe": ["title = 'narrow'", "title = 'wide'"],
}


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"name": ["Wide", "Wide"]}, "plans Wide: more than one plan has this name"),
        ({"name": ["", "Wide"]}, "plans row 1: name is empty"),
        ({"creek": ["Sedge Creek", "Rush Gully"]}, "plans Wide: lies along Rush Gully, which is no creek of the farm"),
        ({"to_m": [0.0, 50.0]}, "plans Lower Sedge: ends before it begins"),
        ({"recipe": ["title = 'narrow'", "title = wide"]}, "plans Wide: its recipe cannot be read (Invalid value"),
        ({"state": ["kept", "thought of"]}, "plans Wide: state is thought of; it can be kept, accepted, planted"),
        ({"banks": ["left", "north"]}, "plans Wide: banks is north; it can be both, left, right"),
        ({"to_m": [-1.0, 50.0], "from_m": [np.nan, np.nan]}, "plans Lower Sedge: to_m is -1"),
    ],
)
def test_each_fault_of_a_plan_is_found_and_named(farm, columns, words):
    planned = farm.with_tables(plans=shaped(TABLES["plans"], PLANS, np.array([1, 2]), farm.grid))
    assert lines(changed(planned, "trees", plan=["", "Wide", "Lower Sedge", "", "", ""])) == ""
    assert words in lines(changed(planned, "plans", **columns))


def test_many_faults_of_a_kind_are_counted(farm):
    trees = shaped(
        TABLES["trees"], {"species": ["?"] * 40, "x": [EAST] * 40, "y": [NORTH] * 40}, np.arange(1, 41), farm.grid
    )
    assert "row 1, row 2, row 3, row 4, row 5 and 35 more" in lines(farm.with_tables(trees=trees))


def test_a_file_that_cannot_be_read_is_one_finding(tmp_path):
    (tmp_path / "odd.gpkg").write_bytes(b"odd")
    (finding,) = check_farm(tmp_path / "odd.gpkg")
    assert "no farm file" in str(finding)


def test_a_spatial_index_out_of_step_is_found(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    write_farm(farm, path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("DELETE FROM rtree_trees_geom WHERE id = 3")
        connection.commit()
    assert [finding.table for finding in check_farm(path)] == ["trees"]
