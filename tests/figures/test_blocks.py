"""Figures of blocks: by hand, and what must not change them."""

from __future__ import annotations

import json

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, affinity, box

from farmmap.figures.blocks import block_figures, block_of_each_tree, block_rows
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.standing import standing
from farmmap.figures.whole_farm import farm_figures

NEEDED = (
    "name",
    "gross_area_ha",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "measured_percent",
    "crown_cover_percent",
    "species",
)


def _blocks(*shapes, names=None, **more) -> dict[str, object]:
    return {"name": names or [f"Block {n}" for n in range(1, len(shapes) + 1)], "geometry": list(shapes), **more}


def _measured(dbh, day="2020-01-01", **more) -> dict[str, object]:
    count = len(dbh)
    return {"tree": np.arange(1, count + 1), "measured_on": [day] * count, "dbh_cm": dbh, **more}


@pytest.fixture
def worked(farm_with, at, level):
    """A hectare with five trees, one of them dead, one of two stems, one not measured."""
    x = level[0] + np.array([10.0, 20, 30, 40, 50])
    return farm_with(
        blocks=_blocks(at(box(0, 0, 100, 100)), purpose=["timber"]),
        trees={
            "x": x,
            "y": np.full(5, level[1] + 50),
            "species": ["PRAD", "PRAD", "SSEM", "SSEM", "SSEM"],
            "status": ["alive", "alive", "dead", "alive", "alive"],
            "stems": [1, 1, 1, 2, 1],
        },
        species={"code": ["PRAD", "SSEM"], "name": ["radiata pine", ""]},
        measurements=_measured([30.0, 40.0, 90.0, 20.0, np.nan], height_m=[20.0, 24.0, 40.0, np.nan, 1.0]),
    )


def test_a_hectare_by_hand(worked) -> None:
    table = block_figures(worked)
    row = table.rows[0]
    basal = basal_area_m2([30, 40, 20, 20]).sum()
    assert row["gross_area_ha"] == pytest.approx(1, rel=1e-6)
    assert row["stems"] == 4
    assert row["stems_per_ha"] == pytest.approx(4, rel=1e-6)
    assert row["basal_area_m2_per_ha"] == pytest.approx(basal, rel=1e-6)
    assert row["qmd_cm"] == pytest.approx(np.sqrt((900 + 1600 + 400 + 400) / 4))
    assert row["diameters"] == 4
    assert row["mean_dbh_cm"] == pytest.approx(30)
    assert row["measured_percent"] == 75
    assert row["mean_height_m"] == pytest.approx(15)
    assert row["top_height_m"] == pytest.approx(22)
    crowns = np.pi / 4 * (6**2 + 8**2 + (0.2 * np.sqrt(800)) ** 2)
    assert row["crown_cover_percent"] == pytest.approx(crowns / 100, rel=1e-6)
    assert row["crown_estimated_percent"] == 100
    assert [(s["species"], s["code"], s["stems"]) for s in row["species"]] == [
        ("radiata pine", "PRAD", 2),
        ("SSEM", "SSEM", 2),
    ]
    assert sum(s["basal_area_m2_per_ha"] for s in row["species"]) == pytest.approx(basal, rel=1e-6)
    assert [(c["from_cm"], c["stems"]) for c in row["diameter_classes"]] == [
        (20, 1),
        (25, 0),
        (30, 1),
        (35, 0),
        (40, 1),
    ]


def test_json_has_the_promised_keys(worked) -> None:
    rows = json.loads(block_figures(worked).as_json())
    assert set(NEEDED) <= set(rows[0])
    assert {"species", "stems", "basal_area_m2_per_ha"} <= set(rows[0]["species"][0])


def test_width_of_classes_is_chosen(worked) -> None:
    classes = block_figures(worked, class_cm=20).rows[0]["diameter_classes"]
    assert [(c["from_cm"], c["to_cm"], c["stems"]) for c in classes] == [(20, 40, 2), (40, 60, 1)]


