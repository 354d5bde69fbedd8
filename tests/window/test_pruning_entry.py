"""Pruning in the window: the tape, the fields of trees, and the panel from its list to the file and back."""

import datetime as dt

import numpy as np
import pytest
from PySide6.QtCore import QDate, Qt

from farmmap.files.farm_file import read_farm, write_farm
from farmmap.window.fields_box import FieldsBox
from tests.plans.pruning.prunable import prunable
from tests.window.tool_hand import Hand

WAIT_MS = 30_000


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


def reading(farm, tree, day):
    rows = farm.measurements
    rows = rows[(rows["tree"] == tree) & (rows["measured_on"] == np.datetime64(day))]
    return rows.iloc[-1]


def test_the_tape_takes_a_diameter_over_stubs_by_tab(hand):
    hand.take("Tape")
    box = hand.tool.box
    box.date.setDate(QDate(2022, 5, 1))
    hand.type("1")
    hand.enter()
    hand.type("24.1")
    for field, text in ((box.dbh, ""), (box.height_field, "4"), (box.pruned, "16.5")):
        hand.qtbot.keyClick(field, Qt.Key.Key_Tab)
        if text:
            hand.type(text)
    assert box.stubs.hasFocus()
    hand.enter()
    hand.wait_for_edit()
    row = reading(hand.file(), 1, "2022-05-01")
    assert (row["dbh_cm"], row["pruned_m"], row["dos_cm"]) == (24.1, 4.0, 16.5)
    assert box.stubs.text() == ""
    assert "over stubs 16.5 cm" in box.entries[0]


def test_form_and_pruning_with_stubs_in_the_fields_of_trees(qtbot, hand, opened):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    box = FieldsBox(opened.bench, opened)
    qtbot.addWidget(box)
    box.show()
    choice = box.fields["form"].choice
    assert [choice.itemText(place) for place in range(choice.count())] == ["not given", "good", "fair", "poor"]
    choice.setCurrentIndex(choice.findData("fair"))
    box.stubs.setText("15")
    box.carry_out()
    assert "Give the height to which they were pruned" in box.answer.text()
    box.pruned.setText("2.5")
    box.pruned_on.setDate(QDate(2021, 6, 1))
    box.carry_out()
    hand.wait_for_edit()
    farm = hand.file()
    assert farm.trees["form"].loc[[1, 2]].tolist() == ["fair", "fair"]
    assert [float(reading(farm, tree, "2021-06-01")["dos_cm"]) for tree in (1, 2)] == [15.0, 15.0]


def test_the_panel_writes_pruning_down_and_it_is_taken_back(qtbot, window, tmp_path, settle):
    readings = [{"tree": n + 1, "height_m": 6.0, "dbh_cm": 8.0} for n in range(4)]
    path = tmp_path / "prune hill.gpkg"
    write_farm(prunable([{}] * 4, readings), path)
    window.open_farm(path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    window.panels.setCurrentWidget(window.panels.page("Pruning"))
    settle(window)
    view = window.panels.page("Pruning").view
    assert view.due.trees.rowCount() == 4
    view.due.date.setDate(QDate(2020, 5, 1))
    view.due.record_button.click()
    qtbot.waitUntil(lambda: window.files.undo_name == "Prune 4 trees to 2 m", timeout=WAIT_MS)
    settle(window)
    taken = read_farm(path).measurements
    assert (taken["pruned_m"] == 2.0).all()
    assert set(taken["measured_on"].dt.date) == {dt.date(2020, 5, 1)}
    assert view.due.model.numbers_at(0)["lift"] == 2
    window.files.undo()
    qtbot.waitUntil(lambda: not window.files.undo_name, timeout=WAIT_MS)
    settle(window)
    assert read_farm(path).measurements["pruned_m"].isna().all()
    assert view.due.model.numbers_at(0)["lift"] == 1
