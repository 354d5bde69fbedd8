"""Strange plots: every table of them is said in words, and its JSON holds numbers or null, never NaN."""

from __future__ import annotations

import json

import numpy as np
import pytest

from farmmap.figures.blocks import block_figures
from farmmap.figures.sampling.tables import AS_COUNTED, INSIDE_ONLY, plot_figures, plot_list
from tests.conftest import days
from tests.figures.sampling.test_sampled_blocks import ON, sampled_farm
from tests.place import EAST, NORTH

PLOTS = {
    "of no size": {"radius_m": [np.nan] * 4},
    "strips without a width": {"shape": ["strip"] * 4, "length_m": [20.0] * 4},
    "without a block, far away": {"block": [""] * 4, "x": [EAST + 9e4] * 4},
    "of a block that is not there": {"block": ["Πέρα, “δάσος” 🌲"] * 4},
    "all at one place": {"x": [EAST + 150.0] * 4, "y": [NORTH + 50.0] * 4},
    "on a shared edge": {"block": [""] * 4, "x": [EAST + 100.0] * 4},
    "of three kinds": {
        "shape": ["circle", "strip", "angle count", "circle"],
        "length_m": [np.nan, 20.0, np.nan, np.nan],
        "width_m": [np.nan, 5.0, np.nan, np.nan],
        "baf_m2": [np.nan, np.nan, 2.0, np.nan],
    },
    "steep": {"slope_deg": [60.0] * 4},
    "of one name": {"name": ["1"] * 4},
    "measured in the future": {"measured_on": days(*["2999-01-01"] * 4)},
    "measured on no day": {"measured_on": days("", "", "", "")},
    "in parts with one plot each": {"name": ["A1", "B1", "C1", "D1"], "design": ["stratified"] * 4},
    "in parts, one not measured": {
        "name": ["A1", "A2", "B1", "C1"],
        "design": ["stratified"] * 4,
        "measured_on": days("2020-06-01", "2020-06-01", "2020-06-01", "2999-01-01"),
    },
}
TREES = {
    "as they are": {},
    "without a diameter or species": {"dbh_cm": np.nan, "species": ""},
    "of unknown species that do not count": {"species": "森林 🌲", "counts": 0.0},
}


@pytest.fixture(scope="module")
def sound():
    """Return a farm whose plots are in order."""
    return sampled_farm()


@pytest.mark.parametrize("trees", TREES.values(), ids=TREES.keys())
@pytest.mark.parametrize("plots", PLOTS.values(), ids=PLOTS.keys())
def test_strange_plots_are_told_in_numbers_or_not_at_all(sound, plots, trees):
    farm = sound.with_tables(plots=sound.plots.assign(**plots), plot_trees=sound.plot_trees.assign(**trees))
    tables = [plot_figures(farm, ON, edge=edge) for edge in (AS_COUNTED, INSIDE_ONLY)]
    for table in (*tables, plot_list(farm, ON), block_figures(farm, ON)):
        json.loads(table.as_json(), parse_constant=_refused)
        assert table.as_csv()
        words = table.as_text().split()
        assert not {"nan", "inf", "None", "NaT"} & set(words)
        for row in table.rows:
            low, high = (row.get(f"stems_per_ha_{end}") for end in ("low", "high"))
            assert (low is None) == (high is None)
            assert low is None or low <= row["stems_per_ha"] <= high


def _refused(constant):
    raise AssertionError(f"{constant} in JSON")
