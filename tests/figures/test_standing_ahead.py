"""Trees on days that have not come: forecast sizes, what is said of them, and edits while such a day is shown."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import shapely

from farmmap.editing.fields import fields_changed
from farmmap.editing.tape_entry import measured
from farmmap.editing.trees import trees_moved, trees_removed
from farmmap.farm.edits import rows_changed
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.after_edit import carry_over
from farmmap.figures.blocks import block_figures
from farmmap.figures.growth.forecasts import forecast
from farmmap.figures.margins import margin_figures
from farmmap.figures.room.blocks import block_with_competition
from farmmap.figures.room.diagram import Stand, density_diagram
from farmmap.figures.room.path import crowns_meet, forecast_path
from farmmap.figures.standing import is_ahead, later_note, standing
from farmmap.figures.standing_ahead import growth_for, is_growth_at_hand
from farmmap.figures.trees import tree_figures
from farmmap.figures.whole_farm import farm_figures
from tests.figures.growing_stand import BARE, FEW, MEASURED_CROWN, YOUNG, copied, growing_stand, grown_cm
from tests.place import EAST, NORTH

TODAY = dt.date(2026, 1, 1)
AHEAD = dt.date(2046, 5, 1)


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr("farmmap.figures.standing._today", lambda: TODAY)


@pytest.fixture(scope="module")
def stand():
    return growing_stand()


def test_a_day_is_ahead_after_today_and_after_every_reading(stand) -> None:
    assert is_ahead(stand, AHEAD)
    assert not is_ahead(stand, TODAY)
    assert is_ahead(stand, TODAY + dt.timedelta(days=1))
    assert not is_ahead(stand, dt.date(2025, 5, 1), today=dt.date(2019, 1, 1))  # a clock that is behind
    assert is_ahead(stand, dt.date(2025, 5, 2), today=dt.date(2019, 1, 1))
    assert not standing(stand, TODAY).forecast
    assert not standing(stand, TODAY).grown.any()


def test_sizes_are_those_of_the_forecast(stand) -> None:
    there, known = standing(stand, AHEAD), standing(stand, TODAY)
    found = forecast(stand, AHEAD, there.ids)
    assert there.forecast
    own = there.ids <= 36
    assert there.grown[own].all()
    assert there.dbh_cm[own] == pytest.approx(found.dbh_cm[own])
    assert there.basal_area_m2[own] == pytest.approx(np.pi / 40_000 * found.dbh_cm[own] ** 2)
    assert (there.dbh_cm[own] > known.dbh_cm[own] + 5).all()
    assert there.dbh_cm[own].mean() == pytest.approx(grown_cm(46), rel=0.1)
    assert np.isnat(there.measured_on[own]).all()
    assert there.height_m[own] == pytest.approx(12)
    assert there.age_measured_years == pytest.approx(there.age_years, nan_ok=True)


def test_crowns_widen_with_the_stem(stand) -> None:
    there, known = standing(stand, AHEAD), standing(stand, TODAY)
    one = MEASURED_CROWN - 1
    assert known.crown_m[one] == 3.0
    assert there.crown_m[one] == pytest.approx(3.0 + 0.15 * (there.dbh_cm[one] - known.dbh_cm[one]))
    assert there.crown_m[one + 1] == pytest.approx(1.0 + 0.15 * there.dbh_cm[one + 1])
    assert there.crown_estimated[:36].all()


def test_the_first_day_ahead_goes_on_from_the_last_known(stand) -> None:
    there, known = standing(stand, TODAY + dt.timedelta(days=1)), standing(stand, TODAY)
    own = known.ids <= 36
    assert there.crown_m[own] == pytest.approx(known.crown_m[own], abs=0.4)
    assert there.dbh_cm[own] == pytest.approx(known.dbh_cm[own], abs=2.5)  # most of a year after the last reading


def test_where_there_is_not_enough_to_say_trees_stay_as_they_were(stand) -> None:
    there = standing(stand, AHEAD)
    at = {int(one): place for place, one in enumerate(there.ids)}
    assert there.dbh_cm[at[FEW]] == 25.0
    assert not there.grown[at[FEW]]
    assert not there.measured[at[BARE]]
    assert there.grown[at[YOUNG]]  # of a known species and age, though it was never measured
    assert there.dbh_cm[at[YOUNG]] == pytest.approx(grown_cm(22), rel=0.35)
    assert np.isnan(there.height_m[at[YOUNG]])
    notes = " ".join(later_note(stand, AHEAD))
    assert "37 trees are grown on" in notes
    assert "1 measured tree is left at the last size: not enough to say" in notes
    assert "planned trees are not counted" in notes


def test_every_table_says_that_it_is_forecast(stand) -> None:
    blocks, trees = block_figures(stand, AHEAD), tree_figures(stand, AHEAD)
    for table in (blocks, trees, margin_figures(stand, AHEAD), farm_figures(stand, AHEAD)):
        assert "forecast for 2046-05-01" in table.notes[0].lower()
        assert any("grown on" in note for note in table.notes)
        assert not any("measured on or before" in note for note in table.notes)
    assert trees.rows[0]["crown_from"] == "forecast"
    assert trees.rows[0]["measured_on"] is None
    now = block_figures(stand, TODAY)
    assert blocks.rows[0]["qmd_cm"] > now.rows[0]["qmd_cm"] + 5
    assert blocks.rows[0]["crown_cover_percent"] > now.rows[0]["crown_cover_percent"] + 3
    assert blocks.rows[0]["stems"] == now.rows[0]["stems"]
    cover = [margin_figures(stand, day).rows[0]["cover_percent"] for day in (TODAY, AHEAD)]
    assert cover[1] > cover[0]


def test_one_tree_is_told_by_the_whole_farm(stand) -> None:
    one = tree_figures(stand, AHEAD, [5])
    assert list(one.ids) == [5]
    assert one.rows[0]["dbh_cm"] == pytest.approx(tree_figures(stand, AHEAD).rows[4]["dbh_cm"])
    assert not tree_figures(stand, AHEAD, []).rows
    assert not tree_figures(stand, AHEAD, [999]).rows


def test_trees_planted_later_come_in_on_their_day(stand) -> None:
    trees = stand.trees.copy()
    trees.loc[YOUNG, "planted"] = "2030-07-01"
    trees.loc[2, ["status", "status_on"]] = ["felled", np.datetime64("2035-01-01", "s")]
    farm = stand.with_tables(trees=trees)
    assert YOUNG not in standing(farm, dt.date(2029, 1, 1)).ids
    assert YOUNG in standing(farm, AHEAD).ids
    assert 2 in standing(farm, dt.date(2034, 1, 1)).ids
    assert 2 not in standing(farm, AHEAD).ids


def test_the_path_in_the_density_diagram(stand) -> None:
    growth_for(stand)
    row = block_with_competition(stand, 1, TODAY).row_of(1)
    path = forecast_path(stand, 1, TODAY)
    assert row["path"] == path
    assert [one.words for one in path][:2] == ["2031", "2036"]
    assert all(one.forecast for one in path)
    sizes = [row["qmd_cm"], *(one.qmd_cm for one in path[1:])]
    assert sizes == sorted(sizes)
    diagram = density_diagram(row, path)
    assert diagram is not None
    assert diagram.lines[0].qmd_cm[-1] > path[-1].qmd_cm
    later = block_figures(stand, dt.date(2046, 1, 1)).rows[0]
    assert path[3].qmd_cm == pytest.approx(later["qmd_cm"])
    assert forecast_path(stand, 1, dt.date(2036, 1, 1))[1].qmd_cm == pytest.approx(path[3].qmd_cm)


def test_the_year_in_which_crowns_meet(stand) -> None:
    trees = stand.trees.iloc[:36]
    box = shapely.box(EAST + 7, NORTH + 7, EAST + 43, NORTH + 43)  # six metres apart
    narrow = stand.species.assign(crown_base_m=0.5, crown_per_cm=0.1)
    farm = stand.with_tables(trees=trees, blocks=stand.blocks.assign(geometry=[box]), species=narrow)
    growth_for(farm)
    row = block_with_competition(farm, 1, TODAY).row_of(1)
    spacing = row["mean_spacing_m"]
    assert spacing == pytest.approx(6, rel=1e-3)
    assert row["crown_to_spacing"] == pytest.approx(np.mean(standing(farm, TODAY).crown_m) / spacing)
    assert row["crown_to_spacing"] < 1 < row["path"][-1].crown_to_spacing
    meet = row["crowns_meet"]
    before, after = (standing(farm, dt.date(int(meet) + years, 1, 1)).crown_m.mean() for years in (-1, 2))
    assert before < spacing < after
    assert crowns_meet(1.2, row["path"]) is None
    assert crowns_meet(0.5, ()) is None
    assert crowns_meet(0.5, [Stand(30, 400, "2031", forecast=True, crown_to_spacing=0.9)]) is None


EDITS = {
    "mark": lambda farm: fields_changed(farm, "trees", [3, 4], {"mark": "crop"}).edit,
    "move": lambda farm: trees_moved(farm, [5], 1.5, 0.5).edit,
    "read": lambda farm: measured(farm, 6, dt.date(2025, 11, 1), dbh_cm=60.0).edit,
    "fell": lambda farm: (
        fields_changed(farm, "trees", [7], {"status": "felled", "status_on": dt.date(2025, 12, 1)}).edit
    ),
    "take away": lambda farm: trees_removed(farm, [8]).edit,
    "species": lambda farm: fields_changed(farm, "trees", [9], {"species": "REDW"}).edit,
    "block": lambda farm: rows_changed(farm, "Rename", "blocks", farm.blocks.assign(name="Upper terrace")),
}
KEEPS_GROWTH = {"mark", "move", "fell", "block"}


@pytest.mark.parametrize("kind", EDITS)
def test_after_an_edit_figures_are_those_from_scratch(stand, kind) -> None:
    before = copied(stand)
    growth_for(before)
    for of in (block_figures, margin_figures, farm_figures):
        of(before, AHEAD)
    edit = EDITS[kind](before)
    after = edit.apply(before)
    carry_over(before, after, edit, AHEAD)
    assert is_growth_at_hand(after) is (kind in KEEPS_GROWTH)
    again = copied(after)
    for of in (block_figures, margin_figures, farm_figures):
        mine, fresh = of(after, AHEAD), of(again, AHEAD)
        assert mine.notes == fresh.notes
        for row, other in zip(mine.rows, fresh.rows, strict=True):
            assert {name: other[name] for name in mine.columns} == pytest.approx(
                {name: row[name] for name in mine.columns}, nan_ok=True
            )
    one, other = standing(after, AHEAD), standing(again, AHEAD)
    assert one.dbh_cm == pytest.approx(other.dbh_cm, nan_ok=True)
    assert one.crown_m == pytest.approx(other.crown_m, nan_ok=True)


def test_a_farm_without_readings_has_nothing_to_forecast(farm_with) -> None:
    farm = farm_with(trees={"x": [1.0, 5.0], "y": [1.0, 5.0], "planted": ["2020", "2020"]})
    there = standing(farm, AHEAD)
    assert there.forecast
    assert len(there) == 2
    assert not there.grown.any()
    assert later_note(farm, AHEAD) == (
        "Not enough is known of how these trees grow, so all stay as they were last measured.",
    )
    assert standing(farm_with(trees={"x": [], "y": []}), AHEAD).forecast


def test_a_plants_height_is_not_that_of_the_grown_tree(stand) -> None:
    read = measured(stand, YOUNG, dt.date(2025, 11, 1), height_m=0.4).edit
    small = read.apply(stand)
    assert standing(small, TODAY).height_m[-1] == pytest.approx(0.4)
    assert np.isnan(standing(small, AHEAD).height_m[-1])


def test_a_day_before_that_of_a_sample_plot_is_not_ahead(stand) -> None:
    plots = {"name": ["A1"], "x": [0.0], "y": [0.0], "radius_m": [5.0], "measured_on": [np.datetime64("2035-01-01")]}
    wrong = stand.with_tables(plots=shaped(TABLES["plots"], plots, np.array([1]), stand.grid))
    assert not is_ahead(wrong, dt.date(2034, 6, 1), TODAY)
    assert is_ahead(wrong, dt.date(2035, 1, 2), TODAY)
