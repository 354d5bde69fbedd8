"""Blocks split, joined, cut and filled in random order, drawn as unsteady hands draw: no slivers between neighbours."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.editing.blocks import LEAST_WIDTH_M, PASSED_M, gap_filled, hole_cut, merged, split
from farmmap.editing.proposed import Proposed
from farmmap.editing.shared_edges import OVERLAP_M2
from farmmap.editing.sound import TOUCH_M
from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from tests.editing.made_farms import (
    area,
    carried_out,
    existing_blocks,
    line,
    overlaps_m2,
    random_farm,
    unshared_corners,
)

UNSTEADY_M = (0.0, 0.0004, 0.0012, 0.003, 0.02)
"""How far beside a corner or an edge something is drawn that was meant to lie on it. [m]"""


def ground(farm: Farm) -> shapely.Geometry:
    return shapely.union_all(np.array(list(existing_blocks(farm).values()), object))


def hairlines(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Holes that are no wider than corners are apart, as a gap along an edge that two blocks shared would be."""
    rings = [ring for part in shapely.get_parts(shape) for ring in shapely.get_rings(part)[1:]]
    holes = [shapely.Polygon(ring) for ring in rings]
    return [hole for hole in holes if hole.length > 100 * TOUCH_M and hole.area <= 1.5 * TOUCH_M * hole.length]


class Hand:
    """Draws places at corners, on edges, and anywhere on a farm, a little beside what was meant."""

    def __init__(self, farm: Farm, seed: int) -> None:
        self.random = np.random.default_rng(seed)
        self.farm = farm

    def block(self) -> int:
        return int(self.random.choice(list(existing_blocks(self.farm))))

    def place(self) -> np.ndarray:
        shapes = existing_blocks(self.farm)
        unsteady = self.random.choice(UNSTEADY_M) * self.random.uniform(-1, 1, 2)
        outline = shapes[self.block()].boundary
        match self.random.integers(3):
            case 0:
                return self.random.choice(shapely.get_coordinates(outline)) + unsteady
            case 1:
                on = outline.interpolate(self.random.uniform(0, outline.length))
                return np.array([on.x, on.y]) + unsteady
            case _:
                west, south, east, north = outline.bounds
                return self.random.uniform([west, south], [east, north])

    def line(self) -> shapely.LineString:
        places = [self.place() for _ in range(self.random.integers(2, 5))]
        beyond = self.random.choice([0.0, 0.2, 1.0])
        places[0] = places[0] + beyond * (places[0] - places[1])
        places[-1] = places[-1] + beyond * (places[-1] - places[-2])
        return shapely.LineString(places)

    def hole(self) -> shapely.Polygon:
        count, radius = int(self.random.integers(3, 7)), self.random.choice([1.0, 5.0, 15.0])
        turns = np.sort(self.random.uniform(0, 2 * np.pi, count))
        places = self.place() + radius * np.stack([np.cos(turns), np.sin(turns)], axis=1)
        if self.random.random() < 0.5:
            places[0] = self.place()
        return shapely.Polygon(places)

    def propose(self) -> tuple[str, Proposed]:
        """Propose an edit; say which, with the ground that is meant to stay."""
        way = str(self.random.choice(["split", "split", "join", "cut", "fill"]))
        match way:
            case "split":
                return way, split(self.farm, self.block(), self.line())
            case "join":
                blocks = list(existing_blocks(self.farm))
                count = min(len(blocks), int(self.random.integers(2, 4)))
                return way, merged(self.farm, [int(b) for b in self.random.choice(blocks, count, replace=False)])
            case "cut":
                return way, hole_cut(self.farm, self.block(), self.hole())
            case _:
                return way, gap_filled(self.farm, *map(float, self.place()))


@given(st.integers(0, 1000), st.integers(0, 2**32 - 1))
@settings(max_examples=30)
def test_blocks_worked_on_stay_without_slivers(farm_seed, seed):
    hand = Hand(random_farm(farm_seed), seed)
    for _ in range(10):
        before = ground(hand.farm)
        try:
            way, proposed = hand.propose()
        except BadInput:
            continue
        hand.farm = carried_out(hand.farm, proposed)
        after = ground(hand.farm)
        rounding_m2 = TOUCH_M * before.length
        assert overlaps_m2(hand.farm) <= OVERLAP_M2
        assert not unshared_corners(hand.farm)
        assert not hairlines(after)
        lost, gained = before.difference(after).area, after.difference(before).area
        assert way == "fill" or gained <= rounding_m2
        assert way == "cut" or lost <= rounding_m2


@pytest.mark.parametrize("beside_m", [0.0005, 0.002, 0.01])
def test_a_line_drawn_just_beside_two_corners_is_led_through_them(farm, beside_m):
    after = carried_out(farm, split(farm, 1, line((-beside_m, beside_m), (100 + beside_m, 100 - beside_m))))
    corners = np.unique(shapely.get_coordinates(list(existing_blocks(after).values())), axis=0)
    assert len(corners) == 6  # of two squares side by side
    assert ground(after).equals(ground(farm))


def test_a_hole_drawn_just_inside_an_edge_is_led_onto_it(farm):
    near = PASSED_M / 2
    after = carried_out(farm, hole_cut(farm, 1, area((near, 20), (30, 20), (30, 60), (near, 60))))
    assert existing_blocks(after)[1].area == pytest.approx(100 * 100 - 30 * 40)
    assert not after.blocks.geometry.loc[1].interiors


def test_no_strip_is_split_off_that_is_hardly_wider_than_a_hand(farm):
    width = LEAST_WIDTH_M / 2
    with pytest.raises(BadInput, match=r"a strip only 5 cm wide would come off at E .*; draw the line further inside"):
        split(farm, 1, line((-10, width), (110, width)))
