"""Thinning and final stocking against textbook values.

The thinning is that of 0.02 ha with diameters 18 to 34 cm, ratios d/D after Jørgensen and after Eide and Langsæter
(from memory), worked out by hand; stockings from crown width after Dawkins 1963 (from memory) and from the ratio of
diameter to basal area, worked out by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.plans.thinning.final_stocking import spacing_m, stems_by_crown_per_ha, stems_by_ratio_per_ha
from farmmap.plans.thinning.stand import block_trees
from farmmap.plans.thinning.thinning import thinning_as_marked
from tests.plans.thinning.stands import stand_farm

BEFORE = [18, 20, 22, 24, 25, 26, 28, 30, 31, 34]
REMOVED = {18, 20, 22, 25}


@pytest.fixture(scope="module")
def rows():
    """Return the rows before, taken and after, per hectare of exactly 0.02 ha of ground."""
    farm = stand_farm(np.linspace(1, 13, 10), np.linspace(2, 12, 10), BEFORE, side=np.sqrt(200.0))
    farm = farm.with_tables(trees=farm.trees.assign(mark=["take" if dbh in REMOVED else "" for dbh in BEFORE]))
    scale = block_trees(farm, 1).net_ha / 0.02
    return *thinning_as_marked(farm, 1).table.rows, scale


def test_thinning_of_a_fiftieth_of_a_hectare(rows) -> None:
    before, taken, after, scale = rows
    for row, stems, basal, mean in (
        (before, 500, 27.041259, 26.241189),
        (taken, 200, 7.198174, 21.406775),
        (after, 300, 19.843085, 29.020108),
    ):
        assert row["stems_per_ha"] * scale == pytest.approx(stems, abs=1e-6)
        assert row["basal_area_m2_per_ha"] * scale == pytest.approx(basal, abs=1e-5)
        assert row["qmd_cm"] == pytest.approx(mean, abs=1e-5)


def test_thinning_ratios(rows) -> None:
    _, taken, _, _ = rows
    assert taken["stems_percent"] == pytest.approx(40.0)
    assert taken["basal_area_percent"] == pytest.approx(26.619227, abs=1e-5)
    assert taken["qmd_to_before"] == pytest.approx(0.815770, abs=1e-5)
    assert taken["qmd_to_after"] == pytest.approx(0.737653, abs=1e-5)
    assert taken["thinning_ratio"] == pytest.approx(1.502673, abs=1e-5)


@pytest.mark.parametrize(
    ("ratio", "squares", "triangles", "ground"),
    [(15, 123.46, 142.56, 157.19), (20, 69.44, 80.19, 88.42), (25, 44.44, 51.32, 56.59)],
)
def test_stocking_by_crown_at_60_cm(ratio, squares, triangles, ground) -> None:
    crown = ratio * 0.60
    assert stems_by_crown_per_ha(crown) == pytest.approx(squares, abs=0.01)
    assert stems_by_crown_per_ha(crown, "triangles") == pytest.approx(triangles, abs=0.01)
    assert stems_by_crown_per_ha(crown, "ground") == pytest.approx(ground, abs=0.01)


@pytest.mark.parametrize(
    ("ratio", "stems"),
    [(2, (212.207, 127.324, 106.103, 90.946)), (3, (141.471, 84.883, 70.736, 60.630))],
)
def test_stocking_by_diameter_to_basal_area(ratio, stems) -> None:
    found = [stems_by_ratio_per_ha(dbh, ratio) for dbh in (30, 50, 60, 70)]
    assert found == pytest.approx(stems, abs=0.001)


@pytest.mark.parametrize(("stems", "metres"), [(100, 10.0), (150, 8.165), (250, 6.325), (400, 5.0), (1000, 3.162)])
def test_spacing_from_stocking(stems, metres) -> None:
    assert spacing_m(stems) == pytest.approx(metres, abs=0.001)
