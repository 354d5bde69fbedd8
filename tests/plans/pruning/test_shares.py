"""What is pruned so far: stems by height, knotty core, clear wood, next visit."""

import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmmap.farm.farm import shaped
from farmmap.farm.schema import VOLUMES
from farmmap.figures.catalogue import CATALOGUE
from farmmap.plans.pruning.shares import BLOCK_COLUMNS, SHARE_COLUMNS, pruned_shares, pruning_by_block
from farmmap.plans.pruning.stems import OCCLUSION_CM
from tests.plans.pruning.prunable import LIFTS, prunable

ON = dt.date(2020, 5, 1)


def pruned_farm():
    readings = [
        {"tree": 1, "measured_on": "2015-01-01", "pruned_m": 2.0, "dbh_cm": 12.0, "height_m": 7.0, "dos_cm": 13.0},
        {"tree": 2, "measured_on": "2015-01-01", "pruned_m": 2.0, "dbh_cm": 15.0, "height_m": 7.0},
        {"tree": 1, "measured_on": "2017-01-01", "pruned_m": 6.0, "dbh_cm": 18.0, "height_m": 13.0, "dos_cm": 16.0},
        {"tree": 1, "dbh_cm": 50.0, "height_m": 25.0},
        {"tree": 2, "dbh_cm": 20.0, "height_m": 12.0},
    ]
    return prunable([{}] * 4, readings)


def test_every_column_is_told():
    for name in (*SHARE_COLUMNS, *BLOCK_COLUMNS, "pruned_heights"):
        assert CATALOGUE[name].title


def test_stems_by_height():
    table = pruned_shares(pruned_farm(), ON)
    counts = dict(zip(table.column("from_m"), table.column("trees"), strict=True))
    assert counts == {0.0: 2, 1.0: 0, 2.0: 1, 3.0: 0, 4.0: 0, 5.0: 0, 6.0: 1}
    assert sum(table.column("stems_share_percent")) == pytest.approx(100.0)
    assert table.column("trees_per_ha")[0] == pytest.approx(2.0, abs=0.02)


def test_core_and_clear_wood_of_a_block():
    row = pruning_by_block(pruned_farm(), ON).rows[0]
    cores = [16.0 + OCCLUSION_CM, 15.0 + OCCLUSION_CM]  # thickest lift read; at breast height by the taper
    assert row["core_cm"] == pytest.approx(sum(cores) / 2)
    assert row["core_trees"] == 2
    assert row["core_estimated_percent"] == 50.0
    middle = [50 * (25 - 3.0) / (25 - 1.4), 20.0]
    clear = [math.pi / 40_000 * (d**2 - c**2) * n for d, c, n in zip(middle, cores, (6.0, 2.0), strict=True)]
    whole = [math.pi / 40_000 * d**2 * n for d, n in zip(middle, (6.0, 2.0), strict=True)]
    assert row["clearwood_percent"] == pytest.approx(100 * sum(clear) / sum(whole))
    assert row["clearwood_m3_per_ha"] == pytest.approx(sum(clear), rel=0.01)
    assert row["bark"].startswith("bark not taken off")
    assert (row["pruned_trees"], row["stems"], row["mean_pruned_m"]) == (2, 4, 4.0)


def test_bark_is_taken_off_where_the_farm_says_how_thick_it_is():
    farm = pruned_farm()
    volumes = shaped(VOLUMES, {"species": ["TOTA"], "bark_ratio": [0.9]}, [1], farm.grid)
    with_bark = pruning_by_block(farm.with_tables(volumes=volumes), ON).rows[0]
    assert with_bark["bark"] == "under bark"
    assert with_bark["clearwood_m3_per_ha"] < pruning_by_block(farm, ON).rows[0]["clearwood_m3_per_ha"]


def test_next_visit_is_today_if_something_is_due_else_when_the_first_comes():
    due = prunable([{}], [{"tree": 1, "height_m": 6.0, "dbh_cm": 8.0}])
    assert pruning_by_block(due, ON).column("next_visit") == ["2020-05-01"]
    later = prunable([{"planted": "2015-05-01"}], [{"tree": 1, "height_m": 4.0}])
    assert pruning_by_block(later, ON).column("next_visit")[0].startswith("2021-0")
    unknown = prunable([{}], [{"tree": 1, "height_m": 4.0}])
    assert pruning_by_block(unknown, ON).column("next_visit") == [""]


def test_form_pruning_is_looked_at_after_half_a_year():
    lifts = [*LIFTS, {"lift": 1, "to_m": 6.5, "tree_height_m": 2.0, "kind": "form"}]
    farm = prunable([{}], [{"tree": 1, "height_m": 3.0}], lifts)
    assert pruning_by_block(farm, ON).column("next_visit") == ["2020-10-31"]
    assert pruning_by_block(farm, dt.date(2022, 1, 1)).column("next_visit") == ["2022-01-01"]


def test_trees_in_no_block_are_told_of():
    farm = prunable([{}, {}], [])
    without = farm.with_tables(blocks=farm.blocks.iloc[:0])
    for table in (pruned_shares, pruning_by_block):
        assert not any("no block" in note for note in table(farm, ON).notes)
        assert "2 trees in no block are left out." in table(without, ON).notes


@pytest.mark.parametrize("farm", [prunable([], []), prunable([{}], [], []), prunable([{}] * 2, [])])
def test_strange_farms(farm):
    for table in (pruned_shares(farm, ON), pruning_by_block(farm, ON)):
        assert table.as_text()
        assert table.as_csv()
        assert table.as_json()


@settings(max_examples=30)
@given(st.lists(st.one_of(st.none(), st.floats(0.0, 12.0)), min_size=1, max_size=15))
def test_shares_add_up(heights):
    readings = [{"tree": n + 1, "pruned_m": height} for n, height in enumerate(heights)]
    farm = prunable([{}] * len(heights), readings)
    table = pruned_shares(farm, ON)
    assert sum(table.column("trees")) == len(heights)
    assert sum(table.column("stems_share_percent")) == pytest.approx(100.0)
    row = pruning_by_block(farm, ON).rows[0]
    assert row["pruned_trees"] == sum(height is not None and height > 0 for height in heights)
