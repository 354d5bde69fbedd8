"""Drawing, snapping, exact words and undo by real mouse and key events; the file is looked at afterwards."""

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt

from farmmap.window.tools.draw import DrawTool
from farmmap.window.tools.pick import PickTool
from tests.place import EAST, NORTH
from tests.window.tool_hand import TOOL_NAMES, Hand

SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


def corners_of(shape):
    return shapely.get_coordinates(shape) - [EAST, NORTH]


def shut_fields(window):
    """Shut the box that asks for the clearance of a new hazard, if it is open."""
    from farmmap.window.fields_box import FieldsBox

    for box in window.findChildren(FieldsBox):
        box.reject()


def test_the_row_offers_the_tools_and_pick_is_in_the_hand(opened, hand):
    assert list(opened.tool_row.buttons) == TOOL_NAMES
    assert isinstance(hand.tool, PickTool)
    assert opened.tool_row.buttons["Pick"].isChecked()
    assert "Click picks" in hand.words


def test_a_block_is_drawn_by_clicks_and_a_double_click(hand, opened):
    hand.take("Draw", "block")
    assert opened.tool_row.buttons["Draw"].isChecked()
    for corner in ((20, -50), (80, -50), (80, -40)):
        hand.click(*corner, CTRL)
    assert len(hand.tool.corners) == 3
    hand.double_click(20, -40, CTRL)
    farm = hand.wait_for_edit()
    assert list(farm.blocks["name"]) == ["North Terrace", "Far Slope", "Block 3"]
    new = farm.blocks.geometry.iloc[-1]
    assert shapely.area(new) == pytest.approx(600, rel=0.05)
    assert len(shapely.get_coordinates(new)) == 5
    assert opened.bench.picks.rows == (("blocks", 3),)
    assert hand.words.startswith("Done: draw Block 3.")
    assert hand.file().blocks.geometry.iloc[-1].equals(new)
    assert not hand.tool.corners


def test_undo_takes_the_drawn_block_back_in_the_file_too(hand, opened):
    hand.take("Draw", "block")
    for corner in ((20, -50), (80, -50), (80, -40)):
        hand.click(*corner)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert opened.files.undo_name == "Draw Block 3"
    farm = hand.undo()
    assert len(farm.blocks) == len(hand.file().blocks) == 2
    assert opened.bench.picks.rows == ()


def test_a_line_snaps_to_corners_and_edges_and_says_so(hand, opened):
    hand.take("Draw", "fence")
    hand.hover(2, -1)
    spot = hand.tool.spot
    assert spot.snap.kind == "corner"
    assert spot.place == (EAST, NORTH)
    assert "corner of North Terrace" in hand.tool.pointer_words()
    assert opened.note_strip.reading.text() == "corner of North Terrace"
    hand.click(2, -1)
    hand.hover(201.5, 50)
    assert hand.tool.spot.snap.kind == "edge"
    assert hand.tool.spot.x == pytest.approx(EAST + 200)
    hand.click(201.5, 50)
    hand.key(Qt.Key.Key_Return)
    farm = hand.wait_for_edit()
    line = corners_of(hand.file().fences.geometry.iloc[-1])
    assert line[0] == pytest.approx([0, 0])
    assert line[1] == pytest.approx([200, 50], abs=1.0)
    assert line[1][0] == pytest.approx(200)
    assert len(farm.fences) == 2


def test_ctrl_held_turns_snapping_off(hand):
    hand.take("Draw", "fence")
    hand.click(2, -1, CTRL)
    assert hand.tool.spot.snap is None
    assert hand.tool.corners[0] == pytest.approx((EAST + 2, NORTH - 1), abs=0.5)
    assert hand.tool.corners[0] != (EAST, NORTH)


def test_a_crossing_and_a_tree_are_snapped_to(hand):
    hand.take("Draw", "note")
    hand.hover(149, -31)
    assert hand.tool.spot.snap.kind == "crossing"
    assert hand.tool.spot.place == pytest.approx((EAST + 150, NORTH - 30))
    hand.hover(61, -26)
    assert hand.tool.spot.snap.kind == "tree"
    assert "tree 6" in hand.tool.pointer_words()


def test_backspace_takes_a_corner_back_and_escape_all(hand):
    hand.take("Draw", "track")
    hand.click(10, 20, CTRL)
    hand.click(60, 20, CTRL)
    hand.key(Qt.Key.Key_Backspace)
    assert len(hand.tool.corners) == 1
    hand.key(Qt.Key.Key_Escape)
    assert not hand.tool.corners
    assert isinstance(hand.tool, DrawTool)
    hand.key(Qt.Key.Key_Escape)
    assert isinstance(hand.tool, PickTool)


