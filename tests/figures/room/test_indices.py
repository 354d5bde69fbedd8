"""Indices of competition on farms: units, missing values, the edge of the ground, and many trees."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.figures.room.edges import arc_share, edge_weight
from farmmap.figures.room.indices import LEAST_APART_M, hegyi_part, indices, overlap_m2, usual_reach_m
from farmmap.figures.room.pairs import overlapping, within
from farmmap.figures.standing import crowns_of_stems_m, standing


def stand_of(farm_with, x, y, dbh, **crowns):
    """Trees that stand on a day, with what was measured of them; nan where not."""
    ids = np.arange(1, len(x) + 1)
    values = {"tree": ids, "measured_on": ["2020-01-01"] * len(ids), "dbh_cm": np.asarray(dbh, float), **crowns}
    farm = farm_with(trees={"x": np.asarray(x, float), "y": np.asarray(y, float)}, measurements=values)
    there = standing(farm)
    return there, crowns_of_stems_m(there, farm.species)


def test_three_neighbours_of_a_thirty(farm_with) -> None:
    """Worked by hand: Hegyi 0.741667, Martin and Ek 0.985052, zones 0.599935 (20 stem diameters wide)."""
    there, free = stand_of(farm_with, [0, 4, 0, -2.5], [0, 0, 5, 0], [30, 25, 40, 20])
    found = indices(there, free, reach_m=6.0, chosen=np.array([0]))
    assert free == pytest.approx([6, 5, 8, 4])
    assert found.hegyi == pytest.approx([0.741667], abs=1e-6)
    assert found.martin_ek == pytest.approx([0.985052], abs=1e-6)
    assert found.zone_overlap == pytest.approx([0.599935], abs=1e-6)
    assert found.crown_overlap == pytest.approx([0.630800], abs=1e-6)
    assert (found.neighbours.tolist(), found.unmeasured.tolist()) == ([3], [0])


def test_a_measured_crown_moves_the_crown_index_only(farm_with) -> None:
    there, free = stand_of(farm_with, [0, 4], [0, 0], [30, 30], crown_m=[3.0, 3.0])
    found = indices(there, free, reach_m=6.0)
    assert found.crown_overlap == pytest.approx([0, 0])
    assert found.zone_overlap == pytest.approx([overlap_m2(3, 3, 4) / (9 * np.pi)] * 2)


def test_trees_at_one_place_divide_by_no_zero(farm_with) -> None:
    there, free = stand_of(farm_with, [0, 0, 0], [0, 0, 3], [20, 40, 30])
    found = indices(there, free, reach_m=6.0)
    assert np.isfinite([found.hegyi, found.martin_ek, found.zone_overlap, found.crown_overlap]).all()
    assert found.hegyi[0] == pytest.approx(2 / LEAST_APART_M + 1.5 / 3)
    ground = shapely.box(-10, -10, 10, 10)
    assert indices(there, free, reach_m=6.0, ground=ground).hegyi == pytest.approx(found.hegyi)


def test_what_is_not_measured_is_not_made_up(farm_with) -> None:
    there, free = stand_of(farm_with, [0, 2, 4], [0, 0, 0], [np.nan, 20, 30])
    found = indices(there, free, reach_m=6.0)
    assert np.isnan(found.hegyi[0])
    assert found.hegyi[1] == pytest.approx(1.5 / 2)
    assert found.unmeasured.tolist() == [0, 1, 1]


def test_distances_are_ground_metres(farm_with) -> None:
    there, free = stand_of(farm_with, [0, 4 * 1.001], [0, 0], [30, 30])
    assert indices(there, free, reach_m=6, scale=1.001).hegyi == pytest.approx([0.25, 0.25])


def test_a_lone_tree_and_no_tree(farm_with) -> None:
    there, free = stand_of(farm_with, [5], [5], [30])
    found = indices(there, free)
    assert (found.hegyi.tolist(), found.crown_overlap.tolist()) == ([0.0], [0.0])
    nobody, none = stand_of(farm_with, [], [], [])
    assert len(indices(nobody, none, ground=shapely.box(0, 0, 1, 1)).hegyi) == 0


def test_reach_follows_the_crowns() -> None:
    """Lorimer 1983 (from memory): 3.5 mean crown radii, within bounds."""
    assert usual_reach_m([4.0, 6.0, np.nan]) == pytest.approx(3.5 * 2.5)
    assert usual_reach_m([0.2]) == 3.0
    assert usual_reach_m([]) == 3.0
    assert usual_reach_m([90.0]) == 20.0


def test_neighbours_are_those_a_plain_search_finds() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 40, (2, 300))
    radius = np.where(rng.random(300) < 0.1, np.nan, rng.uniform(0.2, 4, 300))
    x[7] = np.nan
    off = np.hypot(x[:, None] - x, y[:, None] - y)
    np.fill_diagonal(off, np.inf)
    some = np.array([3, 7, 90, 211])
    for chosen in (None, some):
        rows = np.arange(300) if chosen is None else some
        near = {
            (int(a), int(b)) for part in within(x, y, 5, chosen) for a, b in zip(part.tree, part.other, strict=True)
        }
        assert near == {(int(a), int(b)) for a in rows for b in np.flatnonzero(off[a] <= 5)}
        over = {
            (int(a), int(b))
            for part in overlapping(x, y, radius, chosen)
            for a, b in zip(part.tree, part.other, strict=True)
        }
        assert over == {(int(a), int(b)) for a in rows for b in np.flatnonzero(off[a] < radius[a] + radius)}


def test_many_pairs_come_in_parts(monkeypatch) -> None:
    monkeypatch.setattr("farmmap.figures.room.pairs.MOST_PAIRS", 50)
    rng = np.random.default_rng(6)
    x, y = rng.uniform(0, 30, (2, 200))
    parts = list(within(x, y, 4))
    assert len(parts) > 5
    off = np.hypot(x[:, None] - x, y[:, None] - y)
    assert sum(len(part.tree) for part in parts) == (off <= 4).sum() - 200
    assert sum(len(p.tree) for p in overlapping(x, y, np.full(200, 2.0))) == (off < 4).sum() - 200


NOTCHED = shapely.Polygon([(0, 0), (60, 0), (60, 40), (35, 40), (30, 15), (25, 40), (0, 40)]).difference(
    shapely.Point(12, 12).buffer(4)
)


@given(st.integers(0, 10_000), st.floats(0.2, 30))
def test_arcs_are_those_that_many_points_on_the_circle_say(seed: int, radius: float) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 60), rng.uniform(0, 40)
    if not shapely.intersects_xy(NOTCHED, x, y):
        return
    angle = (np.arange(4000) + 0.5) * 2 * np.pi / 4000
    said = shapely.contains_xy(NOTCHED, x + radius * np.cos(angle), y + radius * np.sin(angle)).mean()
    assert arc_share(np.array([x]), np.array([y]), np.array([radius]), NOTCHED)[0] == pytest.approx(said, abs=3e-3)


def test_arcs_at_corners_and_edges_of_a_box() -> None:
    x, y, radius = np.array([0.0, 5, 0, 5, 5]), np.array([0.0, 0, 5, 5, 5]), np.array([1.0, 1, 1, 5, 100])
    share = arc_share(x, y, radius, shapely.box(0, 0, 10, 10))
    assert share == pytest.approx([0.25, 0.5, 0.5, 1, 0], abs=1e-9)
    assert edge_weight(share)[-1] == 100


def test_the_edge_correction_is_free_of_bias(farm_with) -> None:
    """On simulated stands the corrected mean is that with the trees beyond the edge; without correction it is less."""
    rng = np.random.default_rng(11)
    truth, corrected, plain = [], [], []
    for _ in range(30):
        many = rng.poisson(0.05 * 90 * 70)
        x, y = rng.uniform(-15, 75, many), rng.uniform(-15, 55, many)
        there, free = stand_of(farm_with, x, y, rng.uniform(15, 45, many))
        own = np.flatnonzero(shapely.contains_xy(NOTCHED, x, y))
        whole = indices(there, free, reach_m=8, chosen=own)
        mapped, inside = stand_of(farm_with, x[own], y[own], there.dbh_cm[own])
        mended = indices(mapped, inside, reach_m=8, ground=NOTCHED)
        bare = indices(mapped, inside, reach_m=8)
        for out, found in ((truth, whole), (corrected, mended), (plain, bare)):
            out.append(
                [getattr(found, name).mean() for name in ("hegyi", "martin_ek", "zone_overlap", "crown_overlap")]
            )
    truth, corrected, plain = (np.array(values) for values in (truth, corrected, plain))
    off = corrected - truth
    error = off.std(axis=0, ddof=1) / np.sqrt(len(off))
    assert (np.abs(off.mean(axis=0)) < 3 * error).all()
    assert (np.abs(off.mean(axis=0)) < 0.02 * truth.mean(axis=0)).all()
    assert (plain.mean(axis=0)[[0, 2, 3]] < 0.93 * truth.mean(axis=0)[[0, 2, 3]]).all()


def test_the_spruces_corrected_come_near_the_guarded_ones(farm_with) -> None:
    """Their mean over 77 trees at least 6 m from every edge is 1.7556, over all without correction 1.5627."""
    import pandas as pd

    from tests.outside import test_room_values

    table = pd.read_csv(test_room_values.DATA / "spruces.csv")
    there, free = stand_of(farm_with, table["x"], table["y"], table["marks"] * 100)
    window = shapely.box(0, 0, 56, 38)
    assert indices(there, free, reach_m=6).hegyi.mean() == pytest.approx(1.562664, abs=1e-5)
    assert indices(there, free, reach_m=6, ground=window).hegyi.mean() == pytest.approx(1.7556, rel=0.05)


def test_the_formula_takes_single_numbers() -> None:
    assert hegyi_part(30, 30, 0) == pytest.approx(1 / LEAST_APART_M)
