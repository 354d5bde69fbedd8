"""Cover of creek margins with plantings grown: as the margins' own figure before, and as of real trees after."""

import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.farm.farm import shaped
from farmmap.farm.schema import MEASUREMENTS, TREES
from farmmap.figures.margins import margin_figures, margins
from farmmap.plans.planting.outcome.growth import sizes_at
from farmmap.plans.planting.outcome.margin_cover import margin_covers
from tests.conftest import small_farm
from tests.plans.grown_plan import KINDS, plan_with

ON = dt.date(2025, 1, 1)


@pytest.fixture(scope="module")
def farm():
    return small_farm()


@pytest.fixture(scope="module")
def plan(farm):
    """Trees, shrubs and sedges over the right margin, some beyond its edge."""
    ground = margins(farm)[1].polygon
    west, south, east, north = ground.bounds
    random = np.random.default_rng(3)
    places = np.column_stack([random.uniform(west, east, 60), random.uniform(south - 6, north + 6, 60)])
    rows = [(x, y, 0, number % 3) for number, (x, y) in enumerate(places.tolist())]
    return plan_with([(1, shapely.box(west, south - 6, east, north + 6))], ("SEDG", "SHRU", "TREE"), rows)


def test_before_planting_it_is_the_figure_of_the_margins(farm, plan):
    told = margin_figures(farm, ON).column("cover_percent")
    covers = margin_covers(farm, ON, [(plan, KINDS)], (-1.0, 20.0))
    assert covers[:, 0] == pytest.approx(np.array(told, float))
    assert margin_covers(farm, ON, [], (-1.0, 20.0))[:, 1] == pytest.approx(np.array(told, float))
    assert (covers[:, 1] >= covers[:, 0]).all()
    assert covers[1, 1] > covers[1, 0] + 5


@pytest.mark.parametrize("year", [5.0, 10.0])
def test_afterwards_it_is_what_trees_of_that_size_would_cover(farm, plan, year):
    crown, _ = sizes_at(plan, KINDS, year)
    woody = (crown > 0) & (plan.plants.kin != 0)
    count = int(woody.sum())
    first_tree, first_measurement = int(farm.trees.index.max()) + 1, int(farm.measurements.index.max()) + 1
    ids = np.arange(first_tree, first_tree + count)
    values = {"x": plan.plants.x[woody], "y": plan.plants.y[woody], "species": ["TREE"] * count}
    stood = shaped(TREES, values | {"stage": ["existing"] * count}, ids, farm.grid)
    tape = {"tree": ids, "measured_on": [np.datetime64(ON, "s")] * count, "stem": [1] * count, "crown_m": crown[woody]}
    taken = shaped(MEASUREMENTS, tape, np.arange(first_measurement, first_measurement + count), farm.grid)
    grown = farm.with_tables(
        trees=shaped(TREES, _both(farm.trees, stood), np.append(farm.trees.index, ids), farm.grid),
        measurements=shaped(
            MEASUREMENTS, _both(farm.measurements, taken), np.append(farm.measurements.index, taken.index), farm.grid
        ),
    )
    covers = margin_covers(farm, ON, [(plan, KINDS)], (-1.0, year))[:, 1]
    assert covers == pytest.approx(np.array(margin_figures(grown, ON).column("cover_percent"), float), abs=0.05)


def _both(one, other):
    return {name: np.append(one[name].to_numpy(), other[name].to_numpy()) for name in one.columns}