def test_ctrl_z_takes_a_corner_back_and_then_the_last_edit(hand, opened):
    hand.take("Draw", "fence")
    hand.click(10, 20, CTRL)
    hand.click(60, 20, CTRL)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    hand.click(10, 40, CTRL)
    hand.click(60, 40, CTRL)
    hand.key(Qt.Key.Key_Z, CTRL)
    assert len(hand.tool.corners) == 1
    hand.key(Qt.Key.Key_Z, CTRL)
    assert hand.tool.corners == []
    assert len(opened.session.farm.fences) == 2
    hand.key(Qt.Key.Key_Z, CTRL)
    assert len(hand.wait_for_edit().fences) == 1
    assert "fence" in hand.words.casefold()


def test_many_corners_are_given_up_at_the_second_escape_only(hand):
    hand.take("Draw", "block")
    for corner in ((20, -50), (80, -50), (80, -40)):
        hand.click(*corner, CTRL)
    hand.key(Qt.Key.Key_Escape)
    assert len(hand.tool.corners) == 3
    assert hand.words == "Press Escape again to give up 3 corners."
    hand.click(20, -44, CTRL)
    hand.key(Qt.Key.Key_Escape)
    assert len(hand.tool.corners) == 4
    hand.key(Qt.Key.Key_Escape)
    assert hand.tool.corners == []
    assert isinstance(hand.tool, DrawTool)


def test_corners_left_half_drawn_are_there_when_the_tool_is_taken_up_again(hand):
    hand.take("Draw", "block")
    for corner in ((20, -50), (80, -50), (80, -40)):
        hand.click(*corner, CTRL)
    drawn = list(hand.tool.corners)
    hand.take("Measure", "distance")
    assert hand.tool.corners == []
    hand.take("Draw", "fence")
    assert hand.tool.corners == []
    hand.take("Draw", "block")
    assert hand.tool.corners == drawn
    assert "3 corners" in hand.words
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert len(hand.file().blocks) == 3
    hand.take("Draw", "block")
    assert hand.tool.corners == []


def test_outlines_of_blocks_do_not_snap_to_trees_but_notes_do(hand):
    hand.take("Draw", "block")
    hand.hover(11, 11)
    assert hand.tool.spot.snap is None
    hand.take("Draw", "note")
    hand.hover(11, 11)
    assert hand.tool.spot.snap.kind == "tree"


def test_no_snap_mark_stays_once_a_shape_is_drawn(hand):
    hand.take("Draw", "fence")
    hand.click(2, -1)
    hand.click(201.5, 50)
    assert hand.tool.spot.snap is not None
    hand.key(Qt.Key.Key_Return)
    assert hand.tool.spot is None
    hand.wait_for_edit()
    assert hand.tool.pointer_words() == ""


def test_steps_are_typed_from_a_corner_and_plus_makes_the_map_larger_before(hand, opened):
    hand.take("Draw", "fence")
    before = opened.map_view.view.metres_per_mm
    hand.type("+")
    assert opened.map_view.view.metres_per_mm < before
    hand.click(20, 30, CTRL)
    start = hand.tool.corners[0]
    hand.type("+12 -5")
    hand.enter()
    scale = opened.session.farm.grid.scale(*start)
    assert hand.tool.corners[1] == pytest.approx((start[0] + 12 * scale, start[1] - 5 * scale), abs=1e-3)


def test_words_at_the_pointer_keep_clear_of_the_outline(hand, opened):
    from PySide6.QtCore import QPointF, QRectF

    from farmmap.window.tools.sketch import plate_beside

    room = QRectF(0, 0, 800, 600)
    assert plate_beside(QPointF(400, 300), 100, 40, room, None).topLeft() == QPointF(418, 318)
    line = np.array([[400.0, 300.0], [520.0, 360.0]])
    assert plate_beside(QPointF(400, 300), 100, 40, room, line).topLeft() == QPointF(282, 318)
    assert room.contains(plate_beside(QPointF(795, 595), 100, 40, room, line))
    assert room.contains(plate_beside(QPointF(400, 300), 780, 40, room, line))
    hand.take("Draw", "block")
    hand.click(20, -50, CTRL)
    hand.hover(80, -50)
    assert hand.tool.outline_dots().shape == (3, 2)
    assert not opened.map_view.grab().isNull()


