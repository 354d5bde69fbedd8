"""A planting planned by mouse and keys: from a blank creek to an accepted plan, its pegging list and its order."""

import csv
import datetime as dt

import geopandas as gpd
import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

from farmmap.plans.planting.accept import plan_planted
from farmmap.plans.planting.kept import kept_plans
from farmmap.window.tools.pick import PickTool
from farmmap.window.tools.planting.compare import CompareDialog
from farmmap.window.tools.planting.gaps import GapsDialog
from farmmap.window.tools.planting.planted import CountsDialog
from tests.conftest import EAST, NORTH
from tests.window.tool_hand import LEFT, NONE, WAIT_MS, Hand


class Planter(Hand):
    """A hand with the planting tool in it."""

    def settle(self) -> None:
        self.qtbot.waitUntil(self.is_still, timeout=WAIT_MS)

    def is_still(self) -> bool:
        window = self.window
        quiet = not window.bench.is_writing and not window.jobs.is_busy() and window.map_view.is_up_to_date
        return quiet and (not hasattr(self.tool, "live") or self.tool.live.is_up_to_date)

    @property
    def live(self):
        return self.tool.live

    @property
    def box(self):
        return self.tool.box

    @property
    def plan(self):
        return self.live.worked.plan

    def push(self, button) -> None:
        """Press a button of the box where it is seen."""
        self.box._scroll.ensureWidgetVisible(button)
        assert button.isVisible()
        assert button.isEnabled(), button.text()
        self.qtbot.mouseClick(button, LEFT)

    def open(self, section) -> None:
        if not section.is_open:
            self.push(section.button)
            self.qtbot.wait(20)  # it is laid out

    def write(self, field, words: str) -> None:
        """Put the cursor into a field by a click, and type over what stands in it."""
        self.box._scroll.ensureWidgetVisible(field)
        assert field.isVisible()
        self.qtbot.mouseClick(field, LEFT)
        assert self.window.focusWidget() in (field, field.parent())
        field.selectAll()
        QTest.keyClicks(field, words)

    def choose(self, field, words: str) -> None:
        """Choose a line of a list by its keys."""
        field.setFocus()
        place = field.findText(words)
        assert place >= 0, words
        field.showPopup()
        view = field.view()
        while view.currentIndex().row() != place:
            down = view.currentIndex().row() < place
            QTest.keyClick(view, Qt.Key.Key_Down if down else Qt.Key.Key_Up)
        QTest.keyClick(view, Qt.Key.Key_Return)
        assert field.currentText() == words
        self.qtbot.waitUntil(lambda: not view.isVisible(), timeout=WAIT_MS)
        self.window.activateWindow()
        self.qtbot.waitUntil(self.window.isActiveWindow, timeout=WAIT_MS)

    def drag_grip(self, name: str, east: float, north: float) -> None:
        """Drag a handle to a place, as the grip lies."""
        grip = next(one for one in self.live.worked.grips if one.name == name)
        self.drag((grip.x - EAST, grip.y - NORTH), (east, north))


@pytest.fixture
def hand(qtbot, opened, settle):
    planter = Planter(qtbot, opened, settle)
    qtbot.mouseClick(opened.tool_row.buttons["Plant"], LEFT)
    planter.settle()
    planter.open(planter.box.recipe)
    planter.choose(planter.box.recipe.examples, "Poles on a steep bank")
    planter.settle()
    planter.open(planter.box.where)
    planter.tool.take_focus()
    return planter


@pytest.fixture
def planned(hand):
    """A planting of the left bank from 40 m to 140 m, 8 m wide."""
    hand.click(100, -30)
    hand.click(20, -30)
    hand.click(120, -30)
    hand.choose(hand.box.where.bank, "left bank")
    hand.open(hand.box.width_part)
    rule = hand.box.width_part.rules[0]
    while len(hand.box.width_part.rules) > 1:
        hand.push(hand.box.width_part.rules[-1].remove)
    hand.choose(rule.kind, "the same everywhere")
    hand.write(rule.same, "8")
    hand.settle()
    return hand


def answered(monkeypatch, path):
    """The file dialog is answered with a path; nothing else is put in its place."""
    monkeypatch.setattr(QFileDialog, "open", lambda dialog: dialog.fileSelected.emit(str(path)))


