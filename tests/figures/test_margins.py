"""Creek margins against hand-worked geometry, at a place where the grid's scale is 1."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from farmmap.farm.grids import Grid
from farmmap.figures.margins import margin_figures, margins

NEEDED = (
    "creek",
    "bank",
    "area_ha",
    "length_m",
    "mean_width_m",
    "fenced_percent",
    "cover_percent",
    "longest_gap_m",
)


@pytest.fixture
def creeks(at):
    """Columns of the table of creeks from lists of corners."""

    def make(*lines, **more):
        more.setdefault("name", [f"Creek {n}" for n in range(1, len(lines) + 1)])
        return {"geometry": [at(LineString(line)) for line in lines], **more}

    return make


def _m2(table) -> list[float]:
    return [row["area_ha"] * 10_000 for row in table.rows]


def test_banks_are_walked_when_a_figure_asks_for_it(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (200, 0)]))
    left, _ = margins(farm)
    assert "walked" not in vars(left)
    margin_figures(farm)
    assert margins(farm)[0] is left
    assert "walked" in vars(left)


def test_straight(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (200, 0)], channel_m=[4.0], left_margin_m=[15.0]))
    table = margin_figures(farm)
    assert table.column("bank") == ["left", "right"]
    assert _m2(table) == pytest.approx([3000, 2000], rel=1e-5)
    assert table.column("length_m") == pytest.approx([200, 200], rel=1e-5)
    assert table.column("mean_width_m") == pytest.approx([15, 10], rel=1e-5)
    left, right = margins(farm)
    assert left.polygon.bounds[1] - right.polygon.bounds[3] == pytest.approx(4)
    assert json.loads(table.as_json())[0].keys() >= set(NEEDED)


@pytest.mark.parametrize("turn", [20, 60, 90, 130])
def test_bent(farm_with, creeks, turn: float) -> None:
    angle = np.radians(turn)
    end = (300 + 300 * np.cos(angle), 300 * np.sin(angle))
    farm = farm_with(creeks=creeks([(0, 0), (300, 0), end], channel_m=[4.0]))
    ring = 12**2 - 2**2
    inner, outer = 6000 - np.tan(angle / 2) * ring, 6000 + angle / 2 * ring
    table = margin_figures(farm)
    assert _m2(table) == pytest.approx([inner, outer], rel=2e-5)
    assert table.column("length_m") == pytest.approx([600 - 4 * np.tan(angle / 2), 600 + 2 * angle], rel=2e-5)


def test_two_creeks_that_join_square(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (400, 0)], [(200, 150), (200, 0)], channel_m=[4.0, 2.0]))
    table = margin_figures(farm)
    main_left, main_right = 400 * 10 - 2 * 10, 400 * 10
    side = (150 - 2 - 10) * 10
    assert _m2(table) == pytest.approx([main_left, main_right, side, side], rel=1e-5)
    assert table.column("length_m") == pytest.approx([398, 400, 148, 148], rel=1e-5)
    grounds = [margin.polygon for margin in margins(farm)]
    assert shapely.union_all(grounds).area == pytest.approx(sum(ground.area for ground in grounds), rel=1e-9)


def test_a_fork_of_one_creek_at_an_angle(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (400, 0)], [(100, 100), (200, 0)], name=["Sedge"] * 2, channel_m=[0.0] * 2))
    left, right = margins(farm)
    assert left.polygon.intersection(right.polygon).area < 1e-6
    corner = 10 / np.tan(np.pi / 8)
    slant = np.hypot(100, 100)
    overlap_upstream = 10 * corner
    overlap_downstream = 10 * (10 / np.tan(3 * np.pi / 8))
    total = 400 * 20 + slant * 20 - overlap_upstream - overlap_downstream
    assert left.polygon.union(right.polygon).area == pytest.approx(total, rel=2e-3)


def test_drawn_as_a_bank(farm_with, creeks) -> None:
    farm = farm_with(
        creeks=creeks(
            [(0, 0), (100, 0)], [(0, -6), (100, -6)], name=["Sedge"] * 2, drawn_as=["left bank", "right bank"]
        )
    )
    left, right = margins(farm)
    assert (left.polygon.bounds[3] - left.polygon.bounds[1]) == pytest.approx(10)
    assert left.polygon.bounds[1] - right.polygon.bounds[3] == pytest.approx(6)
    assert (left.length_m, right.length_m) == pytest.approx((100, 100), rel=1e-5)
    only = margins(farm_with(creeks=creeks([(0, 0), (100, 0)], drawn_as=["right bank"])))
    assert [margin.bank for margin in only] == ["right"]


def test_water_that_runs_against_the_line_swaps_the_banks(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (100, 0)], flows=["against"], left_margin_m=[5.0], right_margin_m=[20.0]))
    assert _m2(margin_figures(farm)) == pytest.approx([500, 2000], rel=1e-5)
    left, right = margins(farm)
    assert left.polygon.centroid.y < right.polygon.centroid.y


def test_several_lines_of_one_name_are_one_creek(farm_with, creeks) -> None:
    lines = [(0, 0), (100, 0)], [(100, 0), (200, 0)], [(300, 0), (200, 0)]
    farm = farm_with(creeks=creeks(*lines, name=["Sedge"] * 3, flows=["as drawn", "as drawn", "against"]))
    table = margin_figures(farm)
    assert _m2(table) == pytest.approx([3000, 3000], rel=1e-5)
    assert margins(farm)[0].creek_ids == (1, 2, 3)


def test_cut_to_the_farm(farm_with, creeks, at) -> None:
    farm = farm_with(
        creeks=creeks([(-50, 0), (150, 0)], channel_m=[2.0]),
        boundary={"geometry": [at(box(0, -100, 100, 5))], "name": ["all"]},
    )
    table = margin_figures(farm)
    assert _m2(table) == pytest.approx([400, 1000], rel=1e-5)
    assert table.column("length_m") == pytest.approx([100, 100], rel=1e-5)
    assert table.column("mean_width_m") == pytest.approx([4, 10], rel=1e-5)


def test_planned_creeks_and_creeks_off_the_farm_have_no_margin(farm_with, creeks, at) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0)], [(0, 5000), (100, 5000)], stage=["planned", "existing"]),
        boundary={"geometry": [at(box(-10, -100, 110, 100))]},
    )
    assert margins(farm) == []


def test_fenced_share(farm_with, creeks, at) -> None:
    fences = {
        "geometry": [
            at(LineString([(0, 11), (50, 11)])),
            at(LineString([(60, 13.4), (80, 13.4)])),
            at(LineString([(0, -8), (100, -8)])),
        ],
        "stage": ["existing", "existing", "planned"],
    }
    farm = farm_with(creeks=creeks([(0, 0), (100, 0)], channel_m=[2.0]), fences=fences)
    assert margin_figures(farm).column("fenced_percent") == pytest.approx([70, 0], abs=0.01)
    far = fences | {"geometry": [at(LineString([(0, 13.6), (100, 13.6)]))] * 3}
    assert margin_figures(farm_with(creeks=creeks([(0, 0), (100, 0)], channel_m=[2.0]), fences=far)).column(
        "fenced_percent"
    ) == [0, 0]


@pytest.fixture
def planted(farm_with, creeks, level):
    """A creek of 100 m with three crowns of 10 m over its left margin, one reaching in from outside."""
    x = level[0] + np.array([20.0, 25.0, 70.0, 90.0])
    y = level[1] + np.array([6.0, 6.0, 6.0, 200.0])
    return farm_with(
        creeks=creeks([(0, 0), (100, 0)], channel_m=[2.0]),
        trees={"x": x, "y": y, "species": ["TOT", "PRAD", "ODD", "TOT"]},
        species={"code": ["TOT", "PRAD"], "origin": ["native", "introduced"]},
        measurements={"tree": [1, 2, 3, 4], "measured_on": ["2020-01-01"] * 4, "crown_m": [10.0] * 4},
    )


def test_cover_gap_and_native_share(planted) -> None:
    left, right = margin_figures(planted).rows
    lens = 2 * 25 * np.arccos(0.5) - 2.5 * np.sqrt(75)
    assert left["cover_percent"] == pytest.approx(100 * (75 * np.pi - lens) / 1000, rel=1e-5)
    assert left["longest_gap_m"] == pytest.approx(35, abs=1)
    assert (left["stems"], left["native_percent"], left["unknown_origin"]) == (3, 50, 1)
    assert left["crown_estimated_percent"] == 0
    assert (right["cover_percent"], right["stems"], right["native_percent"]) == (0, 0, None)
    assert right["longest_gap_m"] == pytest.approx(100, rel=1e-5)


def test_a_ring_of_bare_bank_is_one_gap(farm_with, creeks, level) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (40, 0), (40, 40), (0, 40), (0, 0)], channel_m=[0.0]),
        trees={"x": [level[0] + 20], "y": [level[1] + 3.0]},
        measurements={"tree": [1], "measured_on": ["2020-01-01"], "crown_m": [4.0]},
    )
    left, _ = margin_figures(farm).rows
    assert left["length_m"] == pytest.approx(160, rel=1e-5)
    assert left["longest_gap_m"] == pytest.approx(156, abs=1)


@pytest.mark.parametrize("epsg", [32759, 32760])
def test_the_same_creek_on_another_grid(farm_with, epsg: int) -> None:
    import pyproj

    there = pyproj.Transformer.from_crs(2193, epsg, always_xy=True)
    line = shapely.segmentize(LineString([(1_600_000, 5_480_000), (1_600_300, 5_480_100), (1_600_350, 5_480_400)]), 20)
    moved = shapely.transform(line, lambda c: np.column_stack(there.transform(c[:, 0], c[:, 1])))
    one, other = (
        margin_figures(farm_with(code, creeks={"name": ["Sedge"], "geometry": [shape], "channel_m": [6.0]}))
        for code, shape in ((2193, line), (epsg, moved))
    )
    for name in ("area_ha", "length_m", "mean_width_m"):
        assert other.column(name) == pytest.approx(one.column(name), rel=2e-5)


def test_widths_are_metres_of_ground(farm_with) -> None:
    grid = Grid(2193)
    line = LineString([(1_600_000, 5_480_000), (1_600_500, 5_480_000)])
    farm = farm_with(creeks={"name": ["Sedge"], "geometry": [line], "channel_m": [5.0]})
    row = margin_figures(farm).rows[0]
    assert grid.scale(1_600_250, 5_480_000) < 0.9997
    assert row["mean_width_m"] == pytest.approx(10, rel=1e-5)
    assert row["length_m"] == pytest.approx(500 / 0.9996, rel=1e-6)


def test_a_boundary_that_crosses_itself_is_mended(farm_with, creeks, at) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0)]),
        boundary={"geometry": [at(Polygon([(-50, -50), (150, 50), (150, -50), (-50, 50)]))]},
    )
    assert all(margin.area_ha > 0 for margin in margins(farm))


def test_an_empty_farm(farm_with) -> None:
    assert margins(farm_with()) == []
    assert margin_figures(farm_with()).as_json() == "[]"


def _crowns(level, *crowns) -> dict[str, dict]:
    """Tables of trees and measurements from crowns: east, north, diameter."""
    x, y, across = np.array(crowns, float).T
    return {
        "trees": {"x": level[0] + x, "y": level[1] + y},
        "measurements": {
            "tree": np.arange(1, len(x) + 1),
            "measured_on": ["2020-01-01"] * len(x),
            "crown_m": across,
        },
    }


@pytest.mark.parametrize("channel_m", [2.0, 0.0])
def test_what_lies_across_the_creek_does_not_count_at_a_hairpin(farm_with, creeks, at, level, channel_m) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0), (100, 8), (0, 8)], channel_m=[channel_m]),
        fences={"geometry": [at(LineString([(0, -3), (90, -3)]))]},
        **_crowns(level, (50, -4, 4)),
    )
    left, right = margin_figures(farm).rows
    half = channel_m / 2
    inner = 2 * (100 - half) + 8 - channel_m
    assert left["length_m"] == pytest.approx(inner, rel=1e-5)
    assert (left["fenced_percent"], left["cover_percent"]) == (0, 0)
    assert left["longest_gap_m"] == pytest.approx(inner, rel=1e-5)
    assert right["fenced_m"] == pytest.approx(90, abs=1)
    assert right["longest_gap_m"] == pytest.approx(right["length_m"] - 52, abs=1)


def test_what_lies_across_another_creek_does_not_count(farm_with, creeks, at, level) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0)], [(0, 5), (100, 5)], channel_m=[2.0, 0.0]),
        fences={"geometry": [at(LineString([(0, 8), (60, 8)]))]},
        **_crowns(level, (30, 8, 2)),
    )
    near, _, far, _ = margin_figures(farm).rows
    assert (near["creek"], near["bank"], near["fenced_percent"]) == ("Creek 1", "left", 0)
    assert near["longest_gap_m"] == pytest.approx(100, rel=1e-5)
    assert (far["creek"], far["bank"]) == ("Creek 2", "left")
    assert far["fenced_percent"] == pytest.approx(60, abs=0.1)
    assert far["longest_gap_m"] == pytest.approx(69, abs=1)


def test_crowns_outside_the_farm_leave_a_gap_while_its_boundary_fence_counts(farm_with, creeks, at, level) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0)], channel_m=[2.0]),
        boundary={"geometry": [at(box(-10, -50, 110, 6))]},
        fences={"geometry": [at(LineString([(0, 6.5), (40, 6.5)]))]},
        **_crowns(level, (50, 9, 4)),
    )
    left = margin_figures(farm).rows[0]
    assert left["longest_gap_m"] == pytest.approx(100, rel=1e-5)
    assert left["fenced_percent"] == pytest.approx(40, abs=0.1)


@pytest.fixture
def widening(farm_with, creeks, at, level):
    """A creek of two stretches that differ in every width, with a fence and two crowns."""
    return farm_with(
        creeks=creeks(
            [(0, 0), (100, 0)],
            [(100, 0), (200, 0)],
            name=["Sedge"] * 2,
            channel_m=[2.0, 4.0],
            left_margin_m=[5.0, 15.0],
            right_margin_m=[5.0, 0.0],
        ),
        fences={"geometry": [at(LineString([(0, 8.5), (100, 8.5)]))]},
        **_crowns(level, (50, 10, 2), (150, 10, 2)),
    )


def test_each_stretch_looks_as_far_as_its_own_margin(widening) -> None:
    left, right = margin_figures(widening).rows
    assert (left["bank"], left["fenced_percent"]) == ("left", 0)
    assert left["longest_gap_m"] == pytest.approx(149, abs=1)
    assert right["area_ha"] * 10_000 == pytest.approx(500, rel=1e-4)


def test_the_step_where_the_channel_widens_is_no_bank(widening) -> None:
    left, right = margin_figures(widening).rows
    assert left["length_m"] == pytest.approx(200, rel=1e-5)
    assert right["length_m"] == pytest.approx(100, rel=1e-5)
    assert margins(widening)[0].walked.total == pytest.approx(200, rel=1e-5)


def test_a_fork_keeps_the_bank_of_both_arms(farm_with, creeks) -> None:
    farm = farm_with(creeks=creeks([(0, 0), (200, 0)], [(100, 80), (100, 0)], name=["Sedge"] * 2, channel_m=[2.0, 4.0]))
    assert sum(margin_figures(farm).column("length_m")) == pytest.approx(200 + 196 + 2 * 79, rel=1e-5)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"stage": ["planned"]}, "only planned"),
        ({"left_margin_m": [0.0], "right_margin_m": [0.0]}, "0 m wide"),
        ({"channel_m": [3.0]}, "outside its boundary"),
    ],
)
def test_a_farm_with_creeks_but_no_margins_is_told_why(farm_with, creeks, at, changes, told) -> None:
    farm = farm_with(
        creeks=creeks([(0, 0), (100, 0)], **changes), boundary={"geometry": [at(box(0, 500, 100, 600))], "name": ["F"]}
    )
    table = margin_figures(farm)
    assert table.rows == ()
    assert told in table.as_text()
    assert any(told in note for note in table.notes)


def test_a_farm_without_creeks_is_told_so(farm_with) -> None:
    assert "no creeks yet" in margin_figures(farm_with()).as_text()


def test_quick_cover_while_something_moves_is_close_to_the_exact_one(farm_with, at, level) -> None:
    random = np.random.default_rng(12)
    creeks = {"name": ["c"], "geometry": [at(LineString([(0, 0), (150, 20), (300, 0)]))], "channel_m": [2.0]}
    farm = farm_with(
        creeks=creeks,
        trees={"x": level[0] + random.uniform(-10, 310, 900), "y": level[1] + random.uniform(-25, 45, 900)},
        measurements={
            "tree": np.arange(1, 901),
            "measured_on": ["2020-01-01"] * 900,
            "crown_m": random.uniform(1, 6, 900),
        },
    )
    quick = margin_figures(farm, quick=True)
    exact = margin_figures(farm)
    assert quick.column("cover_percent") == pytest.approx(exact.column("cover_percent"), rel=1e-3)
    assert quick.column("cover_percent") != exact.column("cover_percent")
    for name in ("area_ha", "length_m", "longest_gap_m", "stems", "crown_estimated_percent"):
        assert quick.column(name) == exact.column(name)
    assert margin_figures(farm, quick=True).rows == exact.rows
