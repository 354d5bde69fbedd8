"""A round through a block to measure its trees."""

import datetime as dt

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.plans.measuring import measuring_round
from tests.plans.pruning.prunable import prunable

ON = dt.date(2021, 3, 1)


@pytest.fixture(scope="module")
def farm():
    trees = [{}, {"stems": 3}, {"status": "dead"}, {"mark": "crop"}, {"planted": "2022"}, {"stage": "planned"}]
    readings = [
        {"tree": 1, "dbh_cm": 10.0, "measured_on": "2019-05-01"},
        {"tree": 1, "dbh_cm": 12.0, "height_m": 9.0, "measured_on": "2020-05-01"},
        {"tree": 1, "dbh_cm": 99.0, "height_m": 9.9, "measured_on": "2021-05-01"},
        {"tree": 4, "height_m": 7.0, "measured_on": "2018-02-01"},
        {"tree": 4, "dbh_cm": 8.0, "measured_on": "2020-02-01"},
    ]
    return prunable(trees, readings)


def test_living_trees_of_the_day_are_listed_once_with_their_last_readings(farm):
    found = measuring_round(farm, 1, ON)
    assert sorted(found.ids.tolist()) == [1, 2, 4]
    by_id = {tree: place for place, tree in enumerate(found.ids.tolist())}
    one, two, four = (by_id[tree] for tree in (1, 2, 4))
    assert (found.dbh_cm[one], found.height_m[one]) == (pytest.approx(12.0), 9.0)
    assert found.dbh_on[one] == found.height_on[one] == np.datetime64("2020-05-01")
    assert np.isnan([found.dbh_cm[two], found.height_m[two]]).all()
    assert np.isnat([found.dbh_on[two], found.height_on[two]]).all()
    assert (found.stems[two], found.mark[four]) == (3, "crop")
    assert (found.dbh_cm[four], found.height_m[four]) == (pytest.approx(8.0), 7.0)
    assert (found.dbh_on[four], found.height_on[four]) == (np.datetime64("2020-02-01"), np.datetime64("2018-02-01"))
    assert set(found.species.tolist()) == {"tōtara"}


def test_it_goes_from_tree_to_tree(farm):
    found = measuring_round(farm, 1, ON)
    scale = farm.grid.scale(float(found.x[0]), float(found.y[0]))
    steps = np.hypot(np.diff(found.x), np.diff(found.y)) / scale
    assert found.to_next_m[:-1] == pytest.approx(steps, abs=1e-3)
    assert np.isnan(found.to_next_m[-1])
    assert found.walk_m == pytest.approx(steps.sum(), abs=1e-3)


def test_crop_trees_alone(farm):
    assert measuring_round(farm, 1, ON, crop_only=True).ids.tolist() == [4]


def test_trees_planted_since_are_there_on_a_later_day_and_nothing_is_forecast(farm):
    found = measuring_round(farm, 1, dt.date(2035, 1, 1))
    assert sorted(found.ids.tolist()) == [1, 2, 4, 5]
    assert np.nanmax(found.dbh_cm) == pytest.approx(99.0)


def test_a_block_that_is_gone_or_empty(farm):
    with pytest.raises(BadInput, match="block 7 is not on the farm"):
        measuring_round(farm, 7, ON)
    assert len(measuring_round(prunable([], []), 1, ON)) == 0
