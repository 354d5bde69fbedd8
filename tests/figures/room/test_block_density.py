"""Density of blocks, competition within one, and the density diagram."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest
import shapely

from farmmap.figures.catalogue import CATALOGUE, working
from farmmap.figures.room.blocks import COLUMNS, block_with_competition, competition_in, room_figures
from farmmap.figures.room.diagram import DENSITIES, Stand, density_diagram
from tests.outside.test_room_values import DATA

DAY = dt.date(2020, 6, 1)


@pytest.fixture
def spruces(farm_with, level):
    """The spruces as a block, and a neighbouring block with two trees."""
    east, north = level
    table = pd.read_csv(DATA / "spruces.csv")
    x, y = np.append(table["x"], [57, 70]), np.append(table["y"], [19, 30])
    dbh = np.append(table["marks"] * 100, [30, 30])
    ids = np.arange(1, len(x) + 1)
    return farm_with(
        blocks={
            "name": ["Spruces", "Beside", "Later"],
            "stage": ["existing", "existing", "planned"],
            "geometry": [shapely.box(east + a, north, east + b, north + 38) for a, b in ((0, 56), (56, 80), (80, 90))],
        },
        trees={"x": east + x, "y": north + y},
        measurements={"tree": ids, "measured_on": ["2020-01-01"] * len(ids), "dbh_cm": dbh, "height_m": dbh * 0.8},
    )


def test_a_row_for_each_block_that_stands(spruces) -> None:
    table = room_figures(spruces, DAY)
    assert table.column("name") == ["Spruces", "Beside"]
    row = table.rows[0]
    assert row["stand_density_index"] == pytest.approx(632.5242, rel=1e-4)
    assert row["stand_density_index_25"] == pytest.approx(648.8459, rel=1e-4)
    assert row["summed_density_index"] == pytest.approx(625.6437, rel=1e-4)
    assert row["relative_density"] == pytest.approx(32.085803 / np.sqrt(25.470937), rel=1e-4)
    assert row["mean_spacing_m"] == pytest.approx(np.sqrt(10_000 / 629.6992), rel=1e-4)
    assert row["relative_spacing_percent"] == pytest.approx(100 * row["mean_spacing_m"] / row["top_height_m"])
    assert row["crown_competition_percent"] == pytest.approx(
        128.3432, rel=1e-3
    )  # 20 stem diameters, as crowns are here
    assert row["evenness"] == pytest.approx(1.23872, abs=2e-4)
    assert row["crown_to_stem"] is None  # no crown was measured
    for name in COLUMNS:
        assert name in CATALOGUE
        if row[name] is not None:
            assert "not known" not in working(name, row)


def test_measured_crowns_give_the_ratio(farm_with, level) -> None:
    east, north = level
    farm = farm_with(
        blocks={"name": ["A"], "geometry": [shapely.box(east, north, east + 50, north + 50)]},
        trees={"x": east + np.array([10.0, 20, 30]), "y": north + np.array([10.0, 20, 30])},
        measurements={
            "tree": [1, 2, 3],
            "measured_on": ["2020-01-01"] * 3,
            "dbh_cm": [20, 30, 40],
            "crown_m": [5, 6, np.nan],
        },
    )
    row = room_figures(farm, DAY).rows[0]
    assert row["crown_to_stem"] == pytest.approx(22.5)
    assert row["crowns_measured"] == 2


def test_crown_competition_takes_the_crowns_that_stems_would_have_standing_free(farm_with, level) -> None:
    """Krajicek, Brinkman and Gingrich 1961: crowns as measured are those of the stand, not of free trees."""
    east, north = level
    farm = farm_with(
        blocks={"name": ["A"], "geometry": [shapely.box(east, north, east + 50, north + 50)]},
        trees={"x": east + np.array([10.0, 20]), "y": north + np.array([10.0, 20])},
        measurements={"tree": [1, 2], "measured_on": ["2020-01-01"] * 2, "dbh_cm": [20, 40], "crown_m": [1.5, 2.5]},
    )
    free = 100 * np.pi / 4 * (4.0**2 + 8.0**2) / 2500  # 20 stem diameters, as no species says otherwise
    assert room_figures(farm, DAY).rows[0]["crown_competition_percent"] == pytest.approx(free, rel=1e-4)


def test_a_block_without_trees_or_without_readings_claims_nothing(farm_with, level) -> None:
    east, north = level
    farm = farm_with(
        blocks={
            "name": ["A", "B"],
            "geometry": [shapely.box(east + w, north, east + w + 50, north + 50) for w in (0, 50)],
        },
        trees={"x": east + np.array([10.0, 20]), "y": north + np.array([10.0, 20])},
    )
    unmeasured, empty = room_figures(farm, DAY).rows
    assert unmeasured["mean_spacing_m"] == pytest.approx(np.sqrt(2500 / 2), rel=1e-4)
    for row in (unmeasured, empty):
        assert row["stand_density_index"] is None
        assert density_diagram(row) is None
    assert empty["mean_spacing_m"] is None
    assert block_with_competition(farm, 2, DAY).row_of(2)["mean_hegyi"] is None


def test_competition_in_a_block_counts_neighbours_in_the_next(spruces) -> None:
    mapped, corrected, space = competition_in(spruces, 1, DAY)
    assert len(mapped.hegyi) == 134
    assert space.sum() == pytest.approx(2128, rel=1e-4)
    assert corrected.hegyi.mean() > mapped.hegyi.mean()
    alone = competition_in(spruces.with_tables(trees=spruces.trees.loc[:134]), 1, DAY)[0]
    assert mapped.hegyi.sum() > alone.hegyi.sum()
    row = block_with_competition(spruces, 1, DAY).row_of(1)
    assert row["mean_hegyi"] == pytest.approx(mapped.hegyi.mean())
    assert row["space_low_m2"] < row["space_high_m2"]


def test_the_diagram_has_lines_of_equal_density_through_the_block(spruces) -> None:
    row = room_figures(spruces, DAY).rows[0]
    path = [Stand(40.0, 600.0, "2040", forecast=True)]
    diagram = density_diagram(row, path)
    assert diagram is not None
    assert diagram.stands[0].stems_per_ha == pytest.approx(629.6992, rel=1e-4)
    assert diagram.stands[1] is path[0]
    lines = {line.words: line for line in diagram.lines}
    assert set(map(str, DENSITIES)) < set(lines)
    line = lines["400"]
    assert np.interp(25.4, line.qmd_cm, line.stems_per_ha) == pytest.approx(400, rel=5e-3)
    slope = np.polyfit(np.log(line.qmd_cm), np.log(line.stems_per_ha), 1)[0]
    assert slope == pytest.approx(-1.605)
    crowns = next(line for line in diagram.lines if line.kind == "crowns")
    at_own = np.exp(np.interp(np.log(row["qmd_cm"]), np.log(crowns.qmd_cm), np.log(crowns.stems_per_ha)))
    assert at_own * row["crown_competition_percent"] / 100 == pytest.approx(row["measured_stems_per_ha"])