def handed_on(hand, monkeypatch, tmp_path):
    """Keep the plan, and write its pegging list and its order."""
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    assert [(one.name, one.state) for one in kept_plans(hand.file())] == [("Lower Sedge", "kept")]
    hand.open(hand.box.plans)
    gpx, order = tmp_path / "pegs.gpx", tmp_path / "order.csv"
    answered(monkeypatch, gpx)
    hand.push(hand.box.plans.pegging)
    hand.settle()
    answered(monkeypatch, order)
    hand.push(hand.box.plans.order)
    hand.settle()
    return gpx, order


def check_files(gpx, order, mine):
    """Every planned tree has a peg, and all are ordered."""
    pegs = gpd.read_file(gpx, layer="waypoints")
    placed = gpd.GeoSeries(pegs.geometry.to_numpy(), crs="EPSG:4326").to_crs(2193)
    there = shapely.STRtree(placed.to_numpy())
    peg, away = there.query_nearest(shapely.points(mine["x"], mine["y"]), return_distance=True, all_matches=False)
    assert away.max() < 0.05
    assert len(set(peg[1].tolist())) == len(mine), "every plant has a peg of its own; gates and troughs come besides"
    with order.open(encoding="utf-8-sig", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert rows
    assert sum(int(value) for row in rows for key, value in row.items() if key == "plants") == len(mine)


def test_from_a_blank_creek_to_an_accepted_plan_with_its_files(hand, opened, monkeypatch, tmp_path):
    assert hand.words.startswith("Click the creek")
    hand.click(100, -30)  # the creek
    assert hand.live.draft.creek == "Sedge Creek"
    hand.settle()
    assert hand.words.startswith("All of Sedge Creek")
    hand.click(20, -30)
    assert hand.words.startswith("The planting begins at 40 m")
    hand.click(120, -30)
    assert (hand.live.draft.from_m, hand.live.draft.to_m) == (pytest.approx(40, abs=0.6), pytest.approx(140, abs=0.6))
    hand.choose(hand.box.where.bank, "left bank")
    hand.settle()
    assert hand.live.trouble == ""
    assert {strip.side for strip in hand.plan.strips} == {0}

    grip = next(one for one in hand.live.worked.grips if one.name == "left")
    hand.drag_grip("left", grip.x - EAST, -17)
    hand.settle()
    _, north = hand.map.ground_at(hand.at(grip.x - EAST, -17).toPointF())
    wide = round((north - NORTH + 29) * 2) / 2  # the bank lies 1 m beside the middle of the creek
    assert hand.live.draft.width_m == wide
    assert hand.live.worked.width_m["left"] == pytest.approx(wide, abs=0.05)
    assert sum(strip.area_m2 for strip in hand.plan.strips) == pytest.approx(100 * wide, rel=0.02)

    hand.open(hand.box.zones)
    few = len(hand.plan.plants)
    hand.write(hand.box.zones.form.fields["between_m"], "2.5")
    hand.settle()
    assert hand.live.draft.recipe.zones[0].between_m == 2.5
    assert len(hand.plan.plants) < few
    hand.write(hand.box.name, "Lower Sedge")
    many, fence = len(hand.plan.plants), sum(one.length_m for one in hand.plan.fences)

    gpx, order = handed_on(hand, monkeypatch, tmp_path)
    hand.push(hand.box.accept)
    farm = hand.wait_for_edit()

    file = hand.file()
    plan = kept_plans(file)[0]
    assert (plan.name, plan.state, plan.stretch.creek, plan.stretch.banks) == (
        "Lower Sedge",
        "accepted",
        "Sedge Creek",
        ("left",),
    )
    mine = file.trees[file.trees["plan"] == "Lower Sedge"]
    assert len(mine) == many == (farm.trees["plan"] == "Lower Sedge").sum()
    assert (mine["stage"] == "planned").all()
    assert ((mine["y"] - NORTH).between(-29, -17)).all(), "all plants stand in the margin of the left bank"
    fences = file.fences[file.fences["plan"] == "Lower Sedge"]
    assert (fences["stage"] == "planned").all()
    assert fences.length.sum() == pytest.approx(fence, rel=0.01)
    assert hand.live.worked is None, "the plan is part of the map now"
    check_files(gpx, order, mine)

    hand.undo()
    assert not (hand.file().trees["plan"] == "Lower Sedge").any()


def test_the_box_alone_does_by_keyboard_what_the_mouse_does(hand, opened):
    assert hand.box.where.creek.hasFocus()
    QTest.keyClick(hand.box.where.creek, Qt.Key.Key_Down)
    assert hand.live.draft.creek == "Sedge Creek"
    for _ in range(2):
        QTest.keyClick(opened.focusWidget(), Qt.Key.Key_Tab)
    assert hand.box.where.begin.hasFocus()
    hand.type("50")
    QTest.keyClick(opened.focusWidget(), Qt.Key.Key_Tab)
    hand.type("90,5")
    assert (hand.live.draft.from_m, hand.live.draft.to_m) == (50.0, 90.5)
    QTest.keyClick(opened.focusWidget(), Qt.Key.Key_Up)
    assert hand.live.draft.to_m == 100.5
    hand.settle()
    assert hand.plan.stretch.to_m == 100.5
    QTest.keyClick(opened.focusWidget(), Qt.Key.Key_Escape)
    assert opened.map_view.hasFocus()
    hand.key(Qt.Key.Key_Escape)
    assert isinstance(hand.tool, PickTool)
    assert opened.panels.isVisible()


def test_bad_numbers_are_explained_and_the_last_plan_stays(planned):
    hand = planned
    before = hand.live.worked
    field = hand.box.width_part.rules[0].same
    hand.write(field, "wide")
    assert "“wide” is no number" in field.trouble
    assert field.property("bad")
    assert field.accessibleDescription() == field.trouble
    assert hand.live.worked is before
    hand.write(field, "0.2")
    assert field.trouble == "Width may be 0.5 to 500 m."
    assert hand.live.draft.width_m == 8.0
    hand.open(hand.box.fence)
    hand.write(hand.box.fence.form.fields["post_m"], "5")
    hand.settle()
    assert hand.live.worked is not before, "other fields go on working"
    assert hand.live.worked.draft.recipe.fence.post_m == 5
    hand.open(hand.box.width_part)
    hand.write(field, "9")
    assert not field.property("bad")
    hand.settle()
    assert hand.live.worked.width_m["left"] == pytest.approx(9.0, abs=0.05)


def test_shares_that_do_not_add_up_are_told_and_made_good(planned):
    hand = planned
    before = hand.live.worked
    hand.open(hand.box.zones)
    mix = hand.box.zones.mix
    hand.write(mix.shares[0], "7")
    assert "must make 100 %" in mix.total.text()
    assert "shares add up to" in hand.box.trouble.text()
    assert hand.live.worked is before
    assert not hand.box.keep.isEnabled()
    hand.push(mix.even)
    hand.settle()
    assert hand.live.trouble == ""
    assert hand.live.worked is not before
    assert sum(kin.share for kin in hand.live.draft.recipe.zones[0].mix) == pytest.approx(1.0)


def test_a_plant_that_nobody_knows_is_told(planned):
    hand = planned
    before = hand.live.worked
    hand.open(hand.box.zones)
    field = hand.box.zones.mix.species[0]
    hand.write(field.lineEdit(), "no such plant")
    QTest.keyClick(field.lineEdit(), Qt.Key.Key_Tab)
    hand.settle()
    assert "no such plant" in hand.box.trouble.text()
    assert hand.live.worked is before


def test_zones_wider_than_the_margin_are_told(planned):
    hand = planned
    before = hand.live.worked
    hand.open(hand.box.zones)
    hand.choose(hand.box.zones.form.fields["by"], "in metres")
    hand.write(hand.box.zones.form.fields["width_m"], "40")
    hand.settle()
    assert "wide" in hand.live.trouble
    assert hand.live.worked.plan.area_m2 == pytest.approx(before.plan.area_m2, rel=0.6)
    assert hand.live.worked.draft.recipe.zones[0].width_m != 40


def test_the_ends_are_dragged(planned):
    hand = planned
    hand.drag_grip("to_m", 150, -30)
    hand.settle()
    assert hand.live.draft.to_m == pytest.approx(170, abs=1.0)
    hand.drag_grip("from_m", 190, -30)  # not past the other end
    hand.settle()
    assert hand.live.draft.from_m == pytest.approx(hand.live.draft.to_m - 1.0, abs=0.1)
    hand.window.note_strip.answers[0].click()
    assert (hand.live.draft.from_m, hand.live.draft.to_m) == (None, None)


def test_turning_the_flow_is_an_edit_and_keeps_the_ground(planned):
    hand = planned
    x = hand.plan.plants.x
    hand.open(hand.box.where)
    hand.push(hand.box.where.turn)
    hand.wait_for_edit()
    assert hand.file().creeks["flows"].tolist() == ["against"]
    hand.settle()
    assert (hand.live.draft.from_m, hand.live.draft.to_m) == (pytest.approx(100, abs=1), pytest.approx(200, abs=1))
    assert hand.plan.plants.x.mean() == pytest.approx(x.mean(), abs=2)
    assert (hand.plan.plants.y < NORTH - 30).all(), "left is on the other side now"
    hand.undo()
    assert hand.file().creeks["flows"].tolist() == ["as drawn"]


def test_crowns_of_a_year_are_shown(planned):
    hand = planned
    picture = hand.map.grab().toImage()
    hand.box.year.setFocus()
    QTest.keyClick(hand.box.year, Qt.Key.Key_PageUp)
    QTest.keyClick(hand.box.year, Qt.Key.Key_PageUp)
    assert hand.live.year == 10
    hand.settle()
    assert len(hand.live.crowns) == len(hand.plan.plants)
    assert hand.live.crowns.max() > 0.5
    assert hand.map.grab().toImage() != picture
    assert hand.box.year_words.text() == "10 years"
    QTest.keyClick(hand.box.year, Qt.Key.Key_Home)
    hand.settle()
    assert hand.live.crowns is None


def test_plans_are_kept_compared_opened_and_taken_back(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Narrow")
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    hand.open(hand.box.width_part)
    hand.write(hand.box.width_part.rules[0].same, "11")
    hand.write(hand.box.name, "Wide")
    hand.settle()
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    assert [one.name for one in kept_plans(hand.file())] == ["Narrow", "Wide"]
    hand.open(hand.box.plans)
    plans = hand.box.plans
    plans.list.setFocus()
    for row in (0, 1):
        plans.list.setCurrentRow(row)
        QTest.keyClick(plans.list, Qt.Key.Key_Space)
    assert [plan.name for plan in plans.ticked] == ["Narrow", "Wide"]
    hand.push(plans.compare)
    dialog = dialog_of(opened, CompareDialog)
    hand.qtbot.waitUntil(lambda: dialog.table.columnCount() == 2, timeout=WAIT_MS)
    table = dialog.table
    heads = [table.verticalHeaderItem(row).text() for row in range(table.rowCount())]
    areas = [float(table.item(heads.index("Margin"), column).text().removesuffix(" ha")) for column in range(2)]
    assert areas == [pytest.approx(0.08, abs=0.003), pytest.approx(0.11, abs=0.003)]
    assert "Cover after 20 years" in heads
    dialog.close()
    plans.list.setCurrentRow(0)
    hand.push(plans.open_plan)
    hand.settle()
    assert (hand.live.draft.name, hand.live.draft.width_m) == ("Narrow", 8.0)
    hand.push(plans.back)
    hand.wait_for_edit()
    assert [one.name for one in kept_plans(hand.file())] == ["Wide"]


def test_a_plan_is_marked_as_planted_with_what_was_planted(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    hand.open(hand.box.plans)
    plans = hand.box.plans
    plans.list.setFocus()
    QTest.keyClick(plans.list, Qt.Key.Key_Down)
    plans.list.setCurrentRow(0)
    hand.push(plans.planted)
    dialog = dialog_of(opened, CountsDialog)
    code, field = next(iter(dialog.fields.items()))
    all_of_it = int(field.value)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, str(all_of_it + 1))
    assert not dialog.yes.isEnabled()
    assert "may be 0 to" in dialog.answer.text()
    field.selectAll()
    QTest.keyClicks(field, str(all_of_it - 3))
    hand.qtbot.mouseClick(dialog.yes, LEFT)
    hand.wait_for_edit()
    mine = hand.file().trees
    mine = mine[mine["plan"] == "Lower Sedge"]
    assert ((mine["species"] == code) & (mine["stage"] == "planned")).sum() == 3
    standing = mine[mine["stage"] == "existing"]
    assert (standing["planted"] == dt.datetime.now().astimezone().date().isoformat()).all()
    assert kept_plans(hand.file())[0].state == "planted"


def test_the_newest_request_wins_and_no_other_is_worked_out_after_it(planned):
    hand = planned
    grip = next(one for one in hand.live.worked.grips if one.name == "left")
    start = (grip.x - EAST, grip.y - NORTH)
    seen = []
    hand.live.worked_out.connect(lambda: seen.append(hand.live.worked.draft.width_m))
    hand.press(start)
    for step in range(1, 25):
        hand._move(hand.at(start[0], start[1] + step * 0.5), LEFT, NONE)
    hand.qtbot.mouseRelease(hand.map, LEFT, NONE, hand.at(start[0], start[1] + 12))
    wanted = hand.live.draft.width_m
    hand.settle()
    assert seen[-1] == wanted
    assert len(seen) <= 3, "what was passed over was never worked out"


def test_a_draft_is_there_again_when_the_tool_is_taken_up_again(planned):
    hand = planned
    draft = hand.live.draft
    hand.take("Pick")
    hand.take("Plant")
    hand.settle()
    assert hand.live.draft == draft
    assert hand.live.worked is not None


def test_clicks_beside_every_creek_are_answered(hand):
    hand.click(100, 60)
    assert hand.words == "Click nearer to a creek."
    assert hand.live.draft.creek == ""
    hand.hover(100, 60)
    assert np.isfinite(hand.map.ground_at(hand.map.mapFromGlobal(QPoint(0, 0)).toPointF())).all()


def test_a_recipe_goes_out_to_a_file_and_comes_in_again(planned, monkeypatch, tmp_path):
    hand = planned
    path = tmp_path / "mine.toml"
    hand.open(hand.box.recipe)
    hand.write(hand.box.recipe.form.fields["title"], "My own")
    answered(monkeypatch, path)
    hand.push(hand.box.recipe.save_file)
    hand.settle()
    recipe = hand.live.draft.recipe
    assert path.is_file()
    hand.write(hand.box.recipe.form.fields["title"], "Another")
    hand.push(hand.box.recipe.open_file)
    hand.settle()
    assert hand.live.draft.recipe.title == "My own"
    assert hand.live.draft.recipe.zones == recipe.zones
    path.write_text(path.read_text(encoding="utf-8").replace("between_m = ", "between_m = -"), encoding="utf-8")
    hand.push(hand.box.recipe.open_file)
    hand.settle()
    assert "between_m" in hand.live.trouble
    assert hand.live.draft.recipe.zones == recipe.zones


def test_every_field_has_a_name_and_tab_goes_from_one_to_the_next(planned, opened):
    hand = planned
    from PySide6.QtWidgets import QAbstractButton, QComboBox, QLineEdit, QSlider

    for section in hand.box.sections:
        hand.open(section)
        for kind in (QLineEdit, QComboBox, QSlider, QAbstractButton):
            for field in section.findChildren(kind):
                if field.isVisible() and field.focusPolicy() & Qt.FocusPolicy.TabFocus:
                    named = field.accessibleName() or (field.text() if hasattr(field, "text") else "")
                    assert named, (section.words, field)
    hand.open(hand.box.fence)
    hand.box.fence.button.setFocus()
    seen = []
    for _ in range(6):
        QTest.keyClick(opened.focusWidget(), Qt.Key.Key_Tab)
        seen.append(opened.focusWidget())
    names = list(hand.box.fence.form.fields.values())
    assert seen[1:] == names[:5]


def test_the_dead_are_replaced_from_a_count(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    opened.bench.propose(lambda farm: plan_planted(farm, "Lower Sedge", dt.date(2020, 7, 1)))
    hand.wait_for_edit()
    hand.open(hand.box.plans)
    hand.box.plans.list.setCurrentRow(0)
    hand.push(hand.box.plans.gapping)
    dialog = dialog_of(opened, CountsDialog)
    code, field = next(iter(dialog.fields.items()))
    planted = int(field.value)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, str(planted - 5))
    hand.qtbot.mouseClick(dialog.yes, LEFT)
    found = dialog_of(opened, GapsDialog)
    again = sum(int(found.table.item(row, 4).text()) for row in range(found.table.rowCount()))
    assert again == 5, code
    found.close()