def test_net_area_is_less_tracks_creeks_and_hazards(farm_with, at) -> None:
    farm = farm_with(
        blocks=_blocks(at(Polygon(box(0, 0, 200, 100).exterior, [box(150, 40, 160, 50).exterior.coords]))),
        tracks={
            "name": ["a", "b"],
            "geometry": [at(LineString([(-10, 20), (210, 20)])), at(LineString([(0, 60), (200, 60)]))],
            "width_m": [4.0, 30.0],
            "stage": ["existing", "planned"],
        },
        creeks={"name": ["c"], "geometry": [at(LineString([(100, -10), (100, 110)]))], "channel_m": [6.0]},
        hazards={
            "kind": ["building", "power line", "pipeline"],
            "geometry": [at(box(10, 80, 20, 90)), at(LineString([(-5, 95), (205, 95)])), at(Point(500, 500))],
            "clear_m": [0.0, 2.0, 3.0],
        },
    )
    row = block_figures(farm).rows[0]
    out = 200 * 4 + 100 * 6 - 4 * 6 + 100 + 200 * 4 - 6 * 4
    assert row["gross_area_ha"] == pytest.approx(2 - 0.01, rel=1e-6)
    assert row["net_area_ha"] == pytest.approx((20_000 - 100 - out) / 10_000, rel=1e-6)
    assert row["taken_out_ha"] == pytest.approx(out / 10_000, rel=1e-6)


def test_a_building_takes_its_clear_ground_too(farm_with, at) -> None:
    farm = farm_with(
        blocks=_blocks(at(box(0, 0, 100, 100))),
        hazards={"kind": ["building"], "geometry": [at(box(40, 40, 60, 60))], "clear_m": [5.0]},
    )
    assert block_figures(farm).rows[0]["taken_out_ha"] * 1e4 == pytest.approx(400 + 4 * 20 * 5 + np.pi * 25, rel=1e-3)


def test_nobody_measured_is_not_a_basal_area_of_nought(farm_with, at, level) -> None:
    shapes = [at(box(0, 0, 100, 100)), at(box(200, 0, 300, 100))]
    farm = farm_with(blocks=_blocks(*shapes), trees={"x": [level[0] + 5], "y": [level[1] + 5]})
    unmeasured, bare = block_figures(farm).rows
    assert (unmeasured["stems"], unmeasured["basal_area_m2_per_ha"], unmeasured["qmd_cm"]) == (1, None, None)
    assert unmeasured["measured_percent"] == 0
    assert (bare["stems"], bare["basal_area_m2_per_ha"], bare["measured_percent"]) == (0, 0.0, None)
    assert bare["crown_cover_percent"] == 0
    assert bare["stems_per_ha"] == 0


def test_planned_blocks_have_areas_only_and_hold_no_trees(farm_with, at, level) -> None:
    farm = farm_with(
        blocks=_blocks(at(box(0, 0, 100, 100)), stage=["planned"]), trees={"x": [level[0] + 5], "y": [level[1] + 5]}
    )
    row = block_figures(farm).rows[0]
    assert row["gross_area_ha"] == pytest.approx(1, rel=1e-6)
    assert row["stems"] is None
    assert block_of_each_tree(farm).tolist() == [-1]
    assert "planned" in block_figures(farm).as_text().lower()


def test_crowns_reach_in_from_outside_and_coincident_trees_count_once_for_cover(farm_with, at, level) -> None:
    farm = farm_with(
        blocks=_blocks(at(box(0, 0, 100, 100))),
        trees={"x": level[0] + np.array([50.0, 50, 50, -2]), "y": level[1] + np.array([50.0, 50, 50, 50])},
        measurements=_measured([20.0] * 4, crown_m=[6.0, 6.0, 6.0, 8.0]),
    )
    row = block_figures(farm).rows[0]
    cap = 16 * np.arccos(0.5) - 2 * np.sqrt(12)
    assert row["stems"] == 3
    assert row["crown_cover_percent"] == pytest.approx((9 * np.pi + cap) / 100, rel=1e-6)
    assert row["crown_estimated_percent"] == 0


