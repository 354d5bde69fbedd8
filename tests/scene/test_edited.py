"""Ground where the map looks different after an edit."""

import numpy as np
import pandas as pd
import pytest
import shapely

from farmmap.farm.edits import rows_changed, rows_put_in
from farmmap.figures.margins import margins
from farmmap.scene.edited import edited_grounds
from tests.scene.made_farm import EAST, NORTH, made_farm

NONE = np.zeros(0, np.int64)


def grounds(farm, edit, trees=NONE):
    after = edit.apply(farm)
    return edited_grounds(farm, after, edit, trees, margins(farm), margins(after))


def covers(found, shape):
    return any(shapely.box(*box).covers(shape) for box in found)


def test_a_block_is_edited_where_it_was_and_where_it_is():
    farm = made_farm(6, 0)
    rows = farm.blocks.iloc[[2]].copy()
    old = rows.geometry.iloc[0]
    rows["geometry"] = rows.geometry.translate(500, 0)
    found = grounds(farm, rows_changed(farm, "Move", "blocks", rows))
    assert covers(found, old)
    assert covers(found, rows.geometry.iloc[0])
    assert sum(shapely.box(*box).area for box in found) < 3 * old.envelope.area


def test_a_creek_that_moves_takes_its_margins_with_it():
    farm = made_farm(6, 0)
    rows = farm.creeks.iloc[[0]].copy()
    rows["geometry"] = rows.geometry.translate(0, 15)
    after = rows_changed(farm, "Move", "creeks", rows)
    found = grounds(farm, after)
    for margin in (*margins(farm), *margins(after.apply(farm))):
        if margin.creek == farm.creeks["name"].iloc[0]:
            assert covers(found, margin.polygon)


def test_trees_are_points_before_and_after():
    farm = made_farm(6, 200)
    rows = farm.trees.loc[[5]].assign(x=EAST + 3.0, y=NORTH + 4.0)
    found = grounds(farm, rows_changed(farm, "Move", "trees", rows), np.array([5]))
    was = farm.trees.loc[5]
    assert covers(found, shapely.Point(EAST + 3, NORTH + 4))
    assert covers(found, shapely.Point(was["x"], was["y"]))


def test_a_measurement_is_seen_at_its_tree():
    farm = made_farm(6, 200)
    tape = farm.measurements.iloc[:1].assign(tree=7).set_axis(pd.Index([90_000], name="id"))
    found = grounds(farm, rows_put_in(farm, "Measure", {"measurements": tape}), np.array([7]))
    assert found == [pytest.approx((farm.trees.loc[7, "x"], farm.trees.loc[7, "y"]) * 2)]


def test_clear_ground_beside_a_power_line_is_edited_with_it():
    farm = made_farm(6, 0)
    rows = farm.hazards.iloc[[0]].assign(clear_m=30.0)
    found = grounds(farm, rows_changed(farm, "Clear", "hazards", rows))
    assert covers(found, shapely.buffer(rows.geometry.iloc[0], 30.0, cap_style="flat"))
