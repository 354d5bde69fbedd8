"""The Plots panel: plots laid out, counted by the keyboard, told with their interval, handed out, and all undone."""

from __future__ import annotations

import csv
import datetime as dt

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from farmmap.figures.sampling.zones import ANGLE_COUNT, STRIP, PlotShape
from farmmap.figures.standing import newest_day
from farmmap.files.farm_file import read_farm
from farmmap.panels.plots.view import COUNT, LAY_OUT, RESULTS
from farmmap.plans.sampling.counting import plots_measured
from farmmap.plans.sampling.layout import GRID, STRATIFIED, Layout, plots_laid_out
from farmmap.scene.scene import Chosen
from farmmap.window.farm_days import farm_days, farm_days_after

WAIT_MS = 30_000
FAR_SLOPE = 2


@pytest.fixture
def panel(qtbot, opened, settle):
    """Return the panel's view on the small farm, standing on Far Slope."""
    page = opened.panels.page("Plots")
    opened.panels.setCurrentWidget(page)
    qtbot.waitUntil(lambda: page.view is not None, timeout=WAIT_MS)
    opened.session.choose(Chosen("block", FAR_SLOPE))
    settle(opened)
    return page.view


def lay_out(qtbot, opened, panel, settle, plots=3):
    panel.show_page(LAY_OUT)
    panel.form.number.setValue(plots)
    before = len(opened.session.farm.plots)
    qtbot.mouseClick(panel.lay_out, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(opened.session.farm.plots) != before, timeout=WAIT_MS)
    settle(opened)


def type_tree(qtbot, panel, diameter):
    qtbot.keyClicks(panel.count.dbh, diameter)
    qtbot.keyClick(panel.count.dbh, Qt.Key.Key_Return)


def test_it_follows_the_block_that_is_chosen_and_stays_in_front(opened, panel, settle):
    assert panel.block.currentText() == "Far Slope"
    assert "no sample plots yet" in panel.said.text()
    opened.session.choose(Chosen("block", 1))
    settle(opened)
    assert panel.block.currentText() == "North Terrace"
    assert opened.panels.currentWidget().panel.name == "Plots"


def test_from_laying_out_to_the_interval_and_back(qtbot, opened, panel, settle):
    lay_out(qtbot, opened, panel, settle)
    assert len(read_farm(opened.session.path).plots) == 3
    assert "No plot is moved away from the edge" in panel.answer.text()
    assert "3 plots laid out, none measured yet" in panel.said.text()
    panel.show_page(COUNT)
    assert panel.count.plot.count() == 3
    panel.count.species.setEditText("coast redwood")
    for diameter in ("31.5", "28"):
        type_tree(qtbot, panel, diameter)
    assert panel.count.table.rowCount() == 2
    assert panel.count.dbh.text() == ""
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 2, timeout=WAIT_MS)
    settle(opened)
    assert panel.count.plot.currentText() == "Plot 1"
    assert panel.count.table.item(0, 0).text() == "coast redwood"
    qtbot.mouseClick(panel.count.next_plot, Qt.MouseButton.LeftButton)
    panel.count.weight.setCurrentIndex(1)
    type_tree(qtbot, panel, "40")
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 3, timeout=WAIT_MS)
    settle(opened)
    qtbot.mouseClick(panel.count.next_plot, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(panel.count.none_there, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: opened.session.farm.plots["measured_on"].notna().all(), timeout=WAIT_MS)
    settle(opened)
    panel.show_page(RESULTS)
    assert opened.session.farm.plot_trees["counts"].tolist() == [1.0, 1.0, 2.0]
    row = panel.results.model.table.row_of(FAR_SLOPE)
    assert row["plots"] == 3
    assert row["stems_per_ha"] == pytest.approx(4 / 3 * 10_000 / (3.14159265 * 7.98**2), rel=1e-4)
    assert "3 plots: " in panel.said.text()
    assert "more plots would bring it to ±10 %" in panel.said.text()
    for _ in range(5):
        farm = opened.session.farm
        opened.files.undo()
        qtbot.waitUntil(lambda farm=farm: opened.session.farm is not farm, timeout=WAIT_MS)
        settle(opened)
    qtbot.waitUntil(lambda: not len(opened.session.farm.plots), timeout=WAIT_MS)
    assert not len(opened.session.farm.plot_trees)
    assert "no sample plots yet" in panel.said.text()


def test_a_wrong_diameter_is_told_and_stays_to_be_mended(qtbot, opened, panel, settle):
    lay_out(qtbot, opened, panel, settle)
    panel.show_page(COUNT)
    type_tree(qtbot, panel, "thick")
    assert "no number" in panel.count.answer.text()
    assert panel.count.answer.property("warning")
    assert panel.count.dbh.text() == "thick"
    assert not len(opened.session.farm.plot_trees)


def test_a_counted_tree_is_taken_away_by_delete(qtbot, opened, panel, settle):
    lay_out(qtbot, opened, panel, settle)
    panel.show_page(COUNT)
    type_tree(qtbot, panel, "30")
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 1, timeout=WAIT_MS)
    settle(opened)
    panel.count.table.setCurrentCell(0, 0)
    qtbot.keyClick(panel.count.table, Qt.Key.Key_Delete)
    qtbot.waitUntil(lambda: not len(opened.session.farm.plot_trees), timeout=WAIT_MS)


