import datetime as dt
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.standing import standing
from farmmap.scene.scene import GONE, PLANNED, STANDING, UNMEASURED
from farmmap.scene.trees import cell_index, tree_layer
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)


def layer_of(farm, on=ON, hidden=frozenset()):
    return tree_layer(farm, on, standing(farm, on), hidden)


def kinds(layer):
    return Counter(layer.groups[group].drawn_as for group in layer.group.tolist())


def test_each_tree_is_drawn_as_it_stands_on_the_day(hill_farm):
    layer, there = layer_of(hill_farm), standing(hill_farm, ON)
    trees = hill_farm.trees
    found = kinds(layer)
    assert found[STANDING] == np.isfinite(there.dbh_cm).sum()
    assert found[UNMEASURED] == np.isnan(there.dbh_cm).sum()
    assert found[PLANNED] == (trees["stage"] == "planned").sum()
    assert found[GONE] == ((trees["status"] == "dead") & (trees["stage"] == "existing")).sum()


def test_before_they_were_measured_trees_are_open_and_before_planting_absent(hill_farm):
    early = layer_of(hill_farm, dt.date(2010, 1, 1))
    assert STANDING not in kinds(early)
    assert kinds(early)[UNMEASURED] > 0
    assert set(kinds(layer_of(hill_farm, dt.date(2003, 12, 31)))) == {PLANNED}


def test_a_tree_that_died_later_still_stands(farm):
    before, after = layer_of(farm, dt.date(2015, 2, 28)), layer_of(farm, dt.date(2015, 3, 1))
    assert kinds(before)[GONE] == 0
    assert kinds(after)[GONE] == 1
    assert sorted(before.ids.tolist()) == [1, 2, 3, 4, 5, 6]


def test_places_ids_tags_and_classes_belong_together(hill_farm):
    layer, there = layer_of(hill_farm), standing(hill_farm, ON)
    trees = hill_farm.trees
    assert (trees["x"].loc[layer.ids].to_numpy() == layer.x).all()
    assert (trees["y"].loc[layer.ids].to_numpy() == layer.y).all()
    assert layer.tags_of(np.array([3, 9])) == trees["tag"].loc[layer.ids[[3, 9]]].tolist()
    dbh = dict(zip(there.ids.tolist(), there.dbh_cm.tolist(), strict=True))
    codes = trees["species"].loc[layer.ids].tolist()
    for place, tree in enumerate(layer.ids.tolist()):
        kind = layer.groups[layer.group[place]]
        assert layer.symbols[kind.species].code == codes[place]
        if kind.drawn_as == STANDING:
            assert abs(dbh[tree] - kind.dbh_class_cm) <= hill_farm.settings.class_cm / 2 + 1e-5


def test_groups_are_painted_faint_first_and_large_before_small(hill_farm):
    layer = layer_of(hill_farm)
    standing_cm = [group.dbh_class_cm for group in layer.groups if group.drawn_as == STANDING]
    assert standing_cm == sorted(standing_cm, reverse=True)
    order = [group.drawn_as for group in layer.groups]
    assert order.index(STANDING) > max(place for place, kind in enumerate(order) if kind in {GONE, PLANNED})
    assert len(set(layer.groups)) == len(layer.groups)
    assert layer.counts().sum() == len(layer.x)


def test_hiding_a_species_hides_its_groups_only(hill_farm):
    layer = layer_of(hill_farm, hidden=frozenset({"species:PRAD"}))
    for group, shown in zip(layer.groups, layer.group_shown().tolist(), strict=True):
        assert shown == (layer.symbols[group.species].code != "PRAD")


def test_the_same_day_is_sorted_once(hill_farm):
    assert layer_of(hill_farm).x is layer_of(hill_farm, hidden=frozenset({"species:PRAD"})).x


def test_a_farm_without_trees_has_no_layer():
    assert layer_of(made_farm(2, 0)) is None


@given(
    st.lists(st.tuples(st.floats(0, 2000), st.floats(0, 500)), min_size=0, max_size=300),
    st.tuples(st.floats(-100, 2100), st.floats(-100, 600), st.floats(0, 900), st.floats(0, 300)),
)
def test_slices_hold_every_point_of_the_bounds(points, window):
    x, y = (np.array([point[axis] for point in points], float) for axis in (0, 1))
    cells, order = cell_index(x, y)
    assert sorted(order.tolist()) == list(range(len(points)))
    west, south, wide, high = window
    taken = {
        place for first, last in cells.slices((west, south, west + wide, south + high)) for place in range(first, last)
    }
    inside = (x[order] >= west) & (x[order] <= west + wide) & (y[order] >= south) & (y[order] <= south + high)
    assert set(np.flatnonzero(inside).tolist()) <= taken


@pytest.mark.parametrize("astray", [(0.0, 0.0), (9e6, 150.0)])
def test_one_tree_far_away_does_not_put_the_others_into_one_cell(astray):
    chance = np.random.default_rng(1)
    x, y = np.append(chance.uniform(100, 200, 5000), astray[0]), np.append(chance.uniform(100, 200, 5000), astray[1])
    cells, order = cell_index(x, y)
    few = cells.slices((120.0, 120.0, 140.0, 140.0))
    assert sum(last - first for first, last in few) < 1000
    west, south = astray
    taken = [order[first:last] for first, last in cells.slices((west - 1, south - 1, west + 1, south + 1))]
    assert 5000 in np.concatenate(taken)


def test_slices_of_a_small_window_are_few(hill_farm):
    layer = layer_of(hill_farm)
    west, south = layer.x.min(), layer.y.min()
    runs = layer.cells.slices((west, south, west + 60, south + 60))
    assert sum(last - first for first, last in runs) < len(layer.x) / 4
    assert layer.cells.slices((0.0, 0.0, 1.0, 1.0)) == []
    whole = layer.cells.slices((west - 9, south - 9, layer.x.max() + 9, layer.y.max() + 9))
    assert whole == [(0, len(layer.x))]


@pytest.mark.parametrize("metres_per_mm", [0.2, 5.0])
def test_sizes_follow_how_a_tree_is_drawn(hill_farm, metres_per_mm):
    layer = layer_of(hill_farm)
    for group, size in zip(layer.groups, layer.sizes_mm(metres_per_mm).tolist(), strict=True):
        if group.drawn_as == UNMEASURED:
            assert size >= 1.0  # an open symbol needs this much in print
        assert size >= 0.6