def _scattered(farm_with, epsg=2193, shift=None, order=None, carry=lambda s: s):
    random = np.random.default_rng(5)
    xy = random.uniform(0, 300, (400, 2)) + np.array([1_600_000, 5_480_000])
    dbh = random.uniform(5, 60, 400)
    shapes = [box(i * 100, j * 100, i * 100 + 95, j * 100 + 90) for i in range(3) for j in range(3)]
    shapes = [carry(affinity.translate(s, 1_600_000, 5_480_000)) for s in shapes]
    places = shapely.get_coordinates([carry(Point(p)) for p in xy])
    order = np.arange(400) if order is None else order
    track = carry(LineString([(1_600_000, 5_480_010), (1_600_300, 5_480_250)]))
    farm = farm_with(
        epsg,
        blocks=_blocks(*shapes),
        tracks={"name": ["t"], "geometry": [track]},
        trees={"x": places[order, 0], "y": places[order, 1]},
        measurements=_measured(dbh[order], height_m=10 + dbh[order] / 4),
    )
    return block_figures(farm), farm


FIGURES = ("gross_area_ha", "net_area_ha", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm", "crown_cover_percent")


def test_order_of_rows_does_not_matter(farm_with) -> None:
    one, _ = _scattered(farm_with)
    other, _ = _scattered(farm_with, order=np.random.default_rng(9).permutation(400))
    for name in (*FIGURES, "stems", "top_height_m"):
        assert other.column(name) == pytest.approx(one.column(name), rel=1e-9)


@pytest.mark.parametrize("epsg", [32759, 32760, 27200])
def test_the_same_farm_on_another_grid_has_the_same_figures(farm_with, epsg: int) -> None:
    import pyproj

    there = pyproj.Transformer.from_crs(2193, epsg, always_xy=True)
    ellipsoid_differs = epsg == 27200
    carry = lambda s: shapely.transform(s, lambda c: np.column_stack(there.transform(c[:, 0], c[:, 1])))  # noqa: E731
    one, _ = _scattered(farm_with)
    other, _ = _scattered(farm_with, epsg, carry=carry)
    for name in FIGURES:
        assert other.column(name) == pytest.approx(one.column(name), rel=1e-4 if ellipsoid_differs else 1e-5)
    assert other.column("stems") == one.column("stems")


def test_some_blocks_are_worked_out_as_all_are(farm_with) -> None:
    table, farm = _scattered(farm_with)
    some = block_rows(farm, standing(farm), np.array([2, 7]), farm.settings.class_cm)
    assert len(some) == 2
    for block, row in zip((2, 7), some, strict=True):
        assert row == table.row_of(block)


def test_blocks_that_overlap_are_said(farm_with, at, level) -> None:
    farm = farm_with(
        blocks=_blocks(at(box(0, 0, 100, 100)), at(box(50, 0, 150, 100))),
        trees={"x": [level[0] + 75], "y": [level[1] + 50]},
    )
    table = block_figures(farm)
    assert table.column("stems") == [1, 0]
    assert any("overlap" in note for note in table.notes)


def test_an_outline_that_crosses_itself_still_has_an_area(farm_with, at) -> None:
    bow = at(Polygon([(0, 0), (100, 100), (100, 0), (0, 100)]))
    assert block_figures(farm_with(blocks=_blocks(bow))).rows[0]["gross_area_ha"] == pytest.approx(0.5, rel=1e-6)


def test_breast_height_is_said(farm_with, at) -> None:
    farm = farm_with(blocks=_blocks(at(box(0, 0, 9, 9))), settings={"breast_height_m": 1.4})
    assert "1.4 m" in block_figures(farm).as_text()


def test_an_empty_farm(farm_with) -> None:
    table = block_figures(farm_with())
    assert len(table.rows) == 0
    assert "Nothing to show" in table.as_text()


def test_the_farms_notes_tell_of_shown_columns_only(worked) -> None:
    whole, each = farm_figures(worked).as_text(), block_figures(worked).as_text()
    for told in ("Top height:", "Rates are per hectare"):
        assert told in each
        assert told not in whole
    assert "breast height" in whole