def test_a_plot_is_taken_away_with_its_trees_and_comes_back_by_undo(qtbot, opened, panel, settle):
    lay_out(qtbot, opened, panel, settle)
    panel.show_page(COUNT)
    type_tree(qtbot, panel, "30")
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 1, timeout=WAIT_MS)
    settle(opened)
    qtbot.mouseClick(panel.count.take_away, Qt.MouseButton.LeftButton)
    assert "1 line of counted trees goes with it" in panel.count.answer.text()
    qtbot.waitUntil(lambda: len(opened.session.farm.plots) == 2, timeout=WAIT_MS)
    settle(opened)
    assert not len(opened.session.farm.plot_trees)
    assert panel.count.plot.currentText() == "Plot 2 (to measure)"
    opened.files.undo()
    qtbot.waitUntil(lambda: len(opened.session.farm.plots) == 3, timeout=WAIT_MS)
    settle(opened)
    assert len(opened.session.farm.plot_trees) == 1


def test_counts_come_from_a_file_or_from_the_map(qtbot, opened, panel, settle, tmp_path):
    lay_out(qtbot, opened, panel, settle)
    path = tmp_path / "counts.csv"
    path.write_text("plot,dbh_cm\n1,30\n2,20\n7,20\n", "utf-8")
    panel.show_page(COUNT)
    panel.count.bring_in(path)
    assert "row 4: there is no plot 7" in panel.count.answer.text()
    path.write_text("plot,dbh_cm\n1,30\n2,20\n", "utf-8")
    panel.count.bring_in(path)
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 2, timeout=WAIT_MS)
    settle(opened)
    panel.count.from_map.trigger()
    qtbot.waitUntil(lambda: opened.session.farm.plots["measured_on"].notna().all(), timeout=WAIT_MS)


def test_plots_are_handed_out(qtbot, opened, panel, settle, tmp_path):
    assert not panel.hand_out.isEnabled()
    lay_out(qtbot, opened, panel, settle)
    assert panel.hand_out.isEnabled()
    for ending in ("csv", "gpx", "pdf"):
        panel.write(tmp_path / f"plots.{ending}")
        assert (tmp_path / f"plots.{ending}").stat().st_size > 200
    assert len(list(csv.DictReader((tmp_path / "plots.csv").read_text("utf-8-sig").splitlines()))) == 3
    panel.show_page(RESULTS)
    panel.write(tmp_path / "nowhere" / "plots.csv")
    assert "Nothing was written" in panel.said.text()


def test_the_form_shows_what_matters_and_says_what_is_set(panel):
    form = panel.form
    assert not form.spacing.isVisibleTo(form)
    form.design.setCurrentIndex(form.design.findData(GRID))
    assert form.spacing.isVisibleTo(form)
    form.spacing.setValue(40)
    assert not form.number.isVisibleTo(form)
    wanted = form.layout_wanted()
    assert (wanted.design, wanted.plots, wanted.spacing_m) == (GRID, None, 40)
    form.design.setCurrentIndex(form.design.findData(STRATIFIED))
    assert form.layout_wanted().parts == 4
    form.shape.setCurrentIndex(form.shape.findData(STRIP))
    assert form.layout_wanted().shape.area_m2 == 500
    form.shape.setCurrentIndex(form.shape.findData(ANGLE_COUNT))
    assert form.layout_wanted().shape.baf_m2 == 2
    labels = [label.text() for label in form.findChildren(QLabel) if label.isVisibleTo(form)]
    assert "Radius, level" not in labels


def test_days_on_which_plots_were_measured_are_days_of_the_farm(farm):
    laid = plots_laid_out(farm, [1], Layout(plots=2, shape=PlotShape(ANGLE_COUNT, baf_m2=2.0))).edit.apply(farm)
    today, day = dt.date(2026, 1, 1), dt.date(2025, 3, 4)
    edit = plots_measured(laid, [1, 2], day).edit
    after = edit.apply(laid)
    before = farm_days(laid, today)
    assert farm_days(after, today).newest == day
    assert farm_days_after(before, after, edit) == farm_days(after, today)
    assert farm_days_after(farm_days(after, today), laid, edit.turned_round()) == before
    assert newest_day(after) == day


def test_edges_counted_inside_only_are_worked_out_anew(qtbot, opened, panel, settle):
    lay_out(qtbot, opened, panel, settle)
    panel.show_page(COUNT)
    panel.count.from_map.trigger()
    qtbot.waitUntil(lambda: opened.session.farm.plots["measured_on"].notna().all(), timeout=WAIT_MS)
    settle(opened)
    panel.show_page(RESULTS)
    panel.edge.setCurrentIndex(1)
    settle(opened)
    assert any("divided by the ground inside" in note for note in panel.results.model.table.notes)
