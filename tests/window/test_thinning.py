"""A thinning from a full block to a marking list in the window: proposed, put in, changed by hand, felled, undone."""

import csv
import datetime as dt

import numpy as np
import pandas as pd
import pytest
from PySide6.QtCore import QDate, QPoint, Qt
from PySide6.QtWidgets import QFileDialog

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.files.farm_file import write_farm
from farmmap.panels.thinning.part_models import HEADS
from farmmap.panels.thinning.rule_form import AS_MARKED
from farmmap.plans.thinning.rule import NUMBERS, RULES, ThinningRule
from farmmap.plans.thinning.thinning import thinning
from farmmap.scene.scene import Chosen
from tests.place import EAST, NORTH
from tests.window.tool_hand import WAIT_MS, Hand

BLOCK = 1
ROWS, APART = 15, 6.0


def full_block(farm):
    """The small farm, its first block full of trees 6 m apart, some of them another species."""
    chance = np.random.default_rng(3)
    many = ROWS * ROWS
    ids = np.arange(1, many + 1)
    trees = shaped(
        TABLES["trees"],
        {
            "tag": [f"A{number}" for number in ids],
            "species": np.where(ids % 5 == 0, "TOTA", "REDW").tolist(),
            "planted": ["2004"] * many,
            "x": EAST + 8 + APART * (np.arange(many) % ROWS),
            "y": NORTH + 4 + APART * (np.arange(many) // ROWS),
        },
        ids,
        farm.grid,
    )
    tape = shaped(
        TABLES["measurements"],
        {
            "tree": ids,
            "measured_on": [pd.Timestamp("2020-05-01")] * many,
            "dbh_cm": chance.uniform(15, 40, many).round(1),
            "height_m": chance.uniform(12, 16, many).round(1),
            "crown_m": chance.uniform(3, 5, many).round(1),
        },
        ids,
        farm.grid,
    )
    return farm.with_tables(trees=trees, measurements=tape)


@pytest.fixture
def before(farm):
    return full_block(farm)


@pytest.fixture
def farm_path(before, tmp_path):
    path = tmp_path / "full pipit.gpkg"
    write_farm(before, path)
    return path


@pytest.fixture
def hand(qtbot, opened, settle):
    """A hand with the Thinning panel in sight, about the full block."""
    made = Hand(qtbot, opened, settle)
    opened.panels.setCurrentWidget(opened.panels.page("Thinning"))
    opened.session.choose(Chosen("block", BLOCK))
    made.settle()
    return made


@pytest.fixture
def view(hand, opened):
    return opened.panels.page("Thinning").view


def figure(view, name, part):
    return view.parts.value(name, HEADS.index(part))


def propose(hand, view, kind):
    """Look at a proposal by a rule."""
    hand.qtbot.mouseClick(view.proposal, Qt.MouseButton.LeftButton, pos=QPoint(8, view.proposal.height() // 2))
    assert view.proposal.isChecked()
    view.form.kind.setCurrentIndex(view.form.kind.findData(kind))
    hand.settle()


def put_in(hand, view):
    hand.qtbot.mouseClick(view.put_button, Qt.MouseButton.LeftButton)
    return hand.wait_for_edit()


def marks(farm):
    return farm.trees["mark"].tolist()


def test_from_a_full_block_to_a_marking_list_and_all_undone(hand, view, opened, before, tmp_path):
    assert opened.panels.currentWidget() is opened.panels.page("Thinning")
    assert figure(view, "stems", "Before") == figure(view, "stems", "After") == 225
    assert "0 crop, 0 to be taken out, 225 left" in view.heading.text()

    propose(hand, view, "below")
    view.form.fields["percent"].setValue(40)
    hand.settle()
    assert "Proposal for North Terrace" in view.heading.text()
    assert "not on the trees yet" in view.heading.text()
    assert figure(view, "stems", "Taken") == 90
    assert figure(view, "stems", "After") == 135
    assert figure(view, "qmd_cm", "After") > figure(view, "qmd_cm", "Before")
    assert view.cautions.isVisible()
    assert "trained people" in view.cautions.text()
    assert marks(hand.file()) == [""] * 225

    farm = put_in(hand, view)
    assert marks(hand.file()) == marks(farm)
    crop, takes = marks(farm).count("crop"), marks(farm).count("take")
    assert takes == 90
    assert crop > 10
    hand.settle()
    assert view.as_marked.isChecked()
    assert f"{crop} crop, 90 to be taken out" in view.heading.text()
    assert figure(view, "stems", "After") == 135
    assert opened.key_view._counts["trees/to be taken out"].text() == "90"

    change_by_hand(hand, view, farm)
    assert opened.panels.currentWidget() is opened.panels.page("Thinning")
    farm = opened.session.farm
    hand_the_list_out(hand, view, farm, tmp_path / "list.csv")

    view.hand_out.day.setDate(QDate(2021, 6, 1))
    hand.qtbot.mouseClick(view.hand_out.felled_button, Qt.MouseButton.LeftButton)
    farm = hand.wait_for_edit()
    felled = farm.trees["status"] == "felled"
    assert felled.sum() == 90
    assert set(farm.trees["status_on"][felled]) == {pd.Timestamp("2021-06-01")}
    assert "take" not in marks(farm)

    for _ in range(4):
        hand.undo()
    assert opened.files.undo_name == ""
    hand.settle()
    after = hand.file()
    for table in ("trees", "measurements", "blocks"):
        pd.testing.assert_frame_equal(pd.DataFrame(after.tables[table]), pd.DataFrame(before.tables[table]))
    assert "0 crop, 0 to be taken out, 225 left" in view.heading.text()
    assert "trees/to be taken out" not in opened.key_view._counts


def change_by_hand(hand, view, farm):
    """One more goes, and one that was to go stays: two edits, which the figures follow."""
    left = next(place for place, mark in enumerate(marks(farm)) if mark == "")
    gone = next(place for place, mark in enumerate(marks(farm)) if mark == "take")
    basal = figure(view, "basal_area_m2_per_ha", "After")
    hand.take("Mark")
    for place, key in ((left, Qt.Key.Key_T), (gone, Qt.Key.Key_L)):
        hand.hover(8 + APART * (place % ROWS), 4 + APART * (place // ROWS))
        hand.key(key)
        farm = hand.wait_for_edit()
    assert marks(farm)[left] == "take"
    assert marks(farm)[gone] == ""
    hand.settle()
    assert figure(view, "stems", "After") == 135
    assert figure(view, "basal_area_m2_per_ha", "After") != basal


def hand_the_list_out(hand, view, farm, path):
    """The list is of the marks as they stand."""
    view.hand_out.write(path)
    hand.qtbot.waitUntil(lambda: path.name in view.answer.text(), timeout=WAIT_MS)
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    told = {row["tag"]: row["mark"] for row in rows}
    for tag, mark in zip(farm.trees["tag"], farm.trees["mark"], strict=True):
        assert told.get(tag, "") == mark


def test_trees_felled_after_the_day_that_is_shown_are_told(hand, view):
    propose(hand, view, "below")
    put_in(hand, view)
    takes = figure(view, "stems", "Taken")
    assert not view.felled_later.isVisible()
    view.hand_out.day.setDate(QDate(2021, 6, 1))
    hand.qtbot.mouseClick(view.hand_out.felled_button, Qt.MouseButton.LeftButton)
    hand.wait_for_edit()
    assert figure(view, "stems", "Before") == 225
    assert view.felled_later.isVisible()
    assert view.felled_later.text().startswith(f"{takes:.0f} of these trees were felled later, on 1 June 2021.")
    hand.undo()
    assert not view.felled_later.isVisible()


def test_every_rule_shows_its_numbers_and_follows_them(hand, view, opened):
    seen = {}
    view.form.fields["basal_area_m2_per_ha"].setValue(8)
    for kind in RULES:
        propose(hand, view, kind)
        seen[kind] = figure(view, "stems", "Taken")
        shown = {name for name, field in view.form.fields.items() if field.isVisible()}
        assert shown == set(NUMBERS[kind])
        bar = opened.panels.page("Thinning")._scroll.verticalScrollBar().sizeHint().width()
        assert view.minimumSizeHint().width() + bar <= opened.panels.minimumWidth(), "it fits the narrowest column"
    assert seen["none"] == 0
    assert all(seen[kind] > 0 for kind in ("below", "release-radius", "basal-area", "stocking", "rows"))
    view.form.kind.setCurrentIndex(view.form.kind.findData("stocking"))
    view.form.fields["stems_per_ha"].setValue(120)
    hand.settle()
    assert figure(view, "stems_per_ha", "After") == pytest.approx(120, abs=1.5)
    view.form.kind.setCurrentIndex(view.form.kind.findData("release-radius"))
    near = {}
    for radius in (3.0, 7.0):
        view.form.fields["radius_m"].setValue(radius)
        hand.settle()
        near[radius] = figure(view, "stems", "Taken")
    assert near[3.0] == 0
    assert near[7.0] > 50
    assert marks(hand.file()) == [""] * 225


def test_crop_trees_follow_what_is_set(hand, view):
    propose(hand, view, "none")
    crop = view.form.crop_fields
    assert "/ha" in crop["stems_per_ha"].text()  # what it comes to stands there while it is open
    crop["stems_per_ha"].setValue(60)
    hand.settle()
    few = len(view._figures.made.crop_ids)
    assert 60 * 0.95 * 0.7 < few < 60 * 0.95 * 1.1  # trees that stand on a lattice do not fit every distance
    view.form.species["TOTA"].setChecked(False)
    hand.settle()
    made = view._figures.made
    assert set(view._farm.trees["species"].loc[made.crop_ids]) == {"REDW"}
    assert view.form.species_button.text() == "coast redwood"
    crop["least_m"].setValue(25)
    hand.settle()
    made = view._figures.made
    assert len(made.crop_ids) < few
    x, y = (view._farm.trees[axis].loc[made.crop_ids].to_numpy() for axis in "xy")
    apart = np.hypot(x[:, None] - x, y[:, None] - y) + np.eye(len(x)) * 99
    assert apart.min() / view._farm.grid.scale(EAST, NORTH) >= 25 - 1e-6


def test_crop_trees_that_are_marked_by_hand_are_used(hand, view):
    hand.take("Mark")
    for place in (112, 40):
        hand.hover(8 + APART * (place % ROWS), 4 + APART * (place // ROWS))
        hand.key(Qt.Key.Key_C)
        hand.wait_for_edit()
    propose(hand, view, "release-radius")
    view.form.crop_by.setCurrentText(AS_MARKED)
    assert not view.form.crop_fields["least_m"].isVisible()
    view.form.fields["radius_m"].setValue(6.5)
    hand.settle()
    made = view._figures.made
    assert sorted(made.crop_ids) == [41, 113]
    assert sorted(made.take_ids) == sorted(place + step for place in (41, 113) for step in (-15, -1, 1, 15))


def test_the_proposal_is_that_of_the_plan(hand, view, opened):
    """The panel works nothing out itself."""
    propose(hand, view, "below")
    made = thinning(opened.session.farm, BLOCK, view.form.rule(), opened.session.on, view.form.crop())
    assert view._figures.made.mark.tolist() == made.mark.tolist()
    assert view.form.rule() == ThinningRule()
    species = view.species.counts
    assert sum(one.before for one in species) == 225
    assert sum(one.taken for one in species) == len(made.take_ids)
    assert all(one.before == one.taken + one.after for one in species)
    assert {one.name for one in species} == {"coast redwood", "tōtara"}


def test_marks_that_stand_already_are_said_to_and_make_no_edit(hand, view, opened):
    propose(hand, view, "below")
    farm = put_in(hand, view)
    view.form.crop_by.setCurrentText(AS_MARKED)
    view.proposal.setChecked(True)
    hand.settle()
    hand.qtbot.mouseClick(view.put_button, Qt.MouseButton.LeftButton)
    assert "marked so already" in view.answer.text()
    assert view.proposal.isChecked()
    assert opened.session.farm is farm


def test_marks_taken_off_come_back_by_undo_and_what_cannot_be_is_said(hand, view, opened, tmp_path):
    assert not view.hand_out.clear_button.isEnabled()
    assert not view.hand_out.felled_button.isEnabled()
    propose(hand, view, "below")
    farm = put_in(hand, view)
    hand.settle()
    hand.qtbot.mouseClick(view.hand_out.clear_button, Qt.MouseButton.LeftButton)
    assert marks(hand.wait_for_edit()) == [""] * 225
    assert marks(hand.undo()) == marks(farm)
    hand.settle()
    assert view.hand_out.clear_button.isEnabled()
    farm = opened.session.farm
    view.hand_out.day.setDate(QDate(2000, 1, 1))  # before they were planted
    hand.qtbot.mouseClick(view.hand_out.felled_button, Qt.MouseButton.LeftButton)
    assert "1 January 2000" in view.answer.text()
    assert view.answer.property("warning")
    view.hand_out.write(tmp_path / "nowhere" / "list.csv")
    hand.qtbot.waitUntil(lambda: "could not be written" in view.answer.text(), timeout=WAIT_MS)
    assert opened.session.farm is farm


def test_the_block_is_chosen_in_the_list_on_the_map_or_by_a_tree(hand, view, opened):
    names = [view.block.itemText(place) for place in range(view.block.count())]
    assert names == ["Far Slope", "North Terrace"]
    view.block.setCurrentIndex(0)
    view.block.activated.emit(0)
    hand.settle()
    assert opened.session.chosen == Chosen("block", 2)
    assert "No trees stand in Far Slope" in view.notes.text()
    assert opened.panels.currentWidget() is opened.panels.page("Thinning")
    opened.session.choose(Chosen("tree", 7))
    hand.settle()
    assert opened.panels.currentWidget() is opened.panels.page("Thinning")
    assert view.block.currentText() == "North Terrace"
    opened.session.choose(None)
    hand.settle()
    assert view.block.currentText() == "North Terrace"
    assert figure(view, "stems", "Before") == 225
    opened.session.set_date(dt.date(2003, 1, 1))
    hand.settle()
    assert "No trees stand in North Terrace" in view.notes.text()


def test_without_a_block_it_says_what_to_do(qtbot, opened, settle):
    opened.session.choose(None)
    page = opened.panels.page("Thinning")
    opened.panels.setCurrentWidget(page)
    settle(opened)
    assert "Choose a block" in page.view.notes.text()
    assert not page.view.parts_table.isVisible()
    assert not page.view.put_button.isVisible()


def test_the_working_of_a_figure_is_shown(hand, view):
    propose(hand, view, "below")
    row = next(row for row in range(view.parts.rowCount()) if view.parts.figure_at(row, 2)[0] == "stems_percent")
    view.parts_table.setCurrentIndex(view.parts.index(row, 2))
    hand.qtbot.keyClick(view.parts_table, Qt.Key.Key_F1)
    assert "÷ 225" in view.working.text.toPlainText()


def test_the_list_is_handed_out_as_points_table_or_sheet(hand, view, opened, tmp_path, monkeypatch):
    propose(hand, view, "below")
    put_in(hand, view)
    hand.settle()
    wanted = []
    monkeypatch.setattr(QFileDialog, "open", lambda dialog: dialog.fileSelected.emit(str(wanted[-1])))
    for ending, begins in (("gpx", b"<?xml"), ("csv", b""), ("pdf", b"%PDF")):
        wanted.append(tmp_path / f"out.{ending}")
        view.hand_out.list_actions[ending].trigger()
        assert not view.hand_out.list_button.isEnabled()
        hand.qtbot.waitUntil(lambda: wanted[-1].name in view.answer.text(), timeout=WAIT_MS)
        assert view.hand_out.list_button.isEnabled()
        assert wanted[-1].read_bytes().startswith(begins)
        assert wanted[-1].stat().st_size > 2000


def test_a_refusal_goes_with_its_block_and_a_block_without_trees_says_so(hand, view, opened):
    view.answer.say("It was refused", warning=True)
    assert not view.answer.isHidden()
    opened.session.choose(Chosen("block", 2))
    hand.settle()
    assert view.answer.isHidden()
    assert "No trees stand in Far Slope" in view.notes.text()
    assert view.heading.text() == ""
    for part in (view.parts_table, view.species_table, view.hand_out, view.working):
        assert part.isHidden()
    opened.session.choose(Chosen("block", BLOCK))
    hand.settle()
    assert not view.parts_table.isHidden()
