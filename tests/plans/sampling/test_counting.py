"""Counts of plots put in: tree by tree, from a CSV, and from mapped trees; and plots handed on."""

from __future__ import annotations

import csv
import datetime as dt

import numpy as np
import pandas as pd
import pytest
from defusedxml import ElementTree

from farmmap.errors import BadInput
from farmmap.figures.blocks import block_figures
from farmmap.figures.sampling.sampled import samples
from farmmap.figures.sampling.zones import PlotShape
from farmmap.figures.standing import newest_day
from farmmap.plans.sampling.counting import (
    counts_from_file,
    counts_from_map,
    counts_taken_away,
    plots_measured,
    plots_taken_away,
    tree_counted,
)
from farmmap.plans.sampling.handing_on import write_plots
from farmmap.plans.sampling.layout import Layout, plots_laid_out
from tests.conftest import small_farm

ON = dt.date(2021, 3, 4)
CIRCLE = PlotShape("circle", radius_m=7.98)


@pytest.fixture
def farm():
    first = small_farm()
    one = plots_laid_out(first, [2], Layout(plots=3, shape=CIRCLE, seed=1)).edit.apply(first)
    return plots_laid_out(one, [1], Layout(plots=2, shape=CIRCLE, seed=2)).edit.apply(one)


def test_a_tree_is_counted_and_the_plot_is_measured(farm):
    proposed = tree_counted(farm, 1, {"species": "Tōtara", "dbh_cm": "31,5", "counts": 2.0}, ON)
    after = proposed.edit.apply(farm)
    (row,) = after.plot_trees.to_dict("records")
    assert (row["plot"], row["species"], row["dbh_cm"], row["trees"], row["counts"]) == (1, "TOTA", 31.5, 1, 2.0)
    assert after.plots["measured_on"].loc[1] == pd.Timestamp(ON)
    assert after.plots["measured_on"].loc[2] is pd.NaT
    assert proposed.edit.name == "Count a tree in plot 1"
    assert newest_day(after) == ON
    back = proposed.edit.turned_round().apply(after)
    assert not len(back.plot_trees)
    assert back.plots["measured_on"].isna().all()
    second = tree_counted(after, 1, {"species": "puriri", "trees": "3"}, dt.date(2022, 1, 1))
    again = second.edit.apply(after)
    assert again.plots["measured_on"].loc[1] == pd.Timestamp(ON)
    assert again.plot_trees["trees"].tolist() == [1, 3]
    assert np.isnan(again.plot_trees["dbh_cm"].iloc[1])


@pytest.mark.parametrize(
    ("values", "words"),
    [({"dbh_cm": "thick"}, "no number"), ({"trees": "0"}, "believable"), ({"counts": "40"}, "believable")],
)
def test_what_cannot_be_counted_is_refused(farm, values, words):
    with pytest.raises(BadInput, match=words):
        tree_counted(farm, 1, values, ON)
    with pytest.raises(BadInput, match="not there any more"):
        tree_counted(farm, 99, {}, ON)


def test_a_plot_without_trees_counts_as_measured(farm):
    after = plots_measured(farm, [1, 2], ON).edit.apply(farm)
    found = samples(after, ON)[2]
    assert (len(found.places), found.waiting) == (2, 1)
    assert found.stems.mean == 0
    assert block_figures(plots_measured(farm, [1], ON).edit.apply(farm), ON).rows[1]["stems"] == 2  # mapped trees stand


def test_a_day_to_come_is_no_day_of_measurement(farm):
    later = dt.datetime.now().astimezone().date() + dt.timedelta(days=2)
    with pytest.raises(BadInput, match="has not come yet"):
        plots_measured(farm, [1], later)
    with pytest.raises(BadInput, match="has not come yet"):
        tree_counted(farm, 1, {"dbh_cm": "30"}, later)


def test_counts_and_plots_are_taken_away(farm):
    after = tree_counted(farm, 1, {"dbh_cm": "30"}, ON).edit.apply(farm)
    assert not len(counts_taken_away(after, [1]).edit.apply(after).plot_trees)
    gone = plots_taken_away(after, [1])
    assert gone.edit.apply(after).plots.index.tolist() == [2, 3, 4, 5]
    assert not len(gone.edit.apply(after).plot_trees)
    assert gone.notes == ("1 line of counted trees goes with it",)


def written(tmp_path, text):
    path = tmp_path / "counts.csv"
    path.write_text(text, "utf-8")
    return path


def test_a_csv_comes_in_as_one_edit(farm, tmp_path):
    text = (
        "Block;Plot;Species;DBH;Trees;Counts\nFar Slope;1;totara;31,5;2;½\nFar Slope;1;puriri;12;1;2\nfar slope;2;;;;\n"
    )
    proposed = counts_from_file(farm, written(tmp_path, text), ON)
    after = proposed.edit.apply(farm)
    assert after.plot_trees["plot"].tolist() == [1, 1]
    assert after.plot_trees["counts"].tolist() == [0.5, 2.0]
    assert after.plot_trees["dbh_cm"].tolist() == [31.5, 12.0]
    assert after.plots["measured_on"].notna().tolist() == [True, True, False, False, False]
    assert proposed.notes[0] == "3 trees in 2 plots came in"
    assert not any("left out" in note for note in proposed.notes)
    assert len(samples(after, ON)[2].places) == 2
    assert proposed.edit.turned_round().apply(after).plots.equals(farm.plots)
    with pytest.raises(BadInput, match="counted before in plots 1"):
        counts_from_file(after, written(tmp_path, text), ON)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("species,dbh_cm\nTOTA,3\n", "has no column plot"),
        ("plot,dbh_cm\n1,30\n", "several blocks have a plot 1"),
        ("block,plot,dbh_cm\nFar Slope,9,30\n", "row 2: there is no plot 9 in Far Slope"),
        ("block,plot,dbh_cm\nFar Slope,1,thick\nFar Slope,,3\n", "row 2: .*no number.*; row 3: no plot is named"),
        ("block,plot,dbh_cm\n" + "Far Slope,1,thick\n" * 9, "and 4 more"),
    ],
)
def test_a_csv_that_cannot_come_in_says_where_and_why_and_nothing_comes_in(farm, tmp_path, text, words):
    with pytest.raises(BadInput, match=words):
        counts_from_file(farm, written(tmp_path, text), ON)


