"""Figures of single trees, their history, and the whole farm."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest
from shapely import LineString, box

from farmmap.errors import BadInput
from farmmap.figures.trees import tree_figures, tree_history
from farmmap.figures.whole_farm import farm_figures

NEEDED = ("tag", "species", "block", "planted", "age_years", "dbh_cm", "measured_on", "mean_annual_increment_cm")


@pytest.fixture
def grown(farm_with, at, level):
    """Three trees, one in a block and one felled, over ten years."""
    return farm_with(
        boundary={"geometry": [at(box(0, 0, 200, 100))]},
        blocks={"name": ["North"], "geometry": [at(box(0, 0, 100, 50))]},
        creeks={"name": ["Sedge"], "geometry": [at(LineString([(0, 80), (200, 80)]))], "channel_m": [2.0]},
        fences={"name": ["f"], "geometry": [at(LineString([(0, 91), (100, 91)]))]},
        tracks={"name": ["t"], "geometry": [at(LineString([(0, 60), (300, 60)]))]},
        trees={
            "x": level[0] + np.array([20.0, 120.0, 30.0]),
            "y": level[1] + np.array([20.0, 86.0, 20.0]),
            "tag": ["T1", "", "T3"],
            "species": ["TOT", "QQ", "TOT"],
            "planted": ["2000-01-01", "", "2001"],
            "status": ["alive", "alive", "felled"],
            "status_on": ["", "", "2012-01-01"],
        },
        species={"code": ["TOT"], "name": ["totara"], "origin": ["native"]},
        measurements={
            "tree": [1, 1, 3, 2],
            "measured_on": ["2010-01-01", "2020-01-01", "2010-01-01", "2020-01-01"],
            "dbh_cm": [10.0, 24.0, 12.0, np.nan],
            "crown_m": [np.nan, np.nan, np.nan, 6.0],
        },
    )


def test_trees_on_a_day(grown) -> None:
    rows = json.loads(tree_figures(grown).as_json())
    assert set(NEEDED) <= set(rows[0])
    first = rows[0]
    assert (first["tag"], first["species"], first["code"], first["block"]) == ("T1", "totara", "TOT", "North")
    assert (first["dbh_cm"], first["measured_on"], first["planted"]) == (pytest.approx(24), "2020-01-01", "2000-01-01")
    assert first["age_years"] == pytest.approx(20, abs=0.01)
    assert first["mean_annual_increment_cm"] == pytest.approx(1.2, abs=0.001)
    second = rows[1]
    assert (second["species"], second["block"], second["dbh_cm"], second["age_years"]) == ("QQ", "", None, None)
    assert (second["crown_m"], second["crown_from"]) == (6.0, "measured")
    assert len(rows) == 2


def test_trees_go_back_to_an_earlier_day(grown) -> None:
    table = tree_figures(grown, dt.date(2011, 1, 1))
    assert list(table.ids) == [1, 2, 3]
    assert table.column("dbh_cm") == [pytest.approx(10), None, pytest.approx(12)]
    assert table.column("age_years")[0] == pytest.approx(11, abs=0.01)
    assert table.column("mean_annual_increment_cm")[0] == pytest.approx(1.0, abs=0.001)


def test_history_of_a_tree(grown) -> None:
    table = tree_history(grown, 1)
    assert table.column("measured_on") == ["2010-01-01", "2020-01-01"]
    assert table.column("dbh_cm") == [10, 24]
    assert table.column("breast_height_m") == [1.3, 1.3]
    assert "T1" in table.as_text()
    assert len(tree_history(grown, 2).rows) == 1
    with pytest.raises(BadInput, match="no tree with id 77"):
        tree_history(grown, 77)


def test_the_whole_farm(grown) -> None:
    row = farm_figures(grown).rows[0]
    assert row["boundary_area_ha"] == pytest.approx(2, rel=1e-5)
    assert row["blocks_net_area_ha"] == pytest.approx(0.5, rel=1e-5)
    assert (row["stems"], row["stems_in_blocks"], row["species_count"], row["blocks"]) == (2, 1, 2, 1)
    assert row["measured_percent"] == 50
    assert row["basal_area_m2"] == pytest.approx(np.pi * 0.12**2)
    assert row["bank_length_m"] == pytest.approx(400, rel=1e-5)
    assert row["bank_fenced_percent"] == pytest.approx(25, abs=0.01)
    assert row["margin_area_ha"] == pytest.approx(0.4, rel=1e-5)
    assert row["margin_planted_ha"] == pytest.approx(np.pi * 9 / 1e4, rel=1e-5)
    assert row["margin_cover_percent"] == pytest.approx(np.pi * 9 / 40, rel=1e-5)
    assert (row["creek_length_m"], row["fence_length_m"], row["track_length_m"]) == pytest.approx(
        (200, 100, 300), rel=1e-5
    )


def test_blocks_that_share_ground_are_counted_once(farm_with, at) -> None:
    farm = farm_with(blocks={"name": ["a", "b"], "geometry": [at(box(0, 0, 100, 100)), at(box(50, 0, 150, 100))]})
    assert farm_figures(farm).rows[0]["blocks_gross_area_ha"] == pytest.approx(1.5, rel=1e-5)


def test_an_empty_farm(farm_with) -> None:
    assert json.loads(tree_figures(farm_with()).as_json()) == []
    row = farm_figures(farm_with()).rows[0]
    assert (row["stems"], row["basal_area_m2"], row["boundary_area_ha"]) == (0, 0.0, None)
