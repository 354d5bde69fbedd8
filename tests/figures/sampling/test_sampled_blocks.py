"""Sampled blocks beside measured ones: the same table, marked; and after any edit as if worked out afresh."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pandas as pd
import pytest

from farmmap.farm.edits import Change, Edit, rows_changed, rows_put_in, rows_taken_away
from farmmap.farm.farm import Farm, next_ids, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.after_edit import carry_over
from farmmap.figures.blocks import block_figures
from farmmap.figures.catalogue import working
from farmmap.figures.sampling.estimators import plots_needed, simple, stratified
from farmmap.figures.sampling.sampled import samples
from farmmap.figures.sampling.tables import INSIDE_ONLY, plot_figures, plot_list
from farmmap.figures.sampling.zones import counted_stem_per_ha
from farmmap.figures.stand import basal_area_m2
from farmmap.scene.page_tables import block_table
from tests.conftest import days, small_farm
from tests.place import EAST, NORTH

ON = dt.date(2021, 1, 1)
MIDDLES = [(130, 40), (160, 30), (130, 70), (185, 60)]
COUNTED = [(1, "TOTA", 20.0, 3, 1.0), (1, "REDW", 30.0, 1, 2.0), (2, "TOTA", 24.0, 5, 1.0), (3, "TOTA", 18.0, 2, 0.5)]


def rows(farm: Farm, table: str, /, **values):
    count = len(next(iter(values.values())))
    return shaped(TABLES[table], values, np.arange(1, count + 1), farm.grid)


def sampled_farm(**plots) -> Farm:
    """Far Slope without its mapped trees, with four circles of 0.02 ha: one without trees, all but one measured."""
    farm = small_farm()
    trees = farm.trees[~farm.trees.index.isin([4, 5])]
    n = len(MIDDLES)
    given = {
        "name": ["1", "2", "3", "4"],
        "block": ["Far Slope"] * n,
        "design": ["random"] * n,
        "shape": ["circle"] * n,
        "radius_m": np.full(n, np.sqrt(200 / np.pi)),
        "measured_on": days("2020-06-01", "2020-06-01", "2020-06-01", "2020-06-01"),
        "x": [EAST + x for x, _ in MIDDLES],
        "y": [NORTH + y for _, y in MIDDLES],
    } | plots
    plot, species, dbh, many, counts = zip(*COUNTED, strict=True)
    return farm.with_tables(
        trees=trees,
        measurements=farm.measurements[farm.measurements["tree"].isin(trees.index)],
        plots=rows(farm, "plots", **given),
        plot_trees=rows(farm, "plot_trees", plot=plot, species=species, dbh_cm=dbh, trees=many, counts=counts),
    )


STEMS = np.array([5, 5, 1, 0]) * 50.0
BASAL = 50 * np.array([3 * basal_area_m2(20.0) + 2 * basal_area_m2(30.0), 5 * basal_area_m2(24.0),
                       basal_area_m2(18.0), 0.0])  # fmt: skip


def test_a_sampled_block_stands_beside_a_measured_one_and_is_marked():
    table = block_figures(sampled_farm(), ON)
    measured, sampled = table.rows
    expected, basal = simple(STEMS), simple(BASAL)
    assert measured["counted"] == "mapped trees"
    assert sampled["counted"] == f"4 plots, ±{basal.error_percent:.0f} %"
    assert sampled["stems_per_ha"] == pytest.approx(137.5)
    assert sampled["stems_per_ha_low"] == max(float(expected.low), 0.0)
    assert sampled["stems_per_ha_high"] == pytest.approx(float(expected.high))
    assert sampled["basal_area_m2_per_ha"] == pytest.approx(float(basal.mean))
    assert sampled["stems"] == round(137.5 * sampled["net_area_ha"])
    assert sampled["qmd_cm"] == pytest.approx(np.sqrt(40_000 / np.pi * BASAL.sum() / STEMS.sum()))
    assert sampled["crown_cover_percent"] is None
    assert sum(part["percent"] for part in sampled["species"]) == pytest.approx(100)
    assert [part["code"] for part in sampled["species"]] == ["TOTA", "REDW"]
    per_ha = [part["stems_per_ha"] for part in sampled["diameter_classes"]]
    assert sum(per_ha) == pytest.approx(137.5)
    assert table.brief[1] == "counted"
    assert any(note.startswith("Counted “… plots”") for note in table.notes)
    assert "estimated from 4 sample plots; 95 % interval" in working("stems_per_ha", sampled)
    assert "±" in table.as_text()
    assert json.loads(table.as_json())[1]["plots"] == 4


def test_without_plots_nothing_is_marked_and_the_table_is_as_narrow_as_before():
    table = block_figures(small_farm(), ON)
    assert "counted" not in table.brief
    assert {row["counted"] for row in table.rows} == {"mapped trees"}
    assert not any("sample plots" in note for note in table.notes)


def test_a_block_with_mapped_trees_keeps_them_and_is_told_of_if_plots_say_there_are_more():
    small = small_farm()
    farm = sampled_farm().with_tables(trees=small.trees, measurements=small.measurements)
    table = block_figures(farm, ON)
    assert table.rows[1]["counted"] == "mapped trees, 4 plots"
    assert table.rows[1]["stems"] == 2
    assert table.rows[1]["plots_stems_per_ha"] == pytest.approx(137.5)
    assert not any("more than the" in note for note in table.notes)  # the interval reaches down to 0
    alike = farm.plot_trees.iloc[:4].assign(plot=[1, 2, 3, 4], trees=[3, 3, 4, 3], counts=1.0)
    told = block_figures(farm.with_tables(plot_trees=alike), ON)
    assert any(note.startswith("Far Slope: its plots say 1") for note in told.notes)


def test_plots_measured_later_do_not_count_yet():
    farm = sampled_farm(measured_on=days("2020-06-01", "2021-06-01", "2020-06-01", ""))
    assert len(samples(farm, ON)[2].places) == 2
    assert samples(farm, ON)[2].waiting == 2
    assert samples(farm, dt.date(2019, 1, 1))[2].stems is None
    assert block_figures(farm, dt.date(2019, 1, 1)).rows[1]["counted"] is None


def test_trees_without_a_day_count_on_any_day_and_it_is_said():
    farm = sampled_farm(measured_on=days("", "", "", "2020-06-01"))
    table = plot_figures(farm, ON)
    assert table.rows[0]["plots"] == 4
    assert any("3 plots with trees but no day" in note for note in table.notes)


def test_results_with_interval_and_plots_needed():
    table = plot_figures(sampled_farm(), ON)
    (row,) = table.rows
    basal = simple(BASAL)
    assert row["error_percent"] == pytest.approx(float(basal.error_percent))
    needed = plots_needed(float(basal.mean), float(basal.se), 4)
    assert (row["plots_needed"], row["plots_more"]) == (needed, needed - 4)
    assert row["stems_per_ha_se"] == pytest.approx(float(simple(STEMS).se))
    assert row["trees_counted"] == 11


def test_one_plot_is_not_enough_to_say():
    farm = sampled_farm()
    table = plot_figures(farm.with_tables(plots=farm.plots.iloc[:1], plot_trees=farm.plot_trees.iloc[:2]), ON)
    (row,) = table.rows
    assert row["stems_per_ha"] == 250
    assert row["stems_per_ha_low"] is row["stems_per_ha_high"] is row["plots_needed"] is row["error_percent"] is None
    assert any("not enough to say" in note for note in table.notes)


def test_parts_by_the_letters_of_stratified_plots():
    farm = sampled_farm(name=["A1", "A2", "B1", "B2"], design=["stratified"] * 4)
    found = samples(farm, ON)[2]
    expected = stratified(STEMS, [0, 0, 1, 1], [1, 1])
    assert found.parts == 2
    assert found.stems.needed == plots_needed(float(expected.mean), float(expected.se), 4, strata=2)
    assert (found.stems.mean, found.stems.se, found.stems.df) == pytest.approx(
        (float(expected.mean), float(expected.se), float(expected.df))
    )
    halfway = sampled_farm(
        name=["A1", "A2", "B1", "B2"], design=["stratified"] * 4, measured_on=days("2020-01-01", "2020-01-01", "", "")
    )
    without = halfway.with_tables(plot_trees=halfway.plot_trees[halfway.plot_trees["plot"] <= 2])
    assert samples(without, ON)[2].parts == 1
    assert any("laid out in parts, but are treated as random" in note for note in plot_figures(without, ON).notes)
    assert not any("laid out in parts" in note for note in plot_figures(farm, ON).notes)
    blocks_as_parts = sampled_farm(design=["stratified"] * 4)
    assert not any("laid out in parts" in note for note in plot_figures(blocks_as_parts, ON).notes)


def test_a_part_with_one_plot_is_not_enough_to_say():
    farm = sampled_farm(name=["A1", "A2", "B1", "A3"], design=["stratified"] * 4)
    table = plot_figures(farm, ON)
    assert table.rows[0]["stems_per_ha_low"] is None
    assert any("at least two plots in each of its parts" in note for note in table.notes)


def test_plots_without_a_tree_are_no_proof_and_have_no_error():
    farm = sampled_farm()
    table = plot_figures(farm.with_tables(plot_trees=farm.plot_trees.iloc[:0]), ON)
    (row,) = table.rows
    assert (row["plots"], row["stems_per_ha"], row["error_percent"], row["plots_more"]) == (4, 0.0, None, None)
    assert (row["stems_per_ha_low"], row["stems_per_ha_high"], row["stems_per_ha_se"]) == (None, None, None)
    assert not any("not enough to say" in note for note in table.notes)
    assert any("no proof that none grows there" in note for note in table.notes)


def test_counts_and_sizes_that_cannot_be_are_left_out_and_told():
    farm = sampled_farm()
    wrong = farm.with_tables(plot_trees=farm.plot_trees.assign(trees=[3, 1, 0, 2], counts=[1.0, 2.0, 1.0, -1.0]))
    table = plot_figures(wrong, ON)
    assert table.rows[0]["stems_per_ha"] == pytest.approx(50 * 5 / 4)
    assert any(note.startswith("2 lines of counted trees left out") for note in table.notes)
    sizes = sampled_farm(radius_m=[-3.0, 0.0, np.inf, 8.0])
    table = plot_figures(sizes, ON)
    assert table.rows[0]["plots"] == 1
    assert any(note.startswith("3 plots without a radius, size or factor above 0") for note in table.notes)
    thick = sampled_farm().with_tables(plot_trees=farm.plot_trees.assign(dbh_cm=np.inf))
    assert plot_figures(thick, ON).rows[0]["basal_area_m2_per_ha"] is None
    assert plot_list(sizes, ON).as_json()


def test_plots_outside_the_block_that_they_name_are_told():
    farm = sampled_farm(x=[EAST + 900.0, EAST + 160, EAST + 130, EAST + 204])
    (said,) = (note for note in plot_figures(farm, ON).notes if "middle outside" in note)
    assert said.startswith("1 plot of Far Slope with the middle outside it")  # 4 m may be the error of a GPS


def test_plots_larger_than_their_block_are_told():
    strips = sampled_farm(shape=["circle", "strip", "strip", "angle count"], length_m=[300.0] * 4, width_m=[50.0] * 4)
    farm = strips.with_tables(plots=strips.plots.assign(baf_m2=2.0))
    (said,) = (note for note in plot_figures(farm, ON).notes if "smaller than" in note)
    assert said.startswith("Far Slope: the block is smaller than 2 plots (2, 3)")
    assert not any("smaller than" in note for note in plot_figures(sampled_farm(), ON).notes)


def test_plots_of_a_later_day_are_told():
    farm = sampled_farm(measured_on=days("2020-06-01", "2099-06-01", "2020-06-01", "2020-06-01"))
    assert any(note.startswith("1 plot measured after 2021-01-01, left out") for note in plot_figures(farm, ON).notes)
    assert not any("left out" in note for note in plot_figures(sampled_farm(), ON).notes)


def test_plots_with_no_ground_inside_say_nothing_by_the_ground_inside():
    farm = sampled_farm(x=[EAST + 900.0 + x for x in range(4)])
    (row,) = plot_figures(farm, ON, edge=INSIDE_ONLY).rows
    assert (row["plots"], row["stems_per_ha"], row["basal_area_m2_per_ha"], row["species"]) == (4, None, None, [])


def test_a_block_that_is_asked_for_and_has_no_plots_is_told():
    table = plot_figures(sampled_farm(), ON, [1])
    assert not table.rows
    assert table.notes[-1] == "No sample plots are laid out in North Terrace."


def test_missing_diameters_are_told_by_kind_of_plot():
    farm = sampled_farm()
    some = farm.with_tables(plot_trees=farm.plot_trees.assign(dbh_cm=[20.0, 30.0, np.nan, 18.0]))
    assert any("5 trees counted without a diameter; basal area" in note for note in plot_figures(some, ON).notes)
    angle = sampled_farm(shape=["angle count"] * 4, baf_m2=[2.0] * 4)
    bare = angle.with_tables(plot_trees=angle.plot_trees.assign(dbh_cm=[20.0, 30.0, np.nan, 18.0]))
    table = plot_figures(bare, ON)
    assert any("stems/ha cannot be told" in note for note in table.notes)
    assert not any("too low" in note for note in table.notes)
    unknown = next(row for row in table.rows[0]["species"] if row["code"] == "TOTA")
    assert unknown["stems"] is unknown["stems_per_ha"] is None
    assert all(row["inside_percent"] is None for row in plot_list(bare, ON).rows)


def test_a_strip_is_listed_where_it_begins():
    farm = sampled_farm(shape=["strip"] * 4, length_m=[20.0] * 4, width_m=[5.0] * 4, bearing_deg=[90.0] * 4)
    first = plot_list(farm, ON).rows[0]
    assert (first["x"], first["y"]) == (EAST + 130, NORTH + 40)
    assert first["plot_size"] == "strip, 20 × 5 m, grid bearing 90°"


def test_an_angle_count_gives_stems_by_the_size_of_each_tree():
    farm = sampled_farm(shape=["angle count"] * 4, baf_m2=[2.0] * 4)
    row = plot_figures(farm, ON).rows[0]
    each = counted_stem_per_ha(np.array([20.0, 30.0, 24.0, 18.0]), 2.0) * np.array([3, 2, 5, 1])
    assert row["stems_per_ha"] == pytest.approx(each.sum() / 4)
    assert row["basal_area_m2_per_ha"] == pytest.approx(2.0 * 11 / 4)
    bare = farm.with_tables(plot_trees=farm.plot_trees.assign(dbh_cm=np.nan))
    row = plot_figures(bare, ON).rows[0]
    assert row["stems_per_ha"] is None
    assert row["basal_area_m2_per_ha"] == pytest.approx(2.0 * 11 / 4)
    assert block_figures(bare, ON).rows[1]["stems"] is None


def test_plots_cut_by_the_edge_are_told_and_may_be_counted_by_the_ground_inside():
    farm = sampled_farm(x=[EAST + x for x in (100.0, 160, 130, 185)])
    plain = farm.with_tables(plot_trees=farm.plot_trees.assign(counts=1.0))
    told = plot_figures(plain, ON)
    assert any("The edge cuts" in note for note in told.notes)
    assert not any("The edge cuts" in note for note in plot_figures(farm, ON).notes)  # a tree counts twice
    inside = plot_figures(plain, ON, edge=INSIDE_ONLY)
    assert inside.rows[0]["stems_per_ha"] > told.rows[0]["stems_per_ha"]
    shares = [row["inside_percent"] for row in plot_list(plain, ON).rows]
    assert shares[0] == pytest.approx(50, abs=0.5)
    assert shares[2] == pytest.approx(100)
    stems = np.array([4, 5, 2, 0]) * 50.0
    assert inside.rows[0]["stems_per_ha"] == pytest.approx(stems.sum() / (sum(shares) / 100))


def test_several_sampled_blocks_together_count_by_their_area():
    farm = sampled_farm(block=["Far Slope", "Far Slope", "North Terrace", "North Terrace"])
    rows_, ids = plot_figures(farm, ON).rows, plot_figures(farm, ON).ids
    assert (rows_[-1]["name"], ids[-1], rows_[-1]["plots"]) == ("All sampled blocks", 0, 4)
    areas = [row["net_area_ha"] for row in rows_[:2]]
    each = [row["stems_per_ha"] for row in rows_[:2]]
    assert rows_[-1]["stems_per_ha"] == pytest.approx(np.average(each, weights=areas))


def test_a_plot_of_a_block_renamed_since_belongs_to_the_one_that_it_lies_in():
    farm = sampled_farm()
    renamed = farm.with_tables(blocks=farm.blocks.assign(name=["North Terrace", "Farther Slope"]))
    assert list(samples(renamed, ON)) == [2]


def test_plots_that_cannot_be_used_are_told():
    farm = sampled_farm(
        block=["Far Slope", "Far Slope", "Far Slope", ""],
        radius_m=[8.0, 8.0, np.nan, 8.0],
        x=[EAST + 130, EAST + 160, EAST + 130, EAST + 900],
    )
    table = plot_figures(farm, ON)
    assert table.rows[0]["plots"] == 2
    assert any(note.startswith("1 plot in no block") for note in table.notes)
    assert any(note.startswith("1 plot without a radius") for note in table.notes)


def test_the_printed_table_of_blocks_marks_those_that_are_sampled():
    marked = block_table(block_figures(sampled_farm(), ON), 1.4)
    assert marked.columns[:2] == ("name", "counted")
    assert marked.cells[0][1] == "mapped trees"
    assert "4 plots" in marked.cells[1][1]
    assert "counted" not in block_table(block_figures(small_farm(), ON), 1.4).columns


def fresh(farm: Farm) -> Farm:
    return Farm(farm.settings, {name: frame.copy() for name, frame in farm.tables.items()})


def _changed(table, column, value, row):
    def edit(farm):
        after = farm.tables[table].loc[[row]].copy()
        after[column] = pd.array([value], dtype=after[column].dtype)
        return rows_changed(farm, "change", table, after)

    return edit


def _plot_put_in(farm):
    ids = next_ids(farm.plots, 1)
    row = shaped(TABLES["plots"], {"name": ["9"], "block": ["North Terrace"], "radius_m": [5.0], "x": [EAST + 50],
                                   "y": [NORTH + 50], "measured_on": days("2020-05-05")}, ids, farm.grid)  # fmt: skip
    return rows_put_in(farm, "put in", {"plots": row})


def _plot_taken_away(farm):
    trees = farm.plot_trees[farm.plot_trees["plot"] == 1]
    return Edit("away", {"plots": Change(farm.plots.loc[[1]], farm.plots.iloc[:0]),
                         "plot_trees": Change(trees, farm.plot_trees.iloc[:0])})  # fmt: skip


EDITS = {
    "count changed": _changed("plot_trees", "trees", 9, 1),
    "count of another plot": _changed("plot_trees", "plot", 4, 1),
    "species of a count": _changed("plot_trees", "species", "REDW", 3),
    "count taken away": lambda farm: rows_taken_away(farm, "away", {"plot_trees": farm.plot_trees.index[:1]}),
    "plot put in": _plot_put_in,
    "plot taken away": _plot_taken_away,
    "plot moved to another block": _changed("plots", "block", "North Terrace", 2),
    "plot measured later": _changed("plots", "measured_on", np.datetime64("2022-01-01", "s"), 2),
    "radius changed": _changed("plots", "radius_m", 6.0, 3),
    "block renamed": _changed("blocks", "name", "Near Slope", 2),
    "block renamed as another": _changed("blocks", "name", "North Terrace", 2),
    "block planned": _changed("blocks", "stage", "planned", 2),
    "tree put into the sampled block": _changed("trees", "x", EAST + 150.0, 2),
    "track wider": _changed("tracks", "width_m", 8.0, 1),
    "species named": _changed("species", "name", "coastal redwood", 2),
    "reading changed": _changed("measurements", "dbh_cm", 40.0, 2),
}


@pytest.mark.parametrize(
    ("kind", "on"), [*((kind, ON) for kind in EDITS), ("plot measured later", None), ("count changed", None)]
)
def test_after_an_edit_the_table_is_that_worked_out_afresh(kind, on):
    farm = fresh(sampled_farm())
    block_figures(farm, on)
    for edit in (EDITS[kind](farm), EDITS[kind](farm).turned_round()):
        after = edit.apply(farm)
        carry_over(farm, after, edit, on)
        quick, afresh = block_figures(after, on), block_figures(fresh(after), on)
        assert [dict(row) for row in quick.rows] == [dict(row) for row in afresh.rows]
        assert (quick.notes, quick.brief, quick.ids) == (afresh.notes, afresh.brief, afresh.ids)
        farm = after


def test_an_edit_elsewhere_keeps_the_row_of_a_sampled_block():
    farm = fresh(sampled_farm())
    before = block_figures(farm, ON)
    edit = _changed("measurements", "dbh_cm", 40.0, 2)(farm)
    after = edit.apply(farm)
    carry_over(farm, after, edit, ON)
    assert block_figures(after, ON).rows[1] is before.rows[1]
    assert block_figures(after, ON).rows[0] is not before.rows[0]
