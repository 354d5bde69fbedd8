"""What holds a tree back: each row says what is really so once that tree is gone."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.figures.canopy import covered_area
from farmmap.figures.catalogue import CATALOGUE, working
from farmmap.figures.grounds import grounds
from farmmap.figures.room.holding import COLUMNS, MOST_NAMED, holds_back
from farmmap.figures.room.indices import indices
from farmmap.figures.room.space import growing_space
from farmmap.figures.standing import crowns_of_stems_m, standing

DAY = dt.date(2020, 6, 1)


def stand(farm_with, level, x, y, dbh, blocks=((0, 0, 60, 40),), **more):
    """A farm of its own block, its trees tagged T1, T2 and so on."""
    east, north = level
    ids = np.arange(1, len(x) + 1)
    known = np.isfinite(np.asarray(dbh, float))
    readings = {
        "tree": ids[known],
        "measured_on": ["2020-01-01"] * known.sum(),
        "dbh_cm": np.asarray(dbh, float)[known],
    }
    return farm_with(
        blocks={
            "name": [f"Block {n}" for n in range(1, len(blocks) + 1)],
            "geometry": [shapely.box(east + a, north + b, east + c, north + d) for a, b, c, d in blocks],
        },
        trees={
            "tag": [f"T{one}" for one in ids],
            "x": east + np.asarray(x, float),
            "y": north + np.asarray(y, float),
            **more,
        },
        measurements=readings,
    )


@pytest.fixture
def many(farm_with, level):
    rng = np.random.default_rng(4)
    x, y = rng.uniform(0, 60, 150), rng.uniform(0, 40, 150)
    return stand(farm_with, level, x, y, rng.uniform(12, 40, 150))


def middle_tree(farm):
    there = standing(farm, DAY)
    return int(there.ids[np.argmin(np.hypot(there.x - np.mean(there.x), there.y - np.mean(there.y)))])


def test_taking_one_out_gives_what_its_row_says(many) -> None:
    tree = middle_tree(many)
    found = holds_back(many, tree, DAY)
    assert len(found.rows) > 4
    for row, other in list(zip(found.rows, found.ids, strict=True))[:6]:
        without = many.with_tables(trees=many.trees.drop(index=other))
        there, ground = standing(without, DAY), grounds(without)
        own = int(np.searchsorted(there.ids, tree))
        free = crowns_of_stems_m(there, without.species)
        scale = without.grid.scale(there.x[own], there.y[own])
        left = indices(there, free, scale=scale, chosen=np.array([own]), reach_m=found.reach_m)
        assert row["index_left"] == pytest.approx(left.hegyi[0])
        space = [
            growing_space(there.x, there.y, ground.net[0])[own],
            growing_space(*(standing(many, DAY).x, standing(many, DAY).y), ground.net[0])[tree - 1],
        ]
        assert row["space_gained_m2"] == pytest.approx((space[0] - space[1]) / scale**2, abs=1e-6)
        assert row["crown_freed_m2"] == pytest.approx(
            _crown_shared(many, tree) - _crown_shared(without, tree), rel=5e-3
        )


def _crown_shared(farm, tree):
    """Part of a tree's crown under other crowns, in m²."""
    there = standing(farm, DAY)
    own = int(np.searchsorted(there.ids, tree))
    crown = shapely.Point(there.x[own], there.y[own]).buffer(there.crown_m[own] / 2, 128)
    others = np.arange(len(there)) != own
    return covered_area(there.x[others], there.y[others], there.crown_m[others] / 2, crown)


def test_the_strongest_come_first_and_shares_make_up_the_whole(many) -> None:
    found = holds_back(many, middle_tree(many), DAY)
    shares = [row["share_percent"] for row in found.rows]
    assert shares == sorted(shares, reverse=True)
    assert len(shares) <= MOST_NAMED
    if len(shares) < MOST_NAMED:
        assert sum(shares) == pytest.approx(100)
    assert found.around[0].id == found.tree
    assert set(found.ids) <= {one.id for one in found.around}
    row = found.rows[0]
    assert row["share_percent"] == pytest.approx(
        100 * row["dbh_cm"] / row["own_dbh_cm"] / row["apart_m"] / row["index_whole"]
    )


def test_bearings_and_distances(farm_with, level) -> None:
    farm = stand(farm_with, level, [30, 34, 30, 26, 30], [20, 20, 25, 20, 17], [30, 28, 26, 24, 22])
    found = holds_back(farm, 1, DAY)
    turn = farm.grid.convergence_deg(level[0] + 30, level[1] + 20)
    told = {row["tag"]: (row["apart_m"], row["bearing_deg"]) for row in found.rows}
    for tag, apart, bearing in (("T2", 4, 90), ("T3", 5, 0), ("T4", 4, 270), ("T5", 3, 180)):
        assert told[tag][0] == pytest.approx(apart, abs=1e-4)
        assert (told[tag][1] - bearing - turn + 180) % 360 - 180 == pytest.approx(0, abs=0.01)


def test_two_at_one_place(farm_with, level) -> None:
    farm = stand(farm_with, level, [30, 30, 36], [20, 20, 20], [30, 28, 26])
    row = holds_back(farm, 1, DAY).rows[0]
    assert (row["tag"], row["bearing_deg"]) == ("T2", None)
    assert row["space_gained_m2"] == pytest.approx(row["space_m2"], rel=1e-6)


def test_what_cannot_be_weighed_is_said(farm_with, level) -> None:
    farm = stand(farm_with, level, [30, 33, 50], [20, 20, 5], [np.nan, 28, 26])
    assert not holds_back(farm, 1, DAY).rows
    assert "no diameter" in holds_back(farm, 1, DAY).notes[0]
    lone = holds_back(farm, 3, DAY)
    assert not lone.rows
    assert "No measured tree stands within" in lone.notes[0]
    assert any("1 tree within reach has no diameter" in note for note in holds_back(farm, 2, DAY).notes)
    with pytest.raises(BadInput, match="no tree with id 77"):
        holds_back(farm, 77, DAY)


def test_a_tree_that_does_not_stand_is_named(farm_with, level) -> None:
    farm = stand(farm_with, level, [30, 33], [20, 20], [30, 28], planted=["2030", "2010"])
    with pytest.raises(BadInput, match="tree T1 does not stand on 2020-06-01"):
        holds_back(farm, 1, DAY)


def test_near_the_edge_it_says_what_lies_beyond(farm_with, level) -> None:
    farm = stand(farm_with, level, [0.5, 3, 30, 33], [20, 22, 20, 22], [30, 28, 30, 28])
    notes = " ".join(holds_back(farm, 1, DAY).notes)
    assert "of that circle lies outside the blocks" in notes
    assert "the index is about" in notes
    assert "outside the blocks" not in " ".join(holds_back(farm, 3, DAY).notes)


def test_a_tree_outside_all_blocks_has_no_space_of_its_own(farm_with, level) -> None:
    farm = stand(farm_with, level, [70, 73], [20, 20], [30, 28])
    row = holds_back(farm, 1, DAY).rows[0]
    assert row["space_gained_m2"] is None
    assert row["crown_freed_m2"] > 0


def test_every_figure_can_be_explained(many) -> None:
    row = holds_back(many, middle_tree(many), DAY).rows[0]
    for name in COLUMNS:
        assert CATALOGUE[name].title
        assert "not known" not in working(name, {**row, "measured_on": "2020-01-01"})


def test_the_same_question_is_answered_once(many) -> None:
    tree = middle_tree(many)
    assert holds_back(many, tree, DAY) is holds_back(many, tree, DAY)
