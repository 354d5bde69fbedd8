"""What fences take of the farm: it is never shared between threads, and never older than the farm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, box

from farmmap.plans.planting.fences.farm_lines import farm_boundary, farm_tracks
from farmmap.plans.planting.fences.fence import fencing
from farmmap.plans.planting.ground.stretch import find_part
from farmmap.plans.planting.recipes.recipe import FenceWish
from tests.plans.fences.test_fence import STRAIGHT, along, with_rows
from tests.plans.meanders import creek_farm


def test_troughs_follow_the_margin_of_the_farm():
    """Another creek whose own margin is not given has the farm's; what was worked out before that changed is stale."""
    farm, part, grounds = along(STRAIGHT, sides=(0,))
    farm = with_rows(
        farm,
        "creeks",
        name=["Sedge Creek", "Alder Brook"],
        channel_m=[2.0, 2.0],
        left_margin_m=[10.0, np.nan],
        right_margin_m=[10.0, np.nan],
        geometry=[part.reaches[0].line, LineString([(100, 50), (100, 70)])],
    )
    part = find_part(farm, part.stretch)
    wish = FenceWish(water_every_m=300.0, water_off_m=30.0, ends=False)
    brook = farm.creeks.geometry.iloc[1]
    off = []
    for margin_m in (1.0, 20.0):
        farm = replace(farm, settings=replace(farm.settings, margin_m=margin_m))
        (fence,) = fencing(farm, part, grounds, wish, None, 1.0).lines
        off.append(shapely.distance(brook, shapely.points(fence.troughs)).min())
    assert off[0] < 10.0
    assert off[1] > 21.0


def test_no_two_callers_share_a_prepared_shape():
    """Two threads that ask the same prepared shape at once bring GEOS down."""
    farm = creek_farm(STRAIGHT, local=True)
    farm = with_rows(farm, "boundary", name=[""], geometry=[box(-50, -50, 250, 100)])
    farm = with_rows(farm, "tracks", name=["Mob track"], geometry=[LineString([(0, 0), (9, 9)])])
    for of in (farm_boundary, farm_tracks):
        one, other = of(farm), of(farm)
        assert one.equals(other)
        assert one is not other
        assert shapely.is_prepared([one, other]).all()
