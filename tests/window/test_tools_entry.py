"""Readings of the tape and changes of fields, typed by keyboard and checked in the file."""

import datetime as dt

import numpy as np
import pytest
from PySide6.QtCore import QDate, Qt

from farmmap.scene.scene import Chosen
from farmmap.window.fields_box import FieldsBox
from farmmap.window.tools.pick import PickTool
from tests.window.tool_hand import Hand

CTRL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


@pytest.fixture
def box(hand, opened):
    hand.take("Tape")
    box = hand.tool.box
    box.date.setDate(QDate(2022, 5, 1))
    assert box.tag.hasFocus()
    return box


def reading(farm, tree, day):
    rows = farm.measurements
    rows = rows[(rows["tree"] == tree) & (rows["measured_on"] == np.datetime64(day))]
    return rows.iloc[-1]


# Tape


def test_tag_diameter_and_on_to_the_next_tree(hand, opened, box):
    hand.type("1")
    hand.enter()
    assert box.dbh.hasFocus()
    assert opened.session.chosen == Chosen("tree", 1)
    assert "22.5 cm on 1 May 2020" in box.answer.text()
    hand.type("24.1")
    hand.enter()
    assert box.tag.hasFocus()
    assert box.tag.text() == "2"
    hand.wait_for_edit()
    assert reading(hand.file(), 1, "2022-05-01")["dbh_cm"] == 24.1
    assert box.entries[0].startswith("tree 1: 24.1 cm, +1.6 cm (+0.8 cm a year)")
    hand.enter()
    assert opened.session.chosen == Chosen("tree", 2)
    hand.type("19,2")
    hand.enter()
    hand.wait_for_edit()
    assert reading(hand.file(), 2, "2022-05-01")["dbh_cm"] == 19.2
    assert box.list.text().splitlines()[0].startswith("tree 2: 19.2 cm")
    assert opened.files.undo_name.startswith("Measure tree 2")


def test_the_day_of_the_readings_is_seen_with_its_year(hand, box):
    field = box.date.lineEdit()
    assert field.width() >= box.date.fontMetrics().horizontalAdvance("27 September 2026")


def test_height_and_pruned_height_by_tab(hand, box):
    hand.type("1")
    hand.enter()
    hand.type("24.1")
    hand.qtbot.keyClick(box.dbh, Qt.Key.Key_Tab)
    assert box.height_field.hasFocus()
    hand.type("12.5")
    hand.qtbot.keyClick(box.height_field, Qt.Key.Key_Tab)
    hand.type("4")
    hand.enter()
    hand.wait_for_edit()
    row = reading(hand.file(), 1, "2022-05-01")
    assert (row["dbh_cm"], row["height_m"], row["pruned_m"]) == (24.1, 12.5, 4.0)


def test_an_unknown_tag_is_answered_in_place(hand, box):
    hand.type("99")
    hand.enter()
    assert "No tree has the tag 99" in box.answer.text()
    assert box.answer.property("warning")
    assert box.tag.hasFocus()
    assert box.tag.selectedText() == "99"
    hand.type("4")
    hand.enter()
    assert box.tree == 4


def test_a_diameter_that_shrank_has_to_be_confirmed(hand, opened, box):
    hand.type("1")
    hand.enter()
    hand.type("12.5")
    hand.enter()
    assert box.keep.isVisible()
    assert box.keep.text().replace("&", "") == "Keep 12.5"
    assert box.again.hasFocus()
    assert len(hand.file().measurements) == 6
    hand.enter()
    assert not box.keep.isVisible()
    assert box.dbh.hasFocus()
    hand.type("12.5")
    hand.enter()
    hand.qtbot.keyClick(box.again, Qt.Key.Key_K)
    hand.wait_for_edit()
    assert reading(hand.file(), 1, "2022-05-01")["dbh_cm"] == 12.5
    assert "−10.0 cm" in box.entries[0]


def test_a_wrong_number_is_answered_in_place(hand, box):
    hand.type("1")
    hand.enter()
    hand.type("thick")
    hand.enter()
    assert "no number" in box.answer.text()
    assert box.dbh.hasFocus()


def test_a_click_on_a_tree_takes_its_tag_and_escape_ends(hand, box):
    hand.click(110, 10)
    assert box.tag.text() == "4"
    assert box.dbh.hasFocus()
    hand.qtbot.keyClick(box.dbh, Qt.Key.Key_Escape)
    assert isinstance(hand.tool, PickTool)


def test_trees_of_one_tag_are_shown_one_after_the_other(hand, opened):
    opened.bench.propose(lambda farm: _tagged(farm, 5, "2"))
    hand.wait_for_edit()
    hand.take("Tape")
    box = hand.tool.box
    hand.type("2")
    hand.enter()
    assert box.tree == 2
    assert "2 trees have this tag" in box.answer.text()
    hand.enter()
    assert box.tree == 5
    hand.qtbot.keyClick(box.tag, Qt.Key.Key_Tab)
    assert box.dbh.hasFocus()


