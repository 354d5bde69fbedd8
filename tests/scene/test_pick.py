import datetime as dt

import numpy as np
import pytest

from farmmap.figures.margins import margins
from farmmap.figures.standing import standing
from farmmap.scene.pick import PICKED_LAYERS, everything_at, pick
from farmmap.scene.scene import Chosen
from tests.place import EAST, NORTH

ON = dt.date(2021, 1, 1)


@pytest.fixture
def at(farm):
    there, beside = standing(farm, ON), margins(farm)

    def look(x, y, within=2.0, layers=PICKED_LAYERS):
        return everything_at(farm, there, beside, EAST + x, NORTH + y, within, layers)

    return look


def test_the_nearest_tree_then_what_it_stands_on(at):
    assert at(10.5, 10) == [Chosen("tree", 1), Chosen("block", 1)]
    assert at(16, 10, within=8) == [Chosen("tree", 2), Chosen("block", 1)]


def test_a_tree_just_out_of_reach_is_not_picked(at):
    assert at(12.1, 10) == [Chosen("block", 1)]
    assert at(11.5, 11.5) == [Chosen("block", 1)]  # within the square of the reach, but not the circle


def test_a_dead_tree_is_not_picked(at):
    assert at(30, 10) == [Chosen("block", 1)]


def test_margins_are_picked_by_their_place_in_the_list(at, farm):
    places = {margin.bank: margin.index for margin in margins(farm)}
    assert at(30, -25) == [Chosen("margin", places["left"])]  # the creek runs east, so its left bank lies north
    assert at(30, -35) == [Chosen("margin", places["right"])]


def test_hidden_layers_and_species_are_passed_over(at):
    assert at(10, 10, layers=frozenset({"blocks"})) == [Chosen("block", 1)]
    assert at(10, 10, layers=frozenset({"trees"})) == [Chosen("tree", 1)]
    assert at(10, 10, layers=frozenset({"trees", "species:REDW"})) == []
    assert at(10, 10, layers=frozenset({"trees", "species:TOTA"})) == [Chosen("tree", 1)]


def test_the_smaller_area_comes_first(farm):
    beside = margins(farm)
    blocks = farm.blocks.copy()
    blocks.geometry = [beside[0].polygon.envelope.buffer(500), blocks.geometry.iloc[1]]
    wide = farm.with_tables(blocks=blocks)
    found = everything_at(wide, standing(wide, ON), beside, EAST + 30, NORTH - 25, 1.0)
    assert [chosen.kind for chosen in found] == ["margin", "block"]


def test_empty_ground_gives_nothing(farm, at):
    assert at(-500, 900) == []
    assert pick(farm, standing(farm, ON), [], EAST - 500, NORTH, 1.0) is None
    assert pick(farm, standing(farm, ON), [], EAST + 10, NORTH + 10, 1.0) == Chosen("tree", 1)


def test_the_nearest_is_found_by_distance(hill_farm):
    there = standing(hill_farm, ON)
    rng = np.random.default_rng(4)
    for x, y in zip(rng.choice(there.x, 20) + 1.3, rng.choice(there.y, 20) - 0.7, strict=True):
        away = np.hypot(there.x - x, there.y - y)
        found = pick(hill_farm, there, [], x, y, 30.0, frozenset({"trees"}))
        assert found == (Chosen("tree", int(there.ids[away.argmin()])) if away.min() <= 30 else None)
