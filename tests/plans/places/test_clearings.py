"""What is kept clear: nothing of it is nearer than said, only what is near counts, and the grower is told."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.plans.planting.places.clearings import beside_fences, clearings
from farmmap.plans.planting.recipes.recipe import SetBacks
from tests.conftest import small_farm
from tests.place import EAST, NORTH

NEAR = box(EAST - 20, NORTH - 60, EAST + 220, NORTH - 10)
NOTHING = SetBacks(fence_m=None, track_m=None)


def _with(farm: Farm, table: str, **values: object) -> Farm:
    count = len(next(iter(values.values())))
    return farm.with_tables(**{table: shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)})


def _bare() -> Farm:
    farm = small_farm()
    empty = {name: farm.tables[name].iloc[:0] for name in ("fences", "tracks", "hazards", "trees", "measurements")}
    return farm.with_tables(**empty)


def _at(*corners: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in corners])


def _reaches(ground: shapely.Geometry, thing: shapely.Geometry, distance: float, give: float = 1.003) -> None:
    """Ground holds all within a distance of a thing, and hardly more."""
    assert shapely.difference(shapely.buffer(thing, distance, quad_segs=256), ground).area < 1e-6
    wide = shapely.buffer(thing, distance * give + 1e-6, quad_segs=256)
    assert shapely.difference(ground, wide).area < 1e-6


def test_fence_track_and_power_line():
    farm = small_farm()
    farm = farm.with_tables(trees=farm.trees.iloc[:0], measurements=farm.measurements.iloc[:0])
    fence, line = farm.fences.geometry.iloc[0], farm.hazards.geometry.iloc[0]
    ground = clearings(farm, SetBacks(fence_m=1.5), NEAR, 1.0).ground
    _reaches(ground.difference(line.buffer(4.1)), fence.difference(line.buffer(4.1)), 1.5, 1.1)
    _reaches(ground.difference(fence.buffer(1.6)), line.difference(fence.buffer(1.6)), 4.0, 1.1)
    assert shapely.difference(shapely.union(fence.buffer(1.5), line.buffer(4.0)), ground).area < 1e-6
    assert not ground.intersects(Point(EAST + 50, NORTH + 95))  # the track is far off


@pytest.mark.parametrize(
    ("given_m", "asked_m", "kept_m"), [(4.0, None, 4.0), (4.0, 9.0, 9.0), (4.0, 2.0, 4.0), (0.0, 3.0, 3.0)]
)
@pytest.mark.parametrize("kind", ["power line", "building", "pipeline", "drain"])
def test_the_wider_of_the_farm_s_and_the_recipe_s_counts(kind, given_m, asked_m, kept_m):
    thing = _at((0, -30), (60, -20))
    farm = _with(_bare(), "hazards", name=["x"], kind=[kind], clear_m=[given_m], geometry=[thing])
    asked = SetBacks(**({"fence_m": None, "track_m": None} | {kind.replace(" ", "_") + "_m": asked_m}))
    kept = clearings(farm, asked, NEAR, 1.0)
    _reaches(kept.ground, thing, kept_m)
    assert any(f"{kept_m:g} m" in note for note in kept.notes)


def test_where_no_distance_is_said_only_the_thing_itself_is_kept_clear_and_a_caution_says_so():
    house = box(EAST + 10, NORTH - 40, EAST + 20, NORTH - 30)
    farm = _with(_bare(), "hazards", name=["House"], kind=["building"], clear_m=[0.0], geometry=[house])
    kept = clearings(farm, NOTHING, NEAR, 1.0)
    assert kept.ground.equals(house)
    note = next(note for note in kept.notes if note.startswith("A building"))
    assert "only the thing itself" in note
    assert "differs from place to place" in note


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("pipeline", "Ask before you dig"),
        ("drain", "digger"),
        ("power line", "lines company"),
        ("building", "local code"),
    ],
)
def test_each_kind_of_hazard_has_its_caution(kind, words):
    farm = _with(_bare(), "hazards", name=["x"], kind=[kind], clear_m=[2.0], geometry=[_at((0, -30), (60, -20))])
    assert any(words in note for note in clearings(farm, NOTHING, NEAR, 1.0).notes)


def test_tracks_count_from_their_edges():
    farm = _with(_bare(), "tracks", name=["t"], width_m=[5.0], geometry=[_at((0, -30), (60, -20))])
    _reaches(clearings(farm, SetBacks(track_m=3.0), NEAR, 1.0).ground, _at((0, -30), (60, -20)), 5.5)
    _reaches(clearings(farm, NOTHING, NEAR, 1.0).ground, _at((0, -30), (60, -20)), 2.5)


def test_the_boundary_counts_on_its_inside_and_a_caution_goes_with_none():
    farm = _bare()
    kept = clearings(farm, SetBacks(fence_m=None, track_m=None, boundary_m=10.0), NEAR, 1.0)
    assert kept.ground.contains(Point(EAST + 100, NORTH - 51))
    assert not kept.ground.intersects(Point(EAST + 100, NORTH - 49))
    assert not any("boundary" in note for note in kept.notes)
    without = clearings(farm, NOTHING, NEAR, 1.0)
    assert without.ground.is_empty
    assert any("boundary" in note for note in without.notes)


def test_crowns_measured_estimated_and_unknown():
    x, y = EAST + np.array([0.0, 30.0, 60.0, 90.0, 120.0]), NORTH + np.full(5, -30.0)
    farm = _with(_bare(), "trees", x=x, y=y, species=["TOTA"] * 5, status=["alive"] * 4 + ["dead"])
    farm = _with(
        farm,
        "measurements",
        tree=[1, 2],
        measured_on=np.array(["2024-07-01"] * 2, "datetime64[s]"),
        crown_m=[6.0, np.nan],
        dbh_cm=[np.nan, 20.0],
    )
    kept = clearings(farm, SetBacks(crown_m=1.0, fence_m=None, track_m=None), NEAR, 1.0)
    parts = sorted(shapely.get_parts(kept.ground), key=lambda part: part.centroid.x)
    radius = [math.sqrt(part.area / math.pi) for part in parts]
    assert len(parts) == 4  # the dead one keeps nothing clear
    _reaches(parts[0], Point(x[0], y[0]), 4.0, 1.01)
    assert radius[1] > 1.5
    assert radius[2:] == pytest.approx([1.0, 1.0], rel=0.01)
    assert any("protected" in note for note in kept.notes)
    assert any("estimated" in note for note in kept.notes)
    assert any("2 trees near have no crown" in note for note in kept.notes)


def test_a_crown_whose_stem_stands_outside_counts_where_it_reaches_in():
    far = NORTH + 40.0 + 60  # outside the squares looked at, but its crown is wide
    farm = _with(_bare(), "trees", x=[EAST + 100.0], y=[far], species=["TOTA"])
    farm = _with(farm, "measurements", tree=[1], measured_on=np.array(["2024-07-01"], "datetime64[s]"), crown_m=[60.0])
    near = box(EAST + 90, far - 32, EAST + 110, far - 25)
    ground = clearings(farm, SetBacks(crown_m=2.0, fence_m=None, track_m=None), near, 1.0).ground
    assert shapely.intersection(ground, near).area > 0
    assert shapely.difference(shapely.intersection(Point(EAST + 100, far).buffer(32.0), near), ground).area < 1e-6


def test_planned_fences_count_and_do_not_stay():
    farm = _bare()
    fence = _at((0, -20), (100, -20))
    back = SetBacks(fence_m=2.0)
    _reaches(beside_fences(back, NEAR, fence, 1.0), fence, 2.0)
    assert clearings(farm, back, NEAR, 1.0).ground.is_empty
    assert beside_fences(NOTHING, NEAR, fence, 1.0) is None
    assert beside_fences(back, NEAR, None, 1.0) is None
    assert beside_fences(back, NEAR, _at((0, 500), (100, 500)), 1.0) is None


def test_plants_of_another_plan_are_kept_clear_of_and_told():
    x = np.array([EAST + 20.0, EAST + 25.0, EAST + 2_000.0])
    trees = {"x": x, "y": np.full(3, NORTH - 25.0), "stage": ["planned"] * 3, "status": ["alive"] * 3}
    kept = clearings(_with(_bare(), "trees", **trees), NOTHING, NEAR, 1.0)
    assert kept.ground.contains(Point(EAST + 20.0, NORTH - 25.0))
    assert shapely.distance(kept.ground, Point(EAST + 20.6, NORTH - 25.0)) > 0
    assert [note for note in kept.notes if "2 trees are planned already" in note]
    assert not [note for note in clearings(_bare(), NOTHING, NEAR, 1.0).notes if "planned already" in note]


def test_distances_are_metres_of_ground():
    thing = _at((0, -30), (60, -20))
    farm = _with(_bare(), "fences", name=["f"], geometry=[thing])
    _reaches(clearings(farm, SetBacks(fence_m=2.0), NEAR, 1.5).ground, thing, 3.0)


def test_the_answer_is_at_hand_while_a_margin_is_drawn_wider_and_the_same_however_it_came():
    farm = small_farm()
    back = SetBacks(fence_m=1.0)
    first = clearings(farm, back, NEAR, 1.0)
    wider = clearings(farm, back, shapely.buffer(NEAR, 0.5), 1.0)
    assert wider.ground is first.ground
    anew = clearings(small_farm(), back, NEAR, 1.0)
    assert shapely.equals_exact(anew.ground, first.ground)
    assert anew.notes == first.notes


def test_rows_without_shape_broken_outlines_and_nothing_near():
    twisted = shapely.Polygon(
        [(EAST, NORTH - 40), (EAST + 20, NORTH - 20), (EAST + 20, NORTH - 40), (EAST, NORTH - 20)]
    )
    farm = _with(
        _bare(), "hazards", name=["a", "b"], kind=["other", "building"], clear_m=[1.0, 0.0], geometry=[None, twisted]
    )
    farm = _with(farm, "fences", name=["a", "b"], geometry=[None, LineString()])
    kept = clearings(farm, SetBacks(), NEAR, 1.0)
    assert kept.ground.is_valid
    assert kept.ground.area == pytest.approx(200.0)
    for near in (None, shapely.Polygon()):
        assert clearings(farm, SetBacks(), near, 1.0).ground.is_empty
    far = box(EAST + 5_000, NORTH, EAST + 5_100, NORTH + 50)
    assert clearings(farm, SetBacks(), far, 1.0).ground.is_empty
    assert clearings(farm, SetBacks(), far, 1.0).notes == ()
    assert clearings(small_farm().with_tables(boundary=farm.boundary.iloc[:0]), SetBacks(), NEAR, 1.0).ground.area > 0
