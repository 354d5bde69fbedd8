"""A planting planned by mouse and keys: from a blank creek to an accepted plan, its pegging list and its order."""

import csv

import geopandas as gpd
import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.window.menus import KEYS
from farmmap.window.tools.kinds import PLANT
from farmmap.window.tools.pick import PickTool
from tests.place import EAST, NORTH
from tests.window.planter import answered, left_bank, taken_up
from tests.window.tool_hand import LEFT, NONE


@pytest.fixture
def hand(qtbot, opened, settle):
    return taken_up(qtbot, opened, settle)


@pytest.fixture
def planned(hand):
    """A planting of the left bank from 40 m to 140 m, 8 m wide."""
    return left_bank(hand)


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


def plant_ones_own(hand):
    """Put a plant of the grower's own into the first zone, with its price; see when it is planted."""
    own = hand.box.own_plants
    hand.open(own)
    hand.push(own.add)
    QTest.keyClicks(own.form.fields["name"], "Sedge flax")
    QTest.keyClick(own.form.fields["name"], Qt.Key.Key_Tab)
    hand.open(hand.box.zones)
    mix = hand.box.zones.mix
    hand.push(mix.add)
    hand.qtbot.wait(20)  # it is laid out
    hand.choose(mix.species[-1], "Sedge flax")
    hand.write(mix.shares[-1], "25")
    hand.push(mix.even)
    hand.open(hand.box.costs)
    hand.write(hand.box.costs.prices.form.fields["Sedge flax"], "3.4")
    hand.settle()
    assert hand.live.trouble == ""
    hand.open(hand.box.results)
    hand.settle()
    months = hand.box.results.months
    works = [months.item(row, 1).text() for row in range(months.rowCount())]
    assert works[0] == "Order the plants"
    assert any(work.startswith("Plant ") for work in works)


def check_ones_own(hand, order, farm):
    """The plant of the grower's own is on the farm as it was planned, and is ordered at its price."""
    plan = hand.live.accepted.plan
    kin = [kin.species for _, kin in plan.kinds].index("Sedge flax")
    code = farm.species[farm.species["name"] == "Sedge flax"]["code"].item()
    assert (farm.trees["species"] == code).sum() == (plan.plants.kin == kin).sum() > 0
    with order.open(encoding="utf-8-sig", newline="") as lines:
        assert {row["price"] for row in csv.DictReader(lines) if row["name"] == "Sedge flax"} == {"3.4"}


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
    plant_ones_own(hand)
    hand.write(hand.box.name, "Lower Sedge")
    hand.settle()
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
    check_ones_own(hand, order, farm)

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


def test_the_edge_stops_where_zones_of_fixed_width_need_it(planned):
    hand = planned
    hand.open(hand.box.zones)
    while len(hand.live.draft.recipe.zones) > 1:
        hand.push(hand.box.zones.remove)
    hand.choose(hand.box.zones.form.fields["by"], "in metres")
    hand.write(hand.box.zones.form.fields["width_m"], "6")
    hand.settle()
    grip = next(one for one in hand.live.worked.grips if one.name == "left")
    hand.press((grip.x - EAST, grip.y - NORTH))
    hand._move(hand.at(grip.x - EAST, -28), LEFT, NONE)
    assert hand.live.draft.width_m == 6.0
    assert hand.tool.over_map.pointer[2] == "6.0 m wide; its zones need so much"
    hand.qtbot.mouseRelease(hand.map, LEFT, NONE, hand.at(grip.x - EAST, -28))
    hand.settle()
    assert hand.live.trouble == ""
    assert hand.live.worked.width_m["left"] == pytest.approx(6.0, abs=0.05)


def test_the_page_of_keys_names_the_tool_by_its_key():
    assert f"With {PLANT.name} ({PLANT.key})" in KEYS
