"""Plants of a zone: inside clear ground, apart, as many as the ground holds, the same for the same input."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.errors import BadInput
from farmmap.farm.heights import Heights
from farmmap.figures.areas import polygons_only
from farmmap.plans.planting.places.places import places
from farmmap.plans.planting.places.spacing import kept_apart, least_apart_m, plants_per_m2
from farmmap.plans.planting.recipes.recipe import Pattern, Zone
from tests.place import EAST, NORTH
from tests.plans.creek_strips import nearest, outside_m, strips_along
from tests.plans.meanders import seine_creek, sine_generated_creek, wandering_creek

PLANTED = tuple(pattern for pattern in Pattern if pattern is not Pattern.NONE)


def _hillside(ground: shapely.Geometry) -> Heights:
    """Ground that rises to the north-west, wide enough for a strip."""
    west, south, east, north = shapely.buffer(ground, 60).bounds
    cell = max(east - west, north - south) / 120
    columns, rows = np.meshgrid(np.arange(121), np.arange(121))
    x, y = columns * cell, -rows * cell
    return Heights(100 + 0.12 * y - 0.05 * x + 2 * np.sin(x / 37) * np.cos(y / 41), west, north, cell, cell)


def _holes(ground: shapely.Geometry, seed: int, count: int) -> shapely.Geometry:
    """Ground less some discs, as crowns that stand there."""
    random = np.random.default_rng(seed)
    west, south, east, north = ground.bounds
    middles = shapely.points(random.uniform(west, east, count), random.uniform(south, north, count))
    return polygons_only(
        shapely.difference(ground, shapely.union_all(shapely.buffer(middles, random.uniform(1, 6, count))))
    )


def _checked(zone, ground, reach, part, side, heights):
    """Places of a zone with what must hold of them, whatever the ground; those that are kept apart."""
    found = places(zone, ground, reach, part, side, 1.0, heights, 5)
    assert len(found.x) == len(found.y) == len(found.row) == len(found)
    assert outside_m(ground, found.x, found.y) < 1e-6
    keep = kept_apart(found.x, found.y, least_apart_m(zone))
    assert nearest(found.x[keep], found.y[keep]) >= 0.99 * least_apart_m(zone)
    again = places(zone, ground, reach, part, side, 1.0, heights, 5)
    assert (again.x == found.x).all()
    assert (again.y == found.y).all()
    return found, keep


@pytest.mark.parametrize("pattern", PLANTED)
@settings(max_examples=12)
@given(seed=st.integers(0, 300), between=st.floats(1.0, 5.0), share=st.floats(0.4, 1.0), channel=st.floats(0.5, 8.0))
def test_what_holds_for_any_creek(pattern, seed, between, share, channel):
    kind = seed % 3
    line = (
        wandering_creek(seed, 18)
        if kind == 0
        else sine_generated_creek(160, 200, 20 + seed % 85, 70.0)
        if kind == 1
        else seine_creek(1 + seed % 3, 0.0004)
    )
    zones = (
        Zone("water", width_m=2 * between, pattern=pattern, between_m=between, within_m=between * share),
        Zone("timber", None, 4 * between, pattern, 2 * between, between, headland_m=between),
    )
    _, part, strips = strips_along(line, 6 * between, zones, channel)
    for side, zone, ground, reach in strips:
        clear = _holes(ground, seed, 6) if not ground.is_empty else ground
        _checked(zone, clear, reach, part, side, _hillside(ground) if not ground.is_empty else None)


@pytest.mark.parametrize("pattern", PLANTED)
@pytest.mark.parametrize(
    "line",
    [
        sine_generated_creek(1000, 3000, 70, 120.0),
        sine_generated_creek(1200, 240, 45, 160.0),
        seine_creek(2, 0.005),
        shapely.LineString([(EAST, NORTH), (EAST + 1200, NORTH + 500)]),
    ],
    ids=["meander of thousands of corners", "gentle meander", "real river made small", "straight"],
)
def test_as_many_as_area_and_density_say(pattern, line):
    """Within 3 % away from edges; what stands too near at a neck of the creek or a hairpin is left out on both sides."""
    zone = Zone("all", share=1.0, pattern=pattern, between_m=2.0, within_m=1.5)
    _, part, strips = strips_along(line, 12.0, (zone,))
    for side, _, ground, reach in strips:
        heights = _hillside(ground)
        found, keep = _checked(zone, ground, reach, part, side, heights)
        assert found.notes == ()
        inner = _away_from_edges(ground, pattern)
        count = int(shapely.contains_xy(inner, found.x[keep], found.y[keep]).sum())
        assert count == pytest.approx(inner.area * plants_per_m2(zone), rel=0.03)


def _away_from_edges(ground, pattern):
    """Ground a row from its edges; all of it for patterns that keep half a row from the edges of a strip themselves."""
    return shapely.buffer(ground, -2.0 if pattern in (Pattern.SCATTERED, Pattern.CONTOUR) else 0.01)


def test_rows_of_one_kilometre_of_straight_creek_by_hand():
    """8 m in rows 2 m apart and 2.5 m along them: 4 rows of 400 on each bank, 1 m, 3 m, 5 m and 7 m from it."""
    line = shapely.LineString([(EAST, NORTH), (EAST + 1000, NORTH)])
    zone = Zone("bank", share=1.0, between_m=2.0, within_m=2.5)
    _, part, strips = strips_along(line, 8.0, (zone,), channel_m=3.0)
    for side, _, ground, reach in strips:
        found = places(zone, ground, reach, part, side, 1.0, None, 1)
        assert np.bincount(found.row).tolist() == [400] * 4
        off = shapely.distance(part.line, shapely.points(found.x, found.y)) - 1.5
        assert off == pytest.approx(1.0 + 2.0 * found.row)


def test_grid_metres_are_not_ground_metres():
    line = shapely.LineString([(EAST, NORTH), (EAST + 200, NORTH)])
    zone = Zone("bank", share=1.0, between_m=2.0, within_m=2.0)
    _, part, strips = strips_along(line, 8.0, (zone,))
    side, _, ground, _ = strips[0]
    for pattern in PLANTED:
        wide = Zone(**(vars(zone) | {"pattern": pattern}))
        found = places(wide, ground, (0.0, 4.0), part, side, 2.0, None, 1)  # 2 grid metres for a metre
        assert nearest(found.x, found.y) >= 4.0 * 0.99


def test_a_ring_of_creek_and_islands_of_clear_ground():
    turn = np.linspace(0, 2 * np.pi, 200)
    ring = shapely.LineString(np.column_stack([EAST + 40 * np.cos(turn), NORTH + 40 * np.sin(turn)]))
    zone = Zone("bank", share=1.0, between_m=2.0, within_m=2.0)
    _, part, strips = strips_along(ring, 6.0, (zone,))
    assert {side for side, *_ in strips} == {0, 1}
    for side, _, ground, reach in strips:
        _, keep = _checked(zone, ground, reach, part, side, None)
        assert keep.sum() == pytest.approx(ground.area / 4, rel=0.03)


def test_nothing_to_plant():
    line = sine_generated_creek(200, 100, 40)
    zone = Zone("bank", share=1.0, between_m=2.0, within_m=2.0)
    _, part, _ = strips_along(line, 6.0, (zone,))
    for pattern in Pattern:
        one = Zone(**(vars(zone) | {"pattern": pattern}))
        for ground in (None, shapely.Polygon(), shapely.MultiPolygon(), shapely.LineString([(0, 0), (1, 1)])):
            assert len(places(one, ground, (0.0, 6.0), part, 0, 1.0, None, 1)) == 0
    grass = Zone("grass", share=1.0, pattern=Pattern.NONE)
    assert len(places(grass, shapely.box(EAST, NORTH, EAST + 9, NORTH + 9), (0.0, 6.0), part, 0, 1.0, None, 1)) == 0


@pytest.mark.parametrize("pattern", PLANTED)
def test_slivers_many_parts_bow_ties_and_spacings_as_wide_as_the_farm(pattern):
    line = sine_generated_creek(200, 100, 40)
    _, part, strips = strips_along(line, 6.0, (Zone("bank", share=1.0),))
    ground = strips[0][2]
    west, south, east, north = ground.bounds
    sliver = shapely.intersection(ground, shapely.box(west, south, east, (south + north) / 2 + 1e-4))
    scraps = shapely.union_all(
        shapely.buffer(shapely.points(np.linspace(west, east, 40), np.full(40, (south + north) / 2)), 1.1)
    )
    bow_tie = shapely.Polygon([(west, south), (east, north), (east, south), (west, north)])
    for clear in (sliver, scraps, bow_tie, polygons_only(shapely.intersection(scraps, ground))):
        for between in (0.7, 5_000.0):
            zone = Zone("bank", share=1.0, pattern=pattern, between_m=between, within_m=between)
            valid = clear if clear.is_valid else shapely.make_valid(clear)
            found = places(zone, clear, (0.0, 6.0), part, 0, 1.0, None, 1)
            assert outside_m(valid, found.x, found.y) < 1e-6
            keep = kept_apart(found.x, found.y, between)
            assert nearest(found.x[keep], found.y[keep]) >= 0.99 * between


def test_contour_rows_fall_back_to_the_creek_and_say_why():
    line = sine_generated_creek(200, 100, 40)
    zone = Zone("upper bank", share=1.0, pattern=Pattern.CONTOUR, between_m=2.0, within_m=2.0)
    _, part, strips = strips_along(line, 6.0, (zone,))
    side, _, ground, reach = strips[0]
    along = places(Zone(**(vars(zone) | {"pattern": Pattern.ROWS})), ground, reach, part, side, 1.0, None, 1)
    found = places(zone, ground, reach, part, side, 1.0, None, 1)
    assert (found.x == along.x).all()
    assert len(found.notes) == 1
    assert "upper bank" in found.notes[0]
    assert "no elevation grid" in found.notes[0]
    assert "along the creek" in found.notes[0]


@pytest.mark.parametrize(("between", "within"), [(0.0, 1.0), (-1.0, 1.0), (0.0, 0.0), (1.0, -2.0)])
def test_a_spacing_of_nothing_is_refused(between, within):
    line = sine_generated_creek(200, 100, 40)
    zone = Zone("upper bank", share=1.0, between_m=between, within_m=within)
    _, part, strips = strips_along(line, 6.0, (zone,))
    with pytest.raises(BadInput, match="upper bank"):
        places(zone, strips[0][2], (0.0, 6.0), part, 0, 1.0, None, 1)


def test_more_plants_than_could_be_counted_are_refused():
    line = sine_generated_creek(2000, 100, 40)
    zone = Zone("upper bank", share=1.0, between_m=0.02, within_m=0.02)
    _, part, strips = strips_along(line, 6.0, (zone,))
    with pytest.raises(BadInput, match="is the spacing right"):
        places(zone, strips[0][2], (0.0, 6.0), part, 0, 1.0, None, 1)
