import numpy as np
import pytest

from farmmap.errors import BadInput, GridError
from farmmap.farm.farm import Farm, Settings, empty_table, new_farm, next_ids, shaped
from farmmap.farm.schema import TABLES, Geometry, Kind


def test_a_new_farm_has_every_table_typed_and_empty():
    farm = new_farm("Pipit Downs", "EPSG:2193")
    assert list(farm.tables) == list(TABLES)
    for name, table in TABLES.items():
        frame = farm.tables[name]
        assert len(frame) == 0
        places = {None: [], Geometry.POINT: ["x", "y"]}.get(table.geometry, ["geometry"])
        assert sorted(frame.columns) == sorted([*table.column_names, *places])
        for column in table.columns:
            kinds = {
                Kind.TEXT: "str",
                Kind.WHEN: "str",
                Kind.WHOLE: "int64",
                Kind.NUMBER: "float64",
                Kind.DAY: "datetime64[s]",
            }
            assert str(frame[column.name].dtype) == kinds[column.kind]
    assert farm.bounds() is None


@pytest.mark.parametrize(("grid", "height"), [("EPSG:2193", 1.4), ("EPSG:27700", 1.3), ("7855", 1.3), (32633, 1.3)])
def test_breast_height_follows_the_custom_of_the_country(grid, height):
    assert new_farm("A", grid).settings.breast_height_m == height


@pytest.mark.parametrize("grid", ["EPSG:4326", "EPSG:2264", "banana", "EPSG:99999999", ""])
def test_a_grid_of_no_use_is_refused_in_words(grid):
    with pytest.raises(GridError):
        new_farm("A", grid)


def test_a_farm_needs_a_name():
    with pytest.raises(BadInput, match="name"):
        new_farm("  ", 2193)


@pytest.mark.parametrize("bad", [{"breast_height_m": 1.5}, {"margin_m": 0}, {"class_cm": 0}])
def test_settings_that_no_figure_could_use_are_refused(bad):
    with pytest.raises(BadInput):
        Settings("A", 2193, **bad)


def test_a_table_that_no_farm_has_is_refused():
    with pytest.raises(BadInput, match="sheep"):
        Farm(Settings("A", 2193), {"sheep": empty_table("trees", new_farm("A", 2193).grid)})


def test_rows_take_defaults_and_say_what_is_missing(farm):
    rows = shaped(TABLES["trees"], {"x": [1.0, 2.0], "y": [3.0, 4.0]}, np.array([7, 9]), farm.grid)
    assert rows["stems"].tolist() == [1, 1]
    assert rows["status"].tolist() == ["alive", "alive"]
    assert rows.index.tolist() == [7, 9]
    with pytest.raises(BadInput, match="name"):
        shaped(TABLES["blocks"], {}, np.array([1]), farm.grid)
    with pytest.raises(BadInput, match="dbh_cm"):
        shaped(
            TABLES["measurements"],
            {"tree": [1], "measured_on": [np.datetime64("2020-01-01")], "dbh_cm": ["thick"]},
            np.array([1]),
            farm.grid,
        )


def test_next_ids_go_on_from_the_largest(farm):
    assert next_ids(farm.trees, 2).tolist() == [7, 8]
    assert next_ids(new_farm("A", 2193).trees, 2).tolist() == [1, 2]


def test_bounds_hold_everything(farm):
    west, south, east, north = farm.bounds()
    assert (east - west, north - south) == (240.0, 180.0)