def test_a_new_power_line_is_named_and_its_clearance_asked_for(hand, opened, dialog_of):
    from farmmap.window.fields_box import FieldsBox

    hand.take("Draw", "power line")
    hand.click(-10, 110, CTRL)
    hand.double_click(60, 110, CTRL)
    box = dialog_of(opened, FieldsBox)
    hand.wait_for_edit()
    assert "with 0 m it takes no ground and no trees out" in hand.words
    box.fields["clear_m"].line.setText("6")
    hand.qtbot.mouseClick(box.change_button, Qt.MouseButton.LeftButton)
    hand.wait_for_edit()
    hazard = hand.file().hazards.iloc[-1]
    assert (hazard["name"], hazard["kind"], hazard["clear_m"]) == ("Power line 2", "power line", 6.0)


def test_a_new_farm_is_drawn_by_mouse_from_the_start(qtbot, window, tmp_path, settle, monkeypatch):
    window.files.start_new("New Pipit", "EPSG:2193", tmp_path / "new.gpkg")
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    settle(window)
    hand = Hand(qtbot, window, settle)
    view = window.map_view
    west, south, east, north = view.view.ground_bounds()
    assert 1000 <= min(east - west, north - south) < 2000
    told = []
    monkeypatch.setattr("farmmap.window.map_overlay.paint_empty", lambda *_: told.append(1))
    view.grab()
    assert told, "it is said what to do first"
    hand.take("Draw", "block")
    told.clear()
    view.grab()
    assert not told, "the words give way to what is drawn"
    middle = view.rect().center()
    for across, down in ((0, 0), (90, 0), (90, 60)):
        qtbot.mouseClick(view, Qt.MouseButton.LeftButton, CTRL, middle + QPoint(across, down))
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert len(hand.file().blocks) == 1


def test_leg_and_area_are_read_while_drawing(hand, opened):
    hand.take("Draw", "block")
    hand.click(20, -50, CTRL)
    hand.click(80, -50, CTRL)
    assert hand.tool.pointer_lines() == []
    hand.hover(80, -40)
    leg, area = hand.tool.pointer_lines()
    assert "m, bearing " in leg
    assert float(leg.split()[0]) == pytest.approx(10, abs=1.5)
    assert float(area.split()[0]) == pytest.approx(300, rel=0.15)
    assert opened.note_strip.reading.text() == f"{leg}   {area}"


def test_exact_lengths_and_coordinates_are_typed_while_drawing(hand, opened):
    hand.take("Draw", "fence")
    hand.key(Qt.Key.Key_1)
    line = opened.bench.exact_line
    assert line.isVisible()
    line.line.clear()
    hand.type(f"{EAST + 20:.0f} {NORTH + 30:.0f}")
    hand.enter()
    assert not line.isVisible()
    assert hand.tool.corners == [(EAST + 20, NORTH + 30)]
    assert opened.map_view.hasFocus()
    hand.type("25 @ 90")
    hand.enter()
    scale = opened.session.farm.grid.scale(EAST + 20, NORTH + 30)
    assert hand.tool.corners[1] == pytest.approx((EAST + 20 + 25 * scale, NORTH + 30), abs=1e-4)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    drawn = corners_of(hand.file().fences.geometry.iloc[-1])
    assert drawn == pytest.approx(np.array([[20, 30], [20 + 25 * scale, 30]]), abs=1e-4)


def test_wrong_words_are_answered_in_place(hand, opened):
    hand.take("Draw", "fence")
    hand.click(20, 30, CTRL)
    hand.type("25 @ 900")
    hand.enter()
    line = opened.bench.exact_line
    assert line.isVisible()
    assert "bearing" in line.answer.text()
    assert line.answer.property("warning")
    assert len(hand.tool.corners) == 1
    hand.qtbot.keyClick(line.line, Qt.Key.Key_Escape)
    assert not line.isVisible()
    assert opened.map_view.hasFocus()


def test_a_block_is_drawn_by_keys_alone(hand, opened):
    hand.qtbot.keyClick(opened, Qt.Key.Key_F2)
    hand.take("Draw", "block")
    opened.map_view.setFocus()
    hand.key(Qt.Key.Key_Down, CTRL, times=45)
    first = hand.tool.spot
    assert first.by_keys
    hand.key(Qt.Key.Key_Return)
    hand.key(Qt.Key.Key_Right, CTRL, times=8)
    hand.key(Qt.Key.Key_Return)
    hand.key(Qt.Key.Key_Down, CTRL, times=2)
    hand.key(Qt.Key.Key_Left, SHIFT | CTRL, times=3)
    hand.key(Qt.Key.Key_Return)
    assert len(hand.tool.corners) == 3
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    block = hand.file().blocks.geometry.iloc[-1]
    step = opened.bench.metres(2.5)
    assert shapely.area(block) == pytest.approx(8 * step * 2 * step / 2, rel=0.01)