def test_none_as_species_says_that_no_tree_stood_there(farm, tmp_path):
    text = "block,plot,species,trees\nFar Slope,1,None,\nFar Slope,2,none,1\nFar Slope,3,TOTA,2\n"
    proposed = counts_from_file(farm, written(tmp_path, text), ON)
    after = proposed.edit.apply(farm)
    assert after.plot_trees["plot"].tolist() == [3]
    assert after.plots["measured_on"].notna().tolist() == [True, True, True, False, False]
    assert after.species is farm.species


def test_two_plots_of_one_name_in_a_block_are_told(farm, tmp_path):
    twice = farm.with_tables(plots=farm.plots.assign(name=["1", "1", "3", "1", "2"]))
    with pytest.raises(BadInput, match="2 plots are called 1; give each its own name"):
        counts_from_file(twice, written(tmp_path, "block,plot\nFar Slope,1\n"), ON)


def test_columns_that_are_not_known_are_told(farm, tmp_path):
    text = "block,plot,species,girth_cm,Crew\nFar Slope,1,TOTA,63,Ana\n"
    proposed = counts_from_file(farm, written(tmp_path, text), ON)
    assert "columns that are not known were left out: girth_cm, Crew" in proposed.notes


def test_of_one_block_the_file_needs_no_column_for_it(farm, tmp_path):
    after = counts_from_file(farm, written(tmp_path, "plot,dbh_cm\n1,30\n"), ON, block=1).edit.apply(farm)
    assert after.plot_trees["plot"].tolist() == [4]


def test_mapped_trees_are_counted_with_their_weight_at_the_edge(farm):
    moved = farm.with_tables(plots=farm.plots.assign(x=farm.trees["x"].loc[1] + 1.0, y=farm.trees["y"].loc[1] - 8.0))
    on_edge = counts_from_map(moved, [4], ON).edit.apply(moved)
    assert not len(on_edge.plot_trees)  # 8.06 m away, and the radius is 7.98 m
    near = moved.with_tables(plots=moved.plots.assign(y=moved.plots["y"] + 1.0))
    counted = counts_from_map(near, [4], ON).edit.apply(near)
    (row,) = counted.plot_trees.to_dict("records")
    assert row["dbh_cm"] == 22.5
    assert row["counts"] == 1.0  # it stands 10 m inside
    edge = near.with_tables(
        trees=near.trees.assign(y=near.trees["y"].where(near.trees.index != 1, near.trees["y"] - 9))
    )
    (row,) = counts_from_map(edge, [4], ON).edit.apply(edge).plot_trees.to_dict("records")
    assert 1.6 < row["counts"] < 2.0  # nearly half of its circle lies outside
    again = counts_from_map(counted, [4], ON).edit.apply(counted)
    assert len(again.plot_trees) == 1


def test_nothing_to_count_on_the_map_is_said(farm):
    bare = farm.with_tables(trees=farm.trees.iloc[:0], measurements=farm.measurements.iloc[:0])
    with pytest.raises(BadInput, match="no tree is mapped in Far Slope"):
        counts_from_map(bare, [1], ON)


def test_plots_are_handed_on(farm, tmp_path):
    assert write_plots(farm, [2, 1], tmp_path / "p.csv") == 5
    lines = list(csv.DictReader((tmp_path / "p.csv").read_text("utf-8-sig").splitlines()))
    assert [(line["block"], line["plot"]) for line in lines[:3]] == [
        ("Far Slope", "1"),
        ("Far Slope", "2"),
        ("Far Slope", "3"),
    ]
    assert float(lines[0]["x"]) == pytest.approx(farm.plots["x"].iloc[0], abs=0.01)
    assert write_plots(farm, [2], tmp_path / "p.gpx") == 3
    root = ElementTree.parse(tmp_path / "p.gpx").getroot()
    points = root.findall("{*}wpt")
    assert points[0].find("{*}name").text == "Far Slope 1"
    lon, lat = farm.grid.lon_lat(farm.plots["x"].iloc[:1], farm.plots["y"].iloc[:1])
    assert float(points[0].get("lat")) == pytest.approx(lat[0], abs=1e-5)
    assert float(points[0].get("lon")) == pytest.approx(lon[0], abs=1e-5)
    assert len(root.find("{*}rte").findall("{*}rtept")) == 3


def test_plots_that_cannot_be_handed_on_are_refused_in_words(farm, tmp_path):
    with pytest.raises(BadInput, match="end its name in"):
        write_plots(farm, [2], tmp_path / "p.doc")
    with pytest.raises(BadInput, match="no sample plots are laid out there"):
        write_plots(small_farm(), [2], tmp_path / "p.csv")
    with pytest.raises(BadInput, match="cannot be written"):
        write_plots(farm, [2], tmp_path / "none" / "p.csv")