def _tagged(farm, tree, tag):
    from farmmap.editing.fields import fields_changed

    return fields_changed(farm, "trees", [tree], {"tag": tag})


def test_undo_takes_the_last_reading_back_and_types_nothing_into_the_next_tree(hand, opened, box):
    hand.type("1")
    hand.enter()
    hand.type("24.1")
    hand.enter()
    hand.wait_for_edit()
    hand.enter()
    assert box.dbh.hasFocus()
    hand.qtbot.keyClick(box.dbh, Qt.Key.Key_Z, CTRL)
    hand.wait_for_edit()
    assert box.dbh.text() == ""
    assert len(hand.file().measurements) == 6
    assert hand.words.startswith("Taken back: measure tree 1")
    hand.type("19")
    hand.qtbot.keyClick(box.dbh, Qt.Key.Key_Z, CTRL)
    assert box.dbh.text() == "", "what is being typed is taken back first"


def test_the_tape_takes_a_tree_only_if_it_alone_is_picked(hand, opened):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    hand.take("Tape")
    box = hand.tool.box
    assert box.tree is None
    assert box.tag.hasFocus()
    assert box.tag.text() == ""
    assert hand.words.startswith("Type a tag")
    hand.type("4")
    hand.enter()
    assert hand.words.startswith("Type the diameter")
    hand.take("Pick")
    opened.bench.picks.pick([("trees", 2)])
    hand.take("Tape")
    assert hand.tool.box.tree == 2
    assert hand.tool.box.dbh.hasFocus()
    assert hand.words.startswith("Type the diameter")


def test_every_stem_of_a_tree_is_asked_for(hand, opened):
    from farmmap.editing.fields import fields_changed

    opened.bench.propose(lambda farm: fields_changed(farm, "trees", [5], {"stems": "2"}))
    hand.wait_for_edit()
    hand.take("Tape")
    box = hand.tool.box
    hand.type("5")
    hand.enter()
    assert box.stem_words.text() == "stem 1 of 2"
    hand.type("14")
    hand.enter()
    hand.wait_for_edit()
    assert box.stem_words.text() == "stem 2 of 2"
    assert box.dbh.hasFocus()
    hand.type("11")
    hand.enter()
    hand.wait_for_edit()
    rows = hand.file().measurements
    assert list(rows[rows["tree"] == 5]["dbh_cm"]) == [14.0, 11.0]
    assert list(rows[rows["tree"] == 5]["stem"]) == [1, 2]


# Fields


def fields(hand, opened, dialog_of):
    hand.qtbot.keyClick(opened, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    return dialog_of(opened, FieldsBox)


def press_change(hand, box):
    hand.qtbot.mouseClick(box.change_button, Qt.MouseButton.LeftButton)


def test_only_touched_fields_of_many_rows_change(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1), ("trees", 3), ("trees", 4)])
    box = fields(hand, opened, dialog_of)
    assert box.heading.text() == "3 trees"
    species, status, planted = (box.fields[name] for name in ("species", "status", "planted"))
    assert species.line.placeholderText() == "several"
    assert status.choice.currentText() == "several"
    assert planted.held is None
    assert box.values() == {}
    planted.line.setFocus()
    hand.qtbot.keyClicks(planted.line, "2003")
    hand.qtbot.keyClick(box, Qt.Key.Key_Return)
    hand.wait_for_edit()
    before, after = opened.session.farm.trees, hand.file().trees
    assert list(after["planted"].loc[[1, 3, 4]]) == ["2003"] * 3
    assert list(after["species"]) == ["TOTA", "TOTA", "REDW", "REDW", "TOTA", "REDW"]
    assert list(after["status"]) == list(before["status"])
    assert list(after["planted"].loc[[2, 5, 6]]) == ["2004", "2010", "2010"]
    hand.undo()
    assert list(hand.file().trees["planted"].loc[[1, 3, 4]]) == ["2004", "2004", "2010-07-15"]


def test_a_list_of_allowed_values_and_a_unit(hand, opened, dialog_of):
    opened.bench.picks.pick([("creeks", 1)])
    box = fields(hand, opened, dialog_of)
    drawn_as = box.fields["drawn_as"].choice
    assert [drawn_as.itemText(row) for row in range(drawn_as.count())] == ["centre line", "left bank", "right bank"]
    drawn_as.setCurrentIndex(1)
    width = box.fields["channel_m"].line
    assert width.text() == "2"
    width.setText("3.5")
    press_change(hand, box)
    hand.wait_for_edit()
    creek = hand.file().creeks.loc[1]
    assert (creek["drawn_as"], creek["channel_m"]) == ("left bank", 3.5)


