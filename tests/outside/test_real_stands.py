"""Real stem maps as farms: the figures of their blocks against numpy alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import pytest
from shapely import box

from farmmap.farm.farm import Farm, Settings, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import TABLES
from farmmap.figures.blocks import block_figures

DATA = Path(__file__).parent / "data"
WEST, SOUTH = 1_780_300.0, 5_500_000.0
FOOT = 0.3048


def _stand(x, y, window, breast=1.3, species=None, **measured) -> tuple[dict[str, object], float]:
    """Figures of one block drawn around the trees, and its area from pyproj alone."""
    grid = Grid(2193)
    outline = box(WEST + window[0], SOUTH + window[1], WEST + window[2], SOUTH + window[3])
    ids = np.arange(1, len(x) + 1)
    trees = {"x": WEST + np.asarray(x), "y": SOUTH + np.asarray(y)}
    if species is not None:
        trees["species"] = list(species)
    tables = {
        "blocks": shaped(TABLES["blocks"], {"name": ["stand"], "geometry": [outline]}, np.array([1]), grid),
        "trees": shaped(TABLES["trees"], trees, ids, grid),
    }
    if measured:
        days = np.full(len(x), np.datetime64("2020-01-01", "s"))
        values = {"tree": ids, "measured_on": days} | {k: np.asarray(v, float) for k, v in measured.items()}
        tables["measurements"] = shaped(TABLES["measurements"], values, ids, grid)
    there = pyproj.Transformer.from_crs(2193, 4167, always_xy=True)
    lon, lat = there.transform(*np.array(outline.exterior.coords).T)
    area, _ = pyproj.Geod(ellps="GRS80").polygon_area_perimeter(lon, lat)
    return dict(block_figures(Farm(Settings("Pipit Check", 2193, breast), tables)).rows[0]), abs(area) / 10_000


def test_spruces() -> None:
    trees = pd.read_csv(DATA / "spruces.csv")
    dbh = trees["marks"].to_numpy() * 100
    row, area = _stand(trees["x"], trees["y"], (0, 0, 56, 38), dbh_cm=dbh)
    assert row["gross_area_ha"] == pytest.approx(area, rel=1e-9)
    assert row["gross_area_ha"] == pytest.approx(0.2128, rel=1e-4)
    assert row["stems"] == 134
    assert row["stems_per_ha"] == pytest.approx(134 / area, rel=1e-9)
    assert row["basal_area_m2_per_ha"] == pytest.approx(np.sum(np.pi * (dbh / 200) ** 2) / area, rel=1e-9)
    assert row["qmd_cm"] == pytest.approx(25.470937, abs=1e-6)
    assert row["measured_percent"] == 100
    assert row["crown_cover_percent"] == pytest.approx(82.84, abs=0.02)
    edges = np.arange(15, 41, 5)
    counts = [int(((dbh >= low - 1e-6) & (dbh < low + 5 - 1e-6)).sum()) for low in edges[:-1]]
    assert [c["stems"] for c in row["diameter_classes"]] == counts


def test_pine_saplings_below_breast_height_count_as_stems_only() -> None:
    pines = pd.read_csv(DATA / "finpines.csv")
    row, area = _stand(pines["x"], pines["y"], (-5, -8, 5, 2), dbh_cm=pines["diameter"], height_m=pines["height"])
    real = pines[(pines["diameter"] > 0) & (pines["height"] >= 1.3)]["diameter"].to_numpy()
    assert row["stems"] == 126
    assert row["measured_percent"] == pytest.approx(100 * len(real) / 126)
    assert row["basal_area_m2_per_ha"] == pytest.approx(np.sum(np.pi * (real / 200) ** 2) / area, rel=1e-9)
    assert row["qmd_cm"] == pytest.approx(np.sqrt(np.mean(real**2)))
    assert row["mean_height_m"] == pytest.approx(2.828175, abs=1e-6)


def test_lansing_by_species_with_a_pair_at_one_place() -> None:
    trees = pd.read_csv(DATA / "lansing.csv")
    side = 924 * FOOT
    assert trees.duplicated(["x", "y"]).sum() == 1
    row, area = _stand(trees["x"] * side, trees["y"] * side, (0, 0, side, side), species=trees["marks"])
    assert row["stems_per_ha"] == pytest.approx(2251 / area, rel=1e-9)
    assert row["stems_per_ha"] == pytest.approx(283.793, rel=1e-4)
    assert {s["species"]: s["stems"] for s in row["species"]} == trees["marks"].value_counts().to_dict()
    assert row["basal_area_m2_per_ha"] is None
    assert row["measured_percent"] == 0


def test_nztrees_in_feet() -> None:
    trees = pd.read_csv(DATA / "nztrees.csv")
    row, area = _stand(trees["x"] * FOOT, trees["y"] * FOOT, (0, 0, 153 * FOOT, 95 * FOOT))
    assert row["stems"] == 86
    assert row["stems_per_ha"] == pytest.approx(86 / area, rel=1e-9)
    assert area == pytest.approx(153 * 95 * FOOT**2 / 1e4, rel=1e-4)