def test_a_self_crossing_outline_is_mended_or_refused_with_the_reason(hand, opened):
    before = opened.session.farm
    hand.take("Draw", "block")
    for corner in ((20, -58), (80, -36), (80, -58), (20, -36)):
        hand.click(*corner, CTRL)
    hand.key(Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: bool(opened.note_strip.note_words))
    hand.settle()
    assert "cross" in hand.words
    if opened.session.farm is before:
        assert len(hand.tool.corners) == 4
        assert len(hand.file().blocks) == 2
    else:
        assert hand.file().blocks.geometry.is_valid.all()


def test_a_planned_block_near_the_power_line_gets_the_caution_once(hand, opened):
    hand.take("Draw", "planned block")
    for corner in ((120, -58), (140, -58), (140, -40)):
        hand.click(*corner, CTRL)
    hand.key(Qt.Key.Key_Return)
    farm = hand.wait_for_edit()
    assert farm.blocks["stage"].iloc[-1] == "planned"
    assert "power line" in hand.words
    for corner in ((20, -58), (40, -58), (40, -40)):
        hand.click(*corner, CTRL)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert "power line" not in hand.words


@pytest.mark.parametrize(
    ("choice", "table", "kind"),
    [("power line", "hazards", "power line"), ("hazard line", "hazards", "other"), ("creek", "creeks", None)],
)
def test_lines_of_all_kinds_are_drawn(hand, opened, choice, table, kind):
    hand.take("Draw", choice)
    hand.click(-10, 110, CTRL)
    hand.double_click(60, 110, CTRL)
    farm = hand.wait_for_edit()
    shut_fields(opened)
    row = hand.file().tables[table].iloc[-1]
    assert row.geometry.geom_type == "LineString"
    assert kind is None or row["kind"] == kind
    assert len(farm.tables[table]) == 2


def test_points_and_areas_of_hazards_notes_and_boundary(hand, opened):
    hand.take("Draw", "hazard point")
    hand.click(40, -50, CTRL)
    hand.wait_for_edit()
    shut_fields(opened)
    hand.take("Draw", "note")
    hand.click(50, -50, CTRL)
    hand.wait_for_edit()
    hand.take("Draw", "hazard area")
    for corner in ((60, -55), (70, -55), (70, -45)):
        hand.click(*corner, CTRL)
    hand.click(60, -55, CTRL)
    hand.wait_for_edit()
    shut_fields(opened)
    farm = hand.file()
    assert [shape.geom_type for shape in farm.hazards.geometry] == ["LineString", "Point", "Polygon"]
    assert farm.notes.geometry.iloc[-1].geom_type == "Point"


def test_the_half_drawn_shape_is_painted_without_painting_the_map_afresh(hand, opened):
    hand.take("Draw", "block")
    hand.click(20, -50, CTRL)
    frames = []
    opened.map_view.painted.connect(lambda: frames.append(1))
    before = opened.map_view.grab().toImage()
    hand.hover(120, -40)
    after = opened.map_view.grab().toImage()
    assert before != after
    assert not frames


def test_what_could_not_be_written_is_taken_off_the_map_with_a_message(hand, opened, monkeypatch, dialog_of):
    from farmmap.window.trouble import TroubleBox

    hand.take("Draw", "block")
    for corner in ((20, -50), (80, -50), (80, -40)):
        hand.click(*corner, CTRL)
    hand.settle()
    path = opened.session.path
    moved = path.with_suffix(".away")
    path.rename(moved)
    hand.key(Qt.Key.Key_Return)
    dialog = dialog_of(opened, TroubleBox)
    dialog.accept()
    hand.settle()
    assert len(opened.session.farm.blocks) == 2
    assert not opened.bench.is_writing
    assert opened.note_strip.label.property("warning")
    moved.rename(path)
    assert len(hand.file().blocks) == 2


def test_a_farm_to_look_at_only_greys_what_changes_it(hand, opened):
    hand.take("Draw", "block")
    opened.session.only_look("Ann holds this farm.")
    assert isinstance(hand.tool, PickTool)
    draw, measure = opened.tool_row.buttons["Draw"], opened.tool_row.buttons["Measure"]
    assert not draw.isEnabled()
    assert "Ann holds this farm." in draw.toolTip()
    assert measure.isEnabled()
    assert "not changed" in hand.words
    assert "Ann holds this farm." in opened.holding_band.words.text()
    opened.session.only_look("")
    assert draw.isEnabled()