def test_a_value_that_does_not_fit_is_answered_in_the_box(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1)])
    box = fields(hand, opened, dialog_of)
    box.fields["planted"].line.setText("long ago")
    press_change(hand, box)
    assert box.isVisible()
    assert "long ago" in box.answer.text()
    assert box.answer.property("warning")
    box.reject()
    assert len(hand.file().trees) == 6


def test_pruning_is_written_down_as_measured_that_day(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    box = fields(hand, opened, dialog_of)
    box.pruned_on.setDate(QDate(2021, 6, 1))
    box.pruned.setFocus()
    hand.qtbot.keyClicks(box.pruned, "4.5")
    press_change(hand, box)
    hand.wait_for_edit()
    farm = hand.file()
    assert [reading(farm, tree, "2021-06-01")["pruned_m"] for tree in (1, 2)] == [4.5, 4.5]


def test_pruning_with_another_field_is_one_step(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    before = opened.session.farm
    box = fields(hand, opened, dialog_of)
    box.pruned_on.setDate(QDate(2021, 6, 1))
    box.fields["planted"].line.setText("2003")
    box.pruned.setText("4.5")
    press_change(hand, box)
    hand.wait_for_edit()
    assert opened.files.done_names == ("Change planted of 2 trees and prune 2 trees to 4.5 m",)
    farm = hand.file()
    assert list(farm.trees["planted"].loc[[1, 2]]) == ["2003", "2003"]
    assert reading(farm, 1, "2021-06-01")["pruned_m"] == 4.5
    hand.undo()
    assert hand.file().measurements.equals(before.measurements)
    assert hand.file().trees.equals(before.trees)


def test_a_tree_that_is_felled_is_offered_today(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1)])
    box = fields(hand, opened, dialog_of)
    assert box.focusWidget() is box.fields["tag"].widget, "one can type at once"
    status, day = box.fields["status"].choice, box.fields["status_on"].line
    status.setCurrentIndex(status.findData("felled"))
    assert day.text() == dt.datetime.now().astimezone().date().isoformat()
    status.setCurrentIndex(status.findData("alive"))
    assert day.text() == ""
    day.setText("2021-03-04")
    status.setCurrentIndex(status.findData("dead"))
    assert day.text() == "2021-03-04", "what was typed stays"
    press_change(hand, box)
    hand.wait_for_edit()
    assert str(hand.file().trees["status_on"].loc[1])[:10] == "2021-03-04"


def test_one_tag_for_many_trees_is_refused_in_the_box(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    box = fields(hand, opened, dialog_of)
    box.fields["tag"].line.setText("7")
    press_change(hand, box)
    assert box.answer.text() == ("2 trees cannot all have the tag 7, as trees are found by their tags; pick one tree.")
    box.reject()


def test_what_was_done_is_not_red_for_carrying_a_note(hand, opened):
    from farmmap.editing.fields import fields_changed

    opened.bench.propose(lambda farm: fields_changed(farm, "trees", [1], {"tag": "2"}))
    hand.wait_for_edit()
    assert hand.words == "Done: change tag of tree 1. There is another tree with tag 2; give each its own."
    assert not opened.note_strip.label.property("warning")


def test_felling_near_the_power_line_gets_the_caution(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 5)])
    box = fields(hand, opened, dialog_of)
    status = box.fields["status"].choice
    status.setCurrentIndex(status.findData("felled"))
    press_change(hand, box)
    hand.wait_for_edit()
    assert hand.file().trees["status"].loc[5] == "felled"
    assert "power line" in hand.words


def test_each_kind_of_thing_that_is_picked_has_its_form(hand, opened, dialog_of):
    opened.bench.picks.pick([("trees", 1), ("blocks", 1), ("blocks", 2)])
    box = fields(hand, opened, dialog_of)
    assert [box.table.itemText(row) for row in range(box.table.count())] == ["Tree 1", "2 blocks"]
    box.table.setCurrentIndex(1)
    assert "purpose" in box.fields
    assert box.pruned is None
    box.fields["purpose"].line.setText("poles")
    press_change(hand, box)
    hand.wait_for_edit()
    assert list(hand.file().blocks["purpose"]) == ["poles", "poles"]


def test_a_farm_to_look_at_opens_no_form(hand, opened):
    opened.bench.picks.pick([("trees", 1)])
    opened.session.only_look("Ann holds this farm.")
    opened.bench.change_fields()
    assert not opened.findChildren(FieldsBox)
    assert "Ann holds this farm." in hand.words


def test_today_is_the_day_unless_it_is_changed(hand):
    hand.take("Tape")
    assert hand.tool.box.day() == dt.datetime.now().astimezone().date()
